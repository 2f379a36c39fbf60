"""How the next act of regulating is said, to staff and to a customer; the phrases stand in the knowledge files."""

from __future__ import annotations

from diagnose.coaching.time_task import MINUTES_ON_A_DIAL, NutSize, TimeAdvice
from diagnose.mechanics.comparing import minutes_a_week
from diagnose.model.wording import Wording

HALF = MINUTES_ON_A_DIAL // 2
TOLD_PLACE = 0.05
"""A rate below this many minutes a week is not told as gaining or losing."""


def time_lines(advice: TimeAdvice, wording: Wording) -> list[str]:
    """Return what is known of the rate, and the one next act, a line each.

    Parameters
    ----------
    advice : TimeAdvice
        From `next_turn`.
    wording : Wording
        For staff or a customer.
    """
    lines = [*_rate(advice, wording)]
    if wording.reader == "staff" and advice.per_turn is not None:
        turn, unsure = f"{advice.per_turn:.0f}", f"{advice.per_turn_uncertainty or 0:.0f}"
        lines.append(wording.say("time-learned", turn=turn, unsure=unsure))
    if advice.other_way:
        lines.append(wording.say("time-other-way"))
    if advice.turns is not None and advice.size is not None:
        return [*lines, *_turn(advice, advice.size, wording)]
    return [*lines, *_without_turn(advice, wording)]


def _rate(advice: TimeAdvice, wording: Wording) -> list[str]:
    if advice.rate is None:
        return []
    week = minutes_a_week(advice.rate)
    if abs(week) < TOLD_PLACE:
        return []
    word = "time-gains" if week > 0 else "time-loses"
    minutes = f"{abs(week):.1f}" if wording.reader == "staff" or abs(week) < 1 else f"{abs(week):.0f}"
    unsure = max(advice.uncertainty or 0.0, TOLD_PLACE)
    return [wording.say(word, minutes=minutes, rate=f"{advice.rate:+.1f}", unsure=f"{unsure:.1f}")]


def _turn(advice: TimeAdvice, size: NutSize, wording: Wording) -> list[str]:
    way = "up" if (advice.turns or 0) > 0 else "down"
    ordinary = [wording.say("time-ordinary")] if advice.kind == "offer" else []
    act = wording.say("time-turn-up" if way == "up" else "time-turn-down", size=size_text(size, wording))
    return [
        *ordinary,
        act,
        wording.say("time-turn-other-nut"),
        wording.say("time-afterward-1" if advice.days == 1 else "time-afterward", days=advice.days),
    ]


def _without_turn(advice: TimeAdvice, wording: Wording) -> list[str]:
    if advice.kind == "compare-again":
        key = "time-compare-again-1" if advice.days == 1 else "time-compare-again"
        lines = [wording.say(key, days=advice.days)]
        if advice.again_at is not None:
            lines.append(wording.say("time-compare-again-at", when=f"{advice.again_at:%Y-%m-%d %H:%M}"))
        return [*lines, *_record(advice, wording)]
    if advice.kind == "compare-first":
        return [wording.say("time-compare-first"), *_record(advice, wording)]
    change = advice.length_change_mm or 0.0
    fill = {
        "heat": f"{advice.heat or 0:+.1f}",
        "length": f"{abs(change):.1f}",
        "longer": wording.say("time-longer" if change > 0 else "time-shorter"),
    }
    return [wording.say(f"time-{advice.kind}", **fill)]


def _record(advice: TimeAdvice, wording: Wording) -> list[str]:
    return [wording.say("time-or-a-recording")] if advice.record else []


def size_text(size: NutSize, wording: Wording) -> str:
    """Return how far to turn, in words."""
    if size.dial_minutes == HALF:
        return wording.say("time-size-half")
    if size.dial_minutes:
        return wording.say("time-size-minutes", minutes=size.dial_minutes)
    return wording.say("time-size-turns", turns=size.text)
