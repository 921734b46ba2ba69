"""Checking a set: pairs, the smallest kit against brute force, what a perfect student concludes, rules of thumb."""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.sets import UnknownsSet, Vial, check_set, parted_by
from spotplate.engine.sets.checking import likeliest_readings, reachable_tests, smallest_kit
from spotplate.kb import FaultyInputError, load_knowledge

KNOWLEDGE = load_knowledge()
ALL_TESTS = tuple(KNOWLEDGE.tests)
ROWS = {row.name: row for row in load_reference().rows}


def make_set(*substances: str, tests: tuple[str, ...] = ALL_TESTS, at_least: int = 2) -> UnknownsSet:
    vials = tuple(Vial(chr(65 + place), name) for place, name in enumerate(substances))
    return UnknownsSet("some vials", vials, tests, at_least)


def needed_first(test: str) -> set[str]:
    """Every test that has to come before a test, written once more and differently from the program."""
    found: set[str] = set()
    for need in KNOWLEDGE.tests[test].needs:
        earlier = next(other.id for other in KNOWLEDGE.tests.values() if need.reading in {kind.id for kind in other.readings})
        found |= {earlier} | needed_first(earlier)
    return found


# --- tests that can be done -----------------------------------------------------------------------


def test_a_test_whose_first_test_is_missing_is_left_out_and_so_is_what_waits_for_it() -> None:
    kept, lacking = reachable_tests(("look", "hot plate test", "burner test", "water test"), KNOWLEDGE)
    assert set(kept) == {"look", "water test"}
    assert lacking == {"hot plate test": ("warm bath test",), "burner test": ("hot plate test",)}


def test_all_tests_can_be_done_when_all_are_there() -> None:
    assert reachable_tests(ALL_TESTS, KNOWLEDGE) == (ALL_TESTS, {})


# --- pairs ------------------------------------------------------------------------------------------


def test_every_pair_stands_once_with_the_tests_that_part_it() -> None:
    found = check_set(make_set("sodium chloride", "sucrose", "copper", "quartz"))
    assert [(pair.first, pair.second) for pair in found.pairs] == list(combinations("ABCD", 2))
    names = {"A": "sodium chloride", "B": "sucrose", "C": "copper", "D": "quartz"}
    for pair in found.pairs:
        expected = parted_by(ROWS[names[pair.first]], ROWS[names[pair.second]], ALL_TESTS, KNOWLEDGE)
        assert set(pair.parted_by) == expected


def test_the_same_substance_twice_is_told_apart_by_nothing() -> None:
    found = check_set(make_set("sucrose", "copper", "sucrose"))
    assert [(pair.first, pair.second) for pair in found.not_parted] == [("A", "C")]
    assert not found.kit.parts_all
    assert found.kit.parted_at_least == 0
    assert found.parted_at_least == 0


def test_a_pair_that_fewer_tests_part_than_wished_is_told() -> None:
    """Salt and sugar both dissolve: of these tests only the lamp in the solution tells them apart."""
    tests = ("look", "water test", "solution conductivity test")
    found = check_set(make_set("sodium chloride", "sucrose", tests=tests))
    assert found.parted_too_little == found.pairs
    assert found.pairs[0].parted_by == {"solution conductivity test": ("solution conductivity",)}
    assert not found.not_parted
    assert not found.kit.parts_all
    assert set(found.kit.tests) == {"water test", "solution conductivity test"}
    assert found.kit.minutes == 5  # 3 min and 2 min
    assert check_set(make_set("sodium chloride", "sucrose", tests=tests, at_least=1)).kit.parts_all


def test_a_single_vial_has_no_pair_and_needs_no_kit() -> None:
    found = check_set(make_set("sucrose"))
    assert found.pairs == ()
    assert found.parted_at_least is None
    assert found.kit.tests == ()
    assert found.kit.parts_all


# --- the smallest kit -------------------------------------------------------------------------------


def by_brute_force(pairs: list[frozenset[str]], tests: tuple[str, ...], wished: int) -> float:
    """Minutes of the smallest kit that does, of all there are [min]."""
    best = float("inf")
    for many in range(len(tests) + 1):
        for kit in combinations(tests, many):
            closed = all(needed_first(test) <= set(kit) for test in kit)
            does = all(len(parted & set(kit)) >= min(wished, len(parted & set(tests))) for parted in pairs)
            if closed and does:
                best = min(best, sum(KNOWLEDGE.tests[test].minutes for test in kit))
    return best


@settings(max_examples=40, deadline=None)
@given(
    names=st.lists(st.sampled_from(sorted(ROWS)), min_size=2, max_size=6, unique=True),
    chosen=st.sets(st.sampled_from(ALL_TESTS), min_size=1, max_size=9),
    wished=st.integers(1, 3),
)
def test_the_kit_is_as_small_as_brute_force_finds(names: list[str], chosen: set[str], wished: int) -> None:
    tests, _ = reachable_tests(tuple(chosen | {"look"}), KNOWLEDGE)
    pairs = [parted_by(ROWS[one], ROWS[other], tests, KNOWLEDGE) for one, other in combinations(names, 2)]
    kit = smallest_kit(pairs, tests, wished, KNOWLEDGE)
    assert kit.minutes == by_brute_force(pairs, tests, wished)
    assert all(needed_first(test) <= set(kit.tests) for test in kit.tests)
    assert kit.minutes == sum(KNOWLEDGE.tests[test].minutes for test in kit.tests)
    assert kit.parted_at_least == min(len(parted & set(kit.tests)) for parted in pairs)
    assert kit.parts_all == (min(len(parted) for parted in pairs) >= wished)


# --- what a perfect student concludes ---------------------------------------------------------------


def test_typical_substances_are_concluded_rightly_and_found_within_the_set() -> None:
    found = check_set(make_set("sodium chloride", "sucrose", "copper", "paraffin wax"))
    assert [item.within_set.class_ for item in found.conclusions] == [
        "ionic", "polar molecular", "metallic", "nonpolar molecular",
    ]  # fmt: skip
    assert all(item.within_set.right and item.alone.right for item in found.conclusions)
    assert all(item.likeliest_substance == item.substance for item in found.conclusions)
    assert all(item.within_set.reasons for item in found.conclusions)


def test_too_few_tests_leave_a_conclusion_open_and_it_is_then_neither_right_nor_wrong() -> None:
    found = check_set(make_set("sodium chloride", "sucrose", tests=("look",)))
    for item in found.conclusions:
        assert item.alone.kind is not VerdictKind.CONCLUSIVE
        assert item.alone.class_ is None
        assert item.alone.right is None
        assert item.alone.open_between


def test_only_readings_of_the_tests_of_the_set_are_used() -> None:
    readings = likeliest_readings("sodium chloride", ("look", "water test"), KNOWLEDGE)
    assert set(readings) == {"state", "colour", "lustre", "in water", "foam"}
    assert readings["in water"] == "dissolves"


# --- rules of thumb -----------------------------------------------------------------------------------

MISLED = [
    ("graphite", "solid-conducts-so-metal"),
    ("graphite", "shiny-so-metal"),
    ("iodine", "shiny-so-metal"),
    ("citric acid monohydrate", "solution-conducts-so-ionic"),
    ("tin", "melts-low-so-molecular"),
    ("calcium carbonate", "insoluble-so-not-ionic"),
    ("quartz", "withstands-heat-so-ionic"),
    ("sucrose", "dissolves-so-ionic"),
    ("boric acid", "flame-colour-so-ionic"),
    ("sodium hydrogensulfate monohydrate", "acidic-so-molecular"),
    ("magnesium", "burns-so-molecular"),
]
NOT_MISLED = [
    ("copper", "solid-conducts-so-metal"),
    ("sodium chloride", "solution-conducts-so-ionic"),
    ("paraffin wax", "melts-low-so-molecular"),
    ("quartz", "insoluble-so-not-ionic"),
    ("copper", "withstands-heat-so-ionic"),  # it shines, so nobody jumps to ions
]


@pytest.mark.parametrize(("substance", "rule"), [case for case in MISLED if case[0] in ROWS])
def test_a_rule_of_thumb_misleads_on_the_well_known_exceptions(substance: str, rule: str) -> None:
    found = [item for item in check_set(make_set(substance)).misleading if item.rule == rule]
    assert len(found) == 1
    assert found[0].teaches
    assert found[0].readings
    assert found[0].class_ not in found[0].jumps_to


def test_the_well_known_exceptions_are_in_the_table() -> None:
    assert len([case for case in MISLED if case[0] in ROWS]) >= 9


@pytest.mark.parametrize(("substance", "rule"), NOT_MISLED)
def test_a_rule_of_thumb_that_leads_to_the_class_does_not_mislead(substance: str, rule: str) -> None:
    assert rule not in {item.rule for item in check_set(make_set(substance)).misleading}


def test_a_rule_of_thumb_needs_its_reading_to_be_among_the_tests() -> None:
    without_look = check_set(make_set("iodine", tests=("water test",)))
    assert "shiny-so-metal" not in {item.rule for item in without_look.misleading}


# --- faults ---------------------------------------------------------------------------------------------


def test_all_faults_of_a_set_are_told_at_once() -> None:
    vials = (Vial("A", "sucrose"), Vial("A", "kryptonite"))
    with pytest.raises(FaultyInputError) as caught:
        check_set(UnknownsSet("bad", vials, ("tasting",)))
    told = str(caught.value)
    assert "'A' is given twice" in told
    assert "'kryptonite' is not a substance of the reference table" in told
    assert "'tasting' is not a bench test" in told


def test_a_set_without_a_vial_is_refused() -> None:
    with pytest.raises(FaultyInputError, match="there is no vial"):
        check_set(UnknownsSet("empty", (), ("look",)))
