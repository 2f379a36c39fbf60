"""`diagnose demo`: the fitting story on the phone, played through the same doors as any consultation."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable
from pathlib import Path

from rich.console import Console
from rich.text import Text

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.case import Case, read_case
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import StoppedClockError
from diagnose.history import cuts
from diagnose.model.observations import Answer
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.reports.summary import beats_text
from diagnose.settings import demo_folder
from diagnose.terminal import screens, telling

STORY = "larch-lane-007"
WIDTH = 80
# Further questions would be asked if the story had no end; it has one long before.
MOST_MOMENTS = 40
SHOWN_CAUSES = 3


class Demo:
    """Plays a case file as a consultation: answers what is asked, as far as the case tells it.

    Parameters
    ----------
    case : Case
        The story; its answers and recordings before the remedy and after.
    consultation : Consultation
        The consultation it is played into.
    console : Console
        Where it is shown.
    """

    def __init__(self, case: Case, consultation: Consultation, console: Console) -> None:
        self.consultation = consultation
        self.wording = Wording(consultation.knowledge)
        self.console = console
        cut = next(number for number, event in enumerate(case.events) if cuts(event, consultation.knowledge))
        self._folder = case.folder or Path()
        self._before = case.events[:cut]
        self._after = case.events[cut + 1 :]
        self._asked = 0

    def _line(self, key: str, style: str = "", **values: object) -> None:
        self.console.print(Text(self.wording.say(key, **values), style=style))

    def play(self) -> None:
        """Play the story from the first word to the proof."""
        said = [event.text for event in self._before if isinstance(event, ev.Said)]
        self._line("demo-said", "bold", words=said[0])
        for event in self._before:
            if isinstance(event, ev.FactSet):
                self.consultation.set_fact(event.about, event.field, event.value)
        self.consultation.say(said[0])
        self._hear(self._before, "demo-heard-before")
        self._ask()
        self._causes()
        self._mend()

    def _hear(self, events: Iterable[ev.Event], key: str) -> None:
        for event in events:
            if isinstance(event, ev.Heard):
                heard = self.consultation.listen_to(self._folder / event.file, event.first_side)
                self.consultation.take_heard(heard)
                first, *rest = beats_text(heard.beats, self.wording)
                self._line(key, "bold", file=event.file)
                for line in (first, *rest[:1]):
                    self.console.print(screens.indented(line))

    def _ask(self) -> None:
        told = {event.finding: event for event in self._before if isinstance(event, Answer)}
        self._line("demo-asked", "bold")
        for _ in range(MOST_MOMENTS):
            moment = self.consultation.moment
            if isinstance(moment, moments.ConfirmMoment):
                self._confirm(moment, told)
            elif isinstance(moment, moments.LookMoment):
                self._answer(moment, told)
            else:
                break
        known = set(self.consultation.answers)
        open_ = [name for name in self.consultation.assessment.base.tables if name not in known]
        self._line("demo-skipped", "dim", asked=self._asked, skipped=len(open_))

    def _confirm(self, moment: moments.ConfirmMoment, told: dict[str, Answer]) -> None:
        for item in moment.suggestions:
            answer = told.get(item.finding)
            if answer is not None and answer.value == item.value:
                self.consultation.answer(item.finding, item.value, said=item.words)
                self._tell(item.finding, item.value, self.wording.say("demo-understood"))
            else:
                self.consultation.dismiss(item.finding)

    def _answer(self, moment: moments.LookMoment, told: dict[str, Answer]) -> None:
        for finding in moment.findings:
            self._asked += 1
            answer = told.get(finding)
            if answer is not None and answer.value is not None:
                self.consultation.answer(finding, answer.value, answer.certainty)
                self._tell(finding, answer.value)
            else:
                self.consultation.cannot_tell(finding)
                self._tell(finding, None)

    def _tell(self, finding: str, value: str | None, why: str = "") -> None:
        name = self.wording.short(finding)
        text = self.wording.value(finding, value) if value else self.wording.say("cannot-tell")
        row = Text(f"   {name}: {text}{'  ' + why if why else ''}")
        row.truncate(WIDTH, overflow="ellipsis")
        self.console.print(row)

    def _causes(self) -> None:
        self.console.print(*screens.cause_lines(self.consultation, self.wording, SHOWN_CAUSES), sep="\n")
        reasons = telling.top_reasons(self.consultation, self.wording)
        for line in reasons:
            self.console.print(screens.indented(line.plain, by=5), style="dim")

    def _mend(self) -> None:
        """Walk the remedy that the plan advises, with the act of the coach, and hear what it did."""
        from diagnose.coaching import words_of
        from diagnose.coaching.in_walk import advice_in_walk, sets_the_beat, take_as_done

        moment = self.consultation.moment
        if not isinstance(moment, moments.AdviceMoment):
            return
        entry = self.consultation.knowledge.remedies[moment.remedy]
        self._line("demo-do", "bold green", remedy=self.wording.text(entry.title), steps=len(entry.steps))
        self.console.print(*screens.cautions_of(self.consultation.knowledge, self.wording, entry.cautions[:1]))
        self.consultation.begin_walk(moment.remedy)
        advice = advice_in_walk(self.consultation)
        if advice is not None and sets_the_beat(entry):
            words = words_of(advice.told, self.consultation.knowledge)
            self.console.print(screens.indented(words.customer or words.staff, style="green"))
            take_as_done(self.consultation, advice)
        self._hear(self._after, "demo-heard-after")
        while self.consultation.walk is not None:
            self.consultation.step_right()
        for event in self._after:
            if isinstance(event, Answer) and event.value is not None:
                self.consultation.answer(event.finding, event.value, event.certainty)
        if isinstance(self.consultation.moment, moments.CuredMoment):
            proofs = [
                f"{self.wording.short(proof.finding)}: {self.wording.value(proof.finding, proof.value)}"
                for proof in entry.proof
            ]
            chance = self.wording.in_ten(self.consultation.assessment.ranking.nothing_wrong)
            self._line("demo-proved", "bold", proofs="; ".join(proofs), chance=chance)
            self.consultation.hand_over(self.consultation.handover_defaults)


def demo(out: Path) -> None:
    """Play the story, refuse one file, and say where the results lie."""
    knowledge = read_knowledge()
    case = read_case(demo_folder() / f"{STORY}.yaml", knowledge)
    console = Console(width=WIDTH, highlight=False)
    out.mkdir(parents=True, exist_ok=True)
    store = Store(f"sqlite:///{out / 'demo.sqlite'}")
    consultation = Consultation.begin(knowledge, case.door, case.contact, case.clock.id, store)
    played = Demo(case, consultation, console)
    played.play()
    _refuse_one(consultation, played.wording, console, out)
    console.print(Text(played.wording.say("demo-files"), style="bold"))
    for path in telling.write_report(consultation, out):
        console.print(f"   {path}", markup=False)
    for path in _sheet(consultation, out):
        console.print(f"   {path}", markup=False)
    story = os.path.relpath(demo_folder() / f"{STORY}.yaml")
    console.print(played.wording.say("demo-page", case=story), markup=False, soft_wrap=True)


def _refuse_one(consultation: Consultation, wording: Wording, console: Console, out: Path) -> None:
    """Show what a file that is no recording comes to: one sentence, nothing lost."""
    path = out / "voice-note.flac"
    path.write_text("this is no sound")
    with contextlib.suppress(StoppedClockError):
        try:
            consultation.hear(path)
        except StoppedClockError as error:
            console.print(Text(wording.say("demo-refused"), style="bold"))
            console.print(screens.indented(str(error)))
            raise
    path.unlink()


def _sheet(consultation: Consultation, out: Path) -> tuple[Path, ...]:
    from diagnose.reports.sheet import write_sheet

    tried = [event.remedy for event in consultation.case.events if isinstance(event, ev.Tried)]
    return write_sheet(consultation.knowledge, tried[-1], out, False) if tried else ()
