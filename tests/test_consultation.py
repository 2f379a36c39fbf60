"""The consultation: events in, moments out; danger first, nothing lost, order of answers free."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from diagnose import moments
from diagnose.cases import events as ev
from diagnose.cases.case import Case
from diagnose.cases.store import Store
from diagnose.consultation import Consultation
from diagnose.errors import UsageError
from diagnose.model.observations import Answer
from diagnose.model.reading import Knowledge, read_knowledge
from diagnose.reasoning.next_step import Ask

KNOWLEDGE = read_knowledge()
ASKED = (
    "tick-evenness", "runs-for", "swing-course", "overswing", "moved-lately", "case-steady", "leaf-shape",
    "paper-in-fork", "hands-clear", "wound", "years-since-service", "crutch-follows", "bob-path", "scrape",
)  # fmt: skip


@pytest.fixture
def knowledge() -> Knowledge:
    return KNOWLEDGE


def begun(door: str = "stops", where: str = "call", store: Store | None = None) -> Consultation:
    """A consultation in which clock and person are known."""
    contact = ev.Contact("c1", where, "2031-03-12T09:30", "MB")  # type: ignore[arg-type]
    consultation = Consultation.begin(KNOWLEDGE, door, contact, "reed-close", store)
    for field, value in (("family", "floor"), ("drive", "weight-cable")):
        consultation.set_fact("clock", field, value)
    for field in ("reaches", "lifts", "helper", "tools"):
        consultation.set_fact("person", field, "yes")
    consultation.set_fact("person", "children", "no")
    return consultation


answers = st.lists(
    st.sampled_from(ASKED).flatmap(
        lambda name: st.tuples(
            st.just(name),
            st.sampled_from([*KNOWLEDGE.findings[name].values]),
            st.sampled_from(["sure", "think-so"]),
        )
    ),
    unique_by=lambda item: item[0],
    max_size=7,
)


def ranking_of(items: list[tuple[str, str, str]], tried: str | None = None) -> dict[str, float]:
    events: list[ev.Event] = [ev.Contact(), ev.FactSet("clock", "family", "floor")]
    events += [Answer(name, value, certainty) for name, value, certainty in items]  # type: ignore[arg-type]
    if tried:
        events.append(ev.Tried(tried, "done"))
    case = Case("x", "stops", KNOWLEDGE.edition, tuple(events))
    ranking = Consultation(case, KNOWLEDGE).assessment.ranking
    return {item.cause: item.probability for item in ranking.causes} | {"none": ranking.none_of_these}


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(items=answers, seed=st.randoms())
def test_the_order_of_answers_never_changes_the_ranking(items: list[tuple[str, str, str]], seed: object) -> None:
    shuffled = list(items)
    seed.shuffle(shuffled)  # type: ignore[attr-defined]
    assert ranking_of(items) == pytest.approx(ranking_of(shuffled), abs=1e-12)


@settings(max_examples=15, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(items=answers, seed=st.randoms())
def test_the_order_before_a_remedy_never_changes_the_ranking_after_it(
    items: list[tuple[str, str, str]], seed: object
) -> None:
    shuffled = list(items)
    seed.shuffle(shuffled)  # type: ignore[attr-defined]
    remedy = "set-the-beat-at-the-case"
    assert ranking_of(items, remedy) == pytest.approx(ranking_of(shuffled, remedy), abs=1e-9)


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(items=answers, extra=st.sampled_from(ASKED), data=st.data())
def test_taking_back_equals_never_having_given(
    items: list[tuple[str, str, str]], extra: str, data: st.DataObject
) -> None:
    items = [item for item in items if item[0] != extra]
    value = data.draw(st.sampled_from([*KNOWLEDGE.findings[extra].values]))
    events = [ev.Contact(), ev.FactSet("clock", "family", "floor"), Answer(extra, value)]
    events += [Answer(name, given_value, certainty) for name, given_value, certainty in items]  # type: ignore[arg-type]
    events.append(ev.TakenBack(extra))
    case = Case("x", "stops", KNOWLEDGE.edition, tuple(events))
    ranking = Consultation(case, KNOWLEDGE).assessment.ranking
    taken = {item.cause: item.probability for item in ranking.causes} | {"none": ranking.none_of_these}
    assert taken == pytest.approx(ranking_of(items), abs=1e-12)


def _walking(consultation: Consultation) -> None:
    consultation.begin_walk("set-the-beat-at-the-case")


def _proving(consultation: Consultation) -> None:
    consultation.tried("set-the-beat-at-the-case", "done")


STATES = {
    "fresh": lambda c: None,
    "after a complaint": lambda c: c.say("it limps"),
    "in a look": lambda c: c.answer("tick-evenness", "limping"),
    "walking a remedy": _walking,
    "proving": _proving,
    "out of scope": lambda c: c.answer("works-by", "battery"),
}


@pytest.mark.parametrize("state", STATES)
@pytest.mark.parametrize("words", ["there was a loud bang just now", "the weight fell down", "it smells of burning"])
def test_from_any_state_an_alarm_word_gives_the_sentence_with_no_question_between(state: str, words: str) -> None:
    consultation = begun()
    STATES[state](consultation)
    consultation.say(words)
    moment = consultation.moment
    assert isinstance(moment, moments.AlarmMoment)
    assert KNOWLEDGE.alarms[moment.alarm].say.customer


def test_an_alarm_stays_until_a_person_has_dealt_with_it() -> None:
    consultation = begun()
    consultation.say("there was a loud bang")
    consultation.answer("tick-evenness", "limping")
    assert isinstance(consultation.moment, moments.AlarmMoment)
    for alarm in consultation.alarms:
        consultation.clear_alarm(alarm)
    assert not isinstance(consultation.moment, moments.AlarmMoment)


def test_an_alarm_that_was_dealt_with_is_not_raised_by_confirming_the_same_words() -> None:
    consultation = begun()
    consultation.say("it limps since there was a loud bang")
    for alarm in consultation.alarms:
        consultation.clear_alarm(alarm)
    consultation.answer("tick-evenness", "limping", said="it limps since there was a loud bang")
    assert consultation.alarms == ()
    consultation.say("another loud bang just now")
    assert consultation.alarms


def test_tapped_times_are_read_from_their_file(tmp_path: Path) -> None:
    taps = tmp_path / "taps.txt"
    taps.write_text("\n".join(f"{beat + (0.05 if beat % 2 else 0):.3f}" for beat in range(30)))
    consultation = begun()
    heard = consultation.hear(taps)
    assert heard.beats["tool"] == "tapped"
    assert heard.beats["beats_per_hour"] == pytest.approx(3600, rel=0.01)


def test_the_complaint_comes_before_any_question() -> None:
    consultation = Consultation.begin(KNOWLEDGE, "stops")
    assert isinstance(consultation.moment, moments.ComplaintMoment)
    consultation.say("")
    assert isinstance(consultation.moment, moments.FactsMoment)


def test_words_are_offered_and_never_assumed() -> None:
    consultation = begun()
    consultation.say("it limps")
    moment = consultation.moment
    assert isinstance(moment, moments.ConfirmMoment)
    assert "tick-evenness" in {item.finding for item in moment.suggestions}
    assert consultation.assessment.findings == ()
    consultation.dismiss("tick-evenness")
    assert "tick-evenness" not in {item.finding for item in consultation.suggestions}


def test_six_looks_stand_on_one_screen_for_a_technician_who_fits_a_part() -> None:
    consultation = begun("fitting", "workshop")
    moment = consultation.moment
    assert isinstance(moment, moments.LookMoment)
    assert set(moment.findings) == set(KNOWLEDGE.doors["fitting"].looks)
    assert len(moment.findings) == 6


def test_an_owner_on_the_phone_is_only_shown_looks_that_an_owner_can_do() -> None:
    consultation = begun("fitting", "call")
    moment = consultation.moment
    assert isinstance(moment, moments.LookMoment)
    assert moment.findings
    assert all(not KNOWLEDGE.findings[name].told for name in moment.findings)


def test_cannot_tell_is_never_asked_again_and_later_goes_on_the_visit_list() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "limping")
    first = consultation.moment
    assert isinstance(first, moments.LookMoment)
    for finding in first.findings:
        consultation.cannot_tell(finding)
    for _ in range(6):
        moment = consultation.moment
        if not isinstance(moment, moments.LookMoment):
            break
        assert not set(first.findings) & set(moment.findings)
        for finding in moment.findings:
            consultation.later(finding)
    assert consultation.situation.later


def test_four_states_are_kept_apart() -> None:
    consultation = begun()
    consultation.cannot_tell("overswing")
    consultation.later("leaf-shape")
    consultation.answer("case-steady", "firm")
    states = {name: answer.state for name, answer in consultation.answers.items()}
    assert states == {"overswing": "cannot-tell", "leaf-shape": "later", "case-steady": "said"}
    assert "tick-evenness" not in states
    used = {finding.finding for finding in consultation.assessment.findings}
    assert used == {"case-steady"}


def test_a_walked_remedy_goes_step_by_step_to_its_proof_and_the_cure() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "limping")
    consultation.answer("runs-for", "minutes")
    consultation.begin_walk("set-the-beat-at-the-case")
    steps = KNOWLEDGE.remedies["set-the-beat-at-the-case"].steps
    for number in range(len(steps)):
        moment = consultation.moment
        assert isinstance(moment, moments.StepMoment)
        assert moment.step == number
        consultation.step_right()
    moment = consultation.moment
    assert isinstance(moment, moments.ProofMoment)
    for proof in KNOWLEDGE.remedies["set-the-beat-at-the-case"].proof:
        consultation.answer(proof.finding, proof.value)
    assert isinstance(consultation.moment, moments.CuredMoment)
    ranking = consultation.assessment.ranking
    assert ranking.nothing_wrong > ranking.causes[0].probability


def test_not_so_is_an_answer_and_the_consultation_goes_on_from_it() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "limping")
    consultation.begin_walk("set-the-beat-at-the-case")
    step = KNOWLEDGE.remedies["set-the-beat-at-the-case"].steps[0]
    way = next(number for number, item in enumerate(step.not_so) if item.go == "rethink" and item.finding)
    consultation.step_not_so(way)
    assert consultation.walk is None
    recorded = consultation.answers[step.not_so[way].finding]
    assert recorded.value == step.not_so[way].value
    assert consultation.answers["tick-evenness"].value == "limping"


def test_the_last_step_can_be_gone_back_to() -> None:
    consultation = begun()
    consultation.begin_walk("set-the-beat-at-the-case")
    consultation.step_right()
    consultation.back()
    assert consultation.walk is not None
    assert consultation.walk.step == 0


def test_a_remedy_that_changed_nothing_leaves_its_cause_less_likely_but_the_complaint_known() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "limping")
    consultation.answer("moved-lately", "yes")
    before = {item.cause: item.probability for item in consultation.assessment.ranking.causes}
    consultation.tried("set-the-beat-at-the-case", "no-change")
    after = {item.cause: item.probability for item in consultation.assessment.ranking.causes}
    assert after["case-out-of-beat"] < before["case-out-of-beat"]
    assert "tick-evenness" in {finding.finding for finding in consultation.assessment.findings}


def test_a_killed_program_resumes_with_nothing_lost(tmp_path: Path) -> None:
    store = Store(f"sqlite:///{tmp_path / 'c.sqlite'}")
    consultation = begun(store=store)
    consultation.say("it limps")
    consultation.answer("tick-evenness", "limping", "think-so")
    consultation.begin_walk("set-the-beat-at-the-case")
    consultation.step_right()
    again = Consultation.resume(KNOWLEDGE, Store(f"sqlite:///{tmp_path / 'c.sqlite'}"), str(consultation.kept_as))
    assert again.case.events == consultation.case.events
    assert again.moment == consultation.moment
    again.step_right()
    assert again.walk is not None


def test_what_cannot_be_kept_does_not_count(tmp_path: Path) -> None:
    store = Store(f"sqlite:///{tmp_path / 'c.sqlite'}")
    consultation = begun(store=store)
    count = len(consultation.case.events)
    with pytest.raises(UsageError, match="did you mean limping"):
        consultation.answer("tick-evenness", "limpin")
    assert len(consultation.case.events) == count


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda c: c.answer("tick-evennes", "even"), "did you mean tick-evenness"),
        (lambda c: c.begin_walk("hang-the-pendulm"), "did you mean hang-the-pendulum"),
        (lambda c: c.set_fact("clock", "family", "flor"), "did you mean floor"),
        (lambda c: c.set_fact("clock", "colour", "brown"), "unknown clock field 'colour'"),
        (lambda c: c.set_fact("clock", "beats_per_hour", "many"), "is not a number above 0"),
        (lambda c: c.step_right(), "no remedy is being walked"),
        (lambda c: c.conclude("cured", "spring-kinkd"), "did you mean spring-kinked"),
        (lambda c: c.raise_alarm("bangs"), "did you mean bang"),
    ],
)
def test_a_wrong_word_is_told_with_a_way_out(call: object, told: str) -> None:
    with pytest.raises(UsageError, match=told):
        call(begun())  # type: ignore[operator]


def test_a_clock_of_another_kind_is_referred() -> None:
    consultation = begun()
    consultation.answer("works-by", "battery")
    assert isinstance(consultation.moment, moments.ScopeMoment)


def test_a_clock_nothing_is_wrong_with_is_told_so() -> None:
    consultation = begun("checking", "workshop")
    for _ in range(25):
        moment = consultation.moment
        if not isinstance(moment, moments.LookMoment):
            break
        for finding in moment.findings:
            entry = KNOWLEDGE.findings[finding]
            consultation.answer(finding, entry.normal or max(entry.base or {}, key=(entry.base or {}).__getitem__))
    assert isinstance(consultation.moment, moments.EnoughMoment)
    assert consultation.assessment.ranking.causes[0].probability <= 0.10


def test_the_plan_never_asks_what_is_closed_or_beyond_the_one_at_the_clock() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "limping")
    plan = consultation.plan
    asked = [step.finding for step in (plan.step, *plan.others) if isinstance(step, Ask)]
    assert asked
    assert "tick-evenness" not in asked
    assert all(not KNOWLEDGE.findings[name].told for name in asked)


@pytest.mark.parametrize(
    ("finding", "value", "remedy"),
    # Common practice, no source: what may fall is propped, what races is stilled, before anything else is asked.
    [
        ("pin-seen", "missing", "soft-block-and-refer"),
        ("leaf-cracked", "cracked", "soft-block-and-refer"),
        ("tick", "gallops", "still-the-crutch-and-refer"),
    ],
)
def test_on_the_phone_a_danger_is_made_safe_before_any_further_question(finding: str, value: str, remedy: str) -> None:
    consultation = begun()
    consultation.answer(finding, value)
    moment = consultation.moment
    assert isinstance(moment, moments.AdviceMoment)
    assert moment.remedy == remedy
    assert not KNOWLEDGE.remedies[remedy].cures
    consultation.tried(remedy, "done")
    assert isinstance(consultation.moment, moments.ReferMoment)


def test_going_on_in_a_visit_lets_a_technician_look() -> None:
    consultation = begun()
    consultation.answer("tick-evenness", "even")
    consultation.answer("runs-for", "minutes")
    consultation.new_contact(ev.Contact("c2", "visit", "2031-03-14T10:00", "IT"))
    consultation.answer("swing-size", "small")
    assert consultation.answers["swing-size"].source == "seen"
    assert consultation.answers["tick-evenness"].source == "told"
