"""What goes on around a clock while it is heard: rain, a dog, an engine, music, a strike in the middle, another clock.

Each is drawn by a seed and has no particular level; `Beside` says how loud, beside the ticks, and from when to when.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.training.background import chime_rods, room_noise, talk

Samples = NDArray[np.float64]
Kind = Literal["talk", "music", "rain", "dog", "engine", "strike", "chimes", "hum", "steps", "mechanical"]

_STRIKE_EVERY_S = 1.6
_CHIME_EVERY_S = 0.7
_GONG_HZ, _GONG_RING_S = 410.0, 1.8
_GONG_PARTIALS = (1.0, 2.76, 5.4)
"""Frequencies of a free bar, over the lowest (Euler-Bernoulli beam; Fletcher and Rossing, ch. 2)."""
_SCALE_HZ = 220.0 * 2 ** (np.array([0, 2, 3, 5, 7, 8, 10, 12, 14, 15]) / 12)
_DROPS_PER_S = 60.0


@dataclass(frozen=True, slots=True)
class Beside:
    """Something that is heard beside a clock.

    Parameters
    ----------
    kind : str
        What it is.
    level_db : float
        Mean power while it sounds, over the power of the 20 ms after a tick [dB].
    from_s, to_s : float
        From when to when it sounds; to the end where infinite [s].
    """

    kind: Kind
    level_db: float = 0.0
    from_s: float = 0.0
    to_s: float = np.inf

    def __post_init__(self) -> None:
        if self.kind not in SURROUNDINGS:
            raise UsageError(f"{self.kind} beside a clock", do=f"Choose among {', '.join(SURROUNDINGS)}")
        if not 0 <= self.from_s < self.to_s:
            raise UsageError(f"from {self.from_s:g} to {self.to_s:g} s", do="Give the earlier time first")

    def sound(self, count: int, rate_hz: int, tick_power: float, random: np.random.Generator) -> Samples:
        """Return it at its level, silence before and after, shape (count,).

        Parameters
        ----------
        count, rate_hz : int
            Samples, and samples per second.
        tick_power : float
            Power of the 20 ms after a tick.
        random : numpy.random.Generator
            Source of chance.
        """
        whole = np.zeros(count)
        first = min(round(self.from_s * rate_hz), count)
        last = count if self.to_s * rate_hz >= count else round(self.to_s * rate_hz)
        if last <= first:
            return whole
        part = surrounding(self.kind, last - first, rate_hz, random)
        power = float(np.mean(part**2))
        if power > 0:
            whole[first:last] = part * np.sqrt(tick_power * 10 ** (self.level_db / 10) / power)
        return whole


def surrounding(kind: Kind, count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return one kind of sound, of no particular level.

    Parameters
    ----------
    kind : str
        What it is.
    count, rate_hz : int
        Samples, and samples per second.
    random : numpy.random.Generator
        Source of chance.
    """
    return SURROUNDINGS[kind](count, rate_hz, random)


def _talk(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    return talk(count, rate_hz, 1, random)


def _hum(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    return room_noise(count, rate_hz, "hum", random)


def _rung(
    samples: Samples,
    at_s: float,
    frequency_hz: float,
    ring_s: float,
    level: float,
    rate_hz: int,
    attack_s: float = 1e-3,
) -> None:
    """Add one tone that sets in and dies away, in place."""
    first = round(at_s * rate_hz)
    last = min(first + round(6 * ring_s * rate_hz), samples.size)
    if last <= first or frequency_hz > 0.45 * rate_hz:
        return
    since = np.arange(last - first) / rate_hz
    envelope = (1 - np.exp(-since / attack_s)) * np.exp(-since / ring_s)
    samples[first:last] += level * envelope * np.sin(2 * np.pi * frequency_hz * since)


def _burst(
    samples: Samples, at_s: float, fall_s: float, level: float, rate_hz: int, random: np.random.Generator
) -> None:
    """Add a short burst of noise, in place."""
    first = round(at_s * rate_hz)
    last = min(first + round(6 * fall_s * rate_hz), samples.size)
    if last > first:
        since = np.arange(last - first) / rate_hz
        samples[first:last] += level * np.exp(-since / fall_s) * random.standard_normal(last - first)


def _music(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return plucked notes and a beaten rhythm that repeats each bar, as played by people: not quite even."""
    samples = np.zeros(count)
    beat_s = 60 / random.uniform(76, 150)
    eighths = random.random(8) < 0.6
    accents = random.uniform(0.3, 1.0, 8)
    for step in range(int(count / rate_hz / (beat_s / 2))):
        at_s = step * beat_s / 2 + random.normal(0, 0.006)
        if eighths[step % 8] and at_s > 0:
            _burst(samples, at_s, 0.02, 0.5 * accents[step % 8], rate_hz, random)
        if random.random() < 0.45 and at_s > 0:
            for partial in (1, 2, 3):
                pitch_hz = float(random.choice(_SCALE_HZ)) * partial
                _rung(samples, at_s, pitch_hz, 0.35 / partial, 0.5 / partial, rate_hz)
    return samples


def _rain(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return drops on a pane over a wash of noise."""
    samples = 0.05 * room_noise(count, rate_hz, "white", random)
    seconds = count / rate_hz
    for at_s in random.uniform(0, seconds, random.poisson(_DROPS_PER_S * seconds)):
        _burst(samples, float(at_s), float(random.uniform(1e-3, 4e-3)), float(random.exponential(0.5)), rate_hz, random)
    return samples


def _dog(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return a dog that barks a few times, and again after a while."""
    samples = np.zeros(count)
    at_s, seconds = float(random.uniform(0, 1)), count / rate_hz
    while at_s < seconds:
        for _ in range(int(random.integers(1, 6))):
            pitch_hz = random.uniform(350, 700)
            for partial in range(1, 9):
                _rung(samples, at_s, pitch_hz * partial, 0.05, 1 / partial, rate_hz, 0.01)
            _burst(samples, at_s, 0.04, 0.3, rate_hz, random)
            at_s += float(random.uniform(0.25, 0.6))
        at_s += float(random.uniform(0.8, 4))
    return samples


def _engine(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return an engine that idles: firing that wanders a little, over noise."""
    firing_hz = random.uniform(18, 45)
    wander = np.cumsum(random.normal(0, 1, count)) / rate_hz**0.5
    turned = 2 * np.pi * firing_hz * (np.arange(count) / rate_hz + 0.002 * wander)
    rumble = sum((np.sin(order * turned) / order**0.7 for order in range(1, 16)), start=np.zeros(count))
    return np.asarray(rumble + 0.6 * room_noise(count, rate_hz, "room", random))


def _strike(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return the strike of the hours on a gong."""
    samples = np.zeros(count)
    pitch_hz = _GONG_HZ * random.uniform(0.7, 1.4)
    for at_s in np.arange(0.1, count / rate_hz, _STRIKE_EVERY_S):
        for order, ratio in enumerate(_GONG_PARTIALS):
            _rung(samples, float(at_s), pitch_hz * ratio, _GONG_RING_S / (1 + order), 1 / (1 + order), rate_hz)
        _burst(samples, float(at_s), 0.005, 0.5, rate_hz, random)
    return samples


def _chimes(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    return chime_rods(count, rate_hz, np.arange(0.1, count / rate_hz, _CHIME_EVERY_S).tolist(), random)


def _steps(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return somebody who walks about: heel and toe, never quite even."""
    samples = np.zeros(count)
    at_s, pace_s = float(random.uniform(0, 1)), float(random.uniform(0.48, 0.65))
    while at_s < count / rate_hz:
        _burst(samples, at_s, 0.012, float(random.uniform(0.5, 1)), rate_hz, random)
        _burst(
            samples, at_s + float(random.uniform(0.06, 0.12)), 0.015, float(random.uniform(0.2, 0.6)), rate_hz, random
        )
        at_s += pace_s * float(random.normal(1, 0.05))
    return samples


def _mechanical(count: int, rate_hz: int, random: np.random.Generator) -> Samples:
    """Return a fan or a motor: a whine with a slow beat in it."""
    time = np.arange(count) / rate_hz
    tones = sum(
        (np.sin(2 * np.pi * hertz * time) for hertz in random.uniform(90, 900, 5)),
        start=np.zeros(count),
    )
    swell = 1 + 0.3 * np.sin(2 * np.pi * random.uniform(0.2, 2) * time)
    return np.asarray(tones * swell + 0.5 * room_noise(count, rate_hz, "room", random))


SURROUNDINGS: MappingProxyType[str, Callable[[int, int, np.random.Generator], Samples]] = MappingProxyType(
    {
        "talk": _talk,
        "music": _music,
        "rain": _rain,
        "dog": _dog,
        "engine": _engine,
        "strike": _strike,
        "chimes": _chimes,
        "hum": _hum,
        "steps": _steps,
        "mechanical": _mechanical,
    }
)
