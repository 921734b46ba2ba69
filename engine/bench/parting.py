"""Which bench test parts two classes that the record leaves open."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from spotplate.engine.record import Record
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.kb import KnowledgeBase

from .next_test import can_be_done
from .outlook import divergence

# Value → class → share of the reference substances of that class that show it [-].
Frequencies = Mapping[str, Mapping[str, Mapping[str, float]]]

_TELLING = 0.1  # bit; a reading that tells less than this does not part two classes


class Parting(msgspec.Struct, frozen=True):
    """
    A test that parts two possibilities, and what each of them would show.

    `test` and `reading` are empty when what helps is no test of the bench list; `how` then explains it.
    `minutes` is how long the test takes [min]; `sure` tells whether the two never read alike in it.
    """

    first: str
    second: str
    test: str
    reading: str
    first_shows: str
    second_shows: str
    minutes: float
    how: str = ""
    sure: bool = True


def value_frequencies(rows: Iterable[ReferenceRow], knowledge: KnowledgeBase) -> Frequencies:
    """For every reading from a closed list, how often each class shows each value (add-one-half smoothing)."""
    counts: dict[str, dict[str, dict[str, float]]] = {
        kind.id: {word: dict.fromkeys(knowledge.classes, 0.5) for word in kind.words()}
        for kind in knowledge.readings.values()
        if kind.values
    }
    made: dict[str, dict[str, float]] = {reading: dict.fromkeys(knowledge.classes, 0.0) for reading in counts}
    for row in rows:
        for reading, values in row.words.items():
            made[reading][row.class_] += 1
            for value in values:
                counts[reading][value][row.class_] += 1 / len(values)
    return {
        reading: {
            word: {name: count / (made[reading][name] + 0.5 * len(words)) for name, count in by_class.items()}
            for word, by_class in words.items()
        }
        for reading, words in counts.items()
    }


def parting_of_classes(
    record: Record, first: str, second: str, frequencies: Frequencies, knowledge: KnowledgeBase
) -> Parting | None:
    """The test not yet made that tells most, per minute, of which of two classes it is; None when none tells much."""
    best: tuple[float, Parting] | None = None
    for reading, words in frequencies.items():
        test = knowledge.test_of[reading]
        if reading in record.readings or not can_be_done(test, record):
            continue
        chances = {word: (by_class[first], by_class[second]) for word, by_class in words.items()}
        told = divergence(*({word: pair[place] for word, pair in chances.items()} for place in (0, 1)))
        if told >= _TELLING and (best is None or told / test.minutes > best[0]):
            shows = [max(chances, key=lambda word: chances[word][place] - chances[word][1 - place]) for place in (0, 1)]
            parting = Parting(first, second, test.id, reading, shows[0], shows[1], test.minutes, sure=False)
            best = told / test.minutes, parting
    return best[1] if best else None
