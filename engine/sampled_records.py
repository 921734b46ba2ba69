"""Records as students bring them: full ones and partial ones of a substance, drawn from its honest readings."""

from __future__ import annotations

import random
from collections.abc import Iterator

import msgspec

from spotplate.datasets import Substance
from spotplate.kb import BenchTest, KnowledgeBase

from .expected import expected_readings, expected_records, only_makeable
from .record import Record

_WITH_CONSENT = 0.5  # how much less often a test is made that needs the teacher's consent


class WeighedRecord(msgspec.Struct, frozen=True):
    """A record of a substance and its weight [-]; the weights of one substance's full and partial records sum to 1."""

    substance: int
    record: Record
    weight: float
    full: bool


def partial_records(substance: Substance, knowledge: KnowledgeBase, draw: random.Random) -> Iterator[Record]:
    """
    Records with some of the substance's readings, without end: from a single test to all of them.

    Quick tests are made more often than long ones, and those that need the teacher's consent less often. Boundary
    values contribute each honest reading, and no reading is made whose test could not be done.
    """
    expected = expected_readings(substance, knowledge)
    while True:
        chosen = only_makeable({name: draw.choice(values) for name, values in expected.items()}, knowledge)
        tests = list(dict.fromkeys(knowledge.test_of[name].id for name in chosen))
        # The largest powers of uniform numbers are a weighed sample without replacement (Efraimidis and Spirakis, 2006).
        tests.sort(key=lambda name: -(draw.random() ** (1 / _often(knowledge.tests[name]))))
        made = set(tests[: draw.randint(1, len(tests))])
        kept = {name: value for name, value in chosen.items() if knowledge.test_of[name].id in made}
        readings = only_makeable(kept, knowledge)
        if readings:
            yield Record(readings, vial=substance.name)


def _often(test: BenchTest) -> float:
    """How often a test is made, relative to others."""
    return (_WITH_CONSENT if test.teacher else 1.0) / test.minutes


def weighed_records(
    substances: tuple[Substance, ...], knowledge: KnowledgeBase, *, partial: int, seed: int
) -> list[WeighedRecord]:
    """Every honest full record and `partial` drawn partial ones of each substance; full and partial ones weigh the same."""
    found = []
    for place, substance in enumerate(substances):
        full = list(expected_records(substance, knowledge))
        found += [WeighedRecord(place, record, 0.5 / len(full), True) for record in full]
        # A generator of its own for each substance, so that a new row of the table leaves the others' records as they are.
        drawn = partial_records(substance, knowledge, random.Random(f"{seed} {substance.name}"))
        found += [WeighedRecord(place, next(drawn), 0.5 / partial, False) for _ in range(partial)]
    return found
