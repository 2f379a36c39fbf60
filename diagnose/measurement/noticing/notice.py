"""What else a recording tells: odd beats, a dying swing, a strike, another clock, the turns of the wheels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.stability import steadiness
from diagnose.measurement.hearing.ticks import Ticks
from diagnose.measurement.noticing import fading, noticed
from diagnose.measurement.noticing.blows import find_blows
from diagnose.measurement.noticing.noticed import Noticed
from diagnose.measurement.noticing.odd_beats import (
    CLEAR_STRENGTH,
    chance_clicks,
    doubled_beats,
    missed_beats,
    second_knock,
    share_at_one_lag,
)
from diagnose.measurement.noticing.slow_wheel import find_slow_cycle
from diagnose.measurement.noticing.wheel import COMMON_TEETH, LEAST_TURNS, Wheel, find_wheel
from diagnose.measurement.noticing.wheel_evidence import BEATS_PER_TOOTH, turn_columns

Floats = NDArray[np.float64]

_MS = 1e3
_SURE, _LIKELY, _PERHAPS = 0.95, 0.85, 0.7
"""Chances given to what is plain, to what has a rarer other reason, and to what has a common one (estimate-2026-11)."""
_LEAST_BEATS = 8
_MOST_MISSED = 0.3
_ENOUGH_BEATS = 20
"""In fewer a pause of the recording itself looks like missing ticks."""
_TIMES_CHANCE = 4.0
_ONE_LAG_SHARE = 0.75
"""Second clicks so much alike are the second impact of the tick, faint enough to be missed in most beats."""
_LEAST_DOUBLED, _LEAST_DOUBLED_SHARE, _MOST_DOUBLED_SHARE = 3, 0.01, 0.6
_LEAST_CHANGE_PERCENT = 0.5
_MOST_WHEEL_BEATS = 1200
"""Of a longer recording the last so many beats are searched for the escape wheel: twenty turns of thirty teeth."""
_STEADY_TURNS = 5.0
_WANTED_TURNS = 5.0
_MINUTE_S = 60.0
_SWELL_SHARE = 0.5
_LEAST_VARIANCE = 1e-18
_SHOWN_TAUS_S = (10.0, 60.0, 300.0)


def wheel_of(ticks: Ticks) -> Wheel | None:
    """Return what the last beats of a recording tell of the escape wheel, or None where there are too few."""
    if len(ticks.times_s) < _LEAST_BEATS:
        return None
    rows = slice(max(len(ticks.times_s) - _MOST_WHEEL_BEATS, 0), None)
    return find_wheel(ticks.times_s[rows], ticks.numbers[rows], ticks.sigmas_s[rows], ticks.segments[rows])


def notice(
    ticks: Ticks, period_s: float, refused: str | None = None, wheel: Wheel | None = None
) -> tuple[Noticed, ...]:
    """Return what else is noticed in a recording.

    Parameters
    ----------
    ticks : Ticks
        What was heard.
    period_s : float
        Period of a beat [s].
    refused : str, optional
        Name of the reason why the recording gives no figure.
    wheel : Wheel, optional
        What is heard of the escape wheel, where `wheel_of` has been asked already.
    """
    found = [*_other_kinds(ticks, refused)]
    if len(ticks.times_s) < _LEAST_BEATS or refused is not None:
        return tuple(found)
    found += _odd_beats(ticks, period_s)
    found += _swing(ticks, period_s)
    found += _loud(ticks)
    wheel = wheel or wheel_of(ticks)
    found += _turns(ticks, period_s, wheel)
    found += _steady(ticks, wheel)
    return tuple(found)


def _other_kinds(ticks: Ticks, refused: str | None) -> list[Noticed]:
    """Return another clock in the room, or another kind of clock."""
    if refused == named_results.ONE_A_SECOND:
        return [Noticed(noticed.ONE_A_SECOND, _LIKELY)]
    if refused == named_results.BALANCE:
        return [Noticed(noticed.BALANCE, _SURE)]
    if ticks.second is None:
        return []
    return [Noticed(noticed.TWO_CLOCKS, _SURE, {"per_hour": ticks.second.beats_per_hour})]


def _odd_beats(ticks: Ticks, period_s: float) -> list[Noticed]:
    """Return beats that are missing, beats that click twice, a second knock in each swing."""
    found: list[Noticed] = []
    whole = int(ticks.numbers[-1]) + 1
    missed = missed_beats(ticks.times_s, ticks.numbers, ticks.segments, ticks.loud_s)
    clear = float(np.median(ticks.strength)) >= CLEAR_STRENGTH
    if whole >= _ENOUGH_BEATS and clear and 0 < len(missed) < _MOST_MISSED * whole:
        found.append(Noticed(noticed.MISSED, _LIKELY, {"missed": len(missed), "beats": whole}))
    clicks_s = ticks.clicks_s
    twice = doubled_beats(ticks.times_s, ticks.numbers, clicks_s, period_s)
    doubled = int(np.count_nonzero(twice))
    alike = share_at_one_lag(ticks.times_s, ticks.numbers, clicks_s, period_s, twice)
    share = doubled / len(ticks.times_s)
    by_chance = chance_clicks(ticks.times_s, clicks_s, period_s)
    plain = doubled >= _LEAST_DOUBLED + _TIMES_CHANCE * by_chance and alike < _ONE_LAG_SHARE
    if clear and plain and _LEAST_DOUBLED_SHARE <= share <= _MOST_DOUBLED_SHARE:
        found.append(Noticed(noticed.DOUBLED, _PERHAPS, {"doubled": doubled, "beats": len(ticks.times_s)}))
    knock = second_knock(ticks.times_s, ticks.numbers, clicks_s, period_s)
    if knock is not None and clear:
        found.append(Noticed(noticed.SECOND_KNOCK, _LIKELY, {"lag_ms": _MS * knock[0]}))
    return found


def _swing(ticks: Ticks, period_s: float) -> list[Noticed]:
    """Return a swing that dies or ends, and a beat that changes."""
    found: list[Noticed] = []
    fall = fading.loudness_fall(ticks.times_s, ticks.numbers, ticks.loudness)
    change = fading.beat_change(ticks.times_s, ticks.numbers, ticks.segments)
    ended_s = fading.ended_at(ticks.times_s, ticks.seconds, period_s, ticks.loud_s)
    plain = fall is not None and fall.plain
    slower = plain and fading.rate_changes(ticks.times_s, ticks.numbers, ticks.segments)
    dying = plain and (slower or (change is not None and change.grows))
    if ended_s is not None:
        kind = noticed.DIED_AWAY if plain else noticed.STOPPED
        found.append(Noticed(kind, _SURE if dying else _PERHAPS, {"at_s": ended_s}))
    elif fall is not None and fall.plain:
        figures = {"fall_db": fall.fall_db, "tenth_minutes": fall.tenth_s / _MINUTE_S}
        found.append(Noticed(noticed.DYING if dying else noticed.FADING, _SURE if dying else _PERHAPS, figures))
    if change is not None and change.sure and not dying:
        apart = abs(change.last_percent - change.first_percent)
        if apart > _LEAST_CHANGE_PERCENT:
            figures = {"first_percent": abs(change.first_percent), "last_percent": abs(change.last_percent)}
            found.append(Noticed(noticed.BEAT_CHANGES, _LIKELY, figures))
    return found


def _loud(ticks: Ticks) -> list[Noticed]:
    """Return a strike, or whatever else is louder than the clock."""
    blows = find_blows(ticks.sounds_s, ticks.times_s, ticks.loud_s)
    if blows is not None:
        figures = {"blows": blows.count, "from_s": blows.times_s[0], "interval_s": blows.interval_s}
        return [Noticed(noticed.STRIKE, _LIKELY, figures)]
    return [Noticed(noticed.LOUD, _SURE, {"from_s": float(start), "to_s": float(end)}) for start, end in ticks.loud_s]


def _turns(ticks: Ticks, period_s: float, wheel: Wheel | None) -> list[Noticed]:
    """Return what comes back once a turn of the escape wheel or of a slower one."""
    if wheel is None:
        return []
    rows = slice(max(len(ticks.times_s) - _MOST_WHEEL_BEATS, 0), None)
    numbers, segments = ticks.numbers[rows], ticks.segments[rows]
    found = _of_escape_wheel(wheel, ticks.seconds, period_s)
    if not wheel.found and wheel.turns >= LEAST_TURNS:
        level_db = 20.0 * np.log10(np.maximum(ticks.loudness[rows], 1e-4))
        loud = find_wheel(level_db, numbers, None, segments)
        if loud.found and loud.teeth is not None:
            figures = {"beats": BEATS_PER_TOOTH * loud.teeth, "teeth": loud.teeth, "turns": loud.turns}
            found = [Noticed(noticed.TURN, _PERHAPS, {**figures, "amplitude_ms": 0.0, "doubt_ms": 0.0})]
    also = turn_columns(ticks.numbers, BEATS_PER_TOOTH * wheel.teeth) if wheel.teeth is not None else None
    slow = find_slow_cycle(ticks.times_s, ticks.numbers, ticks.sigmas_s, ticks.segments, also=also)
    if slow is not None:
        figures = {"minutes": slow.period_beats * period_s / _MINUTE_S, "amplitude_ms": _MS * slow.amplitude_s}
        found.append(Noticed(noticed.SLOW_TURN, _LIKELY, figures))
    return found


def _of_escape_wheel(wheel: Wheel, seconds: float, period_s: float) -> list[Noticed]:
    """Return what is told of the escape wheel."""
    turn_s = BEATS_PER_TOOTH * COMMON_TEETH * period_s
    if not wheel.found or wheel.teeth is None:
        if wheel.turns >= _STEADY_TURNS:
            return [Noticed(noticed.NO_TURN, _LIKELY, {"turns": wheel.turns})]
        if wheel.turns < LEAST_TURNS:
            figures = {"turns": wheel.turns, "minutes": _WANTED_TURNS * turn_s / _MINUTE_S, "heard_s": seconds}
            return [Noticed(noticed.SHORT_TURN, _SURE, figures)]
        return []
    figures = {
        "teeth": float(wheel.teeth),
        "beats": float(BEATS_PER_TOOTH * wheel.teeth),
        "turns": wheel.turns,
        "amplitude_ms": _MS * wheel.amplitude_s,
        "doubt_ms": _MS * wheel.amplitude_sigma_s,
    }
    if wheel.bad_tooth is not None:
        bad = wheel.bad_tooth
        # Ticks are counted from 1; 0 where it is out at one tick of the turn only.
        ticks = {"tick": bad.beat + 1.0, "also_tick": 0.0 if bad.also_beat is None else bad.also_beat + 1.0}
        named = {"tooth": float(bad.tooth), "late_ms": _MS * bad.late_s, **ticks}
        return [Noticed(noticed.TOOTH, min(_SURE, bad.chance), {**figures, **named})]
    varied = float(np.mean(np.square(wheel.deviations_s)))
    own = max(varied - float(np.mean(np.square(wheel.deviations_sigma_s))), _LEAST_VARIANCE)
    # A wave of amplitude A has the variance A^2 / 2: does one wave make up most of what the turn shows?
    if max(wheel.amplitude_s, wheel.breathing_s) ** 2 / 2.0 < _SWELL_SHARE * own:
        return [Noticed(noticed.TURN, _LIKELY, figures)]
    if wheel.breathing_s > wheel.amplitude_s:
        return [Noticed(noticed.BREATHING, _LIKELY, {**figures, "breathing_ms": _MS * wheel.breathing_s})]
    return [Noticed(noticed.SWELL, _LIKELY, figures)]


def _steady(ticks: Ticks, wheel: Wheel | None) -> list[Noticed]:
    """Return how steadily the clock goes over the times a person thinks in, an error of its escape wheel taken out."""
    times_s = ticks.times_s
    if wheel is not None and len(wheel.deviations_s):
        times_s = times_s - wheel.deviations_s[ticks.numbers % len(wheel.deviations_s)]
    told = steadiness(times_s, ticks.numbers, ticks.segments)
    if told is None:
        return []
    shown = [tau for tau in _SHOWN_TAUS_S if tau <= max(told.tau_s[-1], _SHOWN_TAUS_S[0])]
    rates = [float(np.interp(np.log(tau), np.log(told.tau_s), told.rate_s_per_day)) for tau in shown]
    each = {f"rate_over_{tau:.0f}_s": rate for tau, rate in zip(shown, rates, strict=True)}
    figures = {"seconds": shown[-1], "rate": rates[-1], **each}
    return [Noticed(f"{noticed.STEADINESS}-{told.kind}", _LIKELY, figures)]
