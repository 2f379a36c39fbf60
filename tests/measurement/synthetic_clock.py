"""Synthetic clock sounds with exactly known drops, for the tests of hearing.

A beat is one to three impacts; an impact is a handful of short chirps under a smooth rise and fall, drawn once for tick
and once for tock, a little changed from beat to beat. Everything is evaluated at exact times, so no drop lies on the
grid of samples. The definition of SNR: mean power in the 20 ms after a drop over the power of the noise, in the band.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

BEAT_S = 0.07
POWER_S = 0.02


@dataclass(frozen=True, slots=True)
class Clock:
    """What a synthetic clock does; percent and ms by the definition of the project."""

    beats_per_hour: float = 7200.0
    beat_error_percent: float = 0.0
    rate_s_per_day: float = 0.0
    seconds: float = 20.0
    jitter_ms: float = 0.15
    walk_ms: float = 0.02
    snr_db: float = 20.0
    rate_hz: int = 44_100
    missing: float = 0.0
    doubles: float = 0.0
    late_impact: float = 0.4
    fade_db: float = 0.0
    first_s: float = 0.4
    tock_db: float = -2.0
    same_kind: bool = False


@dataclass(frozen=True, slots=True)
class Sound:
    """A synthetic recording and the truth about it."""

    samples: NDArray[np.float64]
    rate_hz: float
    drops_s: NDArray[np.float64]
    sounding: NDArray[np.bool_]
    clock: Clock

    @property
    def heard_drops_s(self) -> NDArray[np.float64]:
        return self.drops_s[self.sounding]


def drop_times(clock: Clock, rng: np.random.Generator) -> NDArray[np.float64]:
    """Return the drops of a clock; the intervals that begin on even beats are the longer for a + beat error."""
    beat_s = 3600.0 / clock.beats_per_hour / (1.0 + clock.rate_s_per_day / 86_400.0)
    count = int((clock.seconds - clock.first_s - 0.1) / beat_s)
    number = np.arange(count)
    half_s = beat_s * clock.beat_error_percent / 100.0 / 2.0
    side = np.where(number % 2 == 0, -1.0, 1.0)
    walk_s = np.cumsum(rng.normal(0.0, clock.walk_ms * 1e-3, count))
    jitter_s = rng.normal(0.0, clock.jitter_ms * 1e-3, count)
    return clock.first_s + number * beat_s + side * half_s + walk_s + jitter_s


def sound_of(clock: Clock, seed: int = 0, drops_s: NDArray[np.float64] | None = None) -> Sound:
    """Return the sound of a clock, or of given drops."""
    rng = np.random.default_rng([seed, 71])
    drops = drop_times(clock, rng) if drops_s is None else drops_s
    kinds = [Pulse(rng, clock), Pulse(rng, clock)]
    if clock.same_kind:
        kinds[1] = kinds[0]
    samples = np.zeros(round(clock.seconds * clock.rate_hz))
    sounding = rng.random(len(drops)) >= clock.missing
    sounding[:2] = True
    power = []
    for number, drop_s in enumerate(drops):
        if not sounding[number]:
            continue
        level_db = rng.normal(0.0, 1.0) - clock.fade_db * number / max(len(drops), 1)
        level_db += clock.tock_db if number % 2 and not clock.same_kind else 0.0
        gain = 10.0 ** (level_db / 20.0)
        kinds[number % 2].add_to(samples, clock.rate_hz, drop_s, gain, rng)
        first = int(drop_s * clock.rate_hz)
        power.append(np.mean(np.square(samples[first : first + round(POWER_S * clock.rate_hz)])))
        if rng.random() < clock.doubles:
            kinds[1 - number % 2].add_to(
                samples, clock.rate_hz, drop_s + rng.uniform(0.015, 0.06), gain * rng.uniform(0.3, 0.9), rng
            )
    noise = rng.standard_normal(len(samples))
    level = np.sqrt(np.mean(power) * 10.0 ** (-clock.snr_db / 10.0)) if power else 0.1
    samples += level * noise
    samples *= 0.5 / np.abs(samples).max()
    return Sound(samples, float(clock.rate_hz), drops, sounding, clock)


class Pulse:
    """The sound of one kind of beat."""

    def __init__(self, rng: np.random.Generator, clock: Clock) -> None:
        top_hz = min(0.42 * clock.rate_hz, 7000.0)
        count = int(rng.integers(4, 8))
        self.start_hz = np.exp(rng.uniform(np.log(700.0), np.log(top_hz), count))
        self.sweep_hz_per_s = rng.uniform(-0.3, 0.3, count) * self.start_hz / 0.01
        self.phase = rng.uniform(0.0, 2.0 * np.pi, count)
        self.rise_s = rng.uniform(0.1e-3, 0.35e-3, count)
        self.fall_s = rng.uniform(1.0e-3, 6.0e-3, count)
        self.level = rng.uniform(0.4, 1.0, count)
        self.impacts = [(0.0, 1.0)]
        if rng.random() < 0.6:
            self.impacts.append((rng.uniform(0.003, 0.009), rng.uniform(0.2, 0.5)))
        if rng.random() < clock.late_impact:
            self.impacts.append((rng.uniform(0.010, 0.022), rng.uniform(0.3, 0.9)))

    def add_to(
        self, samples: NDArray[np.float64], rate_hz: float, drop_s: float, gain: float, rng: np.random.Generator
    ) -> None:
        turn = self.phase + rng.normal(0.0, 0.15, len(self.phase))
        for late_s, share in self.impacts:
            first = int(np.ceil((drop_s + late_s) * rate_hz))
            last = min(first + round(BEAT_S * rate_hz), len(samples))
            if first < 0 or last <= first:
                continue
            since_s = (np.arange(first, last) / rate_hz - drop_s - late_s)[:, None]
            shape = (1.0 - np.exp(-since_s / self.rise_s)) * np.exp(-since_s / self.fall_s)
            wave = np.cos(2.0 * np.pi * (self.start_hz + 0.5 * self.sweep_hz_per_s * since_s) * since_s + turn)
            samples[first:last] += gain * share * (shape * wave) @ self.level


def phone(clock: Clock) -> Clock:
    """Return the same clock heard over the telephone: 8 kHz."""
    return replace(clock, rate_hz=8000)


def found_share(found_s: NDArray[np.float64], true_s: NDArray[np.float64], within_s: float = 0.010) -> float:
    """Return F1 of times found against true times, each used once."""
    if not len(found_s) or not len(true_s):
        return 0.0
    taken = np.zeros(len(found_s), bool)
    hits = 0
    for time in true_s:
        near = int(np.argmin(np.where(taken, np.inf, np.abs(found_s - time))))
        if not taken[near] and abs(found_s[near] - time) <= within_s:
            taken[near] = True
            hits += 1
    return 2.0 * hits / (len(found_s) + len(true_s))
