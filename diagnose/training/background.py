"""What else is heard beside a clock: the noise of a room, chime rods, people talking."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

MAINS_HZ = 60.0
MAINS_HARMONICS = 12
LOWEST_NOISE_HZ = 40.0

CLAMPED_ROD_MODES = np.array([1.0, 6.267, 17.548, 34.387])
"""Frequencies of a rod clamped at one end, over the lowest (Euler-Bernoulli beam; Fletcher and Rossing, ch. 2)."""

FORMANTS_HZ = np.array([[730, 1090, 2440], [270, 2290, 3010], [300, 870, 2240], [530, 1840, 2480], [570, 840, 2410]])
"""First three formants of five vowels (Peterson and Barney 1952, men; from memory)."""


def room_noise(count: int, rate_hz: int, kind: Literal["white", "room", "hum"], random: np.random.Generator) -> Samples:
    """Return noise of one kind, of no particular level.

    Parameters
    ----------
    count : int
        Samples.
    rate_hz : int
        Samples per second [1/s].
    kind : str
        "white"; "room", whose power falls with frequency; "hum", mains harmonics over some white noise.
    random : numpy.random.Generator
        Source of chance.
    """
    white = random.standard_normal(count)
    if kind == "white":
        return white
    if kind == "room":
        frequencies = np.fft.rfftfreq(count, 1 / rate_hz)
        shape = 1 / np.sqrt(np.maximum(frequencies, LOWEST_NOISE_HZ))
        shape[frequencies < LOWEST_NOISE_HZ / 2] = 0
        return np.fft.irfft(np.fft.rfft(white) * shape, count)
    time = np.arange(count) / rate_hz
    hum = 0.1 * white
    for harmonic in range(1, MAINS_HARMONICS + 1):
        hum += np.sin(2 * np.pi * MAINS_HZ * harmonic * time + random.uniform(0, 2 * np.pi)) / harmonic
    return hum


def chime_rods(count: int, rate_hz: int, times_s: Sequence[float], random: np.random.Generator) -> Samples:
    """Return chime rods struck at the given times, highest sample about 1.

    Parameters
    ----------
    count, rate_hz : int
        Samples, and samples per second.
    times_s : sequence of float
        When a hammer strikes [s].
    random : numpy.random.Generator
        Source of chance.
    """
    samples = np.zeros(count)
    for time_s in times_s:
        start = round(time_s * rate_hz)
        if not 0 <= start < count:
            continue
        since = np.arange(count - start) / rate_hz
        lowest = random.uniform(60, 95)
        for order, ratio in enumerate(CLAMPED_ROD_MODES):
            frequency = lowest * ratio
            if frequency < 0.45 * rate_hz:
                ring_s = 2.5 / (1 + order)
                samples[start:] += np.sin(2 * np.pi * frequency * since) * np.exp(-since / ring_s) / (1 + order)
    highest = float(np.abs(samples).max())
    return samples / highest if highest > 0 else samples


def talk(count: int, rate_hz: int, talkers: int, random: np.random.Generator) -> Samples:
    """Return babble with the pitch, the formants and the syllables of speech, without words.

    Parameters
    ----------
    count, rate_hz : int
        Samples, and samples per second.
    talkers : int
        How many talk at once.
    random : numpy.random.Generator
        Source of chance.
    """
    samples = np.zeros(count)
    for _ in range(talkers):
        pitch_hz = random.uniform(95, 230)
        at = round(random.uniform(0, 0.3) * rate_hz)
        while at < count:
            length = min(round(random.uniform(0.12, 0.28) * rate_hz), count - at)
            samples[at : at + length] += _syllable(length, rate_hz, pitch_hz * random.uniform(0.85, 1.2), random)
            pause = random.uniform(0.3, 0.8) if random.random() < 0.15 else random.uniform(0.01, 0.08)
            at += length + round(pause * rate_hz)
    return samples


def _syllable(length: int, rate_hz: int, pitch_hz: float, random: np.random.Generator) -> Samples:
    """Return one syllable: a breath of hiss, then a vowel with falling pitch."""
    since = np.arange(length) / rate_hz
    swell = np.sin(np.pi * np.arange(length) / max(length, 1)) ** 0.7
    phase = 2 * np.pi * pitch_hz * (since - 0.15 * since**2 * rate_hz / max(length, 1))
    formants = FORMANTS_HZ[random.integers(len(FORMANTS_HZ))] * random.uniform(0.95, 1.15)
    harmonics = np.arange(1, int(min(4000.0, 0.45 * rate_hz) / pitch_hz))
    near = np.exp(-((harmonics[:, None] * pitch_hz - formants) ** 2) / (2 * 130.0**2))
    weights = (near * np.array([1.0, 0.6, 0.3])).sum(axis=1) + 0.02
    vowel: Samples = weights @ np.sin(np.outer(harmonics, phase))
    hiss = random.standard_normal(length) * np.exp(-since / 0.02) * random.uniform(0, 1.5)
    syllable: Samples = random.uniform(0.4, 1.0) * swell * (vowel + hiss)
    return syllable
