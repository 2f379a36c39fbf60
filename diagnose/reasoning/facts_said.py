"""Many facts in one line, as somebody types who knows clocks: "spring kinked, runs 2 min, 12 % out of beat".

The line is cut into pieces. Numbers with a unit become values by the bands of the knowledge; findings may be named by
their ids ("paper-in-fork=none"); "pallets ok" is the normal value; the rest is read as free speech (`complaint`).
Everything is offered to be confirmed, nothing is assumed.
"""

from __future__ import annotations

import re
import statistics
from collections.abc import Iterable, Iterator

from diagnose.mechanics.fit import FitAnswer
from diagnose.model.entries import FindingEntry
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import Knowledge
from diagnose.reasoning import said_words
from diagnose.reasoning.complaint import FULL, LEAST_SCORE, Suggestion, applies, suggest
from diagnose.reasoning.phrasebook import book_of
from diagnose.reasoning.said_words import DAY_S, HOUR_S, MINUTE_S

# Somebody who lists facts writes at least so many pieces, of not more than so many words at the middle.
LEAST_PIECES, MOST_WORDS_OF_A_PIECE = 3, 5
MOST_AT_ONCE = 12
# An id or a number is meant as it stands: it goes before words.
_AS_IT_STANDS = 2 * FULL
# A second finding in one piece of a list is offered only if it is as near as that.
_AS_NEAR = 0.95
# What two sizes were measured with where nobody says.
_USUAL_TOOL = "plastic-caliper"
# Words of the name of a finding that a piece such as "pallets ok" must share.
_NAMED = 0.5
# How far the two parts of a split may be from 100 together. [%]
_SPLIT_SLACK = 1.0

AGAINST_SLOT = {
    "fits": ("goes-in-free", "goes-in-close"),
    "thinner": ("will-rock",),
    "thicker": ("only-after-opening",),
}

_ID = re.compile(r"(?<![\w-])(?P<finding>[a-z][a-z0-9-]+)\s*[=/]\s*(?P<value>[a-z][a-z0-9-]*)")
_PIECE = re.compile(r"[,;\n]+|\.\s|\s\+\s|\s&\s")
_IN_ORDER = frozenset(
    {"ok", "okay", "fine", "good", "normal", "sound", "correct", "right", "clean", "clear", "perfect"}
)
# What is open is no finding.
_OPEN = re.compile(
    r"^(?:the )?(?:hood|bonnet|door|front|dial|back|movement|hands?|bob|pendulum|weights?)"
    r" (?:is |are )?(?:off|open|out)$"
    r"|^(?:on the bench|out of (?:the|its) case)$"
)
_N = r"(?P<n>\d+(?:\.\d+)?)(?:\s*(?:-|to|or)\s*(?P<to>\d+(?:\.\d+)?))?"
_UNITS_S = {"s": 1.0, "m": MINUTE_S, "h": HOUR_S, "d": DAY_S, "w": 7 * DAY_S}
_TIME = r"(?P<u>s|secs?|seconds?|m|mins?|minutes?|h|hrs?|hours?)\b\.?"
_SIDE = r"lose\w*|losing|lost|slow|behind|late|gain\w*|fast|ahead|quick|\+|-|−"
_ABOUT = r"(?:\s*(?:about|around|roughly|some|by|of|maybe|is|it|runs?|running|at|~))*\s*"
_RATE = re.compile(
    rf"(?P<before>{_SIDE})?{_ABOUT}{_N}\s*{_TIME}\s*(?P<after>{_SIDE})?"
    rf"\s*(?:in a|in every|in|a|an|per|each|every|/|over)\s*"
    rf"(?P<many>\d+)?\s*(?P<p>days?|d|hours?|hrs?|h|weeks?|wks?|w)\b(?:\s*(?P<last>{_SIDE}))?"
)
_LOSES = re.compile(r"lo|slow|behind|late|-|−")
_RUN = re.compile(
    r"(?P<how>\b(?:runs?|ran|running|stop(?:s|ped)?|lasts?|goes|going|dies|quits|packs up|conks out|keeps going|good))"
    rf"(?:\s*(?:again|for|after|in|about|only|just|around|roughly|within|~))*\s*{_N}\s*"
    r"(?P<u>s|secs?|seconds?|m|mins?|minutes?|h|hrs?|hours?|d|days?|weeks?)\b(?!\s*(?:ago|fast|slow|late|past|to|a|per|each|every|/)\b)"
)
_PERCENT = re.compile(r"(?P<n>\d+(?:\.\d+)?)\s*(?:%|percent\b|per cent\b)")
_OF_THE_BEAT = re.compile(r"beat|even|limp|tick|\bbe\b")
_SPLIT = re.compile(r"(?<![\d.])(?P<one>\d{2}(?:\.\d+)?)\s*[:/]\s*(?P<two>\d{2}(?:\.\d+)?)(?![\d:])")
_SIZE = r"\s*(?:is|=|:)?\s*(?P<{0}>\d*\.?\d+(?:\s*/\s*\d+)?)\s*(?P<{0}_unit>mm|inch(?:es)?|in|thou|\")?"
_BLOCK, _SLOT = (re.compile(rf"\b{what}(?: thickness| width)?{_SIZE.format('size')}") for what in ("block", "slot"))
_TOOLS = {
    "steel caliper": "steel-caliper",
    "micrometer": "micrometer",
    "mic": "micrometer",
    "ruler": "ruler",
    "feeler": "feeler-strips",
}


def facts_in(text: str, knowledge: Knowledge, clock: ClockFacts | None = None) -> tuple[Suggestion, ...]:
    """Return what a line tells, whether it is a list of facts or free speech, to be confirmed at once.

    Parameters
    ----------
    text : str
        What was typed or said.
    knowledge : Knowledge
        Its findings with their bands and the ways people say them.
    clock : ClockFacts, optional
        Findings that do not apply to this clock are left out.

    Returns
    -------
    tuple of Suggestion
        One value for each finding: what stands as id or number first, then the rest as it was said, at most
        `MOST_AT_ONCE`; of free speech at most four, best first.
    """
    exact = list(_exact(text, knowledge))
    text = _without_exact(text, knowledge)
    pieces = pieces_of(text)
    if is_list(pieces, exact):
        told = {item.words for item in exact}
        rest: Iterable[Suggestion] = (
            item
            for piece in pieces
            for item in _of_piece(piece, knowledge, clock)
            # Where a number was told, only what was said besides it in so many words.
            if item.score >= FULL or _digits(piece.lower()) not in told
        )
    else:
        rest = suggest(text, knowledge, clock)
    found: dict[str, Suggestion] = {}
    for item in (*exact, *rest):
        if item.finding not in found and applies(knowledge.findings[item.finding], clock):
            found[item.finding] = item
    return tuple(found.values())[:MOST_AT_ONCE]


def _without_exact(text: str, knowledge: Knowledge) -> str:
    """Return a text without ids and sizes, which are no words that somebody says."""
    text = _ID.sub(lambda match: "," if match["finding"] in knowledge.findings else match[0], text)
    if _BLOCK.search(text.lower()) and _SLOT.search(text.lower()):
        text = _SLOT.sub(",", _BLOCK.sub(",", text.lower()))
    return text


def lists_facts(text: str, knowledge: Knowledge) -> bool:
    """Tell whether a line is a list of facts, as somebody types who knows clocks."""
    return is_list(pieces_of(text), list(_exact(text, knowledge)))


def pieces_of(text: str) -> list[str]:
    """Return the pieces of a line between commas, semicolons and full stops."""
    return [piece.strip(" .") for piece in _PIECE.split(text) if piece.strip(" .")]


def is_list(pieces: list[str], exact: list[Suggestion]) -> bool:
    """Tell whether somebody listed facts rather than told a story."""
    if not pieces:
        return False
    words = statistics.median(len(piece.split()) for piece in pieces)
    return words <= MOST_WORDS_OF_A_PIECE and (len(pieces) >= LEAST_PIECES or bool(exact))


def against_slot(answer: FitAnswer) -> dict[str, float]:
    """Return the chances of a fit as chances of the values of `block-against-slot`."""
    return {value: sum(answer.chances.get(name, 0.0) for name in names) for value, names in AGAINST_SLOT.items()}


def _of_piece(piece: str, knowledge: Knowledge, clock: ClockFacts | None) -> Iterator[Suggestion]:
    """Yield what one piece of a list tells: one finding, or two that are as near as each other."""
    plain = piece.lower()
    if _OPEN.match(plain):
        return
    in_order = _in_order(piece, knowledge)
    if in_order is not None:
        yield in_order
        return
    said = suggest(piece, knowledge, clock)
    heard: set[str] = set()
    for item in said:
        besides = not any(item.words in words or words in item.words for words in heard)
        if item.score >= _AS_NEAR * said[0].score or (besides and item.score >= LEAST_SCORE):
            yield item
        heard.add(item.words)


def _in_order(piece: str, knowledge: Knowledge) -> Suggestion | None:
    """Return the normal value of the finding that "pallets ok" names."""
    words = piece.lower().split()
    book = book_of(knowledge)
    said = frozenset(said_words.tokens_of(said_words.words_of(piece), book.classes))
    for phrase in book.phrases:
        if phrase.tokens == said and knowledge.findings[phrase.finding].values[phrase.value].normal:
            return Suggestion(phrase.finding, phrase.value, FULL, piece)
    if words[-1] not in _IN_ORDER or len(words) == 1:
        return None
    named = set(said_words.tokens_of(words[:-1], book.classes))
    best: tuple[float, str, str] = (0.0, "", "")
    for name, entry in knowledge.findings.items():
        normal = next((value for value, form in entry.values.items() if form.normal), None)
        short = knowledge.screen.get(f"name-{name}")
        if normal is None or short is None or not named:
            continue
        for title in (short.staff, name.replace("-", " "), *entry.also_called):
            tokens = set(said_words.tokens_of(said_words.words_of(title), book.classes))
            share = len(named & tokens) / len(named | tokens) if tokens else 0.0
            best = max(best, (share, name, normal))
    share, name, normal = best
    return Suggestion(name, normal, FULL * share, piece) if share >= _NAMED else None


def _exact(text: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield what is told by an id or by a number with its unit."""
    plain = _digits(text.lower())
    for match in _ID.finditer(plain):
        entry = knowledge.findings.get(match["finding"])
        if entry is not None and match["value"] in entry.values:
            yield Suggestion(match["finding"], match["value"], _AS_IT_STANDS, match[0])
    for piece in pieces_of(plain):
        yield from _of_the_beat(piece, knowledge)
        yield from _of_the_rate(piece, knowledge)
        yield from _of_the_run(piece, knowledge)
    yield from _of_the_fit(plain, knowledge)


def _digits(text: str) -> str:
    """Return a text with its numbers in figures: "twenty five mins" as "25 mins", "half an hour" as "30 min"."""
    for words, minutes in (("three quarters of an hour", 45), ("a quarter of an hour", 15), ("half an hour", 30)):
        text = text.replace(words, f"{minutes} min")
    tens = "twenty|thirty|forty|fifty"
    ones = "one|two|three|four|five|six|seven|eight|nine"
    text = re.sub(
        rf"\b({tens})[ -]({ones})\b",
        lambda m: f"{said_words.NUMBERS[m[1]] + said_words.NUMBERS[m[2]]:g}",
        text,
    )
    text = re.sub(r"\ba couple of\b", "2", text)
    counted = "|".join(word for word in said_words.NUMBERS if word not in {"half", "couple", "few", "several"})
    return re.sub(rf"\b({counted})\b(?=\W*(?:\w+\W+)?(?:to|or|sec|min|hour|day|week|%|per))", _figure, text)


def _figure(match: re.Match[str]) -> str:
    return f"{said_words.NUMBERS[match[1]]:g}"


def _of_the_beat(piece: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield the evenness of the tick from "12 % out of beat" or a split such as 56:44."""
    percent = _PERCENT.search(piece)
    if percent is not None and _OF_THE_BEAT.search(piece):
        yield from _by_band("beat-error", float(percent["n"]), piece, knowledge)
    split = _SPLIT.search(piece)
    if split is not None:
        one, two = float(split["one"]), float(split["two"])
        if abs(one + two - FULL) <= _SPLIT_SLACK:
            yield from _by_band("beat-error", abs(one - two), piece, knowledge)


def _of_the_rate(piece: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield what a rate tells, such as "loses 5 min a day" or "+20 s/day"."""
    match = _RATE.search(piece)
    side = match and (match["before"] or match["after"] or match["last"])
    if match is None or not side:
        return
    period_s = _UNITS_S[match["p"][0]] * float(match["many"] or 1)
    rate_s_per_day = _middle(match) * _UNITS_S[match["u"][0]] * DAY_S / period_s
    if _LOSES.match(side):
        rate_s_per_day = -rate_s_per_day
    yield from _by_band("rate", rate_s_per_day, piece, knowledge)


def _of_the_run(piece: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield how long it runs, such as "stops after 2 min"."""
    match = _RUN.search(piece)
    if match is None or _RATE.search(piece) or "runs-for" not in knowledge.findings:
        return
    value = said_words.name_of_run(_middle(match) * _UNITS_S[match["u"][0]]).removeprefix("#")
    if value in knowledge.findings["runs-for"].values:
        yield Suggestion("runs-for", value, _AS_IT_STANDS, piece)


def _middle(match: re.Match[str]) -> float:
    """Return the number, or the middle of "two to three"."""
    number = float(match["n"])
    return (number + float(match["to"])) / 2 if match["to"] else number


def _of_the_fit(text: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield how a block sits in a slot from its two sizes, in mm where no unit is given."""
    block, slot = _BLOCK.search(text), _SLOT.search(text)
    if block is None or slot is None or "block-against-slot" not in knowledge.findings:
        return
    from diagnose.errors import StoppedClockError
    from diagnose.mechanics.fit import fit
    from diagnose.model.quantities import parse_length

    tool = next((name for said, name in _TOOLS.items() if re.search(rf"\b{said}", text)), _USUAL_TOOL)
    try:
        block_mm, slot_mm = (parse_length(f"{it['size']} {it['size_unit'] or 'mm'}").mm for it in (block, slot))
        chances = against_slot(fit(block_mm, slot_mm, tool, tool))
    except StoppedClockError:
        return
    value = max(chances, key=lambda name: chances[name])
    words = f"{block[0].strip()}, {slot[0].strip()}"
    yield Suggestion("block-against-slot", value, _AS_IT_STANDS, words, tuple(chances.items()))


def _by_band(quantity: str, number: float, piece: str, knowledge: Knowledge) -> Iterator[Suggestion]:
    """Yield the values in whose bands a number lies; normal ones only where no finding of it is abnormal."""
    found = [
        (Suggestion(name, value, _AS_IT_STANDS, piece), entry.values[value].normal)
        for name, entry in knowledge.findings.items()
        if entry.measured is not None and entry.measured.quantity == quantity
        for value in _values_at(entry, number)
    ]
    amiss = [item for item, normal in found if not normal]
    yield from amiss or [item for item, _ in found[:1]]


def _values_at(entry: FindingEntry, number: float) -> Iterator[str]:
    size = abs(number) if entry.measured is not None and entry.measured.folded else number
    for value, form in entry.values.items():
        if form.band is not None and form.band.from_ <= size < form.band.to:
            yield value
            return
