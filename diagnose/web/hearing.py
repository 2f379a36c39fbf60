"""A recording, or taps, that come in by the page; and the next act where they set the beat."""

from __future__ import annotations

import dataclasses
import re
import secrets
from pathlib import Path
from typing import TYPE_CHECKING, Any

from diagnose.cases import events as ev
from diagnose.consultation import Consultation
from diagnose.errors import InputError, UsageError
from diagnose.model.wording import Wording
from diagnose.web.acts import EXAMPLE_BPH, side_of
from diagnose.web.desk import number_above_zero
from diagnose.web.forms import Given

if TYPE_CHECKING:
    from diagnose.coaching import Advice
    from diagnose.measurement.beats import Beats

_BETWEEN_TIMES = re.compile(r"[\s;]+")


def hear(consultation: Consultation, given: Given, wording: Wording, folder: Path) -> ev.Heard:
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
    """
    nominal = number_above_zero(given, "bph", EXAMPLE_BPH, wording) or consultation.case.clock.beats_per_hour
    walk = consultation.walk
    within = walk.remedy if walk else None
    path, beats = beats_of(given, nominal, wording, folder)
    return ev.Heard(str(path), beats, side_of(given, "side"), within, consultation.contact.id)


def beats_of(given: Given, nominal: float | None, wording: Wording, folder: Path) -> tuple[Path, dict[str, Any]]:
    """Return the kept file, and beat and rate as plain values, of a recording or of taps."""
    from diagnose.measurement.beats import to_dict

    if given.fault is not None:
        raise given.fault
    if given.recording is not None:
        from diagnose.measurement import listen

        return given.recording, to_dict(listen(given.recording, nominal, side_of(given, "side")))
    if not given.text("times"):
        raise UsageError(wording.say("page-no-file"))
    beats, path = _tapped(given, nominal, wording), folder / f"{secrets.token_hex(8)}.txt"
    folder.mkdir(parents=True, exist_ok=True)
    path.write_text(given.text("times") + "\n", encoding="utf-8")
    return path, to_dict(beats)


def _tapped(given: Given, nominal: float | None, wording: Wording) -> Beats:
    from diagnose.measurement.taps import beats_from_taps

    times_s = []
    for text in _BETWEEN_TIMES.split(given.text("times")):
        try:
            times_s.append(float(text.replace(",", ".")))
        except ValueError:
            raise InputError(wording.say("page-times-wrong", text=text[:40])) from None
    return beats_from_taps(times_s, nominal, side_of(given, "side"))


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
