"""Whether what was heard is a pendulum clock at all, and what a person should be told about it."""

from __future__ import annotations

import numpy as np

from diagnose.measurement.figures import named_results
from diagnose.measurement.figures.fitting import Fit
from diagnose.measurement.figures.named_results import Refusal
from diagnose.measurement.hearing.mean_beat import scatter_of
from diagnose.measurement.hearing.ticks import Ticks
from diagnose.measurement.noticing.odd_beats import CLEAR_STRENGTH

BALANCE_FROM = 11_500.0
"""Beats per hour above which a train is a balance wheel's: a pendulum for it would be under 10 cm long."""
LEAST_BEATS = 6
_LEAST_BEATS_UNEVEN = 4
_SCATTER_SHARE = 0.03
_HEARD_SHARE = 0.4
_LEAST_SCORE = 14.0
_LEAST_CONTRAST = 6.0
_LEAST_SAMENESS = 0.12
_LOW_SAMENESS, _LOW_SAMENESS_SCATTER = 0.2, 4e-3
_SAMENESS_BEATS = 10
_FEW_SCATTER_SHARE = 8e-3
"""So few beats are believed only if they come as evenly as a clock's."""
_MANY_BEATS = 20
_MOST_SCATTER_S, _MOST_SCATTER_FEW_S = 3e-3, 4e-3
"""Real clocks scattered by 0.4 to 3.5 ms in recordings of 5 s; footsteps, drips, dogs and hammers by 3.6 to 7."""
_PLAIN_SHARE, _PLAIN_STRENGTH = 0.7, 30.0
"""Where beats are this plain a clock leaves hardly one out."""
_LOOSE_S, _LOOSE_SAMENESS = 1.5e-3, 0.3
_FEW_SECONDS = 6.0
_DROPPED_SHARE = 0.25
_SECOND_S = 1.0
_SECOND_SPAN = 5e-3
_SECOND_EXACT = 1.5e-4
_SECOND_EVEN = 5e-3
_SECOND_EVEN_EXACT = 5e-4
_SECOND_STEADY_S = 4e-5
_SECOND_BEATS = 12
_ALIKE = 0.75
_ALIKE_SIGMAS = 3.0
_ALIKE_EVEN = 2e-3
_SHARE_SILENT = 0.9


def judge(ticks: Ticks, fit: Fit | None, nominal: float | None, drawn: bool) -> Refusal | None:
    """Return why what was heard gives no figure, or None where it does.

    Parameters
    ----------
    ticks : Ticks
        What was heard.
    fit : Fit, optional
        Its fit.
    nominal : float, optional
        Beats per hour that somebody gave [1/h].
    drawn : bool
        Whether somebody drew the bob aside and let it go: then it is a pendulum.
    """
    swing = ticks.swing
    if swing is None or swing.score < _LEAST_SCORE or swing.contrast < _LEAST_CONTRAST:
        sudden = swing is not None and swing.contrast > named_results.SUDDEN_CONTRAST
        if sudden and ticks.seconds < _FEW_SECONDS:
            return named_results.too_few(len(ticks.times_s), ticks.seconds)
        if sudden:
            return named_results.not_a_clock("There are sudden sounds, but they do not come evenly.")
        return named_results.no_ticks()
    if fit is None or len(ticks.times_s) < _LEAST_BEATS_UNEVEN:
        return named_results.too_few(len(ticks.times_s), ticks.seconds)
    per_hour = 3600.0 / fit.period_s
    known = nominal is not None and not swing.nominal_ignored
    if ticks.second is not None and not known and (ticks.second.equal or ticks.second.fits(nominal)):
        return named_results.two_clocks(per_hour, ticks.second.beats_per_hour)
    if not known and not drawn and _one_a_second(ticks, fit):
        return named_results.one_a_second(_doubt(ticks))
    odd = _not_a_clock(ticks, fit) or (None if known else _too_irregular(ticks))
    if odd is not None:
        return odd
    if per_hour > BALANCE_FROM and not known:
        return named_results.balance_wheel(per_hour)
    return None


def _not_a_clock(ticks: Ticks, fit: Fit) -> Refusal | None:
    """Return why the beats are not those of a clock, or None."""
    scatter = float(np.hypot(fit.scatter_s, fit.wander_s)) / fit.period_s
    share = len(ticks.numbers) / (int(ticks.numbers[-1]) + 1)
    if scatter > _SCATTER_SHARE:
        return named_results.not_a_clock(
            f"Something repeats, but its beats come irregularly by {100 * scatter:.0f} % of a beat; "
            "a clock's come within 1 or 2 %."
        )
    sameness = _sameness(ticks)
    if sameness < _LEAST_SAMENESS or (sameness < _LOW_SAMENESS and scatter > _LOW_SAMENESS_SCATTER):
        return named_results.not_a_clock("Something repeats, but no two of its sounds are alike, as ticks are.")
    dropped = 1.0 - float(np.mean(fit.kept))
    if dropped > _DROPPED_SHARE:
        return named_results.not_a_clock(
            f"Something repeats, but {100 * dropped:.0f} % of its beats do not come when they should."
        )
    if share < _HEARD_SHARE:
        return named_results.not_a_clock(
            f"Something repeats, but {100 * (1 - share):.0f} % of its beats are not there."
        )
    few = len(ticks.times_s) < _SAMENESS_BEATS
    if len(ticks.times_s) < LEAST_BEATS or (few and scatter > _FEW_SCATTER_SHARE):
        return named_results.too_few(len(ticks.times_s), ticks.seconds)
    return None


def _too_irregular(ticks: Ticks) -> Refusal | None:
    """Return why beats that might be a clock's are more likely none, where nobody has said that it is one."""
    count = len(ticks.times_s)
    # Robustly, and for each kind by itself: a jump in the recording is not the clock's.
    kinds = [ticks.times_s[ticks.numbers % 2 == kind] for kind in (0, 1)]
    scatter_s = min(scatter_of(times_s) for times_s in kinds if len(times_s))
    most_s = _MOST_SCATTER_S if count >= _MANY_BEATS else _MOST_SCATTER_FEW_S
    if scatter_s > most_s:
        return named_results.not_a_clock(
            f"Something repeats, but its beats come irregularly by {1e3 * scatter_s:.0f} ms; a clock's come within 2."
        )
    each = 1 if ticks.swing is not None and ticks.swing.audible > 1 else 2
    share = count / (int(ticks.numbers[-1]) // each + 1)
    if count < _MANY_BEATS and share < _PLAIN_SHARE and float(np.median(ticks.strength)) >= _PLAIN_STRENGTH:
        return named_results.not_a_clock(
            f"Something repeats, but {100 * (1 - share):.0f} % of its beats are not there, though the others are plain."
        )
    if count >= _MANY_BEATS and scatter_s > _LOOSE_S and _sameness(ticks) < _LOOSE_SAMENESS:
        return named_results.not_a_clock(
            "Something repeats, but its sounds are hardly alike and come a little irregularly."
        )
    return None


def _sameness(ticks: Ticks) -> float:
    """Return how alike the beats of a kind are; of few beats this says nothing, and they pass for alike."""
    return float(np.median(ticks.sameness)) if len(ticks.times_s) >= _SAMENESS_BEATS else 1.0


def _one_a_second(ticks: Ticks, fit: Fit) -> bool:
    """Return whether this is one even tick a second, so far as sound can tell."""
    off = abs(fit.period_s / _SECOND_S - 1.0)
    uneven = 2.0 * abs(fit.half_s) / fit.period_s
    irregular = float(np.hypot(fit.scatter_s, fit.wander_s)) > _SCATTER_SHARE * fit.period_s
    unlike = _sameness(ticks) < _LEAST_SAMENESS
    one_kind = ticks.swing is not None and ticks.swing.audible < 2
    if one_kind or off > _SECOND_SPAN or uneven > _SECOND_EVEN or irregular or unlike:
        return False
    if len(ticks.times_s) < _SECOND_BEATS or ticks.likeness_of_kinds > _ALIKE:
        return True
    noise_s = float(np.median(ticks.sigmas_s))
    own_s = float(np.sqrt(max(fit.scatter_s**2 + fit.wander_s**2 - noise_s**2, 0.0)))
    return off < _SECOND_EXACT and uneven < _SECOND_EVEN_EXACT and own_s < _SECOND_STEADY_S


def one_side_only(ticks: Ticks, fit: Fit) -> bool:
    """Return whether the two beats may be one and the same, the other of each swing not being heard.

    Two pallets hardly ever sound the same. Where the period was doubled for want of a second beat, both mean beats are
    alike and the intervals show no sign of alternating, a limping clock with one silent side would look just so.
    """
    if ticks.swing is None or not ticks.swing.doubled or ticks.likeness_of_kinds < _ALIKE:
        return False
    return abs(fit.half_s) < max(_ALIKE_SIGMAS * fit.half_sigma_s, _ALIKE_EVEN * fit.period_s / 2.0)


def _doubt(ticks: Ticks) -> str:
    """Return how sure it is that one tick a second is no pendulum."""
    if len(ticks.times_s) < _SECOND_BEATS:
        return "So few beats cannot tell it from a seconds pendulum in perfect beat, but that is rare."
    if ticks.likeness_of_kinds > _ALIKE:
        return "Tick and tock sound the same, which two pallets hardly ever do."
    return "It keeps time and beat more exactly than a pendulum that nobody has just set."


def train_warnings(ticks: Ticks, fit: Fit, drawn: bool) -> tuple[str, ...]:
    """Return what a person should know about the train of beats."""
    found: list[str] = []
    if ticks.swing is not None and ticks.swing.audible < 2:
        found.append(
            "Only one beat in each swing can be heard, so the beat error cannot be measured. Move the phone to the "
            "other side of the movement and record again."
        )
    if abs(fit.period_s - _SECOND_S) < _SECOND_SPAN and not drawn:
        found.append("It beats about once a second; if it is a battery clock these figures mean nothing.")
    if len(np.unique(ticks.segments)) > 1:
        found.append("The recording jumps: it was cut, repeated, or lost a piece. Each piece was measured by itself.")
    whole = int(ticks.numbers[-1]) + 1
    # Where the ticks are clear a missing one is the clock's own doing, and noticed as such.
    if len(ticks.numbers) < _SHARE_SILENT * whole and float(np.median(ticks.strength)) < CLEAR_STRENGTH:
        found.append(f"{whole - len(ticks.numbers)} of {whole} beats could not be heard.")
    return tuple(found)
