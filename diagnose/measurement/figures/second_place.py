"""A second recording of the same clock from another place, or by another phone: which of two impacts is the drop.

An impact that is loud in one place may be faint in another, for the case carries each its own way. The drop of the
tooth is the one that is there in both. So a beat error on which both recordings can agree is the one that holds.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from diagnose.measurement.figures.beats import Beats, Quality, refused
from diagnose.measurement.figures.named_results import two_clocks
from diagnose.measurement.figures.timing import TWO_IMPACTS
from diagnose.measurement.hearing.sides import EarlySide

_SAME_TRAIN = 5e-3
"""Beats an hour that differ by more are of two clocks; far more than any phone is off."""
_AGREE_SIGMAS, _AGREE_PERCENT = 3.0, 0.3
_GOOD_PERCENT, _GOOD_BEATS = 0.5, 20
_NO_BEAT = "The other recording gives no beat error, so it settles nothing."
_SETTLED = "Two impacts competed for the drop of the tooth; the recording from the other place settles it."
_OTHER: dict[EarlySide, EarlySide] = {"left": "right", "right": "left", "unknown": "unknown"}
_OTHER_HALF: dict[Literal["even", "odd"] | None, Literal["even", "odd"] | None] = {
    "even": "odd",
    "odd": "even",
    None: None,
}
_SIDES_DIFFER = (
    "The two recordings name different sides as early. Draw the bob to the same side again, and record once more."
)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A beat error that one recording allows; `main` where it is the one the recording gave.

    `turned` says whether the other intervals are then the longer ones; None where that is not known.
    """

    percent: float
    main: bool
    turned: bool | None = False


def together(one: Beats, other: Beats) -> Beats:
    """Return what two recordings of the same clock say together, the first of them with its figures.

    Parameters
    ----------
    one, other : Beats
        Heard from two places, at the same time or shortly one after the other.

    Returns
    -------
    Beats
        With the beat error on which both can agree and without its rivals; with both rivals where both places hear
        both impacts; without a beat error where the two cannot agree; refused where they are of two clocks.
    """
    if one.refused or one.beats_per_hour is None:
        return other
    if other.refused or other.beats_per_hour is None:
        return one.with_warnings(_NO_BEAT)
    if abs(one.beats_per_hour / other.beats_per_hour - 1.0) > _SAME_TRAIN:
        return refused(two_clocks(one.beats_per_hour, other.beats_per_hour))
    if one.beat_error_percent is None:
        return other
    if other.beat_error_percent is None:
        return one.with_warnings(_NO_BEAT)
    return _agreed(one, other)


def _agreed(one: Beats, other: Beats) -> Beats:
    """Return what two recordings that both have a beat error say together."""
    near = max(_AGREE_SIGMAS * float(np.hypot(_own_sigma(one), _own_sigma(other))), _AGREE_PERCENT)
    pairs = [
        (first, second)
        for first in _candidates(one)
        for second in _candidates(other)
        if abs(first.percent - second.percent) <= near
    ]
    if not pairs:
        return _no_agreement(one, other)
    # Where both can agree on several, the one that each gave by itself comes first, then the nearest.
    pairs.sort(key=lambda pair: (-pair[0].main - pair[1].main, abs(pair[0].percent - pair[1].percent)))
    first, second = pairs[0]
    left = [pair[0] for pair in pairs[1:] if abs(pair[0].percent - first.percent) > near]
    return _combined(_base(one, other, first, second), one, other, first, second, left)


def _candidates(beats: Beats) -> list[_Candidate]:
    main = abs(beats.beat_error_percent or 0.0)
    turned = beats.rivals_turned or (None,) * len(beats.rivals_percent)
    rivals = zip(beats.rivals_percent, turned, strict=True)
    return [_Candidate(main, True), *(_Candidate(abs(rival), False, way) for rival, way in rivals)]


def _own_sigma(beats: Beats) -> float:
    """Return the uncertainty of a beat error if it is the right impact: without the doubt which it is [%]."""
    timing, instant = (beats.terms.get(f"beat_error_{name}_ms", 0.0) for name in ("timing", "instant"))
    return float(np.hypot(timing, instant)) * _percent_a_ms(beats)


def _percent_a_ms(beats: Beats) -> float:
    """Return how many percent of the swing one ms of beat error is [%/ms]."""
    milliseconds_an_hour = 3.6e6
    return 100.0 * (beats.beats_per_hour or 0.0) / milliseconds_an_hour


def _base(one: Beats, other: Beats, first: _Candidate, second: _Candidate) -> Beats:
    """Return the recording whose side and order of intervals hold for what was agreed."""
    if first.main and (one.early_side != "unknown" or other.early_side == "unknown" or not second.main):
        return one
    if second.main:
        return other
    return _turned(one, first.turned)


def _turned(beats: Beats, turned: bool | None) -> Beats:
    """Return a recording as it reads by a rival: where that is known, with the other side early."""
    if turned is None:
        return replace(beats, early_side="unknown", longer=None)
    return replace(beats, early_side=_OTHER[beats.early_side], longer=_OTHER_HALF[beats.longer]) if turned else beats


def _combined(
    base: Beats, one: Beats, other: Beats, first: _Candidate, second: _Candidate, left: list[_Candidate]
) -> Beats:
    """Return the agreed beat error, weighted by how sure each is."""
    sigmas = _own_sigma(one), _own_sigma(other)
    weight = sigmas[1] ** 2 / max(sigmas[0] ** 2 + sigmas[1] ** 2, 1e-12)
    percent = weight * first.percent + (1.0 - weight) * second.percent
    # Heard at the same time, the scatter of the clock is the same in both: two recordings do not lessen it.
    per_ms = _percent_a_ms(one)
    timing_ms = min(beats.terms.get("beat_error_timing_ms", 0.0) for beats in (one, other))
    instants_ms = [beats.terms.get("beat_error_instant_ms", 0.0) for beats in (one, other)]
    apart_ms = abs(first.percent - second.percent) / per_ms / 2.0
    instant_ms = float(np.hypot(np.hypot(weight * instants_ms[0], (1.0 - weight) * instants_ms[1]), apart_ms))
    sigma_ms = float(np.hypot(timing_ms, instant_ms))
    if left:
        # Both places hear both impacts: which is the drop stays as doubtful as it was.
        sigma_ms = max(sigma_ms, min((beats.uncertainty["beat_error_ms"] or 0.0) for beats in (one, other)))
    sides = {beats.early_side for beats in (one, other)} - {"unknown"}
    differ = len(sides) > 1 and first.main and second.main
    side = "unknown" if differ else base.early_side
    sign = -1.0 if side == "left" else 1.0
    had_rivals = bool(one.rivals_percent or other.rivals_percent)
    warnings = tuple(text for text in dict.fromkeys(base.warnings) if not text.startswith(TWO_IMPACTS))
    told: tuple[str, ...] = (_SIDES_DIFFER,) if differ else ()
    told += (_both_heard(percent, left),) if left else (_SETTLED,) if had_rivals else ()
    return replace(
        base,
        beats=min(one.beats, other.beats),
        beat_error_percent=sign * percent,
        beat_error_ms=sign * percent / per_ms,
        early_side=side,
        rivals_percent=tuple(round(rival.percent, 2) for rival in left),
        rivals_turned=_ways(first, left),
        uncertainty={**base.uncertainty, "beat_error_ms": sigma_ms, "beat_error_percent": sigma_ms * per_ms},
        terms={**base.terms, "beat_error_timing_ms": timing_ms, "beat_error_instant_ms": instant_ms},
        quality=_quality(base, min(one.beats, other.beats), sigma_ms * per_ms, bool(left)),
        warnings=(*warnings, *told),
    )


def _quality(base: Beats, beats: int, sigma_percent: float, rivals: bool) -> Quality:
    if rivals:
        return base.quality
    if beats >= _GOOD_BEATS and sigma_percent <= _GOOD_PERCENT:
        return "good"
    return "fair" if base.quality == "good" else base.quality


def _ways(first: _Candidate, left: list[_Candidate]) -> tuple[bool, ...]:
    """Return which of the rivals left make other intervals the longer ones than what was agreed does."""
    if first.turned is None or any(rival.turned is None for rival in left):
        return ()
    return tuple(bool(rival.turned) != first.turned for rival in left)


def _both_heard(percent: float, left: list[_Candidate]) -> str:
    told = " or ".join(f"{rival.percent:.1f} %" for rival in left)
    return (
        f"{TWO_IMPACTS}, and both places hear both of them: {percent:.1f} %, or {told}. "
        "Try a third place, or judge by ear."
    )


def _no_agreement(one: Beats, other: Beats) -> Beats:
    """Return the figures of the first without a beat error: the two recordings exclude each other."""
    values = sorted(candidate.percent for beats in (one, other) for candidate in _candidates(beats))
    first, second = abs(one.beat_error_percent or 0.0), abs(other.beat_error_percent or 0.0)
    kept = {name: value for name, value in one.uncertainty.items() if not name.startswith("beat_error")}
    return replace(
        one,
        beat_error_percent=None,
        beat_error_ms=None,
        early_side="unknown",
        longer=None,
        rivals_percent=tuple(round(value, 2) for value in values),
        rivals_turned=(),
        uncertainty={**kept, "beat_error_ms": None, "beat_error_percent": None},
        quality="poor",
        warnings=(
            *(text for text in one.warnings if not text.startswith(TWO_IMPACTS)),
            f"The two recordings do not agree: {first:.1f} % in one and {second:.1f} % in the other. "
            "Record both again at the same time, close to the movement, without touching the clock between them.",
        ),
    )
