"""Sentences for while something is heard: how far so many seconds reach, how far a file was heard, what taps say."""

from __future__ import annotations

import math
from typing import Any

from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.incoming.taps import LEAST_TAPS, more_taps_help
from diagnose.model.wording import Wording
from diagnose.reports.summary import RATE_TOLD_S_PER_DAY, TENTHS, beats_text

# Twice a standard uncertainty holds the truth in about 95 of 100.
TWICE = 2.0
# So long a clock that can be heard at all gives a figure.
LONG_ENOUGH_S = 15.0
PERCENT = 100.0
# Seconds a day that one part in a million is: 86 400 / 10^6.
PER_PPM = 0.0864


def reach_text(beats: dict[str, Any], seconds: float, wording: Wording) -> str:
    """Return how far a recording of this length reaches: what it can tell within what, and what it cannot.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it.
    seconds : float
        Length of the sound [s].
    wording : Wording
        Speaks to staff or to a customer.
    """
    length = f"{seconds:.0f}"
    if beats.get("refused") and seconds >= LONG_ENOUGH_S:
        return wording.say("reach-refused", seconds=length, reason=beats["refused"])
    if beats.get("refused") or beats.get("beats_per_hour") is None:
        return wording.say("reach-nothing", seconds=length)
    unsure = beats.get("uncertainty", {})
    percent, rate = unsure.get("beat_error_percent"), unsure.get("rate_s_per_day")
    if percent is None:
        return wording.say("reach-no-beat", seconds=length)
    within = f"{math.ceil(TWICE * percent * TENTHS) / TENTHS:.1f}"
    if not _rate_reaches(beats):
        return wording.say("reach-beat", seconds=length, percent=within)
    return wording.say("reach-both", seconds=length, percent=within, rate=f"{math.ceil(TWICE * rate)}")


def running_text(beats: dict[str, Any], seconds: float, wording: Wording) -> list[str]:
    """Return what is told while a clock is still being heard: how far it reaches, the beat, the rate where it does.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it.
    seconds : float
        Length of the sound [s].
    wording : Wording
        Speaks to staff or to a customer.
    """
    reach = reach_text(beats, seconds, wording)
    if beats.get("refused"):
        return [reach]
    told = {**beats, "warnings": [], "noticed": []}
    if not _rate_reaches(beats):
        told["rate_s_per_day"] = None
    return [reach, *beats_text(told, wording)]


def _rate_reaches(beats: dict[str, Any]) -> bool:
    """Return whether the rate is known well enough, and against a train that somebody gave, to be told."""
    rate = beats.get("uncertainty", {}).get("rate_s_per_day")
    return rate is not None and not beats.get("nominal_guessed") and rate <= RATE_TOLD_S_PER_DAY


def progress_text(done_s: float, promised_s: float, wording: Wording) -> str:
    """Return how far a recording has been heard: of how much, where its file says how long it is."""
    done = _minutes(done_s)
    if promised_s <= 0:
        return wording.say("progress-so-far", done=done)
    percent = min(PERCENT * done_s / promised_s, PERCENT)
    return wording.say("progress-of", done=done, all=_minutes(promised_s), percent=f"{percent:.0f}")


def _minutes(seconds: float) -> str:
    """Return a length as minutes and seconds, such as 2:05."""
    whole = int(seconds)
    return f"{whole // 60}:{whole % 60:02d}"


def taps_text(count: int, beats: Beats | None, wording: Wording) -> str:
    """Return what so many taps say, and whether to go on.

    Parameters
    ----------
    count : int
        Taps so far.
    beats : Beats, optional
        What they say; None where they say nothing yet.
    wording : Wording
        Speaks to staff or to a customer.
    """
    if count < LEAST_TAPS:
        return wording.say("taps-few", count=count, least=LEAST_TAPS)
    if beats is None or beats.beat_error_percent is None:
        return wording.say("taps-not-even", count=count)
    within = math.ceil(TWICE * (beats.uncertainty["beat_error_percent"] or 0.0))
    percent = f"{abs(beats.beat_error_percent):.0f}"
    return wording.say(
        f"taps-{'go-on' if more_taps_help(beats) else 'enough'}", count=count, percent=percent, unsure=within
    )


def calibration_figures(ppm: float, sigma_ppm: float) -> dict[str, str]:
    """Return how far a phone counts too many, in the figures that are shown: parts in a million, and seconds a day.

    Parameters
    ----------
    ppm, sigma_ppm : float
        By how much its clock counts too many, and the standard uncertainty of that [ppm].
    """
    return {
        "ppm": f"{ppm:+.1f}",
        "unsure": f"{sigma_ppm:.1f}",
        "seconds_a_day": f"{-ppm * PER_PPM:+.2f}",
        "unsure_a_day": f"{sigma_ppm * PER_PPM:.2f}",
    }
