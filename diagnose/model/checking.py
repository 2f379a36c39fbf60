"""Checks what one entry says about another: links, grounds, remedies, sources, double counting."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import TYPE_CHECKING

from diagnose.errors import Fault
from diagnose.model.near_names import near

if TYPE_CHECKING:
    from diagnose.model.reading import Knowledge

CLOCK_KINDS = {
    "family": "families",
    "drive": "drives",
    "escapement": "escapements",
    "strike": "strikes",
    "chime": "chimes",
}
_ESTIMATE = re.compile(r"^estimate-\d{4}-\d{2}$")


def faults_between_entries(knowledge: Knowledge) -> list[Fault]:
    """Return every fault between entries: unknown ids with near names, doubled evidence, missing sources."""
    checks = (
        _findings, _causes, _applies, _rules, _remedies, _cautions_and_alarms, _drawings, _words,
        _double_counting, _sources,
    )  # fmt: skip
    return [fault for check in checks for fault in check(knowledge)]


def singular(collection: str) -> str:
    """Return what one entry of a collection is called."""
    return "remedy" if collection == "remedies" else collection.removesuffix("s")


def _fault(knowledge: Knowledge, collection: str, key: str, what: str) -> Fault:
    return Fault(*knowledge.positions[(collection, key)], f"{singular(collection)} '{key}': {what}")


def _unknown(knowledge: Knowledge, collection: str, key: str, kind: str, names: object) -> Iterator[Fault]:
    """Yield a fault for each of `names` that is no id of the collection `kind`."""
    known = getattr(knowledge, kind)
    for name in names:  # type: ignore[attr-defined]
        if name is not None and name not in known:
            yield _fault(knowledge, collection, key, f"unknown {kind} id '{name}'{near(name, known)}")


def _value(knowledge: Knowledge, collection: str, key: str, finding: str | None, value: str | None) -> Iterator[Fault]:
    """Yield a fault where `finding` or its `value` is not known."""
    if finding is None:
        return
    yield from _unknown(knowledge, collection, key, "findings", [finding])
    entry = knowledge.findings.get(finding)
    if entry is not None and value is not None and value not in entry.values:
        allowed = ", ".join(entry.values)
        yield _fault(knowledge, collection, key, f"finding '{finding}' has no value '{value}': it has {allowed}")


def _findings(knowledge: Knowledge) -> Iterator[Fault]:
    for key, entry in knowledge.findings.items():
        yield from _unknown(knowledge, "findings", key, "subsystems", [entry.subsystem])
        yield from _unknown(knowledge, "findings", key, "places", [entry.place])
        yield from _unknown(knowledge, "findings", key, "drawings", [entry.drawing])
        yield from _unknown(knowledge, "findings", key, "cautions", entry.cautions)
        for other, values in entry.needs.items():
            for value in values:
                yield from _value(knowledge, "findings", key, other, value)
        if entry.question.customer is None and not entry.told:
            yield _fault(knowledge, "findings", key, "has no question in a customer's words")


def _causes(knowledge: Knowledge) -> Iterator[Fault]:
    for key, entry in knowledge.causes.items():
        yield from _unknown(knowledge, "causes", key, "subsystems", [entry.subsystem])
        yield from _unknown(knowledge, "causes", key, "remedies", entry.remedies)
        yield from _unknown(knowledge, "causes", key, "cautions", entry.cautions)
        yield from _unknown(knowledge, "causes", key, "parts", entry.parts)
        yield from _unknown(knowledge, "causes", key, "drawings", [entry.drawing])
        yield from _unknown(knowledge, "causes", key, "causes", [item.cause for item in entry.mistaken_for])
        yield from _cause_links(knowledge, key)
        for finding, factors in entry.raised_by.items():
            for value in factors:
                yield from _value(knowledge, "causes", key, finding, value)
            circumstance = knowledge.findings.get(finding)
            if circumstance is not None and circumstance.kind != "circumstance":
                yield _fault(knowledge, "causes", key, f"raised_by '{finding}', which is no circumstance: use shows")
        families = [name for name in entry.how_common if name != "default"]
        yield from _unknown(knowledge, "causes", key, "clocks", families)


def _cause_links(knowledge: Knowledge, key: str) -> Iterator[Fault]:
    """Yield faults of the links of one cause."""
    seen: set[tuple[str, str]] = set()
    total: dict[str, float] = {}
    for link in knowledge.causes[key].shows:
        yield from _value(knowledge, "causes", key, link.finding, link.value)
        entry = knowledge.findings.get(link.finding)
        if entry is None:
            continue
        if entry.kind == "circumstance":
            yield _fault(knowledge, "causes", key, f"shows '{link.finding}', a circumstance: use raised_by")
        if entry.normal == link.value:
            yield _fault(knowledge, "causes", key, f"shows the normal value '{link.value}' of '{link.finding}'")
        if (link.finding, link.value) in seen:
            yield _fault(knowledge, "causes", key, f"two links to '{link.finding}: {link.value}'")
        seen.add((link.finding, link.value))
        word = knowledge.probabilities.get(link.often)
        total[link.finding] = total.get(link.finding, 0) + (word.probability if word else 0)
    for finding, probability in total.items():
        if probability > 1 + 1e-9:
            what = f"its links to '{finding}' add up to {probability:g}: at most 1 together"
            yield _fault(knowledge, "causes", key, what)


def _rules(knowledge: Knowledge) -> Iterator[Fault]:
    for key, entry in knowledge.rules.items():
        for ground in entry.when:
            for value in ground.is_:
                yield from _value(knowledge, "rules", key, ground.finding, value)
        yield from _value(knowledge, "rules", key, entry.finding, entry.value)
        yield from _unknown(knowledge, "rules", key, "causes", [entry.cause])
        yield from _unknown(knowledge, "rules", key, "cautions", [entry.caution])
        for example in (*entry.fires_on, *entry.silent_on):
            for finding, value in example.items():
                yield from _value(knowledge, "rules", key, finding, value)
        for example in entry.fires_on:
            if not all(example.get(ground.finding) in ground.is_ for ground in entry.when):
                yield _fault(knowledge, "rules", key, f"does not fire on its own example {dict(example)}")
        for example in entry.silent_on:
            if all(example.get(ground.finding) in ground.is_ for ground in entry.when):
                yield _fault(knowledge, "rules", key, f"does not stay silent on its own example {dict(example)}")


def _remedies(knowledge: Knowledge) -> Iterator[Fault]:
    for key, entry in knowledge.remedies.items():
        yield from _unknown(knowledge, "remedies", key, "cautions", entry.cautions)
        yield from _unknown(knowledge, "remedies", key, "parts", entry.parts)
        yield from _unknown(knowledge, "remedies", key, "findings", entry.stale)
        for proof in entry.proof:
            yield from _value(knowledge, "remedies", key, proof.finding, proof.value)
        for number, step in enumerate(entry.steps, 1):
            yield from _unknown(knowledge, "remedies", key, "drawings", [step.drawing, step.right_when.drawing])
            yield from _value(knowledge, "remedies", key, step.right_when.finding, step.right_when.value)
            for way in step.not_so:
                yield from _value(knowledge, "remedies", key, way.finding, way.value)
            if step.stop_if is None and (step.who or entry.who) in {"owner", "owner-on-the-phone"}:
                yield _fault(knowledge, "remedies", key, f"step {number} is for an owner and has no stop_if")


def _applies(knowledge: Knowledge) -> Iterator[Fault]:
    """Every family, drive, escapement, strike and chime that an entry applies to is known."""
    kinds = {name: {key for key, entry in knowledge.clocks.items() if entry.kind == name} for name in CLOCK_KINDS}
    for collection in ("findings", "causes", "remedies"):
        for key, entry in getattr(knowledge, collection).items():
            for kind, field in CLOCK_KINDS.items():
                for name in getattr(entry.applies, field):
                    if name not in kinds[kind]:
                        what = f"applies to unknown {kind} '{name}'{near(name, kinds[kind])}"
                        yield _fault(knowledge, collection, key, what)


def _cautions_and_alarms(knowledge: Knowledge) -> Iterator[Fault]:
    for key, alarm in knowledge.alarms.items():
        yield from _unknown(knowledge, "alarms", key, "cautions", alarm.cautions)
        for finding, values in alarm.also_when.items():
            for value in values:
                yield from _value(knowledge, "alarms", key, finding, value)


def _drawings(knowledge: Knowledge) -> Iterator[Fault]:
    for key, drawing in knowledge.drawings.items():
        if not (knowledge.folder / "drawings" / drawing.file).is_file():
            yield _fault(knowledge, "drawings", key, f"file 'drawings/{drawing.file}' is not there")
    for key, place in knowledge.places.items():
        yield from _unknown(knowledge, "places", key, "drawings", [place.drawing])
    for key, door in knowledge.doors.items():
        yield from _unknown(knowledge, "doors", key, "drawings", [door.drawing])
        yield from _unknown(knowledge, "doors", key, "findings", [*door.looks, *door.ask_first])
        for finding, value in door.assume.items():
            yield from _value(knowledge, "doors", key, finding, value)
    for key, part in knowledge.subsystems.items():
        yield from _unknown(knowledge, "subsystems", key, "drawings", [part.drawing])


def _words(knowledge: Knowledge) -> Iterator[Fault]:
    from diagnose.model.entries import Likelihood

    for word in Likelihood.__args__:  # type: ignore[attr-defined]
        if word not in knowledge.probabilities:
            yield Fault(knowledge.folder.name, 0, 0, f"no probability is given for the word '{word}'")
    if not knowledge.spoken or knowledge.spoken[0].from_ > 0:
        yield Fault(knowledge.folder.name, 0, 0, "`spoken` must begin with a word from 0")


def _double_counting(knowledge: Knowledge) -> Iterator[Fault]:
    """An answer counts once for a cause: by link or by rule, never both."""
    linked = {
        key: {link.finding for link in cause.shows} | set(cause.raised_by) for key, cause in knowledge.causes.items()
    }
    for key, rule in knowledge.rules.items():
        grounds = {ground.finding for ground in rule.when}
        if rule.kind in {"support", "weaken"} and rule.cause in linked:
            for finding in sorted(grounds & linked[rule.cause]):
                what = f"counts '{finding}' for '{rule.cause}' a second time: the cause links to it already"
                yield _fault(knowledge, "rules", key, what)
        if rule.kind == "infer":
            for cause, findings in linked.items():
                if rule.finding in findings and grounds & findings:
                    twice = ", ".join(sorted(grounds & findings))
                    what = f"infers '{rule.finding}' from '{twice}': cause '{cause}' links to both"
                    yield _fault(knowledge, "rules", key, what)


def _sources(knowledge: Knowledge) -> Iterator[Fault]:
    """Every source key is in the bibliography, or `practice`, or `estimate-YYYY-MM`."""
    for collection, key, names in _source_keys(knowledge):
        for name in names:
            if name != "practice" and not _ESTIMATE.match(name) and name not in knowledge.sources:
                hint = near(name, knowledge.sources)
                what = f"unknown source '{name}'{hint} (or `practice`, or `estimate-YYYY-MM`)"
                yield _fault(knowledge, collection, key, what)


def _source_keys(knowledge: Knowledge) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    for collection in ("findings", "causes", "rules", "remedies", "alarms", "parts", "clocks"):
        for key, entry in getattr(knowledge, collection).items():
            yield collection, key, entry.sources
    for key, cause in knowledge.causes.items():
        yield "causes", key, tuple(link.source for link in cause.shows)
    for key, caution in knowledge.cautions.items():
        yield "cautions", key, caution.authority
