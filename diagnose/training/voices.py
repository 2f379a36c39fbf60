"""How the drop of a tooth on one pallet sounds: a few impacts on a body whose modes ring and die away.

Two ways of drawing a voice. The plain one has the drop and up to two weaker followers. The lifelike one is shaped on
recordings of real clocks: perhaps a faint contact before the drop, a close follower, and a late impact that may be
louder than the drop itself. All figures are orders of size, heard in recordings; none has a source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]
Manner = Literal["plain", "lifelike"]

LONGEST_TICK_S = 0.12
HIGHEST_SHARE_OF_RATE = 0.46

_REFERENCE_HZ = 2000.0
"""Modes above this die away faster, those below more slowly."""
_DECAY_SLOPE = 0.3

_EARLIER_CHANCE, _EARLIER_S, _EARLIER_SHARE = 0.6, (2e-3, 9e-3), (0.05, 0.25)
_CLOSE_CHANCE, _CLOSE_S, _CLOSE_SHARE = 0.7, (2e-3, 12e-3), (0.15, 0.6)
_LATE_S, _LATE_SHARE = (8e-3, 25e-3), (0.3, 1.2)
LATE_CHANCE = 0.5


@dataclass(frozen=True, slots=True)
class TickVoice:
    """How the drop on one pallet sounds.

    Parameters
    ----------
    frequencies_hz, decays_s, gains, phases : ndarray, shape (m,)
        Modes that ring [Hz], [s], [1], [rad].
    delays_s, strengths : ndarray, shape (i,)
        Impacts: when after the drop, and how strong; the drop itself is (0, 1), a contact before it has a negative
        delay [s], [1].
    rise_s : float
        How fast an impact sets in [s].
    loudness : float
        Level of this pallet against the other [1].
    """

    frequencies_hz: NDArray[np.float64]
    decays_s: NDArray[np.float64]
    gains: NDArray[np.float64]
    phases: NDArray[np.float64]
    delays_s: NDArray[np.float64]
    strengths: NDArray[np.float64]
    rise_s: float
    loudness: float


def tick_voice(random: np.random.Generator, impacts: int | None = None) -> TickVoice:
    """Draw the plain voice of one pallet.

    Parameters
    ----------
    random : numpy.random.Generator
        Source of chance.
    impacts : int, optional
        How many impacts, 1 to 3.
    """
    count = int(random.integers(4, 8))
    frequencies = np.exp(random.uniform(np.log(600), np.log(8000), count))
    frequencies[0] = random.uniform(1000, 2400)  # always something a telephone lets through
    decays = random.uniform(1.5e-3, 10e-3, count) * (_REFERENCE_HZ / frequencies) ** _DECAY_SLOPE
    gains = random.uniform(0.3, 0.9, count)
    gains[0] = 1.0
    later = np.cumsum(random.uniform(2.5e-3, 9e-3, 2))
    kept = int(random.integers(1, 4)) if impacts is None else impacts
    return TickVoice(
        frequencies,
        decays,
        gains,
        random.uniform(0, 0.5, count),
        np.concatenate([[0.0], later])[:kept],
        np.concatenate([[1.0], random.uniform(0.15, 0.55, 2)])[:kept],
        float(random.uniform(4e-5, 1.5e-4)),
        float(10 ** (random.uniform(-3, 3) / 20)),
    )


def lifelike_voice(random: np.random.Generator, late_chance: float = LATE_CHANCE) -> TickVoice:
    """Draw the voice of one pallet with one to four impacts, as recordings of real clocks show them.

    Parameters
    ----------
    random : numpy.random.Generator
        Source of chance.
    late_chance : float
        Chance of a late impact, 8 to 25 ms after the drop and up to a fifth louder than it [1].
    """
    count = int(random.integers(4, 8))
    frequencies = np.exp(random.uniform(np.log(500), np.log(9000), count))
    frequencies[0] = random.uniform(900, 2600)  # always something a telephone lets through
    decays = random.uniform(1e-3, 12e-3, count) * (_REFERENCE_HZ / frequencies) ** _DECAY_SLOPE
    gains = random.uniform(0.3, 1.0, count)
    gains[0] = 1.0
    delays, strengths = [0.0], [1.0]
    for chance, span_s, share, sign in (
        (_EARLIER_CHANCE, _EARLIER_S, _EARLIER_SHARE, -1.0),
        (_CLOSE_CHANCE, _CLOSE_S, _CLOSE_SHARE, 1.0),
        (late_chance, _LATE_S, _LATE_SHARE, 1.0),
    ):
        if random.random() < chance:
            delays.append(sign * random.uniform(*span_s))
            strengths.append(random.uniform(*share))
    return TickVoice(
        frequencies,
        decays,
        gains,
        random.uniform(0, 0.5, count),
        np.array(delays),
        np.array(strengths),
        float(random.uniform(3e-5, 2e-4)),
        float(10 ** (random.uniform(-2, 2) / 20)),
    )


def add_tick(
    samples: Samples, rate_hz: int, time_s: float, voice: TickVoice, gain: float, mode_gains: NDArray[np.float64]
) -> None:
    """Add one tick to a sound in place, evaluated at the exact time so that no sample grid shifts it.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound it is added to.
    rate_hz : int
        Samples per second [1/s].
    time_s : float
        The instant of the drop [s].
    voice : TickVoice
        How it sounds.
    gain : float
        How loud this one is [1].
    mode_gains : ndarray, shape (m,)
        How strong each mode is this time, beside its usual gain [1].
    """
    usable = voice.frequencies_hz < HIGHEST_SHARE_OF_RATE * rate_hz
    gains = (voice.gains * mode_gains)[usable]
    for delay_s, strength in zip(voice.delays_s, voice.strengths, strict=True):
        start_s = time_s + float(delay_s)
        first = max(int(np.ceil(start_s * rate_hz)), 0)
        last = min(first + round(LONGEST_TICK_S * rate_hz), samples.size)
        if last <= first:
            continue
        since = np.arange(first, last) / rate_hz - start_s
        angle = 2 * np.pi * np.outer(since, voice.frequencies_hz[usable]) + voice.phases[usable]
        ringing = np.sin(angle) * np.exp(-since[:, None] / voice.decays_s[usable])
        sets_in = 1 - np.exp(-since / voice.rise_s)
        samples[first:last] += gain * voice.loudness * float(strength) * sets_in * (ringing @ gains)
