"""Which tests tell two substances apart, whatever honest reading each of them gives."""

from __future__ import annotations

from collections.abc import Iterable

from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.resemblance import alike
from spotplate.kb import KnowledgeBase


def parting_readings(
    first: ReferenceRow, second: ReferenceRow, tests: Iterable[str], knowledge: KnowledgeBase
) -> dict[str, tuple[str, ...]]:
    """
    Test → its readings that cannot coincide for the two substances.

    Only readings that the reference table tells of both count: what is not known, or cannot be tested on one of
    them, parts nothing.
    """
    found: dict[str, tuple[str, ...]] = {}
    for name in tests:
        apart = tuple(
            kind.id
            for kind in knowledge.tests[name].readings
            if _known(kind.id, first) and _known(kind.id, second) and alike(kind.id, first, second, knowledge) == 0
        )
        if apart:
            found[name] = apart
    return found


def parted_by(first: ReferenceRow, second: ReferenceRow, tests: Iterable[str], knowledge: KnowledgeBase) -> frozenset[str]:
    """The tests that give readings which cannot coincide for the two substances."""
    return frozenset(parting_readings(first, second, tests, knowledge))


def _known(reading: str, row: ReferenceRow) -> bool:
    return reading in row.words or reading in row.numbers
