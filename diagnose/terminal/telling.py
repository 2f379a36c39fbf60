"""What the terminal tells of a result: the tree, why, the beat, a remedy, an entry (rich)."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

from rich.console import Group, RenderableType
from rich.text import Text
from rich.tree import Tree

from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.near_names import near
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Reader, Wording
from diagnose.reasoning import explanation as why
from diagnose.reasoning.cause_said import causes_called
from diagnose.reports import showing, standing
from diagnose.reports.contract import cautions_shown, ranked, stability_values
from diagnose.reports.summary import beats_text, grouped
from diagnose.terminal import screens

Read = Callable[[str], str | None]
PLAIN_WIDTH = 80
# How many answers stand below a cause: more for a likelier one, so that the tree stays on a screen or two.
SHOWN_REASONS = ((0.4, 5), (0.1, 3), (0.04, 1), (0.0, 0))
LEAST_IN_TREE = 0.02
# A weight below this prints as 0.0 [decibans].
SMALLEST_SHOWN = 0.05


def now() -> str:
    """Return the time of day as a contact keeps it."""
    return datetime.now().isoformat(timespec="minutes")


def tree(consultation: Consultation, wording: Wording) -> RenderableType:
    """Return the ranked cause tree: complaint, parts, causes with reasons, next step, what to do, cautions."""
    result = ranked(consultation)
    root = Tree(Text(result["case"], style="bold"))
    _complaint_branch(root, consultation, wording)
    branch = root.add(Text(wording.say("likely-causes"), style="bold"))
    likely = [cause for cause in result["causes"] if cause["probability"] >= LEAST_IN_TREE]
    shown = {**result, "causes": likely or result["causes"][:3]}
    for subsystem, causes in grouped(shown, consultation.knowledge):
        part = branch.add(Text(wording.text(consultation.knowledge.subsystems[subsystem].title), style="italic"))
        for cause in causes:
            _cause_branch(part, cause, wording)
    branch.add(_share_line(wording, result["none_of_these"], wording.say("not-on-list")))
    if result["nothing_wrong"] > result["none_of_these"]:
        branch.add(_share_line(wording, result["nothing_wrong"], wording.say("nothing-wrong")))
    for line in standing.stability_lines(stability_values(consultation), wording) if wording.reader == "staff" else ():
        branch.add(Text(line))
    root.add(Text(f"{wording.say('next-step')}: {result['next']['text']}", style="green"))
    _remedy_branch(root, result, wording)
    lines: list[RenderableType] = [root]
    lines.extend(screens.caution_lines(consultation, wording, cautions_shown(consultation)))
    if len(result["causes"]) > 1:
        lines.append(Text(wording.say("need-not-add-up"), style="dim"))
    return Group(*lines)


def _complaint_branch(root: Tree, consultation: Consultation, wording: Wording) -> None:
    said = [event.text for event in consultation.case.events if hasattr(event, "text") and event.text]
    for text in said:
        root.add(Text(f'{wording.say("complaint")}: "{text}"'))


def _share_line(wording: Wording, probability: float, title: str, style: str = "") -> Text:
    text = Text(f"{screens.bar(probability)} ", style="cyan")
    text.append(f"{wording.in_ten(probability)}, {wording.likely(probability)}: ", style="")
    text.append(title, style=style)
    return text


def _cause_branch(part: Tree, cause: dict[str, Any], wording: Wording) -> None:
    title = showing.cause_title(cause["id"], wording)
    branch = part.add(_share_line(wording, cause["probability"], title, "bold"))
    reasons = _weighty(cause)
    most = next(count for least, count in SHOWN_REASONS if cause["probability"] >= least)
    for reason in reasons[:most]:
        branch.add(reason_line(reason, wording))


def reason_line(reason: dict[str, Any], wording: Wording) -> Text:
    """Return one answer with what it speaks for or against."""
    speaks_for = reason["decibans"] >= 0
    mark, style = ("+", "green") if speaks_for else ("-", "red")
    what = reason["text"]
    if reason["finding"] is not None:
        value = wording.value(reason["finding"], reason["value"]) if reason["value"] else ""
        name = wording.short(reason["finding"])
        what = f"{name}: {value}. {reason['text']}" if value else f"{name}. {reason['text']}"
    return Text.assemble((f"{mark} ", style), what)


def _remedy_branch(root: Tree, result: dict[str, Any], wording: Wording) -> None:
    if not result["causes"]:
        return
    branch = root.add(Text(wording.say("what-to-do"), style="bold"))
    for remedy in result["causes"][0]["remedies"]:
        entry = wording.knowledge.remedies[remedy["id"]]
        node = branch.add(Text(wording.text(entry.title), style="green"))
        facts = (
            wording.say(f"who-{entry.who}"),
            wording.say(f"opened-{entry.opened}"),
            screens.minutes_text(wording, entry.minutes),
            wording.say("walk-command", remedy=remedy["id"]),
        )
        node.add(Text("; ".join(facts)))


def _weighty(cause: dict[str, Any]) -> list[dict[str, Any]]:
    """Return the reasons of a cause; what neither names an answer nor weighs anything is rounding, not a reason."""
    return [item for item in cause["because"] if item["finding"] or abs(item["decibans"]) >= SMALLEST_SHOWN]


def why_first(consultation: Consultation, wording: Wording) -> RenderableType:
    """Return why the first place stands where it does: prior and answers in decibans that add up."""
    cause = ranked(consultation)["causes"][0]
    lines: list[RenderableType] = [
        _share_line(wording, cause["probability"], wording.cause(cause["id"]), "bold"),
        Text(wording.say("prior-line", decibans=f"{cause['decibans']['prior']:+.1f}")),
    ]
    for reason in _weighty(cause):
        line = reason_line(reason, wording)
        lines.append(Text.assemble(f"{reason['decibans']:+6.1f}  ", line))
    lines.append(Text(wording.say("shown-line", decibans=f"{cause['decibans']['shown']:+.1f}")))
    return Group(*lines)


def top_reasons(consultation: Consultation, wording: Wording, most: int = 3) -> list[Text]:
    """Return the weightiest answers for and against the first place."""
    reasons = [reason for reason in ranked(consultation)["causes"][0]["because"] if reason["finding"]]
    return [reason_line(reason, wording) for reason in reasons[:most]]


def answers_given(consultation: Consultation, wording: Wording) -> RenderableType:
    """Return the answers that count now, numbered so that one can be taken back."""
    lines = [
        Text(f"{number:>3}  {wording.short(name)}: {answer_text(answer, wording)}")
        for number, (name, answer) in enumerate(consultation.answers.items(), 1)
    ]
    return Group(*lines, Text(wording.say("change-hint"), style="dim"))


def answer_text(answer: Answer, wording: Wording) -> str:
    """Return an answer in words, with how it is known."""
    if answer.state == "cannot-tell":
        return wording.say("cannot-tell")
    if answer.state == "later" or answer.value is None:
        return wording.say("cannot-look-now")
    known = wording.say(f"source-{answer.source}")
    think = f", {wording.say('think-so')}" if answer.certainty == "think-so" else ""
    return f"{wording.value(answer.finding, answer.value)} ({known}{think})"


def beats_lines(beats: dict[str, Any], wording: Wording) -> RenderableType:
    """Return what a recording says."""
    return Group(*(Text(line) for line in beats_text(beats, wording)))


def coach_lines(consultation: Consultation, wording: Wording) -> RenderableType | None:
    """Return the next act of setting the beat, where a remedy that does so is being walked."""
    from diagnose.coaching import words_of
    from diagnose.coaching.in_walk import advice_in_walk

    advice = advice_in_walk(consultation)
    return (
        Text(wording.text(words_of(advice.told, wording.knowledge)), style="bold green") if advice is not None else None
    )


def find_cause(knowledge: Knowledge, words: str) -> str:
    """Return the cause that an id or somebody's own words mean best."""
    found = causes_called(words, knowledge)
    if not found:
        raise UsageError(f"no cause is called '{words}'{near(words, knowledge.causes)}")
    return found[0]


def second_opinion(consultation: Consultation, wording: Wording, words: str) -> RenderableType:
    """Return what speaks for and against a suspected cause, and the cheapest look that refutes it."""
    assessment = consultation.assessment
    cause = find_cause(consultation.knowledge, words)
    opinion = why.second_opinion(
        cause,
        assessment.base,
        assessment.pieces,
        assessment.ranking,
        consultation.knowledge,
        assessment.conclusions,
        consultation.parameters,
        consultation.situation.opened,
        consultation.situation.closed,
    )
    lines: list[RenderableType] = [
        _share_line(wording, opinion.probability, wording.cause(cause), "bold"),
        Text(wording.say("speaks-for")),
        *_reasons(opinion.agrees, wording),
        Text(wording.say("speaks-against")),
        *_reasons(opinion.against, wording),
    ]
    for alike in opinion.mistaken_for:
        title = wording.cause(alike.cause)
        lines.append(screens.indented(wording.say("mistaken-line", cause=title, tell=alike.tell), by=2))
    if opinion.refuting is not None:
        question = wording.question(opinion.refuting.finding)
        lines.append(Text(wording.say("refute-line", question=question), style="green"))
    others = [wording.cause(name) for name in causes_called(words, consultation.knowledge) if name != cause]
    if others:
        lines.append(Text(wording.say("suspect-others", causes="; ".join(others)), style="dim"))
    return Group(*lines)


def _reasons(reasons: tuple[why.Reason, ...], wording: Wording) -> list[RenderableType]:
    rows = [
        {"finding": item.finding, "value": item.value, "decibans": item.decibans, "text": item.text} for item in reasons
    ]
    return [screens.indented(reason_line(row, wording).plain, by=2) for row in rows]


def why_not(consultation: Consultation, wording: Wording, words: str) -> RenderableType:
    """Return why the first place and not a named cause: two explanations compared."""
    assessment = consultation.assessment
    first = assessment.ranking.causes[0].cause
    other = find_cause(consultation.knowledge, words)
    found = why.why_not(
        first,
        other,
        assessment.base,
        assessment.pieces,
        assessment.ranking,
        consultation.knowledge,
        assessment.conclusions,
    )
    lines: list[RenderableType] = [
        Text(wording.say("compare-line", one=wording.cause(first), other=wording.cause(other)), style="bold")
    ]
    for reason in found.reasons:
        row = {"finding": reason.finding, "value": reason.value, "decibans": reason.decibans, "text": reason.text}
        lines.append(Text.assemble(f"{reason.decibans:+6.1f}  ", reason_line(row, wording)))
    return Group(*lines)


def what_to_do(consultation: Consultation, wording: Wording) -> RenderableType:
    """Return the remedy that is most worth trying, also where the plan is to ask on first."""
    remedy = showing.best_remedy(consultation)
    return remedy_opening(consultation.knowledge, wording, remedy) if remedy else Text("")


def write_report(
    consultation: Consultation, folder: Path, pdf: bool = False, reader: Reader = "staff"
) -> tuple[Path, ...]:
    """Write tree, report and case file of a consultation; return their paths."""
    from diagnose.reports.report import write_report as write

    return write(consultation, folder, pdf, reader)


def remedy_opening(knowledge: Knowledge, wording: Wording, remedy: str) -> RenderableType:
    """Return title, who, how long, tools and parts of a remedy."""
    entry = knowledge.remedies[remedy]
    lines = screens.remedy_heading(wording, entry)
    if entry.tools:
        lines.append(screens.indented(f"{wording.say('tools')}: {', '.join(entry.tools)}"))
    if entry.parts:
        parts = ", ".join(wording.text(knowledge.parts[name].title) for name in entry.parts)
        lines.append(screens.indented(f"{wording.say('parts')}: {parts}"))
    lines.extend(screens.cautions_of(knowledge, wording, entry.cautions))
    return Group(*lines)


def remedy_step(knowledge: Knowledge, wording: Wording, remedy: str, number: int) -> RenderableType:
    """Return one step of a remedy."""
    entry = knowledge.remedies[remedy]
    if not screens.may_show(entry, entry.steps[number], wording):
        return screens.indented(wording.say("leave-to-us"))
    return Group(*screens.step_lines(wording, entry, number))


def remedy_proof(knowledge: Knowledge, wording: Wording, remedy: str) -> RenderableType:
    """Return what proves that a remedy has cured."""
    lines: list[RenderableType] = [screens.heading(wording.say("proves"))]
    for proof in knowledge.remedies[remedy].proof:
        question, value = wording.question(proof.finding), wording.value(proof.finding, proof.value)
        lines.append(screens.indented(f"{question} {value}"))
    return Group(*lines)
