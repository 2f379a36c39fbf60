"""The train backward: which wheels and pinions give a beat, and for which beat a clock was probably made.

The order of usualness is common practice, no source: it only decides what is told first.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 22-23, 133-135 (the rule, and trains in use).
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from diagnose.errors import UsageError
from diagnose.mechanics.pendulum import SECONDS_PER_DAY
from diagnose.mechanics.train import COMMON_TRAINS, NEAR_SHARE
from diagnose.mechanics.train import beats_per_hour as beats_of

WHEEL_TEETH = range(40, 121)
PINION_LEAVES = (6, 7, 8, 9, 10, 12)
ESCAPE_TEETH = range(24, 51)
"""Counts in which a domestic pendulum clock is made, lantern pinions among them; common practice, no source."""

USUAL_LEAVES = frozenset({6, 7, 8, 10})
USUAL_ESCAPE = 30
FEW_ESCAPE = 40
"""An escape wheel of more teeth is rarer; common practice, no source."""

MOST_TRIED = 2_000_000
"""More combinations than this are not tried: somebody has to count one wheel more."""

COVER = 2.0
"""A measured beat fits a train within so many standard uncertainties."""


@dataclass(frozen=True, slots=True)
class Train:
    """A going train from the center wheel to the escape wheel.

    Parameters
    ----------
    wheels, pinions : tuple of int
        The wheels that drive, in order, and the pinions that they drive.
    escape_teeth : int
        Teeth of the escape wheel.
    """

    wheels: tuple[int, ...]
    pinions: tuple[int, ...]
    escape_teeth: int

    @property
    def beats_per_hour(self) -> Fraction:
        """Beats per hour, exactly [1/h]."""
        return beats_of(self.wheels, self.pinions, self.escape_teeth)


@dataclass(frozen=True, slots=True)
class Counted:
    """What has been counted of a train; None stands for a count that is not known.

    Parameters
    ----------
    wheels, pinions : tuple of int or None, shape (n,)
        In order from the center wheel.
    escape_teeth : int or None
        Teeth of the escape wheel.
    """

    wheels: tuple[int | None, ...] = (None, None)
    pinions: tuple[int | None, ...] = (None, None)
    escape_teeth: int | None = None


@dataclass(frozen=True, slots=True)
class CommonTrain:
    """A beat for which pendulum clocks were made, beside a measured one.

    Parameters
    ----------
    beats_per_hour : float
        Of the train [1/h].
    rate_s_per_day, rate_unsure : float
        What the clock then gains (+), with its standard uncertainty [s/day].
    """

    beats_per_hour: float
    rate_s_per_day: float
    rate_unsure: float


def common_trains(beats_per_hour: float, unsure: float = 0.0) -> tuple[CommonTrain, ...]:
    """Return the common trains near a measured beat, the one with the smallest rate first.

    Parameters
    ----------
    beats_per_hour, unsure : float
        Measured beats per hour and their standard uncertainty [1/h].

    Returns
    -------
    tuple of CommonTrain
        Those within 2 percent, widened by twice the uncertainty; perhaps none.
    """
    within = NEAR_SHARE + COVER * unsure / beats_per_hour
    found = [
        CommonTrain(train, SECONDS_PER_DAY * (beats_per_hour / train - 1), SECONDS_PER_DAY * unsure / train)
        for train in COMMON_TRAINS
        if abs(train / beats_per_hour - 1) <= within
    ]
    return tuple(sorted(found, key=lambda each: abs(each.rate_s_per_day)))


def trains_for(beats_per_hour: float, unsure: float = 0.0, counted: Counted | None = None) -> tuple[Train, ...]:
    """Return the trains of usual counts that give a beat, the most usual first.

    Parameters
    ----------
    beats_per_hour : float
        Beats per hour that the train must give [1/h].
    unsure : float
        Its standard uncertainty; 0 asks for the beat exactly [1/h].
    counted : Counted, optional
        What is known of the train; two wheels after one another where nothing is.

    Returns
    -------
    tuple of Train
        Where two wheels are both unknown, the one with more teeth is named first: exchanged they beat alike.

    Raises
    ------
    UsageError
        If the counts do not pair up, or too many of them are unknown.
    """
    counted = counted or Counted()
    _must_be_few(counted)
    found = {train for train in _tried(beats_per_hour, unsure, counted) if _in_order(train, counted)}
    return tuple(sorted(found, key=lambda train: (_unusual(train), train.escape_teeth, train.pinions, train.wheels)))


def _must_be_few(counted: Counted) -> None:
    if len(counted.wheels) != len(counted.pinions) or not counted.wheels:
        raise UsageError(
            f"{len(counted.wheels)} wheels and {len(counted.pinions)} pinions", do="Give one pinion for each wheel"
        )
    known = [count for count in (*counted.wheels, *counted.pinions, counted.escape_teeth) if count is not None]
    if known and min(known) < 1:
        raise UsageError(f"a count of {min(known)}", do="Every count is at least 1, ? where it is not known")
    tries = math.prod(len(choices) for choices in _choices(counted)[1:])
    if tries > MOST_TRIED:
        raise UsageError(
            f"a train of {len(counted.wheels)} wheels with {len(_open(counted))} counts unknown",
            do="Count one or two more wheels or pinions: too many trains would fit",
        )


def _open(counted: Counted) -> list[None]:
    return [count for count in (*counted.wheels, *counted.pinions, counted.escape_teeth) if count is None]


def _choices(counted: Counted) -> list[Sequence[int]]:
    """Return what each count may be: a count that can be solved for stands first."""
    free = [(count, kind) for counts, kind in ((counted.wheels, WHEEL_TEETH), (counted.pinions, PINION_LEAVES))
            for count in counts]  # fmt: skip
    free.append((counted.escape_teeth, ESCAPE_TEETH))
    return sorted(
        (kind if count is None else (count,) for count, kind in free), key=lambda each: len(each), reverse=True
    )


def _tried(beats: float, unsure: float, counted: Counted) -> Iterator[Train]:
    """Yield every train within the usual counts; one unknown wheel, or else the escape wheel, is solved for."""
    solved = next((place for place, count in enumerate(counted.wheels) if count is None), None)
    wheels = [
        (1,) if place == solved else WHEEL_TEETH if count is None else (count,)
        for place, count in enumerate(counted.wheels)
    ]
    pinions = [PINION_LEAVES if count is None else (count,) for count in counted.pinions]
    by_escape = solved is None and counted.escape_teeth is None
    escapes = (1,) if by_escape else ESCAPE_TEETH if counted.escape_teeth is None else (counted.escape_teeth,)
    for chosen in itertools.product(itertools.product(*wheels), itertools.product(*pinions), escapes):
        yield from _solved(Train(*chosen), beats, unsure, solved, by_escape)


def _solved(train: Train, beats: float, unsure: float, solved: int | None, by_escape: bool) -> Iterator[Train]:
    """Yield the train with its one open count filled in, in each way that gives the beat."""
    # With the open count at 1, every tooth more adds the beats that this train has.
    per_tooth = 2.0 * train.escape_teeth * math.prod(train.wheels) / math.prod(train.pinions)
    reach = COVER * unsure
    least, most = (beats - reach) / per_tooth, (beats + reach) / per_tooth
    rounding = 1e-9 * most
    counts = range(math.ceil(least - rounding), math.floor(most + rounding) + 1)
    if solved is not None:
        for count in counts:
            if count in WHEEL_TEETH:
                wheels = (*train.wheels[:solved], count, *train.wheels[solved + 1 :])
                yield Train(wheels, train.pinions, train.escape_teeth)
    elif by_escape:
        yield from (Train(train.wheels, train.pinions, count) for count in counts if count in ESCAPE_TEETH)
    elif 1 in counts:
        yield train


def _in_order(train: Train, counted: Counted) -> bool:
    """Tell whether this is the one of several that differ only by an exchange of unknown counts."""
    wheels = [each for each, given in zip(train.wheels, counted.wheels, strict=True) if given is None]
    pinions = [each for each, given in zip(train.pinions, counted.pinions, strict=True) if given is None]
    return wheels == sorted(wheels, reverse=True) and pinions == sorted(pinions, reverse=True)


def _unusual(train: Train) -> float:
    """Return how far a train is from what is met most; common practice, no source."""
    pinions = set(train.pinions)
    odd_wheels = sum(wheel % 2 + (wheel % 4 != 0 and wheel % 5 != 0) for wheel in train.wheels)
    escape = 0.0 if train.escape_teeth == USUAL_ESCAPE else 1.0 + train.escape_teeth % 2
    escape += train.escape_teeth > FEW_ESCAPE
    unequal = max(train.wheels) / min(train.wheels) - 1
    return (len(pinions) - 1) + len(pinions - USUAL_LEAVES) + odd_wheels / 2 + escape + unequal
