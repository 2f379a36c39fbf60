"""Plays a consultation in the terminal: shows the moment, reads a line, does what it says, again."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path
from typing import Literal

from rich.console import Console, RenderableType

from diagnose import moments
from diagnose.cases.events import Acted, Contact, Heard
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.wording import Wording
from diagnose.next_moment import look_instead
from diagnose.reasoning.alarms import find_alarms
from diagnose.reports import showing
from diagnose.reports.summary import fit_lines
from diagnose.terminal import screens, telling, ways
from diagnose.terminal.typed import Typed, TypedAnswer, TypedWord, take_apart

Read = Callable[[str], str | None]
OUTCOMES = ("done", "cured", "better", "no-change", "worse", "not-done")
_MEASURE = re.compile(r"(?P<what>block|slot)\s+(?P<size>[\d./]+\s*[a-z\"]*)\s+(?P<tool>[a-z -]+)", re.IGNORECASE)


class Left(Exception):  # noqa: N818  (not an error: the person leaves)
    """The person leaves the consultation; everything is kept already."""


class Talk:
    """One consultation in one terminal.

    Parameters
    ----------
    consultation : Consultation
        The case at work.
    wording : Wording
        Speaks to staff or to a customer.
    console : Console
        Where it is shown.
    read : callable
        Gives the next line, or None where there are no more.
    """

    def __init__(self, consultation: Consultation, wording: Wording, console: Console, read: Read) -> None:
        self.consultation = consultation
        self.wording = wording
        self.console = console
        self._read = read
        self._asking_on = False
        self._words: dict[str, Callable[[str], None]] = {
            "?": self._help,
            "help": self._help,
            "how": self._how,
            "why": self._why,
            "back": self._back,
            "change": self._change,
            "say": self._say,
            "record": self._record,
            "moved": self._moved,
            "tree": lambda _: self._print(telling.tree(self.consultation, self.wording)),
            "suspect": self._suspect,
            "route": lambda _: self._print(ways.route_screen(self.consultation, self.wording)),
            "send": lambda rest: self._print(ways.part_screen(self.consultation, self.wording, rest)),
            "do": self._do,
            "ask": self._ask,
            "walk": self._walk,
            "not": self._not,
            "tried": self._tried,
            "stop": self._stop,
            "clear": self._clear,
            "visit": lambda _: self._go_on("visit"),
            "workshop": lambda _: self._go_on("workshop"),
            "report": self._report,
            "done": self._done,
            "save": self._leave,
            "leave": self._leave,
            "quit": self._leave,
        }

    def run(self) -> None:
        """Play until the case is closed, the person leaves or there are no more lines."""
        shown: object = None
        while True:
            moment = self._moment()
            # After a word that only tells something the same screen is not printed again.
            state = (len(self.consultation.case.events), self._asking_on)
            if state != shown:
                self._show(moment)
                shown = state
            if isinstance(moment, moments.ClosedMoment):
                return
            line = self._read(self.wording.say("prompt"))
            if line is None:
                return
            try:
                self._take(moment, line)
            except Left:
                return
            except StoppedClockError as error:
                self.console.print(str(error), style="yellow", highlight=False, markup=False)

    def _moment(self) -> moments.Moment:
        moment = self.consultation.moment
        if self._asking_on and isinstance(
            moment, moments.AdviceMoment | moments.ReferMoment | moments.WaitMoment | moments.EnoughMoment
        ):
            return look_instead(self.consultation) or moment
        return moment

    def _show(self, moment: moments.Moment) -> None:
        self.console.print(screens.screen(self.consultation, self.wording, moment), highlight=False)
        if isinstance(moment, moments.StepMoment) and self._coached(moment.remedy, moment.step):
            advice = telling.coach_lines(self.consultation, self.wording)
            self.console.print(advice or "", highlight=False)

    # ---- what a line means -----------------------------------------------------------------------

    def _take(self, moment: moments.Moment, line: str) -> None:
        if isinstance(moment, moments.ComplaintMoment) and line.split(" ")[0] not in {"?", "save", "record"}:
            self.consultation.say(line)
            return
        if isinstance(moment, moments.ConfirmMoment) and line.strip().isalpha() and line.strip() not in self._words:
            # `abc` means `a b c`: people run the letters together.
            letters = line.strip().lower()
            line = " ".join(letters) if set(letters) <= set(screens.LETTERS[: self._count(moment)]) else line
        typed = take_apart(line, self._count(moment))
        if isinstance(typed, TypedWord):
            self._take_word(moment, typed, line)
        else:
            self._take_answers(moment, typed)

    @staticmethod
    def _count(moment: moments.Moment) -> int:
        if isinstance(moment, moments.LookMoment | moments.ProofMoment):
            return len(moment.findings)
        if isinstance(moment, moments.ConfirmMoment):
            return len(moment.suggestions)
        if isinstance(moment, moments.FactsMoment):
            return len(moment.fields)
        return 1

    def _take_word(self, moment: moments.Moment, typed: TypedWord, line: str) -> None:
        if isinstance(moment, moments.FitMoment) and _MEASURE.search(line):
            self._fit(line)
        elif typed.word in self._words:
            self._words[typed.word](typed.rest)
        elif len(line.split()) >= 2 or find_alarms(line, self.consultation.knowledge):
            # Words that are no command are more of the complaint: nothing that is told is thrown away,
            # least of all one word of danger.
            self._say(line)
        else:
            raise self._not_understood(line, moment)

    def _not_understood(self, typed: str, moment: moments.Moment) -> UsageError:
        last = screens.LETTERS[self._count(moment) - 1]
        allowed = self.wording.say("allowed-answer", last=last)
        return UsageError(self.wording.say("not-understood", typed=typed, allowed=allowed))

    def _take_answers(self, moment: moments.Moment, typed: Typed) -> None:
        answers = typed if isinstance(typed, tuple) else ()
        if any(answer.finding >= self._count(moment) for answer in answers):
            raise self._not_understood(screens.LETTERS[max(a.finding for a in answers)], moment)
        if isinstance(moment, moments.LookMoment | moments.ProofMoment):
            self._answer_look(moment.findings, answers)
        elif isinstance(moment, moments.ConfirmMoment):
            self._confirm(moment, answers)
        elif isinstance(moment, moments.FactsMoment):
            self._facts(moment, answers)
        elif isinstance(moment, moments.StepMoment):
            self._step(answers)
        elif isinstance(moment, moments.PickAlarmMoment):
            self._pick_alarm(moment, answers)
        elif isinstance(moment, moments.AdviceMoment) and not answers:
            self._walk("")
        elif isinstance(moment, moments.CuredMoment) and not answers:
            self.consultation.hand_over(self.consultation.handover_defaults)
            self.consultation.conclude("cured")
        elif isinstance(moment, moments.FitMoment):
            for name in self.consultation.knowledge.doors[self.consultation.case.door].looks[:1]:
                self.consultation.later(name)
        elif answers:
            raise self._not_understood(str((answers[0].value or 0) + 1), moment)
        else:
            self._help("")

    def _answer_look(self, findings: tuple[str, ...], answers: tuple[TypedAnswer, ...]) -> None:
        """Answer what was typed; an empty line leaves the rest for the visit."""
        if not answers:
            for finding in findings:
                self.consultation.later(finding)
            self.console.print(
                self.wording.say("left-list", list="; ".join(self.wording.short(name) for name in findings)),
                style="dim",
            )
        for answer in answers:
            finding = findings[answer.finding]
            if answer.meaning == "cannot-tell":
                self.consultation.cannot_tell(finding)
            elif answer.meaning == "later":
                self.consultation.later(finding)
            else:
                self._answer(finding, answer)

    def _answer(self, finding: str, answer: TypedAnswer) -> None:
        values = list(self.consultation.knowledge.findings[finding].values)
        if answer.value is None or answer.value >= len(values):
            listed = ", ".join(f"{n} {self.wording.value(finding, value)}" for n, value in enumerate(values, 1))
            raise UsageError(self.wording.say("which-value", question=self.wording.question(finding), values=listed))
        certainty: Literal["sure", "think-so"] = "think-so" if answer.meaning == "think-so" else "sure"
        self.consultation.answer(finding, values[answer.value], certainty)

    def _confirm(self, moment: moments.ConfirmMoment, answers: tuple[TypedAnswer, ...]) -> None:
        accepted = {a.finding: a for a in answers if a.meaning in {"accept", "think-so", "value"}}
        for number, item in enumerate(moment.suggestions):
            if number in accepted:
                certainty: Literal["sure", "think-so"] = (
                    "think-so" if accepted[number].meaning == "think-so" else "sure"
                )
                self.consultation.answer(item.finding, item.value, certainty, said=item.words)
            else:
                self.consultation.dismiss(item.finding)

    def _facts(self, moment: moments.FactsMoment, answers: tuple[TypedAnswer, ...]) -> None:
        given = {answer.finding: answer.value for answer in answers}
        about: Literal["clock", "person"] = "clock" if moment.about == "clock" else "person"
        for number, field in enumerate(moment.fields):
            options = screens.fact_options(self.consultation, self.wording, field)
            value = given.get(number)
            if value is not None and value >= len(options):
                raise self._not_understood(f"{screens.LETTERS[number]}{value + 1}", moment)
            self.consultation.set_fact(about, field, options[value][0] if value is not None else "unknown")

    def _step(self, answers: tuple[TypedAnswer, ...]) -> None:
        if answers and answers[0].value is not None:
            self.consultation.step_not_so(answers[0].value)
        else:
            self.consultation.step_right()

    def _pick_alarm(self, moment: moments.PickAlarmMoment, answers: tuple[TypedAnswer, ...]) -> None:
        if not answers:
            for alarm in moment.alarms[:1]:
                self.consultation.clear_alarm(alarm)
            return
        value = answers[0].value
        if value is None or value >= len(moment.alarms):
            raise self._not_understood(str((value or 0) + 1), moment)
        self.consultation.raise_alarm(moment.alarms[value])

    # ---- the words -------------------------------------------------------------------------------

    def _help(self, rest: str) -> None:
        self.console.print(self.wording.say("help"), highlight=False, markup=False)

    def _how(self, rest: str) -> None:
        moment = self._moment()
        findings = moment.findings if isinstance(moment, moments.LookMoment | moments.ProofMoment) else ()
        number = screens.LETTERS.find(rest[:1].lower()) if rest else 0
        if not 0 <= number < len(findings):
            raise UsageError(self.wording.say("allowed-answer", last=screens.LETTERS[max(0, len(findings) - 1)]))
        entry = self.consultation.knowledge.findings[findings[number]]
        self.console.print(f"{self.wording.say('how-to-look')}: {entry.look}", highlight=False, markup=False)

    def _why(self, rest: str) -> None:
        self.console.print(telling.why_first(self.consultation, self.wording), highlight=False)

    def _back(self, rest: str) -> None:
        taken = self.consultation.back()
        if taken is None:
            self.console.print(self.wording.say("nothing-to-take-back"))
        elif taken in self.consultation.knowledge.findings:
            self.console.print(self.wording.say("taken-back", what=self.wording.short(taken)), highlight=False)

    def _change(self, rest: str) -> None:
        answers = list(self.consultation.answers.items())
        if rest.isdigit() and 1 <= int(rest) <= len(answers):
            finding = answers[int(rest) - 1][0]
            self.consultation.take_back(finding)
            self.console.print(self.wording.say("taken-back", what=self.wording.short(finding)), highlight=False)
            return
        self.console.print(telling.answers_given(self.consultation, self.wording), highlight=False)

    def _say(self, rest: str) -> None:
        self.consultation.say(rest)
        self.console.print(self.wording.say("noted"), style="dim")

    def _record(self, rest: str) -> None:
        path, side = rest, None
        for word in ("left", "right"):
            if rest.endswith(f" {word}"):
                path, side = rest[: -len(word)].strip(), word
        if not path:
            raise UsageError(self.wording.say("record-what"))
        heard = self.consultation.listen_to(Path(path).expanduser(), side)  # type: ignore[arg-type]
        self._note_act(heard)
        self.consultation.take_heard(heard)
        self.console.print(telling.beats_lines(heard.beats, self.wording), highlight=False)

    def _note_act(self, heard: Heard) -> None:
        """Take the act that was advised as done, now that the tick is heard again after it."""
        from diagnose.coaching.in_walk import advice_in_walk, heard_beat, take_as_done

        walk = self.consultation.walk
        if walk is None or heard_beat(heard.beats) is None or not self._coached(walk.remedy, walk.step):
            return
        act = take_as_done(self.consultation, advice_in_walk(self.consultation))
        if act is not None:
            side = self.wording.say(f"side-{act.direction}")
            text = self.wording.say("taken-as-done", side=side, amount=f"{act.amount_mm:.2f}")
            self.console.print(text, style="dim", highlight=False)

    def _coached(self, remedy: str, step: int) -> bool:
        """Return whether this step sets the beat, or is the act just before the one that hears it."""
        steps = self.consultation.knowledge.remedies[remedy].steps
        return any(here.act == "set-the-beat" for here in steps[step : step + 2])

    def _moved(self, rest: str) -> None:
        """Note an act that was done otherwise than advised, or without advice."""
        from diagnose.coaching.in_walk import task_in_walk

        side, _, amount = rest.partition(" ")
        task = task_in_walk(self.consultation)
        if task is None or side not in {"left", "right"} or not amount.replace(".", "", 1).isdigit():
            raise UsageError(self.wording.say("moved-what"))
        contact = self.consultation.contact.id
        self.consultation.acted(Acted(task.adjuster, "left" if side == "left" else "right", float(amount), contact))

    def _print(self, shown: RenderableType) -> None:
        self.console.print(shown, highlight=False)

    def _suspect(self, rest: str) -> None:
        self.console.print(telling.second_opinion(self.consultation, self.wording, rest), highlight=False)

    def _do(self, rest: str) -> None:
        self._asking_on = False
        if not isinstance(self.consultation.moment, moments.AdviceMoment | moments.StepMoment):
            self.console.print(telling.what_to_do(self.consultation, self.wording), highlight=False)

    def _ask(self, rest: str) -> None:
        self._asking_on = True

    def _walk(self, rest: str) -> None:
        moment = self.consultation.moment
        remedy = rest or (moment.remedy if isinstance(moment, moments.AdviceMoment) else "")
        self.consultation.begin_walk(remedy or showing.best_remedy(self.consultation) or "")

    def _not(self, rest: str) -> None:
        moment = self.consultation.moment
        if isinstance(moment, moments.AdviceMoment):
            self.consultation.tried(moment.remedy, "not-done")

    def _tried(self, rest: str) -> None:
        remedy, _, outcome = rest.partition(" ")
        outcome = outcome.strip() or "done"
        if outcome not in OUTCOMES:
            raise UsageError(f"outcome '{outcome}'", do=f"One of {', '.join(OUTCOMES)}")
        self.consultation.tried(remedy, outcome)  # type: ignore[arg-type]
        self.console.print(self.wording.say("tried-after", remedy=remedy, outcome=outcome), highlight=False)

    def _stop(self, rest: str) -> None:
        if self.consultation.walk is not None:
            self.consultation.stop_walk()

    def _clear(self, rest: str) -> None:
        for alarm in self.consultation.alarms:
            self.consultation.clear_alarm(alarm)

    def _go_on(self, where: Literal["visit", "workshop"]) -> None:
        contacts = [event for event in self.consultation.case.events if isinstance(event, Contact)]
        staff = self.consultation.contact.staff
        self.consultation.new_contact(Contact(f"c{len(contacts) + 1}", where, telling.now(), staff))

    def _report(self, rest: str) -> None:
        folder = Path(rest or "out").expanduser()
        for path in telling.write_report(self.consultation, folder):
            self.console.print(str(path), highlight=False, markup=False)

    def _done(self, rest: str) -> None:
        self.consultation.conclude(rest or "unknown")

    def _leave(self, rest: str) -> None:
        name = self.consultation.kept_as
        if name:
            self.console.print(self.wording.say("saved-and-left", name=name), highlight=False)
        raise Left

    def _fit(self, line: str) -> None:
        sizes = {match["what"].lower(): match for match in _MEASURE.finditer(line)}
        if set(sizes) != {"block", "slot"}:
            raise UsageError(self.wording.say("fit-both"))
        block, slot = sizes["block"], sizes["slot"]
        from diagnose.terminal.fitting import fit_block

        answer = fit_block(block["size"], slot["size"], block["tool"].strip(" ,"), slot["tool"].strip(" ,"))
        for line in fit_lines(answer, self.wording):
            self.console.print(line, highlight=False, markup=False)
        self.consultation.take_fit(answer)
