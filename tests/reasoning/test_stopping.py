"""The chance that the first place stays."""

import numpy as np
import pytest

from diagnose.reasoning.stopping import chance_it_stays, enough_from, first_place, places_of
from diagnose.settings import DEFAULT

SETS = ((), (0,), (1,), (0, 1))
PLACES = places_of(SETS, 2)


def question(yes):
    """Return the chance of no and yes for each set and for a fault not on the list."""
    return np.stack([1 - np.array(yes), np.array(yes)], axis=1)[:, None, :]


def test_places_know_causes_nothing_wrong_and_not_on_the_list():
    assert PLACES.tolist() == [[0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0], [1, 1, 0, 0], [0, 0, 0, 1]]


def test_the_first_place_counts_a_cause_alone_and_together():
    weights = np.array([0.3, 0.2, 0.25, 0.2, 0.05])
    assert first_place(weights, PLACES) == 1


def test_with_nothing_left_to_ask_it_stays():
    weights = np.array([0.0, 0.6, 0.4, 0.0, 0.0])
    assert chance_it_stays(weights, PLACES, np.zeros((5, 0, 2)), 0.15) == 1.0


def test_a_question_that_tells_nothing_leaves_it():
    weights = np.array([0.0, 0.6, 0.4, 0.0, 0.0])
    assert chance_it_stays(weights, PLACES, question([0.3] * 5), 0.15) == 1.0


def test_a_question_that_tells_all_leaves_it_as_often_as_it_is_right():
    weights = np.array([0.0, 0.75, 0.25, 0.0, 0.0])
    stays = chance_it_stays(weights, PLACES, question([0.5, 1.0, 0.0, 0.5, 0.5]), 0.0, draws=400)
    assert stays == pytest.approx(0.75, abs=0.01)


def test_cannot_tell_leaves_it():
    weights = np.array([0.0, 0.75, 0.25, 0.0, 0.0])
    stays = chance_it_stays(weights, PLACES, question([0.5, 1.0, 0.0, 0.5, 0.5]), 0.4, draws=4000)
    assert stays == pytest.approx(0.75 + 0.25 * 0.4, abs=0.02)


def test_the_same_state_gives_the_same_figure():
    weights = np.array([0.1, 0.4, 0.3, 0.1, 0.1])
    said = question([0.1, 0.8, 0.3, 0.8, 0.4])
    assert chance_it_stays(weights, PLACES, said, 0.15) == chance_it_stays(weights, PLACES, said, 0.15)


def test_the_chance_agrees_with_all_answers_counted_out():
    # One two-valued question that is answered for certain: the exact chance is the share of answers after
    # which the first place is the same.
    weights = np.array([0.05, 0.45, 0.35, 0.10, 0.05])
    said = question([0.1, 0.2, 0.9, 0.9, 0.5])
    exact = sum(
        float(weights @ said[:, 0, value])
        for value in (0, 1)
        if first_place(weights * said[:, 0, value], PLACES) == first_place(weights, PLACES)
    )
    assert chance_it_stays(weights, PLACES, said, 0.0, draws=4000) == pytest.approx(exact, abs=0.02)


def test_a_call_is_content_with_less_than_a_visit():
    assert enough_from("call", DEFAULT) == 0.95
    assert enough_from("visit", DEFAULT) == enough_from("workshop", DEFAULT) == 0.98
