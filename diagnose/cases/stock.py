"""A shop's own stock list: a CSV file with its own headings, outside the repository; what is wrong is named by line."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from diagnose.cases.stock_sizes import Sign, decimal_sign, size_of, unit_scale
from diagnose.errors import InputError, StoppedClockError, UsageError
from diagnose.mechanics.part_match import Size, StockItem
from diagnose.model.lists import Dimension, PartEntry
from diagnose.model.near_names import near
from diagnose.settings import data_folder

MEMORY = "stock.json"
DELIMITERS = ";\t,|"
ENCODINGS = ("utf-8-sig", "cp1252")
SNIFFED_LETTERS = 8192
HEADINGS_AND_A_ROW = 2
# Headings that are no sizes: what they are called on the command line, and in lists that need no mapping.
OTHER_COLUMNS = {
    "item": ("item", "article", "number", "no", "name", "part"),
    "note": ("note", "remark", "description"),
    "price": ("price",),
    "tolerance": ("tolerance", "+-"),
}
_HEADING = re.compile(
    r"""^(?P<name>.*?)(?:(?:\s*[(\[/]\s*|\s+(?:in\s+)?)(?P<unit>mm|cm|in|inch|inches|"|thou|kg|g|lb|oz|deg|°)\s*[)\]]?)?$""",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class StockSource:
    """Where a stock list lies and how it is to be read.

    Parameters
    ----------
    file : str
        The CSV file.
    columns : mapping of str to str
        The heading for each dimension, item, note, price or tolerance, where the shop calls it otherwise.
    unit : str
        Unit of sizes whose cell and heading name none; empty for that of the dimension.
    rows : str
        "HEADING=TEXT": only the rows that say so are of this part; empty for all.
    """

    file: str
    columns: Mapping[str, str] = field(default_factory=dict)
    unit: str = ""
    rows: str = ""


@dataclass(frozen=True, slots=True)
class StockList:
    """What a stock list holds of one kind of part.

    Parameters
    ----------
    items : tuple of StockItem
        The rows that could be read.
    skipped : tuple of str
        "file:line: what is wrong" of each row, or size of a row, that could not.
    columns : mapping of str to str
        Which heading was taken for what.
    unread : tuple of str
        Headings that were taken for nothing.
    """

    items: tuple[StockItem, ...]
    skipped: tuple[str, ...]
    columns: Mapping[str, str]
    unread: tuple[str, ...]


def read_stock(source: StockSource, part: PartEntry) -> StockList:
    """Read a stock list.

    Parameters
    ----------
    source : StockSource
        Where it lies and how it is to be read.
    part : PartEntry
        The kind of part it is read for.

    Raises
    ------
    InputError
        If the file cannot be read at all, or none of its headings names a size of this part.
    UsageError
        If a heading or key of the mapping does not exist.
    """
    path = Path(source.file).expanduser()
    headings, rows, delimiter = _rows(path)
    columns = _columns(headings, source, part, path)
    dimensions = {each.short: each for each in part.dimensions if each.short in columns}
    places = {key: headings.index(heading) for key, heading in columns.items()}
    units = {key: _unit(columns[key], each, source.unit) for key, each in dimensions.items()}
    wanted = _wanted(source.rows, headings, path)
    rows = [(line, row) for line, row in rows if wanted is None or _cell(row, wanted[0]).lower() == wanted[1]]
    cells = (_cell(row, places[key]) for _, row in rows for key in dimensions)
    reader = _RowReader(dimensions, places, units, decimal_sign(cells, delimiter), path.name)
    for line, row in rows:
        reader.take(line, row)
    unread = tuple(heading for heading in headings if heading and heading not in columns.values())
    return StockList(tuple(reader.items), tuple(reader.skipped), columns, unread)


def _rows(path: Path) -> tuple[list[str], list[tuple[int, list[str]]], str]:
    """Return headings, rows with their line, and what parts the cells."""
    text = _text(path)
    delimiter = _delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    found: list[tuple[int, list[str]]] = []
    try:
        for row in reader:
            if any(cell.strip() for cell in row):
                found.append((reader.line_num, [cell.strip() for cell in row]))
    except csv.Error as error:
        raise InputError(f"is no CSV file ({error})", f"{path.name}:{reader.line_num}") from error
    if len(found) < HEADINGS_AND_A_ROW:
        raise InputError("holds no rows below its headings", path.name, "Save the list as CSV, headings first")
    return found[0][1], found[1:], delimiter


def _text(path: Path) -> str:
    """Return the text of a file, whichever of the usual programs wrote it."""
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(f"cannot be read ({error.strerror})", str(path), "Give the CSV file of the stock") from error
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return data.decode("utf-16", errors="replace")
    if b"\0" in data:
        raise InputError("is no text", path.name, "Save the list as CSV: this is some other kind of file")
    for encoding in ENCODINGS[:-1]:
        try:
            return data.decode(encoding)
        except UnicodeDecodeError:
            continue
    return data.decode(ENCODINGS[-1], errors="replace")


def _delimiter(text: str) -> str:
    """Return what parts the cells: as the headings have it, or as the sniffer finds it."""
    first = next((line for line in text.splitlines() if line.strip()), "")
    counts = {mark: first.count(mark) for mark in DELIMITERS}
    best = max(DELIMITERS, key=lambda mark: counts[mark])
    if counts[best] > 0 and sum(count > 0 for count in counts.values()) == 1:
        return best
    try:
        return csv.Sniffer().sniff(text[:SNIFFED_LETTERS], DELIMITERS).delimiter
    except csv.Error:
        return best if counts[best] > 0 else ","


def _columns(headings: Sequence[str], source: StockSource, part: PartEntry, path: Path) -> dict[str, str]:
    """Return which heading holds what: as the shop has said, else by its name."""
    keys = [*(each.short for each in part.dimensions), *OTHER_COLUMNS]
    columns: dict[str, str] = {}
    for key, heading in source.columns.items():
        if key not in keys:
            raise UsageError(f"'{key}' is no dimension of this part{near(key, keys)}", do=f"Use {', '.join(keys)}")
        columns[key] = _heading(heading, headings, path)
    for each in part.dimensions:
        _find(each.short, (each.short, each.name, *each.also_called), headings, columns)
    for key, names in OTHER_COLUMNS.items():
        _find(key, names, headings, columns)
    if not any(each.short in columns for each in part.dimensions):
        sizes = ", ".join(each.short for each in part.dimensions)
        do = f"Say which heading is which, such as --columns {part.dimensions[0].short}=HEADING; sizes: {sizes}"
        raise InputError(f"no heading names a size of this part: {', '.join(headings)}", path.name, do)
    return columns


def _find(key: str, names: Sequence[str], headings: Sequence[str], columns: dict[str, str]) -> None:
    """Take the first heading that is called one of these names and is not taken yet."""
    if key in columns:
        return
    for name in names:
        for heading in headings:
            if heading not in columns.values() and _plain(_name_of(heading)) == _plain(name):
                columns[key] = heading
                return


def _name_of(heading: str) -> str:
    match = _HEADING.match(heading)
    return match["name"] if match else heading


def _plain(text: str) -> str:
    return re.sub(r"[\W_]+", " ", text.lower()).strip()


def _heading(given: str, headings: Sequence[str], path: Path) -> str:
    found = [heading for heading in headings if heading.lower() == given.strip().lower()]
    if not found:
        raise UsageError(f"no heading '{given}'{near(given, headings)}", path.name, f"It has {', '.join(headings)}")
    return found[0]


def _unit(heading: str, dimension: Dimension, unit: str) -> str:
    """Return the unit of a column: of its heading, else of the list, else of the dimension."""
    match = _HEADING.match(heading)
    named = match["unit"] if match and match["unit"] else unit
    if not named or (dimension.unit != "mm" and not (match and match["unit"])):
        return dimension.unit
    unit_scale(dimension, named)
    return named


def _wanted(rows: str, headings: Sequence[str], path: Path) -> tuple[int, str] | None:
    if not rows:
        return None
    heading, equals, text = rows.partition("=")
    if not equals:
        raise UsageError(f"'{rows}' is no choice of rows", do="Write HEADING=TEXT, such as kind=spring")
    return headings.index(_heading(heading, headings, path)), text.strip().lower()


def _cell(row: Sequence[str], place: int) -> str:
    return row[place] if place < len(row) else ""


class _RowReader:
    """Reads row after row; a row that cannot be read is named and skipped, and no other suffers for it."""

    def __init__(
        self,
        dimensions: Mapping[str, Dimension],
        places: Mapping[str, int],
        units: Mapping[str, str],
        sign: Sign | None,
        file: str,
    ) -> None:
        self.dimensions, self.places, self.units = dimensions, places, units
        self.sign: Sign | None = sign
        self.file = file
        self.items: list[StockItem] = []
        self.skipped: list[str] = []

    def take(self, line: int, row: Sequence[str]) -> None:
        """Take one row."""
        where = f"{self.file}:{line}"
        sizes: dict[str, Size] = {}
        faults: list[str] = []
        for key, dimension in self.dimensions.items():
            text = _cell(row, self.places[key])
            if not text:
                continue
            try:
                sizes[key] = size_of(text, dimension, self.units[key], self.sign, self._text("tolerance", row))
            except StoppedClockError as error:
                faults.append(f"{key}: {error}")
        if not sizes and not faults:
            faults.append("no size stands in this row")
        if faults:
            self.skipped.append(f"{where}: {'; '.join(faults)}")
            return
        name = self._text("item", row) or where
        self.items.append(StockItem(name, sizes, where, self._text("note", row), self._text("price", row)))

    def _text(self, key: str, row: Sequence[str]) -> str:
        return _cell(row, self.places[key]) if key in self.places else ""


# ---- remembered ------------------------------------------------------------------------------------


def remembered(part: str) -> StockSource | None:
    """Return how the stock list of a part was read last; None where it never was."""
    kept = _memory().get(part)
    return StockSource(**kept) if isinstance(kept, dict) else None


def remember(part: str, source: StockSource) -> None:
    """Keep how the stock list of a part is read, in the data folder."""
    folder = data_folder()
    source = replace(source, file=str(Path(source.file).expanduser().resolve()), columns=dict(source.columns))
    text = json.dumps({**_memory(), part: asdict(source)}, ensure_ascii=False, indent=2)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        (folder / MEMORY).write_text(text + "\n", encoding="utf-8")
    except OSError as error:
        do = "Set STOPPED_CLOCK_DATA to a folder you may write to"
        raise InputError(f"cannot be written ({error.strerror})", str(folder / MEMORY), do) from error


def _memory() -> dict[str, Any]:
    path = data_folder() / MEMORY
    if not path.is_file():
        return {}
    try:
        kept = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise InputError("cannot be read", str(path), "Delete it and give --stock and --columns again") from error
    return kept if isinstance(kept, dict) else {}
