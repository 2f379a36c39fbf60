"""The detectors that hearing is measured beside: peaks of an envelope, and two libraries for musical onsets.

Each gets the sound and gives instants. Those for music get 8 kHz sound brought to 44.1 kHz first, as somebody sensible
would, and a shortest interval of 100 ms where they have such a setting.
"""

from __future__ import annotations

import importlib
import warnings
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import fft, signal

Floats = NDArray[np.float64]
Detector = Callable[[Floats, float], Floats]

HIGH_PASS_HZ = 300.0
MAD_TO_SIGMA = 1.4826
APART_S = 0.1
MUSIC_HZ = 44_100
SLOW_HZ = 16_000
SILENCE_DB = -90.0


def envelope(samples: Floats, rate_hz: float, smooth_s: float) -> Floats:
    """Return the smoothed amplitude above 300 Hz."""
    high = signal.sosfiltfilt(signal.butter(4, HIGH_PASS_HZ, "high", fs=rate_hz, output="sos"), samples)
    amplitude = np.abs(signal.hilbert(high, fft.next_fast_len(len(high)))[: len(high)])
    shape = np.hanning(int(smooth_s * rate_hz) | 1)
    return np.asarray(signal.fftconvolve(amplitude, shape / shape.sum(), "same"))


def peaks_above_noise(samples: Floats, rate_hz: float) -> Floats:
    """Return peaks of a 5 ms envelope above its median plus six robust standard deviations [s]."""
    level = envelope(samples, rate_hz, 0.005)
    middle = np.median(level)
    height = middle + 6.0 * MAD_TO_SIGMA * np.median(np.abs(level - middle))
    places, _ = signal.find_peaks(level, height=height, distance=int(APART_S * rate_hz))
    return np.asarray(places / rate_hz)


def peaks_by_prominence(samples: Floats, rate_hz: float) -> Floats:
    """Return peaks of a 10 ms envelope whose prominence is a quarter of its loudest part [s]."""
    level = envelope(samples, rate_hz, 0.010)
    wanted = 0.25 * (np.percentile(level, 99.5) - np.median(level))
    places, _ = signal.find_peaks(level, prominence=wanted, distance=int(APART_S * rate_hz))
    return np.asarray(places / rate_hz)


def librosa_onsets(samples: Floats, rate_hz: float) -> Floats:
    """Return the onsets of librosa with its own defaults [s]."""
    librosa = importlib.import_module("librosa")
    music, music_hz = for_music(samples, rate_hz)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return np.asarray(librosa.onset.onset_detect(y=music, sr=music_hz, units="time"))


def aubio_energy(samples: Floats, rate_hz: float) -> Floats:
    """Return the onsets of aubio by energy [s]."""
    return aubio_onsets(samples, rate_hz, "energy", 512, 64)


def aubio_flux(samples: Floats, rate_hz: float) -> Floats:
    """Return the onsets of aubio by spectral flux [s]."""
    return aubio_onsets(samples, rate_hz, "specflux", 512, 128)


def aubio_onsets(samples: Floats, rate_hz: float, method: str, window: int, hop: int) -> Floats:
    """Return the onsets of aubio by one of its methods [s]."""
    aubio = importlib.import_module("aubio")
    music, music_hz = for_music(samples, rate_hz)
    detector = aubio.onset(method, window, hop, music_hz)
    detector.set_silence(SILENCE_DB)
    detector.set_minioi_ms(1e3 * APART_S)
    found = [detector.get_last_s() for at in range(0, len(music) - hop, hop) if detector(music[at : at + hop])[0]]
    return np.array(found)


def for_music(samples: Floats, rate_hz: float) -> tuple[NDArray[np.float32], int]:
    """Return a sound at a rate that detectors for music expect."""
    if rate_hz > SLOW_HZ:
        return np.ascontiguousarray(samples, np.float32), round(rate_hz)
    return np.ascontiguousarray(
        signal.resample_poly(samples, MUSIC_HZ // 100, round(rate_hz) // 100), np.float32
    ), MUSIC_HZ


def peers() -> tuple[dict[str, Detector], list[str]]:
    """Return the detectors that can be run here, and a line for each library that is not there."""
    found: dict[str, Detector] = {"scipy above noise": peaks_above_noise, "scipy prominence": peaks_by_prominence}
    absent = []
    for library, detectors in (
        ("librosa", {"librosa onsets": librosa_onsets}),
        ("aubio", {"aubio energy": aubio_energy, "aubio specflux": aubio_flux}),
    ):
        try:
            importlib.import_module(library)
        except ImportError as error:
            absent.append(f"{library} is not here ({error}): pip install 'stopped-clock[bench]'")
        else:
            found |= detectors
    return found, absent
