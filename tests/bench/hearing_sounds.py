"""The recordings that hearing is measured on: seeded, with exact truth, from two generators of unlike sound.

A recording is named by its key, such as "modes:phone:5:doubles:3": the family of the sound, the band, the SNR in dB,
what is amiss, and a number. The number, with the place of the cell in the grid, gives beats per hour, beat error and
rate. The same key is always the same recording, whatever else is measured.

Families: "modes", damped modes struck by one to four impacts, in a room (diagnose.training.sound, lifelike voices);
"chirps", short chirps under a smooth rise and fall (tests.measurement.synthetic_clock); "bursts", band-passed noise,
the same at each beat but for a part of it. SNR: mean power of the 20 ms after a drop over the power of the noise, both
in the final band, before companding.
"""

from __future__ import annotations

import zlib
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.sound import Scene, clean_ticks, power_after
from diagnose.training.ticking import Ticking
from diagnose.training.transmission import TELEPHONE_RATE_HZ, mu_law, telephone_band
from tests.measurement.synthetic_clock import Clock, Pulse

Floats = NDArray[np.float64]

FAMILIES = ("modes", "chirps", "bursts")
BANDS = ("full", "phone")
SNRS_DB = (30, 20, 10, 5, 0, -5)
VARIANTS = ("clean", "missing", "doubles")
TRAINS = (3600, 5400, 7200, 9000, 10800)
ERRORS = (0.0, 1.0, -1.0, 2.0, -5.0, 10.0, -20.0, 30.0)
RATE_S_PER_DAY = 90.0
SECONDS = 40.0
FULL_RATE_HZ, PHONE_FROM_HZ = 44_100, 48_000
MISSING_SHARE, DOUBLED_SHARE = 0.05, 0.30
LEVEL = 0.5
STEPS_16_BIT = 32_767
FINE = 8
"""A burst is kept with so many samples for one of the recording, and laid down between them by a cubic."""


@dataclass(frozen=True, slots=True)
class Cell:
    """Where in the grid a recording belongs."""

    family: str
    band: str
    snr_db: int
    variant: str
    number: int
    seconds: float = SECONDS

    @property
    def key(self) -> str:
        """Its name, from which it can be made again."""
        return f"{self.family}:{self.band}:{self.snr_db}:{self.variant}:{self.number}"

    @property
    def seed(self) -> int:
        """Seed of all chance in it."""
        return zlib.crc32(self.key.encode())


@dataclass(frozen=True, slots=True)
class Sample:
    """One recording with its truth."""

    key: str
    samples: Floats
    rate_hz: float
    ticking: Ticking
    beats_per_hour: float
    beat_error_percent: float
    rate_s_per_day: float

    @property
    def seconds(self) -> float:
        return len(self.samples) / self.rate_hz

    @property
    def heard_s(self) -> Floats:
        """Instants of the drops that sound [s]."""
        return self.ticking.times_s[self.ticking.heard]


def cell_of(key: str) -> Cell:
    """Return the cell a key names."""
    family, band, snr, variant, number = key.split(":")
    return Cell(family, band, int(snr), variant, int(number))


def plan_of(cell: Cell) -> DropPlan:
    """Return what the clock of a cell does: trains, beat errors and rates take turns from cell to cell."""
    place = (
        cell.number * len(SNRS_DB) * len(VARIANTS)
        + SNRS_DB.index(cell.snr_db) * len(VARIANTS)
        + VARIANTS.index(cell.variant)
        + FAMILIES.index(cell.family) * len(VARIANTS)
    )
    return DropPlan(
        TRAINS[place % len(TRAINS)],
        ERRORS[place % len(ERRORS)],
        RATE_S_PER_DAY if place % 2 else -RATE_S_PER_DAY,
        cell.seconds,
        silent_share=MISSING_SHARE if cell.variant == "missing" else 0.0,
        doubled_share=DOUBLED_SHARE if cell.variant == "doubles" else 0.0,
    )


def make_sample(cell: Cell) -> Sample:
    """Return the recording of a cell."""
    plan = plan_of(cell)
    ticking = lay_drops(plan, cell.seed)
    random = np.random.default_rng([cell.seed, 2])
    from_hz = FULL_RATE_HZ if cell.band == "full" else PHONE_FROM_HZ
    if cell.family == "modes":
        scene = Scene(rate_hz=from_hz, manner="lifelike", gain_scatter_db=1.5, mode_scatter=0.15)
        ticks = clean_ticks(ticking, scene, random)
    else:
        ticks = struck(ticking, from_hz, cell.family, random)
    noise = random.standard_normal(len(ticks))
    samples, rate_hz = mixed(ticks, noise, ticking.times_s[ticking.heard], cell, from_hz)
    return Sample(
        cell.key, samples, rate_hz, ticking, plan.beats_per_hour, plan.beat_error_percent, plan.rate_s_per_day
    )


def mixed(ticks: Floats, noise: Floats, heard_s: Floats, cell: Cell, from_hz: int) -> tuple[Floats, float]:
    """Return ticks and noise in their final band at the asked-for SNR, and the rate of samples [Hz]."""
    rate_hz = from_hz
    if cell.band == "phone":
        ticks, noise = telephone_band(ticks, from_hz), telephone_band(noise, from_hz)
        rate_hz = TELEPHONE_RATE_HZ
    wanted = power_after(ticks, heard_s, rate_hz) * 10 ** (-cell.snr_db / 10)
    sound = ticks + noise * np.sqrt(wanted / np.mean(noise**2))
    sound *= LEVEL / np.abs(sound).max()
    kept = mu_law(sound) if cell.band == "phone" else np.round(sound * STEPS_16_BIT) / STEPS_16_BIT
    return kept, float(rate_hz)


def struck(ticking: Ticking, rate_hz: int, family: str, random: np.random.Generator) -> Floats:
    """Return ticks of the families that are not made by the training's own generator."""
    samples = np.zeros(round(ticking.seconds * rate_hz))
    clock = Clock(rate_hz=rate_hz)
    kinds = [Pulse(random, clock) if family == "chirps" else Burst(random, rate_hz) for _ in range(2)]
    levels = 10 ** (np.array([0.0, random.uniform(-4, 4)]) / 20)
    doubled = np.full(len(ticking.times_s), np.nan) if ticking.doubled_s is None else ticking.doubled_s
    for number in np.flatnonzero(ticking.heard):
        kind = number % 2
        gain = levels[kind] * 10 ** (random.normal(0, 1) / 20)
        kinds[kind].add_to(samples, rate_hz, ticking.times_s[number], gain, random)
        if np.isfinite(doubled[number]):
            fainter = gain * random.uniform(0.3, 0.9)
            kinds[1 - kind].add_to(samples, rate_hz, doubled[number], fainter, random)
    return samples


class Burst:
    """A beat of band-passed noise: two or three bursts, most of each the same every time."""

    def __init__(self, random: np.random.Generator, rate_hz: int) -> None:
        self.parts = [self._drawn(random, rate_hz, 0.0, 1.0)]
        if random.random() < 0.6:
            self.parts.append(self._drawn(random, rate_hz, random.uniform(3e-3, 10e-3), random.uniform(0.2, 0.6)))
        if random.random() < 0.4:
            self.parts.append(self._drawn(random, rate_hz, random.uniform(10e-3, 24e-3), random.uniform(0.3, 0.95)))

    @staticmethod
    def _drawn(
        random: np.random.Generator, rate_hz: int, delay_s: float, share: float
    ) -> tuple[float, float, float, float, Floats]:
        """Return delay, share, rise and fall [s] of one burst and the noise under it, finely sampled."""
        middle_hz = random.uniform(1000.0, 2600.0)  # always something a telephone lets through
        if delay_s > 0.0:
            middle_hz = np.exp(random.uniform(np.log(800), np.log(6e3)))
        half = random.uniform(0.25, 0.6)
        edges_hz = (middle_hz * (1 - half), middle_hz * (1 + half))
        band = signal.butter(2, edges_hz, "bandpass", fs=FINE * rate_hz, output="sos")
        settling, whole = round(0.03 * FINE * rate_hz), round(0.12 * FINE * rate_hz)
        noise = signal.sosfilt(band, random.standard_normal(whole))[settling:]
        return delay_s, share, random.uniform(5e-5, 3e-4), random.uniform(2e-3, 8e-3), noise / noise.std()

    def add_to(self, samples: Floats, rate_hz: float, drop_s: float, gain: float, random: np.random.Generator) -> None:
        """Add one beat in place; a fifth of its power is new each time."""
        for delay_s, share, rise_s, fall_s, noise in self.parts:
            start_s = drop_s + delay_s
            first = max(int(np.ceil(start_s * rate_hz)), 0)
            last = min(first + int(0.07 * rate_hz), len(samples))
            if last <= first:
                continue
            since_s = np.arange(first, last) / rate_hz - start_s
            same = np.interp(since_s * FINE * rate_hz, np.arange(len(noise)), noise)
            new = np.roll(noise, int(random.integers(len(noise))))[: len(same) * FINE : FINE]
            shape = (1 - np.exp(-since_s / rise_s)) * np.exp(-since_s / fall_s)
            samples[first:last] += gain * share * shape * (np.sqrt(0.8) * same + np.sqrt(0.2) * new)
