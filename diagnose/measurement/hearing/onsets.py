"""How suddenly the sound rises: a detection function in log bands, a thousand values a second.

Log energy, its rise over 4 ms, counted only above the band's own median and clipped: what is left of a tick in a
room with people, a phone that levels the loudness, or rain. A band counts for more the more impulsive it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

STEP_S = 1e-3
"""Distance between two values of the detection function."""

_WINDOW_S = 5e-3
_LOWEST_HZ = 300.0
_HIGHEST_HZ = 14_000.0
_NYQUIST_SHARE = 0.92
_BAND_WIDTH = 0.32
"""Width of a band in natural logarithms of frequency: twelve bands from 300 Hz to 14 kHz."""
_FEWEST_BANDS = 4
_RISE_STEPS = 4
_RISE_MOST = 4.0
"""A rise beyond 4 nepers (17 dB in energy) counts as 4: one slammed door must not outweigh sixty ticks."""
_LEVEL_MOST = 6.0
_GAUSSIAN_PEAKINESS = 3.0
_FRAMES_AT_ONCE = 4096
_MEDIAN_BLOCK_S = 12.0
_TINY = 1e-30
_LEVEL_BLOCK_S = 0.25
_LOUD_SAMPLE = 3
_LOUD_QUANTILE = 0.997
_LOUD_DB = 12.0
_LOUD_BLOCKS = 3


@dataclass(frozen=True, slots=True)
class Onsets:
    """The detection function of a recording.

    Parameters
    ----------
    bands : float32 array (B, F)
        Rise of each band, without its mean.
    loud : float32 array (B, F)
        Amplitude of each band above its median, in medians: it finds a faint beat under steady noise.
    peakiness : array (B,)
        Fourth moment over the squared second moment; 3 for Gaussian noise.
    first_s : float
        Time of the first column [s].
    band_edges_hz : array (B + 1,)
        Edges of the bands [Hz].
    loudness_db : float
        Level of the recording above 300 Hz, against full scale [dB].
    level_db : array (L,)
        The lower quartile of the level over each quarter of a second: what sounds on between the ticks [dB].
    """

    bands: NDArray[np.float32]
    loud: NDArray[np.float32]
    peakiness: NDArray[np.float64]
    first_s: float
    band_edges_hz: NDArray[np.float64]
    loudness_db: float
    level_db: NDArray[np.float64]

    def joined(self, bands: NDArray[np.float32], weights: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return one detection function from bands (B, F), in units of its own standard deviation, shape (F,)."""
        whole = weights.astype(np.float32) @ bands
        spread = float(whole.std())
        return (whole / spread if spread > 0 else whole).astype(np.float64)

    def loud_stretches(self) -> NDArray[np.float64]:
        """Return starts and ends of stretches in which something sounds on, far above the rest, (K, 2) [s]."""
        if len(self.level_db) < 4:
            return np.empty((0, 2))
        loud = self.level_db > np.median(self.level_db) + _LOUD_DB
        edges = np.flatnonzero(np.diff(np.concatenate([[False], loud, [False]]).astype(int)))
        pairs = edges.reshape(-1, 2)
        long_enough = pairs[:, 1] - pairs[:, 0] >= _LOUD_BLOCKS
        return np.asarray(pairs[long_enough] * _LEVEL_BLOCK_S, dtype=np.float64)

    def weights(self) -> NDArray[np.float64]:
        """Return the weight of each band: its peakiness above a Gaussian's, squared; shape (B,)."""
        excess = np.maximum(self.peakiness - _GAUSSIAN_PEAKINESS, 0.0) + 0.1
        return np.asarray((excess / excess.max()) ** 2 + 1e-3)


def hear_onsets(samples: NDArray[np.floating[Any]], rate_hz: float) -> Onsets:
    """Return the detection function of a sound.

    Parameters
    ----------
    samples : array (N,)
        Sound, full scale 1.
    rate_hz : float
        Samples per second [Hz].
    """
    energy, edges_hz, window = _band_energy(samples, rate_hz)
    whole = float(energy.sum()) / max(energy.shape[1], 1)
    full_scale = window**2 * 3.0 / 16.0
    loudness_db = 10.0 * float(np.log10(whole / full_scale + _TINY))
    level_db = _levels(energy, full_scale)
    rise = _rises(energy)
    loud = _amplitudes(energy)
    rise -= rise.mean(axis=1, keepdims=True)
    second = np.mean(np.square(rise, dtype=np.float64), axis=1) if rise.size else np.zeros(rise.shape[0])
    fourth = np.mean(np.square(np.square(rise, dtype=np.float64)), axis=1) if rise.size else second
    peakiness = np.where(second > 0, fourth / np.maximum(second**2, _TINY), _GAUSSIAN_PEAKINESS)
    return Onsets(rise, loud, peakiness, window / 2.0 / rate_hz, edges_hz, loudness_db, level_db)


def _band_energy(
    samples: NDArray[np.floating[Any]], rate_hz: float
) -> tuple[NDArray[np.float32], NDArray[np.float64], int]:
    """Return the energy of each band every millisecond, the band edges [Hz] and the window [samples]."""
    from scipy import fft

    window = 1 << int(np.ceil(np.log2(max(_WINDOW_S * rate_hz, 8.0))))
    frames = max(int((len(samples) - window) / rate_hz / STEP_S), 0)
    highest_hz = min(_HIGHEST_HZ, _NYQUIST_SHARE * rate_hz / 2.0)
    count = max(_FEWEST_BANDS, round(np.log(highest_hz / _LOWEST_HZ) / _BAND_WIDTH))
    edges = np.unique(np.maximum(np.round(np.geomspace(_LOWEST_HZ, highest_hz, count + 1) * window / rate_hz), 1))
    edges = edges.astype(np.intp)
    energy = np.empty((len(edges) - 1, frames), np.float32)
    shape = np.hanning(window).astype(np.float32)
    starts = np.round(np.arange(frames) * STEP_S * rate_hz).astype(np.intp)
    for first in range(0, frames, _FRAMES_AT_ONCE):
        some = starts[first : first + _FRAMES_AT_ONCE]
        piece = samples[some[0] : some[-1] + window].astype(np.float32)
        views = np.lib.stride_tricks.sliding_window_view(piece, window)[some - some[0]]
        spectrum = fft.rfft(views * shape, axis=1)
        power = np.square(spectrum.real) + np.square(spectrum.imag)
        energy[:, first : first + len(some)] = np.add.reduceat(power[:, : edges[-1]], edges[:-1], axis=1).T
    return energy, edges * rate_hz / window, window


def _levels(energy: NDArray[np.float32], full_scale: float) -> NDArray[np.float64]:
    """Return the lower quartile of the level in each quarter of a second [dB], shape (L,)."""
    block = round(_LEVEL_BLOCK_S / STEP_S)
    count = energy.shape[1] // block
    whole = energy[:, : count * block].sum(axis=0, dtype=np.float64).reshape(count, block)
    low = np.quantile(whole, 0.25, axis=1) if count else np.empty(0)
    return np.asarray(10.0 * np.log10(low / full_scale + _TINY))


def _amplitudes(energy: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the amplitude of each band over its median, the loudest moments cut to one height."""
    if not energy.size:
        return energy
    usual = np.median(energy, axis=1, keepdims=True) + _TINY
    amplitude = np.sqrt(energy / usual)
    most = np.quantile(amplitude[:, ::_LOUD_SAMPLE], _LOUD_QUANTILE, axis=1, keepdims=True)
    return np.asarray(np.minimum(amplitude, most) - 1.0, dtype=np.float32)


def _rises(energy: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return rise times level above the median of the band, both clipped, block by block."""
    frames = energy.shape[1]
    rise = np.zeros_like(energy)
    floor = 1e-10 * float(energy.max()) + _TINY if energy.size else _TINY
    block = round(_MEDIAN_BLOCK_S / STEP_S)
    blocks = max(frames // block, 1)
    bounds = np.linspace(0, frames, blocks + 1).astype(int)
    for first, last in pairwise(bounds):
        lead = min(first, _RISE_STEPS)
        level = np.log(energy[:, first - lead : last] + floor)
        level -= np.median(level, axis=1, keepdims=True) if level.size else 0.0
        np.maximum(level, 0.0, out=level)
        up = level[:, _RISE_STEPS:] - level[:, :-_RISE_STEPS]
        start = first - lead + _RISE_STEPS
        rise[:, start:last] = np.clip(up, 0.0, _RISE_MOST) * np.minimum(level[:, _RISE_STEPS:], _LEVEL_MOST)
    return rise
