"""Offers the names that somebody may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def near(given: str, known: Iterable[str], most: int = 3) -> str:
    """Return `; did you mean ...?` with the nearest known names, or nothing.

    Parameters
    ----------
    given : str
        The name that is not known.
    known : iterable of str
        The names that are.
    most : int
        How many to offer.
    """
    names = difflib.get_close_matches(given, list(known), n=most, cutoff=0.6)
    return f"; did you mean {' or '.join(names)}?" if names else ""
