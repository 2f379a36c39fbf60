"""The sound of a clock: each tick a few impacts on a body with damped modes, in a room, with noise.

The first instant of the main impact is the time of the tick; a weaker contact may come before it and a
follower after it, as in real recordings. All figures here are orders of size heard in recordings.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import SECONDS_PER_HOUR
from diagnose.training.background import chime_rods, room_noise, talk
from diagnose.training.surroundings import Beside
from diagnose.training.ticking import LEFT, RIGHT, Ticking
from diagnose.training.voices import Manner, Samples, TickVoice, add_tick, lifelike_voice, tick_voice

ONSET_WINDOW_S = 0.020
"""Signal to noise compares the noise with the mean power of this stretch after each tick."""

LOWEST_RATE_HZ, HIGHEST_RATE_HZ = 8_000, 48_000


@dataclass(frozen=True, slots=True)
class Scene:
    """Where and how a clock is heard.

    Parameters
    ----------
    rate_hz : int
        Samples per second, 8,000 to 48,000 [1/s].
    snr_db : float
        Power of the 20 ms after a tick over the power of the noise [dB].
    seed : int
        Seed of voice, room and noise.
    noise : str
        "white", "room" (falls with frequency) or "hum" (mains and room).
    room_s : float
        Time in which the room's echo falls by 60 dB; 0 for none [s].
    level : float
        Highest sample [1].
    chimes_at_s : tuple of float
        When chime rods are struck [s].
    chime_level : float
        Their level against a tick [1].
    talk_db : float or None
        Power of talk over the power of the 20 ms after a tick; None for none [dB].
    talkers : int
        How many talk.
    impacts : int or None
        Impacts of each tick, 1 to 3; drawn by the seed where None.
    manner : str
        "plain" or "lifelike" voices.
    gain_scatter_db, mode_scatter : float
        Spread of the loudness of a tick, and of each of its modes [dB], [1].
    alike : bool
        Whether both sides sound the same, as in a clock that ticks once a second.
    echo_share : float
        Energy of the echo against the direct sound: close to the clock little, across a room more [1].
    beside : tuple of Beside
        What else is heard.
    """

    rate_hz: int = 44_100
    snr_db: float = 30.0
    seed: int = 0
    noise: Literal["white", "room", "hum"] = "room"
    room_s: float = 0.35
    level: float = 0.5
    chimes_at_s: tuple[float, ...] = ()
    chime_level: float = 1.0
    talk_db: float | None = None
    talkers: int = 3
    impacts: int | None = None
    manner: Manner = "plain"
    gain_scatter_db: float = 1.2
    mode_scatter: float = 0.1
    alike: bool = False
    echo_share: float = 0.15
    beside: tuple[Beside, ...] = ()

    def __post_init__(self) -> None:
        if not LOWEST_RATE_HZ <= self.rate_hz <= HIGHEST_RATE_HZ:
            raise UsageError(
                f"{self.rate_hz} samples a second", do=f"Use {LOWEST_RATE_HZ} to {HIGHEST_RATE_HZ} samples a second"
            )


def render(ticking: Ticking, scene: Scene | None = None) -> Samples:
    """Return what a microphone hears.

    Parameters
    ----------
    ticking : Ticking
        The ticks.
    scene : Scene, optional
        Where they are heard.

    Returns
    -------
    ndarray, shape (n,)
        Mono samples between -1 and 1, `ticking.seconds` long.
    """
    scene = scene or Scene()
    random = np.random.default_rng(scene.seed)
    samples = clean_ticks(ticking, scene, random)
    tick_power = power_after(samples, ticking.times_s[ticking.heard], scene.rate_hz)
    if scene.chimes_at_s:
        peak = float(np.abs(samples).max()) or 1.0
        samples = samples + scene.chime_level * peak * chime_rods(
            samples.size, scene.rate_hz, scene.chimes_at_s, random
        )
    if scene.talk_db is not None:
        spoken = talk(samples.size, scene.rate_hz, scene.talkers, random)
        samples = samples + _scaled(spoken, tick_power * 10 ** (scene.talk_db / 10))
    for other in scene.beside:
        samples = samples + other.sound(samples.size, scene.rate_hz, tick_power, random)
    noise = room_noise(samples.size, scene.rate_hz, scene.noise, random)
    samples = samples + _scaled(noise, tick_power * 10 ** (-scene.snr_db / 10))
    heard: Samples = samples * (scene.level / float(np.abs(samples).max()))
    return heard


def clean_ticks(ticking: Ticking, scene: Scene, random: np.random.Generator) -> Samples:
    """Return the ticks in their room, with nothing else to be heard, shape (n,).

    Parameters
    ----------
    ticking : Ticking
        The ticks.
    scene : Scene
        Where they are heard.
    random : numpy.random.Generator
        Source of chance.
    """
    voices = {side: _voice(scene, random) for side in (RIGHT, LEFT)}
    if scene.alike:
        voices[LEFT] = voices[RIGHT]
    samples = np.zeros(round(ticking.seconds * scene.rate_hz))
    gains = _gains(ticking, scene, random)
    doubled = np.full(ticking.times_s.size, np.nan) if ticking.doubled_s is None else ticking.doubled_s
    for time_s, side, gain, heard, again_s in zip(
        ticking.times_s, ticking.sides, gains, ticking.heard, doubled, strict=True
    ):
        if not heard:
            continue
        _strike(samples, scene, float(time_s), voices[int(side)], float(gain), random)
        if np.isfinite(again_s):
            fainter = float(gain) * 10 ** (random.uniform(*DOUBLE_DB) / 20)
            _strike(samples, scene, float(again_s), voices[-int(side)], fainter, random)
    return _in_room(samples, scene, random) if scene.room_s > 0 else samples


DOUBLE_DB = (-10.0, 0.0)
"""Level of a second impact beside its tick."""


def _voice(scene: Scene, random: np.random.Generator) -> TickVoice:
    return lifelike_voice(random) if scene.manner == "lifelike" else tick_voice(random, scene.impacts)


def _strike(
    samples: Samples, scene: Scene, time_s: float, voice: TickVoice, gain: float, random: np.random.Generator
) -> None:
    modes = 1 + random.normal(0, scene.mode_scatter, voice.gains.size)
    add_tick(samples, scene.rate_hz, time_s, voice, gain, modes)


def _gains(ticking: Ticking, scene: Scene, random: np.random.Generator) -> NDArray[np.float64]:
    """Return how loud each tick is: it fades with the energy of the swing, and scatters by a decibel or so."""
    scatter = 10 ** (random.normal(0, scene.gain_scatter_db, ticking.times_s.size) / 20)
    if not ticking.swing_deg.size:
        return scatter
    fades: NDArray[np.float64] = scatter * (ticking.swing_deg / ticking.swing_deg.max()) ** 2
    return fades


def _in_room(samples: Samples, scene: Scene, random: np.random.Generator) -> Samples:
    """Add the echo of a room behind the direct sound, which keeps its time."""
    from scipy.signal import fftconvolve

    count = max(round(scene.room_s * scene.rate_hz), 2)
    echo = random.standard_normal(count) * 10 ** (-3 * np.arange(count) / count)
    echo[: round(0.003 * scene.rate_hz)] = 0
    echo *= np.sqrt(scene.echo_share / np.sum(echo**2))
    echo[0] = 1.0
    heard: Samples = fftconvolve(samples, echo)[: samples.size]
    return heard


def together(first: Samples, second: Samples, fainter_db: float, level: float = 0.5) -> Samples:
    """Return two sounds at once, such as two clocks in a room.

    Parameters
    ----------
    first, second : ndarray, shape (n,)
        The sounds, of one rate of samples; the longer is cut.
    fainter_db : float
        How much fainter the second is, by mean power [dB].
    level : float
        Highest sample [1].
    """
    count = min(first.size, second.size)
    first, second = first[:count], second[:count]
    both = first + _scaled(second, float(np.mean(first**2)) * 10 ** (-fainter_db / 10))
    return np.asarray(both * (level / max(float(np.abs(both).max()), SILENT_POWER)))


def power_after(samples: Samples, times_s: NDArray[np.float64], rate_hz: int) -> float:
    """Return the mean power of the 20 ms after each tick; 1e-6 where there is none.

    Parameters
    ----------
    samples : ndarray, shape (n,)
        A sound.
    times_s : ndarray, shape (k,)
        Ticks that are heard in it [s].
    rate_hz : int
        Samples per second [1/s].
    """
    window = round(ONSET_WINDOW_S * rate_hz)
    starts = [round(time * rate_hz) for time in times_s]
    powers = [np.mean(samples[at : at + window] ** 2) for at in starts if at + window < samples.size]
    return float(np.mean(powers)) if powers else SILENT_POWER


SILENT_POWER = 1e-6


def _scaled(samples: Samples, power: float) -> Samples:
    own = float(np.mean(samples**2))
    return samples * math.sqrt(power / own) if own > 0 else samples


def demo_beats(beats_per_hour: float, percent: float, seconds: float, rate_hz: int = 44_100) -> Samples:
    """Return an even or uneven beat at a clock's own speed, to train the ear.

    Parameters
    ----------
    beats_per_hour : float
        Beats per hour of the clock [1/h].
    percent : float
        Beat error to be heard, 0 for even [percent of the swing].
    seconds : float
        For how long [s].
    rate_hz : int
        Samples per second [1/s].

    Returns
    -------
    ndarray, shape (n,)
        Mono samples; tick and tock sound alike, so that only the spacing tells.

    Raises
    ------
    UsageError
        If the beat error is 100 percent or more, or nothing would be heard.
    """
    if not abs(percent) < 100 or beats_per_hour <= 0 or seconds <= 0:
        raise UsageError(
            f"{percent:g} % at {beats_per_hour:g} beats an hour for {seconds:g} s",
            do="Give a beat error below 100 %, and more than 0 beats and seconds",
        )
    beat_s = SECONDS_PER_HOUR / beats_per_hour
    count = max(int(seconds / beat_s), 1)
    index = np.arange(count)
    times = (index + 0.5) * beat_s + np.where(index % 2 == 0, -1, 1) * percent / 100 * beat_s / 2
    random = np.random.default_rng(DEMO_SEED)
    voice = tick_voice(random, impacts=2)
    samples = np.zeros(round(seconds * rate_hz))
    modes = np.ones(voice.gains.size)
    for time_s in times:
        add_tick(samples, rate_hz, float(time_s), voice, 1.0, modes)
    return samples * (DEMO_LEVEL / max(float(np.abs(samples).max()), SILENT_POWER))


DEMO_SEED = 7
DEMO_LEVEL = 0.5


def save_flac(path: Path, samples: Samples, rate_hz: int) -> None:
    """Write mono samples as FLAC, 16 bits.

    Parameters
    ----------
    path : Path
        Where to.
    samples : ndarray, shape (n,)
        Between -1 and 1.
    rate_hz : int
        Samples per second [1/s].
    """
    import soundfile

    soundfile.write(path, samples, rate_hz, format="FLAC", subtype="PCM_16")
