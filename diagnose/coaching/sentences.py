"""How the next act on the beat is said, to staff and to a customer; the phrases stand in the knowledge files."""

from __future__ import annotations

import math

from diagnose.coaching.task import Sentences
from diagnose.mechanics import in_hand
from diagnose.mechanics.escapement import ACCEPTABLE_PERCENT, Side, split_percent
from diagnose.model.entries import Words
from diagnose.model.quantities import inches
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Reader, Wording


def words_of(told: Sentences, knowledge: Knowledge) -> Words:
    """Return the sentences for staff and for a customer, from the phrases `coach-...` of the knowledge.

    Parameters
    ----------
    told : Sentences
        What is to be said.
    knowledge : Knowledge
        Holds the phrases.
    """
    readers: tuple[Reader, Reader] = ("staff", "customer")
    staff, customer = (" ".join(_said(told, Wording(knowledge, reader))) for reader in readers)
    return Words(staff=staff, customer=customer)


def _said(told: Sentences, wording: Wording) -> list[str]:
    """Return the sentences for one reader, in order."""
    sentences = [_split(told, wording)]
    if told.kind == "learn-side":
        sentences.append(wording.say("coach-learn-side-by-hand" if told.stopped else "coach-learn-side"))
    elif told.direction is None or told.size is None:
        sentences += [_last(told, wording), wording.say(f"coach-{told.kind}")]
    else:
        sentences += [_last(told, wording), _side(told, wording)]
        sentences += [wording.say("coach-offer")] if told.kind == "acceptable" else []
        sentences.append(_act(told, wording, told.direction, told.size))
        if told.adjuster not in FOR_TECHNICIANS or wording.reader == "staff":
            sentences.append(wording.say("coach-afterward-floor" if told.on_the_floor else "coach-afterward-small"))
    return [sentence for sentence in sentences if sentence]


def _split(told: Sentences, wording: Wording) -> str:
    if told.percent is None:
        return "" if told.kind == "listen" else wording.say("coach-does-not-go")
    longer, shorter = split_percent(told.percent)
    return wording.say(
        "coach-split",
        longer=f"{longer:.1f}",
        shorter=f"{shorter:.1f}",
        percent=f"{told.percent:.1f}",
        unsure=f"{math.ceil(told.uncertainty * TENTHS) / TENTHS:.1f}",
        acceptable=f"{ACCEPTABLE_PERCENT:.0f}",
    )


def _side(told: Sentences, wording: Wording) -> str:
    if told.early_side == "unknown":
        return wording.say("coach-side-unknown")
    return wording.say("coach-side-known", side=wording.say(f"side-{told.early_side}"))


def _last(told: Sentences, wording: Wording) -> str:
    if told.last_step == "none":
        return ""
    return wording.say(f"coach-last-{told.last_step}", wrong=wording.say(f"coach-wrong-{told.wrong}"))


def _act(told: Sentences, wording: Wording, direction: Side, size: in_hand.Size) -> str:
    """Return the act in words."""
    hold = " " + wording.say("coach-hold-tall") if told.on_the_floor else ""
    fill = {"side": wording.say(f"side-{direction}"), "size": _size(size), "hold": hold}
    if told.in_all is None:
        return wording.say(f"coach-act-{told.adjuster}", **fill)
    if told.in_all.size is None:
        return wording.say("coach-act-all-out", **fill)
    feet = wording.say(f"side-{told.in_all.side}")
    return wording.say("coach-act-in-all", **fill, in_all=_size(told.in_all.size), feet=feet)


def _size(size: in_hand.Size) -> str:
    """Return a size in a thing at hand, in mm and in inch."""
    digits = 1 if size.mm >= 1 else 2
    if not size.text:
        return f"{size.mm:.{digits}f} mm ({inches(size.mm):.3f} in)"
    return f"{size.text} ({size.mm:.{digits}f} mm, {inches(size.mm):.3f} in)"


FOR_TECHNICIANS = ("crutch-bend",)
TENTHS = 10
