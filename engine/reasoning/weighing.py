"""Weighing: from firings to weights of evidence per class, and from weights to probabilities.

Weights are in decibans, ten times the base-10 logarithm of a likelihood ratio (I. J. Good, Probability and
the Weighing of Evidence, 1950). Several signs of one cause are one sign: within a cause a class gets only
its strongest weight for and its strongest weight against.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import msgspec

from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, not_accepted

from .chaining import Firing


class Weight(msgspec.Struct, frozen=True):
    """
    What one firing weighs for (positive) or against (negative) one class.

    `decibans` [dB] is the full weight of the rule's word; it enters the sum only when `counted`.
    """

    class_: str
    cause: str
    word: str
    decibans: float
    firing: Firing
    counted: bool


class Ranked(msgspec.Struct, frozen=True):
    """One class in the ranking: probability [-], sum of the counted weights [decibans], and the weights."""

    class_: str
    probability: float
    decibans: float
    weights: tuple[Weight, ...]

    def by_cause(self) -> dict[str, float]:
        """Sum of the counted weights of each cause [decibans]."""
        sums: dict[str, float] = {}
        for weight in self.weights:
            if weight.counted:
                sums[weight.cause] = sums.get(weight.cause, 0.0) + weight.decibans
        return sums


def rank(firings: Iterable[Firing], knowledge: KnowledgeBase, prior: Mapping[str, float] | None = None) -> tuple[Ranked, ...]:
    """
    Classes in order of probability; equal ones in the order of the knowledge base.

    Parameters
    ----------
    firings : iterable of Firing
        What chaining gave
    prior : mapping, optional
        Class → prior probability [-]; all classes alike when not given

    Raises
    ------
    FaultyInputError
        If the prior names an unknown class, holds a number below 0, or leaves nothing possible
    """
    if prior is not None:
        _check_prior(prior, knowledge)
    weights = _weights(firings, knowledge)
    sums = {name: sum(w.decibans for w in weights[name] if w.counted) for name in knowledge.classes}
    scale = knowledge.calibration.constant / 10
    top = max(total for name, total in sums.items() if prior is None or prior.get(name))
    odds = {
        name: (prior.get(name, 0.0) if prior is not None else 1.0) * 10 ** (scale * (total - top)) for name, total in sums.items()
    }
    whole = sum(odds.values())
    ranked = [Ranked(name, odds[name] / whole, sums[name], weights[name]) for name in knowledge.classes]
    return tuple(sorted(ranked, key=lambda item: -item.probability))


def _check_prior(prior: Mapping[str, float], knowledge: KnowledgeBase) -> None:
    faults = [
        Fault("prior", not_accepted(name, "a class", list(knowledge.classes))) for name in prior if name not in knowledge.classes
    ]
    faults += [Fault("prior", f"{name!r} has {value}; 0 or more is accepted.") for name, value in prior.items() if not value >= 0]
    if not faults and not sum(prior.values()) > 0:
        faults = [Fault("prior", "no class is possible; at least one needs a probability above 0.")]
    if faults:
        raise FaultyInputError(faults)


def _weights(firings: Iterable[Firing], knowledge: KnowledgeBase) -> dict[str, tuple[Weight, ...]]:
    found: dict[str, list[tuple[str, str, float, Firing]]] = {name: [] for name in knowledge.classes}
    for firing in firings:
        weighs = firing.rule.weighs
        if weighs is None:
            continue
        for words, sign in ((weighs.for_, 1.0), (weighs.against, -1.0)):
            for name, word in words.items():
                found[name].append((weighs.cause, word, sign * knowledge.verdict.words[word], firing))
    return {name: _counted_once(name, items) for name, items in found.items()}


def _counted_once(name: str, items: list[tuple[str, str, float, Firing]]) -> tuple[Weight, ...]:
    """The weights on one class, strongest first; within a cause only the strongest for and against count."""
    taken: set[tuple[str, bool]] = set()
    weights = []
    for cause, word, decibans, firing in sorted(items, key=lambda item: (-abs(item[2]), item[3].rule.id)):
        side = (cause, decibans > 0)
        weights.append(Weight(name, cause, word, decibans, firing, side not in taken))
        taken.add(side)
    return tuple(weights)
