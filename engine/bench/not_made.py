"""The bench tests that were not made: those that could not be, and those that nobody got round to."""

from __future__ import annotations

import msgspec

from spotplate.engine.record import Record
from spotplate.kb import BenchTest, Condition, KnowledgeBase

from .next_test import allows


class UnmetNeed(msgspec.Struct, frozen=True):
    """
    What a test asks for first and the record does not give.

    `found` is the value that was read instead; empty where `reading` is not known. Then `out_of_reach` tells whether
    the test that would yield it could not be made either, and `unclear` whether it was tried without a clear result.
    """

    reading: str
    accepted: tuple[str, ...]
    found: str = ""
    out_of_reach: bool = False
    unclear: bool = False

    @property
    def forbids(self) -> bool:
        """Whether this stands in the way of the test; a reading that is merely missing does not."""
        return bool(self.found) or self.out_of_reach


class NotMade(msgspec.Struct, frozen=True):
    """A bench test of which nothing was written down, and what it would have needed first."""

    test: str
    unmet: tuple[UnmetNeed, ...]

    @property
    def possible(self) -> bool:
        """False when a reading that was made, or one that could not be made, rules the test out."""
        return not any(need.forbids for need in self.unmet)


def not_made_tests(record: Record, knowledge: KnowledgeBase) -> tuple[NotMade, ...]:
    """Every bench test without a reading, clear or unclear, in the order of the knowledge base."""
    return tuple(_not_made(test, record, knowledge) for test in knowledge.tests.values() if not was_made(test, record))


def was_made(test: BenchTest, record: Record) -> bool:
    """Whether any reading of the test was written down, be it that it was unclear."""
    return any(kind.id in record.readings or kind.id in record.unclear for kind in test.readings)


def _not_made(test: BenchTest, record: Record, knowledge: KnowledgeBase) -> NotMade:
    return NotMade(test.id, tuple(_unmet(need, record, knowledge) for need in test.needs if not allows(need, record.readings)))


def _unmet(need: Condition, record: Record, knowledge: KnowledgeBase) -> UnmetNeed:
    reading = need.reading or ""
    if reading in record.readings:
        return UnmetNeed(reading, need.is_, found=str(record.readings[reading]))
    if reading in record.unclear:
        return UnmetNeed(reading, need.is_, unclear=True)
    before = knowledge.test_of[reading]
    # The chain of needs ends: what a test needs first comes from an earlier test.
    out_of_reach = not was_made(before, record) and not _not_made(before, record, knowledge).possible
    return UnmetNeed(reading, need.is_, out_of_reach=out_of_reach)
