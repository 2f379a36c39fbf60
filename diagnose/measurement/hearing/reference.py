"""Which instant of a beat is "the" instant: the drop of the tooth, the first strong impact of the mean beat.

A matched filter compares beats of one kind with one another. The beat error compares the two kinds, so both need the
same physical instant; a beat is often several impacts, and taking a late one on one side only is the way to a beat
error that is wrong by tens of milliseconds. So rivals are kept and told.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

_STRONG = 0.40
"""The first strong impact is the first that reaches this share of the loudest part."""
_FOOT = 0.25
"""Its instant is where, going back from there, the loudness falls to this share."""
_OTHER_RULES = ((0.40, 0.15), (0.50, 0.35), (0.60, 0.25), (0.30, 0.20))
_LEAST_UNCERTAINTY_S = 8e-5
_LEAST_SAMPLES = 0.9
"""In a narrow band an onset is blurred by about one over the band: nine tenths of a sample of the recording."""
_RIVAL_APART_S = 6e-3
_RIVAL_EARLY = ((9.5e-3, 0.10), (4e-3, 0.28))
"""Distance and loudness from which an earlier, weaker impact may be the drop and the loud one what follows it."""
_RIVAL_LATE = 1.3
"""A later impact must be clearly louder than the first to be taken for the drop."""
_HALF = 0.5
_TINY = 1e-30
_RIVALS_MOST = 2
_RISE_FACTOR = 2.0
_RISE_WITHIN_S = 4e-3
_ABOVE_NOISE = 6.0


@dataclass(frozen=True, slots=True)
class Reference:
    """The instant of the drop in a mean beat.

    Parameters
    ----------
    instant_s : float
        Relative to the template's zero [s].
    uncertainty_s : float
        How far other sensible rules put it elsewhere, at least 0.08 ms [s].
    rivals_s : tuple of float
        Instants of other impacts that might be the drop, relative to the template's zero [s].
    """

    instant_s: float
    uncertainty_s: float
    rivals_s: tuple[float, ...] = ()


def find_reference(
    shape: NDArray[np.float64], zero: int, rate_hz: float, noise_level: float = 0.0, recorded_hz: float = 44_100.0
) -> Reference:
    """Return the instant of the first strong impact of a mean beat, its uncertainty and its rivals.

    Parameters
    ----------
    shape : array (L,)
        Amplitude of the mean beat over time.
    zero : int
        Sample that counts as time zero.
    rate_hz : float
        Samples per second of `shape` [Hz].
    noise_level : float
        Noise left in `shape`.
    recorded_hz : float
        Samples per second of the recording, which limit how sharp an onset can be [Hz].
    """
    top = float(shape.max()) if len(shape) else 0.0
    if top <= 0.0:
        return Reference(0.0, _RIVAL_APART_S)
    chosen = _instant(shape, top, _STRONG, _FOOT)
    others = [_instant(shape, top, strong, foot) for strong, foot in _OTHER_RULES]
    # A rule that lands on another impact tells of a rival, not of the width of this one.
    near = [other - chosen for other in others if abs(other - chosen) < _RIVAL_APART_S / 2.0 * rate_hz]
    spread_s = float(np.sqrt(np.mean(np.square(near)))) / rate_hz if near else 0.0
    least_s = float(np.hypot(_LEAST_UNCERTAINTY_S, _LEAST_SAMPLES / recorded_hz))
    noisy_s = noise_level / max(_steepness(shape, top, chosen), _TINY) / rate_hz
    uncertainty_s = float(np.sqrt(least_s**2 + (spread_s / 2.0) ** 2 + noisy_s**2))
    rivals = _rivals(shape, top, chosen, rate_hz, max(noise_level * _ABOVE_NOISE, 0.0))
    return Reference((chosen - zero) / rate_hz, uncertainty_s, tuple((rival - zero) / rate_hz for rival in rivals))


def _instant(shape: NDArray[np.float64], top: float, strong: float, foot: float) -> float:
    """Return where the shape, going back from its first strong impact, falls to a share of its top [samples]."""
    index = int(np.argmax(shape >= strong * top))
    while index > 0 and shape[index] > foot * top:
        index -= 1
    rise = float(shape[index + 1] - shape[index]) if index + 1 < len(shape) else 0.0
    part = (foot * top - float(shape[index])) / rise if rise > 0 else 0.0
    return index + float(np.clip(part, 0.0, 1.0))


def _steepness(shape: NDArray[np.float64], top: float, foot: float) -> float:
    """Return how fast the shape rises from its foot to the strong level, in loudness for each sample."""
    first = int(foot)
    strong = first + int(np.argmax(shape[first:] >= _STRONG * top))
    return (_STRONG - _FOOT) * top / max(strong - foot, 1.0)


def _rivals(shape: NDArray[np.float64], top: float, chosen: float, rate_hz: float, floor: float) -> list[float]:
    """Return the starts of other impacts that might be the drop [samples]."""
    within = max(round(_RISE_WITHIN_S * rate_hz), 2)
    found: list[tuple[float, float]] = []
    first_height = float(shape[int(chosen) : int(chosen) + within].max())
    for peak in _peaks(shape, within):
        height = float(shape[peak])
        before = shape[max(peak - within, 0) : peak + 1]
        if height < floor or height < _RISE_FACTOR * float(before.min()):
            continue
        start = peak - within + _last_below(before, _HALF * (height + float(before.min())))
        apart_s = (start - chosen) / rate_hz
        early = any(apart_s < -apart and height >= share * top for apart, share in _RIVAL_EARLY)
        late = apart_s > _RIVAL_APART_S and height >= _RIVAL_LATE * first_height
        if early:
            # Beats that differ smear an early impact; where it first shows is nearest to its drop.
            start = int(np.argmax(shape >= _HALF * height))
        if early or late:
            found.append((height, float(start)))
    return [start for _, start in sorted(found, reverse=True)[:_RIVALS_MOST]]


def _peaks(shape: NDArray[np.float64], within: int) -> list[int]:
    """Return the places that are the highest of their neighborhood."""
    from scipy import ndimage

    highest = ndimage.maximum_filter1d(shape, 2 * within + 1, mode="nearest")
    return [int(index) for index in np.flatnonzero((shape == highest) & (shape > 0))]


def _last_below(before: NDArray[np.float64], level: float) -> int:
    """Return the last place of a rise that is still below a level."""
    below = np.flatnonzero(before < level)
    return int(below[-1]) + 1 if len(below) else 0
