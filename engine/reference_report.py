"""How well the rules do on the reference table: every substance's full expected readings through the engine."""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable

import msgspec

from spotplate.datasets import Substance
from spotplate.kb import KnowledgeBase

from .expected import expected_records
from .identification import Identification, identify
from .reasoning import VerdictKind


class Outcome(enum.StrEnum):
    """Best to worst. `right` and `wrong` are conclusive verdicts; a wrong one is the failure that counts."""

    RIGHT = "right"
    INCONCLUSIVE = "inconclusive"
    CONTRADICTORY = "contradictory"
    WRONG = "wrong"


_WORSE = {outcome: place for place, outcome in enumerate(Outcome)}


class Assessed(msgspec.Struct, frozen=True):
    """
    One substance: the outcome of its likeliest full record, and the worst over all its honest full records.

    `open_defensible` tells whether an inconclusive verdict leaves open only classes that are defensible for it.
    """

    substance: Substance
    likeliest: Outcome
    worst: Outcome
    first_is_defensible: bool
    open_defensible: bool
    found: Identification


class ClassScore(msgspec.Struct, frozen=True):
    """
    Counts of one class (or of all) on the likeliest full records, and how many are wrong on any honest record.

    `open_defensible` counts the inconclusive ones that leave only classes open which are defensible for the substance.
    """

    name: str
    substances: int
    first: int
    outcomes: dict[str, int]
    open_defensible: int
    ever_wrong: int


def assess_reference(
    substances: Iterable[Substance], knowledge: KnowledgeBase, *, progress: Callable[[], None] = lambda: None
) -> tuple[Assessed, ...]:
    """Every substance judged on all its honest full records; `progress` is called after each."""
    found = []
    for substance in substances:
        found.append(_assess(substance, knowledge))
        progress()
    return tuple(found)


def _assess(substance: Substance, knowledge: KnowledgeBase) -> Assessed:
    results = [identify(record, knowledge, advise=False) for record in expected_records(substance, knowledge)]
    outcomes = [_outcome(result, substance) for result in results]
    worst = max(range(len(results)), key=lambda index: _WORSE[outcomes[index]])
    defensible = substance.defensible_classes()
    return Assessed(
        substance=substance,
        likeliest=outcomes[0],
        worst=outcomes[worst],
        first_is_defensible=results[0].ranking[0].class_ in defensible,
        open_defensible=set(results[0].verdict.open_between) <= set(defensible),
        found=results[worst],
    )


def _outcome(result: Identification, substance: Substance) -> Outcome:
    if result.verdict.kind is VerdictKind.CONCLUSIVE:
        return Outcome.RIGHT if result.verdict.class_ in substance.defensible_classes() else Outcome.WRONG
    return Outcome(result.verdict.kind.value)


def scores(assessed: Iterable[Assessed], knowledge: KnowledgeBase) -> tuple[ClassScore, ...]:
    """Scores class by class, in the order of the knowledge base, then for all classes together."""
    assessed = tuple(assessed)
    groups = [(name, [item for item in assessed if item.substance.class_ == name]) for name in knowledge.classes]
    return tuple(_score(name, items) for name, items in (*groups, ("all", list(assessed))))


def _score(name: str, items: list[Assessed]) -> ClassScore:
    return ClassScore(
        name=name,
        substances=len(items),
        first=sum(item.first_is_defensible for item in items),
        outcomes={outcome.value: sum(item.likeliest is outcome for item in items) for outcome in Outcome},
        open_defensible=sum(item.likeliest is Outcome.INCONCLUSIVE and item.open_defensible for item in items),
        ever_wrong=sum(item.worst is Outcome.WRONG for item in items),
    )
