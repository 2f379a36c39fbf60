"""Beat error and rate from numbered beats, each with a standard uncertainty, or a named reason why not."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.beats import Beats, Quality, WheelTurn, refused
from diagnose.measurement.figures.fitting import Fit, fit_beats
from diagnose.measurement.figures.judging import judge, one_side_only, train_warnings
from diagnose.measurement.figures.named_results import EVEN_KINDS, Refusal
from diagnose.measurement.figures.sample_clock import UNCALIBRATED, SampleClock
from diagnose.measurement.hearing.sides import EarlySide, Side, early_side, find_first_tick
from diagnose.measurement.hearing.ticks import Ticks
from diagnose.measurement.noticing.notice import notice, wheel_of
from diagnose.measurement.noticing.noticed import UNSETTLED
from diagnose.measurement.noticing.wheel import Wheel
from diagnose.mechanics.train import nearest_train

SECONDS_PER_HOUR = 3600.0
SECONDS_PER_DAY = 86_400.0
SAMPLE_CLOCK = UNCALIBRATED.share
_MS = 1e3
_PERCENT = 100.0
_SETTLING_S = 4.0
_SETTLED_SWINGS = 8
_RIVAL_CHANCE = 0.1
"""Chance that the rival impact is the drop after all."""
_GOOD_PERCENT, _FAIR_PERCENT = 0.5, 1.5
_GOOD_BEATS, _FAIR_BEATS = 20, 8
_GOOD_SHARE = 0.85
_SIDE_SIGMAS, _SIDE_PERCENT = 2.0, 0.3
"""Below these a beat is too nearly even to name a side: it might be the wrong one, and nobody would turn a screw."""
TWO_IMPACTS = "Two impacts compete for the drop of the tooth"
_ONE_SIDE = (
    "All beats sound the same. Perhaps only one beat of each swing is heard, and the clock beats twice as often; so no "
    "beat error is given. Say the beats per hour of its train, or move the phone to the other side of the movement."
)


def measure_beats(
    ticks: Ticks,
    nominal: float | None = None,
    first_side: Side | None = None,
    sample_clock: SampleClock = UNCALIBRATED,
) -> Beats:
    """Return beat and rate of a clock from its numbered beats.

    Parameters
    ----------
    ticks : Ticks
        What was heard.
    nominal : float, optional
        Beats per hour of the train; without it the nearest common train is proposed and marked as a guess [1/h].
    first_side : str, optional
        The side the bob was drawn to, until it ticked, and let go from: "left" or "right", facing the dial.
    sample_clock : SampleClock
        How true the recorder counts time, where that was found out.
    """
    if ticks.refusal is not None:
        return refused(ticks.refusal, ticks.warnings)
    one_kind = ticks.swing is not None and ticks.swing.audible < 2
    used = _settled(ticks, first_side)
    fit = fit_beats(ticks.times_s[used], ticks.numbers[used], ticks.sigmas_s[used], ticks.segments[used], one_kind)
    refusal = judge(ticks, fit, nominal, first_side is not None)
    if refusal is not None or fit is None:
        return _refused(ticks, fit, refusal, sample_clock) if refusal is not None else Beats()
    found = _figures(ticks, fit, nominal, one_kind, sample_clock)
    if ticks.swing is not None and ticks.swing.nominal_ignored:
        found = replace(found, quality="poor")
    found = found.with_warnings(*train_warnings(ticks, fit, first_side is not None))
    listened = _only(ticks, used)
    wheel = wheel_of(listened)
    found = replace(found, noticed=notice(listened, fit.period_s, None, wheel), wheel=_turn(wheel))
    if found.quality == "good" and any(one.kind in UNSETTLED for one in found.noticed):
        found = replace(found, quality="fair")
    return found if first_side is None or one_kind else _with_side(found, ticks, fit, first_side)


def _refused(ticks: Ticks, fit: Fit | None, refusal: Refusal, sample_clock: SampleClock) -> Beats:
    """Return that there is no figure, with what is known of the ticks all the same."""
    found = replace(
        refused(refusal, ticks.warnings),
        times_s=tuple(float(time) for time in ticks.times_s),
        noticed=notice(ticks, fit.period_s if fit else 0.0, refusal.name),
    )
    if fit is None or refusal.name not in EVEN_KINDS:
        return found
    per_hour = SECONDS_PER_HOUR / fit.period_s * sample_clock.factor
    unsure = per_hour * float(np.hypot(fit.period_sigma_s / fit.period_s, sample_clock.share))
    return replace(found, beats_per_hour=per_hour, uncertainty={**found.uncertainty, "beats_per_hour": unsure})


def _turn(wheel: Wheel | None) -> WheelTurn | None:
    """Return one turn of the escape wheel as it is kept with a result; None where no error of it is heard."""
    if wheel is None or not wheel.found or wheel.teeth is None or not len(wheel.deviations_s):
        return None
    bad = wheel.bad_tooth
    return WheelTurn(
        wheel.teeth,
        tuple(round(_MS * float(late), 4) for late in wheel.deviations_s),
        round(_MS * float(np.sqrt(np.mean(np.square(wheel.deviations_sigma_s)))), 4),
        None if bad is None else bad.tooth,
        None if bad is None else round(_MS * bad.late_s, 4),
    )


def _settled(ticks: Ticks, first_side: Side | None) -> NDArray[np.bool_]:
    """Return which beats are fitted: where the bob was let go in the recording, not the first seconds."""
    every = np.ones(len(ticks.times_s), bool)
    if first_side is None or not len(ticks.times_s):
        return every
    later = ticks.times_s >= ticks.times_s[0] + _SETTLING_S
    return later if later.sum() >= 2 * _SETTLED_SWINGS else every


def _only(ticks: Ticks, used: NDArray[np.bool_]) -> Ticks:
    """Return what was heard with some of the beats only."""
    columns = ("times_s", "numbers", "strength", "loudness", "sigmas_s", "segments", "sameness")
    return replace(ticks, **{name: getattr(ticks, name)[used] for name in columns})


def _figures(ticks: Ticks, fit: Fit, nominal: float | None, one_kind: bool, sample_clock: SampleClock) -> Beats:
    """Return the figures of a fit, the side still unknown."""
    per_hour = SECONDS_PER_HOUR / fit.period_s * sample_clock.factor
    ignored = ticks.swing is not None and ticks.swing.nominal_ignored
    given = nominal if not ignored else None
    train = given if given is not None else nearest_train(per_hour)
    share = fit.period_sigma_s / fit.period_s
    rate = None if train is None else SECONDS_PER_DAY * (per_hour / train - 1.0)
    timing, clock = SECONDS_PER_DAY * share, SECONDS_PER_DAY * sample_clock.share
    found = Beats(
        beats=int(fit.kept.sum()),
        beats_per_hour=per_hour,
        nominal_beats_per_hour=train,
        nominal_guessed=given is None and train is not None,
        rate_s_per_day=rate,
        times_s=tuple(float(time) for time in ticks.times_s),
        numbers=tuple(int(number) for number in ticks.numbers),
        warnings=ticks.warnings,
        uncertainty={
            "beats_per_hour": per_hour * float(np.hypot(share, sample_clock.share)),
            "rate_s_per_day": None if rate is None else float(np.hypot(timing, clock)),
            "beat_error_ms": None,
            "beat_error_percent": None,
        },
        terms={"rate_timing": timing, "rate_sample_clock": clock},
        seconds=ticks.seconds,
        loud_s=tuple((float(start), float(end)) for start, end in ticks.loud_s),
        mean_ticks=ticks.mean_ticks,
    )
    if one_kind:
        return replace(found, quality="poor")
    if one_side_only(ticks, fit):
        return replace(found, quality="poor").with_warnings(_ONE_SIDE)
    return _with_evenness(found, ticks, fit)


def _with_evenness(found: Beats, ticks: Ticks, fit: Fit) -> Beats:
    """Return the figures with the beat error, without a sign."""
    timing_ms = _MS * 2.0 * fit.half_sigma_s
    instant_ms = _MS * ticks.reference_s
    error_ms = _MS * 2.0 * abs(fit.half_s)
    per_ms = _PERCENT / (_MS * fit.period_s)
    # A rival moves the odd beats by so much: the even interval becomes longer by it and the odd one shorter.
    by_rivals_s = [2.0 * fit.half_s + rival_s for rival_s in ticks.rivals_s]
    rivals_ms = [abs(_MS * by_rival_s) for by_rival_s in by_rivals_s]
    doubt_ms = _rival_doubt(error_ms, rivals_ms)
    sigma_ms = float(np.sqrt(timing_ms**2 + instant_ms**2 + doubt_ms**2))
    uncertainty = {**found.uncertainty, "beat_error_ms": sigma_ms, "beat_error_percent": sigma_ms * per_ms}
    rivals_percent = tuple(round(rival * per_ms, 2) for rival in rivals_ms)
    warnings = found.warnings
    if rivals_percent:
        told = " or ".join(f"{rival:.1f} %" for rival in rivals_percent)
        warnings = (
            *warnings,
            f"{TWO_IMPACTS}: the beat error is {error_ms * per_ms:.1f} % by the "
            f"first strong one, {told} by another. Record again with the phone in another place, or judge by ear.",
        )
    return replace(
        found,
        beat_error_ms=error_ms,
        beat_error_percent=error_ms * per_ms,
        longer="even" if fit.half_s >= 0 else "odd",
        uncertainty=uncertainty,
        rivals_percent=rivals_percent,
        rivals_turned=tuple((by_rival_s >= 0) != (fit.half_s >= 0) for by_rival_s in by_rivals_s),
        warnings=warnings,
        terms={**found.terms, "beat_error_timing_ms": timing_ms, "beat_error_instant_ms": instant_ms},
        quality=_quality(found.beats, ticks, sigma_ms * per_ms, bool(rivals_percent)),
    )


def _rival_doubt(error_ms: float, rivals_ms: list[float]) -> float:
    """Return the standard deviation that the chance of another impact adds to the beat error [ms]."""
    if not rivals_ms:
        return 0.0
    farthest = max(abs(rival - error_ms) for rival in rivals_ms)
    return float(np.sqrt(_RIVAL_CHANCE * (1.0 - _RIVAL_CHANCE))) * farthest


def _quality(beats: int, ticks: Ticks, sigma_percent: float, rivals: bool) -> Quality:
    """Return one word for how far the measurement can be relied on."""
    share = len(ticks.numbers) / (int(ticks.numbers[-1]) + 1)
    if beats >= _GOOD_BEATS and sigma_percent <= _GOOD_PERCENT and share >= _GOOD_SHARE and not rivals:
        return "good"
    if beats >= _FAIR_BEATS and sigma_percent <= _FAIR_PERCENT:
        return "fair"
    return "poor"


def _with_side(found: Beats, ticks: Ticks, fit: Fit, first_side: Side) -> Beats:
    """Return the figures with the early side and the sign that goes with it, or the reason why not."""
    first = find_first_tick(ticks.times_s, ticks.numbers, ticks.segments, ticks.sounds_s, fit.period_s)
    if first.number is None:
        return found.with_warnings(f"Which side comes early is not known: {first.reason}.")
    error, doubt = found.beat_error_ms, found.uncertainty["beat_error_ms"]
    if error is None or doubt is None:
        return found
    if error < _SIDE_SIGMAS * doubt or abs(found.beat_error_percent or 0.0) < _SIDE_PERCENT:
        return found.with_warnings("The beat is too nearly even to say which side comes early.")
    side: EarlySide = early_side(first_side, first.number, fit.half_s >= 0)
    sign = 1.0 if side == "right" else -1.0
    percent = found.beat_error_percent
    told = () if not first.reason else (f"Take the side with care: {first.reason}.",)
    return replace(
        found,
        early_side=side,
        beat_error_ms=sign * error,
        beat_error_percent=None if percent is None else sign * percent,
        warnings=(*found.warnings, *told),
    )
