"""Drops of a clock from figures: beats an hour, beat error, rate, scatter, wheel errors, silent and double beats.

The simulated clock gives drops by the motion of its pendulum; here they are laid down as asked, so that a bench knows
each figure exactly. Signs as everywhere: a positive beat error means that the right side comes early.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import SECONDS_PER_DAY, SECONDS_PER_HOUR
from diagnose.training.ticking import LEFT, RIGHT, Ticking
from diagnose.training.wheelwork import Wheelwork

_PERCENT = 100.0
_KEPT_FREE_S = 0.15
"""No drop is laid closer to the end of a recording."""
_ALWAYS_HEARD = 2
"""The first and last beats sound, so that the count of silent ones is no matter of definition."""


@dataclass(frozen=True, slots=True)
class DropPlan:
    """What a clock is to do.

    Parameters
    ----------
    beats_per_hour : float
        Beats per hour of its train [1/h].
    beat_error_percent : float
        Beat error, + right early [percent of the swing].
    rate_s_per_day : float
        Rate, + gains [s/day].
    seconds : float
        Length of the run [s].
    first_s : float or None
        When the first drop comes; drawn within a beat where None [s].
    jitter_s, walk_s : float
        Spread of each tick by itself, and of each beat, which adds up [s].
    wheels : Wheelwork
        Errors of the wheels.
    silent_share, doubled_share : float
        Chance that a beat is not heard, and that a second impact follows it [1].
    doubled_after_s : tuple of float
        Shortest and longest time from a drop to its double [s].
    """

    beats_per_hour: float = 3600.0
    beat_error_percent: float = 0.0
    rate_s_per_day: float = 0.0
    seconds: float = 40.0
    first_s: float | None = None
    jitter_s: float = 1.5e-4
    walk_s: float = 2e-5
    wheels: Wheelwork = field(default_factory=Wheelwork)
    silent_share: float = 0.0
    doubled_share: float = 0.0
    doubled_after_s: tuple[float, float] = (0.015, 0.060)

    def __post_init__(self) -> None:
        if self.beats_per_hour <= 0 or self.seconds <= 0 or not abs(self.beat_error_percent) < _PERCENT:
            raise UsageError(
                f"{self.beats_per_hour:g} beats an hour, {self.beat_error_percent:g} % out, for {self.seconds:g} s",
                do="Give more than 0 beats and seconds, and a beat error below 100 %",
            )

    @property
    def beat_s(self) -> float:
        """Mean time from drop to drop [s]."""
        return SECONDS_PER_HOUR / self.beats_per_hour / (1 + self.rate_s_per_day / SECONDS_PER_DAY)


def balance_wheel(seconds: float = 40.0, beats_per_hour: float = 18_000.0) -> DropPlan:
    """Return what a clock with a balance wheel does: fast, and a little out of beat.

    Parameters
    ----------
    seconds : float
        Length of the run [s].
    beats_per_hour : float
        Beats per hour [1/h].
    """
    return DropPlan(beats_per_hour, 1.0, seconds=seconds, jitter_s=5e-5)


def one_a_second(seconds: float = 40.0) -> DropPlan:
    """Return what a battery clock does that steps once a second; heard with `Scene.alike`.

    Parameters
    ----------
    seconds : float
        Length of the run [s].
    """
    return DropPlan(SECONDS_PER_HOUR, 0.0, seconds=seconds, jitter_s=2e-5, walk_s=0.0)


def lay_drops(plan: DropPlan, seed: int) -> Ticking:
    """Return the drops of a plan; the first is on the right.

    Parameters
    ----------
    plan : DropPlan
        What the clock is to do.
    seed : int
        Seed of all scatter.
    """
    random = np.random.default_rng([seed, 1])
    first_s = _KEPT_FREE_S + random.uniform(0, plan.beat_s) if plan.first_s is None else plan.first_s
    count = max(int((plan.seconds - _KEPT_FREE_S - first_s) / plan.beat_s) + 1, 0)
    number = np.arange(count)
    sides = np.where(number % 2 == 0, RIGHT, LEFT).astype(np.int8)
    early_s = plan.beat_error_percent / _PERCENT * plan.beat_s / 2
    jitter = random.normal(0, 1, count) * plan.jitter_s
    walk = np.cumsum(random.normal(0, 1, count)) * plan.walk_s
    times = first_s + number * plan.beat_s - sides * early_s + jitter + walk + plan.wheels.lateness_s(number)
    silent = _drawn(count, plan.silent_share, random)
    return Ticking(
        times,
        sides,
        np.ones(count),
        plan.seconds,
        plan.beats_per_hour,
        None,
        None,
        silent,
        _doubles(times, silent, plan, random),
        number,
        plan.wheels,
    )


def _drawn(count: int, share: float, random: np.random.Generator) -> NDArray[np.bool_]:
    drawn = random.random(count) < share
    drawn[:_ALWAYS_HEARD] = False
    drawn[count - min(count, _ALWAYS_HEARD) :] = False
    return np.asarray(drawn)


def _doubles(
    times: NDArray[np.float64], silent: NDArray[np.bool_], plan: DropPlan, random: np.random.Generator
) -> NDArray[np.float64]:
    """Return the instants of the second impacts, not a number where there is none."""
    doubled = (random.random(times.size) < plan.doubled_share) & ~silent
    after = random.uniform(*plan.doubled_after_s, times.size)
    return np.where(doubled, times + after, np.nan)
