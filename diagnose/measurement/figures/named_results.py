"""The results that are not a number: each with its name, its reason and a way out."""

from __future__ import annotations

from dataclasses import dataclass

NO_TICKS = "no ticks found"
TOO_SHORT = "too short"
TWO_CLOCKS = "two clocks"
ONE_A_SECOND = "one tick a second: no pendulum"
BALANCE = "balance wheel, not a pendulum"
NOT_A_CLOCK = "no steady beat"
TAKEN_OUT = "ticks taken out"
SUDDEN_CONTRAST = 25.0
"""From this contrast in the fold there are sudden sounds in a recording, even or not."""
NAMES = (NO_TICKS, TOO_SHORT, TWO_CLOCKS, ONE_A_SECOND, BALANCE, NOT_A_CLOCK, TAKEN_OUT)

EVEN_KINDS = (BALANCE, ONE_A_SECOND)
"""Here something does tick evenly, though no pendulum: its pace is told."""

REMARKS = (
    ("if it is a battery clock", "once-a-second"),
    ("Only one beat in each swing", "one-side"),
    ("All beats sound the same", "one-side"),
    ("The recording jumps", "gap"),
    ("The recording was interrupted", "gap"),
    ("The file is cut short", "cut-short"),
    ("The sound is clipped", "too-loud"),
    ("the file holds exact silence", "quiet-left-out"),
    ("left out by the phone as silence", "quiet-left-out"),
    ("Two impacts compete for", "two-knocks"),
    ("The two recordings do not agree", "do-not-agree"),
    ("The two recordings name different sides", "do-not-agree"),
    ("Take the side with care", "side-unsure"),
    ("Tapped by hand", "tapped"),
    ("Counted by ear", "counted"),
)
"""Words by which a remark on a recording is known, and its name; one that is not here is for staff alone."""


@dataclass(frozen=True, slots=True)
class Refusal:
    """Why a recording gives no number, and what to do.

    Parameters
    ----------
    name : str
        One of `NAMES`.
    reason : str
        What was heard, in one sentence.
    way_out : str
        What to do to get a number.
    """

    name: str
    reason: str
    way_out: str


def silent(loudness_db: float) -> Refusal:
    """Return the refusal of a recording with next to nothing in it."""
    return Refusal(
        NO_TICKS,
        f"The recording is all but silent ({loudness_db:.0f} dB below full scale).",
        "Hold the phone against the case, near the movement, and record again for 30 seconds.",
    )


def no_ticks() -> Refusal:
    """Return the refusal of a recording in which nothing repeats."""
    return Refusal(
        NO_TICKS,
        "Nothing in the recording stands out of the noise again and again.",
        "Stop other sounds, hold the phone against the case near the movement, and record 30 seconds. "
        "If the clock has stopped, start it first.",
    )


def too_short(seconds: float, needed_s: float) -> Refusal:
    """Return the refusal of a recording that holds too few swings."""
    return Refusal(
        TOO_SHORT,
        f"The recording is {seconds:.1f} s long; that is too few swings to measure.",
        f"Record at least {needed_s:.0f} seconds; 30 are better.",
    )


def too_few(beats: int, seconds: float) -> Refusal:
    """Return the refusal of a recording in which too few beats were heard."""
    return Refusal(
        TOO_SHORT,
        f"Only {beats} beats could be heard in {seconds:.1f} s.",
        "Record 30 seconds close to the movement.",
    )


def two_clocks(one: float, other: float) -> Refusal:
    """Return the refusal of a recording with two clocks in it, given beats per hour [1/h]."""
    return Refusal(
        TWO_CLOCKS,
        f"Two things tick in this recording: one at about {one:.0f} and one at about {other:.0f} beats an hour.",
        "Stop the other clock or take it out of the room, or hold the phone against the case of the one you mean; "
        "or say the beats per hour of its train.",
    )


def one_a_second(doubt: str) -> Refusal:
    """Return the refusal of one even tick a second."""
    return Refusal(
        ONE_A_SECOND,
        f"One even tick a second, as a battery clock makes it. {doubt}",
        "If it is a pendulum a meter long that beats seconds, say so with 3600 beats an hour and listen again.",
    )


def balance_wheel(beats_per_hour: float) -> Refusal:
    """Return the refusal of a train too fast for a pendulum [1/h]."""
    return Refusal(
        BALANCE,
        f"{beats_per_hour:.0f} beats an hour is the pace of a balance wheel; a pendulum for it would be under "
        "10 cm long.",
        "If the clock has a pendulum after all, say the beats per hour of its train.",
    )


def not_a_clock(reason: str) -> Refusal:
    """Return the refusal of a sound that repeats, but not as a clock does that keeps going."""
    return Refusal(
        NOT_A_CLOCK,
        reason,
        "Record 30 seconds with the phone against the case and nothing else sounding; if the clock is very uneven or "
        "about to stop, say the beats per hour of its train.",
    )


def taken_out(share: float) -> Refusal:
    """Return the refusal of a sound that a call or a noise filter has emptied, given the share that is silence."""
    return Refusal(
        TAKEN_OUT,
        f"{100 * share:.0f} % of the recording is exact silence: a call, a message or a noise filter took the ticks "
        "for noise and left them out.",
        "Record with the phone's own recorder, noise reduction off, and send that file; a call cannot carry a tick.",
    )
