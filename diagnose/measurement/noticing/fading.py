"""A swing that dies: ticks that grow fainter, a beat error that grows with them, ticks that end."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.noticing.turning import Floats

_LEAST_BEATS = 24
_LEAST_FALL_DB = 4.0
_FALL_SIGMAS = 6.0
_BLOCKS = 8
_STEP_BETTER = 1.5
"""How many times less a single step must leave than a steady fall, to say that the phone was moved."""
_MAD_TO_SIGMA = 1.4826
_TENTH_DB = 20.0
_GROWTH_SIGMAS, _LEAST_GROWTH = 4.0, 0.05
_ENDED_BEATS, _ENDED_S = 4.0, 2.0
_COVERED_S = 1.0


@dataclass(frozen=True, slots=True)
class Fall:
    """Ticks that grow fainter.

    Parameters
    ----------
    fall_db : float
        By how much, from the first to the last [dB].
    plain : bool
        Whether they fall steadily; if not, at one moment, as when the phone is moved.
    tenth_s : float
        From the beginning of the recording until they are down to a tenth, if it goes on so; inf where not plain [s].
    """

    fall_db: float
    plain: bool
    tenth_s: float


def loudness_fall(times_s: Floats, numbers: NDArray[np.intp], loudness: Floats) -> Fall | None:
    """Return how the ticks grow fainter, or None where they do not.

    Parameters
    ----------
    times_s, numbers, loudness : array (N,)
        The beats: times [s], numbers, amplitudes beside the mean of their kind.
    """
    if len(times_s) < _LEAST_BEATS:
        return None
    level_db = 20.0 * np.log10(np.maximum(loudness, 1e-4))
    for kind in (0, 1):
        own = numbers % 2 == kind
        if own.any():
            level_db[own] -= np.median(level_db[own])
    # Medians of blocks: a loud voice over a few beats does not count.
    blocks = np.array_split(np.arange(len(times_s)), _BLOCKS)
    at_s = np.array([np.mean(times_s[rows]) for rows in blocks])
    middle_db = np.array([np.median(level_db[rows]) for rows in blocks])
    slope, level = np.polyfit(at_s, middle_db, 1)
    rest = middle_db - level - slope * at_s
    own_db = _MAD_TO_SIGMA * float(np.median(np.abs(level_db - np.interp(times_s, at_s, middle_db))))
    error = float(np.hypot(np.std(rest), own_db / np.sqrt(len(times_s) / _BLOCKS)))
    sigma = error / max(float(np.std(at_s)) * np.sqrt(_BLOCKS), 1e-9)
    fall_db = float(-slope * (times_s[-1] - times_s[0]))
    if fall_db < _LEAST_FALL_DB or -slope < _FALL_SIGMAS * sigma:
        return None if not _is_step(middle_db, rest) else Fall(fall_db, False, float("inf"))
    if _is_step(middle_db, rest):
        return Fall(fall_db, False, float("inf"))
    return Fall(fall_db, True, float(times_s[0] + _TENTH_DB / -slope))


def _is_step(middle_db: Floats, rest: Floats) -> bool:
    """Return whether one step down explains the levels of the blocks better than a steady fall."""
    splits = range(1, len(middle_db))
    left = [np.sum(np.square(middle_db[:at] - middle_db[:at].mean())) for at in splits]
    right = [np.sum(np.square(middle_db[at:] - middle_db[at:].mean())) for at in splits]
    best = int(np.argmin(np.array(left) + right))
    down = float(middle_db[: best + 1].mean() - middle_db[best + 1 :].mean())
    return down > _LEAST_FALL_DB and _STEP_BETTER * (left[best] + right[best]) < float(np.sum(np.square(rest)))


@dataclass(frozen=True, slots=True)
class BeatChange:
    """A beat error that is not the same at the end as at the beginning.

    Parameters
    ----------
    first_percent, last_percent : float
        Beat error of the first and of the last third; one sign for one longer side [% of the swing].
    sigma_percent : float
        Standard uncertainty of their difference [%].
    """

    first_percent: float
    last_percent: float
    sigma_percent: float

    @property
    def sure(self) -> bool:
        """Whether the difference is far beyond what scatter makes."""
        return abs(self.last_percent - self.first_percent) > _GROWTH_SIGMAS * self.sigma_percent

    @property
    def grows(self) -> bool:
        """Whether it grows, with the same side longer, as it does when the swing shrinks."""
        first, last = abs(self.first_percent), abs(self.last_percent)
        same_side = self.first_percent * self.last_percent > 0
        return self.sure and same_side and last > first * (1.0 + _LEAST_GROWTH)


def beat_change(times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> BeatChange | None:
    """Return how the beat error of the last third differs from that of the first, or None where too few are heard.

    Parameters
    ----------
    times_s, numbers, segments : array (N,)
        The beats: times [s], numbers, unbroken pieces.
    """
    uneven, swing_s = unevenness(times_s, numbers, segments)
    third = len(uneven) // 3
    if third < _LEAST_BEATS // 3:
        return None
    parts = [uneven[:third], uneven[-third:]]
    middles = [float(np.median(part)) for part in parts]
    # Neighboring values share a beat each, which makes their median a little less sure than independent ones.
    sigmas = [1.5 * _MAD_TO_SIGMA * float(np.median(np.abs(part - np.median(part)))) / np.sqrt(third) for part in parts]
    scale = 100.0 / swing_s
    return BeatChange(scale * middles[0], scale * middles[1], scale * float(np.hypot(*sigmas)))


def unevenness(times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> tuple[Floats, float]:
    """Return t1 - t2 around each beat that has both neighbors, shape (U,) [s], and the length of a swing [s]."""
    here = np.arange(1, len(times_s) - 1)
    whole = (numbers[here + 1] - numbers[here - 1] == 2) & (segments[here + 1] == segments[here - 1])
    here = here[whole]
    sign = np.where(numbers[here] % 2 == 1, 1.0, -1.0)
    swing_s = float(np.median(times_s[here + 1] - times_s[here - 1])) if len(here) else 1.0
    return sign * (2.0 * times_s[here] - times_s[here - 1] - times_s[here + 1]), swing_s


def rate_changes(times_s: Floats, numbers: NDArray[np.intp], segments: NDArray[np.intp]) -> bool:
    """Return whether the swings grow longer or shorter while they are heard, as they do when the swing shrinks.

    In which way depends on the escapement: with recoil a smaller swing is slower, by itself it would be faster.

    Parameters
    ----------
    times_s, numbers, segments : array (N,)
        The beats: times [s], numbers, unbroken pieces.
    """
    here = np.flatnonzero((np.diff(segments) == 0) & (np.diff(numbers) > 0))
    if len(here) < _LEAST_BEATS:
        return False
    blocks = np.array_split(np.arange(len(times_s)), _BLOCKS)
    whole = [rows for rows in blocks if len(rows) >= 3 and segments[rows[0]] == segments[rows[-1]]]
    if len(whole) < _BLOCKS:
        return False
    # The line through each block; a beat error tilts none of them by much, and all of them alike.
    periods = np.array([np.polyfit(numbers[rows], times_s[rows], 1)[0] for rows in whole])
    at = np.arange(len(periods)) - (len(periods) - 1) / 2.0
    slope = float(at @ periods / (at @ at))
    rest = periods - periods.mean() - slope * at
    error = float(np.sqrt(rest @ rest / (len(periods) - 2) / (at @ at)))
    return abs(slope) > _FALL_SIGMAS * error


def ended_at(times_s: Floats, seconds: float, period_s: float, covered_s: Floats) -> float | None:
    """Return when the ticks end, where that is well before the recording does and nothing louder covers it [s].

    Parameters
    ----------
    times_s : array (N,)
        The beats [s].
    seconds : float
        Length of the recording [s].
    period_s : float
        Period of a beat [s].
    covered_s : array (K, 2)
        Starts and ends of what is louder than the clock [s].
    """
    last_s = float(times_s[-1])
    silent_s = seconds - last_s
    for start, end in covered_s:
        if end > last_s and start < seconds:
            silent_s -= min(end, seconds) - max(start - _COVERED_S, last_s)
    return last_s if silent_s > max(_ENDED_BEATS * period_s, _ENDED_S) else None
