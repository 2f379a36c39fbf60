"""What was said, as the words that carry meaning: stems, word classes, durations, times and rates.

Words that mean the same to a caller ("quits", "gives up", "conks out") become one; the classes stand in
`knowledge/words/synonyms.yaml`. Durations become how long a clock runs ("five minutes" and "300 secs" are
both `#minutes`), times of day become `#past` or `#near-one`, and "ten minutes a day" becomes a rate.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

SMALL_WORDS = frozenset(
    re.findall(
        "[a-z]+",
        "a an the it is was its i we he she they me us him her them my our his your their to of in on at for with or "
        "that this these those be been being am are were has had have having does do did doing will would can could "
        "may might shall should must you there here when just now very really if as by from s t m ll ve re d about "
        "some maybe like well also got get gets getting thing things stuff bit lot quite into im ive id youre hes "
        "shes who which what where how why than too rather actually basically honestly think thought reckon suppose "
        "seems seem seemed know dear mate please sorry hello hi ok okay yes oh ah er um dont any more anymore though "
        "although yet still even sort kind ever such put show shows deep deeply reach reached already yesterday today "
        "tonight most least once come comes coming came make makes made take takes took give gives gave let lets want "
        "wants need needs look looks looking feel feels try tried use used find found after before over under while "
        "since during until till however perhaps probably certainly definitely course again completely totally fairly "
        "pretty properly exactly simply clearly obviously first last next other another same own mine ours husband "
        "wife mother father dad mum uncle aunt brother sister son daughter grandfather grandmother gran grandma "
        "granddad clock but pls u ur abt bout evry evey agen aswell say says said see seen tell told ",
    )
)
NOT = "not"
# The class of what is often said and tells nothing of the clock.
NOT_MEANT = "not-meant"
_NEGATIONS = frozenset(
    re.findall(
        "[a-z]+",
        "not no never dont doesnt wont cant cannot isnt arent wasnt didnt nothing without aint "
        "nor neither none dosnt nobody hasnt havent couldnt wouldnt",
    )
)
# Words that are spelled as they should be.
KNOWN_WORDS = SMALL_WORDS | _NEGATIONS
_WORD = re.compile(r"#[a-z0-9-]+|[a-z]+|\d+(?:\.\d+)?|/")
_SUFFIXES = ("ings", "ing", "edly", "ied", "ed", "ies", "es", "s", "ly")
_LEAST_STEM = 3
_LETTERS_IN_A_ROW = 4
# Words whose stem would be another word's: "tape" is no "tap".
_WHOLE = frozenset({"tape"})

MINUTE_S, HOUR_S, DAY_S = 60.0, 3600.0, 86400.0
_UNITS_S = {
    **dict.fromkeys(("second", "seconds", "sec", "secs"), 1.0),
    **dict.fromkeys(("minute", "minutes", "min", "mins", "minuts"), MINUTE_S),
    **dict.fromkeys(("hour", "hours", "hr", "hrs"), HOUR_S),
    **dict.fromkeys(("day", "days"), DAY_S),
    **dict.fromkeys(("week", "weeks"), 7 * DAY_S),
    **dict.fromkeys(("month", "months"), 30 * DAY_S),
    **dict.fromkeys(("year", "years", "yrs", "yr"), 365 * DAY_S),
}
_PLURALS = frozenset(unit for unit in _UNITS_S if unit in {"seconds", "minutes", "hours", "days"})
NUMBERS = {
    word: float(number)
    for number, word in enumerate(
        re.findall(
            "[a-z]+",
            "zero one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen "
            "seventeen eighteen nineteen twenty",
        )
    )
}
NUMBERS |= {"thirty": 30, "forty": 40, "fifty": 50, "sixty": 60, "ninety": 90, "hundred": 100, "half": 0.5}
NUMBERS |= {"couple": 2, "few": 3, "several": 4, "dozen": 12, "fortnight": 2}
_MANY, _BEFORE_MANY = (
    3.0,
    frozenset({"in", "within", "for", "after", "some", "mere", "only", "just", "lasts", "couple"}),
)
# From this many seconds on a run is called by the next name; the names are the values of `runs-for`.
_RUNS = ((60.0, "#seconds"), (600.0, "#minutes"), (18 * HOUR_S, "#hours"), (36 * HOUR_S, "#about-a-day"))
_RUNS_DAYS_S = 21 * DAY_S
_YEARS = ((5.0, "#years-few"), (10.0, "#years-some"))
# Seconds a day up to which a rate counts as keeping time, and as some minutes: the bands of `rate`.
_KEEPS_S, _SOME_S = 90.0, 600.0
_PERIODS_S = {
    **dict.fromkeys(("day", "night", "morning", "evening", "daily", "24"), DAY_S),
    **dict.fromkeys(("week", "weekend", "sunday", "weekly", "fortnight"), 7 * DAY_S),
    **dict.fromkeys(("hour", "hourly"), HOUR_S),
    **dict.fromkeys(("month", "monthly"), 30 * DAY_S),
}
_PER = frozenset({"a", "per", "every", "each", "evry", "evey", "the", "/", "one", "by", "over", "in"})
_SIGNED = frozenset(
    re.findall(
        "[a-z]+",
        "lose loses losing loosing looses lost slow slower behind late gain gains gaining fast faster quick ahead "
        "forward correct adjust reset out",
    )
)
_GAPPED, _GAP_AS_SAID = "#gapped", "tick-tock ... tick-tock"
_TICK_TOCK = re.compile(r"t[iy]c?k\W{0,5}t[oa]c?k")
_SENTENCE = re.compile(r"[.;!?\n]+(?!\d)")
_CLAUSE = re.compile(
    r"[,:()]|\s-+\s|\bbut\b|\bthen\b|\band\b|\bbecause\b|\bso\b|\bever since\b|\bsince then\b|\bafter that\b"
    r"|\balthough\b|\bthough\b|\bhowever\b|\bwhereas\b"
)


@dataclass(frozen=True, slots=True)
class Classes:
    """The word classes: which stems, alone or in a row, mean which class, and what else a class counts as."""

    single: Mapping[str, str]
    rows: Mapping[str, tuple[tuple[tuple[str, ...], str], ...]]
    also: Mapping[str, tuple[str, ...]]
    subjects: frozenset[str]


def make_classes(
    said: Mapping[str, Iterable[str]], also: Mapping[str, tuple[str, ...]], subjects: Iterable[str]
) -> Classes:
    """Return the classes for look-up by stem.

    Parameters
    ----------
    said : mapping of str to iterable of str
        For each class the words or rows of words that mean it.
    also : mapping of str to tuple of str
        Classes that a class counts as besides itself.
    subjects : iterable of str
        Classes that name a part of the clock.

    Returns
    -------
    Classes
        Ready for `clauses_of`.
    """
    single: dict[str, str] = {}
    rows: dict[str, list[tuple[tuple[str, ...], str]]] = {}
    for name, words in said.items():
        for text in words:
            stems = tuple(stem_of(word) for word in words_of(text))
            if len(stems) == 1:
                single[stems[0]] = name
            elif stems:
                rows.setdefault(stems[0], []).append((stems, name))
    longest_first = {first: tuple(sorted(found, key=lambda row: -len(row[0]))) for first, found in rows.items()}
    return Classes(single, longest_first, also, frozenset(subjects))


def clauses_of(text: str) -> list[tuple[int, str]]:
    """Return the clauses of a text, each with the number of its sentence."""
    plain = _plain(text)
    found: list[tuple[int, str]] = []
    for number, sentence in enumerate(_SENTENCE.split(plain)):
        found.extend((number, piece.strip()) for piece in _CLAUSE.split(sentence) if piece.strip())
    return found


# A time of day in digits is no number of anything: stop times are read apart (`model/stop_notes`).
_CLOCK_TIME = re.compile(r"\b(?:[01]?\d|2[0-4]):[0-5]\d(?!\d)\s*(?:[ap]\.?m\b\.?)?|\b\d{1,2}\.[0-5]\d\s*[ap]\.?m\b\.?")


def _plain(text: str) -> str:
    """Return a text in small letters, negations written out and two ticks in a row marked."""
    plain = _CLOCK_TIME.sub(" ", text.lower().replace("’", "'"))
    if len(_TICK_TOCK.findall(plain)) > 1:
        plain = _TICK_TOCK.sub(" ", plain, count=1)
        plain = _TICK_TOCK.sub(f" {_GAPPED} ", plain, count=1)
        plain = _TICK_TOCK.sub(" ", plain)
    plain = re.sub(r"\bcan't\b|\bcant\b", "can not", re.sub(r"\bwon't\b|\bwont\b", "will not", plain))
    plain = re.sub(r"(?<=[a-z])n't\b", " not", plain)
    plain = re.sub(r"\bloos(ing|es)\b", r"los\1", plain)
    plain = re.sub(r"in'(?=\s|$)", "ing", plain)
    return re.sub(r"(?<=[a-z])'(?:s|d|ll|ve|re|m)\b", " ", plain).replace("'", "")


def as_said(words: str) -> str:
    """Return a piece of a sentence as it can be shown: without the mark that stands for two ticks in a row."""
    return words.replace(_GAPPED, _GAP_AS_SAID)


def words_of(text: str) -> list[str]:
    """Return the plain words of a text, with durations, times of day and rates as tokens."""
    return list(_words_of(text))


# Each saying is read by the phrasebook, the index of sayings, the talk that tells nothing, and the names of causes.
@lru_cache(maxsize=8192)
def _words_of(text: str) -> tuple[str, ...]:
    words = _WORD.findall(re.sub(r"(?<=[a-z])-(?=[a-z])", " ", _plain(text)))
    return tuple(_with_times(_with_durations(words)))


def _number(words: list[str], at: int) -> tuple[float, int] | None:
    """Return the number that begins at a place and how many words it takes."""
    word = words[at]
    if word[0].isdigit():
        return float(word), 1
    if word not in NUMBERS:
        return None
    value, taken = NUMBERS[word], 1
    following = NUMBERS.get(words[at + 1]) if at + 1 < len(words) else None
    if following is not None and value >= 20 and following < 10:
        return value + following, 2
    return value, taken


def _duration(words: list[str], at: int) -> tuple[float, int] | None:
    """Return the seconds of a duration that begins at a place and how many words it takes."""
    for pattern, seconds in _FRACTIONS:
        if tuple(words[at : at + len(pattern)]) == pattern:
            return seconds, len(pattern)
    value, end = 1.0, at
    found = _number(words, at)
    if found is not None:
        value, end = found[0], at + found[1]
        if words[end : end + 1] in (["to"], ["or"]) and end + 1 < len(words):
            second = _number(words, end + 1)
            if second is not None:
                end += 1 + second[1]
        while words[end : end + 1] and words[end] in {
            "a",
            "an",
            "of",
            "good",
            "full",
            "odd",
            "whole",
            "more",
            "or",
            "so",
        }:
            end += 1
    elif words[at] in {"a", "an"} and at + 1 < len(words) and words[at - 1 : at] not in (["on"], ["wait"], ["just"]):
        end = at + 1
    elif words[at] not in _PLURALS or not at or words[at - 1] not in _BEFORE_MANY:
        return None
    else:
        value = _MANY
    if end >= len(words) or words[end] not in _UNITS_S or words[end + 1 : end + 2] in (["hand"], ["hands"]):
        return None
    seconds = value * _UNITS_S[words[end]]
    if words[end + 1 : end + 4] == ["and", "a", "half"]:
        return seconds + _UNITS_S[words[end]] / 2, end + 4 - at
    return seconds, end + 1 - at


_FRACTIONS = (
    (("three", "quarters", "of", "an", "hour"), 2700.0),
    (("a", "quarter", "of", "an", "hour"), 900.0),
    (("quarter", "of", "an", "hour"), 900.0),
    (("half", "an", "hour"), 1800.0),
    (("half", "hour"), 1800.0),
    (("half", "a", "minute"), 30.0),
    (("half", "a", "day"), 12 * HOUR_S),
    (("fortnight",), 14 * DAY_S),
)


def name_of_run(seconds: float) -> str:
    """Return the mark of a run of so many seconds, such as `#minutes`; the marks are the values of `runs-for`."""
    for below, name in _RUNS:
        if seconds < below or (name == "#minutes" and seconds <= below):
            return name
    return "#days" if seconds <= _RUNS_DAYS_S else _name_of_years(seconds / (365 * DAY_S))


def _name_of_years(years: float) -> str:
    for below, name in _YEARS:
        if years < below:
            return name
    return "#years-many"


def _period_s(words: list[str], skip: tuple[int, int]) -> float | None:
    """Return the period of "a day", "every week" or "by the weekend" outside a stretch of words."""
    for at, word in enumerate(words):
        if word not in _PERIODS_S or skip[0] <= at < skip[1]:
            continue
        if word.endswith("ly") or (at and words[at - 1] in _PER) or word == "weekend":
            return _PERIODS_S[word]
    return None


def _with_durations(words: list[str]) -> list[str]:
    found: list[str] = []
    at = 0
    is_rate = bool(_SIGNED & set(words))
    while at < len(words):
        duration = _duration(words, at)
        if duration is None:
            found.append(words[at])
            at += 1
            continue
        seconds, taken = duration
        period_s = _period_s(words, (at, at + taken)) if is_rate and seconds < DAY_S else None
        plain_period = words[at] in {"a", "an"} and seconds in {HOUR_S, DAY_S, 7 * DAY_S} and is_rate
        if period_s is not None:
            a_day_s = seconds * DAY_S / period_s
            found.append(
                "#rate-some" if _KEEPS_S < a_day_s <= _SOME_S else "#rate-much" if a_day_s > _SOME_S else "#rate-little"
            )
        elif plain_period and period_s is None and at and any(part.startswith("#rate") for part in found):
            found.append("#per")
        else:
            found.append(name_of_run(seconds))
        at += taken
    return found


def _with_times(words: list[str]) -> list[str]:
    """Put `#past`, `#before-hour` and `#near-one` for times of day."""
    found: list[str] = []
    at = 0
    while at < len(words):
        word = words[at]
        following = words[at + 1 : at + 3]
        is_number = word[0].isdigit() or word in NUMBERS or word == "quarter"
        if is_number and following[:1] in (["past"], ["after"]):
            found.append(
                "#near-one" if following[1:] in (["twelve"], ["one"]) and word in {"half", "five", "ten"} else "#past"
            )
            at += 2
        elif is_number and following[:1] in (["to"], ["before"]) and word not in {"one", "two", "half"}:
            found.append("#near-one" if following[1:] == ["one"] else "#before-hour" if word != "quarter" else "#past")
            at += 3 if following[1:] == ["one"] else 2
        elif word == "one" and following[:1] in (["oclock"], ["o"]):
            found.append("#near-one")
            at += 2
        else:
            found.append(word)
            at += 1
    return found


def letters_of(words: Iterable[str]) -> Iterator[str]:
    """Yield each four letters in a row of each word that is not a small one, with its beginning and its end marked."""
    for word in words:
        if word in SMALL_WORDS:
            continue
        whole = f"^{word}$"
        for start in range(len(whole) - _LETTERS_IN_A_ROW + 1):
            yield f"letters {whole[start : start + _LETTERS_IN_A_ROW]}"


def stem_of(word: str) -> str:
    """Return the stem of a word, all negations as one."""
    if word.startswith("#"):
        return word
    if word in _NEGATIONS:
        return NOT
    if word in _WHOLE:
        return word
    for suffix in _SUFFIXES:
        if word.endswith(suffix) and len(word) - len(suffix) >= _LEAST_STEM:
            word = word[: -len(suffix)]
            break
    if len(word) > _LEAST_STEM and word[-1] == word[-2] and word[-1] not in "sl":
        word = word[:-1]
    return word[:-1] if len(word) > _LEAST_STEM and word[-1] in "ey" else word


def tokens_of(words: list[str], classes: Classes) -> list[str]:
    """Return the tokens of meaning of some words: classes, stems and marks; small words are left out."""
    stems = [stem_of(word) for word in words]
    found: list[str] = []
    at = 0
    while at < len(stems):
        row = next(
            (row for row in classes.rows.get(stems[at], ()) if tuple(stems[at : at + len(row[0])]) == row[0]), None
        )
        if row is not None:
            if row[1] != NOT_MEANT:
                found.append(row[1])
            at += len(row[0])
            continue
        if stems[at] in classes.single:
            found.append(classes.single[stems[at]])
        elif words[at] not in SMALL_WORDS and (len(stems[at]) > 1 or stems[at] == "#") and not words[at][0].isdigit():
            found.append(stems[at])
        at += 1
    return found
