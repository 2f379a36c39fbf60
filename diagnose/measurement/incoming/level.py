"""How loud the clock comes in, beside everything else: what a person holding a phone is told while it listens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np
from numpy.typing import NDArray

LevelState = Literal["no-ticks-yet", "silent", "too-quiet", "too-loud", "drowned", "good"]
LEVEL_STATES: tuple[LevelState, ...] = get_args(LevelState)
WINDOW_S = 6.0
"""So much of the latest sound is looked at: four ticks of the slowest clock, and soon forgotten after a move."""

_LEAST_S = 2.5
_FRAME_S = 0.005
_PIECE_S = 1.5
"""In so long every clock ticks at least once."""
_LOWEST_HZ = 300.0
"""Hum and steps on the floor lie below it; a tick does not need it."""
_STANDS_OUT_DB = 9.0
"""A tick stands out of the floor by this much, or it cannot be heard alone. Noise alone comes to 1 to 4 dB."""
_QUIET_PEAK_DB = -60.0
"""Below this a tick is a few steps of a 16 bit recording high."""
_LOUD_FLOOR_DB = -40.0
"""A floor above this is no quiet room: something else sounds."""
_SILENT_DB = -90.0
_LASTS_SHARE, _LASTS_DB = 0.6, 12.0
_LONGEST_TICK_S = 0.09
"""A tick falls by most of what it stands out sooner than this, even in an echoing room; many a note does not."""
_LOUD_SHARE, _LOUD_SHARE_FAINT, _FAINT_DB = 0.25, 0.12, 18.0
"""Ticks are over most of the time; talk is not. Talk stood out by under 18 dB in most trials, over more of the time."""
_CLIPPED_LEVEL = 0.985
_CLIPPED_RUN = 3
_CLIPPED_SHARE = 2e-5
_TINY = 1e-10


@dataclass(frozen=True, slots=True)
class Level:
    """How the clock comes in at this moment.

    Parameters
    ----------
    peak_db : float
        Highest sample of what is heard, over full scale [dB].
    tick_db : float
        Level of a usual tick: the 5 ms that are loudest, above 300 Hz, over full scale [dB].
    floor_db : float
        The same of what lies between the ticks [dB].
    stands_out_db : float
        The one over the other [dB].
    clipped_share : float
        Share of the samples that are cut off at full scale.
    state : str
        "no-ticks-yet": too little was heard. "silent": nothing comes from the microphone. "too-quiet": no tick stands
        out, or hardly. "too-loud": the ticks are cut off. "drowned": something else is as loud as the clock. "good".
    """

    peak_db: float
    tick_db: float
    floor_db: float
    stands_out_db: float
    clipped_share: float
    state: LevelState


def level_of(samples: NDArray[np.floating], rate_hz: float) -> Level:
    """Return how the clock comes in, from the latest few seconds of sound.

    Parameters
    ----------
    samples : array (N,)
        Sound, full scale 1; only the last `WINDOW_S` are looked at.
    rate_hz : float
        Samples per second [Hz].
    """
    latest = np.asarray(samples[-int(WINDOW_S * rate_hz) :], dtype=np.float64)
    latest = np.where(np.isfinite(latest), latest, 0.0)
    peak = float(np.abs(latest).max(initial=0.0))
    clipped = _clipped_share(latest)
    frames_db = _frames_db(latest, rate_hz) if len(latest) >= _LEAST_S * rate_hz else np.empty(0)
    if not len(frames_db):
        state: LevelState = "too-loud" if clipped > _CLIPPED_SHARE else "no-ticks-yet"
        return Level(_db(peak), _db(peak), _db(0.0), 0.0, clipped, state)
    floor_db = float(np.median(frames_db))
    tick_db, lasts_s = _usual_tick(frames_db, floor_db)
    stands_out_db = tick_db - floor_db
    loud = float(np.mean(frames_db > floor_db + stands_out_db / 2.0))
    most = _LOUD_SHARE if stands_out_db >= _FAINT_DB else _LOUD_SHARE_FAINT
    short = lasts_s <= _LONGEST_TICK_S and loud <= most
    state = _state(_db(peak), floor_db, stands_out_db, short, clipped)
    return Level(_db(peak), tick_db, floor_db, stands_out_db, clipped, state)


def _state(peak_db: float, floor_db: float, stands_out_db: float, short: bool, clipped: float) -> LevelState:
    """Return the one thing to say; what spoils a recording most comes first."""
    if clipped > _CLIPPED_SHARE:
        return "too-loud"
    if peak_db < _SILENT_DB:
        return "silent"
    if stands_out_db >= _STANDS_OUT_DB and peak_db >= _QUIET_PEAK_DB:
        return "good" if short else "drowned"
    return "drowned" if floor_db >= _LOUD_FLOOR_DB else "too-quiet"


def _frames_db(samples: NDArray[np.float64], rate_hz: float) -> NDArray[np.float64]:
    """Return the level of each 5 ms above 300 Hz [dB]."""
    from scipy import signal

    sections = signal.butter(2, _LOWEST_HZ, "highpass", fs=rate_hz, output="sos")
    rest = signal.sosfilt_zi(sections) * samples[0]
    high, _ = signal.sosfilt(sections, samples, zi=rest)
    size = max(int(_FRAME_S * rate_hz), 1)
    count = len(high) // size
    power = np.mean(np.square(high[: count * size]).reshape(count, size), axis=1)
    frames: NDArray[np.float64] = 10.0 * np.log10(power + _TINY)
    return frames


def _usual_tick(frames_db: NDArray[np.float64], floor_db: float) -> tuple[float, float]:
    """Return the level of the loudest 5 ms of a usual piece of sound [dB], and how long it stays near it [s]."""
    pieces = max(round(len(frames_db) * _FRAME_S / _PIECE_S), 1)
    loudest, lasts = [], []
    for piece in np.array_split(frames_db, pieces):
        top = int(np.argmax(piece))
        near = piece >= piece[top] - min(_LASTS_SHARE * (piece[top] - floor_db), _LASTS_DB)
        away = np.flatnonzero(~near)
        before, after = away[away < top], away[away > top]
        first = int(before[-1]) + 1 if len(before) else 0
        last = int(after[0]) if len(after) else len(piece)
        loudest.append(float(piece[top]))
        lasts.append((last - first) * _FRAME_S)
    # The median: one slammed door is no tick, and one silent beat no silence.
    return float(np.median(loudest)), float(np.median(lasts))


def _clipped_share(samples: NDArray[np.float64]) -> float:
    """Return the share of samples in runs at full scale; a single one may just have come up to it."""
    if len(samples) < _CLIPPED_RUN:
        return 0.0
    top = np.abs(samples) >= _CLIPPED_LEVEL
    runs = top[2:] & top[1:-1] & top[:-2]
    return float(np.mean(runs))


def _db(amplitude: float) -> float:
    """Return an amplitude over full scale [dB]."""
    return 20.0 * float(np.log10(max(amplitude, _TINY)))
