"""What a recording is fit for: clipping, holes, the highest frequency with content, how it was coded."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

CLIPPED_LEVEL = 0.985
_CLIPPED_RUN = 3
_CLIPPED_RUNS = 3
_LEVELS_TO_FULL, _LEVELS = 40, 46
"""Steps of the level to full scale, and in all."""
_LOW_LEVEL = 0.25
_BELOW_FROM, _BELOW_TO = 5, 9
_FEWEST_PILED, _MOST_PILED_SHARE, _PILED = 20.0, 0.01, 2.0
"""Measured on simulated clocks: at most 0.85 below clipping, 2.1 to 10 at twice full scale and above (MP3, Opus)."""
GAP_S = 0.01
"""Shortest stretch of one and the same value that no microphone gives: sound lost or left out on the way."""
_FEWEST_STILL = 4
_MOST_GAPS = 1000
_HOLLOW_SHARE = 0.2
_FRAME = 4096
_EMPTY_DB = -93.0
"""Level of a band, were it as wide as the whole, below which nothing was recorded: 16 bits make -101 dB by rounding."""
_CLIFF_DB = 25.0
_CLIFF_HZ = 800.0
_SAME_DB = 3.0
_CLIFF_FROM_HZ = 2000.0
_SMOOTH_HZ = 200.0
_TINY = 1e-30


@dataclass(frozen=True, slots=True)
class Quality:
    """What a file is and what its sound has been through.

    Parameters
    ----------
    kind : str
        Kind of the file, as a person calls it.
    codec : str
        How the sound is coded, as the decoder names it; empty where it does not say.
    bit_rate : float
        Bits per second, 0 where not known [1/s].
    channels, channel : int
        Channels in the file, and the one used (from 0).
    seconds : float
        Length of what was heard [s].
    clipped_runs : int
        Stretches of three samples and more at full scale.
    piled_up : bool
        Whether samples pile up at one level, as where clipped sound was coded anew.
    gaps_s : tuple of (float, float)
        Start and length of stretches of exact silence inside the sound (at most a thousand) [s].
    gap_count : int
        How many there are.
    gap_total_s : float
        Their length together [s].
    edge_hz : float
        Highest frequency with content: half the sample rate, unless something has cut it off below [Hz].
    peak : float
        Largest sample, full scale 1.
    level_db : float
        Mean power against a full-scale square wave [dB].
    not_numbers : int
        Samples that were no numbers.
    bad_packets : int
        Pieces of the file that could not be decoded.
    left_out_s : float
        Sound that the sender left out as silence, where the file says so [s].
    breaks_s : tuple of (float, float)
        Where time is missing that was not filled with silence, and how much [s].
    """

    kind: str = ""
    codec: str = ""
    bit_rate: float = 0.0
    channels: int = 1
    channel: int = 0
    seconds: float = 0.0
    clipped_runs: int = 0
    piled_up: bool = False
    gaps_s: tuple[tuple[float, float], ...] = ()
    gap_count: int = 0
    gap_total_s: float = 0.0
    edge_hz: float = 0.0
    peak: float = 0.0
    level_db: float = -np.inf
    not_numbers: int = 0
    bad_packets: int = 0
    left_out_s: float = 0.0
    breaks_s: tuple[tuple[float, float], ...] = ()

    @property
    def clipped(self) -> bool:
        """Whether it was recorded too loud."""
        return self.clipped_runs >= _CLIPPED_RUNS or self.piled_up

    @property
    def hollow(self) -> bool:
        """Whether so much is exact silence that something must have taken the quiet parts out."""
        return self.gap_total_s > _HOLLOW_SHARE * self.seconds > 0.0


@dataclass(slots=True)
class Watch:
    """Listens along, block by block, for what `Quality` tells.

    Parameters
    ----------
    rate_hz : float
        Samples per second [Hz].
    """

    rate_hz: float
    clipped_runs: int = 0
    gaps_s: list[tuple[float, float]] = field(default_factory=list)
    gap_count: int = 0
    gap_total_s: float = 0.0
    peak: float = 0.0
    samples: int = 0
    _energy: float = 0.0
    _still: int = 0
    _last: float = np.nan
    _loud: int = 0
    _levels: NDArray[np.int64] = field(default_factory=lambda: np.zeros(_LEVELS, np.int64))
    _spectrum: NDArray[np.float64] = field(default_factory=lambda: np.zeros(_FRAME // 2 + 1))
    _frames: int = 0

    def hear(self, block: NDArray[np.float32]) -> None:
        """Take in the next samples, shape (N,)."""
        if not len(block):
            return
        self._hear_level(block)
        self._hear_gaps(block)
        self._hear_spectrum(block)
        self.samples += len(block)

    def _hear_level(self, block: NDArray[np.float32]) -> None:
        top = float(max(block.max(), -block.min()))
        self.peak = max(self.peak, top)
        self._energy += float(np.dot(block, block))
        if top >= _LOW_LEVEL:
            steps = np.minimum(np.abs(block) * _LEVELS_TO_FULL, _LEVELS - 1).astype(np.intp)
            self._levels += np.bincount(steps, minlength=_LEVELS)
        if top < CLIPPED_LEVEL:
            self._loud = 0
            return
        loud = np.concatenate([[False], np.ones(self._loud, bool), np.abs(block) >= CLIPPED_LEVEL, [False]])
        edges = np.flatnonzero(np.diff(loud.astype(np.int8)))
        lengths = edges[1::2] - edges[::2]
        # The run carried over was counted when it became long enough.
        self.clipped_runs += int(np.count_nonzero(lengths >= _CLIPPED_RUN)) - (self._loud >= _CLIPPED_RUN)
        self._loud = min(int(lengths[-1]), _CLIPPED_RUN) if len(edges) and edges[-1] == len(loud) - 2 else 0

    def _hear_gaps(self, block: NDArray[np.float32]) -> None:
        """Note stretches of one value that have something on both sides."""
        new = np.empty(len(block), bool)
        new[0] = not self.samples or block[0] != self._last
        np.not_equal(block[1:], block[:-1], out=new[1:])
        self._last = float(block[-1])
        starts = np.flatnonzero(new)
        if not len(starts):
            self._still += len(block)
            return
        begun = np.concatenate([[-self._still], starts[:-1]])
        lengths = starts - begun
        self._still = len(block) - int(starts[-1])
        for index in np.flatnonzero(lengths >= max(round(GAP_S * self.rate_hz), _FEWEST_STILL)):
            first = self.samples + int(begun[index])
            if first > 0:
                self._note_gap(first / self.rate_hz, float(lengths[index]) / self.rate_hz)

    def _note_gap(self, start_s: float, length_s: float) -> None:
        self.gap_count += 1
        self.gap_total_s += length_s
        if len(self.gaps_s) < _MOST_GAPS:
            self.gaps_s.append((start_s, length_s))

    def _hear_spectrum(self, block: NDArray[np.float32]) -> None:
        """Add the spectrum of the moment that changes most: there the ticks are."""
        if len(block) < _FRAME:
            return
        middle = int(np.argmax(np.abs(np.diff(block))))
        first = min(max(middle - _FRAME // 2, 0), len(block) - _FRAME)
        piece = block[first : first + _FRAME] * np.hanning(_FRAME)
        self._spectrum += np.square(np.abs(np.fft.rfft(piece)))
        self._frames += 1

    def piled_up(self) -> bool:
        """Return whether samples pile up at a level in the upper half, as where clipped sound was coded anew.

        Of ticks there are ever fewer samples the louder they are. A coder smears what was cut off at one level
        over some levels beside it. A loud hum piles up too, but all the time, where ticks are short.
        """
        for level in range(_LEVELS_TO_FULL // 2, _LEVELS - 1):
            here = float(self._levels[level - 1 : level + 2].mean())
            below = float(self._levels[level - _BELOW_TO : level - _BELOW_FROM].mean())
            few = _FEWEST_PILED <= here <= _MOST_PILED_SHARE * self.samples
            if few and here > _PILED * (below + 1.0):
                return True
        return False

    def edge_hz(self) -> float:
        """Return the highest frequency with content [Hz]."""
        half_hz = self.rate_hz / 2.0
        if not self._frames or not self._spectrum.any():
            return half_hz
        step_hz = self.rate_hz / _FRAME
        width = max(round(_SMOOTH_HZ / step_hz), 1)
        power = np.convolve(self._spectrum, np.ones(width) / width, mode="same")
        window = float(np.sum(np.hanning(_FRAME) ** 2))
        level_db = 10.0 * np.log10(power / self._frames / window + _TINY)
        full = np.flatnonzero(level_db > _EMPTY_DB)
        edge = int(full[-1]) if len(full) else 0
        span = max(round(_CLIFF_HZ / step_hz), 2)
        if edge > 2 * span:
            middles = np.median(np.lib.stride_tricks.sliding_window_view(level_db[: edge + 1], span), axis=-1)
            drop = middles[:-span] - middles[span:]
            steep = np.flatnonzero((drop > _CLIFF_DB) & ((np.arange(len(drop)) + span) * step_hz > _CLIFF_FROM_HZ))
            if len(steep):
                # The last place where what lies below is that much louder than what lies above: a filter has cut there.
                last = steep[steep > steep[-1] - 2 * span]
                steepest = last[drop[last] > drop[last].max() - _SAME_DB]
                edge = int(np.median(steepest)) + span
        return min((edge + 1) * step_hz, half_hz) if edge < len(power) - width - 1 else half_hz

    def level_db(self) -> float:
        """Return the mean power against a full-scale square wave [dB]."""
        return 10.0 * float(np.log10(self._energy / max(self.samples, 1) + _TINY))
