"""A simulated pendulum clock: its ticks with sides and times, its beat, swing and reserve, all known exactly.

Signs as in `diagnose.mechanics.escapement`: positive to the right, as you face the dial; a positive offset
or beat error means that the right side comes early.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError
from diagnose.mechanics import escapement as angles
from diagnose.mechanics.escapement import Adjuster, Side
from diagnose.mechanics.pendulum import SECONDS_PER_DAY, SECONDS_PER_HOUR
from diagnose.model.observations import ClockFacts
from diagnose.training import pendulum_motion as motion
from diagnose.training.clock_families import FAMILIES, FamilyDefaults
from diagnose.training.ticking import LEFT, RIGHT, Ticking
from diagnose.training.wheelwork import TurnError, Wheelwork

SETTLED_SHARE = 1e-9
FIRST_HEARD = 2
"""The first drops sound: from them a side is counted."""
DOUBLED_AFTER_S = (0.015, 0.060)
"""When a second impact follows its drop; order of size, heard in recordings."""


@dataclass(frozen=True)
class SimulatedClock:
    """A clock whose faults are known.

    Parameters
    ----------
    facts : ClockFacts
        Which clock it is; `facts.family` gives what is left out below.
    offset_deg : float
        Angle between pallets and pendulum, + right early [deg].
    swing_deg, drop_deg : float, optional
        Semi-arc at full power in beat, and angle at which a tooth drops [deg].
    q : float, optional
        Quality factor of the swing [1].
    beats_per_hour : float, optional
        Nominal beats of its train [1/h].
    rate_s_per_day : float
        Rate at full power in beat, + gains [s/day].
    power : float
        Push of the train as a share of full power [1].
    losses : float
        Losses of the swing, as a multiple of the healthy ones: above 1 where something rubs [1].
    jitter_s, walk_s : float
        Spread of each tick by itself, and of each beat, which adds up [s].
    wheel_s : float
        Error of the escape wheel that comes once a turn, as an amplitude [s].
    escape_teeth : int
        Teeth of the escape wheel.
    seed : int
        Seed of all scatter.
    wheels : Wheelwork or None
        Errors of the wheels, in place of `wheel_s` and `escape_teeth`.
    power_lost_per_s : float
        Share of full power lost each second: a spring run down, a weight that comes to rest [1/s].
    silent_share, doubled_share : float
        Chance that a drop is not heard, and that a second impact follows it [1].
    silent_side : str or None
        A side that is never heard.
    """

    facts: ClockFacts = field(default_factory=lambda: ClockFacts(family="floor"))
    offset_deg: float = 0.0
    swing_deg: float | None = None
    drop_deg: float | None = None
    q: float | None = None
    beats_per_hour: float | None = None
    rate_s_per_day: float = 0.0
    power: float = 1.0
    losses: float = 1.0
    jitter_s: float = 2e-4
    walk_s: float = 2e-5
    wheel_s: float = 0.0
    escape_teeth: int = 30
    seed: int = 0
    wheels: Wheelwork | None = None
    power_lost_per_s: float = 0.0
    silent_share: float = 0.0
    doubled_share: float = 0.0
    silent_side: Side | None = None

    def __post_init__(self) -> None:
        if not 0 < self.drop < self.swing < 45:
            raise UsageError(
                f"a swing of {self.swing:g} and a drop at {self.drop:g} degrees",
                do="The swing is wider than the drop, and below 45 degrees",
            )

    @property
    def usual(self) -> FamilyDefaults:
        """Usual figures of its family (a floor clock's where the family is not known)."""
        return FAMILIES.get(self.facts.family, FAMILIES["floor"])

    @property
    def swing(self) -> float:
        """Semi-arc at full power in beat [deg]."""
        return self.usual.swing_deg if self.swing_deg is None else self.swing_deg

    @property
    def drop(self) -> float:
        """Angle at which a tooth drops, in beat [deg]."""
        return self.usual.drop_deg if self.drop_deg is None else self.drop_deg

    @property
    def nominal(self) -> float:
        """Nominal beats per hour [1/h]."""
        return self.beats_per_hour or self.facts.beats_per_hour or self.usual.beats_per_hour

    @cached_property
    def _at_full_power(self) -> motion.Escapement:
        return _driven(
            math.radians(self.swing),
            math.radians(self.drop),
            self.facts.escapement != "deadbeat",
            self.usual.q if self.q is None else self.q,
        )

    @property
    def escapement(self) -> motion.Escapement:
        """How the pendulum is pushed now."""
        full = self._at_full_power
        return replace(full, push=full.push * self.power, quality=full.quality / self.losses)

    @property
    def unit_s(self) -> float:
        """Seconds in a unit of time of the motion: full power, in beat, makes the given rate [s]."""
        beat_s = SECONDS_PER_HOUR / self.nominal / (1 + self.rate_s_per_day / SECONDS_PER_DAY)
        return beat_s / motion.beat_in(math.radians(self.swing), self._at_full_power)

    @property
    def steady_swing_deg(self) -> float | None:
        """Semi-arc on the right when all has settled; None if the clock cannot keep going [deg]."""
        steady = _steady_turn(math.radians(self.offset_deg), self.escapement)
        return None if steady is None else math.degrees(steady)

    @property
    def runs(self) -> bool:
        """Whether it keeps going."""
        return self.steady_swing_deg is not None

    @property
    def beat_error_percent(self) -> float:
        """Beat error when all has settled, without scatter, + right early; nan if it stops [percent]."""
        still = replace(self, jitter_s=0.0, walk_s=0.0, wheel_s=0.0)
        if not still.runs:
            return math.nan
        return still.run(6 * SECONDS_PER_HOUR / still.nominal).beat_error_percent

    def hand_travel_mm(self, radius_mm: float) -> tuple[float, float]:
        """Return how far the rod is led by hand from rest to the tick, right and left [mm].

        Parameters
        ----------
        radius_mm : float
            From the bend of the suspension spring to the ruler [mm].
        """
        return (
            angles.size_mm(self.drop - self.offset_deg, radius_mm),
            angles.size_mm(self.drop + self.offset_deg, radius_mm),
        )

    def arm_mm(self, adjuster: Adjuster) -> float:
        """Return the arm that turns a movement of an adjuster into an angle [mm].

        Parameters
        ----------
        adjuster : str
            Kind of adjuster.
        """
        if adjuster == "case-feet":
            return self.usual.base_mm
        if adjuster == "case-hook":
            return self.usual.hook_to_foot_mm
        return self.usual.bend_to_bob_mm if adjuster == "friction-crutch" else self.usual.fork_mm

    def moved(self, adjuster: Adjuster, side: Side, size_mm: float, arm_mm: float | None = None) -> SimulatedClock:
        """Return the clock after an adjuster has been moved.

        Parameters
        ----------
        adjuster : str
            Kind of adjuster.
        side : str
            The side raised, or toward which grip, fork, foot or case bottom goes.
        size_mm : float
            How far [mm].
        arm_mm : float, optional
            The arm of this very clock, where it is not the usual one [mm].
        """
        arm = self.arm_mm(adjuster) if arm_mm is None else arm_mm
        change = angles.offset_change(adjuster, side, size_mm, arm)
        return replace(self, offset_deg=self.offset_deg + change)

    def run(self, seconds: float, released_from: Side | None = None, start_swing_deg: float | None = None) -> Ticking:
        """Let it run.

        Parameters
        ----------
        seconds : float
            For how long [s].
        released_from : str, optional
            The bob is held at rest beyond the tick on this side and let go at time 0; the first tick comes
            on the other side. Without it the clock is under way already.
        start_swing_deg : float, optional
            How far aside it starts; its steady swing, or its full swing if it has none [deg].

        Returns
        -------
        Ticking
            Each tick that came. A swing that no longer reaches its tick ends it.

        Raises
        ------
        UsageError
            If the run has no length, or the start does not reach the tick.
        """
        if seconds <= 0:
            raise UsageError(f"a run of {seconds:g} s", do="Give more than 0 s")
        start = start_swing_deg or self.steady_swing_deg or self.swing
        side = LEFT if released_from == "left" else RIGHT
        if released_from and start < self.drop - side * self.offset_deg:
            raise UsageError(f"let go from {start:g} degrees, short of the tick", do="Lead it aside until it ticks")
        random = np.random.default_rng(self.seed)
        lead_in = 0.0 if released_from else random.uniform(0, 2) * SECONDS_PER_HOUR / self.nominal
        times, sides, turns, stopped = self._swing(seconds + lead_in, math.radians(start), side)
        scattered = self._scattered(times - lead_in, random)
        wheels = self._wheels(random)
        numbers = np.arange(times.size)
        times = scattered + wheels.lateness_s(numbers)
        kept = (times > 0) & (times <= seconds)
        silent, doubled = self._heard(times[kept], sides[kept], random)
        return Ticking(
            times[kept],
            sides[kept],
            turns[kept],
            seconds,
            self.nominal,
            float(times[-1]) if stopped and times.size else None,
            released_from,
            silent,
            doubled,
            numbers[kept],
            wheels,
        )

    def _wheels(self, random: np.random.Generator) -> Wheelwork:
        """Return the errors of its wheels; where only a size is given, with a phase of chance."""
        if self.wheels is not None:
            return self.wheels
        turn = TurnError(2 * self.escape_teeth, self.wheel_s, random.uniform(0, 2 * np.pi))
        return Wheelwork(self.escape_teeth, (turn,), spanned_beats=0)

    def _heard(
        self, times: NDArray[np.float64], sides: NDArray[np.int8], random: np.random.Generator
    ) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
        """Return which drops are silent, and when second impacts follow."""
        silent = random.random(times.size) < self.silent_share
        silent[:FIRST_HEARD] = False
        if self.silent_side is not None:
            silent |= sides == (RIGHT if self.silent_side == "right" else LEFT)
        doubled = (random.random(times.size) < self.doubled_share) & ~silent
        return silent, np.where(doubled, times + random.uniform(*DOUBLED_AFTER_S, times.size), np.nan)

    def _swing(
        self, seconds: float, start: float, side: int
    ) -> tuple[NDArray[np.float64], NDArray[np.int8], NDArray[np.float64], bool]:
        """Return times, sides and turns of all ticks from a start at rest on one side, and whether it stopped."""
        full, unit_s, offset = self.escapement, self.unit_s, math.radians(self.offset_deg)
        drive = full
        times: list[float] = []
        sides: list[int] = []
        turns: list[float] = []
        now, angle, speed = 0.0, -start, 0.0
        heading = -side
        while now <= seconds:
            if self.power_lost_per_s:
                drive = replace(full, push=full.push * max(1.0 - self.power_lost_per_s * now, 0.0))
            tick = motion.next_tick(angle, speed, heading * offset, drive)
            if tick is None:
                return np.array(times), np.array(sides, np.int8), np.array(turns), True
            now += tick.after * unit_s
            times.append(now)
            sides.append(heading)
            turns.append(math.degrees(motion.overswing_turn(tick, drive).angle))
            angle, speed, heading = -tick.angle, -tick.speed, -heading
        return np.array(times), np.array(sides, np.int8), np.array(turns), False

    def _scattered(self, times: NDArray[np.float64], random: np.random.Generator) -> NDArray[np.float64]:
        """Return the times with the scatter of ticks and beats."""
        own = random.normal(0, 1, times.size) * self.jitter_s
        walk = np.cumsum(random.normal(0, 1, times.size)) * self.walk_s
        scattered: NDArray[np.float64] = times + own + walk
        return scattered


@lru_cache(maxsize=1024)
def _driven(swing: float, drop: float, recoil: bool, quality: float) -> motion.Escapement:
    """Return the escapement that keeps a swing going in beat."""
    lift_from = drop / 2
    bare = motion.Escapement(drop, lift_from, recoil, 0.0, quality)
    return replace(bare, push=motion.push_for(swing, bare))


@lru_cache(maxsize=4096)
def _steady_turn(offset: float, drive: motion.Escapement) -> float | None:
    """Return the turn on the right that repeats itself, by letting the swing settle with growing strides."""
    turn_now = _full_swing_turn(drive)
    for _ in range(200):
        once = _next_right_turn(turn_now, offset, drive)
        if once is None:
            return None
        twice = _next_right_turn(once, offset, drive)
        if twice is None:
            return None
        first, second = once - turn_now, twice - once
        if abs(first) < SETTLED_SHARE * turn_now:
            return twice
        # The swing closes in on its steady width by a constant ratio: jump to where that leads.
        ratio = second / first
        turn_now = once + first * ratio / (1 - ratio) if 0 <= ratio < 1 else twice
        if turn_now <= drive.drop - abs(offset):
            return None
    return turn_now


def _full_swing_turn(drive: motion.Escapement) -> float:
    """Return the semi-arc at which this push makes good what is lost, in beat, from the balance of energy."""
    lift = 2 * drive.drop if drive.recoil else drive.lift_from + drive.drop
    return math.sqrt(drive.push * lift * 2 * drive.quality / math.pi)


def _next_right_turn(turn_right: float, offset: float, drive: motion.Escapement) -> float | None:
    left = motion.next_tick(-turn_right, 0.0, -offset, drive)
    if left is None:
        return None
    right = motion.next_tick(-left.angle, -left.speed, offset, drive)
    return None if right is None else motion.overswing_turn(right, drive).angle
