"""Makes pages from templates: self-contained, with the words and the drawings of the knowledge."""

from __future__ import annotations

import re
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from xml.etree import ElementTree

from diagnose.errors import InputError
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

TEMPLATES = Path(__file__).resolve().parent / "templates"
SVG = "http://www.w3.org/2000/svg"


@lru_cache(maxsize=1)
def _environment() -> Environment:
    from jinja2 import Environment, FileSystemLoader, StrictUndefined

    return Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )


def page(template: str, wording: Wording, **values: Any) -> str:
    """Return a page in one piece of HTML; its style stands inside it."""
    from markupsafe import Markup

    style = Markup((TEMPLATES / "paper.css").read_text(encoding="utf-8"))
    filled = _environment().get_template(template).render(say=wording.say, style=style, **values)
    return re.sub(r"\n\s*\n+", "\n", filled)


def inline(svg: str) -> Markup:
    """Return an SVG as it stands inside a page."""
    from markupsafe import Markup

    return Markup(svg)


def drawing(name: str | None, wording: Wording, place: str) -> Markup | None:
    """Return a drawing of the knowledge to stand inside a page; None where there is none.

    Parameters
    ----------
    name : str, optional
        Id of the drawing.
    wording : Wording
        What is read aloud in its stead is in the words of this reader.
    place : str
        Where it stands; it keeps the ids of several drawings on one page apart.

    Raises
    ------
    InputError
        The file is missing or is no SVG.
    """
    knowledge = wording.knowledge
    if name is None or name not in knowledge.drawings:
        return None
    path = drawing_path(knowledge, name)
    try:
        root = ElementTree.fromstring(path.read_bytes())
    except (OSError, ElementTree.ParseError) as error:
        do = "Run `diagnose knowledge check`"
        raise InputError(f"drawing '{name}' cannot be read: {error}", where=str(path), do=do) from error
    _keep_apart(root, place)
    root.set("role", "img")
    root.set("aria-label", wording.text(knowledge.drawings[name].shows))
    ElementTree.register_namespace("", SVG)
    return inline(ElementTree.tostring(root, encoding="unicode"))


def drawing_path(knowledge: Knowledge, name: str) -> Path:
    """Return the file of a drawing; it lies beside the list that names it."""
    listed, _, _ = knowledge.positions[("drawings", name)]
    return (knowledge.folder.parent / listed).parent / knowledge.drawings[name].file


def _keep_apart(root: ElementTree.Element, place: str) -> None:
    """Put a prefix before each id of a drawing, and before each mention of it."""
    ids = {element.get("id") for element in root.iter()} - {None}
    if not ids:
        return
    names = "|".join(sorted((re.escape(str(name)) for name in ids), key=len, reverse=True))
    mention = re.compile(rf"#({names})(?![\w-])")
    for element in root.iter():
        for key, value in element.attrib.items():
            if key == "id":
                element.set(key, f"{place}-{value}")
            elif key in {"aria-labelledby", "aria-describedby"}:
                element.set(key, " ".join(f"{place}-{word}" for word in value.split()))
            elif "#" in value:
                element.set(key, mention.sub(rf"#{place}-\1", value))
        if element.tag == f"{{{SVG}}}style" and element.text:
            element.text = mention.sub(rf"#{place}-\1", element.text)
