"""What a test may still show, and how probable each outcome is for every reference substance.

By the model of `engine/resemblance.py`: given the substance, its readings are independent, each is one of the honest ones,
and a misreading lands on each of the wrong ones alike.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Hashable, Iterable, Mapping, Sequence
from operator import mul
from typing import TypeVar

import msgspec

from spotplate.engine.record import ReadValue
from spotplate.engine.reference_readings import Number, ReferenceReadings
from spotplate.engine.resemblance import Resemblance, likelihoods, number_fits
from spotplate.kb import BenchTest, KnowledgeBase, NumberFit, ReadingKind

_SELDOM = 0.01  # [-] outcomes less probable than this are left out of account
_MOST_NUMBERS = 8  # different results of a number that are told apart, at most

Kind = TypeVar("Kind", bound=Hashable)
Weights = list[float]
"""For every reference substance its probability and that of its like outside the table, class by class [-]."""


class Outcome(msgspec.Struct, frozen=True, gc=False):
    """Values that a test may give, and the probability of each substance together with them [-]."""

    values: dict[str, ReadValue]
    weights: Weights

    @property
    def chance(self) -> float:
        return sum(self.weights)


class Outlook:
    """What tests may show, as seen from what a record tells of every reference substance."""

    def __init__(self, alike: Resemblance, reference: ReferenceReadings, knowledge: KnowledgeBase) -> None:
        self.reference = reference
        self.knowledge = knowledge
        by_class = {name: [at for at, of in enumerate(reference.classes) if of == name] for name in knowledge.classes}
        self._order = [place for places in by_class.values() for place in places]
        ends = [0]
        for places in by_class.values():
            ends.append(ends[-1] + 2 * len(places))
        self._parts = {name: slice(*ends[at : at + 2]) for at, name in enumerate(by_class)}
        self.now = self._laid_out(alike.substances, alike.others)

    def outcomes(self, test: BenchTest, before: Weights, made: Collection[str]) -> list[Outcome]:
        """Every outcome of a test that is worth reckoning with; together they are as probable as `before`."""
        found = [Outcome({}, before)]
        whole = sum(before)
        for kind in test.readings:
            if kind.id in made:
                continue
            shows = self._shows(kind, before)
            found = [
                after
                for outcome in found
                for value, likely in shows
                if (after := Outcome({**outcome.values, kind.id: value}, list(map(mul, outcome.weights, likely)))).chance
                > _SELDOM * whole
            ] or found
        reckoned = sum(outcome.chance for outcome in found)
        scale = whole / reckoned
        return [Outcome(each.values, [scale * weight for weight in each.weights]) for each in found if each.values]

    def of_classes(self, weights: Weights) -> dict[str, float]:
        """Class → its share of the weights, in sum [-]."""
        return {name: sum(weights[part]) for name, part in self._parts.items()}

    def of_substances(self, weights: Weights) -> dict[str, float]:
        """Substance of the table → its weight; what is outside the table is left out [-]."""
        return {self.reference.names[place]: weight for place, weight in zip(self._order, weights[::2], strict=True)}

    def _laid_out(self, own: Sequence[float], alike: Sequence[float]) -> Weights:
        return [each for place in self._order for each in (own[place], alike[place])]

    def _shows(self, kind: ReadingKind, before: Weights) -> Sequence[tuple[ReadValue, Weights]]:
        if not kind.values:
            return self._numbers(kind, before)
        kept: dict[str, list[tuple[ReadValue, Weights]]]
        settings, kept = self.reference.__dict__.get("shows", (None, {}))
        if settings is not self.knowledge.second_opinion:
            kept = {}
            self.reference.__dict__["shows"] = self.knowledge.second_opinion, kept
        if kind.id not in kept:
            told = likelihoods(kind.id, self.reference, self.knowledge)
            kept[kind.id] = [(word, self._laid_out(own, alike)) for word, (own, alike) in told.items()]
        return kept[kind.id]

    def _numbers(self, kind: ReadingKind, before: Weights) -> Sequence[tuple[ReadValue, Weights]]:
        """A number may be that of one of the likeliest substances; every other substance counts to the nearest of them."""
        numbers = [self.reference.compact[place].numbers.get(kind.id) for place in self._order for _ in range(2)]
        marks = _landmarks(numbers, before, number_fits(self.knowledge)[kind.id])
        if len(marks) < 2:
            return []
        nearest = [None if number is None else _nearest(number, marks) for number in numbers]
        share = [0.0] * len(marks)
        for place, weight in zip(nearest, before, strict=True):
            if place is not None:
                share[place] += weight
        known, slip = sum(share) or 1.0, kind.misread.rate / (len(marks) - 1)
        unit = kind.number.unit if kind.number else ""
        return [
            (
                mark.interval(unit),
                [share[at] / known if place is None else 1 - kind.misread.rate if place == at else slip for place in nearest],
            )
            for at, mark in enumerate(marks)
        ]


def _landmarks(numbers: Sequence[Number | None], weights: Weights, how: NumberFit) -> list[Number]:
    """The numbers of the likeliest substances, as far as a measurement can tell them apart."""
    heaviness: dict[Number, float] = {}
    for number, weight in zip(numbers, weights, strict=True):
        if number is not None:
            heaviness[number] = heaviness.get(number, 0.0) + weight
    marks: list[Number] = []
    for number in sorted(heaviness, key=lambda each: -heaviness[each]):
        if len(marks) < _MOST_NUMBERS and all(_told_apart(number, mark, how) for mark in marks):
            marks.append(number)
    return marks


def _told_apart(one: Number, other: Number, how: NumberFit) -> bool:
    if one.more or other.more:
        return one.more != other.more
    off = abs(one.value - other.value) / (other.value if how.relative else 1.0)
    return off > how.handbook + 2 * (how.above + how.below)


def _nearest(number: Number, marks: Sequence[Number]) -> int:
    return min(range(len(marks)), key=lambda at: (marks[at].more != number.more, abs(marks[at].value - number.value)))


def entropy(chances: Iterable[float]) -> float:
    """How open it is which of several things is true [bit]; the chances need not sum to 1."""
    parts = [chance for chance in chances if chance > 0]
    whole = sum(parts)
    return math.log2(whole) - sum(part * math.log2(part) for part in parts) / whole if parts else 0.0


def divergence(first: Mapping[Kind, float], second: Mapping[Kind, float]) -> float:
    """How well outcomes part two possibilities [bit]: the Jensen–Shannon divergence of their chances."""
    told = 0.0
    for outcome in {**first, **second}:
        pair = first.get(outcome, 0.0), second.get(outcome, 0.0)
        mean = sum(pair) / 2
        told += sum(chance / 2 * math.log2(chance / mean) for chance in pair if chance > 0)
    return told
