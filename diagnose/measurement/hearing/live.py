"""Hearing sound as it comes, from a microphone or a long file, in a memory that does not grow with its length.

The first minute and a half is heard as one recording. What was learned there, the swing and the mean beat of each kind,
then times the beats of each further half minute, and the sound itself is let go.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.sample_clock import UNCALIBRATED, SampleClock
from diagnose.measurement.figures.timing import measure_beats
from diagnose.measurement.hearing.kinds import Heard, hear_more
from diagnose.measurement.hearing.numbering import JUMP_S, Lattice, follow
from diagnose.measurement.hearing.onsets import Onsets, hear_onsets
from diagnose.measurement.hearing.sides import Side
from diagnose.measurement.hearing.swing import Swing
from diagnose.measurement.hearing.ticks import CLICKS_APART_S, Found, Ticks, find_beats, in_order, sudden_sounds
from diagnose.measurement.hearing.windows import Windows
from diagnose.measurement.incoming.level import WINDOW_S, Level, level_of
from diagnose.measurement.incoming.recording import Recording

WHOLE_S = 90.0
"""So much is heard at once; of anything longer the rest is heard piece by piece."""
_PIECE_S = 30.0
_LEAD_S = 3.0
"""Before each piece so much of the one before it is heard again: the longest swing fits into it."""
_LEAST_PIECE_S = 0.5
_TRIED_AGAIN_S = 45.0
_PERIOD_CHANGE = 0.01
_PERIOD_BEATS = 8
_SAME_SOUND_S = 0.07

Sound = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class _Known:
    """What has been learned of a clock, and how far it has been heard.

    Parameters
    ----------
    heard : Heard
        Its kinds of beat.
    swing : Swing
        Its swing.
    add : int
        What is added to twice the number of a swing to number its first beat.
    base_s : float
        Start of one of the last swings heard [s].
    base_row : int
        Its number.
    last_rows : tuple of int
        The last swing heard of each kind.
    segment : int
        Number of the unbroken piece the last beats belong to.
    """

    heard: Heard
    swing: Swing
    add: int
    base_s: float
    base_row: int
    last_rows: tuple[int, ...]
    segment: int


class Listening:
    """Hears one clock in blocks of sound and gives the best result so far at any time.

    Parameters
    ----------
    rate_hz : float
        Samples per second [Hz].
    nominal : float, optional
        Beats per hour of the train, where known [1/h].
    first_side : str, optional
        The side the bob was drawn to, until it ticked, and let go from: "left" or "right", facing the dial.
    sample_clock : SampleClock, optional
        How true the recorder counts time, where that was found out.
    """

    def __init__(
        self,
        rate_hz: float,
        nominal: float | None = None,
        first_side: Side | None = None,
        sample_clock: SampleClock | None = None,
    ) -> None:
        self.rate_hz = rate_hz
        self.nominal = nominal
        self.first_side = first_side
        self.sample_clock = sample_clock or UNCALIBRATED
        self._blocks: list[Sound] = []
        self._held = 0
        self._start = 0
        self._known: _Known | None = None
        self._parts: list[Ticks] = []

    @property
    def seconds(self) -> float:
        """Length of the sound taken in so far [s]."""
        return (self._start + self._held) / self.rate_hz

    def feed(self, samples: Sound) -> None:
        """Take in the next sound, shape (N,), full scale 1."""
        self._blocks.append(np.asarray(samples, np.float32))
        self._held += len(samples)
        if self._known is None:
            if self._held >= WHOLE_S * self.rate_hz:
                self._learn()
            return
        while self._held >= (_LEAD_S + _PIECE_S) * self.rate_hz:
            self._hear_piece()

    def ticks(self, warnings: Sequence[str] = ()) -> Ticks:
        """Return all beats heard so far.

        Parameters
        ----------
        warnings : sequence of str
            What is already known about the sound.
        """
        if self._known is None:
            found = self._find().ticks
            ticks = replace(_later(found, self._start / self.rate_hz), seconds=self.seconds)
            told = [f"The first {self._start / self.rate_hz:.0f} s could not be used."] if self._start else []
            return replace(ticks, warnings=(*warnings, *ticks.warnings, *told))
        parts = self._parts
        if self._held >= (_LEAD_S + _LEAST_PIECE_S) * self.rate_hz:
            parts = [*parts, self._next_piece(self._known, self._sound())[0]]
        ticks = _joined(parts, self.seconds)
        return replace(ticks, warnings=(*warnings, *ticks.warnings))

    def result(self, warnings: Sequence[str] = ()) -> Beats:
        """Return beat and rate as far as they can be told by now.

        Parameters
        ----------
        warnings : sequence of str
            What is already known about the sound.
        """
        return measure_beats(self.ticks(warnings), self.nominal, self.first_side, self.sample_clock)

    def level(self) -> Level:
        """Return how the clock comes in at this moment."""
        return level_of(self._last(WINDOW_S), self.rate_hz)

    def _last(self, seconds: float) -> Sound:
        """Return the last seconds of the sound that is held."""
        wanted, parts = round(seconds * self.rate_hz), []
        for block in reversed(self._blocks):
            parts.append(block)
            wanted -= len(block)
            if wanted <= 0:
                break
        return np.concatenate(parts[::-1])[max(-wanted, 0) :] if parts else np.empty(0, np.float32)

    def _sound(self) -> Sound:
        """Return the sound that is held, as one array."""
        if len(self._blocks) != 1:
            self._blocks = [np.concatenate(self._blocks) if self._blocks else np.empty(0, np.float32)]
        return self._blocks[0]

    def _keep_last(self, seconds: float) -> None:
        """Let go all sound but the last seconds."""
        sound = self._sound()
        cut = max(len(sound) - round(seconds * self.rate_hz), 0)
        self._blocks = [sound[cut:].copy()]
        self._held = len(sound) - cut
        self._start += cut

    def _find(self) -> Found:
        sound = self._sound()
        return find_beats(Recording(sound, self.rate_hz, len(sound) / self.rate_hz), self.nominal)

    def _learn(self) -> None:
        """Hear what is held as one recording; where that gives a figure, go on from what was learned."""
        found = self._find()
        heard, swing = found.heard, found.ticks.swing
        side = self.first_side if self._start == 0 else None
        if heard is None or swing is None or measure_beats(found.ticks, self.nominal, side).refused is not None:
            self._keep_last(_TRIED_AGAIN_S)
            return
        start_s = self._start / self.rate_hz
        self._parts = [_later(found.ticks, start_s)]
        self._known = _learned(heard, swing, found, start_s)
        self._keep_last(_LEAD_S)

    def _hear_piece(self) -> None:
        """Hear the next piece and let its sound go."""
        known = self._known
        if known is None:
            return
        sound = self._sound()
        piece = sound[: round((_LEAD_S + _PIECE_S) * self.rate_hz)]
        part, self._known = self._next_piece(known, piece)
        self._parts.append(part)
        rest = sound[len(piece) - round(_LEAD_S * self.rate_hz) :].copy()
        self._start += len(sound) - len(rest)
        self._blocks, self._held = [rest], len(rest)

    def _next_piece(self, known: _Known, sound: Sound) -> tuple[Ticks, _Known]:
        """Return the beats of the sound that follows, and what is known after it."""
        start_s = self._start / self.rate_hz
        onsets = hear_onsets(sound, self.rate_hz)
        strength = _strength(onsets, known.swing)
        swing = replace(known.swing, start_s=known.base_s - start_s, strength=strength)
        lattice = follow(strength, onsets.first_s, swing)
        to_row = known.base_row - lattice.origin
        after = tuple(row - to_row for row in known.last_rows)
        heard = hear_more(known.heard, Windows(sound, self.rate_hz), lattice, after)
        ticks = in_order(heard, len(sound) / self.rate_hz, known.add + 2 * to_row)
        segments = _segments(known, lattice, to_row, start_s)
        rows = (ticks.numbers - known.add) // 2 - to_row
        ticks = replace(
            ticks,
            segments=segments[rows],
            sounds_s=sudden_sounds(strength, onsets.first_s, lattice.heights),
            clicks_s=sudden_sounds(strength, onsets.first_s, lattice.heights, CLICKS_APART_S),
            loud_s=onsets.loud_stretches(),
        )
        return _later(ticks, start_s), _gone_on(known, heard, ticks, segments, to_row, start_s)


def _strength(onsets: Onsets, swing: Swing) -> NDArray[np.float64]:
    """Return the detection function of a piece, made as the one the swing was found in."""
    return onsets.joined(onsets.loud if swing.by_loudness else onsets.bands, swing.weights)


def _learned(heard: Heard, swing: Swing, found: Found, start_s: float) -> _Known:
    """Return what a first recording teaches."""
    row = _last_inside(heard.lattice, found.ticks.seconds)
    apart = (swing.phases[1] - swing.phases[0]) % 1.0
    last_rows = tuple(int(kind.swings[-1]) for kind in heard.kinds)
    swing = replace(swing, phases=(0.0, apart), period_s=_period(found.ticks, swing.period_s))
    base_s = start_s + float(heard.lattice.times_s[row, 0])
    return _Known(heard, swing, -found.first, base_s, row, last_rows, int(heard.lattice.segments[row]))


def _gone_on(
    known: _Known, heard: Heard, ticks: Ticks, segments: NDArray[np.intp], to_row: int, start_s: float
) -> _Known:
    """Return what is known after a further piece."""
    row = _last_inside(heard.lattice, ticks.seconds)
    last_rows = tuple(
        int(kind.swings[-1]) + to_row if len(kind.swings) else last
        for kind, last in zip(heard.kinds, known.last_rows, strict=True)
    )
    swing = replace(known.swing, period_s=_period(ticks, known.swing.period_s))
    base_s = start_s + float(heard.lattice.times_s[row, 0])
    return replace(
        known,
        swing=swing,
        base_s=base_s,
        base_row=row + to_row,
        last_rows=last_rows,
        segment=int(segments[row]),
    )


def _last_inside(lattice: Lattice, seconds: float) -> int:
    """Return the last row of a lattice whose swing begins in the sound."""
    return int(np.flatnonzero(lattice.times_s[:, 0] < seconds)[-1])


def _segments(known: _Known, lattice: Lattice, to_row: int, start_s: float) -> NDArray[np.intp]:
    """Return the number of the unbroken piece of each row, going on from those before."""
    first = int(np.clip(min(known.last_rows) + 1 - to_row, 0, len(lattice.segments) - 1))
    expected_s = known.base_s + (first + to_row - known.base_row) * known.swing.period_s
    jumped = abs(start_s + float(lattice.times_s[first, 0]) - expected_s) > JUMP_S
    return np.asarray(lattice.segments - lattice.segments[first] + known.segment + int(jumped))


def _period(ticks: Ticks, before_s: float) -> float:
    """Return the period of the swing by the last unbroken beats heard, or the old one where they differ much [s]."""
    last = ticks.segments == ticks.segments[-1] if len(ticks.segments) else np.empty(0, bool)
    if last.sum() < _PERIOD_BEATS:
        return before_s
    slope_s = float(np.polyfit(ticks.numbers[last], ticks.times_s[last], 1)[0])
    return 2.0 * slope_s if abs(2.0 * slope_s / before_s - 1.0) < _PERIOD_CHANGE else before_s


def _later(ticks: Ticks, start_s: float) -> Ticks:
    """Return beats whose sound starts later [s]."""
    if start_s == 0.0:
        return ticks
    return replace(
        ticks,
        times_s=ticks.times_s + start_s,
        sounds_s=ticks.sounds_s + start_s,
        clicks_s=ticks.clicks_s + start_s,
        loud_s=ticks.loud_s + start_s,
        seconds=ticks.seconds + start_s,
    )


def _joined(parts: Sequence[Ticks], seconds: float) -> Ticks:
    """Return the beats of all parts; what was learned stands in the first."""
    first = parts[0]
    sounds, clicks, loud = [first.sounds_s], [first.clicks_s], [first.loud_s]
    for before, part in pairwise(parts):
        sounds.append(part.sounds_s[part.sounds_s > before.seconds - _SAME_SOUND_S])
        clicks.append(part.clicks_s[part.clicks_s > before.seconds])
        loud.append(part.loud_s[part.loud_s[:, 1] > before.seconds])
    columns = ("times_s", "numbers", "strength", "loudness", "sigmas_s", "segments", "sameness")
    whole: dict[str, Any] = {name: np.concatenate([getattr(part, name) for part in parts]) for name in columns}
    return replace(
        first,
        **whole,
        sounds_s=np.concatenate(sounds),
        clicks_s=np.concatenate(clicks),
        loud_s=np.concatenate(loud),
        seconds=seconds,
    )
