"""Made-up cases and sounds for the tests of the page."""

from __future__ import annotations

import io
import wave

import numpy as np

from diagnose.cases.events import Contact
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.model.reading import Knowledge

HOMEWORK = ("room-cold", "stop-pattern", "stops-when-people-walk")
FACTS = (
    ("clock", "family", "wall"),
    ("clock", "drive", "spring"),
    ("person", "reaches", "yes"),
    ("person", "lifts", "yes"),
    ("person", "helper", "yes"),
    ("person", "tools", "yes"),
    ("person", "children", "no"),
)


def begun(knowledge: Knowledge, store: Store, door: str = "stops", where: str = "call") -> Consultation:
    """Return a kept case of which clock and person are known already."""
    consultation = Consultation.begin(knowledge, door, Contact("c1", where, "2031-03-12T09:30", "MB"), "larch", store)  # type: ignore[arg-type]
    for about, field, value in FACTS:
        consultation.set_fact(about, field, value)  # type: ignore[arg-type]
    return consultation


def pages_of_a_week(knowledge: Knowledge, store: Store) -> dict[str, str]:
    """Return the address of each page that goes beyond one call: waits, homework, ways, parts, notes."""
    waiting = begun(knowledge, store)
    waiting.answer("tick-evenness", "even")
    for finding in HOMEWORK:
        waiting.later(finding)
    waiting.close_contact("2031-03-19", HOMEWORK)
    back = begun(knowledge, store)
    for finding in HOMEWORK:
        back.later(finding)
    back.close_contact("2031-03-19", HOMEWORK)
    back.new_contact(Contact("c2", "call", "2031-03-19T09:30", "IT"))
    told = begun(knowledge, store)
    told.answer("leaf-shape", "bowed-middle")
    told.new_contact(Contact("c2", "visit", "2031-03-19T09:30", "MB"))
    return {
        "homework with a date": f"/case/{waiting.kept_as}",
        "homework answered": f"/case/{back.kept_as}",
        "told": f"/case/{told.kept_as}",
        "route": f"/case/{told.kept_as}/route?part=suspension-spring",
        "part": "/part",
        "calibrate": "/calibrate",
        "stops": "/stops?stops=9:47,+2:47+pm,+Tue+8:47,+11:46",
        "regulate": "/regulate?notes=2031-03-01+09:00+set+right%0A2031-03-08+09:00+4+min+fast&family=floor",
        "reckon": "/reckon",
        "reckoned": "/reckon/place?latitude=51.5&to-latitude=48.1&to-height=520+m",
        "shim reckoned": "/reckon/shim?error=56.4+:+43.6&family=floor&early=right&unsure=0.5",
    }


def ticking(beats_per_hour: float = 5400.0, percent: float = 12.0, seconds: float = 20.0) -> bytes:
    """Return a WAV file of a clock whose right side comes early by so much [percent of the swing].

    The first tick is a right-hand one, as after the bob was drawn to the left and let go.
    """
    rate_hz = 16_000
    generator = np.random.default_rng(7)
    beat_s = 3600.0 / beats_per_hour
    sound = 0.001 * generator.standard_normal(int(seconds * rate_hz))
    decay = np.exp(-np.arange(int(0.02 * rate_hz)) / (0.003 * rate_hz))
    kinds = [decay * np.sin(2 * np.pi * hz * np.arange(len(decay)) / rate_hz) for hz in (2600.0, 2100.0)]
    for beat in range(int(seconds / beat_s) - 1):
        late_s = 0.0 if beat % 2 == 0 else beat_s * percent / 100
        start = int((0.5 + beat * beat_s + late_s) * rate_hz)
        if start + len(decay) < len(sound):
            sound[start : start + len(decay)] += 0.6 * kinds[beat % 2]
    return as_wave(sound, rate_hz)


def as_wave(sound: np.ndarray, rate_hz: int) -> bytes:
    """Return sound as a WAV file of one channel and 16 bits."""
    file = io.BytesIO()
    with wave.open(file, "wb") as wav:
        wav.setnchannels(1)
        wav.setsampwidth(2)
        wav.setframerate(rate_hz)
        wav.writeframes((np.clip(sound, -1, 1) * 32_000).astype("<i2").tobytes())
    return file.getvalue()
