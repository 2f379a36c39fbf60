"""Offers the names that somebody may have meant."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping

# Words that begin alike to this many letters count as the same: "touching" and "touch".
_ALIKE_LETTERS = 5
_LEAST_LIKENESS = 60.0


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


def nearest_name(words: str, titles: Mapping[str, str]) -> str | None:
    """Return the name whose title is nearest to some words, or None where none is near.

    Parameters
    ----------
    words : str
        What somebody typed.
    titles : mapping of str to str
        Title by name.
    """
    from rapidfuzz import fuzz, process

    short = {name: _beginnings(title) for name, title in titles.items()}
    found = process.extractOne(_beginnings(words), short, scorer=fuzz.token_set_ratio, score_cutoff=_LEAST_LIKENESS)
    return str(found[2]) if found else None


def _beginnings(text: str) -> str:
    return " ".join(word[:_ALIKE_LETTERS] for word in text.lower().split())
