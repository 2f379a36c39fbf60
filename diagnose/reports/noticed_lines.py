"""What else was noticed in a recording, in sentences for staff or a customer."""

from __future__ import annotations

from typing import Any

from diagnose.model.wording import Wording

BAD_TOOTH, TOO_SHORT = "bad-tooth", "turn-too-short"
# Who records for less than this wants beat and rate, and is not told that it is too short for the wheel [s].
ASKED_FROM_S = 60.0
TICKS_PER_TOOTH = 2.0


def noticed_lines(beats: dict[str, Any], wording: Wording) -> list[str]:
    """Return a sentence for each thing noticed; what a customer need not know is left out for a customer.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff or to a customer.
    """
    lines = []
    for one in beats.get("noticed", ()):
        figures = dict(one["figures"])
        if one["kind"] == TOO_SHORT and figures["heard_s"] < ASKED_FROM_S:
            continue
        key = f"noticed-{one['kind']}"
        if one["kind"] == BAD_TOOTH:
            key += "-late" if figures["late_ms"] > 0 else "-early"
            key += "-twice" if figures.get("also_tick") else ""
            figures["late_abs_ms"] = abs(figures["late_ms"])
            # Results kept from before the tick was told name the tooth by its first.
            figures.setdefault("tick", TICKS_PER_TOOTH * figures["tooth"] - 1.0)
        entry = wording.knowledge.screen[key]
        text = entry.customer if wording.reader == "customer" else entry.staff
        if text is not None:
            lines.append(text.format(**figures))
    return lines
