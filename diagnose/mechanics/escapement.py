"""The escapement: from uneven beats to an angle, from the angle to sizes and directions at the clock.

Signs: an offset, a beat error and a movement are positive to the *right*, as you face the dial. A positive
offset or beat error means that the right side comes early.

References
----------
.. [1] E. Beckett, *Clocks, Watches and Bells*, 8th ed., pp. 78-79 (direction), 86-93 (angles), 155.
.. [2] Derived for this project from the geometry of tilted case, arbor, crutch and plumb leader.
"""

from __future__ import annotations

import math
from types import MappingProxyType
from typing import Literal

from diagnose.errors import UsageError

Side = Literal["left", "right"]
EarlySide = Literal["left", "right", "unknown"]
Adjuster = Literal["leader-adjuster", "crutch-adjuster", "crutch-bend", "friction-crutch", "case-feet", "case-hook"]

GOOD_PERCENT = 3.0
"""Below this a beat is good; common practice, no source [percent]."""

ACCEPTABLE_PERCENT = 5.0
"""Up to this a beat is acceptable; common practice, no source [percent]."""

TINY_RAD = 1e-9
"""What rounding may add to an angle [rad]."""

MS_PER_HOUR = 3_600_000.0

TOWARD = MappingProxyType(
    {
        "leader-adjuster": "late",
        "crutch-adjuster": "early",
        "crutch-bend": "early",
        "friction-crutch": "early",
        "case-feet": "early",
        "case-hook": "early",
    }
)
"""The side toward which each kind of adjuster is moved ([1]_, p. 79, and [2]_).

Only the grip on the *leader* goes toward the late side: it carries crutch and pallets with it.
"""


def beat_error_percent(offset_deg: float, swing_deg: float, drop_deg: float) -> float:
    """Return the beat error of a sinusoidal swing, exactly [percent of the swing, + right early].

    Parameters
    ----------
    offset_deg : float
        Angle between pallets and pendulum: the right tick comes at `drop_deg - offset_deg` [deg].
    swing_deg : float
        Semi-arc, from rest to one end [deg].
    drop_deg : float
        Angle from rest at which a tooth drops, when in beat [deg].

    Returns
    -------
    float
        100 (t_right - t_left) / (t_right + t_left), where t_right is the interval in which the bob
        turns on the right; not a number where the pendulum does not reach both ticks.

    References
    ----------
    [2]_: (arcsin((drop + offset)/swing) - arcsin((drop - offset)/swing)) / pi.
    """
    if reserve_deg(offset_deg, swing_deg, drop_deg) < 0:
        return math.nan
    left = math.asin((drop_deg + offset_deg) / swing_deg)
    right = math.asin((drop_deg - offset_deg) / swing_deg)
    return 100 * (left - right) / math.pi


def beat_error_percent_linear(offset_deg: float, swing_deg: float, drop_deg: float) -> float:
    """Return the beat error for a small offset, 2 offset / (pi sqrt(swing^2 - drop^2)) [percent].

    Parameters
    ----------
    offset_deg, swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].
    """
    return 100 * 2 / math.pi * offset_deg / math.sqrt(swing_deg**2 - drop_deg**2)


def offset_deg(percent: float, swing_deg: float, drop_deg: float) -> float:
    """Return the offset that makes a beat error, exactly [deg, + right early].

    Parameters
    ----------
    percent : float
        Beat error [percent, + right early].
    swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].

    Raises
    ------
    UsageError
        If no offset at which such a clock still runs makes so large a beat error.

    Notes
    -----
    Closed form of `beat_error_percent`: with e the angle of half the error in phase, the two crossings are
    at phases m - e and m + e, so that drop = swing sin m cos e and offset = swing cos m sin e.
    """
    half_phase = math.pi / 2 * percent / 100
    sine = drop_deg / (swing_deg * math.cos(half_phase))
    # The later of the two crossings must come before the end of the swing.
    if not 0 <= sine <= 1 or math.asin(sine) + abs(half_phase) > math.pi / 2 + TINY_RAD:
        raise UsageError(
            f"beat error {percent:g} % at a swing of {swing_deg:g} and a drop at {drop_deg:g} degrees",
            do="Such a clock would have stopped: check the recording and the swing",
        )
    return swing_deg * math.sqrt(1 - sine**2) * math.sin(half_phase)


def offset_deg_linear(percent: float, swing_deg: float, drop_deg: float) -> float:
    """Return the offset that makes a small beat error [deg]; see `beat_error_percent_linear`.

    Parameters
    ----------
    percent : float
        Beat error [percent].
    swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].
    """
    return math.pi / 2 * percent / 100 * math.sqrt(swing_deg**2 - drop_deg**2)


def reserve_deg(offset_deg: float, swing_deg: float, drop_deg: float) -> float:
    """Return the overswing left on the worse side; below 0 the clock cannot run [deg].

    Parameters
    ----------
    offset_deg, swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].
    """
    return swing_deg - drop_deg - abs(offset_deg)


def stop_offset_deg(swing_deg: float, drop_deg: float) -> float:
    """Return the offset from which the clock cannot run: its overswing when in beat [deg].

    Parameters
    ----------
    swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].

    Raises
    ------
    UsageError
        If the swing does not reach the drop even when in beat.
    """
    if not 0 < drop_deg < swing_deg:
        raise UsageError(
            f"a swing of {swing_deg:g} and a drop at {drop_deg:g} degrees",
            do="Measured from rest, the swing must be more than the drop: otherwise no tooth would fall",
        )
    return swing_deg - drop_deg


def stop_percent(swing_deg: float, drop_deg: float) -> float:
    """Return the largest beat error that a clock of this swing can show: beyond it, it stops [percent].

    Parameters
    ----------
    swing_deg, drop_deg : float
        As in `beat_error_percent` [deg].

    Notes
    -----
    The swing is taken as it is; one that is out of beat often swings less, and stops sooner.
    """
    # Rounding must not carry the limit itself past the end of the swing.
    return beat_error_percent(stop_offset_deg(swing_deg, drop_deg) * (1 - TINY_RAD), swing_deg, drop_deg)


def swing_needed_deg(offset_deg: float, drop_deg: float) -> float:
    """Return the least swing with which a clock so far out of beat can run [deg].

    Parameters
    ----------
    offset_deg, drop_deg : float
        As in `beat_error_percent` [deg].
    """
    return drop_deg + abs(offset_deg)


def early_side(signed: float) -> EarlySide:
    """Return the side that comes early, from a signed offset or beat error.

    Parameters
    ----------
    signed : float
        Offset or beat error, + right early.
    """
    if math.isnan(signed) or signed == 0:
        return "unknown"
    return "right" if signed > 0 else "left"


def other(side: Side) -> Side:
    """Return the opposite side."""
    return "left" if side == "right" else "right"


def split_percent(percent: float) -> tuple[float, float]:
    """Return the longer and the shorter interval in percent of the swing, such as (56.4, 43.6).

    Parameters
    ----------
    percent : float
        Beat error; its sign does not count [percent].
    """
    return 50 + abs(percent) / 2, 50 - abs(percent) / 2


def size_mm(offset_deg: float, arm_mm: float) -> float:
    """Return how far a point moves that turns by an angle: shim, foot, grip, slip or case bottom [mm].

    Parameters
    ----------
    offset_deg : float
        Angle [deg].
    arm_mm : float
        Width between the feet, arbor to fork, bend to bob tip, or hook to case bottom [mm].
    """
    return math.radians(offset_deg) * arm_mm


def angle_deg(size_mm: float, arm_mm: float) -> float:
    """Return the angle that a movement stands for; the opposite of `size_mm` [deg].

    Parameters
    ----------
    size_mm, arm_mm : float
        Movement and the arm it turns about [mm].
    """
    return math.degrees(size_mm / arm_mm)


def offset_from_hand_travel(right_mm: float, left_mm: float, radius_mm: float) -> float:
    """Return the offset from leading the bob by hand to either tick ([2]_) [deg, + right early].

    Parameters
    ----------
    right_mm, left_mm : float
        From rest to the tick on either side, at the ruler [mm].
    radius_mm : float
        From the bend of the suspension spring to the ruler [mm].

    Notes
    -----
    A live train holds a light bob a little off its true rest: use the middle of the two rests.
    """
    return math.degrees((left_mm - right_mm) / (2 * radius_mm))


def offset_change(adjuster: Adjuster, side: Side, size_mm: float, arm_mm: float) -> float:
    """Return by how much moving an adjuster changes the offset [deg, + right early].

    Parameters
    ----------
    adjuster : str
        Kind of adjuster, see `TOWARD`.
    side : str
        Where it is moved: the side raised, or toward which grip, fork, foot or case bottom goes.
    size_mm : float
        How far [mm].
    arm_mm : float
        As in `size_mm` [mm].
    """
    toward_right = 1.0 if side == "right" else -1.0
    sign = 1.0 if TOWARD[adjuster] == "late" else -1.0
    return sign * toward_right * angle_deg(size_mm, arm_mm)


def side_to_move(adjuster: Adjuster, early: Side) -> Side:
    """Return the side toward which an adjuster is moved when `early` comes too soon.

    Parameters
    ----------
    adjuster : str
        Kind of adjuster, see `TOWARD`.
    early : str
        The side that comes early.
    """
    return early if TOWARD[adjuster] == "early" else other(early)


def longer_interval_bob_side(signed: float) -> EarlySide:
    """Return the side on which the bob turns during the longer interval: it is the early side ([2]_).

    Parameters
    ----------
    signed : float
        Offset or beat error, + right early.
    """
    return early_side(signed)


def beat_error_ms(percent: float, beats_per_hour: float) -> float:
    """Return half the difference between the two intervals [ms].

    Parameters
    ----------
    percent : float
        Beat error [percent of the swing].
    beats_per_hour : float
        Beats per hour [1/h].
    """
    return percent / 100 * MS_PER_HOUR / beats_per_hour


def lost_motion_deg(play_mm: float, fork_mm: float) -> float:
    """Return the angle by which play between leader and fork lets the pallets lag ([2]_) [deg].

    Parameters
    ----------
    play_mm : float
        Free play of the leader in the fork [mm].
    fork_mm : float
        From the pallet arbor to the fork [mm].
    """
    return angle_deg(play_mm, fork_mm)
