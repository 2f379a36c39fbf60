"""Lays numbered values out on a screen so that no line ends with a number alone (rich)."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.padding import Padding
from rich.text import Text

_BETWEEN = "   "


class _Choices:
    """Values that can be typed: several on a line, each kept in one piece where the width allows it."""

    def __init__(self, items: list[str], by: int, style: str) -> None:
        self._items, self._by, self._style = items, by, style

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        room = options.max_width - self._by
        lines = [""]
        for item in self._items:
            longer = f"{lines[-1]}{_BETWEEN}{item}" if lines[-1] else item
            if lines[-1] and len(longer) > room:
                lines.append(item)
            else:
                lines[-1] = longer
        for line in lines:
            yield Padding(Text(line, style=self._style), (0, 0, 0, self._by))


def choices(titles: Iterable[str], by: int, style: str = "cyan") -> RenderableType:
    """Return values numbered from 1, as many on a line as fit.

    Parameters
    ----------
    titles : iterable of str
        The values in words.
    by : int
        Indent [columns].
    style : str
        How they are printed.
    """
    return _Choices([f"{number} {title}" for number, title in enumerate(titles, 1)], by, style)
