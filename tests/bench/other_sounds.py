"""Sounds that are no clock, from a family of their own: nothing here is shared with diagnose.training.

Voices by a glottal source through resonators, impacts by noise through struck resonators, music by a sequencer. Each
draw has its own pace, pitch, room and evenness: steps, drips, hammers and claps come at 1 to 12 % from even, as people
and taps do; a machine's own rhythm may be exact.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import signal

Floats = NDArray[np.float64]
Chance = np.random.Generator

RATE_HZ = 22_050
FORMANTS_HZ = ((650, 1080, 2650), (400, 1700, 2600), (290, 1870, 2800), (400, 800, 2600), (350, 600, 2700))


def resonator(samples: Floats, hertz: float, ring_s: float) -> Floats:
    """Return samples through one resonance."""
    turn = np.exp(-1 / (ring_s * RATE_HZ))
    poles = [1.0, -2 * turn * np.cos(2 * np.pi * hertz / RATE_HZ), turn**2]
    return np.asarray(signal.lfilter([1 - turn], poles, samples))


def struck(times_s: Floats, levels: Floats, seconds: float, chance: Chance, hard: float, ring_s: float) -> Floats:
    """Return impacts: short noise, the longer the softer, through a few resonances."""
    driven = np.zeros(round(seconds * RATE_HZ))
    length = max(round(0.012 * (1 - hard) * RATE_HZ), 8)
    for time_s, level in zip(times_s, levels, strict=True):
        first = round(float(time_s) * RATE_HZ)
        part = driven[first : first + length]
        part += level * chance.standard_normal(len(part)) * np.hanning(2 * length)[length : length + len(part)]
    modes = chance.uniform(200, 4000, int(chance.integers(2, 6)))
    return sum((resonator(driven, float(mode), ring_s) for mode in modes), start=0.3 * driven)


def paced(every_s: float, uneven: float, seconds: float, chance: Chance, walk: bool = True) -> Floats:
    """Return times at a pace, uneven by a share of it: adding up, or about an even row."""
    count = int(seconds / every_s * 1.5) + 2
    if walk:
        times = np.cumsum(every_s * np.clip(chance.normal(1, uneven, count), 0.3, 2))
    else:
        times = every_s * (np.arange(count) + 1 + chance.normal(0, uneven, count))
    return np.sort(times[(times > 0) & (times < seconds - 0.3)])


def voice(seconds: float, chance: Chance) -> Floats:
    """Return one talker: syllables of a pulsing source through moving resonances, hiss between."""
    count = round(seconds * RATE_HZ)
    sound = np.zeros(count)
    pitch_hz, at = chance.uniform(90, 260), round(chance.uniform(0, 0.5) * RATE_HZ)
    while at < count:
        length = min(round(chance.uniform(0.09, 0.35) * RATE_HZ), count - at)
        glide = pitch_hz * chance.uniform(0.8, 1.3) * np.linspace(1, chance.uniform(0.8, 1.1), length)
        phase = np.cumsum(glide) / RATE_HZ + np.cumsum(chance.normal(0, 2e-3, length))
        source = signal.lfilter([1], [1, -0.96], np.diff(np.floor(phase), prepend=0.0))
        formants = FORMANTS_HZ[int(chance.integers(len(FORMANTS_HZ)))]
        spoken = sum(
            (resonator(source, f * chance.uniform(0.9, 1.15), 0.004) for f in formants), start=np.zeros(length)
        )
        spoken *= np.hanning(length) ** 0.5 / max(np.abs(spoken).max(), 1e-9)
        if chance.random() < 0.5:
            hiss = chance.standard_normal(length) * np.exp(-np.arange(length) / (0.03 * RATE_HZ))
            spoken += 0.3 * (hiss - np.roll(hiss, 1))
        sound[at : at + length] += spoken * chance.uniform(0.4, 1)
        at += length + round(
            (chance.uniform(0.4, 1.2) if chance.random() < 0.12 else chance.uniform(0, 0.07)) * RATE_HZ
        )
    return sound


def babble(seconds: float, chance: Chance) -> Floats:
    """Return several talkers at once."""
    return sum(
        (voice(seconds, chance) * chance.uniform(0.3, 1) for _ in range(int(chance.integers(3, 8)))), start=np.zeros(1)
    )


def rain(seconds: float, chance: Chance) -> Floats:
    """Return rain on a roof: many drops of all sizes."""
    count = chance.poisson(chance.uniform(20, 400) * seconds)
    times = np.sort(chance.uniform(0, seconds - 0.1, count))
    wash = signal.lfilter([1, -0.9], [1, -0.5], chance.standard_normal(round(seconds * RATE_HZ)))
    return struck(times, chance.pareto(2.5, count), seconds, chance, 0.7, 0.003) + chance.uniform(0, 0.1) * wash


def dog(seconds: float, chance: Chance) -> Floats:
    """Return a dog that barks at somebody, in runs that are nearly even."""
    sound = np.zeros(round(seconds * RATE_HZ))
    at_s = chance.uniform(0, 2)
    body = chance.uniform(350, 1100)
    while at_s < seconds - 1:
        for at in at_s + paced(chance.uniform(0.28, 0.9), 0.06, chance.uniform(1, 8), chance):
            length = round(chance.uniform(0.09, 0.2) * RATE_HZ)
            first = round(float(at) * RATE_HZ)
            part = sound[first : first + length]
            rise = np.linspace(0.8, 1.1, length)[: len(part)] * body * chance.uniform(0.9, 1.1)
            throat = signal.sawtooth(2 * np.pi * np.cumsum(rise / 2) / RATE_HZ) + 0.5 * chance.standard_normal(
                len(part)
            )
            part += resonator(throat, body * 1.5, 0.002) * np.hanning(length)[: len(part)]
        at_s = at_s + chance.uniform(1, 8)
    return sound


def engine(seconds: float, chance: Chance) -> Floats:
    """Return an engine: firing through an exhaust, at idle or at work."""
    count = round(seconds * RATE_HZ)
    firing = chance.uniform(8, 90) * (
        1 + 0.02 * signal.lfilter([0.001], [1, -0.999], chance.standard_normal(count)) * 30
    )
    strokes = np.diff(np.floor(np.cumsum(firing) / RATE_HZ), prepend=0.0) * chance.uniform(0.7, 1.3, count)
    exhaust = sum((resonator(strokes, chance.uniform(60, 900), 0.01) for _ in range(4)), start=np.zeros(count))
    return exhaust / max(exhaust.std(), 1e-9) + 0.3 * chance.standard_normal(count)


def music(seconds: float, chance: Chance) -> Floats:
    """Return a tune with or without drums, played by people or by a machine that is exact."""
    step_s = 60 / chance.uniform(66, 180) / 2
    uneven = 0.0 if chance.random() < 0.3 else chance.uniform(0.004, 0.02)
    sound = np.zeros(round(seconds * RATE_HZ))
    times = step_s * np.arange(1, int(seconds / step_s) - 1)
    times = times + chance.normal(0, uneven, len(times))
    steps = np.arange(len(times))
    if chance.random() < 0.7:
        for every, hard, ring_s in ((4, 0.2, 0.05), (8, 0.5, 0.02), (int(chance.integers(1, 3)), 0.95, 0.004)):
            drum = (steps + every // 2 * (hard == 0.5)) % every == 0
            sound += struck(times[drum], chance.uniform(0.5, 1, int(drum.sum())), seconds, chance, hard, ring_s)
    for time_s in times[chance.random(len(times)) < chance.uniform(0.2, 0.8)]:
        first = round(float(time_s) * RATE_HZ)
        since = np.arange(min(round(chance.uniform(0.1, 0.9) * RATE_HZ), len(sound) - first)) / RATE_HZ
        pitch_hz = 110 * 2 ** (int(chance.integers(0, 30)) / 12)
        note = signal.sawtooth(2 * np.pi * pitch_hz * since, 0.5) * np.exp(-since / chance.uniform(0.1, 0.8))
        sound[first : first + len(since)] += 0.4 * note * np.minimum(since / 0.004, 1)
    return sound


def steps(seconds: float, chance: Chance) -> Floats:
    """Return somebody walking on a floor."""
    times = paced(chance.uniform(0.42, 0.75), chance.uniform(0.03, 0.08), seconds, chance)
    toes = times + chance.uniform(0.07, 0.13, len(times))
    heels = struck(times, chance.uniform(0.6, 1, len(times)), seconds, chance, 0.3, 0.008)
    return heels + struck(toes, chance.uniform(0.1, 0.5, len(times)), seconds, chance, 0.1, 0.005)


def typing(seconds: float, chance: Chance) -> Floats:
    """Return keys struck by somebody who writes."""
    gaps = chance.lognormal(np.log(chance.uniform(0.09, 0.25)), 0.5, int(seconds * 14))
    gaps[chance.random(len(gaps)) < 0.06] += chance.uniform(0.5, 2)
    times = np.cumsum(gaps)
    times = times[times < seconds - 0.3]
    down = struck(times, chance.uniform(0.4, 1, len(times)), seconds, chance, 0.9, 0.002)
    return down + struck(times + 0.08, chance.uniform(0.1, 0.4, len(times)), seconds, chance, 0.9, 0.002)


def drip(seconds: float, chance: Chance) -> Floats:
    """Return a tap that drips: nearly even, each drop with its own pitch."""
    times = paced(chance.uniform(0.3, 1.6), chance.uniform(0.02, 0.1), seconds, chance)
    sound = np.zeros(round(seconds * RATE_HZ))
    for time_s in times:
        first = round(float(time_s) * RATE_HZ)
        since = np.arange(min(round(0.06 * RATE_HZ), len(sound) - first)) / RATE_HZ
        rise = chance.uniform(700, 2200) * (1 + chance.uniform(2, 8) * since)
        sound[first : first + len(since)] += (
            np.sin(2 * np.pi * rise * since) * np.exp(-since / 0.012) * chance.uniform(0.4, 1)
        )
    return sound


def hammer(seconds: float, chance: Chance) -> Floats:
    """Return somebody who drives nails: runs of blows, a pause for the next."""
    times, at_s = [], chance.uniform(0, 1)
    while at_s < seconds - 0.5:
        blows = at_s + paced(chance.uniform(0.35, 0.9), chance.uniform(0.04, 0.1), chance.uniform(2, 9), chance)
        times.append(blows)
        at_s = float(blows[-1] if len(blows) else at_s) + chance.uniform(1, 5)
    every = np.concatenate(times)
    every = every[every < seconds - 0.3]
    return struck(every, chance.uniform(0.5, 1, len(every)), seconds, chance, 0.9, chance.uniform(0.005, 0.06))


def claps(seconds: float, chance: Chance) -> Floats:
    """Return one who claps in time, or many who do not."""
    if chance.random() < 0.5:
        times = paced(chance.uniform(0.3, 0.8), chance.uniform(0.03, 0.08), seconds, chance, walk=chance.random() < 0.5)
    else:
        times = np.sort(chance.uniform(0, seconds - 0.3, int(chance.uniform(8, 60) * seconds)))
    return struck(times, chance.uniform(0.3, 1, len(times)), seconds, chance, 0.8, 0.004)


def fire(seconds: float, chance: Chance) -> Floats:
    """Return a fire that crackles: snaps in clusters over a roar."""
    centers = chance.uniform(0, seconds - 0.3, int(chance.uniform(0.5, 4) * seconds))
    times = np.sort(np.repeat(centers, 3) + chance.exponential(0.05, 3 * len(centers)))
    times = times[times < seconds - 0.2]
    roar = signal.lfilter([0.02], [1, -0.98], chance.standard_normal(round(seconds * RATE_HZ)))
    return struck(times, chance.pareto(2, len(times)), seconds, chance, 0.95, 0.001) + 0.3 * roar


def bird(seconds: float, chance: Chance) -> Floats:
    """Return a bird that repeats its call."""
    sound = np.zeros(round(seconds * RATE_HZ))
    low, high, length_s = chance.uniform(1500, 3500), chance.uniform(3500, 7000), chance.uniform(0.05, 0.3)
    for time_s in paced(chance.uniform(0.4, 2.5), chance.uniform(0.05, 0.3), seconds - length_s, chance):
        first = round(float(time_s) * RATE_HZ)
        since = np.arange(round(length_s * RATE_HZ)) / RATE_HZ
        trill = low + (high - low) * (0.5 + 0.5 * np.sin(2 * np.pi * chance.uniform(5, 25) * since))
        call = np.sin(2 * np.pi * np.cumsum(trill) / RATE_HZ) * np.hanning(len(since))
        part = sound[first : first + len(since)]
        part += call[: len(part)]
    return sound


def noise(seconds: float, chance: Chance) -> Floats:
    """Return wind, a fan, or an empty room."""
    white = chance.standard_normal(round(seconds * RATE_HZ))
    kept = chance.uniform(0, 0.995)
    gusts = 1 + chance.uniform(0, 0.9) * signal.lfilter([0.01], [1, -0.9995], chance.standard_normal(len(white)))
    return np.asarray(signal.lfilter([1], [1, -kept], white) * gusts)


def rummaging(seconds: float, chance: Chance) -> Floats:
    """Return somebody with the phone in hand: rubbing, bumps, a door."""
    count = round(seconds * RATE_HZ)
    rub = chance.standard_normal(count) * np.maximum(
        signal.lfilter([0.002], [1, -0.9998], chance.standard_normal(count)), 0
    )
    times = np.sort(chance.uniform(0, seconds - 0.4, int(chance.uniform(0.3, 3) * seconds)))
    return 3 * rub + struck(times, chance.pareto(1.5, len(times)), seconds, chance, chance.uniform(0, 0.9), 0.02)


KINDS: dict[str, Callable[[float, Chance], Floats]] = {
    "speech": voice,
    "babble": babble,
    "rain": rain,
    "dog": dog,
    "engine": engine,
    "music": music,
    "steps": steps,
    "typing": typing,
    "drip": drip,
    "hammer": hammer,
    "claps": claps,
    "fire": fire,
    "bird": bird,
    "noise": noise,
    "rummaging": rummaging,
}


def no_clock(kind: str, seconds: float, seed: int) -> Floats:
    """Return a recording of one kind of sound in a room, with some noise; highest sample 0.5."""
    chance = np.random.default_rng([seed, list(KINDS).index(kind)])
    sound = KINDS[kind](seconds, chance)
    room = chance.standard_normal(round(chance.uniform(0.1, 0.6) * RATE_HZ))
    room *= 10 ** (-3 * np.arange(len(room)) / len(room))
    room *= chance.uniform(0.05, 0.5) / np.sqrt(np.sum(room**2))
    room[0] = 1.0
    heard = signal.fftconvolve(sound, room)[: len(sound)]
    heard += heard.std() * 10 ** (chance.uniform(-50, -10) / 20) * chance.standard_normal(len(heard))
    return np.asarray(0.5 * heard / max(float(np.abs(heard).max()), 1e-12))
