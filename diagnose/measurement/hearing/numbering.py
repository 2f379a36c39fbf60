"""Which sound is which beat: the swing followed through the recording, so that missed and double ticks do no harm.

The best path through all swings is found at once (Viterbi), each swing free to come a little early or late; a jump to
another place is allowed at a price, which is how an edit, a dropped buffer or the seam of a loop shows itself.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.hearing.onsets import STEP_S
from diagnose.measurement.hearing.swing import Swing

_SMOOTH_STEPS = 5
_SHIFT_STEPS = 5
"""A swing may differ from the one before by at most 5 ms."""
_SHIFT_PRICE = 0.08
"""Price of a shift of 1 ms, squared with the shift, in heights of an ordinary beat."""
_JUMP_PRICE = 6.0
"""A jump must be paid for by this many swings that then sound in their place."""
JUMP_S = 0.012
"""A swing this far from where the last one put it begins a new piece."""
_SWINGS_MARGIN = 1
_ORDINARY_QUANTILE = 0.75


@dataclass(frozen=True, slots=True)
class Lattice:
    """Where each beat is expected.

    Parameters
    ----------
    times_s : array (S, 2)
        Expected times of the two beats of each swing [s].
    heights : array (S, 2)
        Detection function there.
    segments : int array (S,)
        Number of the unbroken piece each swing belongs to.
    origin : int
        Row of the swing that the followed one starts with; it may lie outside the recording.
    """

    times_s: NDArray[np.float64]
    heights: NDArray[np.float64]
    segments: NDArray[np.intp]
    origin: int = 0


def smoothed(strength: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the detection function over 5 ms, so that a beat a millisecond off still counts."""
    shape = np.hanning(_SMOOTH_STEPS + 2)[1:-1]
    return np.convolve(strength, shape / shape.max(), mode="same")


def follow(strength: NDArray[np.float64], first_s: float, swing: Swing) -> Lattice:
    """Return the expected time of every beat of a recording.

    Parameters
    ----------
    strength : array (F,)
        Detection function, one value a millisecond.
    first_s : float
        Time of its first value [s].
    swing : Swing
        Period and phases of the full swing.
    """
    smooth = smoothed(strength)
    period = swing.period_s / STEP_S
    apart = ((swing.phases[1] - swing.phases[0]) % 1.0) * period
    start = (swing.start_s - first_s) / STEP_S + swing.phases[0] * period
    rows_before = int(np.ceil(start / period + _SWINGS_MARGIN))
    start -= rows_before * period
    count = int(np.ceil((len(smooth) - start) / period)) + _SWINGS_MARGIN
    bases = start + np.arange(count) * period
    half = int(period // 2)
    padded = np.pad(smooth, (3 * half + 8, 3 * half + 8))
    origin = np.round(bases).astype(np.intp) + 3 * half + 8
    origin = np.clip(origin, half, len(padded) - half - round(apart) - 2)
    offsets = np.arange(-half, half + 1)
    places_of = origin[:, None] + offsets[None, :]
    sound = padded[places_of] + padded[places_of + round(apart)]
    ordinary = float(np.quantile(sound.max(axis=1), _ORDINARY_QUANTILE))
    path, jumped = _best_path(np.maximum(sound, 0.0) / max(ordinary, 1e-9))
    places = bases + offsets[path]
    times = np.stack([places, places + apart], axis=1)
    index = np.clip(np.round(times).astype(np.intp), 0, len(smooth) - 1)
    inside = (times >= 0) & (times < len(smooth))
    heights = np.where(inside, smooth[index], 0.0)
    return Lattice(first_s + times * STEP_S, heights, np.cumsum(jumped).astype(np.intp), rows_before)


def _best_path(sound: NDArray[np.float64]) -> tuple[NDArray[np.intp], NDArray[np.bool_]]:
    """Return the offset index of each swing on the best path, and at which swings it jumped."""
    swings, width = sound.shape
    prices = _SHIFT_PRICE * np.square(np.arange(-_SHIFT_STEPS, _SHIFT_STEPS + 1))
    came_from = np.zeros((swings, width), np.int32)
    value = sound[0].copy()
    index = np.arange(width)
    for swing in range(1, swings):
        best = np.full(width, value.max() - _JUMP_PRICE)
        source = np.full(width, int(np.argmax(value)))
        for shift, price in zip(range(-_SHIFT_STEPS, _SHIFT_STEPS + 1), prices, strict=True):
            low, high = max(0, -shift), min(width, width - shift)
            moved = value[low + shift : high + shift] - price
            better = moved > best[low:high]
            best[low:high] = np.where(better, moved, best[low:high])
            source[low:high] = np.where(better, index[low + shift : high + shift], source[low:high])
        came_from[swing] = source
        value = best + sound[swing]
    path = np.zeros(swings, np.intp)
    path[-1] = int(np.argmax(value))
    for swing in range(swings - 1, 0, -1):
        path[swing - 1] = came_from[swing, path[swing]]
    jumped = np.zeros(swings, bool)
    jumped[1:] = np.abs(np.diff(path)) > JUMP_S / STEP_S
    return path, jumped
