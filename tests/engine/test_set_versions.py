"""Several versions of a set: letters for each group, difficulty, parallel sets."""

from __future__ import annotations

from collections import Counter
from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.datasets import load_substances
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.sets import UnknownsSet, Vial, check_set, difficulty, make_key, make_versions, parallel_sets, parted_by
from spotplate.engine.sets.hazards import hazard_level, never_planned
from spotplate.engine.sets.versions import EQUALLY_HARD
from spotplate.kb import FaultyInputError, load_knowledge

KNOWLEDGE = load_knowledge()
ALL_TESTS = tuple(KNOWLEDGE.tests)
ROWS = {row.name: row for row in load_reference().rows}
SUBSTANCES = {item.name: item for item in load_substances()}
CUPBOARD = tuple(item.name for item in load_substances() if item.school_use == "students")[::2]
SIX = ("sodium chloride", "sucrose", "graphite", "citric acid monohydrate", "copper", "paraffin wax")


def make_set(*substances: str, tests: tuple[str, ...] = ALL_TESTS) -> UnknownsSet:
    return UnknownsSet("some vials", tuple(Vial(chr(65 + place), name) for place, name in enumerate(substances)), tests)


# --- letters ------------------------------------------------------------------------------------------


@settings(deadline=None)
@given(many=st.integers(1, 12), seed=st.integers(0, 10**6), data=st.data())
def test_up_to_as_many_groups_as_vials_no_letter_holds_the_same_vial_twice(many: int, seed: int, data: st.DataObject) -> None:
    groups = data.draw(st.integers(1, many))
    vials = make_set(*CUPBOARD[:many])
    versions = make_versions(vials, groups, seed)
    assert [version.group for version in versions] == list(range(1, groups + 1))
    for version in versions:
        assert [vial.label for vial in version.vials] == [vial.label for vial in vials.vials]
        assert sorted(vial.substance for vial in version.vials) == sorted(CUPBOARD[:many])
    for place in range(many):
        assert len({version.vials[place].substance for version in versions}) == groups


@settings(deadline=None)
@given(many=st.integers(3, 8), seed=st.integers(0, 10**6))
def test_beyond_that_no_two_groups_have_the_same_letters_throughout(many: int, seed: int) -> None:
    groups = 6 if many == 3 else 20  # three vials have six orders
    versions = make_versions(make_set(*CUPBOARD[:many]), groups, seed)
    assert len({version.vials for version in versions}) == groups


def test_where_orders_run_out_they_are_used_again_as_evenly_as_can_be() -> None:
    used = Counter(version.vials for version in make_versions(make_set("sucrose", "copper"), 6, 3))
    assert sorted(used.values()) == [3, 3]


def test_a_substance_that_is_there_twice_makes_two_orders_alike() -> None:
    used = Counter(version.vials for version in make_versions(make_set("sucrose", "sucrose", "copper"), 3, 1))
    assert len(used) == 3  # copper under A, B or C


def test_the_same_seed_gives_the_same_letters_and_another_seed_others() -> None:
    vials = make_set(*CUPBOARD[:8])
    assert make_versions(vials, 5, 1) == make_versions(vials, 5, 1)
    assert make_versions(vials, 5, 1) != make_versions(vials, 5, 2)


def test_a_further_group_changes_no_letters_of_those_before() -> None:
    vials = make_set(*CUPBOARD[:8])
    assert make_versions(vials, 9, 1)[:4] == make_versions(vials, 4, 1)


# --- difficulty -------------------------------------------------------------------------------------------


def test_difficulty_adds_what_the_check_and_the_key_find() -> None:
    vials = make_set(*SIX)
    found, check, key = difficulty(vials), check_set(vials), make_key(vials)
    assert found.tests == key.tests
    assert found.misleading == len({item.label for item in check.misleading})
    assert found.undecided == sum(item.alone.right is not True for item in check.conclusions)
    assert found.parted_at_least == check.parted_at_least
    assert found.number == pytest.approx(key.tests + (found.misleading + found.undecided) / 6)
    assert f"Difficulty {found.number:.2f}" in found.says
    assert f"misleads on {found.misleading} of 6" in found.says


def test_a_set_of_exceptions_is_harder_than_one_of_typical_substances() -> None:
    typical = difficulty(make_set("sodium chloride", "iron", "paraffin wax"))
    awkward = difficulty(make_set("calcium carbonate", "graphite", "iodine"))
    assert typical.misleading == 0
    assert awkward.misleading == 3
    assert awkward.number > typical.number


# --- parallel sets ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def found() -> tuple[UnknownsSet, tuple]:  # type: ignore[type-arg]
    vials = make_set(*SIX)
    return vials, parallel_sets(vials, CUPBOARD, 3, 7)


def test_parallel_sets_are_of_the_cupboard_and_of_the_same_make_up(found) -> None:  # type: ignore[no-untyped-def]
    vials, parallels = found
    assert len(parallels) == 3
    classes = Counter(SUBSTANCES[name].class_ for name in SIX)
    contents = {tuple(sorted(vial.substance for vial in vials.vials))}
    for parallel in parallels:
        names = [vial.substance for vial in parallel.unknowns_set.vials]
        assert len(set(names)) == 6
        assert set(names) <= set(CUPBOARD)
        assert Counter(SUBSTANCES[name].class_ for name in names) == classes
        assert {parallel.exchanged.get(name, name) for name in SIX} == set(names)
        contents.add(tuple(sorted(names)))
    assert len(contents) == 4  # each differs from the others and from the given one


def test_parallel_sets_are_told_apart_as_well_and_as_hard_by_their_own_check(found) -> None:  # type: ignore[no-untyped-def]
    vials, parallels = found
    ours = difficulty(vials)
    for parallel in parallels:
        names = [vial.substance for vial in parallel.unknowns_set.vials]
        weakest = min(len(parted_by(ROWS[one], ROWS[other], ALL_TESTS, KNOWLEDGE)) for one, other in combinations(names, 2))
        assert weakest >= (ours.parted_at_least or 0)
        again = difficulty(parallel.unknowns_set)
        assert again == parallel.difficulty
        assert (again.misleading, again.undecided) == (ours.misleading, ours.undecided)
        assert parallel.as_hard == (abs(again.number - ours.number) <= EQUALLY_HARD)
    assert parallels[0].as_hard


def test_parallel_sets_are_no_more_hazardous(found) -> None:  # type: ignore[no-untyped-def]
    _, parallels = found
    highest = max(hazard_level(SUBSTANCES[name], KNOWLEDGE).level for name in SIX)
    for parallel in parallels:
        for vial in parallel.unknowns_set.vials:
            assert hazard_level(SUBSTANCES[vial.substance], KNOWLEDGE).level <= highest
            assert not never_planned(SUBSTANCES[vial.substance], KNOWLEDGE)


def test_parallel_sets_follow_from_the_seed(found) -> None:  # type: ignore[no-untyped-def]
    vials, parallels = found
    assert parallel_sets(vials, CUPBOARD, 2, 7) == parallels[:2]
    assert parallel_sets(vials, CUPBOARD, 1, 8) != parallels[:1]


def test_a_cupboard_that_holds_nothing_else_gives_no_parallel_set() -> None:
    assert parallel_sets(make_set(*SIX), SIX, 2, 1) == ()


def test_a_cupboard_with_one_exchange_gives_just_that_set() -> None:
    parallels = parallel_sets(make_set("sodium chloride", "copper"), ("sodium chloride", "copper", "zinc"), 5, 1)
    assert [parallel.exchanged for parallel in parallels] in ([], [{"copper": "zinc"}])


def test_what_is_not_in_the_reference_table_is_refused() -> None:
    with pytest.raises(FaultyInputError, match="'unobtainium' is not a substance"):
        parallel_sets(make_set(*SIX), ("unobtainium",), 1, 1)
