"""What a link says in words: why a value speaks for or against a cause."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from diagnose.model.entries import FindingEntry
    from diagnose.model.reading import Knowledge


def link_sentences(knowledge: Knowledge, name: str, value: str) -> dict[str, str]:
    """Return, by cause, why a value speaks for or against each cause linked to the finding.

    Parameters
    ----------
    knowledge : Knowledge
        The causes and their links.
    name, value : str
        Finding and value.
    """
    entry = knowledge.findings[name]
    sentences = {}
    for cause, body in knowledge.causes.items():
        reasons: dict[str, str] = {link.value: link.why for link in body.shows if link.finding == name}
        if value in reasons:
            sentences[cause] = reasons[value]
        elif reasons:
            usual = next(iter(reasons))
            sentences[cause] = f"It would sooner be '{entry.values[usual].staff}': {reasons[usual]}"
        elif name in body.raised_by:
            sentences[cause] = _circumstance_sentence(entry, body.raised_by[name], value)
    return sentences


_MORE_OFTEN = {
    "much": "Far more often seen",
    "clearly": "Clearly more often seen",
    "little": "A little more often seen",
    "little-less": "A little less often seen",
    "clearly-less": "Clearly less often seen",
    "much-less": "Far less often seen",
}


def _circumstance_sentence(entry: FindingEntry, factors: Mapping[str, str], value: str) -> str:
    """Return how a circumstance changes how likely a cause is."""
    if value in factors:
        return f"{_MORE_OFTEN[factors[value]]} where the answer is '{entry.values[value].staff}'."
    changed = next(iter(factors))
    return f"{_MORE_OFTEN[factors[changed]]} where the answer is '{entry.values[changed].staff}', which it is not."
