"""Plays a consultation in the terminal: shows the moment, reads a line, does what it says, again."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Literal

from rich.console import Console, RenderableType

from diagnose import contacts, moments
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError, UsageError
from diagnose.model.observations import Source
from diagnose.model.wording import Wording
from diagnose.next_moment import look_instead
from diagnose.reasoning.alarms import find_alarms
from diagnose.reports import showing
from diagnose.terminal import between, contact_screens, hearing, noting, reckoning, screens, telling, ways
from diagnose.terminal.typed import Typed, TypedAnswer, TypedWord, take_apart

Read = Callable[[str], str | None]
# Moments that ask for findings by their letters.
LOOKS = (moments.LookMoment, moments.ProofMoment, moments.HomeworkMoment)
OUTCOMES = ("done", "cured", "better", "no-change", "worse", "not-done")


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
        self.read = read
        self._asking_on = False
        self._words: dict[str, Callable[[str], None]] = {
            "?": self._help,
            "help": self._help,
            "how": self._how,
            "why": self._why,
            "back": self._back,
            "change": self._change,
            "say": self._say,
            "tree": lambda _: self._print(telling.tree(self.consultation, self.wording)),
            "suspect": self._suspect,
            "reckon": lambda rest: reckoning.reckon_typed(self, rest),
            "route": lambda _: self._print(ways.route_screen(self.consultation, self.wording)),
            "send": lambda rest: self._print(ways.part_screen(self.consultation, self.wording, rest)),
            "do": self._do,
            "ask": self._ask,
            "walk": self._walk,
            "not": self._not,
            "tried": self._tried,
            "stop": self._stop,
            "clear": self._clear,
            "report": self._report,
            "save": self._leave,
            "leave": self._leave,
            "quit": self._leave,
            **hearing.all_words(self),
            **between.all_words(self),
            **noting.all_words(self),
        }

    def run(self) -> None:
        """Play until the case is closed, the person leaves or there are no more lines."""
        shown: object = None
        contact_screens.show_changes(self)
        while True:
            moment = self.moment()
            # After a word that only tells something the same screen is not printed again.
            state = (len(self.consultation.case.events), self._asking_on)
            if state != shown:
                self._show(moment)
                shown = state
            if isinstance(moment, moments.ClosedMoment | moments.AwayMoment):
                return
            line = self.read(self.wording.say("prompt"))
            if line is None:
                return
            try:
                self._take(moment, line)
            except Left:
                return
            except StoppedClockError as error:
                self.console.print(str(error), style="yellow", highlight=False, markup=False)

    def moment(self) -> moments.Moment:
        """Return what stands before the person: what the case says, or a look where the person asks on."""
        moment = self.consultation.moment
        if self._asking_on and isinstance(
            moment, moments.AdviceMoment | moments.ReferMoment | moments.WaitMoment | moments.EnoughMoment
        ):
            return look_instead(self.consultation) or moment
        return moment

    def _show(self, moment: moments.Moment) -> None:
        self.console.print(screens.screen(self.consultation, self.wording, moment), highlight=False)
        if isinstance(moment, moments.StepMoment) and hearing.coached(self, moment.remedy, moment.step):
            advice = telling.coach_lines(self.consultation, self.wording)
            self.console.print(advice or "", highlight=False)
        noting.show(self, moment)
        if isinstance(moment, moments.StepMoment):
            reckoning.show(self)

    # ---- what a line means -----------------------------------------------------------------------

    def _take(self, moment: moments.Moment, line: str) -> None:
        if isinstance(moment, moments.ComplaintMoment) and line.split(" ")[0] not in {
            "?",
            "save",
            "record",
            "history",
            "suspect",
        }:
            self.take_words(line)
            return
        if (
            isinstance(moment, moments.ConfirmMoment)
            and line.strip().lower() in self.wording.say("confirm-all").split()
        ):
            self._confirm(moment, tuple(TypedAnswer(number, "accept") for number in range(self._count(moment))))
            return
        lettered = isinstance(moment, moments.ConfirmMoment | moments.ToldMoment)
        if lettered and line.strip().isalpha() and line.strip() not in self._words:
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
        if isinstance(moment, LOOKS):
            return len(moment.findings)
        if isinstance(moment, moments.ToldMoment):
            return len(moment.rows)
        if isinstance(moment, moments.ConfirmMoment):
            return len(moment.suggestions)
        if isinstance(moment, moments.FactsMoment):
            return len(moment.fields)
        return 1

    def _take_word(self, moment: moments.Moment, typed: TypedWord, line: str) -> None:
        if isinstance(moment, moments.FitMoment) and hearing.MEASURE.search(line):
            hearing.fit(self, line)
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
        if isinstance(moment, LOOKS):
            self.answer_look(moment.findings, answers)
        elif isinstance(moment, moments.ToldMoment):
            self._check_told(moment, answers)
        elif isinstance(moment, moments.SameClockMoment):
            self._same_clock(moment, answers)
        elif isinstance(moment, moments.WaitMoment) and not answers:
            between.until(self, contacts.date_after(self.consultation.contact.when, moment.hours))
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
            if not self.consultation.handed_over:
                self.consultation.hand_over(self.consultation.handover_defaults)
            self.consultation.conclude("cured")
        elif isinstance(moment, moments.FitMoment):
            for name in self.consultation.knowledge.doors[self.consultation.case.door].looks[:1]:
                self.consultation.later(name)
        elif answers:
            raise self._not_understood(str((answers[0].value or 0) + 1), moment)
        else:
            self._help("")

    def answer_look(
        self, findings: tuple[str, ...], answers: tuple[TypedAnswer, ...], source: Source | None = None
    ) -> None:
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
                self._answer(finding, answer, source)

    def _answer(self, finding: str, answer: TypedAnswer, source: Source | None = None) -> None:
        values = list(self.consultation.knowledge.findings[finding].values)
        if answer.value is None or answer.value >= len(values):
            listed = ", ".join(f"{n} {self.wording.value(finding, value)}" for n, value in enumerate(values, 1))
            raise UsageError(self.wording.say("which-value", question=self.wording.question(finding), values=listed))
        certainty: Literal["sure", "think-so"] = "think-so" if answer.meaning == "think-so" else "sure"
        self.consultation.answer(finding, values[answer.value], certainty, source)

    def _check_told(self, moment: moments.ToldMoment, answers: tuple[TypedAnswer, ...]) -> None:
        """Let what was told count as seen, or put it right; an empty line leaves the rest as told."""
        if not answers:
            self.consultation.told_was_checked()
        for answer in answers:
            row = moment.rows[answer.finding]
            if answer.meaning == "cannot-tell":
                self.consultation.later(row.finding)
            elif answer.value is None:
                self.consultation.answer(row.finding, row.value, "sure", "seen")
            else:
                self._answer(row.finding, answer, "seen")

    def _same_clock(self, moment: moments.SameClockMoment, answers: tuple[TypedAnswer, ...]) -> None:
        value = answers[0].value if answers else None
        if value not in {0, 1}:
            raise self._not_understood(str((value or 0) + 1), moment)
        self.consultation.same_clock(same=value == 0)

    def _confirm(self, moment: moments.ConfirmMoment, answers: tuple[TypedAnswer, ...]) -> None:
        accepted = {a.finding: a for a in answers if a.meaning in {"accept", "think-so", "value"}}
        if answers and not accepted:
            # `-b` alone: all but this one are meant.
            left = {a.finding for a in answers}
            accepted = {n: TypedAnswer(n, "accept") for n in range(self._count(moment)) if n not in left}
        for number, item in enumerate(moment.suggestions):
            if number in accepted:
                certainty: Literal["sure", "think-so"] = (
                    "think-so" if accepted[number].meaning == "think-so" else "sure"
                )
                self.consultation.confirm(item, certainty)
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
        moment = self.moment()
        findings = moment.findings if isinstance(moment, LOOKS) else ()
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

    def take_words(self, text: str) -> None:
        """Take in what somebody says, with the stop times in it."""
        self.consultation.say(text)
        noting.times_in_words(self, text)

    def _say(self, rest: str) -> None:
        self.take_words(rest)
        self.console.print(self.wording.say("noted"), style="dim")

    def _print(self, shown: RenderableType) -> None:
        self.console.print(shown, highlight=False)

    def _suspect(self, rest: str) -> None:
        self.console.print(telling.second_opinion(self.consultation, self.wording, rest), highlight=False)

    def _do(self, rest: str) -> None:
        self._asking_on = False
        if not isinstance(self.consultation.moment, moments.AdviceMoment | moments.StepMoment):
            self.console.print(telling.what_to_do(self.consultation, self.wording), highlight=False)
            self.console.print(self.wording.say("advice-hint"), style="dim", highlight=False)

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

    def _report(self, rest: str) -> None:
        folder = Path(rest or "out").expanduser()
        for path in telling.write_report(self.consultation, folder):
            self.console.print(str(path), highlight=False, markup=False)

    def _leave(self, rest: str) -> None:
        name = self.consultation.kept_as
        if name:
            self.console.print(self.wording.say("saved-and-left", name=name), highlight=False)
        raise Left
