"""What may be said about the clock and the person at it."""

from __future__ import annotations

from typing import Literal

from diagnose.errors import UsageError
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge

# One question stands for two facts: what it sounds says whether there is a strike and a chime at all.
SOUNDS = "sounds"
IMPLIED: dict[str, dict[str, str]] = {
    "nothing": {"strike": "no-strike", "chime": "no-chime"},
    "hours": {"chime": "no-chime"},
    "tune": {},
    "unknown": {},
}
FACT_FIELDS = {
    "clock": ("family", "drive", SOUNDS, "escapement", "strike", "chime", "beats_per_hour", "id"),
    "person": ("reaches", "lifts", "helper", "tools", "children"),
}


def check_fact(knowledge: Knowledge, about: Literal["clock", "person"], field: str, value: str) -> None:
    """Refuse a field or a value that is not known, with near names.

    Parameters
    ----------
    knowledge : Knowledge
        Its clocks are the values that family, drive and so on may have.
    about : str
        "clock" or "person".
    field, value : str
        What is said.

    Raises
    ------
    UsageError
        It names what is allowed.
    """
    if field not in FACT_FIELDS[about]:
        do = f"There are {', '.join(FACT_FIELDS[about])}"
        raise UsageError(f"unknown {about} field '{field}'{near(field, FACT_FIELDS[about])}", do=do)
    if field == "id":
        return
    if field == "beats_per_hour":
        if not value.replace(".", "", 1).isdigit() or float(value) <= 0:
            raise UsageError(f"beats per hour '{value}' is not a number above 0", do="Such as 3600")
        return
    allowed = [*fact_values(knowledge, field), "unknown"]
    if value not in allowed:
        raise UsageError(f"{field} '{value}'{near(value, allowed)}", do=f"It is one of {', '.join(allowed)}")


def fact_values(knowledge: Knowledge, field: str) -> tuple[str, ...]:
    """Return the values a fact about clock or person may have, "unknown" left out."""
    if field == SOUNDS:
        return tuple(value for value in IMPLIED if value != "unknown")
    clocks = tuple(name for name, entry in knowledge.clocks.items() if entry.kind == field)
    return clocks or ("yes", "no")
