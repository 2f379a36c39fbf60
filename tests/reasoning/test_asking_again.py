"""Only an answer on which the first place hangs is worth asking again."""

from __future__ import annotations

from diagnose.reasoning.asking_again import worth_asking_again
from diagnose.reasoning.explanation import doubtful_answers
from diagnose.reasoning.findings import said_likelihood
from diagnose.reasoning.ranking import Piece, rank
from diagnose.reasoning.tables import Base, base_from, choice
from diagnose.reasoning.values import Finding

SURE, THINK_SO = 0.06, 0.26


def base() -> Base:
    """Two causes alike in three signs, told apart by `mark`; `stray` hangs together with neither."""
    signs = {name: choice(["no", "yes"], {"a": {"yes": 0.85}, "b": {"yes": 0.85}}, leak=0.02) for name in "xyz"}
    seals = {name: choice(["no", "yes"], {"a": {"yes": 0.99}}, leak=0.005) for name in ("mark", "seal")}
    return base_from({"a": 0.1, "b": 0.12}, {**signs, **seals, "stray": choice(["no", "yes"], {}, leak=0.01)})


def said(finding: str, value: str, wrong: float = SURE) -> Finding:
    return Finding(finding, said_likelihood(("no", "yes").index(value), 2, wrong), value, 1 - wrong)


def doubted(*given: Finding) -> tuple[list[str], list[str]]:
    """Return the doubtful answers, and those of them that are worth asking again."""
    pieces = [Piece(given)]
    ranking = rank(base(), pieces)
    every = [item.finding for item in doubtful_answers(ranking)]
    return every, [item.finding for item in worth_asking_again(base(), pieces, ranking)]


def test_a_doubtful_answer_that_no_cause_hangs_on_is_not_asked_again() -> None:
    every, worth = doubted(said("x", "yes"), said("mark", "yes"), said("stray", "yes"))
    assert every == ["stray"]
    assert worth == []


def test_of_two_answers_that_disagree_the_one_that_would_change_the_first_place_is_asked_again() -> None:
    # b comes first: with the mark gone it would all the more, with the seal broken a would.
    every, worth = doubted(said("x", "yes"), said("mark", "yes", THINK_SO), said("seal", "no", THINK_SO))
    assert set(every) == {"mark", "seal"}
    assert worth == ["seal"]


def test_the_newest_answer_is_the_one_that_is_turned_round() -> None:
    newest = Piece((said("seal", "no", THINK_SO),))
    pieces = [Piece((said("x", "yes"), said("mark", "yes", THINK_SO), said("seal", "yes"))), newest]
    ranking = rank(base(), pieces)
    assert [item.finding for item in worth_asking_again(base(), pieces, ranking)] == ["seal"]


def test_where_nothing_is_said_nothing_is_asked_again() -> None:
    assert doubted() == ([], [])
