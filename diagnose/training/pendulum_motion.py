"""The motion of a driven, damped pendulum from tick to tick, exact between the points where the push changes.

All in natural units: angles in radians, time in units of the pendulum's small free swing (its angular
frequency is 1). Between two such points the push of the escapement is a constant torque, which only shifts
the place of rest; damping is linear, so that each stretch has a closed form. The width of the swing slows
each stretch by the circular error.

A recoil escapement pushes all the time, toward the side of the next tick. A deadbeat one rests on its
locking faces after a tick and pushes from shortly before dead center to the next tick.

References
----------
.. [1] G. B. Airy, "On the disturbances of pendulums and balances", Trans. Camb. Phil. Soc. 3 (1830).
.. [2] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 34, 77-93.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

from diagnose.mechanics.pendulum import circular_error

NEWTON_STEPS = 12
ENOUGH = 1e-14


@dataclass(frozen=True, slots=True)
class Escapement:
    """How a clock pushes its pendulum.

    Parameters
    ----------
    drop : float
        Angle at which a tooth drops, when in beat [rad].
    lift_from : float
        The push begins at this angle before dead center; for a recoil escapement it never ends [rad].
    recoil : bool
        Whether it pushes after the drop too.
    push : float
        How far the push alone would shift the place of rest [rad].
    quality : float
        Quality factor of the swing: energy over energy lost per radian [1].
    """

    drop: float
    lift_from: float
    recoil: bool
    push: float
    quality: float


@dataclass(frozen=True, slots=True)
class Moment:
    """A place in the motion, seen so that the pendulum heads to the positive side.

    Parameters
    ----------
    angle, speed : float
        Angle from rest and its rate [rad], [rad per unit of time].
    after : float
        Time since the last moment [units of time].
    """

    angle: float
    speed: float
    after: float


def width_factor(angle: float, speed: float) -> float:
    """Return by how much the width of the swing slows the motion, from any moment in it.

    Parameters
    ----------
    angle, speed : float
        Angle and its rate [rad], [rad per unit of time].
    """
    return _width_factor(round(math.hypot(angle, speed), 6))


@lru_cache(maxsize=4096)
def _width_factor(semi_arc: float) -> float:
    return 1 + circular_error(math.degrees(semi_arc))


def reach(angle: float, speed: float, rest: float, quality: float, target: float) -> Moment | None:
    """Return the moment at which the pendulum, going up, first passes an angle; None if it never does.

    Parameters
    ----------
    angle, speed : float
        Where it starts: at or before the turn on the negative side, or on its way up.
    rest : float
        Place of rest under the push [rad].
    quality : float
        Quality factor [1].
    target : float
        The angle to pass [rad].
    """
    decay = 1 / (2 * quality)
    pace = math.sqrt(1 - decay**2)
    start = angle - rest
    side = (speed + decay * start) / pace
    width, phase = math.hypot(start, side), math.atan2(start, side)
    peak_phase = math.atan2(pace, decay)
    if phase > peak_phase:  # past the top, heading back: the turn on the negative side comes first
        phase -= 2 * math.pi
    level = target - rest
    peak_time = (peak_phase - phase) / pace
    if width * math.exp(-decay * peak_time) * math.sin(peak_phase) <= level:
        return None
    time = _crossing(width, phase, decay, pace, level, peak_time)
    fade = width * math.exp(-decay * time)
    at = phase + pace * time
    up = fade * (pace * math.cos(at) - decay * math.sin(at))
    return Moment(target, up, time * (width_factor(start, speed) + width_factor(level, up)) / 2)


def _crossing(width: float, phase: float, decay: float, pace: float, level: float, peak_time: float) -> float:
    """Return the time at which the swing passes a level on its way up, by bisection guarding Newton."""
    trough_time = max(0.0, peak_time - math.pi / pace)
    low, high = trough_time, peak_time
    time = (math.asin(max(-1.0, min(1.0, level / width))) - phase) / pace
    for _ in range(NEWTON_STEPS):
        if not low <= time <= high:
            time = (low + high) / 2
        fade = width * math.exp(-decay * time)
        sine, cosine = math.sin(phase + pace * time), math.cos(phase + pace * time)
        over = fade * sine - level
        low, high = (low, time) if over > 0 else (time, high)
        slope = fade * (pace * cosine - decay * sine)
        step = over / slope if slope > 0 else math.inf
        time -= step
        if abs(step) < ENOUGH:
            break
    return time


def turn(angle: float, speed: float, rest: float, quality: float) -> Moment:
    """Return the moment at which a pendulum on its way up comes to its turn.

    Parameters
    ----------
    angle, speed, rest, quality : float
        As in `reach`.
    """
    decay = 1 / (2 * quality)
    pace = math.sqrt(1 - decay**2)
    start = angle - rest
    side = (speed + decay * start) / pace
    width, phase = math.hypot(start, side), math.atan2(start, side)
    time = (math.atan2(pace, decay) - phase) / pace
    top = rest + width * math.exp(-decay * time) * math.sin(math.atan2(pace, decay))
    return Moment(top, 0.0, time * (width_factor(start, speed) + width_factor(top - rest, 0.0)) / 2)


def next_tick(angle: float, speed: float, offset: float, escapement: Escapement) -> Moment | None:
    """Return the next tick on the positive side; None if the pendulum does not reach it.

    Parameters
    ----------
    angle, speed : float
        Where it is: just after the tick on the negative side, or let go from beyond it.
    offset : float
        How much sooner than `escapement.drop` the tick on this side comes [rad].
    escapement : Escapement
        How it is pushed.
    """
    tick_at = escapement.drop - offset
    if escapement.recoil:
        return reach(angle, speed, escapement.push, escapement.quality, tick_at)
    lift = reach(angle, speed, 0.0, escapement.quality, -escapement.lift_from - offset)
    if lift is None:
        return None
    tick = reach(lift.angle, lift.speed, escapement.push, escapement.quality, tick_at)
    return None if tick is None else Moment(tick.angle, tick.speed, lift.after + tick.after)


def overswing_turn(tick: Moment, escapement: Escapement) -> Moment:
    """Return the turn that follows a tick.

    Parameters
    ----------
    tick : Moment
        The tick, from `next_tick`.
    escapement : Escapement
        How it is pushed: a recoil escapement pushes back at once.
    """
    rest = -escapement.push if escapement.recoil else 0.0
    return turn(tick.angle, tick.speed, rest, escapement.quality)


def push_for(swing: float, escapement: Escapement) -> float:
    """Return the push that just keeps a swing going, in beat.

    Parameters
    ----------
    swing : float
        Semi-arc to be kept [rad].
    escapement : Escapement
        All but its `push`, which is left out of account.

    Notes
    -----
    Started from the balance of energy, swing^2 pi / (2 Q) = push (lift_from + drop), and made exact by the
    secant method on the motion itself.
    """
    lift = 2 * escapement.drop if escapement.recoil else escapement.lift_from + escapement.drop
    first = swing**2 * math.pi / (2 * escapement.quality * lift)
    guesses = [first, first * 1.01]
    errors = [_growth(swing, guess, escapement) for guess in guesses]
    for _ in range(8):
        if errors[-1] == errors[-2]:
            break
        better = guesses[-1] - errors[-1] * (guesses[-1] - guesses[-2]) / (errors[-1] - errors[-2])
        guesses.append(better)
        errors.append(_growth(swing, better, escapement))
        if abs(errors[-1]) < ENOUGH:
            break
    return guesses[-1]


def _growth(swing: float, push: float, escapement: Escapement) -> float:
    """Return by how much the swing grows from one turn to the next, in beat."""
    pushed = replace(escapement, push=push)
    tick = next_tick(-swing, 0.0, 0.0, pushed)
    return -swing if tick is None else overswing_turn(tick, pushed).angle - swing


def beat_in(swing: float, escapement: Escapement) -> float:
    """Return the time from tick to tick at a steady swing, in beat [units of time].

    Parameters
    ----------
    swing : float
        Semi-arc [rad].
    escapement : Escapement
        How it is pushed.
    """
    tick = next_tick(-swing, 0.0, 0.0, escapement)
    following = None if tick is None else next_tick(-tick.angle, -tick.speed, 0.0, escapement)
    return math.nan if following is None else following.after
