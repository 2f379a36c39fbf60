"""Where the work is done, what to bring and whether to send a part: the sentences that all screens share."""

from __future__ import annotations

import dataclasses
from typing import Any

from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.near_names import near, nearest_name
from diagnose.model.wording import Wording
from diagnose.reasoning.bringing import VanList
from diagnose.reasoning.part_needed import PartNeeded
from diagnose.reasoning.routing import Route
from diagnose.reports import showing

HUNDRED = 100
LEAST_NAMED = 0.005
# Above this a chance is told as a bound, since nothing is certain.
MOST_NAMED = 0.995


def in_hundred(chance: float, wording: Wording) -> str:
    """Return a chance as so many in a hundred, never as none or all."""
    if chance < LEAST_NAMED:
        return wording.say("route-under-one")
    if chance > MOST_NAMED:
        return wording.say("route-over-99")
    return wording.say("route-in-hundred", count=max(1, min(HUNDRED - 1, round(HUNDRED * chance))))


def part_title(part: str, wording: Wording) -> str:
    """Return a part as it is named on screens, its first letter small as it stands in a sentence."""
    title = wording.text(wording.knowledge.parts[part].title)
    return title[:1].lower() + title[1:]


def part_called(typed: str, wording: Wording) -> str:
    """Return the id of a part from its id or from words near to its title.

    Raises
    ------
    UsageError
        If no part is called so, with the names that may be meant.
    """
    parts = wording.knowledge.parts
    if typed in parts:
        return typed
    found = nearest_name(typed, {name: f"{name} {entry.title.staff}" for name, entry in parts.items()})
    if found is None:
        do = f"Use one of {', '.join(sorted(parts))}"
        raise UsageError(f"unknown part '{typed}'{near(typed, parts)}", do=do)
    return found


def route_rows(route: Route, wording: Wording) -> list[dict[str, str]]:
    """Return each way with its chance, time, money and days, as they are shown."""
    return [
        {
            "where": wording.say(f"where-{option.where}"),
            "cures": in_hundred(option.cures, wording),
            "hands": showing.minutes_text(option.hands_minutes, wording) if option.hands_minutes > 0 else "",
            "money": f"{option.money:.0f}",
            "days": f"{option.days:.0f}",
            "best": "yes" if option is route.best else "",
        }
        for option in route.options
    ]


def route_lines(route: Route, wording: Wording) -> list[str]:
    """Return what is to be said beside the ways: the best, what a way loses without its parts, what is estimated."""
    lines = [wording.say("route-best", where=wording.say(f"where-{route.best.where}"))]
    for option in route.options:
        if option.where == "part":
            named = ", ".join(part_title(part, wording) for part in option.parts)
            lines.append(wording.say("route-sent", parts=named))
        elif option.cures_without is not None:
            chance = in_hundred(option.cures_without, wording)
            where = wording.say(f"where-{option.where}")
            lines.append(wording.say("route-cures-without", where=where[:1].upper() + where[1:], chance=chance))
    return [*lines, wording.say("route-estimates")]


def van_lines(van: VanList, wording: Wording) -> list[str]:
    """Return what to put in the van, what that leaves, and the look that would shorten it."""
    named = [
        wording.say("van-part", part=part_title(part, wording), chance=in_hundred(chance, wording))
        for part, chance in van.parts
    ]
    lines = [wording.say("van-parts", list=", ".join(named)) if named else wording.say("van-none")]
    lines.append(wording.say("van-covers", chance=in_hundred(van.covers, wording)))
    if not van.exact:
        lines.append(wording.say("van-not-exact"))
    if van.left:
        left = (f"{wording.cause(cause)} ({in_hundred(chance, wording)})" for cause, chance in van.left)
        lines.append(wording.say("van-left", list=", ".join(left)))
    elsewhere, unlisted = (in_hundred(chance, wording) for chance in (van.elsewhere, van.unlisted))
    lines.append(wording.say("van-elsewhere", chance=elsewhere, unlisted=unlisted))
    if van.tools:
        lines.append(wording.say("van-tools", list=", ".join(van.tools)))
    if van.look is not None:
        look, count = wording.question(van.look.finding), f"{van.look.after:.1f}"
        lines.append(wording.say("van-look", look=look, count=count, now=len(van.parts)))
    return lines


def part_line(found: PartNeeded, wording: Wording) -> str:
    """Return the one line that stands before a part is sent."""
    title = part_title(found.part, wording)
    chance = in_hundred(found.chance, wording)
    return wording.say(f"part-{found.verdict}", part=title[:1].upper() + title[1:], chance=chance)


def part_lines(found: PartNeeded, wording: Wording) -> list[str]:
    """Return all that is to be known before a part is sent."""
    lines = [part_line(found, wording)]
    if found.causes:
        causes = (f"{wording.cause(cause)} ({in_hundred(chance, wording)})" for cause, chance in found.causes)
        lines.append(wording.say("part-for", list=", ".join(causes)))
    else:
        lines.append(wording.say("part-for-nothing"))
    lines.append(wording.say("part-unlisted", chance=in_hundred(found.unlisted, wording)))
    who = wording.say(f"who-{found.who}")
    tools = ", ".join(found.tools)
    lines.append(wording.say("part-who", who=who, tools=tools) if tools else wording.say("part-who-no-tools", who=who))
    if not found.by_owner:
        lines.append(wording.say("part-not-by-owner"))
    currency = wording.knowledge.shop.money.currency
    lines.append(wording.say("part-price", price=f"{found.price:g}", currency=currency))
    return [*lines, _look_line(found, wording)]


def _look_line(found: PartNeeded, wording: Wording) -> str:
    look = found.look
    if look is None:
        return wording.say("part-no-look")
    return wording.say(
        "part-look",
        look=wording.question(look.finding),
        raised=wording.value(look.finding, look.raised_by),
        high=in_hundred(look.raised_to, wording),
        sunk=wording.value(look.finding, look.sunk_by),
        low=in_hundred(look.sunk_to, wording),
    )


def advice_part_lines(consultation: Consultation, wording: Wording, remedy: str) -> list[str]:
    """Return for staff, for each part a remedy takes, the line that stands before it is sent or brought."""
    if wording.reader == "customer":
        return []
    return [
        part_line(consultation.part_needed(part), wording) for part in consultation.knowledge.remedies[remedy].parts
    ]


def route_values(consultation: Consultation) -> dict[str, Any]:
    """Return the route as `diagnose rank --json` promises it: chances from 0 to 1, minutes, money, days."""
    route = consultation.route
    return {
        "best": route.best.where,
        "currency": consultation.knowledge.shop.money.currency,
        "options": [{**dataclasses.asdict(option), "parts": list(option.parts)} for option in route.options],
        "bring": [{"part": name, "chance": chance} for name, chance in route.parts],
        "van": _van_values(consultation.van) if route.van is not None else None,
        "parts": [part_values(consultation.part_needed(name)) for name, _ in route.parts[:1]],
    }


def _van_values(van: VanList) -> dict[str, Any]:
    return {
        "parts": [{"part": name, "chance": chance} for name, chance in van.parts],
        "covers": van.covers,
        "exact": van.exact,
        "left": [{"cause": name, "chance": chance} for name, chance in van.left],
        "elsewhere": van.elsewhere,
        "none_of_these": van.unlisted,
        "tools": list(van.tools),
        "look": dataclasses.asdict(van.look) if van.look is not None else None,
    }


def part_values(found: PartNeeded) -> dict[str, Any]:
    """Return what is known of a part before it is sent, as JSON values."""
    return {
        "part": found.part,
        "chance": found.chance,
        "verdict": found.verdict,
        "none_of_these": found.unlisted,
        "causes": [{"cause": name, "chance": chance} for name, chance in found.causes],
        "remedy": found.remedy,
        "who": found.who,
        "by_owner": found.by_owner,
        "tools": list(found.tools),
        "price": found.price,
        "look": dataclasses.asdict(found.look) if found.look is not None else None,
    }
