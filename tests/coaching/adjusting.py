"""People who adjust simulated clocks as they are told, with the slips that people make."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import yaml

from diagnose.coaching import Act, Advice, HeardBeat, beat_task, next_act
from diagnose.mechanics import escapement as angles
from diagnose.model.lists import ClockEntry
from diagnose.model.observations import ClockFacts
from diagnose.settings import knowledge_folder
from diagnose.training.simulated_clock import FAMILIES, SimulatedClock

ADJUSTERS = {
    "floor": ("leader-adjuster", "crutch-adjuster", "crutch-bend", "case-feet"),
    "wall": ("crutch-bend", "friction-crutch", "case-hook", "crutch-adjuster"),
    "mantel": ("crutch-bend", "friction-crutch", "case-feet"),
}
CLOCKS = {
    name: ClockEntry.model_validate(body)
    for name, body in yaml.safe_load((knowledge_folder() / "clocks.yaml").read_text(encoding="utf-8"))["clocks"].items()
}
SCREW_PITCH_MM = 0.5
HEARD_UNCERTAINTY = 0.3
STOPPED = 99.0


@dataclass(frozen=True)
class Person:
    """How somebody acts.

    slips : share of acts that go the other way than told, each by itself
    mirrored : share of people for whom left and right are turned about all the time
    looks : share of steps that did not help after which they look which way it really went
    learns_side : whether they can let the bob go from the left
    """

    slips: float = 0.0
    mirrored: float = 0.0
    looks: float = 0.0
    learns_side: bool = True


@dataclass
class Session:
    """What came of it; beat errors of the clock itself, not as heard."""

    percents: list[float]
    advice: Advice
    acts: list[Act]


def uneven_clock(random, seed):
    """A clock of a random family, 6 to 20 percent out, whose swing, drop and arm are not the usual ones."""
    family = ("floor", "wall", "mantel")[random.integers(3)]
    adjuster = ADJUSTERS[family][random.integers(len(ADJUSTERS[family]))]
    swing = FAMILIES[family].swing_deg * random.uniform(0.8, 1.25)
    drop = swing * random.uniform(0.42, 0.66)
    offset = angles.offset_deg(random.uniform(6, 20) * random.choice([-1, 1]), swing, drop)
    most = 0.85 * (swing - drop)
    clock = SimulatedClock(
        ClockFacts(family=family), float(np.clip(offset, -most, most)), swing_deg=swing, drop_deg=drop, seed=seed
    )
    return clock, family, adjuster, clock.arm_mm(adjuster) * random.uniform(0.8, 1.25)


def true_percent(clock):
    return abs(clock.beat_error_percent) if clock.runs else STOPPED


def listen(clock, side_known, random):
    if not clock.runs:
        return HeardBeat(0.0, 1.0, stopped=True)
    percent = clock.run(40).beat_error_percent + random.normal(0, HEARD_UNCERTAINTY)
    return HeardBeat(abs(percent), HEARD_UNCERTAINTY, angles.early_side(percent) if side_known else "unknown")


def set_the_beat(seed, person, most_acts=3):
    """Let a person set the beat of a clock, told by the coach."""
    random = np.random.default_rng(seed)
    clock, family, adjuster, arm_mm = uneven_clock(random, seed)
    pitch_mm = SCREW_PITCH_MM if "adjuster" in adjuster else None
    task = replace(beat_task(adjuster, CLOCKS[family], pitch_mm), side_can_be_learned=person.learns_side)
    heard, acts, percents = [listen(clock, False, random)], [], [true_percent(clock)]
    turned_about = random.random() < person.mirrored
    while True:
        advice = next_act(task, tuple(heard), tuple(acts))
        if advice.kind == "learn-side":
            heard.append(listen(clock, True, random))
            continue
        if advice.direction is None or len(acts) == most_acts:
            return Session(percents, advice, acts)
        meant = angles.other(advice.direction) if random.random() < person.slips else advice.direction
        went = angles.other(meant) if turned_about else meant
        clock = clock.moved(adjuster, went, advice.amount_mm * np.exp(random.normal(0, 0.1)), arm_mm)
        acts.append(Act(advice.direction, advice.amount_mm))
        heard.append(listen(clock, person.learns_side, random))
        percents.append(true_percent(clock))
        last_step = next_act(task, tuple(heard), tuple(acts)).last_step
        if last_step in ("worse", "same") and random.random() < person.looks:
            acts[-1] = Act(meant, advice.amount_mm, looked_at=True)


def shares(person, count=300, most_acts=3):
    """Shares of clocks that end below 5 and below 3 percent."""
    ends = np.array([set_the_beat(seed, person, most_acts).percents[-1] for seed in range(count)])
    return float(np.mean(ends < 5)), float(np.mean(ends < 3))
