"""Short windows of sound around the beats, as spectra, with the noise between the beats beside them."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

BEFORE_S = 0.032
AFTER_S = 0.060
_TAPER_S = 0.008
_LOWEST_HZ = 250.0
_NOISE_WINDOWS = 80
_SMOOTH_BINS = 9
_ENVELOPE_SMOOTH_S = 6e-4
_ENVELOPE_HIGHEST_HZ = 1600.0
_START_NEEDED_S = 0.012
_END_NEEDED_S = 0.025
_FLOOR_SHARE = 1e-9
"""Least noise, as a share of the loudest band's: digital silence must not become an infinite weight."""
TINY = 1e-30


class Windows:
    """Cuts windows out of a recording and gives their spectra.

    Parameters
    ----------
    samples : array (N,)
        Sound.
    rate_hz : float
        Samples per second [Hz].
    """

    def __init__(self, samples: NDArray[np.floating[Any]], rate_hz: float) -> None:
        from scipy import fft

        self.samples = samples
        self.rate_hz = rate_hz
        self.before = round(BEFORE_S * rate_hz)
        self.length = int(fft.next_fast_len(self.before + round(AFTER_S * rate_hz), real=True))
        self.length += self.length % 2
        self.seconds = self.length / rate_hz
        self.hz: NDArray[np.float64] = np.arange(self.length // 2 + 1) / self.seconds
        edge = round(_TAPER_S * rate_hz)
        rise = 0.5 - 0.5 * np.cos(np.pi * (np.arange(edge) + 0.5) / edge)
        self.taper = np.concatenate([rise, np.ones(self.length - 2 * edge), rise[::-1]])
        self.keep = np.clip((self.hz - _LOWEST_HZ / 2.0) / (_LOWEST_HZ / 2.0), 0.0, 1.0)
        self.envelope_bins = min(int(_ENVELOPE_HIGHEST_HZ * self.seconds) + 1, len(self.hz))

    def spectra(self, times_s: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return spectra of the windows around some times, the time itself at phase zero; shape (K, F)."""
        from scipy import fft

        exact = times_s * self.rate_hz
        first = np.floor(exact).astype(np.intp) - self.before
        index = first[:, None] + np.arange(self.length)[None, :]
        inside = (index >= 0) & (index < len(self.samples))
        cut = np.where(inside, self.samples[np.clip(index, 0, len(self.samples) - 1)], 0.0) * self.taper
        late_s = (exact - first) / self.rate_hz
        turn = np.exp(2j * np.pi * late_s[:, None] * self.hz[None, :])
        return np.asarray(fft.rfft(cut, axis=1) * turn * self.keep)

    def waveforms(self, spectra: NDArray[np.complex128]) -> NDArray[np.float64]:
        """Return the sound of spectra (..., F), its zero at sample `before`; shape (..., L)."""
        from scipy import fft

        turned = spectra * np.exp(-2j * np.pi * self.before / self.rate_hz * self.hz)
        return np.asarray(fft.irfft(turned, self.length))

    def spectrum_of(self, waveform: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return the spectrum of a sound whose zero is at sample `before`; shape (F,)."""
        from scipy import fft

        turn = np.exp(2j * np.pi * self.before / self.rate_hz * self.hz)
        return np.asarray(fft.rfft(waveform) * turn)

    def power(self, spectra: NDArray[np.complex128], smooth_s: float, finer: int = 1) -> NDArray[np.float64]:
        """Return the smoothed square of the envelope of sounds, at `finer` times the rate; (K, finer * L).

        The zero of the sounds is at sample `finer * before`.
        """
        from scipy import fft

        turned = spectra * np.exp(-2j * np.pi * self.before / self.rate_hz * self.hz)
        size = finer * self.length
        whole = np.zeros((spectra.shape[0], size), complex)
        whole[:, : turned.shape[1]] = 2.0 * finer * turned
        whole[:, 0] /= 2.0
        square = np.square(np.abs(fft.ifft(whole, axis=1)))
        width = max(round(smooth_s * self.rate_hz * finer), 1)
        shape = np.hanning(2 * width + 1)[1:-1] if width > 1 else np.ones(1)
        kernel = np.zeros(size)
        middle = len(shape) // 2
        kernel[: len(shape) - middle] = shape[middle:]
        if middle:
            kernel[-middle:] = shape[:middle]
        smooth = fft.irfft(fft.rfft(square, axis=1) * fft.rfft(kernel / kernel.sum()), size, axis=1)
        return np.asarray(np.maximum(smooth, 0.0))

    def envelope_spectra(self, spectra: NDArray[np.complex128], noise: NDArray[np.float64]) -> NDArray[np.complex128]:
        """Return spectra of the loudness over time of whitened windows, the time at phase zero; (K, E)."""
        from scipy import fft

        power = self.power(spectra / np.sqrt(noise), _ENVELOPE_SMOOTH_S)
        quiet = 4.0 * len(self.hz) / self.length**2
        loud = np.sqrt(power + quiet) - np.sqrt(2.0 * quiet)
        turn = np.exp(2j * np.pi * self.before / self.rate_hz * self.hz[: self.envelope_bins])
        return np.asarray(fft.rfft(loud, axis=1)[:, : self.envelope_bins] * turn)

    def inside(self, times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
        """Return which windows have at least the start and the loud part of the beat in the recording."""
        end_s = len(self.samples) / self.rate_hz
        return np.asarray((times_s >= _START_NEEDED_S) & (times_s <= end_s - _END_NEEDED_S))


def noise_spectrum(windows: Windows, beats_s: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the usual power of a window without a beat, from the gaps between beats; shape (F,)."""
    flat = np.sort(beats_s.ravel())
    gaps = np.diff(flat)
    if not len(gaps):
        return np.full(len(windows.hz), TINY)
    roomy = gaps >= min(float(np.median(gaps)), 2.0 * (BEFORE_S + AFTER_S))
    # Late in a gap the room has died away and the next beat has not begun.
    middles = (flat[:-1] + np.maximum(0.5 * gaps, gaps - BEFORE_S - AFTER_S))[roomy]
    middles = middles[windows.inside(middles)]
    if not len(middles):
        return np.full(len(windows.hz), TINY)
    chosen = middles[np.unique(np.linspace(0, len(middles) - 1, _NOISE_WINDOWS).astype(int))]
    power = np.square(np.abs(windows.spectra(chosen)))
    usual = np.median(power, axis=0) / np.log(2.0) if len(chosen) > 1 else power[0]
    loudest = np.square(np.abs(windows.spectra(flat[windows.inside(flat)][:_NOISE_WINDOWS]))).max()
    smooth = smooth_bins(usual)
    return np.asarray(smooth + _FLOOR_SHARE * float(loudest) + TINY)


def smooth_bins(power: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a power spectrum smoothed over nine bins; shape (F,)."""
    shape = np.hanning(_SMOOTH_BINS + 2)[1:-1]
    padded = np.pad(power, _SMOOTH_BINS // 2, mode="edge")
    return np.asarray(np.convolve(padded, shape / shape.sum(), mode="valid"))
