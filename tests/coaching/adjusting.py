"""People who adjust simulated clocks as they are told, with the slips that people make.

What the coach does not know: the side that comes early, how much the clock answers to a millimeter (swing, drop
and arm are not the usual ones), how far the hand really moved it, what the play of the adjuster swallowed, and
whether the act went the way that was told. What it hears is the size of the beat error with its uncertainty, and
the side only where it asked for it.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace

import numpy as np
import yaml

from diagnose.coaching import Act, Advice, HeardBeat, beat_task, next_act, table_percent_per_mm
from diagnose.coaching.set_the_beat import MOST_PACKING_MM
from diagnose.coaching.task import BeatTask, Sentences
from diagnose.mechanics import escapement as angles
from diagnose.mechanics.beat_response import STOPS_ABOUT_PERCENT
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
PLAY_SHARE = 0.05
"""Play of an adjuster, at most, as a share of what ten percent of beat error need; cards have none; estimate."""
SCREW_PITCH_MM = 0.5
HEARD_UNCERTAINTY = 0.3
STOPPED = 99.0
MOST_QUESTIONS = 12

Policy = Callable[[BeatTask, tuple[HeardBeat, ...], tuple[Act, ...]], Advice]


@dataclass(frozen=True)
class Person:
    """How somebody acts.

    slips : share of acts that go the other way than told, each by itself
    mirrored : share of people whose acts all go the other way (left and right turned about, or the adjuster is)
    looks : share of questions which way it really went that are answered, truly
    learns_side : share of people who can let the bob go from the left, or lead it to its ticks, when asked
    side_wrong : share of these askings after which the wrong side is noted
    scatter : spread of what is really moved, as a share of what was told
    content : stops as soon as the beat is acceptable; otherwise goes on until it is good
    """

    slips: float = 0.0
    mirrored: float = 0.0
    looks: float = 0.0
    learns_side: float = 1.0
    side_wrong: float = 0.02
    scatter: float = 0.1
    content: bool = False


@dataclass
class Session:
    """What came of it; beat errors of the clock itself, not as heard."""

    percents: list[float]
    advice: Advice
    acts: list[Act]
    asked: list[str] = field(default_factory=list)
    task: BeatTask | None = None


def uneven_clock(random, seed):
    """A clock of a random family, 6 to 20 percent out, whose swing, drop and arm are not the usual ones.

    A case that would need more packing than is allowed is drawn again: that is handed over, not coached.
    """
    while True:
        clock, family, adjuster, arm_mm = _uneven_clock(random, seed)
        if adjuster != "case-feet" or angles.size_mm(abs(clock.offset_deg), arm_mm) < MOST_PACKING_MM:
            return clock, family, adjuster, arm_mm


def _uneven_clock(random, seed):
    family = ("floor", "wall", "mantel")[random.integers(3)]
    adjuster = ADJUSTERS[family][random.integers(len(ADJUSTERS[family]))]
    swing = FAMILIES[family].swing_deg * random.uniform(0.8, 1.25)
    drop = swing * random.uniform(0.42, 0.66)
    offset = angles.offset_deg(random.uniform(6, 20) * random.choice([-1, 1]), swing, drop)
    most = 0.85 * (swing - drop)
    clock = SimulatedClock(
        ClockFacts(family=family), float(np.clip(offset, -most, most)), swing_deg=swing, drop_deg=drop, seed=seed
    )
    return clock, family, adjuster, clock.arm_mm(adjuster) * random.uniform(0.75, 1.33)


def keeps_going(clock):
    """Whether it runs; so far out that a full swing does not reach the tick it cannot."""
    return abs(clock.offset_deg) < clock.swing - clock.drop and clock.runs


def size_of(percent):
    return STOPPED if math.isnan(percent) else abs(percent)


class AtTheClock:
    """A person at a clock: moves it as well as people do, and tells what is asked as well as people can."""

    def __init__(self, seed, person):
        self.random, self.person = np.random.default_rng(seed), person
        self.clock, self.family, self.adjuster, self.arm_mm = uneven_clock(self.random, seed)
        self.turned_about = self.random.random() < person.mirrored
        self.learns_side = self.random.random() < person.learns_side
        ten_percent_mm = angles.size_mm(angles.offset_deg_linear(10, self.clock.swing, self.clock.drop), self.arm_mm)
        self.play_mm = 0.0 if self.adjuster == "case-feet" else ten_percent_mm * self.random.uniform(0, PLAY_SHARE)
        self.last_side = ("left", "right")[self.random.integers(2)]

    @property
    def percent(self):
        """Signed beat error; not a number where it does not keep going."""
        return self.clock.beat_error_percent if keeps_going(self.clock) else math.nan

    @property
    def out(self):
        """What is out of sight of the recording: to which side it is out, by the sign."""
        return self.clock.offset_deg

    def hears(self, after, side_asked=False):
        """The beat as a recording tells it; the side only where it was asked for and can be told."""
        wrong = self.random.random() < self.person.side_wrong
        told = side_asked and self.learns_side
        percent = self.percent
        if math.isnan(percent):
            side = angles.early_side(-self.out if wrong else self.out) if told else "unknown"
            return HeardBeat(0.0, 1.0, side, stopped=True, after=after)
        percent += self.random.normal(0, HEARD_UNCERTAINTY)
        side = angles.early_side(-percent if wrong else percent) if told else "unknown"
        return HeardBeat(abs(percent), HEARD_UNCERTAINTY, side, after=after)

    def looks_first(self, advice, acts):
        """Whether the person looks which way it went before going on, where the coach thinks the other way."""
        asks = advice.told.wrong == "went-wrong" and not acts[-1].looked_at
        return asks and self.random.random() < self.person.looks

    def moves(self, direction, amount_mm):
        """Move the adjuster; return the side the person really moved it to."""
        meant = angles.other(direction) if self.random.random() < self.person.slips else direction
        went = angles.other(meant) if self.turned_about else meant
        really_mm = amount_mm * float(np.exp(self.random.normal(0, self.person.scatter)))
        if went != self.last_side:
            really_mm = max(really_mm - self.play_mm, 0.0)
        self.last_side = went
        self.go(went, really_mm)
        return meant

    def go(self, went, really_mm):
        """What the clock makes of it."""
        self.clock = self.clock.moved(self.adjuster, went, really_mm, self.arm_mm)


class OnTheLine(AtTheClock):
    """The same, but the beat error follows the adjuster in a straight line and stops at a fixed size.

    That is the clock whose best possible outcome can be computed; see `tests.bench.coaching_optimum`.
    """

    STOPS_PERCENT = 28.0
    GAIN_SPREAD = 0.25

    def __init__(self, seed, person):
        super().__init__(seed, person)
        self.family, self.adjuster, self.play_mm = "floor", "crutch-bend", 0.0
        self.gain = float(np.exp(self.GAIN_SPREAD * np.clip(self.random.normal(), -2, 2)))
        self.error = self.random.uniform(6, 20) * self.random.choice([-1, 1])

    @property
    def percent(self):
        return self.error if abs(self.error) <= self.STOPS_PERCENT else math.nan

    @property
    def out(self):
        return self.error

    def go(self, went, really_mm):
        table = table_percent_per_mm(beat_task(self.adjuster, CLOCKS[self.family]))
        self.error -= really_mm * table * self.gain * (1.0 if went == "right" else -1.0)


def set_the_beat(seed, person, most_acts=3, policy: Policy = next_act, place=AtTheClock):
    """Let a person set the beat of a clock, told by the coach."""
    there = place(seed, person)
    pitch_mm = SCREW_PITCH_MM if "adjuster" in there.adjuster else None
    task = beat_task(there.adjuster, CLOCKS[there.family], pitch_mm)
    task = replace(task, side_can_be_learned=there.learns_side)
    heard, acts, percents, asked = [there.hears(0)], [], [size_of(there.percent)], []
    meant = None
    while True:
        advice = policy(task, tuple(heard), tuple(acts))
        over = advice.direction is None or len(acts) == most_acts or (person.content and advice.kind == "acceptable")
        if advice.kind in ("learn-side", "which-way") and len(asked) < MOST_QUESTIONS:
            asked.append(advice.kind)
            if advice.kind == "which-way" and there.random.random() < person.looks:
                acts[-1] = Act(meant, acts[-1].amount_mm, looked_at=True)
            else:
                heard.append(there.hears(len(acts), advice.kind == "learn-side"))
        elif over:
            return Session(percents, advice, acts, asked, task)
        elif there.looks_first(advice, acts) and meant == acts[-1].direction:
            # It did go as told, so that something else is wrong: that is said before anything is moved.
            acts[-1] = replace(acts[-1], looked_at=True)
        else:
            meant = there.moves(advice.direction, advice.amount_mm)
            acts.append(Act(advice.direction, advice.amount_mm))
            heard.append(there.hears(len(acts)))
            percents.append(size_of(there.percent))


def by_the_textbook(task, heard, acts):
    """The baseline: always the table's size for what is heard, to one side; after a worse beat to the other."""
    now = heard[-1]
    worse = len(heard) > 1 and (now.stopped or (not heard[-2].stopped and now.percent > heard[-2].percent))
    kind = "act" if now.stopped or now.percent > 5 else "acceptable" if now.percent >= 3 else "good"
    side = acts[-1].direction if acts else "right"
    amount_mm = (STOPS_ABOUT_PERCENT if now.stopped else now.percent) / table_percent_per_mm(task)
    told = Sentences(kind, task.adjuster, now.percent, now.uncertainty, "unknown", "none", False)
    return Advice(
        kind=kind,
        percent=now.percent,
        split=None,
        early_side="unknown",
        direction=None if kind == "good" else angles.other(side) if worse else side,
        amount_mm=amount_mm,
        in_hand="",
        last_step="none",
        percent_per_mm=None,
        percent_per_mm_uncertainty=None,
        look_at=(),
        cautions=(),
        told=told,
    )


def shares(person, count=300, most_acts=3, policy: Policy = next_act, place=AtTheClock):
    """Shares of clocks that end below 5 and below 3 percent."""
    ends = np.array([set_the_beat(seed, person, most_acts, policy, place).percents[-1] for seed in range(count)])
    return float(np.mean(ends < 5)), float(np.mean(ends < 3))
