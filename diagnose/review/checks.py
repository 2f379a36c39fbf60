"""The list of checks, each with its severity, and the exceptions that a person has given a reason for."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Literal

from diagnose.errors import Fault
from diagnose.model.checking import singular
from diagnose.model.reading import Knowledge
from diagnose.review import hands, pairs, patterns, wording

Severity = Literal["fault", "doubt"]
# Collection, id and one sentence of what is wrong with the entry.
Found = Iterator[tuple[str, str, str]]


@dataclass(frozen=True, slots=True)
class Check:
    """One question asked of the whole knowledge.

    Parameters
    ----------
    id : str
        Its name, for ever; exceptions name it.
    severity : str
        "fault" where somebody could be hurt or misled, "doubt" where a person should look.
    asks : str
        What it asks, in one line.
    find : callable
        Yields collection, id and sentence for each entry that fails.
    """

    id: str
    severity: Severity
    asks: str
    find: Callable[[Knowledge], Found]


@dataclass(frozen=True, slots=True)
class Remark:
    """What a check has found.

    Parameters
    ----------
    check : Check
        Which.
    fault : Fault
        Where and what.
    excused : str or None
        The reason a person has given why it may stand.
    """

    check: Check
    fault: Fault
    excused: str | None = None


CHECKS: tuple[Check, ...] = (
    Check("same-signature", "fault", "Do two causes show the same?", pairs.same_signature),
    Check("look-alike-not-told-apart", "fault", "Is each look-alike told apart?", pairs.not_told_apart),
    Check("look-alike-one-way", "doubt", "Do look-alikes name each other?", pairs.one_way),
    Check("look-alike-ring", "doubt", "Do look-alikes run in a ring?", pairs.rings),
    Check("no-use", "fault", "Does anything use the entry?", pairs.unused),
    Check("never-fires", "fault", "Can all grounds of the rule hold at once?", patterns.never_fires),
    Check("never-silent", "fault", "Is there an answer on which the rule is silent?", patterns.never_silent),
    Check("said-twice", "doubt", "Does another rule say the same on less?", patterns.said_twice),
    Check("needs-in-a-ring", "fault", "Can a question be reached at all?", patterns.needs_in_a_ring),
    Check("infers-in-a-ring", "fault", "Does a conclusion prove itself?", patterns.infers_in_a_ring),
    Check("nobody-can-answer", "fault", "Can somebody answer the question somewhere?", hands.nobody_can_answer),
    Check("nothing-to-look-at", "doubt", "Can the cause be looked for on a visit?", hands.nothing_to_look_at),
    Check("proof-out-of-reach", "doubt", "Can the cure be proved where it is done?", hands.proof_out_of_reach),
    Check("load-without-caution", "fault", "Is a part under load named as a danger?", hands.load_without_caution),
    Check("draft-for-a-customer", "fault", "Is a grave step kept from a customer?", hands.draft_for_a_customer),
    Check("caution-not-said", "doubt", "Does the remedy repeat its cause's danger?", hands.caution_not_said),
    Check("nothing-to-reckon", "fault", "Is the number of a step one that can be asked for?", hands.nothing_to_reckon),
    Check("unknown-as-content", "fault", "Is not knowing kept apart from a value?", wording.unknown_as_content),
    Check("source-not-named", "doubt", "Does a figure in a text have a source?", wording.source_not_named),
    Check("source-not-used", "doubt", "Does anything rest on the source?", wording.source_not_used),
    Check("hard-to-read", "doubt", "Can staff and customers read it easily?", wording.hard_to_read),
)


def review(knowledge: Knowledge, checks: tuple[Check, ...] = CHECKS) -> tuple[Remark, ...]:
    """Return what the checks find, those excused included, in the order of the checks.

    Parameters
    ----------
    knowledge : Knowledge
        Read without faults between its entries.
    checks : tuple of Check
        Which to ask.

    Returns
    -------
    tuple of Remark
        An exception that excuses nothing is itself a doubt.
    """
    reasons = {
        (entry.check, name): (key, entry.reason) for key, entry in knowledge.exceptions.items() for name in entry.of
    }
    used: set[str] = set()
    remarks: list[Remark] = []
    for check in checks:
        for collection, name, what in check.find(knowledge):
            key, reason = reasons.get((check.id, name), (None, None))
            if key is not None:
                used.add(key)
            remarks.append(Remark(check, _fault(knowledge, collection, name, what), reason))
    asked = {check.id for check in checks}
    for key, entry in knowledge.exceptions.items():
        known = {check.id for check in CHECKS}
        if entry.check not in known:
            what = f"names no check: '{entry.check}'. There are {', '.join(sorted(known))}"
            remarks.append(Remark(_STALE, _fault(knowledge, "exceptions", key, what)))
        elif entry.check in asked and key not in used:
            remarks.append(Remark(_STALE, _fault(knowledge, "exceptions", key, "excuses nothing any more: remove it")))
    return tuple(remarks)


_STALE = Check("exception-without-use", "doubt", "Does each exception still excuse something?", lambda _: iter(()))


def _fault(knowledge: Knowledge, collection: str, key: str, what: str) -> Fault:
    return Fault(*knowledge.positions[(collection, key)], f"{singular(collection)} '{key}': {what}")
