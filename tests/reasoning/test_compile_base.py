"""From the knowledge to the numbers of one clock."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from diagnose.errors import InputError
from diagnose.model.entries import Applies
from diagnose.model.observations import ClockFacts
from diagnose.model.reading import read_knowledge
from diagnose.reasoning.ranking import effect_of
from diagnose.reasoning.tables import COMMONNESS, compile_base, fits
from diagnose.settings import Parameters

KNOWLEDGE = read_knowledge(Path(__file__).parent / "small_knowledge")
FLOOR = ClockFacts(family="floor", drive="weight-cable")


def with_cause(key, **changes):
    """Return the knowledge with one cause changed."""
    entry = KNOWLEDGE.causes[key].model_copy(update=changes)
    return replace(KNOWLEDGE, causes={**KNOWLEDGE.causes, key: entry})


def with_finding(key, **changes):
    entry = KNOWLEDGE.findings[key].model_copy(update=changes)
    return replace(KNOWLEDGE, findings={**KNOWLEDGE.findings, key: entry})


def odds_of(base, cause):
    return float(base.odds[base.index[cause]])


@pytest.mark.parametrize("expected", [0.1, 0.3, 0.6])
def test_odds_add_up_to_the_expected_number_of_faults(expected):
    base = compile_base(KNOWLEDGE, FLOOR, Parameters(expected_faults=expected))
    assert base.odds.sum() == pytest.approx(expected, abs=1e-12)


def test_adding_causes_does_not_add_faults():
    fewer = replace(KNOWLEDGE, causes=dict(list(KNOWLEDGE.causes.items())[:4]))
    assert compile_base(fewer, FLOOR).odds.sum() == pytest.approx(compile_base(KNOWLEDGE, FLOOR).odds.sum())


def test_words_for_how_common_keep_their_ratios():
    base = compile_base(KNOWLEDGE, FLOOR)
    ratio = odds_of(base, "crutch-set-wrong") / odds_of(base, "pin-missing")
    assert ratio == pytest.approx(COMMONNESS["very-common"] / COMMONNESS["rare"])


def test_a_family_has_its_own_word_for_how_common():
    def weight(family):
        base = compile_base(KNOWLEDGE, ClockFacts(family=family))
        return odds_of(base, "case-rocks") / odds_of(base, "pin-missing")

    assert weight("floor") == pytest.approx(4.0)
    assert weight("unknown") == pytest.approx(2.0)


def test_a_family_that_is_not_listed_takes_the_rarest_word_given():
    knowledge = with_cause("pin-missing", how_common={"floor": "common", "wall": "occasional"})
    base = compile_base(knowledge, ClockFacts(family="mantel"))
    assert odds_of(base, "pin-missing") / odds_of(base, "crutch-set-wrong") == pytest.approx(2 / 8)


def test_an_unknown_family_takes_the_mean_of_the_words_given():
    knowledge = with_cause("pin-missing", how_common={"floor": "common", "wall": "occasional"})
    base = compile_base(knowledge, ClockFacts())
    assert odds_of(base, "pin-missing") / odds_of(base, "crutch-set-wrong") == pytest.approx(3 / 8)


def test_a_cause_of_another_drive_is_left_out():
    knowledge = with_cause("pin-missing", applies=Applies(drives=("spring",)))
    assert "pin-missing" not in compile_base(knowledge, FLOOR).index
    assert "pin-missing" in compile_base(knowledge, ClockFacts(family="floor")).index


def test_a_finding_of_another_drive_is_left_out():
    knowledge = with_finding("wound", applies=Applies(drives=("spring",)))
    assert "wound" not in compile_base(knowledge, FLOOR).tables


def test_a_retired_cause_is_left_out():
    assert "pin-missing" not in compile_base(with_cause("pin-missing", status="retired"), FLOOR).index


@pytest.mark.parametrize(
    ("applies", "fitting"),
    [
        (Applies(), True),
        (Applies(families=("floor", "wall")), True),
        (Applies(families=("wall",)), False),
        (Applies(strikes=("rack",)), True),
        (Applies(families=("floor",), drives=("spring",)), False),
    ],
)
def test_an_entry_fits_where_no_known_fact_speaks_against_it(applies, fitting):
    assert fits(applies, FLOOR) is fitting


def test_links_become_the_words_probabilities():
    base = compile_base(KNOWLEDGE, FLOOR)
    table = base.tables["leader-in-crutch"]
    shown = table.given([base.index["leader-outside-crutch"]])
    leak = KNOWLEDGE.findings["leader-in-crutch"].leak
    assert isinstance(leak, float)
    assert shown[table.values.index("engaged")] == pytest.approx((1 - 0.99) * (1 - leak), abs=1e-12)


def test_raised_by_becomes_a_factor_on_the_odds():
    base = compile_base(KNOWLEDGE, FLOOR)
    table, cause = base.tables["part-fitted"], base.index["spring-kinked"]
    ratio = table.single[table.row[cause]] / table.nothing
    fitted, none = table.values.index("suspension"), table.values.index("none")
    assert ratio[fitted] / ratio[none] == pytest.approx(8.0)


def test_the_leak_of_the_settings_is_used_where_a_finding_gives_none():
    entry = KNOWLEDGE.findings["wound"]
    plain = type(entry).model_validate(entry.model_dump(exclude={"leak"}, by_alias=True))
    knowledge = replace(KNOWLEDGE, findings={**KNOWLEDGE.findings, "wound": plain})
    base = compile_base(knowledge, FLOOR, Parameters(leak=0.08))
    assert base.tables["wound"].nothing[1] == pytest.approx(0.08, abs=1e-12)


def test_a_leak_given_for_one_value_leaves_the_others_their_share():
    knowledge = with_finding("runs-for", leak={"seconds": 0.05})
    table = compile_base(knowledge, FLOOR, Parameters(leak=0.02)).tables["runs-for"]
    share = 0.02 / (len(table.values) - 1)
    expected = [0.05 if value == "seconds" else share for value in table.values[1:]]
    assert table.nothing[1:] == pytest.approx(expected, abs=1e-12)


def test_a_checkup_begins_with_nothing_wrong():
    base = compile_base(KNOWLEDGE, FLOOR, checkup=True)
    assert base.nothing_wrong == Parameters().nothing_wrong_checkup


def test_every_remedy_is_known_to_the_base():
    assert set(compile_base(KNOWLEDGE, FLOOR).remedies) == set(KNOWLEDGE.remedies)


def test_a_remedy_is_for_the_causes_that_name_it():
    base = compile_base(KNOWLEDGE, FLOOR)
    effect = effect_of("fit-new-suspension-spring", KNOWLEDGE, base)
    assert {base.causes[place] for place in effect.causes} == {"spring-kinked", "spring-cracked", "pin-missing"}
    assert effect.works == 0.85


def test_findings_that_speak_of_a_cured_cause_are_stale():
    effect = compile_base(KNOWLEDGE, FLOOR).remedies["put-the-leader-into-the-crutch"]
    assert effect.stale == {"leader-in-crutch", "tick", "runs-for"}


def test_what_a_remedy_changes_itself_is_stale_too():
    effect = compile_base(KNOWLEDGE, FLOOR).remedies["fit-new-suspension-spring"]
    assert effect.changed == {"tick-evenness"}
    assert effect.changed < effect.stale


def test_what_lies_in_the_past_is_not_made_stale_by_a_cure():
    effect = compile_base(KNOWLEDGE, FLOOR).remedies["make-the-case-steady"]
    assert "moved-lately" not in effect.stale


def test_an_unknown_remedy_is_named_with_its_neighbor():
    base = compile_base(KNOWLEDGE, FLOOR)
    with pytest.raises(InputError, match="did you mean wind-it"):
        effect_of("wind-itt", KNOWLEDGE, base)


def test_compiling_twice_gives_the_same_numbers():
    one, two = compile_base(KNOWLEDGE, FLOOR), compile_base(KNOWLEDGE, FLOOR)
    assert np.array_equal(one.odds, two.odds)
    assert all(np.array_equal(one.tables[name].pair, two.tables[name].pair) for name in one.tables)
