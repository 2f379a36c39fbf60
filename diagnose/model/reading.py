"""Reads the knowledge files: every fault with file, line and column, all of them at once."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from diagnose.errors import Fault, KnowledgeError
from diagnose.model import entries, lists
from diagnose.model.near_names import near
from diagnose.model.yaml_nodes import Document, read_document
from diagnose.settings import knowledge_folder, own_shop_file

COLLECTIONS: dict[str, type[BaseModel]] = {
    "sources": lists.SourceEntry,
    "findings": entries.FindingEntry,
    "causes": entries.CauseEntry,
    "rules": entries.RuleEntry,
    "remedies": entries.RemedyEntry,
    "cautions": entries.CautionEntry,
    "alarms": entries.AlarmEntry,
    "parts": lists.PartEntry,
    "drawings": lists.DrawingEntry,
    "clocks": lists.ClockEntry,
    "subsystems": lists.SubsystemEntry,
    "places": lists.PlaceEntry,
    "doors": lists.DoorEntry,
    "screen": lists.ScreenEntry,
    "probabilities": lists.ProbabilityWord,
    "synonyms": lists.SynonymEntry,
    "sayings": lists.SayingsEntry,
    "asides": lists.AsideEntry,
    "exceptions": lists.ExceptionEntry,
}
SINGLES: dict[str, type[BaseModel]] = {"shop": lists.ShopEntry}


@dataclass(frozen=True, slots=True)
class Knowledge:
    """Everything the files say, by id.

    `places_in_files` gives file, line and column of each entry, keyed by collection and id.
    """

    edition: str
    folder: Path
    sources: Mapping[str, lists.SourceEntry]
    findings: Mapping[str, entries.FindingEntry]
    causes: Mapping[str, entries.CauseEntry]
    rules: Mapping[str, entries.RuleEntry]
    remedies: Mapping[str, entries.RemedyEntry]
    cautions: Mapping[str, entries.CautionEntry]
    alarms: Mapping[str, entries.AlarmEntry]
    parts: Mapping[str, lists.PartEntry]
    drawings: Mapping[str, lists.DrawingEntry]
    clocks: Mapping[str, lists.ClockEntry]
    subsystems: Mapping[str, lists.SubsystemEntry]
    places: Mapping[str, lists.PlaceEntry]
    doors: Mapping[str, lists.DoorEntry]
    screen: Mapping[str, lists.ScreenEntry]
    probabilities: Mapping[str, lists.ProbabilityWord]
    synonyms: Mapping[str, lists.SynonymEntry]
    sayings: Mapping[str, lists.SayingsEntry]
    asides: Mapping[str, lists.AsideEntry]
    exceptions: Mapping[str, lists.ExceptionEntry]
    spoken: tuple[lists.SpokenProbability, ...]
    shop: lists.ShopEntry
    positions: Mapping[tuple[str, str], tuple[str, int, int]] = field(repr=False)


@dataclass(slots=True)
class _Reading:
    """What has been read so far."""

    found: dict[str, dict[str, Any]] = field(default_factory=lambda: {name: {} for name in COLLECTIONS})
    positions: dict[tuple[str, str], tuple[str, int, int]] = field(default_factory=dict)
    edition: str | None = None
    shop: lists.ShopEntry | None = None
    spoken: list[lists.SpokenProbability] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)


def read_knowledge(folder: Path | None = None, *, check: bool = True) -> Knowledge:
    """Read all knowledge below a folder.

    Parameters
    ----------
    folder : Path, optional
        The knowledge folder; the shipped one by default, with the shop's own `shop.yaml` laid over it.
    check : bool
        Also check the links between entries.

    Returns
    -------
    Knowledge
        Entries by id.

    Raises
    ------
    KnowledgeError
        With every fault of every file, in order.
    """
    own = own_shop_file() if folder is None else None
    folder = folder or knowledge_folder()
    return _read_cached(folder, check, _stamp(folder), _stamp_of_file(own) if own is not None else None)


def _stamp_of_file(file: Path) -> tuple[str, int, int]:
    if not file.is_file():
        raise KnowledgeError([Fault(str(file), 0, 0, "is no file: STOPPED_CLOCK_SHOP names the shop's own shop.yaml")])
    return str(file), file.stat().st_mtime_ns, file.stat().st_size


def _stamp(folder: Path) -> tuple[tuple[str, int, int], ...]:
    """Return name, time and size of each file, so that a changed file is read again."""
    files = sorted(folder.rglob("*.yaml")) if folder.is_dir() else []
    return tuple((str(file), file.stat().st_mtime_ns, file.stat().st_size) for file in files)


@lru_cache(maxsize=8)
def _read_cached(
    folder: Path, check: bool, stamp: tuple[tuple[str, int, int], ...], own_shop: tuple[str, int, int] | None = None
) -> Knowledge:
    if not stamp:
        raise KnowledgeError([Fault(str(folder), 0, 0, "holds no knowledge files (*.yaml): give the knowledge folder")])
    reading = _Reading()
    for name, _, _ in stamp:
        path = Path(name)
        _take_in(read_document(path, _shown(path, folder)), reading)
    if own_shop is not None and reading.shop is not None:
        _lay_over(read_document(Path(own_shop[0]), own_shop[0]), reading, reading.shop)
    knowledge = _assemble(reading, folder)
    if check:
        from diagnose.model.checking import faults_between_entries

        reading.faults.extend(faults_between_entries(knowledge))
    if reading.faults:
        raise KnowledgeError(reading.faults)
    return knowledge


def _shown(path: Path, folder: Path) -> str:
    return f"{folder.name}/{path.relative_to(folder).as_posix()}"


def _take_in(document: Document, reading: _Reading) -> None:
    """Add what one file says."""
    reading.faults.extend(document.faults)
    if document.content is None:
        return
    if not isinstance(document.content, dict):
        allowed = ", ".join([*COLLECTIONS, *SINGLES, "edition", "spoken"])
        reading.faults.append(document.fault((), f"must be a mapping of collections: {allowed}"))
        return
    for name, content in document.content.items():
        if name == "edition":
            reading.edition = str(content)
        elif name == "spoken":
            _take_spoken(document, content, reading)
        elif name in SINGLES:
            reading.shop = _validated(document, (name,), SINGLES[name], content, reading)
        elif name in COLLECTIONS:
            _take_collection(document, name, content, reading)
        else:
            hint = near(name, [*COLLECTIONS, *SINGLES, "edition", "spoken"])
            reading.faults.append(document.fault((name,), f"unknown collection '{name}'{hint}"))


def _lay_over(document: Document, reading: _Reading, shipped: lists.ShopEntry) -> None:
    """Take from the shop's own file what it says; all else stays as it is shipped."""
    reading.faults.extend(document.faults)
    content = document.content
    if content is None:
        return
    if not isinstance(content, dict) or set(content) != {"shop"} or not isinstance(content["shop"], dict):
        reading.faults.append(document.fault((), "must hold `shop:` with the figures that are the shop's own"))
        return
    merged = _merged(shipped.model_dump(), content["shop"])
    reading.shop = _validated(document, ("shop",), lists.ShopEntry, merged, reading) or shipped


def _merged(under: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    """Return `under` with what `over` says, level by level."""
    merged = dict(under)
    for name, value in over.items():
        below = merged.get(name)
        merged[name] = _merged(below, value) if isinstance(below, dict) and isinstance(value, dict) else value
    return merged


def _take_spoken(document: Document, content: Any, reading: _Reading) -> None:
    for number, item in enumerate(content if isinstance(content, list) else []):
        entry = _validated(document, ("spoken", number), lists.SpokenProbability, item, reading)
        if entry is not None:
            reading.spoken.append(entry)


def _take_collection(document: Document, name: str, content: Any, reading: _Reading) -> None:
    if not isinstance(content, dict):
        reading.faults.append(document.fault((name,), f"'{name}' must hold entries by id"))
        return
    for key, body in content.items():
        if (name, key) in reading.positions:
            file, line, _ = reading.positions[(name, key)]
            reading.faults.append(document.fault((name, key), f"id '{key}' is already used in {file}:{line}"))
            continue
        reading.positions[(name, key)] = (document.file, *document.at((name, key)))
        entry = _validated(document, (name, key), COLLECTIONS[name], body, reading)
        if entry is not None:
            reading.found[name][key] = entry


def _validated(
    document: Document, path: tuple[str | int, ...], form: type[BaseModel], body: Any, reading: _Reading
) -> Any:
    """Return the entry, or None with its faults noted."""
    if not isinstance(body, dict):
        reading.faults.append(document.fault(path, f"'{path[-1]}' must hold the fields of an entry"))
        return None
    try:
        return form.model_validate(body)
    except ValidationError as error:
        for problem in error.errors():
            loc = tuple(part for part in problem["loc"] if part not in {"staff-only"})
            reading.faults.append(document.fault((*path, *loc), sentence_of(problem, form)))
        return None


def sentence_of(problem: Any, form: type[BaseModel]) -> str:
    """Turn a validation problem into a sentence that says what is allowed."""
    where = ".".join(str(part) for part in problem["loc"]) or "entry"
    kind, message = problem["type"], str(problem["msg"]).removeprefix("Value error, ")
    if kind == "extra_forbidden":
        fields = [item.alias or name for name, item in form.model_fields.items()] if len(problem["loc"]) == 1 else []
        return f"unknown field '{where}'{near(str(problem['loc'][-1]), fields)}"
    if kind == "missing":
        return f"'{where}' is missing"
    given = problem.get("input")
    if kind == "literal_error":
        expected = str(problem["ctx"]["expected"])
        words = [word.strip("' ") for word in expected.replace(" or ", ", ").split(",")]
        return f"'{where}' is '{given}': must be one of {', '.join(words)}{near(str(given), words)}"
    shown = "" if isinstance(given, dict | list) or kind == "value_error" else f" (given: {given!r})"
    return f"'{where}': {message}{shown}"


def _assemble(reading: _Reading, folder: Path) -> Knowledge:
    for name, what in (("edition", reading.edition), ("shop", reading.shop)):
        if what is None:
            reading.faults.append(Fault(folder.name, 0, 0, f"no file says `{name}:`"))
    if reading.shop is None or reading.edition is None:
        raise KnowledgeError(reading.faults)
    return Knowledge(
        edition=reading.edition,
        folder=folder,
        shop=reading.shop,
        spoken=tuple(sorted(reading.spoken, key=lambda entry: entry.from_)),
        positions=reading.positions,
        **reading.found,
    )
