"""What else a recording tells besides beat and rate: each thing noticed has a name, figures, and how sure it is."""

from __future__ import annotations

from dataclasses import dataclass, field

MISSED, DOUBLED, SECOND_KNOCK = "missed-ticks", "doubled-ticks", "second-knock"
FADING, DYING, STOPPED, DIED_AWAY = "fading", "dying-swing", "stopped", "died-away"
BEAT_CHANGES = "beat-changes"
UNSETTLED = frozenset({FADING, DYING, STOPPED, DIED_AWAY, BEAT_CHANGES})
"""What changes while the clock is heard: no figure of such a recording is a good one."""
TWO_CLOCKS, ONE_A_SECOND, BALANCE = "other-clock", "one-a-second", "balance-wheel"
STRIKE, LOUD = "strike-heard", "loud-sound"
TOOTH, SWELL, TURN, BREATHING, NO_TURN, SHORT_TURN = (
    "bad-tooth", "turn-swells", "turn-scatters", "turn-breathes", "turn-steady", "turn-too-short",
)  # fmt: skip
SLOW_TURN, STEADINESS = "slow-cycle", "steadiness"
KINDS = (
    MISSED, DOUBLED, SECOND_KNOCK, FADING, DYING, STOPPED, DIED_AWAY, BEAT_CHANGES, TWO_CLOCKS, ONE_A_SECOND, BALANCE,
    STRIKE, LOUD, TOOTH, SWELL, TURN, BREATHING, NO_TURN, SHORT_TURN, SLOW_TURN,
    *(f"{STEADINESS}-{kind}" for kind in ("scatter", "wander", "drift")),
)  # fmt: skip
"""Everything that can be noticed; the sentence of each stands as `noticed-<kind>` among the words of the screen."""


@dataclass(frozen=True, slots=True)
class Noticed:
    """One thing noticed in a recording.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    chance : float
        Probability that it is so.
    figures : dict of str to float
        What the sentence names, in the units it names.
    """

    kind: str
    chance: float
    figures: dict[str, float] = field(default_factory=dict)
