"""Timing scatter beside the Cramer-Rao bound: pulses of a kind all alike, in white noise, at unknown instants.

No instant of a known pulse s in white noise can be told better than sigma_tau = 1 / sqrt(SNR (2 pi beta)^2), with
SNR = sum s^2 / sigma^2 at the output of the matched filter and beta^2 the mean of f^2 over the energy of the pulse
(S. M. Kay, Fundamentals of Statistical Signal Processing: Estimation Theory, 1993, example 3.13; from memory). In
noise that is not white each frequency counts by its own noise: in the telephone band the bound is the sum over
frequencies of (2 pi f)^2 |S|^2 over the power of the noise there, companding included, and one over its root.
"""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray
from scipy import signal

from diagnose.measurement.hearing.ticks import find_ticks
from diagnose.measurement.incoming.recording import Recording
from diagnose.training.drop_plan import DropPlan, lay_drops
from diagnose.training.sound import Scene, clean_ticks, power_after
from diagnose.training.ticking import LEFT, RIGHT, Ticking
from diagnose.training.transmission import TELEPHONE_RATE_HZ, mu_law, telephone_band
from tests.bench.hearing_peers import MAD_TO_SIGMA
from tests.bench.hearing_scores import matched
from tests.bench.hearing_sounds import FULL_RATE_HZ, LEVEL, PHONE_FROM_HZ

Floats = NDArray[np.float64]

SNRS_DB = (20, 10, 5, 0)
SECONDS = 40.0
BEATS_PER_HOUR = 7200.0
PULSE_S = 0.14
BEFORE_S = 0.02
LEAST_BEATS = 10
WELCH = 256


def bound_s(pulse: Floats, noise: Floats, rate_hz: float) -> float:
    """Return the Cramer-Rao bound of the instant of a pulse in noise, of which a long piece is given [s]."""
    hertz = np.fft.rfftfreq(len(pulse), 1 / rate_hz)
    energy = 2.0 * np.abs(np.fft.rfft(pulse)) ** 2 / len(pulse)
    at_hz, density = signal.welch(noise, rate_hz, nperseg=WELCH)
    # Of white noise this is the variance of a sample.
    power = np.interp(hertz, at_hz[1:-1], density[1:-1]) * rate_hz / 2
    return float(1 / np.sqrt(np.sum((2 * np.pi * hertz) ** 2 * energy / power)))


def alone(kind: int, plan: DropPlan, scene: Scene, seed: int) -> tuple[Floats, float]:
    """Return one pulse of a kind as it sounds in `ratios`, and its rate."""
    at = np.array([BEFORE_S])
    one = Ticking(at, np.array([kind], np.int8), np.ones(1), PULSE_S, plan.beats_per_hour, None, None)
    return clean_ticks(one, scene, np.random.default_rng(seed)), scene.rate_hz


def ratios(band: str, snr_db: int, number: int) -> list[tuple[float, float]]:
    """Return scatter over bound, as standard deviation and as robust spread, for each kind of beat of one recording."""
    seed = zlib.crc32(f"bound:{band}:{snr_db}:{number}".encode())
    plan = DropPlan(BEATS_PER_HOUR, 3.0, seconds=SECONDS)
    ticking = lay_drops(plan, seed)
    rate_hz = FULL_RATE_HZ if band == "full" else PHONE_FROM_HZ
    scene = Scene(rate_hz=rate_hz, manner="lifelike", room_s=0.0, gain_scatter_db=0.0, mode_scatter=0.0)
    ticks = clean_ticks(ticking, scene, np.random.default_rng(seed))
    noise = np.random.default_rng([seed, 3]).standard_normal(len(ticks))
    pulses = {kind: alone(kind, plan, scene, seed)[0] for kind in (RIGHT, LEFT)}
    if band == "phone":
        ticks, noise = telephone_band(ticks, rate_hz), telephone_band(noise, rate_hz)
        pulses = {kind: telephone_band(pulse, rate_hz) for kind, pulse in pulses.items()}
        rate_hz = TELEPHONE_RATE_HZ
    power = power_after(ticks, ticking.times_s, rate_hz) * 10 ** (-snr_db / 10)
    sound = ticks + noise * np.sqrt(power / np.mean(noise**2))
    level = LEVEL / np.abs(sound).max()
    sound = mu_law(level * sound) if band == "phone" else level * sound
    rest = sound - level * ticks
    heard = find_ticks(Recording(sound, float(rate_hz), SECONDS))
    places, rows = matched(heard.times_s, ticking.times_s, 0.03)
    found = []
    for kind in (RIGHT, LEFT):
        off = (heard.times_s[places] - ticking.times_s[rows])[ticking.sides[rows] == kind]
        if len(off) >= LEAST_BEATS:
            least_s = bound_s(level * pulses[kind], rest, rate_hz)
            usual_s = MAD_TO_SIGMA * float(np.median(np.abs(off - np.median(off))))
            found.append((float(off.std(ddof=1)) / least_s, usual_s / least_s))
    return found


def print_bound(count: int) -> None:
    """Print scatter over bound for both bands and each SNR."""
    print("timing scatter over the Cramer-Rao bound, pulses of a kind all alike, 40 s at 7200 beats an hour")
    for band in ("full", "phone"):
        for snr_db in SNRS_DB:
            found = np.array([ratio for number in range(count) for ratio in ratios(band, snr_db, number)])
            told = "nothing heard"
            if len(found):
                (middle, usual), (most, _) = np.median(found, axis=0), found.max(axis=0)
                told = f"median {middle:.2f}, worst {most:.2f} of {len(found)}; robust spread, median {usual:.2f}"
            print(f"{band:<6}{snr_db:>4} dB  {told}")
