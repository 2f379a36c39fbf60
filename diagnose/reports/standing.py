"""Where a case stands, in the words of a reader: causes and why, doubts, next step, where to do it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from diagnose import moments
from diagnose.consultation import Consultation
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reports import showing
from diagnose.reports.contract import describe_step, stability_values

BAR_CELLS = 10
# Causes whose answers stand open on the page; further ones are opened by a click, and on paper.
SHOWN_OPEN = 3
LEAST_SAID, FEW_OTHERS = 0.01, 3
# Answers that weigh less stand together in one row, so that the sum still comes out. [dB]
LEAST_WEIGHT = 0.5
HOURS_A_DAY = 24


@dataclass(frozen=True, slots=True)
class ReasonOnPaper:
    """One answer with what it weighs for or against a cause (decibans with their sign)."""

    speaks_for: bool
    answer: str
    why: str
    source: str
    weight: str


@dataclass(frozen=True, slots=True)
class CauseOnPaper:
    """One cause: its chance in words, as cells of a bar, and what speaks for and against it."""

    title: str
    part: str
    chance: str
    cells: int
    prior: str
    shown: str
    reasons: tuple[ReasonOnPaper, ...]
    open: bool


def causes_on_paper(result: dict[str, Any], wording: Wording) -> tuple[CauseOnPaper, ...]:
    """Return the causes, each with the answers for and against it and what they weigh: for staff."""
    return tuple(_cause(cause, place, wording) for place, cause in enumerate(showing.causes_for(result, wording)))


def _cause(cause: dict[str, Any], place: int, wording: Wording) -> CauseOnPaper:
    return CauseOnPaper(
        title=showing.cause_title(cause["id"], wording),
        part=showing.part_title(wording.knowledge, cause["subsystem"], wording),
        chance=showing.chance_text(cause["probability"], wording),
        cells=round(cause["probability"] * BAR_CELLS),
        prior=_decibans(cause["decibans"]["prior"]),
        shown=_decibans(cause["decibans"]["shown"]),
        reasons=_reasons(cause["because"], wording),
        open=place < SHOWN_OPEN,
    )


def _decibans(weight: float) -> str:
    """Return a weight with its sign; a true minus, so that it does not hang at the end of a line."""
    return f"{weight:+.1f}".replace("-", "−")


def _reasons(because: list[dict[str, Any]], wording: Wording) -> tuple[ReasonOnPaper, ...]:
    """Return the reasons, the light ones together in one row; their weights add up to what is shown."""
    weighty = [reason for reason in because if abs(reason["decibans"]) >= LEAST_WEIGHT]
    rows = [_reason(reason, wording) for reason in weighty]
    light = [reason["decibans"] for reason in because if abs(reason["decibans"]) < LEAST_WEIGHT]
    if light:
        title = wording.say("report-light", count=len(light))
        rows.append(ReasonOnPaper(sum(light) >= 0, title, "", "", _decibans(sum(light))))
    return tuple(rows)


def _reason(reason: dict[str, Any], wording: Wording) -> ReasonOnPaper:
    rules = reason["finding"] is None
    title = wording.say("report-rules") if rules else showing.reason_text(reason, wording) or ""
    source = _source(reason["source"], wording)
    return ReasonOnPaper(reason["decibans"] >= 0, title, reason["text"], source, _decibans(reason["decibans"]))


def _source(key: str, wording: Wording) -> str:
    entry = wording.knowledge.sources.get(key)
    if entry is None:
        return key
    return " ".join(str(piece) for piece in (entry.author, entry.year) if piece) or entry.title


def in_short(consultation: Consultation, result: dict[str, Any], wording: Wording) -> tuple[str, ...]:
    """Return where the case stands in a few sentences; "most likely", never "is"."""
    causes = showing.causes_for(result, wording)
    best = causes[0]["probability"] if causes else 0.0
    if result["nothing_wrong"] > max(best, result["none_of_these"]):
        chance = wording.in_ten(result["nothing_wrong"])
        return (wording.say("nothing-wrong-line", chance=chance),)
    if not causes or result["none_of_these"] > best:
        return (wording.say("nothing-fits"),)
    entry = wording.knowledge.causes[causes[0]["id"]]
    if entry.no_fault:
        first = f"{wording.say('no-fault')}: {wording.text(entry.title)}."
    else:
        first = wording.say("most-likely-cause", cause=wording.text(entry.title))
    chance = showing.chance_text(best, wording)
    lines = [wording.say("report-first-line", sentence=first, chance=chance)]
    if wording.reader == "staff":
        lines.append(wording.say("report-stays", chance=wording.in_ten(consultation.plan.stays)))
    return tuple(lines)


def shares_on_paper(result: dict[str, Any], wording: Wording) -> tuple[str, ...]:
    """Return what stands beside the causes: together, not on the list, nothing wrong, left out."""
    least = LEAST_SAID if wording.reader == "staff" else showing.CUSTOMER_LEAST
    lines = []
    for name, title in (("none_of_these", "not-on-list"), ("nothing_wrong", "nothing-wrong")):
        if wording.reader == "staff" or result[name] >= least:
            chance = showing.chance_text(result[name], wording)
            lines.append(wording.say("report-none-share", title=wording.say(title), chance=chance))
    shown = {cause["id"] for cause in showing.causes_for(result, wording)}
    for item in result["together"]:
        if item["probability"] >= least and set(item["causes"]) <= shown:
            titles = "; ".join(wording.cause(name) for name in item["causes"])
            chance = showing.chance_text(item["probability"], wording)
            both = wording.say("report-together", causes=titles, chance=chance)
            lines.append(wording.say("report-name-value", name=wording.say("together"), value=both))
    if wording.reader == "staff":
        if len(shown) > 1:
            lines.append(wording.say("need-not-add-up"))
        if result["left_out"] >= LEAST_SAID:
            lines.append(wording.say("left-out", chance=wording.in_ten(result["left_out"])))
    return tuple(lines)


def doubts_on_paper(result: dict[str, Any], wording: Wording) -> tuple[str, ...]:
    """Return the answers that are perhaps wrong, and those that do not go together."""
    lines = []
    for item in result["contradictions"]:
        value = item["value"]
        answer = showing.answer_text(item["finding"], value, wording) if value else None
        answer = answer or wording.short(item["finding"])
        chance = wording.in_ten(item["probability_wrong"])
        if item["ask_again"]:
            lines.append(wording.say("report-doubt", answer=answer, chance=chance))
        elif wording.reader == "staff":
            lines.append(wording.say("report-doubt-idle", answer=answer, chance=chance))
    for item in result["conflicts"]:
        grounds = "; ".join(showing.answer_text(name, value, wording) for name, value in item["grounds"])
        lines.append(wording.say("report-conflict", grounds=grounds, because=item["because"]))
    return tuple(lines)


def next_on_paper(consultation: Consultation, wording: Wording) -> tuple[str, ...]:
    """Return the next step and, for staff, what else could be done; nothing once the case is closed."""
    moment = consultation.moment
    if isinstance(moment, moments.ClosedMoment | moments.AlarmMoment | moments.ScopeMoment):
        return ()
    if isinstance(moment, moments.CuredMoment):
        title = wording.text(consultation.knowledge.remedies[moment.remedy].title)
        return (wording.say("cured-title"), wording.say("report-cured", remedy=title))
    plan = consultation.plan
    lines = [_step(plan.step, wording)]
    if wording.reader == "staff":
        lines.extend(wording.say("report-or", text=_step(step, wording)) for step in plan.others[:FEW_OTHERS])
    return tuple(lines)


def _step(step: steps.Step, wording: Wording) -> str:
    text = describe_step(step, wording)[2]
    if isinstance(step, steps.Wait):
        return wording.say("report-wait", text=text, wait=wait_text(step.hours, wording))
    minutes = getattr(step, "cost_minutes", 0.0)
    if minutes <= 0:
        return text
    return wording.say("report-next-cost", text=text, minutes=showing.minutes_text(minutes, wording))


def wait_text(hours: float, wording: Wording) -> str:
    """Return how long to wait."""
    if hours < 2 * HOURS_A_DAY:
        return wording.say("hours-wait", hours=f"{hours:.0f}")
    return wording.say("days-wait", days=f"{hours / HOURS_A_DAY:.0f}")


def route_on_paper(result: dict[str, Any], wording: Wording) -> tuple[str, ...]:
    """Return where the work is best done, with the chances and what to bring for staff."""
    route = result["route"]
    lines = [wording.say("report-best-done", where=wording.say(f"where-{route['best']}"))]
    if wording.reader == "customer":
        return tuple(lines)
    for option in route["options"]:
        chance = wording.say("report-route-cures", chance=wording.in_ten(option["cures"]))
        hands = showing.minutes_text(option["hands_minutes"], wording)
        cost = wording.say("report-route-cost", money=f"{option['money']:.0f}", currency=route["currency"])
        days = wording.say("report-route-days", days=f"{option['days']:.0f}")
        time = wording.say("report-list", one=hands, two=cost)
        value = wording.say("report-list", one=chance, two=wording.say("report-list", one=time, two=days))
        lines.append(wording.say("report-name-value", name=wording.say(f"where-{option['where']}"), value=value))
    parts = [
        wording.say(
            "report-bring-part",
            part=wording.text(wording.knowledge.parts[item["part"]].title),
            chance=wording.in_ten(item["chance"]),
        )
        for item in route["bring"]
        if item["part"] in wording.knowledge.parts
    ]
    return (*lines, wording.say("report-bring", list="; ".join(parts))) if parts else tuple(lines)


def stability_lines(found: dict[str, Any] | None, wording: Wording) -> tuple[str, ...]:
    """Return whether the first place holds where every link is a word more or less sure; for staff only.

    Parameters
    ----------
    found : dict or None
        What `stability_values` gives.
    wording : Wording
        A customer reads nothing of it.
    """
    if wording.reader == "customer" or found is None:
        return ()
    held = {"held": round(found["share"] * found["draws"]), "draws": found["draws"]}
    key = "first-place-stable" if found["stable"] else "first-place-not-stable"
    lines = [wording.say(key, **held)]
    if found["others"]:
        others = "; ".join(wording.cause(cause) for cause in list(found["others"])[:FEW_OTHERS])
        lines.append(wording.say("first-place-others", others=others))
    return tuple(lines)


def stability_on_paper(consultation: Consultation, result: dict[str, Any], wording: Wording) -> tuple[str, ...]:
    """Return what a report says of the first place, or that nothing is answered yet; for staff only."""
    if wording.reader == "customer":
        return ()
    if not any(piece.findings for piece in consultation.assessment.pieces):
        return (wording.say("report-nothing-answered"),)
    found = result["stability"] if "stability" in result else stability_values(consultation)
    return stability_lines(found, wording)
