"""What is remarked on a recording, for staff as it was written down and for a customer in a customer's words."""

from __future__ import annotations

import re
from typing import Any

from diagnose.measurement.figures.named_results import REMARKS
from diagnose.model.wording import Wording


def remarks(beats: dict[str, Any], wording: Wording) -> list[str]:
    """Return the remarks on what was heard; to a customer those that `REMARKS` names, each once.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it.
    wording : Wording
        Speaks to staff or to a customer.
    """
    written = beats.get("warnings", [])
    if wording.reader == "staff":
        return list(written)
    names = (name for remark in written for words, name in REMARKS if words in remark)
    return [wording.say(f"remark-{name}") for name in dict.fromkeys(names)]


def refusal_lines(beats: dict[str, Any], wording: Wording) -> list[str]:
    """Return why a recording gives no number and what to do: to staff its name, the reason and the way out.

    Parameters
    ----------
    beats : dict
        As `diagnose listen --json` gives it, with `refused`.
    wording : Wording
        Speaks to staff or to a customer.
    """
    name, way_out = beats["refused"], beats.get("way_out")
    key = phrase_of(name)
    if key not in wording.knowledge.screen or (wording.reader == "customer" and not way_out):
        first = wording.say("not-measured", reason=name)
    else:
        first = wording.say(key)
    if wording.reader == "customer":
        return [first]
    return [first, *(text for text in (beats.get("reason"), way_out) if text)]


def phrase_of(refused: str) -> str:
    """Return the key of the phrase for the name of a refusal: its words before a colon or comma."""
    return "refused-" + "-".join(re.split("[:,]", refused)[0].split())
