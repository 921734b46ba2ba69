"""The state of a bench session: what is asked next, what is taken back, and what stays with each vial."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.engine import FaultyInputError, Record, identify, make_record
from spotplate.engine.bench.memory import Memory, VialMemory
from spotplate.engine.bench.session import Session, Standing
from spotplate.engine.bench.session import tests_without as without_apparatus  # its own name looks like a test
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
SALT = {"state": "solid", "colour": "white", "lustre": "glassy"}
SETTLED = {
    **SALT, "dry conductivity": "no", "in water": "dissolves", "foam": "no", "solution conductivity": "bright glow",
    "solution acidity": "neutral", "deformation": "brittle", "on the hot plate": "no change", "flame colour": "lilac",
}  # fmt: skip


def record_of(readings: Mapping[str, str]) -> Record:
    return make_record(readings, KNOWLEDGE)


def session_on(memory: Memory | None = None, **vials: Mapping[str, str]) -> Session:
    """A session on these vials; one empty vial A when none is given."""
    records = {label: record_of(readings) for label, readings in (vials or {"A": {}}).items()}
    return Session(records, memory or Memory(), KNOWLEDGE)


def read(session: Session, reading: str, value: str) -> None:
    """Write a reading down as the command does: first into the record, then tell the session."""
    record = session.record
    made = make_record({reading: value}, KNOWLEDGE)
    session.records[session.vial] = msgspec.structs.replace(
        record, readings={**record.readings, **made.readings}, unclear=(*record.unclear, *made.unclear)
    )
    session.answered(reading)


def take_back(session: Session, reading: str) -> None:
    record = session.record
    unclear = tuple(name for name in record.unclear if name != reading)
    session.records[session.vial] = msgspec.structs.replace(record.without(reading), unclear=unclear)
    session.taken_back(reading)


def asked(session: Session) -> str | None:
    question = session.question()
    return question.reading.id if question else None


def standing(session: Session, test: str) -> Standing:
    return next(item for item in session.standings() if item.test.id == test)


# --- questions -------------------------------------------------------------------------------------


def test_nothing_is_asked_before_a_test_is_begun() -> None:
    assert session_on().question() is None


@pytest.mark.parametrize("test", ["look", "water test", "dilute acid test"])
def test_a_test_asks_for_its_readings_in_the_order_of_the_knowledge_base_and_then_for_none(test: str) -> None:
    session = session_on(A={"in water": "dissolves"} if test == "dilute acid test" else {})
    session.begin(test)
    order = []
    while name := asked(session):
        order.append(name)
        read(session, name, KNOWLEDGE.readings[name].words()[0])
        assert len(order) < 10
    assert order == [kind.id for kind in KNOWLEDGE.tests[test].readings]


def test_what_was_read_already_is_not_asked_again() -> None:
    session = session_on(A={"state": "solid", "lustre": "glassy"})
    session.begin("look")
    assert asked(session) == "colour"


def test_what_could_not_be_told_is_not_asked_again() -> None:
    session = session_on()
    session.begin("look")
    read(session, "state", "unclear")
    assert asked(session) == "colour"


def test_what_is_passed_over_is_not_asked_again_and_leaves_the_record_as_it_is() -> None:
    session = session_on()
    session.begin("look")
    before = session.record
    session.pass_over("state")
    assert asked(session) == "colour"
    assert session.record == before


def test_a_test_begun_anew_asks_for_what_was_passed_over() -> None:
    session = session_on()
    session.begin("look")
    session.pass_over("state")
    session.begin("look")
    assert asked(session) == "state"


def test_a_reading_passed_over_and_made_after_all_counts_as_made() -> None:
    session = session_on()
    session.begin("look")
    session.pass_over("state")
    read(session, "state", "solid")
    assert session.of_vial.passed == ()
    assert session.order() == ["state"]


def test_a_test_put_aside_is_asked_no_further_and_not_proposed_until_it_is_chosen() -> None:
    session = session_on()
    first = session.proposals()[0].test
    session.begin(first)
    session.leave()
    assert session.question() is None
    assert first not in {proposal.test for proposal in session.proposals()}
    session.begin(first)
    assert session.question() is not None
    session.leave()
    session.leave()  # nothing is under way now
    assert session.of_vial.left_out == (first,)


def test_a_test_the_teacher_has_not_agreed_to_is_left_out_and_another_under_way_goes_on() -> None:
    session = session_on()
    session.begin("look")
    session.decline("smell")
    assert asked(session) == "state"
    assert "smell" in session.of_vial.refused
    session.decline("look")
    assert session.question() is None


def test_a_test_that_can_no_longer_be_done_is_not_asked_further() -> None:
    """The liquid of the water test is gone when the reading it needs is taken back by another hand."""
    session = session_on(A={"in water": "dissolves"})
    session.begin("solution conductivity test")
    assert asked(session) == "solution conductivity"
    session.records["A"] = record_of({"in water": "does not dissolve"})
    assert session.question() is None


def test_a_memory_of_a_test_that_is_no_more_asks_nothing() -> None:
    session = session_on(Memory(vials={"A": VialMemory(doing="alchemy", order=("gold",), passed=("gold",))}))
    assert session.question() is None
    assert session.order() == []


# --- taking back -----------------------------------------------------------------------------------


def test_there_is_nothing_to_take_back_at_first() -> None:
    assert session_on().last() is None


def test_back_goes_step_by_step_through_all_that_was_made_tried_or_passed_over() -> None:
    session = session_on()
    session.begin("look")
    session.pass_over("state")
    read(session, "colour", "white")
    read(session, "lustre", "unclear")
    session.begin("water test")
    session.pass_over("in water")
    read(session, "foam", "no foam")
    steps = []
    while (name := session.last()) is not None:
        steps.append(name)
        take_back(session, name)
        assert asked(session) == name
        assert len(steps) < 10
    assert steps == ["foam", "in water", "lustre", "colour", "state"]


def test_a_reading_taken_back_puts_its_test_under_way_again() -> None:
    session = session_on(A=SALT)
    session.begin("dry conductivity test")
    take_back(session, "colour")
    assert session.of_vial.doing == "look"
    assert asked(session) == "colour"
    read(session, "colour", "black")
    assert session.question() is None
    assert session.order()[-1] == "colour"


def test_a_reading_taken_back_brings_its_test_back_when_that_was_put_aside() -> None:
    session = session_on()
    session.begin("look")
    read(session, "state", "solid")
    session.leave()
    take_back(session, "state")
    assert session.of_vial.left_out == ()
    assert asked(session) == "state"


def test_a_test_that_the_teacher_has_not_agreed_to_is_not_put_under_way_by_taking_back() -> None:
    """A smell that stands in a file written by hand: nobody was asked here."""
    session = session_on(A={"smell": "smell"})
    take_back(session, "smell")
    assert session.question() is None
    session.agree("smell")
    session.begin("smell")
    read(session, "smell", "smell")
    take_back(session, "smell")
    assert asked(session) == "smell"


def test_taking_back_and_answering_again_leaves_the_same_result() -> None:
    session = session_on(A=SETTLED)
    before = session.result()
    take_back(session, "in water")
    assert session.result() != before
    read(session, "in water", "dissolves")
    again = session.result()
    assert [(item.class_, item.probability) for item in again.ranking] == [
        (item.class_, pytest.approx(item.probability)) for item in before.ranking
    ]


def test_readings_of_a_file_edited_by_hand_come_before_those_of_the_session() -> None:
    session = session_on(A={"magnet": "not attracted", "smell": "unclear", "colour": "white"})
    read(session, "state", "solid")
    assert session.order() == ["magnet", "colour", "smell", "state"]
    assert session.last() == "state"


def test_a_reading_taken_out_of_the_file_by_hand_is_forgotten() -> None:
    session = session_on()
    read(session, "state", "solid")
    read(session, "colour", "white")
    session.records["A"] = session.record.without("colour")
    assert session.order() == ["state"]
    assert session.last() == "state"


def test_a_reading_passed_over_and_then_written_into_the_file_by_hand_is_a_reading() -> None:
    session = session_on()
    session.begin("look")
    session.pass_over("state")
    session.records["A"] = record_of({"state": "solid"})
    assert session.order() == ["state"]
    assert asked(session) == "colour"


# --- vials -----------------------------------------------------------------------------------------


def test_each_vial_keeps_its_place() -> None:
    session = session_on(A={}, B={})
    session.begin("look")
    read(session, "state", "solid")
    session.pass_over("colour")
    session.switch("B")
    assert session.question() is None
    session.begin("water test")
    session.decline("smell")
    session.switch("A")
    assert asked(session) == "lustre"
    assert session.of_vial.left_out == ()
    session.switch("B")
    assert asked(session) == "in water"
    assert session.record == Record({})


def test_an_unknown_vial_is_refused_with_the_nearest_one_and_the_one_at_hand_stays() -> None:
    session = session_on(left={}, right={})
    with pytest.raises(FaultyInputError, match=r"no vial 'rigth'; did you mean 'right'\? Vials: left, right\."):
        session.switch("rigth")
    assert session.vial == "left"


def test_a_session_goes_on_with_the_vial_it_was_left_at_or_the_first_when_that_is_gone() -> None:
    assert session_on(Memory(vial="B"), A={}, B={}).vial == "B"
    assert session_on(Memory(vial="gone"), A={}, B={}).vial == "A"


def test_what_is_remembered_is_enough_to_go_on_exactly_where_the_session_was_left() -> None:
    session = session_on(A={}, B={})
    session.confirm_prepared()
    session.begin("look")
    session.pass_over("state")
    read(session, "colour", "white")
    session.agree("smell")
    session.decline("burner test")
    session.switch("B")
    kept = msgspec.json.decode(msgspec.json.encode(session.memory), type=Memory)
    again = Session(session.records, kept, KNOWLEDGE)
    assert again.memory == session.memory
    again.switch("A")
    assert asked(again) == "lustre"
    assert again.last() == "colour"
    assert again.memory.of("A").prepared
    assert not again.memory.of("B").prepared


# --- standings -------------------------------------------------------------------------------------


def test_every_test_has_a_standing_in_the_order_of_the_knowledge_base() -> None:
    for vial in ({}, SALT, SETTLED):
        standings = session_on(A=vial).standings()
        assert [item.test.id for item in standings] == list(KNOWLEDGE.tests)
        assert not any(item.done and item.ready for item in standings)
        assert all(item.why for item in standings if not item.ready)


# (readings, test, what is said of it, whether it can be begun)
STANDINGS: list[tuple[dict[str, str], str, str, bool]] = [
    ({}, "look", "", True),
    ({}, "water test", "", True),
    ({}, "dry conductivity test", "needs “state” first", False),
    (SALT, "look", "done", False),
    ({"state": "solid"}, "look", "", True),  # two readings are still to be made
    (SALT, "dry conductivity test", "", True),
    (SALT, "boiling point test", "not after “state: solid”", False),
    (SALT, "litmus test", "needs “in water” first", False),
    ({**SALT, "in water": "does not dissolve"}, "litmus test", "not after “in water: does not dissolve”", False),
    ({**SALT, "in water": "unclear"}, "litmus test", "needs “in water” first", False),
    ({"state": "unclear", "colour": "white", "lustre": "dull"}, "look", "done", False),
]


@pytest.mark.parametrize(("readings", "test", "why", "ready"), STANDINGS)
def test_a_standing_tells_why_a_test_cannot_be_done(readings: dict[str, str], test: str, why: str, ready: bool) -> None:
    found = standing(session_on(A=readings), test)
    assert (found.why, found.ready, found.done) == (why, ready, why == "done")


def test_a_test_without_its_apparatus_cannot_be_begun_and_is_not_proposed() -> None:
    session = session_on(Memory(missing=("look", "water test")))
    assert standing(session, "look").why == "apparatus not on this bench"
    assert not standing(session, "look").ready
    assert not {"look", "water test"} & {proposal.test for proposal in session.proposals()}


def test_a_test_left_out_can_be_begun_all_the_same() -> None:
    session = session_on()
    session.decline("smell")
    assert standing(session, "smell") == Standing(
        KNOWLEDGE.tests["smell"], done=False, ready=True, why="the teacher did not agree"
    )
    session.begin("smell")
    assert standing(session, "smell").why == ""


def test_a_test_of_which_everything_was_passed_over_is_left_out_and_not_done() -> None:
    session = session_on()
    session.begin("smell")
    session.pass_over("smell")
    found = standing(session, "smell")
    assert (found.done, found.ready, found.why) == (False, True, "not tested: smell")
    assert "smell" not in {proposal.test for proposal in session.proposals()}
    session.begin("smell")
    assert asked(session) == "smell"


@settings(deadline=None, max_examples=60)
@given(st.data())
def test_a_test_is_ready_exactly_when_something_is_to_be_read_and_its_needs_are_met(data: st.DataObject) -> None:
    kinds = [kind for kind in KNOWLEDGE.readings.values() if kind.values]
    chosen = data.draw(st.lists(st.sampled_from(kinds), unique=True, max_size=12))
    readings = {kind.id: data.draw(st.sampled_from((*kind.words(), "unclear"))) for kind in chosen}
    session = session_on(A=readings)
    for item in session.standings():
        pending = [kind for kind in item.test.readings if kind.id not in readings]
        met = all(readings.get(need.reading or "") in need.is_ for need in item.test.needs)
        assert item.done is (not pending)
        assert item.ready is (bool(pending) and met)


# --- apparatus -------------------------------------------------------------------------------------


def test_missing_apparatus_rules_out_every_test_that_needs_it() -> None:
    found = without_apparatus(["conductivity tester"], KNOWLEDGE)
    assert set(found) == {"dry conductivity test", "solution conductivity test", "melt conductivity test"}
    with_burner = {test.id for test in KNOWLEDGE.tests.values() if "burner" in test.apparatus}
    assert {"burner test", "flame colour test"} <= with_burner
    assert with_burner <= set(without_apparatus(["  Burner "], KNOWLEDGE))


@pytest.mark.parametrize("item", sorted({item for test in KNOWLEDGE.tests.values() for item in test.apparatus}))
def test_every_apparatus_may_be_named_as_it_is_listed(item: str) -> None:
    found = set(without_apparatus([item], KNOWLEDGE))
    assert {test.id for test in KNOWLEDGE.tests.values() if item in test.apparatus} <= found


def test_a_test_may_be_named_itself_and_several_names_add_up_once() -> None:
    assert without_apparatus(["magnet"], KNOWLEDGE) == ("magnet",)
    assert without_apparatus(["smell", "magnet", "smell"], KNOWLEDGE) == ("smell", "magnet")
    assert without_apparatus([], KNOWLEDGE) == ()


def test_every_unknown_apparatus_is_told_with_the_nearest_name() -> None:
    with pytest.raises(FaultyInputError) as caught:
        without_apparatus(["hot plte", "magnet", " ", "cyclotron"], KNOWLEDGE)
    assert len(caught.value.faults) == 3
    assert "did you mean 'hot plate'" in str(caught.value)


# --- results ---------------------------------------------------------------------------------------


def test_the_result_is_that_of_identify_on_the_same_record() -> None:
    session = session_on(A=SALT)
    ours, theirs = session.result(), identify(record_of(SALT), KNOWLEDGE)
    assert ours.verdict == theirs.verdict
    assert ours.next_tests == theirs.next_tests


def test_a_result_follows_the_record_the_set_and_what_is_left_out() -> None:
    session = session_on(A=SALT)
    first = session.result()
    assert session.result() is first  # not worked out twice
    proposed = first.next_tests[0].test
    session.decline(proposed)
    assert proposed not in {test.test for test in session.result().next_tests}
    session.memory = msgspec.structs.replace(session.memory, among=("sodium chloride", "sucrose"))
    assert {item.name for item in session.result().candidates.best} == {"sodium chloride", "sucrose"}


def test_another_vials_result_can_be_had_without_taking_it_in_hand() -> None:
    session = session_on(A={}, B=SETTLED)
    assert session.result("B").verdict.class_ == "ionic"
    assert session.vial == "A"
    assert not session.settled()
    session.switch("B")
    assert session.settled()


def test_a_test_is_not_proposed_for_readings_that_were_all_tried_or_passed_over() -> None:
    session = session_on()
    session.begin("water test")
    read(session, "foam", "unclear")
    session.pass_over("in water")
    assert "water test" not in {proposal.test for proposal in session.proposals()}


def test_an_assessment_proposes_nothing_and_asks_all_the_same() -> None:
    session = session_on(Memory(assessment=True))
    assert session.proposals() == ()
    session.begin("look")
    assert asked(session) == "state"
    assert session_on().proposals()


# --- any way through a session ---------------------------------------------------------------------

STEPS = ("answer", "unclear", "pass", "leave", "back", "begin", "switch")


@settings(deadline=None, max_examples=40)
@given(st.lists(st.tuples(st.sampled_from(STEPS), st.integers(0, 50)), max_size=30))
def test_whatever_is_done_questions_are_open_ones_and_steps_name_each_reading_once(steps: list[tuple[str, int]]) -> None:
    session = session_on(A={}, B={"state": "solid"})
    walk: dict[str, Callable[[int], Any]] = {
        "answer": functools.partial(_answer, session),
        "unclear": lambda _: (name := asked(session)) and read(session, name, "unclear"),
        "pass": lambda _: (name := asked(session)) and session.pass_over(name),
        "leave": lambda _: session.leave(),
        "back": lambda _: (name := session.last()) and take_back(session, name),
        "begin": functools.partial(_begin_any, session),
        "switch": lambda number: session.switch("AB"[number % 2]),
    }
    for step, number in steps:
        walk[step](number)
        made = {*session.record.readings, *session.record.unclear}
        assert sorted(session.order()) == sorted(made)
        assert not set(session.of_vial.passed) & made
        assert (session.last() is None) is (not made and not session.of_vial.passed)
        name = asked(session)
        if name is not None:
            test = KNOWLEDGE.tests[session.of_vial.doing]
            assert name not in made
            assert name not in session.of_vial.passed
            assert all(session.record.readings.get(need.reading or "") in need.is_ for need in test.needs)


def _answer(session: Session, number: int) -> None:
    name = asked(session)
    if name is not None:
        kind = KNOWLEDGE.readings[name]
        read(session, name, kind.words()[number % len(kind.values)] if kind.values else "1.5")


def _begin_any(session: Session, number: int) -> None:
    ready = [item.test.id for item in session.standings() if item.ready]
    if ready:
        session.begin(ready[number % len(ready)])
