"""The verdict on a ranking: conclusive, inconclusive or contradictory, with its reasons in words."""

from __future__ import annotations

import enum
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.kb import KnowledgeBase

from .chaining import Firing
from .weighing import Ranked


class VerdictKind(enum.StrEnum):
    CONCLUSIVE = "conclusive"
    INCONCLUSIVE = "inconclusive"
    CONTRADICTORY = "contradictory"


class Verdict(msgspec.Struct, frozen=True):
    """
    Whether the readings decide; `class_` is named only when they do.

    `open_between` lists the classes that the readings leave open when they do not.
    """

    kind: VerdictKind
    class_: str | None
    reasons: tuple[str, ...]
    open_between: tuple[str, ...] = ()


def judge(
    ranking: Sequence[Ranked],
    firings: Sequence[Firing],
    knowledge: KnowledgeBase,
    without: Mapping[str, Sequence[Ranked]],
) -> Verdict:
    """
    The verdict by the thresholds of the knowledge base.

    Parameters
    ----------
    ranking, firings
        Of the whole record
    without : mapping
        Reading → ranking of the record without it; a class that one reading alone carries is no conclusion
    """
    if objections := contradictions(ranking, firings, knowledge):
        return Verdict(VerdictKind.CONTRADICTORY, None, objections, _left_open(ranking))
    shortfalls = _shortfalls(ranking, knowledge, without)
    if shortfalls:
        return Verdict(VerdictKind.INCONCLUSIVE, None, tuple(shortfalls), _left_open(ranking))
    first, second = ranking[:2]
    reason = f"The evidence puts {first.class_} {first.decibans - second.decibans:.0f} decibans ahead of {second.class_}."
    return Verdict(VerdictKind.CONCLUSIVE, first.class_, (reason,))


def contradictions(ranking: Sequence[Ranked], firings: Sequence[Firing], knowledge: KnowledgeBase) -> tuple[str, ...]:
    """Why the readings cannot all be right, in words; nothing when they can."""
    if conflicts := tuple(firing.rule.conflict for firing in firings if firing.rule.conflict):
        return conflicts
    objection = _every_class_refused(ranking, knowledge)
    return (objection,) if objection else ()


def _every_class_refused(ranking: Sequence[Ranked], knowledge: KnowledgeBase) -> str | None:
    """Sentence when every class has a strong net objection from some cause, and even the best one little for it."""
    limit = knowledge.verdict.contradictory.against
    if ranking[0].decibans >= limit:
        return None
    worst = [min(item.by_cause().items(), key=lambda pair: pair[1], default=("", 0.0)) for item in ranking]
    if any(decibans > -limit for _, decibans in worst):
        return None
    first, (cause, _) = ranking[0], worst[0]
    return (
        f"Every class has strong evidence against it; even the first one, {first.class_}, is refused by "
        f"{knowledge.causes[cause].says}."
    )


def _shortfalls(ranking: Sequence[Ranked], knowledge: KnowledgeBase, without: Mapping[str, Sequence[Ranked]]) -> list[str]:
    need = knowledge.verdict.conclusive
    first, second = ranking[:2]
    if not any(item.weights for item in ranking):
        return ["No reading speaks for or against any class yet."]
    lead = first.decibans - second.decibans
    if first.probability < need.probability or lead < need.lead:
        return [f"The readings leave {_listed(_left_open(ranking))} open."]
    if not without:
        return ["No reading speaks for or against any class yet."]
    weakest = min(without, key=lambda reading: (_probability(first.class_, without[reading]), reading))
    carried = _probability(first.class_, without[weakest]) < need.without_one
    if carried and len(leading_causes(first, second)) < need.causes:
        leads = f"{first.class_.capitalize()} leads, but on a single kind of evidence"
        return [f"{leads}; without the reading “{weakest}” it would not. One misreading could undo the conclusion."]
    return []


def leading_causes(first: Ranked, second: Ranked) -> list[str]:
    """Causes that put `first` ahead of `second`."""
    ours, theirs = first.by_cause(), second.by_cause()
    return [cause for cause in {**ours, **theirs} if ours.get(cause, 0.0) > theirs.get(cause, 0.0)]


def _probability(name: str, ranking: Sequence[Ranked]) -> float:
    return next(item.probability for item in ranking if item.class_ == name)


def _left_open(ranking: Sequence[Ranked]) -> tuple[str, ...]:
    """The first two classes, and every other one that is at least a tenth as probable as the first."""
    tenth = ranking[0].probability / 10
    return tuple(item.class_ for place, item in enumerate(ranking) if place < 2 or item.probability > tenth)


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
