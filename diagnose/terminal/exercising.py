"""Plays an exercise in the terminal: the trainee asks in his own words, tries, names; the marks end it."""

from __future__ import annotations

import secrets
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from string import ascii_lowercase
from typing import Literal

from rich.console import Console
from rich.text import Text

from diagnose.cases.case import read_case
from diagnose.cases.events import Heard
from diagnose.errors import UsageError
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.model.wording import Wording
from diagnose.reasoning import next_step as steps
from diagnose.reasoning.explanation import why_this_question
from diagnose.reasoning.gates import OWNERS
from diagnose.reports.summary import beats_text
from diagnose.terminal import exercise_marks, screens, telling
from diagnose.terminal.doing import console
from diagnose.training import exercises as ex
from diagnose.training.case_exercises import begin_from_case
from diagnose.training.free_words import find_causes, find_findings, find_remedies
from diagnose.training.hidden_sound import ticks

Read = Callable[[str], str | None]
Kind = Literal["findings", "places", "remedies", "causes"]
NUMBERS = 10_000


def exercise(seed: int | None, case: Path | None) -> None:
    """Play an exercise in this terminal; where there are no more lines it is given up.

    Parameters
    ----------
    seed : int, optional
        Which exercise; another one each time where None.
    case : Path, optional
        A case file whose cause is to be found.
    """
    knowledge = read_knowledge()
    screen = console()

    def read(prompt: str) -> str | None:
        try:
            line = screen.input(prompt, markup=False)
        except EOFError:
            return None
        if not sys.stdin.isatty():
            # A session that is piped in reads like one that was typed.
            screen.print(line, highlight=False, markup=False)
        return line

    if case is not None:
        begun = begin_from_case(read_case(case, knowledge), knowledge, seed or 0)
        title = Wording(knowledge).say("exercise-case-title", name=begun.case.id)
    else:
        number = secrets.randbelow(NUMBERS) if seed is None else seed
        begun = ex.begin(knowledge, number)
        title = Wording(knowledge).say("exercise-title", number=number)
    Play(begun, Wording(knowledge), screen, read).run(title)
    if case is None:
        screen.print(Wording(knowledge).say("exercise-play-again", number=number), style="dim", highlight=False)


class Play:
    """One exercise in one terminal.

    Parameters
    ----------
    begun : Exercise
        As it begins.
    wording : Wording
        Speaks to staff.
    console : Console
        Where it is shown.
    read : callable
        Gives the next line, or None where there are no more.
    """

    def __init__(self, begun: ex.Exercise, wording: Wording, console: Console, read: Read) -> None:
        self.exercise = begun
        self.wording = wording
        self._console = console
        self._read = read
        self._offered: tuple[Kind, tuple[str, ...]] | None = None
        # Causes named so far, and words of further ones that are still to be looked up.
        self._named: list[str] = []
        self._to_name: list[str] = []
        self._words: dict[str, Callable[[], None]] = {
            "?": self._help,
            "help": self._help,
            "places": self._places,
            "listen": self._listen,
            "known": self._known,
            "hint": self._hint,
            "visit": lambda: self._go("visit"),
            "workshop": lambda: self._go("workshop"),
            "give up": self._give_up,
            "quit": self._give_up,
        }

    @property
    def knowledge(self) -> Knowledge:
        """The base."""
        return self.wording.knowledge

    def run(self, title: str) -> None:
        """Play until a cause is named, it is given up, or there are no more lines; then show the marks."""
        self._open(title)
        while not self.exercise.ended:
            line = self._read(self.wording.say("exercise-pick-prompt" if self._offered else "exercise-prompt"))
            if line is None:
                self._give_up()
                break
            try:
                self._take(line.strip())
            except UsageError as error:
                self._console.print(str(error), style="yellow", highlight=False, markup=False)
        from diagnose.training.marks import marks

        self._say("exercise-working", style="dim")
        for line_shown in exercise_marks.lines(marks(self.exercise), self.wording):
            self._console.print(line_shown, highlight=False)

    def _say(self, key: str, style: str = "", indent: int = 0, **values: object) -> None:
        self._console.print(screens.indented(self.wording.say(key, **values), by=indent, style=style), highlight=False)

    def _open(self, title: str) -> None:
        clock = self.exercise.clock.facts
        family, drive = self._clock_word(clock.family), self._clock_word(clock.drive)
        where = self.wording.say(f"exercise-where-{self.exercise.where}")
        self._console.print(screens.heading(title), highlight=False)
        key = "exercise-clock" if drive else "exercise-clock-unknown-drive"
        self._say(key, family=family, drive=drive.lower(), where=where)
        said = self.exercise.said
        if len(said) > 1:
            self._say("exercise-complaint-two", style="bold", one=said[0], two=said[1])
        elif said:
            self._say("exercise-complaint-one", style="bold", one=said[0])
        self._say("exercise-task")
        self._say("exercise-how", style="dim")

    def _clock_word(self, name: str) -> str:
        entry = self.knowledge.clocks.get(name)
        return self.wording.text(entry.title) if entry is not None else ""

    # ---- what a line means -----------------------------------------------------------------------

    def _take(self, line: str) -> None:
        if self._offered is not None:
            kind, names = self._offered
            self._offered = None
            picked = self._picked(line, names)
            if picked is not None:
                self._take_picked(kind, picked)
                return
            self._to_name = []
        if not line:
            return
        word, _, rest = line.partition(" ")
        if line.lower() in self._words:
            self._words[line.lower()]()
        elif word.lower() == "try":
            self._find_remedy(rest.strip())
        elif word.lower() == "name":
            self._named, self._to_name = [], [part.strip() for part in rest.split("+") if part.strip()]
            if not self._to_name:
                self._say("exercise-name-what", style="yellow")
            self._find_causes()
        elif len(line) == 1:
            self._say("exercise-nothing-offered", style="yellow")
        else:
            self._find_finding(line)

    @staticmethod
    def _picked(line: str, names: Sequence[str]) -> tuple[str, ...] | None:
        """Return what was picked, empty for none; None where the line is no pick."""
        letters = line.lower().replace(",", " ").split()
        places = [ascii_lowercase.find(letter) if len(letter) == 1 else -1 for letter in letters]
        if all(0 <= place < len(names) for place in places):
            return tuple(names[place] for place in places)
        return None

    def _take_picked(self, kind: Kind, picked: tuple[str, ...]) -> None:
        if kind == "findings":
            for finding in picked:
                self._ask(finding)
        elif kind == "places":
            for place in picked[:1]:
                self._offer(
                    "findings", self.wording.say("exercise-which-finding"), self._findings_of(place), several=True
                )
        elif kind == "remedies":
            for remedy in picked[:1]:
                self._try(remedy)
        elif picked:
            self._named.extend(picked[:1])
            self._to_name = self._to_name[1:]
            self._find_causes()
        else:
            self._to_name = []

    def _offer(self, kind: Kind, title: str, names: Sequence[str], several: bool = False) -> None:
        """Show things with letters, to be picked from by the next line."""
        names = tuple(names)[: len(ascii_lowercase)]
        self._console.print(title, highlight=False, markup=False)
        for letter, name in zip(ascii_lowercase, names, strict=False):
            self._option(letter, kind, name)
        self._say("exercise-pick-several" if several else "exercise-pick", style="dim")
        self._offered = (kind, names)

    def _option(self, letter: str, kind: Kind, name: str) -> None:
        text = self._title(kind, name)
        if kind != "findings":
            self._say("exercise-option", indent=2, letter=letter, text=text)
            return
        situation = ex.consultation_of(self.exercise).situation
        if ex.may_ask(self.exercise, name, situation):
            minutes = f"{round(ex.minutes_to_ask(self.exercise, name, situation), 1):g}"
            self._say("exercise-option-minutes", indent=2, letter=letter, text=text, minutes=minutes)
        else:
            self._say(f"exercise-option-not-{self.exercise.where}", "dim", indent=2, letter=letter, text=text)

    def _offer_findings(self, names: Sequence[str]) -> None:
        self._offer("findings", self.wording.say("exercise-which-finding"), names, several=True)

    def _title(self, kind: Kind, name: str) -> str:
        if kind == "findings":
            return self.wording.question(name)
        if kind == "places":
            return self.wording.text(self.knowledge.places[name].title)
        if kind == "remedies":
            return self.wording.text(self.knowledge.remedies[name].title)
        return self.wording.cause(name)

    # ---- asking ------------------------------------------------------------------------------------

    def _find_finding(self, words: str) -> None:
        found = find_findings(words, self.knowledge, self.exercise.clock.base.tables)
        if not found:
            self._say("exercise-no-finding", style="yellow", words=words)
        elif len(found) == 1:
            self._ask(found[0])
        else:
            self._offer_findings(found)

    def _ask(self, finding: str) -> None:
        question = self.wording.question(finding)
        if not ex.may_ask(self.exercise, finding):
            self._say(f"exercise-not-from-{self.exercise.where}", style="yellow", question=question)
            return
        self._console.print(Text(question, style="bold"), highlight=False)
        before = self.exercise.asked(finding)
        if before is not None and before.value is not None:
            self._say("exercise-told-before", indent=2, value=self.wording.value(finding, before.value))
        elif before is not None:
            self._say("exercise-could-not-before", indent=2)
        else:
            alarms = set(ex.consultation_of(self.exercise).alarms)
            self.exercise = ex.ask(self.exercise, finding)
            answer = ex.consultation_of(self.exercise).answers[finding]
            self._console.print(screens.indented(self._answered(answer), by=2, style="cyan"), highlight=False)
            self._alarms(alarms)
            self._spent()

    def _answered(self, answer: Answer) -> str:
        if answer.value is None:
            return self.wording.say(f"exercise-cannot-tell-{self.exercise.where}")
        value = self.wording.value(answer.finding, answer.value)
        return self.wording.say("exercise-told" if answer.source == "told" else "exercise-seen", value=value)

    def _alarms(self, before: set[str]) -> None:
        """Say the sentence of an alarm that an answer has just raised: danger comes first, in an exercise too."""
        for alarm in ex.consultation_of(self.exercise).alarms:
            if alarm not in before:
                sentence = self.wording.text(self.knowledge.alarms[alarm].say)
                self._say("exercise-alarm", style="bold red", indent=2, say=sentence)

    def _spent(self) -> None:
        last, total = self.exercise.acts[-1].minutes, self.exercise.minutes
        self._say("exercise-spent", style="dim", indent=2, minutes=f"{round(last, 1):g}", total=f"{round(total, 1):g}")

    def _places(self) -> None:
        places = [name for name in self.knowledge.places if self._findings_of(name)]
        self._offer("places", self.wording.say("exercise-which-place"), places)

    def _findings_of(self, place: str) -> list[str]:
        situation = ex.consultation_of(self.exercise).situation
        names = [name for name, entry in self.knowledge.findings.items() if entry.place == place]
        return [name for name in names if ex.may_ask(self.exercise, name, situation)]

    def _listen(self) -> None:
        if not ticks(self.exercise.clock):
            self._say("exercise-no-tick", style="yellow")
            return
        self.exercise = ex.listen(self.exercise)
        heard = self.exercise.case.events[-1]
        self._say("exercise-heard")
        for line in beats_text(heard.beats, self.wording) if isinstance(heard, Heard) else ():
            self._console.print(screens.indented(line, by=2, style="cyan"), highlight=False)
        self._spent()

    def _known(self) -> None:
        answers = ex.consultation_of(self.exercise).answers
        if not answers:
            self._say("exercise-known-none")
        for name, answer in answers.items():
            value = telling.answer_text(answer, self.wording)
            self._say("exercise-answer-line", indent=2, finding=self.wording.short(name), value=value)
        for event in self.exercise.case.events:
            if isinstance(event, Heard) and event.beats.get("split"):
                self._say("exercise-known-heard", indent=2, split=event.beats["split"])

    # ---- doing and naming ----------------------------------------------------------------------------

    def _go(self, where: Literal["visit", "workshop"]) -> None:
        if where not in ex.ONWARD[self.exercise.where]:
            here = self.wording.say(f"exercise-where-{self.exercise.where}")
            self._say("exercise-cannot-go", style="yellow", where=here)
            return
        self.exercise = ex.go_on(self.exercise, where)
        self._say("exercise-went", where=self.wording.say(f"exercise-where-{where}"))
        self._spent()

    def _find_remedy(self, words: str) -> None:
        fits = [name for name, effect in self.exercise.clock.base.remedies.items() if effect.causes]
        found = find_remedies(words, self.knowledge, fits)
        if not words:
            self._say("exercise-try-what", style="yellow")
        elif not found:
            self._say("exercise-no-remedy", style="yellow", words=words)
        elif len(found) == 1:
            self._try(found[0])
        else:
            self._offer("remedies", self.wording.say("exercise-which-remedy"), found)

    def _try(self, remedy: str) -> None:
        entry = self.knowledge.remedies[remedy]
        self.exercise = ex.try_remedy(self.exercise, remedy)
        if self.exercise.acts[-1].kind == "refused":
            by_owner = entry.who in OWNERS
            who = self.wording.say(f"who-{entry.who}")
            self._say("exercise-refused-how" if by_owner else "exercise-refused", style="yellow", who=who)
            return
        self._say("exercise-tried", style="bold", remedy=self.wording.text(entry.title))
        self._say("exercise-proof", indent=2)
        for event in self.exercise.case.events[self.exercise.acts[-1].before :]:
            if isinstance(event, Answer):
                short, value = self.wording.short(event.finding), telling.answer_text(event, self.wording)
                self._say("exercise-answer-line", "cyan", indent=4, finding=short, value=value)
        self._spent()

    def _find_causes(self) -> None:
        """Look up the words of the causes one after the other; the last one ends the exercise."""
        while self._to_name:
            words = self._to_name[0]
            found = find_causes(words, self.knowledge, self.exercise.clock.base.causes)
            if not found:
                self._say("exercise-no-cause", style="yellow", words=words)
                self._to_name = []
                return
            if len(found) > 1:
                self._offer("causes", self.wording.say("exercise-which-cause", words=words), found)
                return
            self._named.append(found[0])
            self._to_name = self._to_name[1:]
        if self._named:
            self.exercise = ex.name(self.exercise, self._named)

    def _give_up(self) -> None:
        self.exercise = ex.give_up(self.exercise)

    def _hint(self) -> None:
        self.exercise, plan = ex.hint(self.exercise)
        known = ex.consultation_of(self.exercise).assessment
        match plan.step:
            case steps.Ask() | steps.Wait():
                finding = plan.step.finding if isinstance(plan.step, steps.Ask) else plan.step.findings[0]
                self._say("exercise-hint-ask", style="green", question=self.wording.question(finding))
                why = why_this_question(finding, known.base, known.ranking, self.knowledge, customer=False)
                self._console.print(screens.indented(why, by=2), highlight=False)
            case steps.Do():
                remedy = self.wording.text(self.knowledge.remedies[plan.step.remedy].title)
                self._say("exercise-hint-do", style="green", remedy=remedy)
            case steps.Refer() if plan.step.to in ex.ONWARD[self.exercise.where]:
                self._say("exercise-hint-refer", style="green", where=self.wording.say(f"where-{plan.step.to}"))
            case steps.Enough():
                self._say("exercise-hint-enough", style="green")
            case _:
                self._say("exercise-hint-name", style="green")

    def _help(self) -> None:
        self._console.print(self.wording.say("exercise-help"), highlight=False, markup=False)
