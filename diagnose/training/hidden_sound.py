"""The tick of a hidden clock: a recording whose beat error and rate agree with what the clock truly does."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np

from diagnose.measurement.noticing.noticed import DOUBLED, MISSED, TWO_CLOCKS
from diagnose.mechanics.escapement import offset_deg
from diagnose.training.hidden_clock import HiddenClock
from diagnose.training.simulated_clock import SimulatedClock
from diagnose.training.sound import Scene, render, save_flac, together
from diagnose.training.voices import Samples

EVENNESS, RATE, TICK, RUNS_FOR = "tick-evenness", "rate", "tick", "runs-for"
RATE_HZ = 16_000
SECONDS = 24.0
# The bob is drawn to this side and let go, so that the early side is heard too.
DRAWN_TO: Literal["left"] = "left"
# Beat errors are kept off the edges of their bands, by this share of the band.
MARGIN = 0.15
# Beyond these a simulated clock would stop, or be taken for another train.
MOST_PERCENT, MOST_RATE_S_PER_DAY = 14.0, 900.0
QUIETEST_DB, LOUDEST_DB = 24.0, 34.0
MISSED_SHARE, DOUBLED_SHARE = 0.15, 0.2
"""How many ticks fail or stutter where a clock does so; orders of size, no source."""
OTHER_TRAINS, OTHER_FAINTER_DB = (4800, 6000, 8400, 9600), 12.0


def ticks(clock: HiddenClock) -> bool:
    """Return whether there is a tick to record."""
    return clock.true_value(TICK) == "present" and clock.true_value(RUNS_FOR) != "dead"


def sounding(clock: HiddenClock) -> SimulatedClock:
    """Return the simulated clock that ticks as the hidden one does."""
    random = _random(clock)
    low, high = _band(clock, EVENNESS)
    low, high = max(low, 0.0), min(high, MOST_PERCENT)
    percent = random.uniform(low + MARGIN * (high - low), high - MARGIN * (high - low))
    low, high = _band(clock, RATE) if RATE in clock.base.tables else (0.0, 0.0)
    low, high = max(low, -MOST_RATE_S_PER_DAY), min(high, MOST_RATE_S_PER_DAY)
    rate = random.uniform(low + MARGIN * (high - low), high - MARGIN * (high - low))
    still = SimulatedClock(clock.facts, rate_s_per_day=rate, seed=clock.seed)
    sign = 1.0 if clock.early_side == "right" else -1.0
    odd = odd_sounds(clock)
    return SimulatedClock(
        clock.facts,
        offset_deg(sign * percent, still.swing, still.drop),
        rate_s_per_day=rate,
        seed=int(random.integers(2**31)),
        silent_share=MISSED_SHARE if MISSED in odd else 0.0,
        doubled_share=DOUBLED_SHARE if DOUBLED in odd else 0.0,
    )


def odd_sounds(clock: HiddenClock) -> frozenset[str]:
    """Return what a recording of the clock gives to hear besides its beat: the kinds that its true values name."""
    kinds: set[str] = set()
    for name in clock.base.tables:
        finding = clock.knowledge.findings[name]
        if clock.makes_sense(name):
            kinds.update(finding.values[clock.true_value(name)].heard)
    return frozenset(kinds)


def record(clock: HiddenClock, path: Path) -> None:
    """Write a recording of the clock, let go from the left, as a phone hears it.

    Parameters
    ----------
    clock : HiddenClock
        A clock that ticks.
    path : Path
        The sound file to write (flac).
    """
    random = _random(clock)
    scene = Scene(
        rate_hz=RATE_HZ, snr_db=random.uniform(QUIETEST_DB, LOUDEST_DB), seed=int(random.integers(2**31)), level=0.3
    )
    sound = render(sounding(clock).run(SECONDS, DRAWN_TO), scene)
    if TWO_CLOCKS in odd_sounds(clock):
        sound = together(sound, _another(clock, random, scene), OTHER_FAINTER_DB, scene.level)
    save_flac(path, sound, RATE_HZ)


def _another(clock: HiddenClock, random: np.random.Generator, scene: Scene) -> Samples:
    """Return another clock in the room, of another train than the one that is recorded."""
    trains = [train for train in OTHER_TRAINS if train != clock.facts.beats_per_hour]
    other = SimulatedClock(
        clock.facts, beats_per_hour=float(random.choice(trains)), offset_deg=0.1, seed=int(random.integers(2**31))
    )
    return render(other.run(SECONDS), replace(scene, seed=int(random.integers(2**31))))


def _random(clock: HiddenClock) -> np.random.Generator:
    """Return the chance of this sound: another one after each remedy."""
    return np.random.default_rng([clock.seed, len(clock.tried), 1])


def _band(clock: HiddenClock, finding: str) -> tuple[float, float]:
    band = clock.knowledge.findings[finding].values[clock.true_value(finding)].band
    return (band.from_, band.to) if band is not None else (0.0, 0.0)
