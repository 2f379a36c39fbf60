"""What a plan is put together from: waits side by side, a look that fits into a call, a few steps of each kind."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from diagnose.model.reading import Knowledge
from diagnose.reasoning.costs import waiting_minutes
from diagnose.reasoning.gates import LINE_MINUTES, Situation
from diagnose.reasoning.steps import Ask, Do, Refer, Step, Wait

HOMEWORK_FINDINGS = 3
OTHER_ASKS, OTHER_DOES = 4, 2
# A remedy is offered beside the step only where its causes together are at least so probable [1].
LEAST_CHANCE = 0.03


def wait_for(best: Ask, homework: Sequence[Ask], knowledge: Knowledge) -> Wait:
    """Return the findings to be watched side by side: hands-on minutes add up, of the waits the longest is paid.

    Parameters
    ----------
    best : Ask
        The finding most worth waiting for; its cost holds its own wait.
    homework : sequence of Ask
        Others that take time, best first.
    knowledge : Knowledge
        With waits and the shop's price of a day.
    """
    names = tuple(dict.fromkeys((best.finding, *(ask.finding for ask in homework))))[:HOMEWORK_FINDINGS]
    entries = [knowledge.findings[name] for name in names]
    hours = max(entry.wait_hours for entry in entries)
    longer = waiting_minutes(hours - entries[0].wait_hours, knowledge.shop)
    minutes = best.cost_minutes + longer + sum(entry.minutes for entry in entries[1:])
    return Wait(names, hours, minutes, best.saves_minutes)


def within_call(look: Sequence[Ask], knowledge: Knowledge, situation: Situation) -> tuple[Ask, ...]:
    """Return so much of a look as nobody holds the line for too long; all of it where nobody does.

    Parameters
    ----------
    look : sequence of Ask
        The best question first; it always stays.
    knowledge : Knowledge
        How long each takes.
    situation : Situation
        Where one looks.
    """
    if situation.where != "call":
        return tuple(look)
    kept: list[Ask] = []
    minutes = 0.0
    for ask in look:
        minutes += knowledge.findings[ask.finding].minutes
        if kept and minutes > LINE_MINUTES:
            break
        kept.append(ask)
    return tuple(kept)


def without_unlikely(steps: Sequence[Step], chance: Callable[[str], float]) -> list[Step]:
    """Return the steps without remedies for what is hardly there, as long as two remedies remain.

    Parameters
    ----------
    steps : sequence of Step
        Best first.
    chance : callable
        Probability that at least one of the causes of a remedy is there.
    """
    does = [step for step in steps if isinstance(step, Do)]
    likely = [step for step in does if chance(step.remedy) >= LEAST_CHANCE]
    unlikely = [step for step in does if step not in likely]
    kept = [*likely, *unlikely[: max(0, OTHER_DOES - len(likely))]]
    return [step for step in steps if not isinstance(step, Do) or step in kept]


def few_of_each(steps: Sequence[Step]) -> list[Step]:
    """Return the best few steps of each kind, so that a remedy and handing on are never crowded out."""
    left = {Ask: OTHER_ASKS, Do: OTHER_DOES, Refer: 1}
    kept: list[Step] = []
    for step in steps:
        for kind in left:
            if isinstance(step, kind) and left[kind] > 0:
                left[kind] -= 1
                kept.append(step)
    return kept
