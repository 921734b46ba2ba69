"""How well the rules do on the reference table, and the decision tree beside them.

Every substance's full expected readings go through the engine; the second opinions are asked of a tree and a
reference table that have never seen the substance.
"""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable, Iterator

import msgspec

from spotplate.datasets import Substance
from spotplate.kb import KnowledgeBase

from .expected import expected_records
from .identification import Colleagues, Identification, identify
from .reasoning import VerdictKind
from .reference_readings import load_reference
from .second_opinion import Agreement, load_tree


class Outcome(enum.StrEnum):
    """Best to worst. `right` and `wrong` are conclusive verdicts; a wrong one is the failure that counts."""

    RIGHT = "right"
    INCONCLUSIVE = "inconclusive"
    CONTRADICTORY = "contradictory"
    WRONG = "wrong"


class CrossChecked(enum.StrEnum):
    """How the first class of the rules and the class of the tree stand to each other and to the truth."""

    BOTH_RIGHT = "agree, both right"
    BOTH_WRONG = "agree, both wrong"
    RULES_RIGHT = "disagree, rules right"
    TREE_RIGHT = "disagree, tree right"
    NEITHER_RIGHT = "disagree, neither right"
    EITHER_RIGHT = "disagree, either defensible"
    SILENT_RIGHT = "tree silent, rules right"
    SILENT_WRONG = "tree silent, rules wrong"


_WORSE = {outcome: place for place, outcome in enumerate(Outcome)}


class Assessed(msgspec.Struct, frozen=True):
    """
    One substance: the outcome of its likeliest full record, and the worst over all its honest full records.

    `open_defensible` tells whether an inconclusive verdict leaves open only classes that are defensible for it;
    `of_rules` and `of_tree` are the first classes of rules and tree on the likeliest record, and `found` is the worst result.
    """

    substance: Substance
    likeliest: Outcome
    worst: Outcome
    first_is_defensible: bool
    open_defensible: bool
    found: Identification
    cross_checked: CrossChecked
    of_rules: str
    of_tree: str


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
    substances: tuple[Substance, ...], knowledge: KnowledgeBase, *, progress: Callable[[], None] = lambda: None
) -> tuple[Assessed, ...]:
    """Every substance judged on all its honest full records; `progress` is called after each."""
    found = []
    for substance, colleagues in zip(substances, colleagues_left_out(substances, knowledge), strict=True):
        found.append(_assess(substance, colleagues, knowledge))
        progress()
    return tuple(found)


def colleagues_left_out(substances: tuple[Substance, ...], knowledge: KnowledgeBase) -> Iterator[Colleagues]:
    """For each substance of the reference table, a tree and a table of reference readings that have never seen it."""
    from .second_opinion.tree_training import trees_left_out  # imports scikit-learn

    reference = load_reference()
    for substance, tree in zip(substances, trees_left_out(substances, knowledge, load_tree().settings), strict=True):
        yield Colleagues(tree, reference.without(substance.name))


def _assess(substance: Substance, colleagues: Colleagues, knowledge: KnowledgeBase) -> Assessed:
    records = expected_records(substance, knowledge)
    results = [identify(record, knowledge, advise=False, colleagues=colleagues) for record in records]
    outcomes = [outcome_of(result, substance) for result in results]
    worst = max(range(len(results)), key=lambda index: _WORSE[outcomes[index]])
    defensible = substance.defensible_classes()
    return Assessed(
        substance=substance,
        likeliest=outcomes[0],
        worst=outcomes[worst],
        first_is_defensible=results[0].ranking[0].class_ in defensible,
        open_defensible=set(results[0].verdict.open_between) <= set(defensible),
        found=results[worst],
        cross_checked=_cross_checked(results[0], defensible),
        of_rules=results[0].ranking[0].class_,
        of_tree=results[0].cross_check.class_,
    )


def _cross_checked(result: Identification, defensible: tuple[str, ...]) -> CrossChecked:
    rules = result.ranking[0].class_ in defensible
    tree = result.cross_check.class_ in defensible
    agreement = result.cross_check.agreement
    if agreement is Agreement.SILENT:
        return CrossChecked.SILENT_RIGHT if rules else CrossChecked.SILENT_WRONG
    if agreement is Agreement.AGREES:
        return CrossChecked.BOTH_RIGHT if rules else CrossChecked.BOTH_WRONG
    if rules and tree:
        return CrossChecked.EITHER_RIGHT
    if rules:
        return CrossChecked.RULES_RIGHT
    return CrossChecked.TREE_RIGHT if tree else CrossChecked.NEITHER_RIGHT


def outcome_of(result: Identification, substance: Substance) -> Outcome:
    """What came of a judgement on a substance."""
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
