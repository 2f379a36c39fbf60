"""Errors of the wheels of a going train, as what they add to the time of each beat: exact, and the same each turn."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.errors import UsageError

BEATS_PER_TOOTH = 2
"""A tooth drops once on each pallet."""


@dataclass(frozen=True, slots=True)
class TurnError:
    """What comes back once a turn of a wheel, as one smooth wave: an eccentric wheel or a bent arbor.

    Parameters
    ----------
    beats_per_turn : float
        Beats in a turn of this wheel [1].
    amplitude_s : float
        Largest lateness [s].
    phase : float
        Where in the wave beat 0 stands [rad].
    """

    beats_per_turn: float
    amplitude_s: float
    phase: float = 0.0


@dataclass(frozen=True, slots=True)
class BadTooth:
    """A tooth of the escape wheel that drops late, or early.

    Parameters
    ----------
    tooth : int
        Which, counted from the one that drops at beat 0.
    late_s : float
        How late it drops, on both pallets [s].
    """

    tooth: int
    late_s: float


@dataclass(frozen=True, slots=True)
class Wheelwork:
    """Errors of the escape wheel and of the slower wheels.

    Parameters
    ----------
    teeth : int
        Teeth of the escape wheel; a turn takes twice as many beats.
    turns : tuple of TurnError
        Waves that come once a turn, of the escape wheel or of slower wheels.
    bad_teeth : tuple of BadTooth
        Single teeth that drop late or early.
    spanned_beats : int
        Beats from the drop of a tooth on the one pallet to its drop on the other; odd, as it changes pallet. 0: a bad
        tooth is late on the first pallet only.
    scatter_s : tuple of float
        Lateness of every drop of a turn, repeated each turn, 2 * teeth long; empty for none [s].
    """

    teeth: int = 30
    turns: tuple[TurnError, ...] = ()
    bad_teeth: tuple[BadTooth, ...] = ()
    spanned_beats: int = 15
    scatter_s: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if self.teeth < 1 or any(not 0 <= bad.tooth < self.teeth for bad in self.bad_teeth):
            raise UsageError(f"a bad tooth on a wheel of {self.teeth}", do="Count its teeth from 0")
        if self.scatter_s and len(self.scatter_s) != self.beats_per_turn:
            raise UsageError(
                f"{len(self.scatter_s)} errors for {self.beats_per_turn} drops in a turn", do="Give one for each drop"
            )
        if self.spanned_beats and self.spanned_beats % 2 == 0:
            raise UsageError(
                f"{self.spanned_beats} beats from pallet to pallet", do="Give an odd number: a tooth changes pallet"
            )

    @property
    def beats_per_turn(self) -> int:
        """Beats in a turn of the escape wheel [1]."""
        return BEATS_PER_TOOTH * self.teeth

    def lateness_s(self, numbers: NDArray[np.int_]) -> NDArray[np.float64]:
        """Return by how much each beat comes late, shape (n,) [s].

        Parameters
        ----------
        numbers : int ndarray, shape (n,)
            Numbers of the beats.
        """
        late = np.zeros(len(numbers))
        for turn in self.turns:
            late += turn.amplitude_s * np.sin(2 * np.pi * numbers / turn.beats_per_turn + turn.phase)
        place = numbers % self.beats_per_turn
        if self.scatter_s:
            late += np.array(self.scatter_s)[place]
        for bad in self.bad_teeth:
            for beat in self.beats_of(bad.tooth):
                late[place == beat] += bad.late_s
        return late

    def beats_of(self, tooth: int) -> tuple[int, ...]:
        """Return the beats of a turn at which a tooth drops: on one pallet, then on the other.

        Parameters
        ----------
        tooth : int
            Which, counted from the one that drops at beat 0.
        """
        first = BEATS_PER_TOOTH * tooth
        if not self.spanned_beats:
            return (first,)
        return first, (first + self.spanned_beats) % self.beats_per_turn
