"""Times of the beats of a clock whose escape wheel has errors, for the tests of what repeats; no sound is made."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BEAT_S = 0.5


@dataclass(frozen=True, slots=True)
class TurningClock:
    """What the clock does; errors in ms, the beat error as |t1 - t2| / 2."""

    beats: int = 300
    error_ms: float = 2.0
    jitter_ms: float = 0.15
    walk_ms: float = 0.02
    teeth: int = 30
    wheel_ms: float = 0.0
    scatter_of_teeth_ms: float = 0.0
    bad_ms: float = 0.0
    bad_tooth: int = 1
    bad_beats: tuple[int, ...] = (0, 1)
    phase: float | None = None
    silent: float = 0.0
    slow_ms: float = 0.0
    slow_beats: float = 450.0


def beats_of(clock: TurningClock, seed: int) -> tuple[NDArray[np.float64], NDArray[np.intp], NDArray[np.float64]]:
    """Return times [s] and numbers of the beats that are heard, and the wheel's error at each beat of a turn [s].

    The bad tooth is counted from the first beat as tooth 1; `bad_beats` says at which beats it errs, from its
    drop on the pallet of the first beat: (0, 15) on both pallets of an anchor that spans 7 1/2 teeth.
    """
    random = np.random.default_rng([seed, 11])
    number = np.arange(clock.beats)
    turn = 2 * clock.teeth
    phase = random.uniform(0, 2 * np.pi) if clock.phase is None else clock.phase
    place = np.arange(turn)
    error_s = 1e-3 * clock.wheel_ms * np.sin(2 * np.pi * place / turn + phase)
    error_s = error_s + 1e-3 * clock.scatter_of_teeth_ms * random.normal(0, 1, turn)
    bad = (2 * (clock.bad_tooth - 1) + np.array(clock.bad_beats)) % turn
    error_s[bad] += 1e-3 * clock.bad_ms
    side = np.where(number % 2, 1.0, -1.0)
    times = 1.0 + number * BEAT_S + side * 1e-3 * clock.error_ms / 2 + error_s[number % turn]
    times = times + 1e-3 * clock.slow_ms * np.sin(2 * np.pi * number / clock.slow_beats + 1.0)
    times = times + np.cumsum(random.normal(0, 1e-3 * clock.walk_ms, clock.beats))
    times = times + random.normal(0, 1e-3 * clock.jitter_ms, clock.beats)
    heard = random.random(clock.beats) >= clock.silent
    heard[0] = True
    return times[heard], number[heard], error_s
