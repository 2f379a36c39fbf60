"""What the terminal shows at the end of an exercise: the marks, what the answers say, the worked solution."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rich.console import RenderableType
from rich.text import Text

from diagnose.model.wording import Wording
from diagnose.reasoning.reasons import Reason
from diagnose.terminal import screens, telling
from diagnose.training.marks import Marks, SolutionStep

# Of a long solution the beginning and the end are shown.
FIRST_STEPS, LAST_STEPS = 8, 4


def lines(marks: Marks, wording: Wording) -> list[RenderableType]:
    """Return everything that is shown at the end.

    Parameters
    ----------
    marks : Marks
        Of the exercise.
    wording : Wording
        Speaks to staff.
    """
    shown: list[RenderableType] = [screens.heading(wording.say("exercise-marks"))]
    shown.extend(Text(line, style="bold" if number == 0 else "") for number, line in enumerate(summary(marks, wording)))
    about = marks.named[0] if marks.named else marks.hidden[0]
    reasons = [*marks.speaks_for, *marks.speaks_against]
    key = "exercise-says-about" if reasons else "exercise-says-nothing"
    shown.append(Text(wording.say(key, cause=wording.cause(about)), style="bold"))
    shown.extend(_reasons(reasons, wording))
    if marks.apart:
        shown.append(Text(wording.say("exercise-apart", hidden=wording.cause(marks.hidden[0])), style="bold"))
        shown.extend(_reasons(marks.apart, wording))
    sign = marks.best_sign
    line = wording.say(
        "exercise-best-sign",
        hidden=wording.cause(marks.hidden[0]),
        finding=wording.short(sign.finding),
        value=wording.value(sign.finding, sign.value),
        why=sign.why,
    )
    shown.append(Text(line))
    near = "exercise-solution-near" if marks.planner_near else "exercise-solution-missed"
    title = "exercise-solution" if marks.planner_finds else near
    shown.append(Text(wording.say(title), style="bold"))
    shown.extend(screens.indented(line, by=2) for line in solution_lines(marks.solution, wording))
    return shown


def summary(marks: Marks, wording: Wording) -> list[str]:
    """Return the marks in a few plain sentences, one for each line."""
    said = [f"{_verdict(marks, wording)} {_founded(marks, wording)}".strip(), _minutes(marks, wording)]
    for key, findings in (("exercise-told-little", marks.told_little), ("exercise-left-out", marks.left_out)):
        if findings:
            said.append(wording.say(key, list="; ".join(wording.short(name) for name in findings)))
    for item in dict.fromkeys(marks.wrongdoings):
        remedy = wording.text(wording.knowledge.remedies[item.remedy].title)
        look = wording.short(item.look) if item.look is not None else ""
        said.append(wording.say(f"exercise-wrong-{item.fault}", remedy=remedy, look=look))
    if marks.without_reproach:
        said.append(wording.say("exercise-no-reproach"))
    return said


def _verdict(marks: Marks, wording: Wording) -> str:
    there = set(marks.hidden)
    wrong = [cause for cause in marks.named if cause not in there]
    key = "part-extra" if marks.verdict == "part" and wrong else marks.verdict
    return wording.say(
        f"exercise-verdict-{key}",
        hidden=_causes(marks.hidden, wording),
        named=_causes(marks.named, wording),
        found=_causes([cause for cause in marks.named if cause in there], wording),
        missed=_causes([cause for cause in marks.hidden if cause not in marks.named], wording),
        wrong=_causes(wrong, wording),
        tell=marks.tell or "",
    )


def _causes(causes: Sequence[str], wording: Wording) -> str:
    titles = [wording.cause(cause) for cause in causes]
    if len(titles) < 2:
        return "".join(titles)
    return wording.say("exercise-and", one=", ".join(titles[:-1]), two=titles[-1])


def _founded(marks: Marks, wording: Wording) -> str:
    if not marks.named:
        return ""
    if marks.proved:
        return wording.say("exercise-proved")
    chance = wording.in_ten(marks.chance)
    if marks.founded:
        return wording.say(
            "exercise-misled" if marks.verdict in {"wrong", "alike"} else "exercise-founded", chance=chance
        )
    return wording.say("exercise-likeliest" if marks.first else "exercise-guessed", chance=chance)


def _minutes(marks: Marks, wording: Wording) -> str:
    hit = bool(set(marks.named) & set(marks.hidden))
    if marks.planner_finds:
        key = "exercise-minutes" if hit else "exercise-minutes-missed"
    elif marks.planner_near:
        key = "exercise-minutes-planner-near"
    else:
        key = "exercise-minutes-better" if hit else "exercise-minutes-planner-wrong"
    named = _causes(marks.planner_named, wording) or wording.say("exercise-planner-nothing")
    line = wording.say(key, minutes=f"{marks.minutes:.0f}", planner=f"{marks.planner_minutes:.0f}", planner_named=named)
    if marks.hints == 1:
        return f"{line} {wording.say('exercise-hint-one')}"
    return f"{line} {wording.say('exercise-hints', count=marks.hints)}" if marks.hints else line


def _reasons(reasons: Iterable[Reason], wording: Wording) -> list[RenderableType]:
    return [
        telling.reason_line(
            {"finding": item.finding, "value": item.value, "decibans": item.decibans, "text": item.text}, wording
        )
        for item in reasons
    ]


def solution_lines(steps: Sequence[SolutionStep], wording: Wording) -> list[str]:
    """Return the worked solution, one numbered line for each act; the middle of a long one is left out."""
    texts = [
        wording.say("exercise-solution-line", number=number, text=_step(step, wording))
        for number, step in enumerate(steps, 1)
    ]
    if len(texts) <= FIRST_STEPS + LAST_STEPS + 1:
        return texts
    left_out = len(texts) - FIRST_STEPS - LAST_STEPS
    return [
        *texts[:FIRST_STEPS],
        wording.say("exercise-solution-more", count=left_out),
        *texts[-LAST_STEPS:],
    ]


def _step(step: SolutionStep, wording: Wording) -> str:
    if step.kind == "go":
        return wording.say("exercise-solution-go", where=wording.say(f"where-{step.what}"))
    if step.kind == "name":
        return wording.say("exercise-solution-name", causes=_causes(step.what.split(), wording))
    if step.kind == "give-up":
        return wording.say("exercise-solution-nothing")
    answers = "; ".join(
        wording.say(
            "exercise-answer-line",
            finding=wording.short(answer.finding),
            value=telling.answer_text(answer, wording)
            if answer.value is None
            else wording.value(answer.finding, answer.value),
        )
        for answer in step.answers
    )
    if step.kind == "try":
        remedy = wording.text(wording.knowledge.remedies[step.what].title)
        return f"{wording.say('exercise-solution-try', remedy=remedy)} {answers}."
    return f"{answers}. {step.why}".strip()
