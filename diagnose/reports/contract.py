"""The result of a consultation as plain values: the form that `diagnose rank --json` promises."""

from __future__ import annotations

from typing import Any

from diagnose.consultation import Consultation
from diagnose.model.entries import RemedyEntry
from diagnose.model.reading import Knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.asking_again import worth_asking_again
from diagnose.reasoning.assessment import said_values
from diagnose.reasoning.explanation import Explanation, doubtful_answers, explain
from diagnose.reasoning.gates import fitting_cautions
from diagnose.reasoning.stability import stability
from diagnose.reports.showing import out_of_scope
from diagnose.reports.way import route_values

# Causes below this probability are left out of the list; the first three always stand in it.
LEAST_SHOWN = 0.01
ALWAYS_SHOWN = 3
MOST_SHOWN = 8


def ranked(consultation: Consultation) -> dict[str, Any]:
    """Return the ranked causes, why, what to do, the next step, the route and what does not fit.

    Parameters
    ----------
    consultation : Consultation
        The case at work.

    Returns
    -------
    dict
        JSON values only; probabilities from 0 to 1, weights of evidence in decibans, times in minutes.
    """
    assessment, knowledge = consultation.assessment, consultation.knowledge
    ranking = assessment.ranking
    shown = [item.cause for item in ranking.causes if item.probability >= LEAST_SHOWN][:MOST_SHOWN]
    for item in ranking.causes[:ALWAYS_SHOWN]:
        if item.cause not in shown:
            shown.append(item.cause)
    explained = explain(
        shown, assessment.base, assessment.pieces, ranking, knowledge, assessment.conclusions, consultation.parameters
    )
    conclusions = assessment.conclusions
    said = said_values(assessment.findings)
    worth = worth_asking_again(assessment.base, assessment.pieces, ranking, consultation.parameters)
    return {
        "case": consultation.case.id,
        "edition": consultation.case.edition,
        "causes": [_cause(item, knowledge) for item in explained],
        "none_of_these": ranking.none_of_these,
        "nothing_wrong": ranking.nothing_wrong,
        "left_out": ranking.left_out,
        "together": [{"causes": list(item.causes), "probability": item.probability} for item in ranking.together],
        "next": _next(consultation),
        "route": route_values(consultation),
        "cautions": cautions_shown(consultation),
        "contradictions": [
            {
                "finding": item.finding,
                "value": said.get(item.finding),
                "probability_wrong": item.wrong,
                "ask_again": item in worth,
            }
            for item in doubtful_answers(ranking, consultation.parameters)
        ],
        "conflicts": [
            {"because": item.because, "grounds": [list(ground) for ground in item.grounds]}
            for item in conclusions.contradictions
        ],
        "alarms": list(consultation.alarms),
        "out_of_scope": out_of_scope(consultation, Wording(knowledge)),
    }


def stability_values(consultation: Consultation) -> dict[str, Any] | None:
    """Return whether the first place holds where every link is a word more or less sure.

    Takes some tenths of a second, and so stands with a result and on demand, not on every screen.

    Parameters
    ----------
    consultation : Consultation
        The case at work.

    Returns
    -------
    dict or None
        `share` of the draws in which the first place stayed first and their number (`draws`), whether that is
        `stable`, and the share of every other cause that came first (`others`, most often first). None where
        nothing is answered yet, or where no cause is the likeliest: most likely nothing is wrong, or the fault
        is not on the list.
    """
    assessment = consultation.assessment
    ranking = assessment.ranking
    best = ranking.causes[0].probability if ranking.causes else 0.0
    answered = any(
        finding.finding in assessment.base.tables for piece in assessment.pieces for finding in piece.findings
    )
    if not answered or best < max(ranking.nothing_wrong, ranking.none_of_these):
        return None
    found = stability(assessment.base, assessment.pieces, consultation.knowledge, consultation.parameters)
    return {"share": found.share, "stable": found.stable, "others": dict(found.others), "draws": found.draws}


def _cause(item: Explanation, knowledge: Knowledge) -> dict[str, Any]:
    entry = knowledge.causes[item.cause]
    return {
        "id": item.cause,
        "title": entry.title.staff,
        "subsystem": entry.subsystem,
        "no_fault": entry.no_fault,
        "probability": item.probability,
        "decibans": {"prior": item.prior, "shown": item.shown},
        "because": [
            {
                "finding": reason.finding,
                "value": reason.value,
                "decibans": reason.decibans,
                "text": reason.text,
                "source": reason.source,
                "known": reason.known,
                "probability_wrong": reason.wrong,
            }
            for reason in item.reasons
        ],
        "remedies": [_remedy(name, knowledge.remedies[name]) for name in entry.remedies],
    }


def _remedy(name: str, entry: RemedyEntry) -> dict[str, Any]:
    return {
        "id": name,
        "title": entry.title.staff,
        "steps": [step.do.staff for step in entry.steps],
        "who": entry.who,
        "opened": entry.opened,
        "minutes": entry.minutes,
        "cautions": list(entry.cautions),
    }


def _next(consultation: Consultation) -> dict[str, Any]:
    wording = Wording(consultation.knowledge)
    if consultation.alarms:
        alarm = consultation.alarms[0]
        text = consultation.knowledge.alarms[alarm].say.staff
        return {"kind": "danger", "id": alarm, "text": text, "cost_minutes": 0.0, "saves_minutes": 0.0}
    step = consultation.plan.step
    kind, name, text = describe_step(step, wording)
    cost, saves = getattr(step, "cost_minutes", 0.0), getattr(step, "saves_minutes", 0.0)
    return {"kind": kind, "id": name, "text": text, "cost_minutes": cost, "saves_minutes": saves}


def describe_step(step: steps.Step, wording: Wording) -> tuple[str, str, str]:
    """Return kind, id and sentence of a step."""
    match step:
        case steps.Ask():
            return "ask", step.finding, wording.question(step.finding)
        case steps.Do():
            return "do", step.remedy, wording.text(wording.knowledge.remedies[step.remedy].title)
        case steps.Wait():
            return "wait", " ".join(step.findings), "; ".join(wording.question(name) for name in step.findings)
        case steps.Refer():
            return "refer", step.to, wording.say("refer-line", where=wording.say(f"where-{step.to}"))
        case steps.Enough():
            chance = wording.in_ten(step.nothing_wrong)
            return "enough", "nothing-wrong", wording.say("nothing-wrong-line", chance=chance)
        case steps.Danger():
            return "danger", step.alarm, wording.text(wording.knowledge.alarms[step.alarm].say)


def cautions_shown(consultation: Consultation) -> list[str]:
    """Return the cautions that stand with a result, dangers first: of the alarms, rules, next step and first place.

    While an alarm stands nothing else is done, and where most likely nothing is wrong the first place is none.
    """
    knowledge, assessment = consultation.knowledge, consultation.assessment
    names: list[str] = [name for alarm in consultation.alarms for name in knowledge.alarms[alarm].cautions]
    names.extend(assessment.conclusions.warnings)
    ranking = assessment.ranking
    if not consultation.alarms:
        if ranking.causes and ranking.causes[0].probability >= ranking.nothing_wrong:
            cause = knowledge.causes[ranking.causes[0].cause]
            names.extend(cause.cautions)
            names.extend(name for remedy in cause.remedies[:1] for name in knowledge.remedies[remedy].cautions)
        if isinstance(consultation.plan.step, steps.Do):
            names.extend(knowledge.remedies[consultation.plan.step.remedy].cautions)
    order = ("danger", "care", "note")
    case = consultation.case
    alarming = {name for alarm in consultation.alarms for name in knowledge.alarms[alarm].cautions}
    fitting = {*fitting_cautions(names, knowledge, case.clock, case.person), *alarming}
    return sorted(
        (name for name in dict.fromkeys(names) if name in fitting),
        key=lambda name: order.index(knowledge.cautions[name].level),
    )
