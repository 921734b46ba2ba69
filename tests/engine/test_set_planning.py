"""Planned sets are the best there are, by brute force; clashes are told with what helps."""

from __future__ import annotations

import doctest
import random
from collections.abc import Iterator, Sequence
from itertools import chain, combinations
from typing import Any

import msgspec
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spotplate.datasets import Substance, load_hazard_statements, load_substances
from spotplate.engine.expected import expected_readings
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.resemblance import fit_of_number, number_fits
from spotplate.engine.sets import Plan, Progress, Wishes, Worth, parted_by, plan_set, planning
from spotplate.engine.sets.amounts import Amount
from spotplate.engine.sets.bits import bits_of, numbers_in
from spotplate.engine.sets.choosing import Question, Quota, Search
from spotplate.engine.sets.compatibility import parted_by_test
from spotplate.engine.sets.hazards import hazard_level, never_planned
from spotplate.kb import FaultyInputError, Interval, load_knowledge

KNOWLEDGE = load_knowledge()
SUBSTANCES = {substance.name: substance for substance in load_substances()}
ROWS = {row.name: row for row in load_reference().rows}
FOR_STUDENTS = [name for name, substance in SUBSTANCES.items() if substance.school_use == "students"]
CLASSES = list(KNOWLEDGE.classes)
CUPBOARD = sorted(SUBSTANCES)

# --- brute force ----------------------------------------------------------------------------------


def some_of(items: Sequence[Any]) -> Iterator[tuple[Any, ...]]:
    """Every subset."""
    return chain.from_iterable(combinations(items, many) for many in range(len(items) + 1))


def can_be_done(kit: Sequence[str]) -> bool:
    """Whether each test's needs are read by tests of the kit."""
    read = {kind.id for test in kit for kind in KNOWLEDGE.tests[test].readings}
    return all(need.reading in read for test in kit for need in KNOWLEDGE.tests[test].needs)


def level(name: str) -> int:
    return hazard_level(SUBSTANCES[name], KNOWLEDGE).level


def awkward(name: str) -> bool:
    subtype = SUBSTANCES[name].subtype
    return subtype not in ("", *KNOWLEDGE.set_planning.plain)


def may_be_planned(name: str, wishes: Wishes) -> bool:
    substance = SUBSTANCES[name]
    return (
        not never_planned(substance, KNOWLEDGE)
        and name not in wishes.forbid
        and (substance.school_use == "students" or name in wishes.require)
        and (wishes.hazard is None or level(name) <= wishes.hazard)
    )


def meets(names: Sequence[str], wishes: Wishes) -> bool:
    """Whether a choice meets every wish but that of being told apart."""
    rows = [SUBSTANCES[name] for name in names]
    return (
        set(wishes.require) <= set(names)
        and all(may_be_planned(name, wishes) for name in names)
        and all(sum(row.class_ == class_ for row in rows) >= least for class_, least in wishes.of_class.items())
        and all(
            sum(map(awkward, names)) == count if kind == "any" else sum(row.subtype == kind for row in rows) >= count
            for kind, count in wishes.awkward.items()
        )
    )


def best_by_brute_force(names: Sequence[str], wishes: Wishes) -> Worth | None:
    """The worth of the best set, by looking at every choice with every kit."""
    tests = wishes.tests or tuple(KNOWLEDGE.tests)
    kits = [(sum(KNOWLEDGE.tests[test].minutes for test in kit), set(kit)) for kit in some_of(tests) if can_be_done(kit)]
    kits = [(minutes, kit) for minutes, kit in kits if wishes.minutes is None or minutes <= wishes.minutes]
    apart = {(a, b): parted_by(ROWS[a], ROWS[b], tests, KNOWLEDGE) for a, b in combinations(sorted(set(names)), 2)}
    found: list[tuple[float, int, int]] = []
    for chosen in combinations(sorted(set(names)), wishes.vials):
        if not meets(chosen, wishes):
            continue
        spread = len({SUBSTANCES[name].class_ for name in chosen}) + len(
            {SUBSTANCES[name].subtype or SUBSTANCES[name].class_ for name in chosen}
        )
        for minutes, kit in kits:
            if all(len(apart[pair] & kit) >= wishes.told_apart_by for pair in combinations(chosen, 2)):
                found.append((minutes, sum(map(level, chosen)), -spread))
    if not found:
        return None
    minutes, hazard, spread = min(found)
    return Worth(minutes, hazard, -spread)


@st.composite
def cupboards_and_wishes(draw: st.DrawFn) -> tuple[list[str], Wishes]:
    # Some of one class and some of a kind make clashes and equal profiles likelier than a draw from the whole table.
    class_ = draw(st.sampled_from(CLASSES))
    alike = [name for name in CUPBOARD if SUBSTANCES[name].class_ == class_]
    names = draw(st.lists(st.sampled_from(alike), min_size=1, max_size=4, unique=True))
    names += draw(st.lists(st.sampled_from(FOR_STUDENTS), min_size=2, max_size=6, unique=True))
    names = sorted(set(names))
    tests = ("look", *draw(st.lists(st.sampled_from(list(KNOWLEDGE.tests)), min_size=3, max_size=7, unique=True)))
    counts = st.integers(0, 2)
    kinds = ["any", *sorted({SUBSTANCES[name].subtype for name in names} - {""})]
    wishes = Wishes(
        vials=draw(st.sampled_from([number for number in (1, 2, 3, 3, 4, 4, 5) if number <= len(names)])),
        of_class=draw(
            st.just({}) | st.dictionaries(st.sampled_from([SUBSTANCES[name].class_ for name in names]), counts, max_size=2)
        ),
        tests=tuple(dict.fromkeys(tests)),
        minutes=draw(st.none() | st.sampled_from([5, 8, 12])),
        hazard=draw(st.none() | st.none() | st.integers(0, 4)),
        awkward=draw(st.just({}) | st.dictionaries(st.sampled_from(kinds), counts, max_size=2)),
        require=tuple(draw(st.just([]) | st.lists(st.sampled_from(names), max_size=1))),
        forbid=tuple(draw(st.lists(st.sampled_from(names), max_size=1))),
        told_apart_by=draw(st.integers(1, 3)),
        seed=draw(st.integers(0, 5)),
    )
    return names, msgspec.structs.replace(wishes, forbid=tuple(name for name in wishes.forbid if name not in wishes.require))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cupboards_and_wishes())
def test_the_planned_set_is_as_good_as_the_best_by_brute_force(asked: tuple[list[str], Wishes]) -> None:
    names, wishes = asked
    plan = plan_set(names, wishes, KNOWLEDGE, seconds=None)
    best = best_by_brute_force(names, wishes)
    assert plan.proved
    assert plan.worth == best
    if best is None:
        assert plan.set is None
        assert plan.conflict
    else:
        assert_is_what_it_says(plan)


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(cupboards_and_wishes())
def test_every_relaxation_helps_by_brute_force(asked: tuple[list[str], Wishes]) -> None:
    names, wishes = asked
    plan = plan_set(names, msgspec.structs.replace(wishes, tests=wishes.tests[:4]), KNOWLEDGE, seconds=None)
    assert plan.set or plan.relaxations or plan.conflict == ("no substance of the cupboard may be given to students",)
    for relaxation in plan.relaxations:
        assert plan_set(names, relaxation.wishes, KNOWLEDGE, seconds=None).set
        if len(relaxation.wishes.tests or KNOWLEDGE.tests) <= 8:  # every kit of all tests takes too long
            best = best_by_brute_force(names, relaxation.wishes)
            assert best is not None
            if relaxation.wishes.minutes is not None and relaxation.wishes.minutes != wishes.minutes:
                assert best.minutes == relaxation.wishes.minutes


def assert_is_what_it_says(plan: Plan) -> None:
    """The set meets its wishes, and its kit parts every pair, looked at anew."""
    assert plan.set is not None
    assert plan.worth is not None
    names = [vial.substance for vial in plan.set.vials]
    assert len(set(names)) == plan.wishes.vials
    assert meets(names, plan.wishes)
    assert can_be_done(plan.kit)
    assert plan.set.tests == plan.kit
    assert sum(KNOWLEDGE.tests[test].minutes for test in plan.kit) == plan.worth.minutes
    assert sum(map(level, names)) == plan.worth.hazard == sum(vial.hazard for vial in plan.vials)
    for first, second in combinations(names, 2):
        assert len(parting_tests(SUBSTANCES[first], SUBSTANCES[second], plan.kit)) >= plan.wishes.told_apart_by


def parting_tests(first: Substance, second: Substance, kit: Sequence[str]) -> set[str]:
    """The tests whose expected readings, straight from the handbook values, cannot coincide."""
    one, other = expected_readings(first, KNOWLEDGE), expected_readings(second, KNOWLEDGE)
    found = set()
    for reading in one.keys() & other.keys():
        values, others = one[reading], other[reading]
        if isinstance(values[0], Interval):
            fits = number_fits(KNOWLEDGE)[reading]
            rows = ROWS[first.name].numbers[reading], ROWS[second.name].numbers[reading]
            unit = KNOWLEDGE.readings[reading].number.unit  # type: ignore[union-attr]
            likely = max(fit_of_number(a.interval(unit), b, fits) for a, b in (rows, rows[::-1]))
            apart = likely < 0.01
        else:
            apart = not set(map(str, values)) & set(map(str, others))
        if apart and KNOWLEDGE.test_of[reading].id in kit:
            found.add(KNOWLEDGE.test_of[reading].id)
    return found


# --- the search alone, on graphs of no chemistry -----------------------------------------------------


@st.composite
def questions(draw: st.DrawFn) -> tuple[Question, list[int]]:
    many = draw(st.integers(1, 9))
    seed = random.Random(draw(st.integers(0, 10**6)))
    density = draw(st.sampled_from([0.3, 0.6, 0.85]))
    graph = [0] * many
    for one, other in combinations(range(many), 2):
        if seed.random() < density:
            graph[one] |= 1 << other
            graph[other] |= 1 << one
    classes = [seed.randrange(3) for _ in range(many)]
    kinds = [seed.randrange(4) for _ in range(many)]
    vials = draw(st.integers(1, many))
    sets = [bits_of(place for place in range(many) if classes[place] == each) for each in range(3)]
    of_kind = [bits_of(place for place in range(many) if kinds[place] == each) for each in range(4)]
    quotas = [Quota(members, seed.randrange(3), "class") for members in sets]
    quotas += [Quota(of_kind[0], seed.randrange(2), "kind")]
    required = 1 << seed.randrange(many) if seed.random() < 0.3 else 0
    candidates = bits_of(place for place in range(many) if seed.random() < 0.9) | required
    levels = tuple(seed.randrange(4) for _ in range(many))
    return Question(vials, candidates, required, tuple(quotas), levels, tuple(of_kind), tuple(sets)), graph


@settings(max_examples=600, deadline=None)
@given(questions(), st.none() | st.integers(0, 12), st.none() | st.integers(0, 7))
def test_a_search_finds_a_set_exactly_where_there_is_one(
    asked: tuple[Question, list[int]], hazard: int | None, spread: int | None
) -> None:
    question, graph = asked

    def good(chosen: int) -> bool:
        return (
            question.allowed(chosen)
            and all(graph[one] >> other & 1 for one, other in combinations(numbers_in(chosen), 2))
            and (hazard is None or question.hazard(chosen) <= hazard)
            and (spread is None or question.spread(chosen) >= spread)
        )

    exists = any(good(bits_of(chosen)) for chosen in combinations(range(len(graph)), question.vials))
    found = Search(question, graph, hazard=hazard, spread=spread).run()
    assert (found is not None) == exists
    assert found is None or good(found)


def test_tests_part_the_same_substances_as_when_asked_pair_by_pair() -> None:
    """Every fourth substance of the table, every test."""
    rows = [ROWS[name] for name in CUPBOARD[::4]]
    for test in KNOWLEDGE.tests:
        parted = parted_by_test(rows, test, KNOWLEDGE)
        for one, other in combinations(range(len(rows)), 2):
            apart = bool(parted_by(rows[one], rows[other], [test], KNOWLEDGE))
            assert bool(parted[one] >> other & 1) == bool(parted[other] >> one & 1) == apart


# --- the whole table -------------------------------------------------------------------------------


def test_the_example_in_the_docstring_runs() -> None:
    assert doctest.testmod(planning) == (0, 3)


@pytest.mark.parametrize("apart", [1, 2, 3])
def test_a_set_from_the_whole_table_is_proved_and_is_what_it_says(apart: int) -> None:
    wishes = Wishes(vials=10, of_class={"ionic": 2, "metallic": 2, "polar molecular": 2}, told_apart_by=apart)
    plan = plan_set(CUPBOARD, wishes, KNOWLEDGE, seconds=None)
    assert plan.proved
    assert_is_what_it_says(plan)


def test_the_same_seed_gives_the_same_set_and_another_an_equally_good_one() -> None:
    wishes = Wishes(vials=6, of_class={"ionic": 2})
    plans = [plan_set(names, wishes, KNOWLEDGE, seconds=None) for names in (CUPBOARD, CUPBOARD[::-1])]
    assert plans[0] == plans[1]
    others = [plan_set(CUPBOARD, msgspec.structs.replace(wishes, seed=seed), KNOWLEDGE, seconds=None) for seed in (2, 3)]
    assert {plan.worth for plan in others} == {plans[0].worth}
    assert len({plan.vials for plan in [*plans, *others]}) == 3


def test_labels_do_not_follow_classes() -> None:
    """Over some seeds the first vial is of several classes."""
    wishes = Wishes(vials=5, of_class=dict.fromkeys(CLASSES, 1))
    first = {plan_set(CUPBOARD, msgspec.structs.replace(wishes, seed=seed), KNOWLEDGE).vials[0].class_ for seed in range(8)}
    assert len(first) > 1


# --- what is never planned ---------------------------------------------------------------------------

DANGEROUS = {  # GHS, chapters 2.1, 2.8 and 2.15 (explosive), 3.1 (fatal), 3.5 to 3.7 (CMR), 2.4 and 2.13/2.14 (category 1 oxidisers)
    "H200", "H201", "H202", "H203", "H204", "H205", "H240", "H241", "H300", "H310", "H330",
    "H340", "H341", "H350", "H351", "H360", "H361", "H270", "H271",
}  # fmt: skip


def test_what_is_dangerous_for_students_is_never_planned_even_when_required() -> None:
    tried = 0
    for name, substance in SUBSTANCES.items():
        if {code[:4] for code in substance.hazards()} & DANGEROUS:
            tried += 1
            plan = plan_set([name, "sucrose"], Wishes(vials=1, require=(name,)), KNOWLEDGE)
            assert plan.set is None
            assert any(name in told and "never planned for students" in told for told in plan.conflict)
            assert [relaxation.says for relaxation in plan.relaxations] == [f"without requiring {name}"]
    assert tried > 30


def test_every_hazard_statement_has_one_place() -> None:
    planning = KNOWLEDGE.set_planning
    places = [code for part in (*planning.levels, *planning.never) for code in part.statements]
    assert len(places) == len(set(places))
    assert {code[:4] for code in load_hazard_statements()} <= set(places)
    assert {code for part in planning.never for code in part.statements} >= DANGEROUS
    assert all(part.because.endswith(".") for part in (*planning.levels, *planning.never))


@pytest.mark.parametrize(
    ("name", "worse"),  # judged by signal words of GHS: none, Warning, Danger
    [("sucrose", "copper(II) sulfate pentahydrate"), ("sodium chloride", "sodium hydroxide"), ("ethanol", "sodium")],
)
def test_danger_outranks_what_is_harmless(name: str, worse: str) -> None:
    assert level(name) < level(worse)


def test_what_is_for_the_teacher_only_is_planned_when_it_is_named() -> None:
    name = next(
        name
        for name in CUPBOARD
        if SUBSTANCES[name].school_use == "teacher only" and not never_planned(SUBSTANCES[name], KNOWLEDGE)
    )
    assert plan_set([name], Wishes(vials=1), KNOWLEDGE).set is None
    plan = plan_set([name], Wishes(vials=1, require=(name,)), KNOWLEDGE)
    assert [vial.substance for vial in plan.vials] == [name]
    assert plan.vials[0].school_use == "teacher only"


# --- amounts ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("amount", "left_out"),
    [
        (Amount(79, "g"), True),  # ten portions of 8 g are 80 g
        (Amount(80, "g"), False),
        (Amount(1, "mL"), False),  # the volume of a powder tells nothing of its mass
        (None, False),
    ],
)
def test_a_substance_of_which_there_is_too_little_is_left_out(amount: Amount | None, left_out: bool) -> None:
    plan = plan_set(["sucrose", "sand"], Wishes(vials=1, groups=10), KNOWLEDGE, amounts={"sucrose": amount})
    assert ("sucrose" in [item.substance for item in plan.left_out]) == left_out


def test_the_mass_of_a_liquid_is_compared_by_its_density() -> None:
    """Glycerol, 1.26 g/mL: two portions of 15 mL are 37.8 g."""
    for grams, left_out in ((37, True), (39, False)):
        plan = plan_set(["glycerol", "sand"], Wishes(vials=1, groups=2), KNOWLEDGE, amounts={"glycerol": Amount(grams, "g")})
        assert ("glycerol" in [item.substance for item in plan.left_out]) == left_out


# --- clashes ---------------------------------------------------------------------------------------


def test_two_salts_that_all_tests_read_alike_clash_with_being_told_apart() -> None:
    """Sodium chloride and sodium bromide: white, brittle, soluble, yellow flame, above 700 °C; only their density differs."""
    plan = plan_set(["sodium chloride", "sodium bromide"], Wishes(vials=2), KNOWLEDGE)
    assert plan.set is None
    assert set(plan.conflict) == {"2 vials", "any two vials told apart by at least 2 tests"}
    assert [item.says for item in plan.relaxations] == ["told apart by 1 test in place of 2", "1 vial in place of 2"]


def test_a_room_with_too_few_tests_is_told_which_would_help() -> None:
    """Salt and sugar look the same; their solutions do not."""
    plan = plan_set(["sodium chloride", "sucrose"], Wishes(vials=2, tests=("look",), told_apart_by=1), KNOWLEDGE)
    assert set(plan.conflict) == {
        "2 vials",
        "any two vials told apart by at least 1 test",
        "no other tests than 1 test of the room",
    }
    assert any(item.wishes.tests == ("look", "flame colour test") for item in plan.relaxations)


def test_only_wishes_with_a_part_in_the_clash_are_named() -> None:
    wishes = Wishes(vials=4, of_class={"ionic": 3, "metallic": 2}, forbid=("quartz",), hazard=3)
    plan = plan_set(CUPBOARD, wishes, KNOWLEDGE)
    assert set(plan.conflict) == {"4 vials", "at least 3 ionic vials", "at least 2 metallic vials"}
    assert {item.says for item in plan.relaxations} == {
        "5 vials in place of 4", "2 ionic vials in place of 3", "1 metallic vial in place of 2",
    }  # fmt: skip


def test_a_limit_on_minutes_is_relaxed_to_the_fewest_that_do() -> None:
    wishes = Wishes(vials=6, of_class={"ionic": 2})
    needed = plan_set(CUPBOARD, wishes, KNOWLEDGE).worth
    assert needed is not None
    plan = plan_set(CUPBOARD, msgspec.structs.replace(wishes, minutes=needed.minutes - 1), KNOWLEDGE)
    told = f"a kit of {needed.minutes:g} min in place of at most {needed.minutes - 1:g} min"
    assert told in [item.says for item in plan.relaxations]


def test_where_no_single_change_helps_several_are_told_together() -> None:
    """The only metal is forbidden, and three vials are too few for it, the nonpolar one and two required ones."""
    wishes = Wishes(
        vials=3, require=("sucrose", "sand"), hazard=0, forbid=("iron",), of_class={"metallic": 1, "nonpolar molecular": 1}
    )
    plan = plan_set(["sucrose", "sand", "iron", "sulfur"], wishes, KNOWLEDGE)
    assert plan.set is None
    assert plan.relaxations
    assert all(" and " in item.says for item in plan.relaxations)
    assert all(plan_set(["sucrose", "sand", "iron", "sulfur"], item.wishes, KNOWLEDGE).set for item in plan.relaxations)


def test_a_cupboard_without_anything_for_students_is_told() -> None:
    plan = plan_set(["lead(II) nitrate"], Wishes(vials=1), KNOWLEDGE)
    assert plan.conflict == ("no substance of the cupboard may be given to students",)
    assert plan.proved


@pytest.mark.parametrize(
    ("wishes", "where"),
    [
        (Wishes(vials=0), "vials"),
        (Wishes(vials=27), "vials"),
        (Wishes(told_apart_by=4), "told apart by"),
        (Wishes(groups=0), "groups"),
        (Wishes(hazard=5), "hazard"),
        (Wishes(minutes=-1), "minutes"),
        (Wishes(of_class={"ionik": 1}), "of class"),
        (Wishes(of_class={"ionic": -1}), "of class, 'ionic'"),
        (Wishes(awkward={"graphit": 1}), "awkward"),
        (Wishes(tests=("loook",)), "tests"),
        (Wishes(require=("iron",)), "require"),
        (Wishes(require=("sucrose",), forbid=("sucrose",)), "require"),
    ],
)
def test_a_wish_that_means_nothing_is_refused(wishes: Wishes, where: str) -> None:
    with pytest.raises(FaultyInputError) as error:
        plan_set(["sucrose"], wishes, KNOWLEDGE)
    assert where in [fault.where for fault in error.value.faults]


# --- time ------------------------------------------------------------------------------------------


def test_on_the_time_limit_the_best_set_so_far_comes_with_its_gap() -> None:
    """A clock that jumps ahead after the first looks."""
    wishes = Wishes(vials=10, of_class={"ionic": 3}, told_apart_by=3)
    best = plan_set(CUPBOARD, wishes, KNOWLEDGE, seconds=None)
    looks = iter(range(10**9))
    plan = plan_set(CUPBOARD, wishes, KNOWLEDGE, seconds=30, clock=lambda: next(looks))
    assert plan.set is not None
    assert not plan.proved
    assert plan.worth is not None
    assert plan.bound is not None
    assert best.worth is not None
    assert plan.bound.minutes <= best.worth.minutes <= plan.worth.minutes
    assert_is_what_it_says(plan)


def test_without_time_nothing_is_claimed() -> None:
    plan = plan_set(CUPBOARD, Wishes(vials=26, told_apart_by=3), KNOWLEDGE, seconds=0)
    assert plan.set is None
    assert not plan.proved
    assert plan.conflict == ()


def test_progress_tells_a_rising_bound_and_a_best_that_only_gets_better() -> None:
    told: list[Progress] = []
    plan = plan_set(CUPBOARD, Wishes(vials=8, of_class={"ionic": 2}), KNOWLEDGE, progress=told.append)
    bounds = [item.least_minutes for item in told]
    assert bounds == sorted(bounds)
    bests = [item.best.minutes for item in told if item.best]
    assert bests == sorted(bests, reverse=True)
    assert plan.worth is not None
    assert bests[-1] == plan.worth.minutes == bounds[-1]
