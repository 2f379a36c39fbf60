"""`diagnose reckon QUESTION`: a number a technician wants, in a sentence with its limits.

Each question is a command of its own, made from the table of questions when it is asked for; its help is the
words that the page shows.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from diagnose.model.wording import Wording
    from diagnose.reckoning.answers import Answer, Question
    from diagnose.reckoning.given import Field
    from diagnose.terminal.talk import Talk

FIGURE_PLACES = 6
# At a step stands the answer; its limits come where the question is typed.
LINES_AT_STEP = 3


class Questions(click.Group):
    """The questions as commands; the knowledge is read only when one of them is looked at."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Return the names of all questions in their order."""
        from diagnose.reckoning.questions import QUESTIONS

        return list(QUESTIONS)

    def get_command(self, ctx: click.Context, name: str) -> click.Command | None:
        """Return the command of a question."""
        from diagnose.reckoning.questions import QUESTIONS

        question = QUESTIONS.get(name)
        return None if question is None else _command(question)

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Return the command of a question, or say which names may have been meant."""
        from diagnose.errors import UsageError
        from diagnose.model.near_names import near

        names = self.list_commands(ctx)
        if args and args[0] not in names:
            raise UsageError(f"no question '{args[0]}'{near(args[0], names)}", do=f"One of {', '.join(names)}")
        return super().resolve_command(ctx, args)


def _words(customer: bool = False) -> Wording:
    from diagnose.model.reading import read_knowledge
    from diagnose.model.wording import Wording

    return Wording(read_knowledge(), "customer" if customer else "staff")


def _command(question: Question) -> click.Command:
    wording = _words()
    options: list[click.Parameter] = [_option(question, field, wording) for field in question.fields]
    options += [
        click.Option(["--json", "as_json"], is_flag=True, help=wording.say("reckon-json")),
        click.Option(["--customer"], is_flag=True, help=wording.say("reckon-customer")),
    ]

    def answered(as_json: bool, customer: bool, **typed: str | None) -> None:
        texts = {name.replace("_", "-"): text for name, text in typed.items() if text}
        sys.exit(tell(question, texts, as_json, customer))

    ask = wording.say(f"reckon-ask-{question.name}")
    return click.Command(question.name, params=options, callback=answered, help=ask, short_help=ask)


def _option(question: Question, field: Field, wording: Wording) -> click.Option:
    from diagnose.reckoning.answers import field_words

    example = wording.say("reckon-such-as", example=field.example)
    usual = f"; {wording.say('reckon-usual', usual=field.usual)}" if field.usual else ""
    shape = f"[{'|'.join(field.choices)}]" if field.choices else field.kind.upper()
    helped = f"{field_words(question, field, wording)}, {example}{usual}."
    return click.Option([f"--{field.name}"], metavar=shape, help=helped)


def tell(question: Question, texts: Mapping[str, str], as_json: bool, customer: bool) -> int:
    """Print the answer; 1 where it is no."""
    from diagnose.terminal import doing, screens

    wording = _words(customer)
    answer = question.answered(texts, wording.knowledge)
    if as_json:
        print(json.dumps(answer_dict(question, answer, wording), indent=2))
    else:
        screen = doing.console()
        for caution in screens.cautions_of(wording.knowledge, wording, answer.cautions):
            screen.print(caution)
        for line in answer.said(wording):
            screen.print(line, highlight=False, markup=False)
    return doing.NO if answer.no else doing.DONE


def answer_dict(question: Question, answer: Answer, wording: Wording) -> dict[str, object]:
    """Return an answer as plain values."""
    figures = {
        name: round(value, FIGURE_PLACES) if isinstance(value, float) else value
        for name, value in answer.figures.items()
    }
    return {"question": question.name, "no": answer.no, "figures": figures, "text": answer.said(wording)}


# ---- in a consultation ---------------------------------------------------------------------------------------


def show(talk: Talk) -> None:
    """Say the numbers a technician wants at the step at work, or how to ask for them; a customer is told none."""
    from diagnose.reckoning.in_case import reckoned_at_step

    if talk.wording.reader == "customer":
        return
    found = reckoned_at_step(talk.consultation)
    for each in found:
        if each.answer is not None:
            for line in each.answer.said(talk.wording)[:LINES_AT_STEP]:
                talk.console.print(line, style="green", highlight=False, markup=False)
    if found:
        words = ", ".join(f"reckon {each.question.name}" for each in found)
        talk.console.print(talk.wording.say("reckon-type", words=words), style="dim", highlight=False, markup=False)


def reckon_typed(talk: Talk, rest: str) -> None:
    """Answer a typed question, with what the case knows filled in."""
    from diagnose.errors import UsageError
    from diagnose.reckoning.in_case import answer_to_typed
    from diagnose.reckoning.questions import QUESTIONS
    from diagnose.terminal import screens

    if not rest:
        raise UsageError(talk.wording.say("reckon-type-what", questions=", ".join(QUESTIONS)))
    answer = answer_to_typed(talk.consultation, rest)
    for caution in screens.cautions_of(talk.consultation.knowledge, talk.wording, answer.cautions):
        talk.console.print(caution)
    for line in answer.said(talk.wording):
        talk.console.print(line, highlight=False, markup=False)
