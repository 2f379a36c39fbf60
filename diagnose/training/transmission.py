"""What happens to a sound on its way: telephone band, clipping, gain control, lost packets, silence not sent, cuts.

All but the cuts keep the time of each sample: a filter runs forward and backward, so that a drop stays where it was.
Of a sound that was cut `instants_after` tells where its drops are now.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.training.voices import Samples

Floats = NDArray[np.float64]

TELEPHONE_RATE_HZ = 8_000
TELEPHONE_BAND_HZ = (300.0, 3400.0)
"""Band of a telephone line (ITU-T G.712; from memory)."""
_BAND_ORDER = 6
MU = 255.0
"""Compression of the law (ITU-T G.711)."""
_STEPS = 127.5
_TINY = 1e-12
_GAIN_BLOCK_S, _GAIN_TARGET = 0.01, 0.4
_CONCEALED = 0.7
"""What is heard in place of a lost packet is fainter than the one before."""
_FRAME_S, _HANGOVER_FRAMES, _RENEWED_FRAMES = 0.02, 5, 20
"""Frames of 20 ms; a few are still sent after speech; comfort noise is renewed every 0.4 s, as in speech codecs."""


def telephone_band(samples: Samples, rate_hz: int) -> Samples:
    """Return a sound as a telephone line lets it through, 8,000 samples a second.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    rate_hz : int
        Its samples per second, a multiple of 8,000 [1/s].

    Raises
    ------
    UsageError
        If the rate is no multiple of 8,000.
    """
    from scipy import signal

    if rate_hz % TELEPHONE_RATE_HZ:
        raise UsageError(f"{rate_hz} samples a second", do="Give a multiple of 8,000, such as 48,000")
    low_hz, high_hz = TELEPHONE_BAND_HZ
    # At 8,000 a second the upper edge is close below half the rate; the filter needs to lie below it all the same.
    band = signal.butter(_BAND_ORDER, (low_hz, high_hz), "bandpass", fs=rate_hz, output="sos")
    through = signal.sosfiltfilt(band, samples)
    step = rate_hz // TELEPHONE_RATE_HZ
    slow: Samples = signal.resample_poly(through, 1, step) if step > 1 else through
    return slow


def mu_law(samples: Samples) -> Samples:
    """Return a sound after companding to 8 bits and back, as on a digital telephone line.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        Between -1 and 1; what is beyond is clipped.
    """
    kept = np.clip(samples, -1.0, 1.0)
    pressed = np.sign(kept) * np.log1p(MU * np.abs(kept)) / np.log1p(MU)
    coarse = np.round((pressed + 1.0) * _STEPS) / _STEPS - 1.0
    back: Samples = np.sign(coarse) * np.expm1(np.abs(coarse) * np.log1p(MU)) / MU
    return back


def clipped(samples: Samples, over_db: float) -> Samples:
    """Return a sound recorded too loud: its highest sample would lie so far above full scale.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    over_db : float
        By how much it is too loud [dB].
    """
    loud = samples * (10 ** (over_db / 20) / max(float(np.abs(samples).max()), _TINY))
    return np.asarray(np.clip(loud, -1.0, 1.0))


def gain_controlled(samples: Samples, rate_hz: int, most_db: float = 30.0, release_s: float = 1.5) -> Samples:
    """Return a sound whose loudness a recorder has evened out: down at once, up slowly.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    rate_hz : int
        Samples per second [1/s].
    most_db : float
        The most it is made louder [dB].
    release_s : float
        Time in which the gain comes back to most of what it was [s].
    """
    block = max(round(_GAIN_BLOCK_S * rate_hz), 1)
    blocks = -(-samples.size // block)
    padded = np.zeros(blocks * block)
    padded[: samples.size] = samples
    highest = np.abs(padded.reshape(blocks, block)).max(axis=1)
    release = 1 - np.exp(-_GAIN_BLOCK_S / release_s)
    most = 10 ** (most_db / 20)
    gains, gain = np.empty(blocks), most
    for place, peak in enumerate(highest):
        wanted = min(_GAIN_TARGET / max(float(peak), _TINY), most)
        gain = wanted if wanted < gain else gain + release * (wanted - gain)
        gains[place] = gain
    middles = (np.arange(blocks) + 0.5) * block
    even: Samples = samples * np.interp(np.arange(samples.size), middles, gains)
    return np.asarray(np.clip(even, -1.0, 1.0))


def with_lost_packets(samples: Samples, rate_hz: int, share: float, seed: int, packet_s: float = 0.02) -> Samples:
    """Return a sound some of whose packets did not arrive: the one before is heard again, fainter.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound; its length and the time of the rest stay.
    rate_hz : int
        Samples per second [1/s].
    share : float
        Share of packets lost [1].
    seed : int
        Seed of which.
    packet_s : float
        Length of a packet [s].
    """
    size = max(round(packet_s * rate_hz), 1)
    heard = samples.copy()
    lost = np.flatnonzero(np.random.default_rng(seed).random(samples.size // size) < share)
    for packet in lost[lost > 0]:
        first = int(packet) * size
        heard[first : first + size] = _CONCEALED * heard[first - size : first]
    return heard


def without_silence(samples: Samples, rate_hz: int, below_db: float, seed: int) -> Samples:
    """Return a sound whose quiet stretches are not sent: a comfort noise, renewed now and then, stands for them.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    rate_hz : int
        Samples per second [1/s].
    below_db : float
        What counts as quiet, below the loudest frame [dB].
    seed : int
        Seed of the comfort noise.
    """
    size = max(round(_FRAME_S * rate_hz), 1)
    frames = samples.size // size
    whole = samples[: frames * size].reshape(frames, size)
    power = np.mean(whole**2, axis=1)
    speaking = power > power.max(initial=_TINY) * 10 ** (-below_db / 10)
    held = np.convolve(speaking, np.ones(_HANGOVER_FRAMES), "full")[:frames] > 0
    random = np.random.default_rng(seed)
    sent, level = whole.copy(), 0.0
    for frame in np.flatnonzero(~held):
        if frame % _RENEWED_FRAMES == 0 or held[frame - 1]:
            level = float(np.sqrt(power[frame]))
        sent[frame] = level * random.standard_normal(size)
    return np.concatenate([sent.ravel(), samples[frames * size :]])


@dataclass(frozen=True, slots=True)
class Cut:
    """A piece of a recording that somebody, or a line, has put elsewhere.

    Parameters
    ----------
    from_s, to_s : float
        Where in the sound it was [s].
    at_s : float
        Where it begins now [s].
    """

    from_s: float
    to_s: float
    at_s: float


def looped(from_s: float, to_s: float, seconds: float) -> tuple[Cut, ...]:
    """Return the cuts of a piece that is repeated until a length is reached.

    Parameters
    ----------
    from_s, to_s : float
        The piece [s].
    seconds : float
        Length of the whole [s].
    """
    length = to_s - from_s
    if length <= 0 or seconds <= 0:
        raise UsageError(f"a piece from {from_s:g} to {to_s:g} s", do="Give the earlier time first")
    starts = np.arange(0.0, seconds, length)
    return tuple(Cut(from_s, min(to_s, from_s + seconds - start), float(start)) for start in starts)


def left_out(gaps_s: Sequence[tuple[float, float]], seconds: float) -> tuple[Cut, ...]:
    """Return the cuts of a sound in which some stretches are gone and the rest has moved up.

    Parameters
    ----------
    gaps_s : sequence of (float, float)
        Stretches that are gone, in order [s].
    seconds : float
        Length of the sound before [s].
    """
    cuts, at_s, from_s = [], 0.0, 0.0
    for start_s, end_s in [*gaps_s, (seconds, seconds)]:
        if start_s > from_s:
            cuts.append(Cut(from_s, start_s, at_s))
            at_s += start_s - from_s
        from_s = end_s
    return tuple(cuts)


def cut_together(samples: Samples, rate_hz: int, cuts: Sequence[Cut]) -> Samples:
    """Return the pieces of a sound put one after another.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        The sound.
    rate_hz : int
        Samples per second [1/s].
    cuts : sequence of Cut
        The pieces, in order.
    """
    return np.concatenate([samples[round(cut.from_s * rate_hz) : round(cut.to_s * rate_hz)] for cut in cuts])


def instants_after(times_s: Floats, cuts: Sequence[Cut]) -> Floats:
    """Return where the instants of a sound are after it was cut, in order; what was left out is gone.

    Parameters
    ----------
    times_s : ndarray, shape (k,)
        Instants before [s].
    cuts : sequence of Cut
        The pieces.
    """
    moved = [times_s[(times_s >= cut.from_s) & (times_s < cut.to_s)] + (cut.at_s - cut.from_s) for cut in cuts]
    return np.sort(np.concatenate(moved)) if moved else np.empty(0)
