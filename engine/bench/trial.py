"""How well the proposed tests do: a simulated student works through the reference substances, test by test.

The student sees what each substance honestly shows, misreads as often as the bench tests say, and stops as soon as the
verdict is conclusive or no test is left. The same student, with the same misreadings, also works in a fixed order and in a
random one. Whoever judges the record has never seen the substance.
"""

from __future__ import annotations

import enum
import random
import statistics
from collections.abc import Callable, Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from itertools import islice

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.expected import expected_readings
from spotplate.engine.identification import Colleagues, Identification, identify
from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.record import Readings, ReadValue, Record
from spotplate.engine.reference_report import Outcome, colleagues_left_out, outcome_of
from spotplate.engine.second_opinion.misreading_trial import misread_value
from spotplate.kb import BenchTest, KnowledgeBase

from .next_test import can_be_done

SEED = 50
# Look and press first, then what water does, then heat, then reagents and whatever takes longest (common practice).
TEXTBOOK_ORDER = (
    "look", "press and tap", "water test", "dry conductivity test", "solution conductivity test", "litmus test",
    "warm bath test", "hot plate test", "non-polar solvent test", "burner test", "dilute acid test", "burning test",
    "flame colour test", "scratch", "paper streak", "magnet", "smell", "density", "melting range test",
    "boiling point test", "melt conductivity test",
)  # fmt: skip


class Order(enum.StrEnum):
    """How the student comes by the next test."""

    PROPOSED = "as proposed"
    TEXTBOOK = "textbook order"
    RANDOM = "random order"


class Worked(msgspec.Struct, frozen=True):
    """One substance worked through in one order: what came out, how many tests it took, and how long [min]."""

    substance: str
    class_: str
    order: Order
    outcome: Outcome
    tests: int
    minutes: float


class OrderScore(msgspec.Struct, frozen=True):
    """
    One order, over all substances or those of one class.

    `outcomes` counts; `tests_to_right` and `minutes_to_right` [min] are means over those settled rightly, `tests` and
    `minutes` [min] over all.
    """

    name: str
    substances: int
    outcomes: dict[str, int]
    tests_to_right: float
    minutes_to_right: float
    tests: float
    minutes: float


class Comparison(msgspec.Struct, frozen=True):
    """Two orders on the `substances` that both settle rightly: mean numbers of tests and mean minutes [min]."""

    other: Order
    substances: int
    tests: tuple[float, float]
    minutes: tuple[float, float]

    @property
    def saved(self) -> float:
        """Share of the other order's minutes that the proposals save [-]; none where there is nothing to compare."""
        return 1 - self.minutes[0] / self.minutes[1] if self.minutes[1] else 0.0


def work_through(
    substances: tuple[Substance, ...],
    knowledge: KnowledgeBase,
    *,
    every: int = 1,
    seed: int = SEED,
    progress: Callable[[], None] = lambda: None,
) -> list[Worked]:
    """Every substance (or every Nth) worked through in each order, on all cores; `progress` is called after each substance."""
    left_out = islice(zip(substances, colleagues_left_out(substances, knowledge), strict=True), 0, None, every)
    with ProcessPoolExecutor() as pool:
        waiting = [pool.submit(_worked, substance, colleagues, knowledge, seed) for substance, colleagues in left_out]
        found = []
        try:
            for done in as_completed(waiting):
                found += done.result()
                progress()
        except BaseException:  # Ctrl-C, too: nobody waits for what is not begun yet
            pool.shutdown(wait=False, cancel_futures=True)
            raise
    place = {substance.name: at for at, substance in enumerate(substances)}
    return sorted(found, key=lambda item: (place[item.substance], list(Order).index(item.order)))


def _worked(substance: Substance, colleagues: Colleagues, knowledge: KnowledgeBase, seed: int) -> list[Worked]:
    shows = what_student_sees(substance, knowledge, seed)
    return [work(substance, shows, order, colleagues, knowledge, seed=seed) for order in Order]


def what_student_sees(substance: Substance, knowledge: KnowledgeBase, seed: int) -> dict[str, ReadValue]:
    """One honest value of each reading that the table tells of a substance, misread as often as the bench tests say."""
    seen: dict[str, ReadValue] = {}
    for reading, honest in expected_readings(substance, knowledge).items():
        # A generator of its own for each, so that a change of one reading leaves the misreadings of the others as they are.
        draw = random.Random(f"{seed} {substance.name} {reading}")
        kind, value = knowledge.readings[reading], draw.choice(honest)
        slips = draw.random() < kind.misread.rate
        seen[reading] = (misread_value(kind, value, honest, draw) or value) if slips else value
    return seen


def work(
    substance: Substance, shows: Readings, order: Order, colleagues: Colleagues, knowledge: KnowledgeBase, *, seed: int = SEED
) -> Worked:
    """
    A substance worked through, test by test, until the verdict is conclusive or nothing is left to do.

    A reading that the table does not tell of the substance is tried, takes its time, and stays unclear.
    """
    listed = list(TEXTBOOK_ORDER)
    if order is Order.RANDOM:
        random.Random(f"order {seed} {substance.name}").shuffle(listed)
    record, done, minutes = Record({}), list[str](), 0.0
    while True:
        result = identify(record, knowledge, colleagues=colleagues, left_out=done, advise=order is Order.PROPOSED)
        test = _next(order, listed, done, record, result, knowledge)
        settled = result.verdict.kind is VerdictKind.CONCLUSIVE and not (order is Order.PROPOSED and result.next_tests)
        if settled or test is None:
            return Worked(substance.name, substance.class_, order, outcome_of(result, substance), len(done), minutes)
        done.append(test.id)
        minutes += test.minutes
        readings, unclear = dict(record.readings), list(record.unclear)
        for kind in test.readings:
            if kind.id in shows:
                readings[kind.id] = shows[kind.id]
            else:
                unclear.append(kind.id)
        record = Record(readings, unclear=tuple(unclear))


def _next(
    order: Order, listed: Sequence[str], done: Sequence[str], record: Record, result: Identification, knowledge: KnowledgeBase
) -> BenchTest | None:
    if order is Order.PROPOSED:
        return knowledge.tests[result.next_tests[0].test] if result.next_tests else None
    tests = (knowledge.tests[name] for name in listed if name not in done)
    return next((test for test in tests if can_be_done(test, record)), None)


def order_score(worked: Iterable[Worked], order: Order, name: str = "all") -> OrderScore:
    """How one order did."""
    found = [item for item in worked if item.order is order]
    right = [item for item in found if item.outcome is Outcome.RIGHT]
    return OrderScore(
        name=name,
        substances=len(found),
        outcomes={outcome.value: sum(item.outcome is outcome for item in found) for outcome in Outcome},
        tests_to_right=_mean([item.tests for item in right]),
        minutes_to_right=_mean([item.minutes for item in right]),
        tests=_mean([item.tests for item in found]),
        minutes=_mean([item.minutes for item in found]),
    )


def compare(worked: Iterable[Worked], other: Order) -> Comparison:
    """The proposed tests beside another order, on the substances that both settle rightly."""
    right: dict[Order, dict[str, Worked]] = {order: {} for order in Order}
    for item in worked:
        if item.outcome is Outcome.RIGHT:
            right[item.order][item.substance] = item
    both = [(ours, right[other][name]) for name, ours in right[Order.PROPOSED].items() if name in right[other]]
    return Comparison(
        other=other,
        substances=len(both),
        tests=(_mean([ours.tests for ours, _ in both]), _mean([theirs.tests for _, theirs in both])),
        minutes=(_mean([ours.minutes for ours, _ in both]), _mean([theirs.minutes for _, theirs in both])),
    )


def _mean(numbers: Sequence[float]) -> float:
    return statistics.fmean(numbers) if numbers else 0.0
