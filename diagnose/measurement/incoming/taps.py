"""Beats without a microphone: tapped on a key, or counted by ear."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import InputError
from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.fitting import Fit, fit_beats
from diagnose.measurement.hearing.sides import Side, early_side
from diagnose.mechanics.train import nearest_train

TAP_SIGMA_S = 0.025
"""How far a practiced hand taps beside a regular beat, a standard deviation (estimate)."""
HAND_BIAS_S = 0.010
"""How much one hand or finger may lag on every second beat; more taps do not lessen it (estimate)."""
COUNT_SIGMA = 0.5
"""A count of beats is wrong by half a beat at each end (estimate)."""
STOPWATCH_SIGMA_S = 0.2
"""A thumb on a stopwatch, start and stop together (estimate)."""
LEAST_TAPS = 8
_LEAST_ENOUGH = 20
"""Fewer taps may seem surer than they are: a hand that was steady by chance."""
_SECONDS_PER_HOUR, _SECONDS_PER_DAY = 3600.0, 86_400.0
_MS, _PERCENT = 1e3, 100.0
_LONGEST_BEAT_S = 3.0
_MOST_A_SECOND = 5.0
_SKIPPED_FROM = 1.6
_DOUBLE_BELOW = 0.35
_GUESS_SIGMAS, _GUESS_LEAST = 3.0, 0.01


def beats_from_taps(times_s: Sequence[float], nominal: float | None = None, first_side: Side | None = None) -> Beats:
    """Return beat and rate from times at which a key was tapped, one tap for each tick.

    Parameters
    ----------
    times_s : sequence of float
        Times of the taps, in order [s].
    nominal : float, optional
        Beats per hour of the train [1/h].
    first_side : str, optional
        The side the bob was drawn to and let go from, "left" or "right", facing the dial; the first tap is the first
        tick after that.

    Raises
    ------
    InputError
        There are fewer than 8 taps, they are not in order, or they are no even train.
    """
    taps = np.asarray(times_s, dtype=float)
    _check_taps(taps)
    kept, numbers = _number_taps(taps)
    sigmas = np.full(len(kept), TAP_SIGMA_S)
    fit = fit_beats(kept, numbers, sigmas, np.zeros(len(kept), np.intp))
    if fit is None or fit.period_s > _LONGEST_BEAT_S:
        raise InputError(
            f"{len(taps)} taps are no even train of beats", "", "Tap once for each tick, left and right alike"
        )
    left_out = len(taps) - int(fit.kept.sum())
    warnings = () if not left_out else (f"{left_out} of {len(taps)} taps were left out as slips.",)
    return _with_tapped_side(_tapped(fit, kept, numbers, nominal, warnings), fit, first_side)


def tapped_so_far(
    times_s: Sequence[float], nominal: float | None = None, first_side: Side | None = None
) -> Beats | None:
    """Return what the taps say so far, or None while they say nothing; see `beats_from_taps`.

    Parameters
    ----------
    times_s : sequence of float
        Times of the taps, in order [s].
    nominal : float, optional
        Beats per hour of the train [1/h].
    first_side : str, optional
        The side of the first tap.
    """
    try:
        return beats_from_taps(times_s, nominal, first_side)
    except InputError:
        return None


def more_taps_help(beats: Beats) -> bool:
    """Return whether further taps would make the beat error surer: until their scatter is less than a hand may lag.

    Parameters
    ----------
    beats : Beats
        What the taps say so far.
    """
    surer = beats.terms["beat_error_timing_ms"] > beats.terms["beat_error_instant_ms"]
    return surer or beats.beats < _LEAST_ENOUGH


def _check_taps(taps: NDArray[np.float64]) -> None:
    """Raise where taps cannot be used."""
    if len(taps) < LEAST_TAPS:
        raise InputError(
            f"there are {len(taps)} taps", "", f"At least {LEAST_TAPS} are needed; 40 give a useful figure"
        )
    if not np.all(np.isfinite(taps)):
        raise InputError("a tap has no time", "", "Give every time as a number")
    back = np.flatnonzero(np.diff(taps) <= 0)
    if len(back):
        raise InputError(
            f"tap {back[0] + 2} at {taps[back[0] + 1]:g} s does not come after the one before it",
            "",
            "Give the times in order",
        )


def _number_taps(taps: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.intp]]:
    """Return the taps without bounced keys, and their beat numbers with the skipped beats counted."""
    usual = float(np.median(np.diff(taps)))
    kept = [float(taps[0])]
    for tap in taps[1:]:
        if tap - kept[-1] >= _DOUBLE_BELOW * usual:
            kept.append(float(tap))
    clean = np.array(kept)
    pairs = np.diff(clean)
    usual = float(np.median(pairs))
    steps = np.where(pairs > _SKIPPED_FROM * usual, np.round(pairs / usual), 1.0)
    return clean, np.concatenate([[0], np.cumsum(steps)]).astype(np.intp)


def _tapped(
    fit: Fit,
    times_s: NDArray[np.float64],
    numbers: NDArray[np.intp],
    nominal: float | None,
    warnings: tuple[str, ...],
) -> Beats:
    """Return the figures of tapped beats, the side still unknown."""
    per_hour = _SECONDS_PER_HOUR / fit.period_s
    share = fit.period_sigma_s / fit.period_s
    train, guessed = _train(per_hour, share, nominal)
    rate = None if train is None else _SECONDS_PER_DAY * (per_hour / train - 1.0)
    error_ms = _MS * 2.0 * abs(fit.half_s)
    sigma_ms = _MS * float(np.hypot(2.0 * fit.half_sigma_s, HAND_BIAS_S))
    per_ms = _PERCENT / (_MS * fit.period_s)
    return Beats(
        beats=int(fit.kept.sum()),
        beats_per_hour=per_hour,
        nominal_beats_per_hour=train,
        nominal_guessed=guessed,
        rate_s_per_day=rate,
        beat_error_ms=error_ms,
        beat_error_percent=error_ms * per_ms,
        longer="even" if fit.half_s >= 0 else "odd",
        uncertainty={
            "beats_per_hour": per_hour * share,
            "rate_s_per_day": None if rate is None else _SECONDS_PER_DAY * share,
            "beat_error_ms": sigma_ms,
            "beat_error_percent": sigma_ms * per_ms,
        },
        times_s=tuple(float(time) for time in times_s),
        numbers=tuple(int(number) for number in numbers),
        quality="poor",
        warnings=(*warnings, "Tapped by hand: a hand may lag on every second beat. A recording is ten times finer."),
        terms={
            "rate_timing": _SECONDS_PER_DAY * share,
            "beat_error_timing_ms": _MS * 2.0 * fit.half_sigma_s,
            "beat_error_instant_ms": _MS * HAND_BIAS_S,
        },
        tool="tapped",
    )


def _train(per_hour: float, share: float, nominal: float | None) -> tuple[float | None, bool]:
    """Return the train, and whether it is a guess; none where the beat is not known well enough to guess."""
    if nominal is not None:
        return nominal, False
    train = nearest_train(per_hour)
    if train is None or abs(train / per_hour - 1.0) > max(_GUESS_SIGMAS * share, _GUESS_LEAST):
        return None, False
    return train, True


def _with_tapped_side(found: Beats, fit: Fit, first_side: Side | None) -> Beats:
    """Return the figures with the early side, where the side of the first tap is known."""
    error, doubt, percent = found.beat_error_ms, found.uncertainty["beat_error_ms"], found.beat_error_percent
    if first_side is None or error is None or doubt is None or percent is None:
        return found
    if error < doubt:
        return found.with_warnings("The beat is too nearly even to say which side comes early.")
    side = early_side(first_side, 0, fit.half_s >= 0)
    sign = 1.0 if side == "right" else -1.0
    return replace(found, early_side=side, beat_error_ms=sign * error, beat_error_percent=sign * percent)


def beats_from_count(beats: float, seconds: float, nominal: float | None = None) -> Beats:
    """Return beats per hour and rate from beats counted in a time; a count says nothing of the beat error.

    Parameters
    ----------
    beats : float
        Beats counted, both sides.
    seconds : float
        In this time [s].
    nominal : float, optional
        Beats per hour of the train [1/h].

    Raises
    ------
    InputError
        The count or the time is not positive, or no pendulum beats like that.
    """
    if not (np.isfinite(beats) and np.isfinite(seconds) and beats > 0 and seconds > 0):
        raise InputError(f"{beats:g} beats in {seconds:g} s cannot be", "", "Both must be greater than 0")
    period_s = seconds / beats
    if not 1.0 / _MOST_A_SECOND <= period_s <= _LONGEST_BEAT_S:
        raise InputError(
            f"{beats:g} beats in {seconds:g} s is no pendulum",
            "",
            f"A pendulum beats between once in {_LONGEST_BEAT_S:g} s and {_MOST_A_SECOND:g} times in a second",
        )
    share = float(np.hypot(COUNT_SIGMA / beats, STOPWATCH_SIGMA_S / seconds))
    per_hour = _SECONDS_PER_HOUR / period_s
    train, guessed = _train(per_hour, share, nominal)
    rate = None if train is None else _SECONDS_PER_DAY * (per_hour / train - 1.0)
    return Beats(
        beats=int(beats),
        beats_per_hour=per_hour,
        nominal_beats_per_hour=train,
        nominal_guessed=guessed,
        rate_s_per_day=rate,
        uncertainty={
            "beats_per_hour": per_hour * share,
            "rate_s_per_day": None if rate is None else _SECONDS_PER_DAY * share,
            "beat_error_ms": None,
            "beat_error_percent": None,
        },
        quality="poor",
        warnings=("Counted by ear: this shows which train it is, not how even the beat is.",),
        terms={} if rate is None else {"rate_timing": _SECONDS_PER_DAY * share},
        tool="counted",
    )
