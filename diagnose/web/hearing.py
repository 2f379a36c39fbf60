"""A recording, taps or a count that come in by the page; and the next act where they set the beat."""

from __future__ import annotations

import dataclasses
import json
import re
import secrets
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.cases import events as ev
from diagnose.cases.devices import device_called
from diagnose.consultation import Consultation
from diagnose.errors import InputError, UsageError
from diagnose.model.wording import Wording
from diagnose.taking_in import COUNTED
from diagnose.web.acts import EXAMPLE_BPH, side_of
from diagnose.web.desk import number_above_zero
from diagnose.web.forms import Given

if TYPE_CHECKING:
    from diagnose.coaching import Advice
    from diagnose.measurement.figures.beats import Beats
    from diagnose.measurement.figures.sample_clock import SampleClock

_BETWEEN_TIMES = re.compile(r"[\s;]+")
# What a browser says it does to the sound, and what is kept of that; each but the last takes ticks for noise.
SETTINGS = {
    "noiseSuppression": "noise_suppression",
    "echoCancellation": "echo_cancellation",
    "autoGainControl": "gain_control",
}
EXAMPLE_COUNT, EXAMPLE_SECONDS = "118", "120"

Progress = Callable[[float, float], None]


@dataclasses.dataclass(frozen=True, slots=True)
class Taken:
    """What a form's recording, taps or count say.

    Parameters
    ----------
    file : Path
        Where it is kept.
    beats : dict
        Beat and rate, as `diagnose listen --json` gives them.
    made : dict
        How it was made, as a `Heard` event keeps it.
    """

    file: Path
    beats: dict[str, Any]
    made: dict[str, Any]


def hear(
    consultation: Consultation, given: Given, wording: Wording, folder: Path, progress: Progress | None = None
) -> ev.Heard:
    """Return what a form's recording or taps say; the consultation is not changed.

    Parameters
    ----------
    consultation : Consultation
        Knows the train of the clock.
    given : Given
        The form, with its file.
    wording : Wording
        For the sentences of what is missing.
    folder : Path
        Where recordings are kept.
    progress : callable, optional
        Called with the seconds heard and the seconds promised.
    """
    nominal = number_above_zero(given, "bph", EXAMPLE_BPH, wording) or consultation.case.clock.beats_per_hour
    walk = consultation.walk
    within = walk.remedy if walk else None
    taken = beats_of(given, nominal, wording, folder, progress)
    side, contact = side_of(given, "side"), consultation.contact.id
    return ev.Heard(str(taken.file), taken.beats, side, within, contact, taken.made)


def beats_of(
    given: Given, nominal: float | None, wording: Wording, folder: Path, progress: Progress | None = None
) -> Taken:
    """Return the kept file, and beat and rate as plain values, of a recording, of taps or of a count."""
    from diagnose.measurement.figures.beats import to_dict

    if given.fault is not None:
        raise given.fault
    if given.recording is None and given.beside is not None:
        # Only the second of two was chosen: it is as good as the first.
        given.recording, given.beside = given.beside, None
    if given.recording is not None:
        return _recorded(given, given.recording, nominal, wording, progress)
    for name, suffix, measured in (("times", ".txt", _tapped), ("count", COUNTED, _counted)):
        if given.text(name):
            beats = measured(given, nominal, wording)
            path = folder / f"{secrets.token_hex(8)}{suffix}"
            folder.mkdir(parents=True, exist_ok=True)
            path.write_text(_text_of(given, name), encoding="utf-8")
            return Taken(path, to_dict(beats), {})
    raise UsageError(wording.say("page-no-file"))


def _text_of(given: Given, name: str) -> str:
    return f"{given.text(name)}/{given.text('seconds')}\n" if name == "count" else f"{given.text(name)}\n"


def _recorded(given: Given, path: Path, nominal: float | None, wording: Wording, progress: Progress | None) -> Taken:
    """Return what one recording says, or two of the same clock."""
    from diagnose.measurement import listen
    from diagnose.measurement.figures.beats import to_dict
    from diagnose.measurement.figures.second_place import together

    side, (clock, made) = side_of(given, "side"), made_of(given)
    beats = listen(path, nominal, side, clock, progress)
    if given.beside is not None:
        beats = together(beats, listen(given.beside, nominal, side, None, progress))
        made["beside"] = str(given.beside)
    return Taken(path, to_dict(beats.with_warnings(*settings_told(made, wording))), made)


def made_of(given: Given) -> tuple[SampleClock | None, dict[str, Any]]:
    """Return how true the phone of a form counts time, and how the recording was made, as far as it is known."""
    from diagnose.measurement.figures.sample_clock import SampleClock

    made: dict[str, Any] = {}
    clock = None
    if given.text("device"):
        device = device_called(given.text("device"))
        clock = SampleClock(device.ppm, device.sigma_ppm)
        made |= {"ppm": clock.ppm, "sigma_ppm": clock.sigma_ppm}
    return clock, made | _settings_of(given.text("settings"))


def _settings_of(text: str) -> dict[str, bool]:
    """Return what a browser says that it did to the sound; nothing where it says nothing that can be read."""
    try:
        said = json.loads(text)
    except ValueError:
        return {}
    if not isinstance(said, dict):
        return {}
    return {ours: said[name] for name, ours in SETTINGS.items() if isinstance(said.get(name), bool)}


def settings_told(made: dict[str, Any], wording: Wording) -> list[str]:
    """Return a warning for each thing a browser did to the sound although it was asked not to."""
    return [wording.say(f"page-made-{name}") for name in SETTINGS.values() if made.get(name)]


def _tapped(given: Given, nominal: float | None, wording: Wording) -> Beats:
    from diagnose.measurement.incoming.taps import beats_from_taps

    return beats_from_taps(times_of(given, wording), nominal, side_of(given, "side"))


def times_of(given: Given, wording: Wording) -> list[float]:
    """Return the times of taps that a form holds [s]."""
    times_s = []
    for text in _BETWEEN_TIMES.split(given.text("times")):
        try:
            times_s.append(float(text.replace(",", ".")))
        except ValueError:
            raise InputError(wording.say("page-times-wrong", text=text[:40])) from None
    return times_s


def _counted(given: Given, nominal: float | None, wording: Wording) -> Beats:
    from diagnose.measurement.incoming.taps import beats_from_count

    count = number_above_zero(given, "count", EXAMPLE_COUNT, wording)
    seconds = number_above_zero(given, "seconds", EXAMPLE_SECONDS, wording)
    if count is None or seconds is None:
        raise UsageError(wording.say("page-count-both"))
    return beats_from_count(count, seconds, nominal)


def take(consultation: Consultation, heard: ev.Heard, given: Given, wording: Wording) -> None:
    """Take what was heard into the consultation, with the act done before it and the train where it was given."""
    from diagnose.coaching.in_walk import take_as_done

    if given.text("act_done"):
        take_as_done(consultation, advice_of(consultation))
    nominal = number_above_zero(given, "bph", EXAMPLE_BPH, wording)
    if nominal is not None:
        consultation.set_fact("clock", "beats_per_hour", f"{nominal:g}")
    walk = consultation.walk
    consultation.take_heard(dataclasses.replace(heard, within=walk.remedy if walk else None))


def advice_of(consultation: Consultation) -> Advice | None:
    """Return the next act of setting the beat, where a remedy that does so is being walked and something was heard."""
    from diagnose.coaching.in_walk import advice_in_walk

    advice = advice_in_walk(consultation)
    return None if advice is None or advice.kind == "listen" else advice
