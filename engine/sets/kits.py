"""Kits: sets of tests that hold, with every test, those that must come first; found in order of their minutes."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence

import msgspec

from spotplate.kb import KnowledgeBase

from .bits import bits_of, numbers_in


class Bench(msgspec.Struct, frozen=True):
    """
    The tests that the room can do, each with its place; kits are bits of places.

    `with_first[place]` holds the test and all tests that must come before it; `useless` names tests of the room that
    cannot be done, since the room lacks a test that must come first.
    """

    tests: tuple[str, ...]
    minutes: tuple[float, ...]
    with_first: tuple[int, ...]
    useless: tuple[str, ...] = ()

    @property
    def all(self) -> int:
        return (1 << len(self.tests)) - 1

    def cost(self, kit: int) -> float:
        """The time to do every test of the kit once on one vial [min]."""
        return round(sum(self.minutes[place] for place in numbers_in(kit)), 6)  # so that equal sums are equal numbers

    def names(self, kit: int) -> tuple[str, ...]:
        return tuple(self.tests[place] for place in numbers_in(kit))

    def closed(self, kit: int) -> int:
        """The kit with all tests that must come first."""
        found = 0
        for place in numbers_in(kit):
            found |= self.with_first[place]
        return found


def tests_first(test: str, knowledge: KnowledgeBase) -> frozenset[str]:
    """A test and all tests whose readings it needs, and those that these need."""
    found, open_ = {test}, [test]
    while open_:
        for condition in knowledge.tests[open_.pop()].needs:
            if condition.reading is not None and (needed := knowledge.test_of[condition.reading].id) not in found:
                found.add(needed)
                open_.append(needed)
    return frozenset(found)


def make_bench(names: Sequence[str], knowledge: KnowledgeBase) -> Bench:
    """The bench with these tests, in the order of the knowledge base."""
    first = {name: tests_first(name, knowledge) for name in knowledge.tests if name in names}
    useless = tuple(name for name, needed in first.items() if not needed <= set(names))
    tests = [name for name in first if name not in useless]
    return Bench(
        tuple(tests),
        tuple(knowledge.tests[name].minutes for name in tests),
        tuple(bits_of(tests.index(other) for other in first[name]) for name in tests),
        useless,
    )


class CheapestKits:
    """
    Kits in order of their minutes, as far as what is known of kits that do not suffice allows.

    When a kit does not suffice, neither does any part of it; so every kit that does suffice holds one of the tests that
    the first lacks. `lacking` collects these sets, and a kit is only offered when it has a test of each. Every kit still to
    come takes `least` minutes at least; None when there is none.
    """

    def __init__(self, bench: Bench, lacking: Sequence[int] = ()) -> None:
        self.bench = bench
        self.lacking = list(lacking)
        self.least: float | None = 0.0
        self._queue: list[tuple[float, int]] = [(0.0, 0)]
        self._seen = {0}

    def __iter__(self) -> Iterator[int]:
        while self._queue:
            self.least, kit = heapq.heappop(self._queue)
            unmet = next((needed for needed in self.lacking if not needed & kit), None)
            if unmet is None:
                known = len(self.lacking)
                yield kit
                unmet = next((needed for needed in self.lacking[known:] if not needed & kit), None)
            for place in numbers_in(unmet or 0):
                larger = kit | self.bench.with_first[place]
                if larger not in self._seen:
                    self._seen.add(larger)
                    heapq.heappush(self._queue, (self.bench.cost(larger), larger))
        self.least = None
