"""The averaged beat of each side, coarse enough to keep with a result and fine enough to draw."""

from __future__ import annotations

from typing import Literal

import numpy as np

from diagnose.measurement.figures.beats import MeanTick
from diagnose.measurement.hearing.kinds import Kind

BEFORE_S, AFTER_S = 0.008, 0.040
"""What is kept around the instant of the drop: most of a beat's sound has died away after it."""
_BESIDE_RIVAL_S = 0.004
_STEP_S = 2.5e-4
_MOST_VALUES = 240
_MS = 1e3
_LEVEL_DIGITS, _MS_DIGITS = 4, 3


def mean_ticks(kinds: tuple[Kind, ...], turned: bool) -> tuple[MeanTick, ...]:
    """Return the averaged beats, the even one first; one where only one beat of a swing is heard.

    Parameters
    ----------
    kinds : tuple of Kind
        The kinds of beat heard.
    turned : bool
        Whether the first beat heard, number 0, is of the second kind.
    """
    if not kinds:
        return ()
    ordered = kinds[::-1] if turned else kinds
    top = max(float(kind.arrivals.shape.max()) for kind in ordered)
    if top <= 0.0:
        return ()
    names: tuple[Literal["even", "odd"], ...] = ("even", "odd")
    return tuple(_mean_tick(kind, name, top) for kind, name in zip(ordered, names, strict=False))


def _mean_tick(kind: Kind, name: Literal["even", "odd"], top: float) -> MeanTick:
    """Return one averaged beat: the loudest of each short step, so that no impact is lost."""
    arrivals, reference = kind.arrivals, kind.reference
    rate_hz, zero = arrivals.shape_hz, arrivals.zero
    first_s = min([reference.instant_s - BEFORE_S, *(rival - _BESIDE_RIVAL_S for rival in reference.rivals_s)])
    last_s = max([reference.instant_s + AFTER_S, *(rival + _BESIDE_RIVAL_S for rival in reference.rivals_s)])
    step = round(_STEP_S * rate_hz)
    first = max(zero + round(first_s * rate_hz), 0)
    last = min(zero + round(last_s * rate_hz), len(arrivals.shape))
    step *= int(np.ceil((last - first) / (step * _MOST_VALUES)))
    count = (last - first) // step
    level = arrivals.shape[first : first + count * step].reshape(count, step).max(axis=1) / top
    return MeanTick(
        name,
        round(_MS * (first - zero) / rate_hz, _MS_DIGITS),
        round(_MS * step / rate_hz, _MS_DIGITS),
        tuple(round(float(value), _LEVEL_DIGITS) for value in level),
        round(_MS * reference.instant_s, _MS_DIGITS),
        tuple(round(_MS * rival, _MS_DIGITS) for rival in reference.rivals_s),
        round(arrivals.noise_level / top, _LEVEL_DIGITS),
    )
