"""An exercise in the terminal: plays to the end from a pipe, and tells nothing before it."""

from __future__ import annotations

import io
from collections.abc import Iterable

import pytest
from click.testing import CliRunner
from rich.console import Console

from diagnose.cases.case import read_case
from diagnose.model.reading import read_knowledge
from diagnose.model.wording import Wording
from diagnose.settings import demo_folder
from diagnose.terminal.commands import diagnose
from diagnose.terminal.exercising import Play
from diagnose.training import exercises as ex
from diagnose.training.case_exercises import begin_from_case

KNOWLEDGE = read_knowledge(check=False)
WORDING = Wording(KNOWLEDGE)
END = WORDING.say("exercise-working")
WIDTH = 80


def played(exercise: ex.Exercise, lines: Iterable[str]) -> tuple[str, Play]:
    """Return what is shown for some lines, and the play."""
    out = io.StringIO()
    console = Console(file=out, width=WIDTH, force_terminal=False)
    left = iter(lines)
    play = Play(exercise, WORDING, console, lambda prompt: next(left, None))
    play.run("Exercise")
    return out.getvalue(), play


def unwrapped(text: str) -> str:
    return " ".join(text.split())


ASKED = (
    "?", "how long does it run", "a", "is it wound", "a", "places", "b", "a b", "listen", "known", "hint",
    "look at the leaf", "a", "visit", "workshop", "look at the fork", "a b", "try oil the fork", "a", "purple elephant",
    "name", "try", "name a crutch that is bent", "b",
)  # fmt: skip


@pytest.mark.parametrize("seed", [5, 12, 23])
def test_a_piped_session_plays_to_the_end(seed: int) -> None:
    result = CliRunner().invoke(
        diagnose, ["exercise", "--seed", str(seed)], input="\n".join(ASKED), catch_exceptions=False
    )
    assert result.exit_code == 0
    assert END in result.output
    assert WORDING.say("exercise-marks") in result.output
    assert f"--seed {seed}" in result.output
    assert max(len(line.rstrip()) for line in result.output.splitlines()) <= WIDTH


def test_where_the_lines_run_out_it_is_given_up() -> None:
    text, play = played(ex.begin(KNOWLEDGE, 23), ["is the strike wound", "a"])
    assert play.exercise.acts[-1].kind == "give-up"
    assert "You named nothing" in text


@pytest.mark.parametrize("seed", range(6))
def test_nothing_before_the_end_tells_the_hidden_cause(seed: int, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("diagnose.training.marks.marks", lambda exercise: None)
    monkeypatch.setattr("diagnose.terminal.exercise_marks.lines", lambda marks, wording: [])
    exercise = ex.begin(KNOWLEDGE, seed)
    lines = [line for line in ASKED if line != "hint" and not line.startswith("name")]
    before = unwrapped(played(exercise, lines)[0].split(END)[0])
    for remedy in KNOWLEDGE.remedies.values():
        # Remedies to pick from tell nothing: they are listed by what was typed.
        before = before.replace(WORDING.text(remedy.title), "")
    for cause in exercise.clock.causes:
        assert cause not in before
        assert WORDING.cause(cause) not in before


def test_not_even_a_hint_tells_the_id_of_a_cause() -> None:
    exercise = ex.begin(KNOWLEDGE, 23)
    before = played(exercise, ["hint", "is it wound", "a", "hint"])[0].split(END)[0]
    assert WORDING.say("exercise-hint-ask", question="")[:20] in before
    assert not any(f" {cause}" in before for cause in KNOWLEDGE.causes if "-" in cause)


def test_naming_the_right_cause_in_words_is_right() -> None:
    begun = (ex.begin(KNOWLEDGE, seed) for seed in range(50))
    exercise = next(item for item in begun if len(item.clock.causes) == 1)
    title = WORDING.cause(exercise.clock.causes[0])
    text, play = played(exercise, [f"name {exercise.clock.causes[0]}"])
    assert play.exercise.named == exercise.clock.causes
    assert f"Right: {title}." in unwrapped(text)


def test_two_causes_are_named_with_a_plus() -> None:
    _, play = played(ex.begin(KNOWLEDGE, 10), ["name hands-touch + hook-half-on"])
    assert play.exercise.named == ("hands-touch", "hook-half-on")


def test_a_cause_is_picked_by_its_letter() -> None:
    text, play = played(ex.begin(KNOWLEDGE, 10), ["name hook", "b"])
    assert "Which cause is" in text
    assert len(play.exercise.named) == 1


def test_picking_none_goes_on() -> None:
    _, play = played(ex.begin(KNOWLEDGE, 10), ["name hook", "", "is it wound"])
    assert [act.kind for act in play.exercise.acts] == ["give-up"]


def test_asking_twice_costs_once() -> None:
    text, play = played(ex.begin(KNOWLEDGE, 10), ["moved-lately", "moved-lately"])
    assert [act.kind for act in play.exercise.acts] == ["ask", "give-up"]
    assert "already" in text


def test_on_the_phone_a_technicians_look_is_declined() -> None:
    text, play = played(ex.begin(KNOWLEDGE, 3, "call"), ["pallets"])
    assert "`visit` goes to the clock" in unwrapped(text)
    assert [act.kind for act in play.exercise.acts] == ["give-up"]


def test_a_look_that_is_dangerous_news_says_stop() -> None:
    exercise = begin_from_case(read_case(demo_folder() / "mill-row-003.yaml", KNOWLEDGE), KNOWLEDGE)
    exercise.clock.known["winding-feel"] = "bang"  # type: ignore[index]
    text, _ = played(exercise, ["winding-feel"])
    assert "STOP" in text.split(END)[0]


def test_listening_shows_the_split() -> None:
    exercise = begin_from_case(read_case(demo_folder() / "larch-lane-007.yaml", KNOWLEDGE), KNOWLEDGE)
    text, _ = played(exercise, ["listen", "known"])
    assert "56.4 : 43.6" in text


def test_a_demo_case_is_played_from_its_file() -> None:
    path = demo_folder() / "larch-lane-007.yaml"
    lines = "listen\nis it moved\na\nname case-out-of-beat\n"
    result = CliRunner().invoke(diagnose, ["exercise", "--case", str(path)], input=lines, catch_exceptions=False)
    assert result.exit_code == 0
    assert "put the new spring in" in result.output
    assert "Right: a case that no longer stands" in unwrapped(result.output)


def test_the_marks_are_a_few_lines() -> None:
    from diagnose.terminal.exercise_marks import summary
    from diagnose.training.marks import marks

    for named in (["pallets-worn"], ["hook-half-on"]):
        said = summary(marks(ex.name(ex.begin(KNOWLEDGE, 10), named)), WORDING)
        assert 2 <= len(said) <= 5


def test_every_word_of_the_exercise_has_its_own_key() -> None:
    """A key that stood in two files would be told when the knowledge is read; all of these begin alike."""
    keys = [key for key in KNOWLEDGE.screen if key.startswith("exercise-")]
    assert len(keys) > 80
    assert all("—" not in KNOWLEDGE.screen[key].staff for key in keys)
