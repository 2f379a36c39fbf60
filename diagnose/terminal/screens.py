"""What the terminal shows for each moment of a consultation (rich)."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.rule import Rule
from rich.text import Text

from diagnose import moments
from diagnose.cases.facts import SOUNDS, fact_values
from diagnose.model.entries import RemedyEntry, Words
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning.gates import fitting_cautions, step_cautions
from diagnose.reports.contact_words import alarm_then, handed_rows
from diagnose.reports.showing import cause_title, offered_value
from diagnose.reports.showing import may_show as may_show
from diagnose.reports.way import advice_part_lines
from diagnose.terminal.choices import choices

if TYPE_CHECKING:
    from diagnose.consultation import Consultation

LETTERS = "abcdefghijklm"
BAR_CELLS = 10
SHOWN_CAUSES = 5
_LEVEL_STYLES = {"danger": "bold white on red", "care": "bold yellow", "note": "bold"}


def heading(title: str, right: str = "") -> RenderableType:
    """Return the line at the top of a screen: what it is about, and what it costs."""
    text = Text(title, style="bold")
    if right:
        text.append(f"   {right}", style="dim")
    return Group(Rule(style="dim"), text)


def indented(text: str, by: int = 3, style: str = "") -> RenderableType:
    """Return text that keeps its indent when it wraps."""
    return Padding(Text(text, style=style), (0, 0, 0, by))


def bar(share: float) -> str:
    """Return a bar of ten cells for a probability."""
    filled = round(share * BAR_CELLS)
    return "■" * filled + "·" * (BAR_CELLS - filled)


def minutes_text(wording: Wording, minutes: float) -> str:
    """Return a time in words."""
    if minutes < 1.5:
        return wording.say("minute")
    return wording.say("minutes", minutes=f"{minutes:.0f}")


def viewpoint(wording: Wording, viewed_from: str | None) -> list[RenderableType]:
    """Return the line that says whose left and right is meant."""
    if viewed_from is None:
        return []
    key = "facing-dial" if viewed_from == "dial" else f"viewed-{viewed_from}"
    return [indented(wording.say(key), style="italic")]


def caution_lines(consultation: Consultation, wording: Wording, ids: Iterable[str]) -> list[RenderableType]:
    """Return the cautions that concern this clock and this person, dangers first."""
    case = consultation.case
    return cautions_of(
        consultation.knowledge, wording, fitting_cautions(ids, consultation.knowledge, case.clock, case.person)
    )


def cautions_of(knowledge: Knowledge, wording: Wording, ids: Iterable[str]) -> list[RenderableType]:
    """Return cautions, dangers first."""
    entries = [knowledge.cautions[name] for name in dict.fromkeys(ids)]
    order = list(_LEVEL_STYLES)
    lines: list[RenderableType] = []
    for entry in sorted(entries, key=lambda item: order.index(item.level)):
        text = Text(f" {wording.say(f'level-{entry.level}')} ", style=_LEVEL_STYLES[entry.level])
        text.append(f" {wording.text(entry.text)}", style="")
        lines.append(Padding(text, (0, 0, 0, 1)))
    return lines


def cause_lines(consultation: Consultation, wording: Wording, most: int = SHOWN_CAUSES) -> list[RenderableType]:
    """Return the likely causes, each with bar, number and word."""
    ranking = consultation.assessment.ranking
    rows = [(item.probability, cause_title(item.cause, wording)) for item in ranking.causes[:most]]
    rows.append((ranking.none_of_these, wording.say("not-on-list")))
    if ranking.nothing_wrong > ranking.none_of_these:
        rows.append((ranking.nothing_wrong, wording.say("nothing-wrong")))
    lines: list[RenderableType] = [Text(wording.say("likely-causes"), style="bold")]
    for probability, title in sorted(rows, key=lambda row: -row[0]):
        text = Text(f"{bar(probability)} ", style="cyan")
        text.append(f"{wording.in_ten(probability):<14} ", style="")
        text.append(title)
        lines.append(Padding(text, (0, 0, 0, 3)))
    return lines


def screen(consultation: Consultation, wording: Wording, moment: moments.Moment) -> RenderableType:
    """Return what stands before the person now."""
    from diagnose.terminal import contact_screens

    makers = {
        moments.AlarmMoment: _alarm,
        moments.PickAlarmMoment: _pick_alarm,
        moments.ScopeMoment: _scope,
        moments.FactsMoment: _facts,
        moments.ComplaintMoment: _complaint,
        moments.ConfirmMoment: _confirm,
        moments.FitMoment: _fit,
        moments.LookMoment: _look,
        moments.AdviceMoment: _advice,
        moments.StepMoment: _step,
        moments.ProofMoment: _proof,
        moments.CuredMoment: _cured,
        moments.WaitMoment: contact_screens.wait,
        moments.AwayMoment: contact_screens.away,
        moments.HomeworkMoment: contact_screens.homework,
        moments.ToldMoment: contact_screens.told,
        moments.SameClockMoment: contact_screens.same_clock,
        moments.ReferMoment: _refer,
        moments.EnoughMoment: _enough,
        moments.ClosedMoment: _closed,
    }
    return Group(*makers[type(moment)](consultation, wording, moment))  # type: ignore[operator]


def _alarm(consultation: Consultation, wording: Wording, moment: moments.AlarmMoment) -> list[RenderableType]:
    entry = consultation.knowledge.alarms[moment.alarm]
    return [
        Text(f" {wording.say('stop')} ", style="bold white on red"),
        Text(wording.text(entry.title), style="bold"),
        indented(wording.text(entry.say)),
        *cautions_of(consultation.knowledge, wording, entry.cautions),
        Text(alarm_then(entry.then, consultation.contact.where, wording), style="bold"),
        Text(wording.say("alarm-cleared-hint"), style="dim"),
    ]


def numbered(items: Iterable[str]) -> list[RenderableType]:
    """Return lines with their numbers from 1."""
    return [indented(f"{number}  {item}") for number, item in enumerate(items, 1)]


def _pick_alarm(consultation: Consultation, wording: Wording, moment: moments.PickAlarmMoment) -> list[RenderableType]:
    titles = (wording.text(consultation.knowledge.alarms[name].title) for name in moment.alarms)
    return [heading(wording.say("alarm-which")), *numbered(titles), Text(wording.say("alarm-none"), style="dim")]


def _scope(consultation: Consultation, wording: Wording, moment: moments.ScopeMoment) -> list[RenderableType]:
    return [heading(wording.say("out-of-scope")), indented(moment.reason)]


def _facts(consultation: Consultation, wording: Wording, moment: moments.FactsMoment) -> list[RenderableType]:
    lines: list[RenderableType] = [heading(wording.say(f"facts-{moment.about}"))]
    for letter, field in zip(LETTERS, moment.fields, strict=False):
        lines.append(indented(f"{letter}  {wording.say(f'fact-{field}')}", by=1))
        titles = (title for _, title in fact_options(consultation, wording, field))
        lines.append(choices(titles, by=5, style=""))
    return [*lines, Text(wording.say("facts-hint"), style="dim")]


def fact_options(consultation: Consultation, wording: Wording, field: str) -> list[tuple[str, str]]:
    """Return the values a fact can have, with their titles; "unknown" comes last."""
    clocks = [
        (name, wording.text(entry.title))
        for name, entry in consultation.knowledge.clocks.items()
        if entry.kind == field
    ]
    if field == SOUNDS:
        options = [(word, wording.say(f"sounds-{word}")) for word in fact_values(consultation.knowledge, field)]
    else:
        options = clocks or [(word, wording.say(f"answer-{word}")) for word in ("yes", "no")]
    return [*options, ("unknown", wording.say("not-known"))]


def _complaint(consultation: Consultation, wording: Wording, moment: moments.ComplaintMoment) -> list[RenderableType]:
    door = consultation.knowledge.doors[consultation.case.door]
    return [
        heading(wording.text(door.title)),
        indented(wording.text(door.opening)),
        Text(wording.say("complaint-hint"), style="dim"),
    ]


def _confirm(consultation: Consultation, wording: Wording, moment: moments.ConfirmMoment) -> list[RenderableType]:
    lines: list[RenderableType] = [heading(wording.say("confirm-title"))]
    for letter, item in zip(LETTERS, moment.suggestions, strict=False):
        value = offered_value(item, wording)
        lines.append(indented(f"{letter}  {wording.question(item.finding)}", by=1))
        lines.append(indented(wording.say("confirm-line", words=item.words, value=value), by=5))
    return [*lines, Text(wording.say("confirm-hint"), style="dim")]


def _fit(consultation: Consultation, wording: Wording, moment: moments.FitMoment) -> list[RenderableType]:
    return [heading(wording.say("fit-title")), indented(wording.say("fit-hint"))]


def _look(consultation: Consultation, wording: Wording, moment: moments.LookMoment) -> list[RenderableType]:
    knowledge = consultation.knowledge
    door = knowledge.doors[consultation.case.door]
    place = knowledge.places[moment.place]
    minutes = sum(knowledge.findings[name].minutes for name in moment.findings)
    title = wording.text(door.opening if moment.first else place.title)
    lines = [heading(title, minutes_text(wording, minutes))]
    if not moment.first:
        lines.append(indented(wording.text(place.how), by=1, style="italic"))
    cautions = [name for finding in moment.findings for name in knowledge.findings[finding].cautions]
    lines.extend(caution_lines(consultation, wording, cautions))
    views = {knowledge.findings[name].viewed_from for name in moment.findings} - {None}
    # One viewpoint for the whole screen is said once; two are said beside each question.
    common = views.pop() if len(views) == 1 else None
    lines.extend(viewpoint(wording, common))
    for letter, finding in zip(LETTERS, moment.findings, strict=False):
        lines.extend(question(consultation, wording, letter, finding, common))
    lines.extend(_whys(wording, moment))
    lines.append(Text(wording.say("look-hint"), style="dim"))
    return [*lines, *_standing(consultation, wording, moment)]


def _whys(wording: Wording, moment: moments.LookMoment) -> list[RenderableType]:
    """Return what the questions are good for, each sentence once with the letters that share it."""
    shared: dict[str, list[str]] = {}
    for letter, why in zip(LETTERS, moment.why, strict=False):
        shared.setdefault(wording.text(why), []).append(letter)
    several = len(moment.findings) > 1
    lines: list[RenderableType] = []
    for text, letters in shared.items():
        title = wording.say("why-asked")
        label = f"{title} {', '.join(letters)}" if several and len(shared) > 1 else title
        if text:
            lines.append(indented(f"{label}: {text}", by=1, style="dim"))
    return lines


def question(
    consultation: Consultation, wording: Wording, letter: str, finding: str, said_already: str | None = None
) -> list[RenderableType]:
    """Return one finding to be answered: question, what to say, viewpoint unless it was said already, and values."""
    entry = consultation.knowledge.findings[finding]
    lines = [indented(f"{letter}  {wording.question(finding)}", by=1, style="bold")]
    on_the_phone = consultation.contact.where == "call" and wording.reader == "staff"
    if on_the_phone and entry.question.customer and not entry.told:
        lines.append(indented(f"{wording.say('say-to-customer')}: {entry.question.customer}", by=4))
    if entry.viewed_from != said_already:
        lines.extend(viewpoint(wording, entry.viewed_from))
    lines.append(choices((wording.value(finding, value) for value in entry.values), by=4))
    return lines


def _standing(consultation: Consultation, wording: Wording, moment: moments.LookMoment) -> list[RenderableType]:
    """Return the likely causes below a look, once anything has been answered."""
    if not consultation.assessment.findings or wording.reader == "customer":
        return []
    lines = cause_lines(consultation, wording, 3)
    if moment.plan is not None and moment.plan.enough:
        lines.append(Text(wording.say("enough-known-line", chance=wording.in_ten(moment.plan.stays)), style="green"))
    return lines


def remedy_heading(wording: Wording, entry: RemedyEntry) -> list[RenderableType]:
    """Return title, who may do it, how far open and how long."""
    facts = "; ".join(
        (
            f"{wording.say('who-may')}: {wording.say(f'who-{entry.who}')}",
            f"{wording.say('has-to-be-open')}: {wording.say(f'opened-{entry.opened}')}",
            minutes_text(wording, entry.minutes),
        )
    )
    return [Text(wording.text(entry.title), style="bold green"), indented(facts, by=1)]


def _advice(consultation: Consultation, wording: Wording, moment: moments.AdviceMoment) -> list[RenderableType]:
    entry = consultation.knowledge.remedies[moment.remedy]
    cautions = caution_lines(consultation, wording, entry.cautions)
    return [
        heading(wording.say("what-to-do")),
        *cause_lines(consultation, wording, 3),
        *remedy_heading(wording, entry),
        *(indented(line, by=1) for line in advice_part_lines(consultation, wording, moment.remedy)),
        *cautions,
        Text(wording.say("advice-hint"), style="dim"),
    ]


def step_lines(wording: Wording, entry: RemedyEntry, number: int) -> list[RenderableType]:
    """Return one step of a remedy: do, hold, right when, stop if, ways on."""
    step = entry.steps[number]
    title = wording.say("step-of", number=number + 1, count=len(entry.steps), title=wording.text(entry.title))
    lines = [heading(title), indented(wording.text(step.do), by=1, style="bold")]
    lines.extend(viewpoint(wording, step.viewed_from))
    lines.extend(_labeled(wording, "other-hand", step.hold))
    lines.extend(_labeled(wording, "right-when", step.right_when.text))
    if step.cannot_be_undone:
        lines.append(indented(wording.say("cannot-be-undone"), style="bold yellow"))
    if step.stop_if is not None:
        text = Text(f" {wording.say('stop-if')} ", style="bold white on red")
        text.append(f" {wording.text(step.stop_if.text)}")
        lines.append(Padding(text, (0, 0, 0, 1)))
    for way, not_so in enumerate(step.not_so, 1):
        lines.append(indented(wording.say("not-so-line", number=way, text=wording.text(not_so.text)), by=3))
    return lines


def _labeled(wording: Wording, key: str, words: Words | None) -> list[RenderableType]:
    return [indented(f"{wording.say(key)}: {wording.text(words)}")] if words is not None else []


def _step(consultation: Consultation, wording: Wording, moment: moments.StepMoment) -> list[RenderableType]:
    entry = consultation.knowledge.remedies[moment.remedy]
    step = entry.steps[moment.step]
    lines: list[RenderableType] = []
    walk = consultation.walk
    if moment.step == 0 and not (walk is not None and walk.warned):
        lines.extend(caution_lines(consultation, wording, entry.cautions))
    else:
        lines.extend(caution_lines(consultation, wording, step_cautions(entry, step, consultation.knowledge)))
    if not may_show(entry, step, wording):
        return [*lines, indented(wording.say("leave-to-us"))]
    lines.extend(step_lines(wording, entry, moment.step))
    lines.extend(_said_to_customer(consultation, wording, moment))
    return [*lines, Text(wording.say("step-hint"), style="dim")]


def _said_to_customer(consultation: Consultation, wording: Wording, moment: moments.StepMoment) -> list[RenderableType]:
    """Return what to say for a step on the phone, where the owner may do it."""
    entry = consultation.knowledge.remedies[moment.remedy]
    step = entry.steps[moment.step]
    on_the_phone = consultation.contact.where == "call" and wording.reader == "staff"
    if not on_the_phone or not may_show(entry, step, Wording(consultation.knowledge, "customer")):
        return []
    return [indented(f"{wording.say('say-to-customer')}: {step.do.customer}", by=2, style="italic")]


def _proof(consultation: Consultation, wording: Wording, moment: moments.ProofMoment) -> list[RenderableType]:
    lines = [heading(wording.say("proves"))]
    for letter, finding in zip(LETTERS, moment.findings, strict=False):
        lines.extend(question(consultation, wording, letter, finding))
    lines.append(Text(wording.say("look-hint"), style="dim"))
    if consultation.contact.where == "call" and wording.reader == "staff":
        lines.append(Text(wording.say("proof-until"), style="dim"))
    return lines


def _cured(consultation: Consultation, wording: Wording, moment: moments.CuredMoment) -> list[RenderableType]:
    title = wording.text(consultation.knowledge.remedies[moment.remedy].title)
    known = [indented(f"{name}: {value}", by=5) for name, value in handed_rows(consultation.handover_defaults, wording)]
    lines = [heading(wording.say("cured-title")), indented(wording.say("cured-line", remedy=title))]
    if wording.reader == "customer":
        return lines
    return [*lines, *known, Text(wording.say("cured-more"), style="dim")]


def wait_text(wording: Wording, hours: float) -> str:
    """Return how long to wait."""
    hours_a_day = 24
    if hours < 2 * hours_a_day:
        return wording.say("hours-wait", hours=f"{hours:.0f}")
    return wording.say("days-wait", days=f"{hours / hours_a_day:.0f}")


def _refer(consultation: Consultation, wording: Wording, moment: moments.ReferMoment) -> list[RenderableType]:
    where = wording.say(f"where-{moment.to}")
    lines = [heading(wording.say("refer-title")), indented(wording.say("refer-line", where=where))]
    lines.extend(cause_lines(consultation, wording))
    best = consultation.assessment.ranking.causes[0].cause
    for name in consultation.knowledge.causes[best].remedies[:2]:
        lines.extend(remedy_heading(wording, consultation.knowledge.remedies[name]))
    return [*lines, Text(wording.say("refer-hint"), style="dim")]


def _enough(consultation: Consultation, wording: Wording, moment: moments.EnoughMoment) -> list[RenderableType]:
    chance = wording.in_ten(consultation.assessment.ranking.nothing_wrong)
    return [
        heading(wording.say("enough-known")),
        indented(wording.say("nothing-wrong-line", chance=chance)),
        Text(wording.say("refer-hint"), style="dim"),
    ]


def _closed(consultation: Consultation, wording: Wording, moment: moments.ClosedMoment) -> list[RenderableType]:
    return [heading(wording.say("closed-title")), indented(moment.outcome)]
