"""Which bench tests were not made: what was read ruled them out, a reading is missing, or nobody got round to them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate.datasets import load_substances
from spotplate.engine import Record, expected_readings, expected_records, load_knowledge, make_record
from spotplate.engine.bench import NotMade, can_be_done, not_made_tests, was_made

KNOWLEDGE = load_knowledge()


def found(**readings: str) -> dict[str, NotMade]:
    """The tests that were not made, with the names of readings written with low lines."""
    record = make_record({name.replace("_", " "): value for name, value in readings.items()}, KNOWLEDGE)
    return {item.test: item for item in not_made_tests(record, KNOWLEDGE)}


@pytest.mark.parametrize("test", ["solution conductivity test", "litmus test"])
def test_what_did_not_dissolve_rules_out_every_test_of_its_solution(test: str) -> None:
    item = found(state="solid", in_water="does not dissolve")[test]
    assert not item.possible
    (need,) = item.unmet
    assert (need.reading, need.found) == ("in water", "does not dissolve")
    assert set(need.accepted) == {"dissolves", "partly dissolves", "reacts"}


@pytest.mark.parametrize("value", ["dissolves", "partly dissolves", "reacts"])
def test_what_gave_a_solution_leaves_its_tests_open(value: str) -> None:
    item = found(in_water=value)["solution conductivity test"]
    assert item.possible
    assert not item.unmet


@pytest.mark.parametrize(
    ("readings", "unclear"), [({"state": "solid"}, False), ({"state": "solid", "in_water": "unclear"}, True)]
)
def test_a_missing_or_unclear_reading_rules_nothing_out(readings: dict[str, str], unclear: bool) -> None:
    item = found(**readings)["solution conductivity test"]
    assert item.possible
    (need,) = item.unmet
    assert need.found == ""
    assert need.unclear is unclear


def test_a_test_is_out_of_reach_when_the_one_before_it_could_not_be_made() -> None:
    """What chars on the hot plate is not put into the flame, so there is no melt to try either."""
    tests = found(state="solid", in_the_warm_bath="no change", on_the_hot_plate="chars")
    assert not tests["burner test"].possible
    melt = tests["melt conductivity test"]
    assert not melt.possible
    (need,) = melt.unmet
    assert need.reading == "in the burner flame"
    assert need.out_of_reach
    assert need.found == ""


def test_a_test_waits_when_the_one_before_it_was_just_not_made() -> None:
    tests = found(state="solid", in_the_warm_bath="no change", on_the_hot_plate="no change")
    assert tests["burner test"].possible
    assert not tests["burner test"].unmet
    melt = tests["melt conductivity test"]
    assert melt.possible
    assert [need.reading for need in melt.unmet] == ["in the burner flame"]


def test_a_liquid_has_no_melting_range_and_a_solid_no_boiling_point() -> None:
    assert not found(state="liquid")["melting range test"].possible
    assert found(state="liquid")["boiling point test"].possible
    assert found(state="solid")["melting range test"].possible
    assert not found(state="solid")["boiling point test"].possible


def test_a_test_that_was_tried_or_made_in_part_is_not_among_them() -> None:
    tests = found(smell="unclear", foam="no foam")
    assert "smell" not in tests
    assert "water test" not in tests
    assert "look" in tests


def test_an_empty_record_has_made_no_test_and_ruled_none_out() -> None:
    tests = found()
    assert list(tests) == list(KNOWLEDGE.tests)
    assert all(item.possible for item in tests.values())


@given(st.data())
def test_every_test_is_made_or_told_and_can_be_done_exactly_when_nothing_is_unmet(data: st.DataObject) -> None:
    """On any record, honest or not."""
    names = data.draw(
        st.lists(st.sampled_from(sorted(name for name, kind in KNOWLEDGE.readings.items() if kind.values)), unique=True)
    )
    readings = {name: data.draw(st.sampled_from((*KNOWLEDGE.readings[name].words(), "unclear"))) for name in names}
    record = make_record(readings, KNOWLEDGE)
    told = {item.test: item for item in not_made_tests(record, KNOWLEDGE)}
    for test in KNOWLEDGE.tests.values():
        assert (test.id in told) is not was_made(test, record)
        if test.id in told:
            assert bool(told[test.id].unmet) is not can_be_done(test, record)


def test_what_an_honest_record_lacks_for_want_of_a_prerequisite_is_told_with_that_prerequisite() -> None:
    """An expected reading that the full record of a substance leaves out is one whose test had an unmet need."""
    ruled_out = 0
    for substance in load_substances()[::5]:
        record: Record = next(iter(expected_records(substance, KNOWLEDGE)))
        told = {item.test: item for item in not_made_tests(record, KNOWLEDGE)}
        for reading in expected_readings(substance, KNOWLEDGE):
            if reading not in record.readings:
                item = told[KNOWLEDGE.test_of[reading].id]
                assert item.unmet
                ruled_out += not item.possible
    assert ruled_out > 10
