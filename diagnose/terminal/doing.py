"""What each command does: reads its input, calls the project, prints the result."""

from __future__ import annotations

import dataclasses
import json
import sys
from pathlib import Path

from rich.console import Console

from diagnose import moments
from diagnose.cases.case import read_case
from diagnose.cases.case_text import case_to_yaml
from diagnose.cases.events import Contact
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.near_names import near
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.readiness import make_ready
from diagnose.reasoning.alarms import find_alarms
from diagnose.reports.contact_words import state_text
from diagnose.terminal import telling, ways

DONE, NO = 0, 1
# So many words at the choice of the door are no slip of the finger: they are what somebody has to tell.
# Where words come before a door is chosen.
FIRST_DOOR = "stops"
FEWEST_WORDS = 2


def console() -> Console:
    """Return the console for results; plain text where it is no terminal."""
    return Console(width=None if sys.stdout.isatty() else telling.PLAIN_WIDTH, soft_wrap=False)


def _wording(knowledge: Knowledge, customer: bool) -> Wording:
    return Wording(knowledge, "customer" if customer else "staff")


def _replayed(case: Path, knowledge: Knowledge) -> Consultation:
    return Consultation.replay(read_case(case, knowledge), knowledge)


def ask(
    door: str | None,
    where: str | None,
    clock_id: str,
    staff: str,
    resume: str | None,
    customer: bool,
    said: str = "",
) -> None:
    """Play a consultation in this terminal; a kept one whose contact was closed goes on in a new contact."""
    from diagnose.terminal.talk import Talk

    knowledge = read_knowledge()
    if sys.stdin.isatty():
        make_ready(knowledge)
    wording = _wording(knowledge, customer)
    screen = console()
    store = Store()

    def read(prompt: str) -> str | None:
        try:
            return screen.input(prompt, markup=False)
        except EOFError:
            return None

    screen.print(wording.say("welcome"), highlight=False)
    if resume:
        consultation = Consultation.resume(knowledge, store, resume)
        count = len(consultation.case.events)
        screen.print(wording.say("resumed", name=resume, count=count), highlight=False)
        _next_contact(consultation, where, staff)
    else:
        if door or said:
            chosen: str | None = door or FIRST_DOOR
        else:
            chosen, said = _choose_door(knowledge, wording, screen, read)
        if chosen is None:
            return
        contact = Contact("c1", where or "call", telling.now(), staff)  # type: ignore[arg-type]
        consultation = Consultation.begin(knowledge, chosen, contact, clock_id, store)
        screen.print(wording.say("kept-as", name=consultation.kept_as), style="dim", highlight=False)
    talk = Talk(consultation, wording, screen, read)
    if said:
        talk.take_words(said)
    talk.run()


def _next_contact(consultation: Consultation, where: str | None, staff: str) -> None:
    """Open the next contact of a kept case where the last one was closed, or where somebody works elsewhere now."""
    here = consultation.contact
    if isinstance(consultation.moment, moments.ClosedMoment):
        return
    if isinstance(consultation.moment, moments.AwayMoment) or (where is not None and where != here.where):
        count = sum(isinstance(event, Contact) for event in consultation.case.events)
        begun = Contact(f"c{count + 1}", where or "call", telling.now(), staff or here.staff)  # type: ignore[arg-type]
        consultation.new_contact(begun)


def _choose_door(knowledge: Knowledge, wording: Wording, screen: Console, read: telling.Read) -> tuple[str | None, str]:
    """Return the door, and what was said where somebody told the complaint, or an alarm, instead of a number."""
    doors = sorted(knowledge.doors, key=lambda name: knowledge.doors[name].order)
    screen.print(wording.say("which-door"), style="bold")
    for number, name in enumerate(doors, 1):
        screen.print(f"   {number}  {wording.text(knowledge.doors[name].title)}", highlight=False)
    while True:
        line = read(wording.say("prompt"))
        if line is None:
            return None, ""
        if line.strip() in knowledge.doors:
            return line.strip(), ""
        if line.strip().isdigit() and 1 <= int(line) <= len(doors):
            return doors[int(line) - 1], ""
        if len(line.split()) >= FEWEST_WORDS or find_alarms(line, knowledge):
            screen.print(wording.say("door-understood", door=wording.text(knowledge.doors[doors[0]].title)))
            return doors[0], line
        screen.print(wording.say("pick-number"))


def rank(
    case: Path, as_json: bool, suspect: str | None, against: str | None, part: str | None, route: bool, customer: bool
) -> None:
    """Print the ranked causes of a case, the second opinion on one, the chance of a part, or where to do it."""
    knowledge = read_knowledge()
    consultation = _replayed(case, knowledge)
    wording = _wording(knowledge, customer)
    if as_json and part is not None:
        from diagnose.reports import way

        found = consultation.part_needed(way.part_called(part, wording))
        print(json.dumps(way.part_values(found), ensure_ascii=False, indent=2))
        return
    if as_json:
        from diagnose.reports.contract import ranked, stability_values

        result = {**ranked(consultation), "stability": stability_values(consultation)}
        print(json.dumps(result, ensure_ascii=False, indent=2))
        return
    screen = console()
    if suspect:
        screen.print(telling.second_opinion(consultation, wording, suspect), highlight=False)
    elif against:
        screen.print(telling.why_not(consultation, wording, against), highlight=False)
    elif part:
        screen.print(ways.part_screen(consultation, wording, part), highlight=False)
    elif route:
        screen.print(ways.route_screen(consultation, wording), highlight=False)
    else:
        screen.print(telling.tree(consultation, wording), highlight=False)


def walk(remedy: str, customer: bool) -> None:
    """Print a remedy step by step, waiting for Enter between steps where somebody is there to press it."""
    knowledge = read_knowledge()
    if remedy not in knowledge.remedies:
        raise UsageError(f"unknown remedy '{remedy}'{near(remedy, knowledge.remedies)}")
    wording = _wording(knowledge, customer)
    screen = console()
    screen.print(telling.remedy_opening(knowledge, wording, remedy), highlight=False)
    for number in range(len(knowledge.remedies[remedy].steps)):
        screen.print(telling.remedy_step(knowledge, wording, remedy, number), highlight=False)
        if sys.stdin.isatty() and screen.input(wording.say("press-enter") + " ").strip() in {"stop", "save", "quit"}:
            return
    screen.print(telling.remedy_proof(knowledge, wording, remedy), highlight=False)


def report(case: Path, out: Path, pdf: bool, customer: bool) -> None:
    """Write tree and report of a case and print their paths."""
    knowledge = read_knowledge()
    consultation = _replayed(case, knowledge)
    for path in telling.write_report(consultation, out, pdf, "customer" if customer else "staff"):
        print(path)


def sheet(remedy: str, out: Path, text: bool, pdf: bool) -> None:
    """Write the sheet of a remedy, or print it as text to send."""
    from diagnose.reports import sheet as sheets

    knowledge = read_knowledge()
    if remedy not in knowledge.remedies:
        raise UsageError(f"unknown remedy '{remedy}'{near(remedy, knowledge.remedies)}")
    if text:
        print("\n\n".join(sheets.messages(knowledge, remedy)))
        return
    for path in sheets.write_sheet(knowledge, remedy, out, pdf):
        print(path)


def serve(port: int, case: Path | None, browser: bool) -> None:
    """Serve the page on the loopback address until stopped."""
    from diagnose.web.serving import serve as serve_page

    serve_page(port, case, browser)


def cases(clock: str | None, as_json: bool, export: str | None) -> None:
    """List the consultations kept, or print one as a case file."""
    store = Store()
    if export:
        consultation = Consultation.resume(read_knowledge(), store, export)
        print(case_to_yaml(consultation.case), end="")
        return
    today = telling.now()[:10]
    kept = store.on_the_desk(today, clock)
    if as_json:
        rows = [{**dataclasses.asdict(row), "due": row.due(today)} for row in kept]
        print(json.dumps(rows, ensure_ascii=False, indent=2))
        return
    wording = _wording(read_knowledge(), customer=False)
    if not kept:
        print(wording.say("none-kept"), file=sys.stderr)
    for row in kept:
        state = state_text(row, today, wording)
        print(wording.say("kept-row", id=row.id, clock=row.clock, state=state, changed=row.changed))
