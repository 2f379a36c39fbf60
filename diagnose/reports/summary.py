"""Sentences and groups that terminal, page, report and sheet share."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

from diagnose.mechanics.fit import FitAnswer
from diagnose.mechanics.measuring import chance_text
from diagnose.model.quantities import show_length
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reports.noticed_lines import noticed_lines
from diagnose.reports.remarks import refusal_lines, remarks

# Common practice, no source: under 3 % of the swing is good, under 5 % acceptable.
GOOD_PERCENT, ACCEPTABLE_PERCENT = 3.0, 5.0
TENTHS = 10
TWICE = 2
# A rate known no better than this says less than a look at the hands after a day.
RATE_TOLD_S_PER_DAY = 60.0
DAYS_A_WEEK, SECONDS_A_MINUTE = 7, 60


def grouped(result: dict[str, Any], knowledge: Knowledge) -> Iterator[tuple[str, list[dict[str, Any]]]]:
    """Yield the parts of the clock with their causes; the part with the likeliest cause first."""
    by_part: dict[str, list[dict[str, Any]]] = {}
    for cause in result["causes"]:
        by_part.setdefault(cause["subsystem"], []).append(cause)
    yield from sorted(by_part.items(), key=lambda item: -max(cause["probability"] for cause in item[1]))


def beats_text(beats: dict[str, Any], wording: Wording) -> list[str]:
    """Return what a recording says, line by line.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff or to a customer.
    """
    if beats.get("refused"):
        return refusal_lines(beats, wording)
    lines = [*_beat_error(beats, wording), *_rate(beats, wording)]
    return [*lines, *noticed_lines(beats, wording), *remarks(beats, wording)]


def _beat_error(beats: dict[str, Any], wording: Wording) -> list[str]:
    percent = beats.get("beat_error_percent")
    if percent is None:
        return []
    percent = abs(percent)
    unsure = beats.get("uncertainty", {}).get("beat_error_percent")
    key = "beat-even" if percent < GOOD_PERCENT else "beat-nearly" if percent < ACCEPTABLE_PERCENT else "beat-uneven"
    # Rounded up, so that no beat is shown as known without an error.
    shown = f"{math.ceil(unsure * TENTHS) / TENTHS:.1f}" if unsure is not None else "?"
    lines = [wording.say(key, split=beats.get("split"), percent=f"{percent:.1f}", unsure=shown)]
    if percent >= GOOD_PERCENT:
        lines.append(wording.say(f"early-{beats.get('early_side', 'unknown')}"))
    return lines


def _rate(beats: dict[str, Any], wording: Wording) -> list[str]:
    lines = [wording.say("beats-per-hour", bph=f"{beats['beats_per_hour']:.0f}")]
    rate = beats.get("rate_s_per_day")
    if rate is None:
        return lines
    if beats.get("nominal_guessed"):
        lines.append(wording.say("nominal-guess", nominal=f"{beats['nominal_beats_per_hour']:.0f}"))
    unsure = beats.get("uncertainty", {}).get("rate_s_per_day")
    if unsure is not None and unsure > RATE_TOLD_S_PER_DAY:
        return [*lines, wording.say("rate-not-told", unsure=f"{unsure:.0f}")]
    week = abs(rate) * DAYS_A_WEEK / SECONDS_A_MINUTE
    within = _minutes_a_week(unsure) if unsure else "?"
    if wording.reader == "customer" and unsure and abs(rate) <= unsure:
        return [*lines, wording.say("rate-right", within=_minutes_a_week(TWICE * unsure))]
    word = wording.say("rate-gains" if rate > 0 else "rate-loses")
    lines.append(
        wording.say(
            "rate-known",
            rate=f"{rate:+.0f}",
            unsure=f"{unsure:.0f}" if unsure else "?",
            week=f"{week:.1f}",
            within=within,
            word=word,
        )
    )
    return lines


def _minutes_a_week(s_per_day: float) -> str:
    """Return an error in minutes a week, rounded up."""
    return f"{math.ceil(s_per_day * DAYS_A_WEEK / SECONDS_A_MINUTE * TENTHS) / TENTHS:.1f}"


def fit_lines(answer: FitAnswer, wording: Wording) -> list[str]:
    """Return what two measurements say: the answer, what would settle it, what not to do."""
    chance = "" if answer.goes_in is None else wording.say("fit-chance", chance=chance_text(answer.goes_in))
    lines = [wording.say(f"fit-{answer.answer}", chance=chance).strip()]
    if answer.play_mm is not None:
        lines.append(wording.say("fit-play", play=show_length(answer.play_mm)))
    if answer.taper is not None:
        lines.append(wording.say(f"fit-slot-{answer.taper}"))
    if answer.rate_s_per_day is not None:
        lines.append(wording.say("fit-rate", rate=f"{answer.rate_s_per_day:+.0f}"))
    lines.append(wording.say(f"fit-settle-{answer.settle}"))
    lines.append(wording.say(f"fit-never-{answer.never}"))
    return lines
