"""How wide text is, and where it wraps: so that a drawing looks the same on every machine."""

from __future__ import annotations

# Widths of the letters of a plain sans-serif face, in thousandths of its size (the metrics that Arial,
# Helvetica and Liberation Sans share).
_NARROW = dict.fromkeys("'ijl", 222) | dict.fromkeys(" !,./:;I[\\]ft|", 278) | dict.fromkeys("()-r`{}", 333)
_MIDDLE = dict.fromkeys("ckszJvxy", 500) | dict.fromkeys("FTZ", 611) | dict.fromkeys('+<=>~*"^', 584)
_WIDE = dict.fromkeys("&ABEKPSVXY", 667) | dict.fromkeys("CDHNRUw", 722) | dict.fromkeys("GOQ", 778)
_WIDEST = dict.fromkeys("Mm", 833) | dict.fromkeys("%", 889) | dict.fromkeys("W@", 1015)
WIDTHS = _NARROW | _MIDDLE | _WIDE | _WIDEST
USUAL_WIDTH, THOUSAND = 556, 1000
# Bold letters, and faces that stand in for a missing one, are wider.
BOLD_FACTOR, SLACK_FACTOR = 1.08, 1.04


def width_of(text: str, size: float, bold: bool = False) -> float:
    """Return the width of a line of text.

    Parameters
    ----------
    text : str
        One line.
    size : float
        Size of the letters. [px]
    bold : bool
        Bold letters are wider.

    Returns
    -------
    float
        A little more than it is. [px]
    """
    units = sum(WIDTHS.get(letter, USUAL_WIDTH) for letter in text)
    return units * size * SLACK_FACTOR * (BOLD_FACTOR if bold else 1.0) / THOUSAND


def wrapped(text: str, width: float, size: float, bold: bool = False) -> tuple[str, ...]:
    """Break text into lines.

    Parameters
    ----------
    text : str
        Any text; runs of spaces count as one.
    width : float
        No line is wider; a word that is gets broken. [px]
    size : float
        Size of the letters. [px]
    bold : bool
        Bold letters are wider.
    """
    lines: list[str] = []
    for word in (piece for long in text.split() for piece in _pieces(long, width, size, bold)):
        longer = f"{lines[-1]} {word}" if lines else word
        if lines and width_of(longer, size, bold) <= width:
            lines[-1] = longer
        else:
            lines.append(word)
    return tuple(lines)


def _pieces(word: str, width: float, size: float, bold: bool) -> list[str]:
    """Return a word, cut where it is wider than a line."""
    pieces = [""]
    for letter in word:
        if pieces[-1] and width_of(pieces[-1] + letter, size, bold) > width:
            pieces.append("")
        pieces[-1] += letter
    return pieces
