"""YAML read with the line and column of every value, and without its surprises.

Only numbers are resolved: `yes`, `no`, `on`, dates and `12:45` stay text, so that an id or an answer
called "no" is what it looks like. A doubled key is a fault, not a silent overwrite.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from diagnose.errors import Fault

_INTEGER = re.compile(r"^[-+]?[0-9]+$")
_FLOAT = re.compile(r"^[-+]?([0-9]+\.[0-9]*|\.[0-9]+|[0-9]+)([eE][-+]?[0-9]+)?$")
_LARGEST_FILE = 2_000_000

Path_ = tuple[str | int, ...]


@dataclass(slots=True)
class Document:
    """The content of one file and where each part of it stands.

    Parameters
    ----------
    file : str
        Path as shown to the reader.
    content : object
        Mappings, lists, text, int, float and None.
    places : dict
        Line and column, counted from 1, by path of keys and list positions.
    faults : list of Fault
        What is wrong with the file itself.
    """

    file: str
    content: Any = None
    places: dict[Path_, tuple[int, int]] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)

    def at(self, path: Path_) -> tuple[int, int]:
        """Return line and column of `path`, or of the nearest part above it that is in the file."""
        for length in range(len(path), -1, -1):
            if path[:length] in self.places:
                return self.places[path[:length]]
        return (1, 1)

    def fault(self, path: Path_, what: str) -> Fault:
        """Return a fault at `path`."""
        return Fault(self.file, *self.at(path), what)


def read_document(path: Path, shown: str | None = None) -> Document:
    """Read one YAML file.

    Parameters
    ----------
    path : Path
        The file.
    shown : str, optional
        Its name as shown in faults.

    Returns
    -------
    Document
        With its faults; it never raises for what the file contains.
    """
    document = Document(shown or str(path))
    try:
        raw = path.read_bytes()
    except OSError as error:
        document.faults.append(Fault(document.file, 0, 0, f"cannot be read: {error.strerror}"))
        return document
    return parse_document(raw, document)


def parse_document(raw: bytes, document: Document) -> Document:
    """Fill `document` from the bytes of a file."""
    if len(raw) > _LARGEST_FILE:
        what = f"{len(raw):,} bytes is too large for a text file of this kind (at most {_LARGEST_FILE:,})"
        document.faults.append(Fault(document.file, 0, 0, what))
        return document
    try:
        text = raw.decode("utf-8-sig")
        if "\x00" in text:
            raise ValueError
    except ValueError:
        what = "is not a text file (binary content): give a YAML file saved as UTF-8"
        document.faults.append(Fault(document.file, 0, 0, what))
        return document
    try:
        node = yaml.compose(text, Loader=getattr(yaml, "CSafeLoader", yaml.SafeLoader))
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        document.faults.append(
            Fault(document.file, line, column, f"is not valid YAML: {error.problem or error.context}")
        )
        return document
    except (yaml.YAMLError, RecursionError) as error:
        document.faults.append(Fault(document.file, 0, 0, f"is not valid YAML: {str(error).splitlines()[0]}"))
        return document
    if node is None:
        document.faults.append(Fault(document.file, 0, 0, "is empty: nothing to read"))
        return document
    document.content = _build(node, (), document)
    return document


def _build(node: yaml.Node, path: Path_, document: Document) -> Any:
    document.places.setdefault(path, (node.start_mark.line + 1, node.start_mark.column + 1))
    if isinstance(node, yaml.MappingNode):
        return _build_mapping(node, path, document)
    if isinstance(node, yaml.SequenceNode):
        return [_build(item, (*path, number), document) for number, item in enumerate(node.value)]
    return _scalar(node)


def _build_mapping(node: yaml.MappingNode, path: Path_, document: Document) -> dict[str, Any]:
    content: dict[str, Any] = {}
    for key_node, value_node in node.value:
        mark = key_node.start_mark
        here = (mark.line + 1, mark.column + 1)
        if not isinstance(key_node, yaml.ScalarNode):
            document.faults.append(Fault(document.file, *here, "a key must be a plain word"))
            continue
        key = str(key_node.value)
        if key in content:
            first = document.places[(*path, key)]
            what = f"key '{key}' stands twice (first in line {first[0]}): remove one"
            document.faults.append(Fault(document.file, *here, what))
            continue
        document.places[(*path, key)] = here
        content[key] = _build(value_node, (*path, key), document)
    return content


def _scalar(node: yaml.Node) -> Any:
    value = node.value
    if getattr(node, "style", None) in {"'", '"', "|", ">"}:
        return value
    if value in {"", "~", "null"}:
        return None
    if _INTEGER.match(value) and not (len(value.lstrip("+-")) > 1 and value.lstrip("+-").startswith("0")):
        return int(value)
    if _FLOAT.match(value):
        return float(value)
    return value
