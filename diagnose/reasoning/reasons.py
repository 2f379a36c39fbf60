"""One answer in words: what it weighs for a cause, why, and how sure it is."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from diagnose.reasoning.evidence import Item
from diagnose.reasoning.firings import Conclusions
from diagnose.reasoning.rule_weights import best_value
from diagnose.reasoning.sentences import link_sentences

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge

_WEIGHING = ("exclude", "establish", "support", "weaken")
# Less than this is nothing worth a sentence. [dB]
NOTHING_DB = 0.05


@dataclass(frozen=True, slots=True)
class Reason:
    """What one answer, or the rules, weigh for or against a cause.

    Parameters
    ----------
    finding, value : str, optional
        What was found; None for rules, and no value where a measurement speaks for several.
    decibans : float
        Above 0 it speaks for the cause. [dB]
    text : str
        Why, in a sentence.
    source : str
        Where that is from: the key of a source, or `practice`.
    known : str
        How it is known: told, seen, photo, recording, measured, or the id of a rule.
    wrong : float
        Probability that the answer is wrong; 0 for rules.
    """

    finding: str | None
    value: str | None
    decibans: float
    text: str
    source: str
    known: str
    wrong: float = 0.0


def reasons_of(
    items: Sequence[Item],
    weights: Iterable[float],
    causes: Sequence[str],
    knowledge: Knowledge,
    conclusions: Conclusions | None = None,
    wrong: dict[str, float] | None = None,
) -> tuple[Reason, ...]:
    """Put items and their weights into words, the weightiest first.

    Parameters
    ----------
    items : sequence of Item
        Answers, and what rules say.
    weights : iterable of float
        Their decibans. [dB]
    causes : sequence of str
        The causes they speak of; the first that is linked gives the sentence.
    knowledge : Knowledge
        For the sentences.
    conclusions : Conclusions, optional
        For the sentences of rules.
    wrong : dict of str to float, optional
        Probability that an answer is wrong, by finding.
    """
    reasons = [
        _from_rules(item, weight, causes, knowledge, conclusions)
        if item.finding is None
        else _from_finding(item, weight, causes, knowledge, wrong or {})
        for item, weight in zip(items, weights, strict=True)
    ]
    return tuple(sorted(reasons, key=lambda reason: (-abs(reason.decibans), reason.finding or "", reason.known)))


def _from_finding(
    item: Item, weight: float, causes: Sequence[str], knowledge: Knowledge, wrong: dict[str, float]
) -> Reason:
    finding = item.finding
    if finding is None:
        return _from_rules(item, weight, causes, knowledge, None)
    entry = knowledge.findings[finding.finding]
    value = best_value(finding, tuple(entry.values))
    sentences = link_sentences(knowledge, finding.finding, value)
    speaks = [cause for cause in causes if cause in sentences]
    text, source = _indirect(weight), "practice"
    if speaks:
        text = sentences[speaks[0]]
        links = knowledge.causes[speaks[0]].shows
        sources = [link.source for link in links if link.finding == finding.finding]
        sources = [link.source for link in links if link.finding == finding.finding and link.value == value] or sources
        source = sources[0] if sources else knowledge.causes[speaks[0]].sources[0]
    return Reason(finding.finding, finding.said, weight, text, source, finding.source, wrong.get(finding.finding, 0.0))


def _indirect(weight: float) -> str:
    """Return the sentence of an answer that says nothing about the cause itself."""
    if abs(weight) < NOTHING_DB:
        return "It says next to nothing here."
    if weight > 0:
        return "It fits other causes less well, which leaves more for this one."
    return "It is explained by other causes, which leaves less for this one."


def _from_rules(
    item: Item, weight: float, causes: Sequence[str], knowledge: Knowledge, conclusions: Conclusions | None
) -> Reason:
    firings = [
        firing
        for firing in (conclusions.firings if conclusions is not None else ())
        if firing.cause == item.cause and firing.kind in _WEIGHING
    ]
    own = item.cause in causes
    text = " ".join(firing.because for firing in firings if own) or _indirect(weight)
    sources = [knowledge.rules[firing.rule].sources[0] for firing in firings]
    rules = ", ".join(firing.rule for firing in firings) or "rule"
    return Reason(None, None, weight, text, sources[0] if sources else "practice", rules)
