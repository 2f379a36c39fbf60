"""The knowledge at the terminal: checked, one entry as its page, and the graph of what separates what."""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path

from rich.console import Group, RenderableType
from rich.text import Text

from diagnose.errors import KnowledgeError, UsageError
from diagnose.model.checking import singular
from diagnose.model.entries import CauseEntry, FindingEntry, RemedyEntry
from diagnose.model.graph import separation
from diagnose.model.near_names import near
from diagnose.model.reading import COLLECTIONS, Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.review import CHECKS, Remark, Severity, review
from diagnose.terminal.doing import console

DONE, NO = 0, 1
FILE_WIDTH = 100
COUNTED = ("findings", "causes", "rules", "remedies", "cautions", "alarms", "parts", "drawings", "sources")
Lines = Iterator[RenderableType]


def check(folder: Path | None, only: str | None = None, as_json: bool = False) -> int:
    """Tell every fault and doubt of the knowledge; 1 where there is a fault."""
    try:
        knowledge = read_knowledge(folder)
    except KnowledgeError as error:
        print(error)
        print(f"{len(error.faults)} faults", file=sys.stderr)
        return NO
    chosen = tuple(item for item in CHECKS if only in {None, item.id})
    if not chosen:
        names = [item.id for item in CHECKS]
        raise UsageError(f"no check '{only}'{near(str(only), names)}", do=f"There are {', '.join(names)}")
    remarks = review(knowledge, chosen)
    wording = Wording(knowledge)
    if as_json:
        print(json.dumps([_plain(remark) for remark in remarks], indent=1))
    else:
        for remark in sorted(remarks, key=lambda item: (item.excused is not None, item.check.severity != "fault")):
            print(_line(remark, wording))
        counts = (f"{len(getattr(knowledge, name))} {name}" for name in COUNTED)
        print(", ".join(counts))
    faults = _count(remarks, "fault")
    told = {"faults": faults, "doubts": _count(remarks, "doubt"), "checks": len(chosen)}
    told["excused"] = sum(remark.excused is not None for remark in remarks)
    print(wording.say("review-sum", **told), file=sys.stderr)
    return NO if faults else DONE


def _count(remarks: Iterable[Remark], severity: Severity) -> int:
    return Counter(remark.check.severity for remark in remarks if remark.excused is None)[severity]


def _line(remark: Remark, wording: Wording) -> str:
    """Return severity, check, place and sentence; below it the reason, where it may stand for one."""
    line = f"{wording.say(f'review-{remark.check.severity}')} {remark.check.id}: {remark.fault}"
    return line if remark.excused is None else f"{line}\n   {wording.say('review-excused', reason=remark.excused)}"


def _plain(remark: Remark) -> dict[str, object]:
    fault = remark.fault
    return {
        "check": remark.check.id,
        "severity": remark.check.severity,
        "file": fault.file,
        "line": fault.line,
        "what": fault.what,
        "excused": remark.excused,
    }


def graph(out: Path, subsystem: str | None = None) -> None:
    """Write the graph of what separates what and print its paths."""
    from diagnose.reports.graph import write_graph

    for path in write_graph(read_knowledge(), out, subsystem):
        print(path)


def show(name: str, as_file: bool = False) -> None:
    """Print the page of an entry: what it says, what names it, what tells it from its look-alikes."""
    knowledge = read_knowledge()
    found = [collection for collection in COLLECTIONS if name in getattr(knowledge, collection)]
    if not found:
        known = [key for collection in COLLECTIONS for key in getattr(knowledge, collection)]
        raise UsageError(f"no entry '{name}'{near(name, known)}")
    for collection in found:
        console().print(Group(*_page(collection, name, knowledge, as_file)), highlight=False)


def _page(collection: str, name: str, knowledge: Knowledge, as_file: bool) -> Lines:
    wording = Wording(knowledge)
    file, line, _ = knowledge.positions[(collection, name)]
    yield Text(f"{singular(collection)} {name}   {file}:{line}", style="bold")
    entry = getattr(knowledge, collection)[name]
    if not as_file and isinstance(entry, CauseEntry):
        yield from _cause(name, entry, wording)
    elif not as_file and isinstance(entry, FindingEntry):
        yield from _finding(name, entry, wording)
    elif not as_file and isinstance(entry, RemedyEntry):
        yield from _remedy(name, entry, wording)
    else:
        yield Text(_as_file(entry))


def _as_file(entry: object) -> str:
    import yaml

    body = entry.model_dump(exclude_defaults=True, by_alias=True, mode="json")  # type: ignore[attr-defined]
    return str(yaml.safe_dump(body, sort_keys=False, allow_unicode=True, width=FILE_WIDTH))


def _head(wording: Wording, key: str) -> Text:
    return Text(f"\n{wording.say(key)}", style="bold")


def _row(text: str, more: str = "") -> RenderableType:
    return Text(f"   {text}\n      {more}" if more else f"   {text}")


def _cause(name: str, cause: CauseEntry, wording: Wording) -> Lines:
    knowledge = wording.knowledge
    yield _row(wording.text(cause.title))
    words = ", ".join(f"{family} {word}" if family != "default" else word for family, word in cause.how_common.items())
    yield _row(wording.say("entry-common", words=words))
    yield _row(wording.say("entry-status", status=cause.status))
    yield _head(wording, "entry-shows")
    for link in cause.shows:
        said = f"{wording.short(link.finding)}: {wording.value(link.finding, link.value)}"
        yield _row(f"{link.often:<12} {said}", f"{link.why} [{link.source}]")
    if cause.raised_by:
        yield _head(wording, "entry-raised")
        for finding, factors in cause.raised_by.items():
            for value, factor in factors.items():
                yield _row(f"{factor:<12} {wording.short(finding)}: {wording.value(finding, value)}")
    yield from _look_alikes(name, cause, wording)
    rules = {key: rule for key, rule in knowledge.rules.items() if rule.cause == name}
    if rules:
        yield _head(wording, "entry-rules")
        for key, rule in rules.items():
            yield _row(f"{rule.kind:<12} {key}", wording.text(rule.because))
    for head, kind in (("entry-remedies", "remedies"), ("entry-cautions", "cautions"), ("entry-parts", "parts")):
        yield from _named(wording, head, kind, getattr(cause, kind))
    yield from _rests_on(wording, (*cause.sources, *(link.source for link in cause.shows)))


def _look_alikes(name: str, cause: CauseEntry, wording: Wording) -> Lines:
    """Yield each look-alike with what the entry says and the findings that the links themselves tell apart by."""
    if not cause.mistaken_for:
        return
    yield _head(wording, "entry-mistaken")
    apart = separation(wording.knowledge, cause.subsystem).mistaken
    for item in cause.mistaken_for:
        pair = next((pair for pair in apart if {pair.one, pair.other} == {name, item.cause}), None)
        finds = ", ".join(wording.short(finding) for finding, _ in pair.findings[:4]) if pair else ""
        yield _row(item.cause, f"{item.tell} [{finds or wording.say('entry-nothing-tells')}]")


def _finding(name: str, entry: FindingEntry, wording: Wording) -> Lines:
    knowledge = wording.knowledge
    yield _row(wording.text(entry.question))
    yield _row(_who(entry.who, entry.opened, entry.minutes, wording))
    yield _head(wording, "entry-look")
    yield _row(entry.look)
    yield _head(wording, "entry-values")
    for value, form in entry.values.items():
        mark = f" ({wording.say('entry-normal')})" if form.normal else ""
        heard = (wording.say("entry-heard", kinds=", ".join(form.heard)),) if form.heard else ()
        yield _row(f"{value}: {form.staff}{mark}", "; ".join((*form.said_like, *heard)))
    yield _head(wording, "entry-causes")
    for key, cause in knowledge.causes.items():
        for link in cause.shows:
            if link.finding == name:
                yield _row(f"{link.often:<12} {link.value:<24} {key}")
    named = [key for key, rule in knowledge.rules.items() if name in {ground.finding for ground in rule.when}]
    if named:
        yield _head(wording, "entry-rules")
        for key in named:
            yield _row(f"{knowledge.rules[key].kind:<12} {key}")
    yield from _rests_on(wording, entry.sources)


def _remedy(name: str, entry: RemedyEntry, wording: Wording) -> Lines:
    knowledge = wording.knowledge
    yield _row(wording.text(entry.title))
    yield _row(_who(entry.who, entry.opened, entry.minutes, wording))
    yield _head(wording, "entry-cures")
    for key, cause in knowledge.causes.items():
        if name in cause.remedies:
            yield _row(key, wording.text(cause.title))
    yield _head(wording, "entry-steps")
    for number, step in enumerate(entry.steps, 1):
        stop = f" - {wording.text(step.stop_if.text)}" if step.stop_if else ""
        yield _row(f"{number}  {wording.text(step.do)}", f"{wording.text(step.right_when.text)}{stop}")
    yield _head(wording, "entry-proof")
    for proof in entry.proof:
        yield _row(f"{wording.short(proof.finding)}: {wording.value(proof.finding, proof.value)}")
    for head, kind in (("entry-cautions", "cautions"), ("entry-parts", "parts")):
        yield from _named(wording, head, kind, getattr(entry, kind))
    yield from _rests_on(wording, entry.sources)


def _who(who: str, opened: str, minutes: float, wording: Wording) -> str:
    words = {"who": wording.say(f"who-{who}"), "opened": wording.say(f"opened-{opened}")}
    return wording.say("entry-who", minutes=f"{minutes:g}", **words)


def _named(wording: Wording, head: str, kind: str, names: Iterable[str]) -> Lines:
    entries = getattr(wording.knowledge, kind)
    names = tuple(names)
    if names:
        yield _head(wording, head)
    for name in names:
        yield _row(name, wording.text(entries[name].title))


def _rests_on(wording: Wording, sources: Iterable[str]) -> Lines:
    yield _head(wording, "entry-sources")
    for name in dict.fromkeys(sources):
        source = wording.knowledge.sources.get(name)
        if source is not None:
            author = f"{source.author}: " if source.author else ""
            yield _row(f"{author}{source.title}{f' ({source.year})' if source.year else ''}", source.read)
        elif name == "practice":
            yield _row(wording.say("entry-practice"))
        else:
            yield _row(wording.say("entry-estimate", month=name.removeprefix("estimate-")))
