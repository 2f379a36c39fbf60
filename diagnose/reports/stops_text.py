"""What logged stop times say, in lines to print, as plain values, and as the ground a case keeps."""

from __future__ import annotations

from typing import Any

from diagnose.mechanics.stop_patterns import HALF_DAY_MIN, WEEK_DAYS, Pattern
from diagnose.mechanics.stop_times import PatternFit, StopAnswer
from diagnose.mechanics.train import MINUTES_PER_HOUR
from diagnose.model.wording import Wording

PERCENT = 100
OTHERS_SHOWN, LEAST_OTHER = 2, 0.05
BY_MINUTE = ("minute-hand", "before-hour", "quarters")
BY_TIME = ("near-one", "dial-time", "time-of-day")
SECONDS = 60


def stop_lines(answer: StopAnswer, wording: Wording) -> list[str]:
    """Return what stop times say; the first line is the answer.

    Parameters
    ----------
    answer : StopAnswer
        From `explain_stops`.
    wording : Wording
        For staff or a customer, who sees the first two lines only.
    """
    best = answer.best
    if answer.verdict != "pattern" or best is None:
        return _without_pattern(answer, wording)
    lines = [wording.say("stops-found", part=part(best.pattern, wording))]
    lines += [text for text in (_place(best, wording),) if text]
    if wording.reader == "customer":
        return lines
    lines.append(
        wording.say("stops-chances", chance=wording.in_ten(best.chance), alarm=f"{PERCENT * answer.false_alarm:.2g}")
    )
    if best.pattern.period_min and best.pattern.kind != "week":
        period = _span(best.pattern.period_min)
        lines.append(wording.say("stops-period", period=period, together=f"{best.together:.2f}"))
    lines.append(wording.say(f"stops-look-{best.pattern.part}"))
    for fit in answer.fits[1 : 1 + OTHERS_SHOWN]:
        if fit.chance >= LEAST_OTHER:
            chance = wording.in_ten(fit.chance)
            lines.append(wording.say("stops-instead", part=part(fit.pattern, wording), chance=chance))
    if best.pattern.name.endswith("-dial"):
        lines.append(wording.say("stops-set-hands"))
    return [*lines, *_limits(answer, wording)]


def _without_pattern(answer: StopAnswer, wording: Wording) -> list[str]:
    count = len(answer.stops)
    if answer.verdict == "none":
        return [wording.say("stops-none", count=count), *_limits(answer, wording)]
    lines = [wording.say("stops-cannot-tell", count=count, more=answer.more)]
    if wording.reader == "customer":
        return lines
    if answer.best is not None and answer.best.chance >= LEAST_OTHER:
        lines.append(wording.say("stops-best-so-far", part=part(answer.best.pattern, wording)))
    return [*lines, *_limits(answer, wording)]


def _limits(answer: StopAnswer, wording: Wording) -> list[str]:
    """Return what could not be told from these times, and why."""
    if wording.reader == "customer":
        return []
    lines = []
    if answer.too_short:
        parts = ", ".join(dict.fromkeys(part(item, wording) for item in answer.too_short))
        lines.append(wording.say("stops-too-short", read=f"{answer.read_to_min:g}", parts=parts))
    missing = answer.missing if answer.verdict != "pattern" else ()
    return lines + [wording.say(f"stops-missing-{name}") for name in missing]


def part(pattern: Pattern, wording: Wording) -> str:
    """Return the wheel, hand or habit of a pattern in words that follow "it stops"."""
    return wording.say(f"stops-part-{pattern.part}")


def _place(fit: PatternFit, wording: Wording) -> str:
    pattern = fit.pattern
    if pattern.kind == "week":
        return wording.say(f"stops-at-weekday-{round(fit.place) % WEEK_DAYS}")
    if pattern.part == "same-run":
        return wording.say("stops-at-run", run=_span(fit.place))
    if pattern.part in BY_MINUTE and pattern.period_min == MINUTES_PER_HOUR:
        return wording.say("stops-at-minute", minute=f"{round(fit.place) % MINUTES_PER_HOUR:02d}")
    if pattern.part in BY_TIME:
        return wording.say("stops-at-time", time=_clock(fit.place, pattern.period_min))
    return ""


def _clock(minutes: float, period: float) -> str:
    whole = round(minutes) % round(period)
    hour = whole // MINUTES_PER_HOUR
    if period == HALF_DAY_MIN:
        hour = hour or 12
    return f"{hour}:{whole % MINUTES_PER_HOUR:02d}"


def _span(minutes: float) -> str:
    """Return a time as "65 min 27 s" or "3 h 20 min"."""
    if minutes < 2 * MINUTES_PER_HOUR:
        whole, seconds = divmod(round(minutes * SECONDS), SECONDS)
        return f"{whole} min {seconds} s" if seconds else f"{whole} min"
    hours, rest = divmod(round(minutes), MINUTES_PER_HOUR)
    return f"{hours} h {rest} min" if rest else f"{hours} h"


def stop_dict(answer: StopAnswer) -> dict[str, Any]:
    """Return what stop times say as plain values."""
    return {
        "times": [stop.given for stop in answer.stops],
        "verdict": answer.verdict,
        "false_alarm": round(answer.false_alarm, 5),
        "more_to_note": answer.more,
        "read_to_min": answer.read_to_min,
        "patterns": [
            {
                "part": fit.pattern.part,
                "told_by": fit.pattern.kind,
                "period_min": round(fit.pattern.period_min, 4),
                "chance": round(fit.chance, 4),
                "factor": float(f"{fit.factor:.4g}"),
                "place": round(fit.place, 2),
                "together": round(fit.together, 4),
                "times": fit.stops,
            }
            for fit in answer.fits
        ],
        "too_short": [item.part for item in answer.too_short],
        "missing": list(answer.missing),
        "likelihoods": {name: dict(shares) for name, shares in answer.likelihoods.items()},
    }
