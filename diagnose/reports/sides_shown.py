"""What a side is called in a picture: left or right where it is known, else the one and the other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any


def side_of_kind(beats: Mapping[str, Any], kind: str) -> str:
    """Return the side on which the even or the odd beats tick: "left", "right", "one" or "other".

    Parameters
    ----------
    beats : mapping
        As `diagnose listen --json` gives it.
    kind : str
        "even" or "odd".
    """
    early, longer = beats.get("early_side"), beats.get("longer")
    if early not in {"left", "right"} or longer is None:
        return "one" if kind == "even" else "other"
    # The beats on which the longer intervals begin have come too soon.
    late = "left" if early == "right" else "right"
    return str(early) if kind == longer else late
