"""From a recording to numbered beats: which were heard, when, and how sure."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.beats import MeanTick
from diagnose.measurement.figures.named_results import Refusal
from diagnose.measurement.hearing.kinds import Heard, Kind, hear_beats
from diagnose.measurement.hearing.mean_ticks import mean_ticks
from diagnose.measurement.hearing.numbering import smoothed
from diagnose.measurement.hearing.onsets import STEP_S, Onsets, hear_onsets
from diagnose.measurement.hearing.period import LONGEST_SWING_S
from diagnose.measurement.hearing.second_clock import SecondClock, find_second, without_beats
from diagnose.measurement.hearing.swing import Swing, find_swing, swing_among
from diagnose.measurement.hearing.windows import Windows
from diagnose.measurement.incoming.recording import Recording

LEAST_SECONDS = 2.0
_NEEDED_S = 10.0
_FEW_SECONDS = 6.0
_SILENT_DB = -100.0
_FAINT_KIND_DB = -26.0
"""A second sound fainter than this beside the first is not the other beat of a pendulum."""
_SO_PLAIN = 40.0
"""Where one beat of a swing stands out this far, the other would be heard for sure."""
_FEW_HOLES = 0.8
_CLEARLY_FULLER = 0.1
_SOUND_SHARE = 0.35
_APART_S = 0.08
CLICKS_APART_S = 0.008
_HOUR_S = 3600.0
_RIVALS_DIFFER_S = 3e-3
_SMALLEST_SIGMA_S = 1e-6


@dataclass(frozen=True, slots=True)
class Ticks:
    """The beats of a clock heard in a recording.

    Parameters
    ----------
    times_s : array (N,)
        Instants of the drops [s].
    numbers : int array (N,)
        Number of each beat, counted from the first heard; a silent beat leaves a gap.
    strength : array (N,)
        Output of the matched filter over its noise.
    loudness : array (N,)
        Amplitude beside the mean beat of its kind.
    sigmas_s : array (N,)
        Standard uncertainty of each time from noise [s].
    segments : int array (N,)
        Number of the unbroken piece of recording each belongs to.
    sameness : array (N,)
        How alike each is to the others of its kind, 1 for the same shape and 0 for none in common.
    seconds : float
        Length of the recording [s].
    swing : Swing, optional
        Period and phases it was found by.
    reference_s : float
        Standard uncertainty of the instant of the drop of one kind against the other [s].
    rivals_s : tuple of float
        Other values of (odd minus even) instants, where two impacts compete for the drop [s].
    likeness_of_kinds : float
        How alike the mean tick and the mean tock are.
    kinds_db : float
        Loudness of the odd beats over that of the even ones [dB].
    sounds_s : array (M,)
        Times of all sudden sounds, beats and others, a few ms after they begin [s].
    second : SecondClock, optional
        Another clock in the recording.
    clicks_s : array (C,)
        Times of all clicks, those within one beat apart too [s].
    loud_s : array (K, 2)
        Starts and ends of stretches with something louder than the clock [s].
    warnings : tuple of str
        What a person should know about the recording.
    refusal : Refusal, optional
        Why there is no number.
    mean_ticks : tuple of MeanTick
        The averaged beat of each kind.
    """

    times_s: NDArray[np.float64]
    numbers: NDArray[np.intp]
    strength: NDArray[np.float64]
    loudness: NDArray[np.float64]
    sigmas_s: NDArray[np.float64]
    segments: NDArray[np.intp]
    sameness: NDArray[np.float64]
    seconds: float
    swing: Swing | None = None
    reference_s: float = 0.0
    rivals_s: tuple[float, ...] = ()
    likeness_of_kinds: float = 0.0
    kinds_db: float = 0.0
    sounds_s: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))
    loud_s: NDArray[np.float64] = field(default_factory=lambda: np.empty((0, 2)))
    second: SecondClock | None = None
    warnings: tuple[str, ...] = ()
    refusal: Refusal | None = None
    mean_ticks: tuple[MeanTick, ...] = ()
    clicks_s: NDArray[np.float64] = field(default_factory=lambda: np.empty(0))


def nothing_heard(seconds: float, refusal: Refusal, warnings: tuple[str, ...] = ()) -> Ticks:
    """Return the value that stands for no ticks, with its reason."""
    none = np.empty(0)
    whole = np.empty(0, np.intp)
    return Ticks(none, whole, none, none, none, whole, none, seconds, warnings=warnings, refusal=refusal)


@dataclass(frozen=True, slots=True)
class Found:
    """Beats with what they were found by, so that the hearing can go on in the sound that follows.

    Parameters
    ----------
    ticks : Ticks
        The numbered beats.
    heard : Heard, optional
        The two kinds of beat, None where nothing sure was heard.
    first : int
        Number, by the lattice, of the beat that is number 0.
    """

    ticks: Ticks
    heard: Heard | None = None
    first: int = 0


def find_ticks(recording: Recording, nominal: float | None = None) -> Ticks:
    """Return the numbered beats of the clock in a recording, or a named reason why there are none.

    Parameters
    ----------
    recording : Recording
        Sound.
    nominal : float, optional
        Beats per hour of the train, where known: it helps in noise and is not taken on trust [1/h].
    """
    return find_beats(recording, nominal).ticks


def find_beats(recording: Recording, nominal: float | None = None) -> Found:
    """Return the numbered beats of the clock in a recording with what they were found by.

    Parameters
    ----------
    recording : Recording
        Sound.
    nominal : float, optional
        Beats per hour of the train, where known [1/h].
    """
    warnings = recording.warnings
    if recording.seconds < LEAST_SECONDS:
        return _nothing(recording, named_results.too_short(recording.seconds, _NEEDED_S))
    onsets = hear_onsets(recording.samples, recording.rate_hz)
    if onsets.loudness_db < _SILENT_DB:
        return _nothing(recording, named_results.silent(onsets.loudness_db))
    swing = find_swing(onsets, nominal)
    if swing is None:
        return _nothing(recording, named_results.too_short(recording.seconds, _NEEDED_S))
    windows = Windows(recording.samples, recording.rate_hz)
    heard = hear_beats(windows, onsets, swing)
    heard, swing = _without_false_second(windows, onsets, heard, swing, nominal)
    if nominal is not None and swing.nominal_ignored:
        heard, swing = _the_one_meant(windows, onsets, heard, swing, nominal)
    if nominal is None or swing.nominal_ignored:
        heard, swing = _without_holes(windows, onsets, heard, swing)
    if not heard.kinds:
        return _nothing(recording, _nothing_sure(recording.seconds, swing))
    swing = replace(swing, audible=len(heard.kinds))
    if swing.nominal_ignored and nominal is not None:
        warnings = (
            *warnings,
            f"What is heard does not fit {nominal:.0f} beats an hour; the beats per hour given were not used.",
        )
    return _numbered(recording, onsets, heard, swing, warnings)


def _nothing(recording: Recording, refusal: Refusal) -> Found:
    """Return that nothing was found, with its reason."""
    return Found(nothing_heard(recording.seconds, refusal, recording.warnings))


def _nothing_sure(seconds: float, swing: Swing) -> Refusal:
    """Return the refusal of a recording in which no kind of beat is surely there."""
    sudden = swing.contrast > named_results.SUDDEN_CONTRAST
    if sudden and seconds < _FEW_SECONDS:
        return named_results.too_short(seconds, _NEEDED_S)
    if sudden:
        return named_results.not_a_clock("There are sudden sounds, but they do not come evenly.")
    return named_results.no_ticks()


def _without_false_second(
    windows: Windows,
    onsets: Onsets,
    heard: Heard,
    swing: Swing,
    nominal: float | None,
) -> tuple[Heard, Swing]:
    """Return what was heard without a second sound that is no beat: far too faint, or not sure beside a plain one."""
    if not heard.kinds or not _second_is_false(heard, swing):
        return heard, swing
    louder = max(heard.kinds, key=lambda kind: kind.energy_db())
    alone_s, first = swing.period_s, swing.phases[louder.column]
    given = nominal is not None and not swing.nominal_ignored
    if given or 2.0 * alone_s > LONGEST_SWING_S:
        single = _changed(swing, alone_s, (first, (first + 0.5) % 1.0), audible=1)
    else:
        single = _changed(swing, 2.0 * alone_s, (first / 2.0, (first / 2.0 + 0.5) % 1.0), audible=2)
    return hear_beats(windows, onsets, single), single


def _second_is_false(heard: Heard, swing: Swing) -> bool:
    """Return whether the second sound of a swing cannot be its other beat."""
    if len(heard.kinds) == 2:
        levels = [kind.energy_db() for kind in heard.kinds]
        return abs(levels[1] - levels[0]) >= -_FAINT_KIND_DB
    found_two = swing.audible == 2 and not swing.doubled
    return found_two and float(np.median(heard.kinds[0].arrivals.signal)) >= _SO_PLAIN


def _the_one_meant(windows: Windows, onsets: Onsets, heard: Heard, swing: Swing, nominal: float) -> tuple[Heard, Swing]:
    """Return the clock whose train was given where another, plainer one covers it; else what was heard."""
    beats_s = heard.lattice.times_s.ravel()
    second = find_second(onsets.first_s, beats_s, swing)
    if second is None or not second.fits(nominal):
        return heard, swing
    left = without_beats(swing.strength, onsets.first_s, beats_s)
    meant = swing_among(onsets, left, swing.weights, nominal)
    if meant is None:
        return heard, swing
    plainer = len(heard.kinds) * _HOUR_S / swing.period_s
    return hear_beats(windows, onsets, meant), replace(meant, beside=plainer)


def _without_holes(windows: Windows, onsets: Onsets, heard: Heard, swing: Swing) -> tuple[Heard, Swing]:
    """Return what was heard with twice the period, where that leaves far fewer beats out.

    Two clocks whose beats have a common measure, such as 9000 and 3600 an hour, look like one fast clock with holes.
    """
    if not heard.kinds or heard.share >= _FEW_HOLES or 2.0 * swing.period_s > LONGEST_SWING_S:
        return heard, swing
    fuller = int(np.argmax([float(np.mean(kind.heard)) for kind in heard.kinds]))
    first = swing.phases[fuller] / 2.0
    double = _changed(swing, 2.0 * swing.period_s, (first, (first + 0.5) % 1.0), audible=2)
    again = hear_beats(windows, onsets, double)
    return (again, double) if again.share > heard.share + _CLEARLY_FULLER else (heard, swing)


def _changed(swing: Swing, period_s: float, phases: tuple[float, float], audible: int) -> Swing:
    """Return a swing with another period and other phases."""
    return replace(swing, period_s=period_s, phases=phases, audible=audible, doubled=audible == 2)


def _numbered(
    recording: Recording,
    onsets: Onsets,
    heard: Heard,
    swing: Swing,
    warnings: tuple[str, ...],
) -> Found:
    """Return the beats of both kinds in order of time, numbered from the first heard."""
    if not any(kind.heard.any() for kind in heard.kinds):
        return _nothing(recording, named_results.no_ticks())
    first = min(
        int(2 * kind.swings[kind.heard].min()) + place for place, kind in enumerate(heard.kinds) if kind.heard.any()
    )
    turned = first % 2 == 1
    reference_s, rivals_s, kinds_db = _between_kinds(heard.kinds, turned)
    second = find_second(onsets.first_s, heard.lattice.times_s.ravel(), swing)
    if swing.beside is not None:
        second = SecondClock(swing.beside, 1.0)
    ticks = replace(
        in_order(heard, recording.seconds, -first),
        swing=swing,
        reference_s=reference_s,
        rivals_s=rivals_s,
        likeness_of_kinds=heard.likeness_of_kinds,
        kinds_db=kinds_db,
        sounds_s=sudden_sounds(swing.strength, onsets.first_s, heard.lattice.heights),
        clicks_s=sudden_sounds(swing.strength, onsets.first_s, heard.lattice.heights, CLICKS_APART_S),
        loud_s=onsets.loud_stretches(),
        second=second,
        warnings=warnings,
        mean_ticks=mean_ticks(heard.kinds, turned),
    )
    return Found(ticks, heard, first)


def in_order(heard: Heard, seconds: float, add: int) -> Ticks:
    """Return the beats of both kinds in order, each numbered by the lattice and `add`.

    Parameters
    ----------
    heard : Heard
        The kinds of beat.
    seconds : float
        Length of the sound [s].
    add : int
        What is added to the number a beat has by the lattice.
    """
    parts = [(kind, place) for place, kind in enumerate(heard.kinds)]
    numbers = np.concatenate([2 * kind.swings[kind.heard] + place for kind, place in parts])
    order = np.argsort(numbers, kind="stable")
    joined = {
        name: np.concatenate([getattr(kind.arrivals, name)[kind.heard] for kind, _ in parts])[order]
        for name in ("signal", "loudness", "sigmas_s")
    }
    return Ticks(
        np.concatenate([kind.times_s()[kind.heard] for kind, _ in parts])[order],
        (numbers[order] + add).astype(np.intp),
        joined["signal"],
        joined["loudness"],
        np.maximum(joined["sigmas_s"], _SMALLEST_SIGMA_S),
        heard.lattice.segments[numbers[order] // 2],
        np.concatenate([kind.sameness[kind.heard] for kind, _ in parts])[order],
        seconds,
    )


def _between_kinds(kinds: tuple[Kind, ...], turned: bool) -> tuple[float, tuple[float, ...], float]:
    """Return the uncertainty of one kind's drop against the other's, rival differences and loudness [s, dB]."""
    if len(kinds) < 2:
        return 0.0, (), 0.0
    even, odd = (kinds[1], kinds[0]) if turned else (kinds[0], kinds[1])
    uncertainty_s = float(np.hypot(even.reference.uncertainty_s, odd.reference.uncertainty_s))
    rivals = [rival - odd.reference.instant_s for rival in odd.reference.rivals_s]
    rivals += [even.reference.instant_s - rival for rival in even.reference.rivals_s]
    # Both kinds may be taken at their loudest rival: the second impact may be the loud one on both sides.
    rivals += [
        (late - odd.reference.instant_s) - (early - even.reference.instant_s)
        for late in odd.reference.rivals_s[:1]
        for early in even.reference.rivals_s[:1]
    ]
    told: list[float] = []
    for rival in sorted(rivals, key=abs):
        if all(abs(rival - other) >= _RIVALS_DIFFER_S for other in (0.0, *told)):
            told.append(rival)
    return uncertainty_s, tuple(told), odd.energy_db() - even.energy_db()


def sudden_sounds(
    strength: NDArray[np.float64], first_s: float, heights: NDArray[np.float64], apart_s: float = _APART_S
) -> NDArray[np.float64]:
    """Return times of all sudden sounds that are not much fainter than a beat, shape (M,) [s].

    Parameters
    ----------
    strength : array (F,)
        Detection function, one value a millisecond.
    first_s : float
        Time of its first value [s].
    heights : array (S, 2)
        The detection function where beats are expected.
    apart_s : float
        Of sounds closer together than this only the strongest counts [s].
    """
    from scipy import ndimage

    smooth = smoothed(strength)
    reach = round(apart_s / STEP_S)
    highest = ndimage.maximum_filter1d(smooth, 2 * reach + 1, mode="nearest")
    usual = float(np.median(heights[heights > 0])) if np.any(heights > 0) else np.inf
    peaks = np.flatnonzero((smooth == highest) & (smooth > _SOUND_SHARE * usual))
    return np.asarray(first_s + peaks * STEP_S)
