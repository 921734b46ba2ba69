"""Which substances of a cupboard each test parts from which others, as sets of bits, and their graph for a kit."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence

from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.resemblance import alike
from spotplate.kb import KnowledgeBase

from .bits import numbers_in

Parted = tuple[int, ...]  # place of a substance → bits of the substances that it is parted from


def parted_by_test(rows: Sequence[ReferenceRow], test: str, knowledge: KnowledgeBase) -> Parted:
    """
    For every row, the rows that a test parts from it, whatever honest reading each of the two gives.

    The same as `telling_apart.parted_by` of every pair, in a fraction of the time: rows with the same words are looked
    at together, and of numbers only where the distance becomes large enough.
    """
    found = [0] * len(rows)
    for kind in knowledge.tests[test].readings:
        parted = _by_words(rows, kind.id) if kind.values else _by_number(rows, kind.id, knowledge)
        found = [one | other for one, other in zip(found, parted, strict=True)]
    return tuple(found)


def _by_words(rows: Sequence[ReferenceRow], reading: str) -> list[int]:
    having: dict[frozenset[str], int] = {}
    for place, row in enumerate(rows):
        if words := row.words.get(reading):
            having[frozenset(words)] = having.get(frozenset(words), 0) | 1 << place
    found = [0] * len(rows)
    for honest, members in having.items():
        parted = 0
        for others, theirs in having.items():
            if not honest & others:
                parted |= theirs
        for place in numbers_in(members):
            found[place] = parted
    return found


def _by_number(rows: Sequence[ReferenceRow], reading: str, knowledge: KnowledgeBase) -> list[int]:
    known = sorted((row.numbers[reading].value, place) for place, row in enumerate(rows) if reading in row.numbers)
    plain = [(value, place) for value, place in known if not rows[place].numbers[reading].more]
    open_ended = [place for _, place in known if rows[place].numbers[reading].more]
    found = [0] * len(rows)

    def part(one: int, other: int) -> None:
        found[one] |= 1 << other
        found[other] |= 1 << one

    def apart(one: int, other: int) -> bool:
        return alike(reading, rows[one], rows[other], knowledge) == 0

    # Of two single numbers the likeness only falls with their distance, so one look finds where it ends.
    places = [place for _, place in plain]
    for index, place in enumerate(places):
        later = places[index + 1 :]
        first = _first(later, lambda other, one=place: apart(one, other))  # type: ignore[misc]
        for other in later[first:]:
            part(place, other)
    for index, place in enumerate(open_ended):
        for other in [*places, *open_ended[index + 1 :]]:
            if apart(place, other):
                part(place, other)
    return found


def _first(places: Sequence[int], holds: Callable[[int], bool]) -> int:
    """The first index from which on `holds`, which holds from some place on and never stops."""
    return bisect_left(range(len(places)), True, key=lambda index: holds(places[index]))


def graph(parted: Sequence[Parted], tests: Sequence[int], at_least: int) -> Parted:
    """For every substance, those that at least `at_least` (0 to 3) of these tests part from it."""
    if not parted:
        return ()
    everything = (1 << len(parted[0])) - 1
    if not at_least:
        return tuple(everything & ~(1 << place) for place in range(len(parted[0])))
    counted = []
    for rows in zip(*(parted[test] for test in tests), strict=True) if tests else [()] * len(parted[0]):
        once = twice = thrice = 0  # parted by at least so many of the tests looked at so far
        for now in rows:
            thrice |= twice & now
            twice |= once & now
            once |= now
        counted.append((once, twice, thrice)[at_least - 1])
    return tuple(counted)
