"""Reads the forms of a page and fills them in as a person would."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser


@dataclass
class Form:
    """A form: where it goes, its fields with what stands in them, its choices, its buttons."""

    action: str
    method: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    choices: dict[str, list[str]] = field(default_factory=dict)
    buttons: list[tuple[str, str]] = field(default_factory=list)

    @property
    def act(self) -> str:
        return self.action.rsplit("/", 1)[-1]


class FormsInPage(HTMLParser):
    """Gathers the forms inside `main`, in order."""

    def __init__(self) -> None:
        super().__init__()
        self.forms: list[Form] = []
        self._main = False
        self._form: Form | None = None
        self._select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = {name: value or "" for name, value in attrs}
        if tag == "main":
            self._main = True
        elif tag == "form" and self._main:
            self._form = Form(given.get("action", ""), given.get("method", "get"))
            self.forms.append(self._form)
        elif self._form is not None:
            self._take(tag, given, self._form)

    def _take(self, tag: str, given: dict[str, str], form: Form) -> None:
        name = given.get("name", "")
        if tag == "input" and given.get("type") in {"hidden", "text"}:
            form.fields.append((name, given.get("value", "")))
        elif tag == "input" and given.get("type") in {"radio", "checkbox"}:
            form.choices.setdefault(name, []).append(given.get("value", ""))
            if "checked" in given:
                form.fields.append((name, given.get("value", "")))
        elif tag == "textarea":
            form.fields.append((name, ""))
        elif tag == "select":
            self._select = name
        elif tag == "option" and "disabled" not in given:
            self._take_option(given, form)
        elif tag == "button":
            form.buttons.append((name, given.get("value", "")))

    def _take_option(self, given: dict[str, str], form: Form) -> None:
        """A browser sends the option that is selected, or else the first."""
        value, before = given.get("value", ""), form.choices.setdefault(self._select, [])
        if "selected" in given:
            form.fields = [(name, old) for name, old in form.fields if name != self._select]
        if "selected" in given or not before:
            form.fields.append((self._select, value))
        before.append(value)

    def handle_endtag(self, tag: str) -> None:
        if tag == "form":
            self._form = None
        elif tag == "main":
            self._main = False


def forms_of(text: str) -> list[Form]:
    """Return the forms of the main part of a page."""
    reader = FormsInPage()
    reader.feed(text)
    return reader.forms


def form_for(text: str, act: str) -> Form:
    """Return the first form of a page that does this act."""
    return next(form for form in forms_of(text) if form.act == act)
