"""Why a sound that came by message or call has no ticks in it: what was taken out before it arrived."""

from __future__ import annotations

from dataclasses import replace

from diagnose.measurement.figures.beats import Beats
from diagnose.measurement.figures.named_results import NO_TICKS, NOT_A_CLOCK, TAKEN_OUT, TOO_SHORT, taken_out
from diagnose.measurement.incoming.quality import Quality

_LEFT_OUT_SHARE = 0.2


def with_what_was_taken_out(beats: Beats, quality: Quality) -> Beats:
    """Return a result that names the way the sound came, where that explains why there is no figure.

    A phone that sends only speech, and a noise filter, take a tick for noise and send silence in its place.

    Parameters
    ----------
    beats : Beats
        What was heard.
    quality : Quality
        What the sound has been through.
    """
    missing_s = max(quality.gap_total_s, quality.left_out_s)
    emptied = quality.hollow or quality.left_out_s > _LEFT_OUT_SHARE * quality.seconds
    if beats.refused not in (NO_TICKS, NOT_A_CLOCK, TOO_SHORT) or not emptied or not quality.seconds:
        return beats
    why = taken_out(min(missing_s / quality.seconds, 1.0))
    return replace(beats, refused=TAKEN_OUT, reason=why.reason, way_out=why.way_out)
