"""The sentences in which the next act on the beat is said, to staff and to a customer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from diagnose.coaching.task import AdviceKind, LastStep
from diagnose.mechanics import in_hand
from diagnose.mechanics.escapement import ACCEPTABLE_PERCENT, Adjuster, EarlySide, Side, split_percent
from diagnose.model.entries import Words
from diagnose.model.quantities import inches

LEARN_SIDE = (
    "Which side comes early is not known yet. Start a recording, draw the bob to your left, as you face the dial, "
    "until it ticks once, and let go: the next tick is the right-hand one. Record 30 seconds from there.",
    "It is uneven. Please start a new recording. Draw the round weight to your left, as you face the dial, until it "
    "ticks once, and let go. Then keep recording for half a minute.",
)
LEARN_SIDE_BY_HAND = (
    "Find the early side by hand: bob at rest, lead it slowly to the tick on each side. The shorter way is early. A "
    "live train holds a light bob a little off its rest: take the middle of the two rests.",
    "Let the round weight hang still. Lead it very slowly to your right until it ticks once. Let it come back. Now to "
    "your left. Which way is shorter?",
)

Wrong = Literal["nothing", "side", "went-wrong", "turned"]


@dataclass(frozen=True, slots=True)
class Packing:
    """What lies under the feet in the end, counted from the beginning.

    Parameters
    ----------
    side : str
        Under which feet.
    size : in_hand.Size or None
        How much; None where all of it comes out again.
    """

    side: Side
    size: in_hand.Size | None


@dataclass(frozen=True, slots=True)
class Sentences:
    """What is to be said.

    Parameters
    ----------
    kind, adjuster : str
        Kind of advice, and what is moved.
    percent : float or None
        Beat error heard; None where the clock did not keep going [percent].
    uncertainty : float
        Its standard uncertainty [percent].
    early_side : str
        The side that comes early.
    last_step : str
        What the last act did.
    on_the_floor : bool
        Whether it is a tall case.
    direction : str or None
        Where to move.
    size : in_hand.Size or None
        How far.
    in_all : Packing or None
        The packing in the end, where some lies there already.
    wrong : str
        What probably went wrong with the last act: "nothing", the "side" was wrong, it "went-wrong", or the
        adjuster is "turned".
    stopped : bool
        The clock does not keep going.
    """

    kind: AdviceKind
    adjuster: Adjuster
    percent: float | None
    uncertainty: float
    early_side: EarlySide
    last_step: LastStep
    on_the_floor: bool
    direction: Side | None = None
    size: in_hand.Size | None = None
    in_all: Packing | None = None
    wrong: Wrong = "nothing"
    stopped: bool = False


def say(told: Sentences) -> Words:
    """Return the sentences for staff and for a customer.

    Parameters
    ----------
    told : Sentences
        What is to be said.
    """
    staff, customer = [_split(told), _last(told)], [_last_plain(told)]
    if told.kind == "learn-side":
        sentences = LEARN_SIDE_BY_HAND if told.stopped else LEARN_SIDE
        staff, customer = [_split(told), sentences[0]], [sentences[1]]
    elif told.kind in ENDS:
        staff.append(ENDS[told.kind][0])
        customer.append(ENDS[told.kind][1])
    elif told.direction is not None and told.size is not None:
        act = _act(told, told.direction, told.size)
        staff += [_side(told), _offer(told), act[0], _afterward(told)]
        customer += [_offer_plain(told), act[1]]
        if told.adjuster not in FOR_TECHNICIANS:
            customer.append(_afterward_plain(told))
    return Words(staff=_joined(staff), customer=_joined(customer))


def _joined(sentences: list[str]) -> str:
    return " ".join(sentence for sentence in sentences if sentence)


def _split(told: Sentences) -> str:
    if told.percent is None:
        return "" if told.kind == "listen" else "It does not keep going."
    longer, shorter = split_percent(told.percent)
    return (
        f"{longer:.1f} : {shorter:.1f}, out of beat {told.percent:.1f} % +- {told.uncertainty:.1f} "
        f"(practice: under {ACCEPTABLE_PERCENT:.0f})."
    )


def _side(told: Sentences) -> str:
    if told.early_side == "unknown":
        return "Which side comes early is not known: this is a small trial step, and its answer will tell."
    return f"The {told.early_side} side comes early."


def _last(told: Sentences) -> str:
    return {
        "worse": f"The last step made it worse: {WRONG[told.wrong]}.",
        "better": "The last step helped.",
        "same": "The last step changed nothing that can be heard.",
        "overshot": "The last step went too far: come back part of it.",
    }.get(told.last_step, "")


WRONG: dict[Wrong, str] = {
    "nothing": "stop here",
    "side": "that was the wrong side, so go back to where it was and on the other way",
    "went-wrong": "it probably went the other way than told, so go back to where it was and on from there",
    "turned": (
        "the early side was taken wrongly or this adjuster works the other way round, so go back to where it was and "
        "on the other way"
    ),
}


def _last_plain(told: Sentences) -> str:
    return {
        "worse": "That made it worse, so now we go the other way.",
        "better": "That helped.",
        "same": "That changed nothing yet.",
        "overshot": "That was a little too far, so we come back a bit.",
    }.get(told.last_step, "")


def _offer(told: Sentences) -> str:
    return "Acceptable; to make it better still:" if told.kind == "acceptable" else ""


def _offer_plain(told: Sentences) -> str:
    return "It is nearly even. You may leave it so, or try once more:" if told.kind == "acceptable" else ""


def _afterward(told: Sentences) -> str:
    wait = "about 10 minutes" if told.on_the_floor else "about 3 minutes"
    return (
        f"Before it is started, look which way it really went. Let the swing settle ({wait}), record 30 seconds. "
        "Worse = other way."
    )


def _afterward_plain(told: Sentences) -> str:
    minutes = "ten" if told.on_the_floor else "three"
    return f"Start it, wait {minutes} minutes, and record half a minute."


def _act(told: Sentences, direction: Side, size: in_hand.Size) -> tuple[str, str]:
    """Return the act in words, for staff and customer."""
    hold = ("", "")
    if told.on_the_floor:
        hold = HOLD_TALL
    fill = {"side": direction, "size": _size(size), "hold": hold[0], "hold_plain": hold[1]}
    if told.in_all is None:
        staff, customer = ACTS[told.adjuster]
    elif told.in_all.size is None:
        staff, customer = ALL_OUT
    else:
        staff, customer = IN_ALL
        fill |= {"in_all": _size(told.in_all.size), "feet": told.in_all.side}
    return staff.format(**fill), customer.format(**fill)


def _size(size: in_hand.Size) -> str:
    """Return a size in a thing at hand, in mm and in inch."""
    digits = 1 if size.mm >= 1 else 2
    if not size.text:
        return f"{size.mm:.{digits}f} mm ({inches(size.mm):.3f} in)"
    return f"{size.text} ({size.mm:.{digits}f} mm, {inches(size.mm):.3f} in)"


HOLD_TALL = (
    " A second person holds the case, strap loosened, not removed; weights and bob off if it must be lifted; never "
    "leaning forward, fingers never under the plinth.",
    " Only with a second person who holds the clock. Keep fingers out from under it. If it has to be lifted, stop: we "
    "will do that.",
)

IN_ALL = (
    "Raise the {side} side by {size}: packing in all, counted from the beginning, {in_all} under both feet on the "
    "{feet}, as you face the dial, none on the other side.{hold}",
    "Take out the cards you have put in. Now put {in_all} under both feet on your {feet}, as you face the dial, and "
    "none on the other side.{hold_plain}",
)
ALL_OUT = (
    "Take out all packing that was put in since the beginning.{hold}",
    "Take out the cards you have put in.{hold_plain}",
)

FOR_TECHNICIANS = ("crutch-bend",)

ACTS: dict[Adjuster, tuple[str, str]] = {
    "leader-adjuster": (
        "Bob held still, leader not lifted: move the grip on the leader to the {side}, as you face the dial, by "
        "{size}. Watch the part that touches the crutch, not the thumb end.",
        "Hold the pendulum still. Turn or push the small adjuster so that the part that touches the thin arm goes to "
        "your {side}, as you face the dial, by {size}. Watch that part, not the end you push. Do not force it.",
    ),
    "crutch-adjuster": (
        "Bob held still: move the fork on the crutch to the {side}, as you face the dial, by {size}. Of two opposing "
        "screws loosen one before the other is tightened; thin paper must still pass.",
        "Hold the pendulum still. Turn the small adjuster so that the fork goes to your {side}, as you face the dial, "
        "by {size}. Do not force it.",
    ),
    "crutch-bend": (
        "Clock stopped, pendulum held, arm gripped near the arbor so that no force reaches the pallet pivot: ease the "
        "foot of the crutch to the {side}, as you face the dial, by {size}. Technician only; fork still square?",
        "The next step is a small bend inside the clock. Please leave this to us.",
    ),
    "friction-crutch": (
        "Only if it is surely a slipping crutch: lead the bob slowly to the {side}, as you face the dial, until the "
        "pallets come to their stop, go on past it by {size}, bring it back. Slow and soft; stop if it feels hard.",
        "Only where we have told you that this clock sets itself: lead the round weight slowly to your {side}, as you "
        "face the dial, until it comes to a soft stop. Go on by {size}. Bring it back. Stop at once if it feels hard.",
    ),
    "case-feet": (
        "Raise the {side} side: hard packing, {size}, under both feet on the {side}, as you face the dial.{hold}",
        "Put {size} under both feet on your {side}, as you face the dial.{hold_plain}",
    ),
    "case-hook": (
        "Move the bottom of the case to the {side}, as you face the dial, by {size}; one hand beneath it, top stays "
        "on its hook.",
        "One hand under the clock. Push the bottom of the clock to your {side}, as you face the dial, by {size}. The "
        "top stays on its hook. Only if you reach it standing on the floor.",
    ),
}

ENDS: dict[str, tuple[str, str]] = {
    "listen": (
        "Record 30 seconds of the tick, after the swing has settled.",
        "Please record half a minute of the tick, with the phone close to the clock.",
    ),
    "good": (
        "Good: leave it. If it still stops, the beat is not the reason.",
        "It is even. Please change nothing more.",
    ),
    "look-elsewhere": (
        "Three steps have not helped: stop adjusting and look at what else keeps it uneven.",
        "We stop adjusting here, and look for something else first.",
    ),
    "hand-over": (
        "More packing than 5 mm looks wrong and is a tip risk: have the crutch or its adjuster set instead.",
        "More cards would make the clock stand badly. Please let us set it inside.",
    ),
}
