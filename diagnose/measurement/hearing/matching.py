"""The matched filter: how far each of many spectra is shifted against one, to a small part of a sample."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_GRID_PER_HZ = 4.0
"""Points of the first grid for each cycle of the highest frequency: the right cycle is never stepped over."""
_FINE_POINTS = 5
_TINY = 1e-30


@dataclass(frozen=True, slots=True)
class Match:
    """Many windows laid on one template.

    Parameters
    ----------
    shifts_s : array (K,)
        How much later than the template each lies [s].
    likeness : array (K,)
        Normalized correlation there.
    heights : array (K,)
        Output of the matched filter there.
    """

    shifts_s: NDArray[np.float64]
    likeness: NDArray[np.float64]
    heights: NDArray[np.float64]


def match(
    spectra: NDArray[np.complex128],
    template: NDArray[np.complex128],
    weight: NDArray[np.float64],
    seconds: float,
    search_s: float,
    around_s: NDArray[np.float64] | None = None,
    likelier: tuple[float, float] | None = None,
) -> Match:
    """Lay each of many spectra on a template.

    Parameters
    ----------
    spectra : complex array (K, F)
        One-sided spectra at multiples of 1 / `seconds`.
    template : complex array (F,)
        What they are laid on.
    weight : array (F,)
        Weight of each frequency, as 1 / noise power.
    seconds : float
        Length of the windows [s].
    search_s : float
        Largest shift that is tried [s].
    around_s : array (K,), optional
        Shift around which is searched; 0 without it [s].
    likelier : tuple of two floats, optional
        Standard deviation of the shifts [s], and by how much the logarithm of the likelihood grows with the output:
        of several tops of a faint beat the one is taken that is likelier by where it lies, too.
    """
    from scipy import fft

    hz = np.arange(spectra.shape[1]) / seconds
    product = spectra * (np.conj(template) * weight)
    start_s = np.zeros(len(spectra)) if around_s is None else around_s
    if around_s is not None:
        product = product * np.exp(2j * np.pi * start_s[:, None] * hz)
    size = int(fft.next_fast_len(int(_GRID_PER_HZ * len(hz)), real=True))
    grid_s = seconds / size
    reach = min(max(round(search_s / grid_s), 1), size // 2 - 1)
    lag = fft.irfft(product, size, axis=1)
    near = np.concatenate([lag[:, -reach:], lag[:, : reach + 1]], axis=1)
    shifts_s = np.arange(-reach, reach + 1) * grid_s
    if likelier is not None:
        spread_s, gain = likelier
        # The inverse transform gives sums over both halves of the spectrum, divided by its size.
        near = gain * near * size / 2.0 - 0.5 * np.square((start_s[:, None] + shifts_s) / spread_s)
    coarse_s = shifts_s[np.argmax(near, axis=1)]
    fine_s, heights = _refine(product, hz, coarse_s, grid_s)
    own = np.sum(np.square(np.abs(spectra)) * weight, axis=1)
    common = float(np.sum(np.square(np.abs(template)) * weight))
    likeness = heights / np.sqrt(np.maximum(own * common, _TINY))
    return Match(start_s + fine_s, likeness, heights)


def _refine(
    product: NDArray[np.complex128], hz: NDArray[np.float64], coarse_s: NDArray[np.float64], grid_s: float
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the exact top of each matched filter near a point of the grid: shift [s] and height."""
    turned = product * np.exp(2j * np.pi * coarse_s[:, None] * hz[None, :])
    fine_s = np.linspace(-grid_s, grid_s, _FINE_POINTS)
    curve = (turned @ np.exp(2j * np.pi * hz[:, None] * fine_s[None, :])).real
    top = np.clip(np.argmax(curve, axis=1), 1, _FINE_POINTS - 2)
    rows = np.arange(len(curve))
    before, here, after = curve[rows, top - 1], curve[rows, top], curve[rows, top + 1]
    bend = before - 2.0 * here + after
    part = np.where(bend < 0, 0.5 * (before - after) / np.where(bend < 0, bend, -1.0), 0.0)
    part = np.clip(part, -1.0, 1.0)
    return coarse_s + fine_s[top] + part * (fine_s[1] - fine_s[0]), here - 0.25 * (before - after) * part


def noise_height(template: NDArray[np.complex128], weight: NDArray[np.float64], noise: NDArray[np.float64]) -> float:
    """Return the standard deviation of the matched filter's output where there is only noise."""
    return float(np.sqrt(np.sum(np.square(np.abs(template) * weight) * noise) / 2.0))


def noise_shift(
    template: NDArray[np.complex128],
    weight: NDArray[np.float64],
    noise: NDArray[np.float64],
    hz: NDArray[np.float64],
) -> float:
    """Return the standard uncertainty of a shift from noise, for a beat as loud as the template [s].

    With `weight` = 1 / `noise` this is the bound 1 / sqrt(SNR (2 pi beta)^2) for a pulse of known shape.
    """
    turn = 2.0 * np.pi * hz
    sharpness = float(np.sum(np.square(np.abs(template) * turn) * weight))
    slope = float(np.sum(np.square(np.abs(template) * weight * turn) * noise)) / 2.0
    return float(np.sqrt(slope)) / max(sharpness, _TINY)
