"""Consultations built by hand, and the knowledge they stand on."""

from __future__ import annotations

from functools import lru_cache
from typing import Any
from xml.etree import ElementTree

from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reports.contract import ranked

SVG = "{http://www.w3.org/2000/svg}"
LIMPS = {
    "beats": 240,
    "beats_per_hour": 3600.4,
    "nominal_beats_per_hour": 3600.0,
    "nominal_guessed": False,
    "rate_s_per_day": 9.6,
    "beat_error_ms": 128.0,
    "beat_error_percent": 12.8,
    "split": "56.4 : 43.6",
    "longer": "even",
    "early_side": "right",
    "uncertainty": {"beat_error_percent": 0.5, "rate_s_per_day": 4.0, "beat_error_ms": 5.0},
    "quality": "good",
    "warnings": ["The bell rang once."],
    "refused": None,
}


@lru_cache(maxsize=1)
def knowledge() -> Knowledge:
    return read_knowledge(check=False)


@lru_cache(maxsize=1)
def limping() -> Consultation:
    """A clock that limps since it was moved, by phone: with a recording, a doubt, a thing left and one not told."""
    contact = ev.Contact("c1", "call", "2031-03-12T09:30", "MB")
    consultation = Consultation.begin(knowledge(), "moved", contact, "larch-lane")
    consultation.say("we moved it to the hall and now it stops after some minutes & limps")
    for field, value in (("family", "floor"), ("drive", "weight-cable")):
        consultation.set_fact("clock", field, value)
    for field in ("reaches", "lifts", "helper"):
        consultation.set_fact("person", field, "yes")
    consultation.take_heard(ev.Heard("larch-lane.flac", dict(LIMPS), "left"))
    consultation.answer("runs-for", "minutes")
    consultation.answer("case-steady", "rocks", certainty="think-so")
    consultation.answer("hands-clear", "clear")
    consultation.cannot_tell("overswing")
    consultation.later("pin-seen")
    return consultation


@lru_cache(maxsize=1)
def shown() -> dict[str, Any]:
    return ranked(limping())


@lru_cache(maxsize=1)
def nothing_told() -> Consultation:
    return Consultation.begin(knowledge(), "stops", ev.Contact("c1", "visit"), "mill-row")


@lru_cache(maxsize=1)
def alarmed() -> Consultation:
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact("c1", "call"), "tanners-yard")
    consultation.say("there was a loud bang inside when I wound it")
    return consultation


@lru_cache(maxsize=1)
def cured() -> Consultation:
    """A case that was set right, handed over and closed."""
    consultation = Consultation.begin(knowledge(), "stops", ev.Contact("c1", "visit", "2031-03-12T09:30", "IT"), "dell")
    consultation.set_fact("clock", "family", "wall")
    consultation.answer("case-steady", "rocks")
    consultation.answer("tick-evenness", "limping")
    consultation.tried("make-the-case-steady", "cured")
    consultation.answer("tick-evenness", "even")
    consultation.hand_over({"split": "50.4 : 49.6", "nut": "as found"})
    consultation.conclude("cured", "case-rocks", "two cards under the left foot")
    return consultation


def texts_of(svg: str) -> str:
    """Return the words of a drawing, lines joined."""
    root = ElementTree.fromstring(svg)
    return " ".join(element.text or "" for element in root.iter(f"{SVG}text"))
