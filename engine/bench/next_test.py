"""Which bench test is worth doing next: the expected gain in information about the class, per minute.

Each reading still to be made is tried with every value it may have. How likely a value is in each class comes
from the expected readings of the reference table; what it would do to the ranking comes from the rules.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

import msgspec

from spotplate.engine.reasoning import Ranked, chain, rank
from spotplate.engine.record import Readings, Record
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.kb import BenchTest, Condition, Interval, KnowledgeBase

# Value → class → share of the reference substances of that class that show it [-].
Frequencies = Mapping[str, Mapping[str, Mapping[str, float]]]


class NextTest(msgspec.Struct, frozen=True):
    """
    A bench test that may decide, and why.

    `gain` is the expected gain of its most telling reading [bit]; `minutes` how long the test takes [min].
    """

    test: str
    reading: str
    gain: float
    minutes: float
    parts: tuple[str, ...]
    teacher: bool


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


def next_tests(
    record: Record,
    ranking: Sequence[Ranked],
    frequencies: Frequencies,
    knowledge: KnowledgeBase,
    *,
    prior: Mapping[str, float] | None = None,
    most: int = 3,
) -> tuple[NextTest, ...]:
    """
    The tests most worth doing, best first; empty when none that can be done would tell more.

    A test is left out until its prerequisites are read and met, so that gentle and harmless tests come first.
    """
    now = _entropy(item.probability for item in ranking)
    worth: dict[str, NextTest] = {}
    for reading, words in frequencies.items():
        test = knowledge.test_of[reading]
        if reading in record.readings or not can_be_done(test, record):
            continue
        gain, parts = _expected_gain(record, reading, words, ranking, now, knowledge, prior)
        if gain > 0.02 and (test.id not in worth or gain > worth[test.id].gain):
            worth[test.id] = NextTest(test.id, reading, gain, test.minutes, parts, test.teacher)
    ordered = sorted(worth.values(), key=lambda item: -item.gain / item.minutes)
    return tuple(ordered[:most])


def can_be_done(test: BenchTest, record: Record) -> bool:
    """Whether everything that must come first has been read, and allows the test."""
    return all(allows(need, record.readings) for need in test.needs)


def allows(need: Condition, readings: Readings) -> bool:
    """Whether a reading that a test needs first was made, and is one of those that allow the test."""
    value = readings.get(need.reading or "")
    return isinstance(value, Interval) or value in need.is_


def _expected_gain(
    record: Record,
    reading: str,
    words: Mapping[str, Mapping[str, float]],
    ranking: Sequence[Ranked],
    now: float,
    knowledge: KnowledgeBase,
    prior: Mapping[str, float] | None,
) -> tuple[float, tuple[str, ...]]:
    """Expected fall of the entropy over the classes [bit], and the two classes it would part best."""
    chances = {word: sum(item.probability * likely[item.class_] for item in ranking) for word, likely in words.items()}
    whole = sum(chances.values())
    after = 0.0
    for word, chance in chances.items():
        # A value that hardly any likely class shows would change much, but will not be seen.
        trial = rank(chain({**record.readings, reading: word}, knowledge).firings, knowledge, prior)
        after += chance / whole * _entropy(item.probability for item in trial)
    first, second = ranking[0].class_, ranking[1].class_
    return now - after, (first, second)


def _entropy(probabilities: Iterable[float]) -> float:
    return -sum(p * math.log2(p) for p in probabilities if p > 0)
