"""The simulated student: misreads as often as stated, sees only what the table tells, and comes to an end."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate.datasets import Substance, load_substances
from spotplate.engine import VerdictKind, expected_readings, identify
from spotplate.engine.bench.trial import (
    TEXTBOOK_ORDER,
    Comparison,
    Order,
    Worked,
    compare,
    order_score,
    what_student_sees,
    work,
    work_through,
)
from spotplate.engine.identification import Colleagues
from spotplate.engine.record import Record
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.reference_report import Outcome
from spotplate.engine.second_opinion import load_tree
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
SUBSTANCES = load_substances()
FEW = tuple(SUBSTANCES[place] for place in range(0, len(SUBSTANCES), 30))
WHOLE_TABLE = Colleagues(load_tree(), load_reference())
SEEDS = 200


def substance(name: str) -> Substance:
    return next(item for item in SUBSTANCES if item.name == name)


@functools.cache
def honest(name: str) -> dict[str, Sequence[object]]:
    return dict(expected_readings(substance(name), KNOWLEDGE))


# --- what the student sees -------------------------------------------------------------------------


@functools.cache
def seen_often() -> dict[str, list[bool]]:
    """For each reading, whether the student saw a wrong value, over many seeds; where a wrong one can be seen at all."""
    slips: dict[str, list[bool]] = {}
    for item in FEW:
        values = honest(item.name)
        for seed in range(SEEDS):
            for reading, value in what_student_sees(item, KNOWLEDGE, seed).items():
                words = KNOWLEDGE.readings[reading].words()
                if not words or set(words) - set(values[reading]):
                    slips.setdefault(reading, []).append(value not in values[reading])
    return slips


@pytest.mark.parametrize("reading", sorted({name for item in FEW for name in honest(item.name)}))
def test_a_reading_is_misread_at_its_stated_rate(reading: str) -> None:
    """Within four standard deviations of so many independent draws, which one reading in 16,000 exceeds by chance."""
    slips = seen_often()[reading]
    rate = KNOWLEDGE.readings[reading].misread.rate
    assert len(slips) >= SEEDS
    assert abs(sum(slips) - rate * len(slips)) <= 4 * math.sqrt(rate * (1 - rate) * len(slips))


def test_misreadings_happen_at_all() -> None:
    assert sum(sum(slips) for slips in seen_often().values()) > 100


def test_the_student_sees_only_what_the_table_tells_and_all_of_it() -> None:
    for item in FEW:
        for seed in range(5):
            assert set(what_student_sees(item, KNOWLEDGE, seed)) == set(honest(item.name))


def test_every_honest_word_is_seen_now_and_then() -> None:
    """A value near a boundary is read either way."""
    item = next(each for each in SUBSTANCES if any(len(values) > 1 for values in honest(each.name).values()))
    reading, values = next((reading, values) for reading, values in honest(item.name).items() if len(values) > 1)
    assert set(values) <= {what_student_sees(item, KNOWLEDGE, seed)[reading] for seed in range(100)}


def test_the_same_seed_shows_the_same_and_another_one_something_else() -> None:
    first = [what_student_sees(item, KNOWLEDGE, 1) for item in SUBSTANCES[:60]]
    assert first == [what_student_sees(item, KNOWLEDGE, 1) for item in SUBSTANCES[:60]]
    assert first != [what_student_sees(item, KNOWLEDGE, 2) for item in SUBSTANCES[:60]]


def test_a_change_of_one_reading_leaves_what_is_seen_of_the_others() -> None:
    """A substance that is noted to be black and not colourless misreads its lustre as before."""
    item = substance("sodium chloride")
    other = msgspec.structs.replace(item, colour="dark grey")
    for seed in range(50):
        ours, theirs = (what_student_sees(each, KNOWLEDGE, seed) for each in (item, other))
        assert {name: value for name, value in ours.items() if name != "colour"} == {
            name: value for name, value in theirs.items() if name != "colour"
        }


# --- working through -------------------------------------------------------------------------------


def test_the_textbook_order_names_every_test_once() -> None:
    assert sorted(TEXTBOOK_ORDER) == sorted(KNOWLEDGE.tests)


def test_the_textbook_order_never_needs_what_comes_later() -> None:
    """The tests that something depends on come first: water before its solution, gentle heat before strong."""
    place = {name: at for at, name in enumerate(TEXTBOOK_ORDER)}
    for name in TEXTBOOK_ORDER:
        for need in KNOWLEDGE.tests[name].needs:
            assert place[KNOWLEDGE.test_of[need.reading or ""].id] < place[name], name


@functools.cache
def worked(name: str, order: Order, seed: int = 50) -> Worked:
    item = substance(name)
    return work(item, what_student_sees(item, KNOWLEDGE, seed), order, WHOLE_TABLE, KNOWLEDGE, seed=seed)


@pytest.mark.parametrize("order", list(Order))
@pytest.mark.parametrize("item", FEW, ids=lambda item: item.name)
def test_working_ends_with_each_test_done_at_most_once(item: Substance, order: Order) -> None:
    done = worked(item.name, order)
    minutes = sorted(test.minutes for test in KNOWLEDGE.tests.values())
    assert 0 < done.tests <= len(KNOWLEDGE.tests)
    assert sum(minutes[: done.tests]) <= done.minutes <= sum(minutes[-done.tests :])
    assert (done.substance, done.class_, done.order) == (item.name, item.class_, order)


@pytest.mark.parametrize("order", list(Order))
def test_the_same_seed_gives_the_same_result(order: Order) -> None:
    item = FEW[1]
    shows = what_student_sees(item, KNOWLEDGE, 3)
    assert work(item, shows, order, WHOLE_TABLE, KNOWLEDGE, seed=3) == work(item, shows, order, WHOLE_TABLE, KNOWLEDGE, seed=3)


def test_a_random_order_hangs_on_the_seed() -> None:
    results = {worked("sucrose", Order.RANDOM, seed).minutes for seed in range(6)}
    assert len(results) > 1


@pytest.mark.parametrize("order", list(Order))
def test_a_student_who_sees_nothing_tries_what_can_be_tried_and_concludes_nothing(order: Order) -> None:
    """What stays unclear is neither yes nor no, and opens the way to no test that needs it."""
    done = work(FEW[0], {}, order, WHOLE_TABLE, KNOWLEDGE)
    assert done.outcome is Outcome.INCONCLUSIVE
    without_needs = sum(not test.needs for test in KNOWLEDGE.tests.values())
    assert done.tests == without_needs if order is not Order.PROPOSED else done.tests <= without_needs


def test_the_student_stops_as_soon_as_the_verdict_is_conclusive() -> None:
    """One reading fewer, and it was not conclusive yet: in the textbook order the steps can be walked by hand."""
    item = substance("copper")
    shows = {name: values[0] for name, values in expected_readings(item, KNOWLEDGE).items()}
    done = work(item, shows, Order.TEXTBOOK, WHOLE_TABLE, KNOWLEDGE)
    assert done.outcome is Outcome.RIGHT
    possible = [
        name for name in TEXTBOOK_ORDER if all(shows.get(need.reading or "") in need.is_ for need in KNOWLEDGE.tests[name].needs)
    ]
    verdicts = []
    for many in (done.tests - 1, done.tests):
        made = {kind.id for name in possible[:many] for kind in KNOWLEDGE.tests[name].readings}
        record = Record({name: value for name, value in shows.items() if name in made})
        verdicts.append(identify(record, KNOWLEDGE, advise=False).verdict.kind is VerdictKind.CONCLUSIVE)
    assert verdicts == [False, True]
    assert done.minutes == sum(KNOWLEDGE.tests[name].minutes for name in possible[: done.tests])


def test_who_judges_has_not_seen_the_substance(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every substance is worked through with a reference table that lacks it, once in each order."""
    from spotplate.engine.bench import trial

    asked: list[tuple[str, tuple[str, ...]]] = []

    def noted(item: Substance, colleagues: Colleagues, *_: object) -> list[Worked]:
        asked.append((item.name, colleagues.reference.names))
        return []

    class Here:
        """Does the work in this process, where it can be watched."""

        def __enter__(self) -> Here:
            return self

        def __exit__(self, *_: object) -> None: ...

        def submit(self, work: object, *given: object) -> object:
            from concurrent.futures import Future

            done: Future[object] = Future()
            done.set_result(work(*given))  # type: ignore[operator]
            return done

    monkeypatch.setattr(trial, "ProcessPoolExecutor", Here)
    monkeypatch.setattr(trial, "_worked", noted)
    steps: list[int] = []
    work_through(SUBSTANCES, KNOWLEDGE, every=50, progress=lambda: steps.append(1))
    assert [name for name, _ in asked] == [item.name for item in SUBSTANCES[::50]]
    assert all(name not in names and len(names) == len(SUBSTANCES) - 1 for name, names in asked)
    assert len(steps) == len(asked)


def test_results_come_in_the_order_of_the_table_and_of_the_orders_whoever_is_done_first() -> None:
    found = work_through(SUBSTANCES, KNOWLEDGE, every=190)
    assert [(item.substance, item.order) for item in found] == [
        (item.name, order) for item in SUBSTANCES[::190] for order in Order
    ]


# --- counting --------------------------------------------------------------------------------------

results = st.lists(
    st.builds(
        Worked,
        substance=st.sampled_from(["copper", "sucrose", "iodine", "quartz"]),
        class_=st.sampled_from(list(KNOWLEDGE.classes)),
        order=st.sampled_from(Order),
        outcome=st.sampled_from(Outcome),
        tests=st.integers(0, 20),
        minutes=st.floats(0, 100),
    ),
    max_size=12,
    unique_by=lambda item: (item.substance, item.order),
)


@given(results, st.sampled_from(Order))
def test_the_counts_of_all_outcomes_sum_to_the_substances(found: list[Worked], order: Order) -> None:
    score = order_score(found, order)
    ours = [item for item in found if item.order is order]
    assert sum(score.outcomes.values()) == score.substances == len(ours)
    assert set(score.outcomes) == {outcome.value for outcome in Outcome}
    if ours:
        assert min(item.tests for item in ours) <= score.tests <= max(item.tests for item in ours)


@given(results, st.sampled_from([Order.TEXTBOOK, Order.RANDOM]))
def test_only_substances_that_both_orders_settle_rightly_are_compared(found: list[Worked], other: Order) -> None:
    right = {
        order: {item.substance for item in found if item.order is order and item.outcome is Outcome.RIGHT} for order in Order
    }
    compared = compare(found, other)
    assert compared.substances == len(right[Order.PROPOSED] & right[other])
    if not compared.substances:
        assert compared == Comparison(other, 0, (0.0, 0.0), (0.0, 0.0))
        assert compared.saved == 0


def test_a_comparison_is_made_of_means_and_tells_the_share_saved() -> None:
    def one(name: str, order: Order, tests: int, minutes: float, outcome: Outcome = Outcome.RIGHT) -> Worked:
        return Worked(name, "ionic", order, outcome, tests, minutes)

    found = [
        one("a", Order.PROPOSED, 2, 4), one("a", Order.TEXTBOOK, 4, 10),
        one("b", Order.PROPOSED, 4, 8), one("b", Order.TEXTBOOK, 6, 14),
        one("c", Order.PROPOSED, 1, 1), one("c", Order.TEXTBOOK, 9, 99, Outcome.WRONG),
    ]  # fmt: skip
    assert compare(found, Order.TEXTBOOK) == Comparison(Order.TEXTBOOK, 2, (3, 5), (6, 12))
    assert compare(found, Order.TEXTBOOK).saved == pytest.approx(0.5)
    score = order_score(found, Order.TEXTBOOK)
    assert (score.tests_to_right, score.minutes_to_right) == (5, 12)
    assert score.minutes == pytest.approx(41)
    assert (score.outcomes["right"], score.outcomes["wrong"]) == (2, 1)
