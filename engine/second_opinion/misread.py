"""The misread reading: which readings do not go with the rest, why, and what the verdict would be without them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from operator import mul

import msgspec

from spotplate.engine.reasoning import Chained, Ranked, Verdict, VerdictKind, chain, contradictions, rank
from spotplate.engine.record import Record
from spotplate.engine.reference_readings import ReferenceReadings
from spotplate.kb import Interval, KnowledgeBase

from .resemblance import Resemblance, chance_of_value, fits

_MOST_SUSPECTS = 3
_UNUSUAL = 0.05  # a suspect of a contradictory record is named from this probability on [-]


class Predicted(msgspec.Struct, frozen=True):
    """A value that the other readings lead one to expect, and how strongly [-]."""

    value: str
    probability: float


class Suspect(msgspec.Struct, frozen=True):
    """
    A reading that was probably misread.

    `probability` [-] is that of a misreading; `predicted` what the other readings lead one to expect (empty for a number);
    `explained_by` names a subtype for which the reading is no surprise, and then nobody is accused of a misreading.
    `verdict_without` is the verdict on the record without it, `first_without` the class that then ranks first.
    """

    reading: str
    probability: float
    predicted: tuple[Predicted, ...]
    explained_by: str | None
    causes: tuple[str, ...]
    repeat: str
    verdict_without: Verdict
    first_without: str
    probability_without: float


Judged = Callable[[Record], tuple[Sequence[Ranked], Verdict]]


def suspects(
    record: Record,
    found: Resemblance,
    chained: Chained,
    verdict: Verdict,
    judged: Judged,
    reference: ReferenceReadings,
    knowledge: KnowledgeBase,
) -> tuple[Suspect, ...]:
    """
    The readings to doubt, the likeliest misreading first.

    A reading is doubted from the probability in `kb/second_opinion.yaml` on. In a contradictory record one of the
    readings must be wrong, so the likeliest are named even below it: first those without which the rest can be right.
    `judged` gives ranking and verdict of another record.
    """
    doubtful = knowledge.second_opinion.misread.doubtful
    ordered = sorted(found.misread.items(), key=lambda item: -item[1])
    if verdict.kind is VerdictKind.CONTRADICTORY:
        resolving = {reading for reading in record.readings if _can_be_right(record.without(reading), knowledge)}
        # One of them was misread for certain, so their probabilities are those given that.
        any_of_them = 1 - math.prod(1 - found.misread[reading] for reading in resolving) if resolving else 1.0
        ordered = [(reading, min(1.0, chance / any_of_them) if reading in resolving else chance) for reading, chance in ordered]
        ordered.sort(key=lambda item: item[0] not in resolving)
        named = [pair for pair in ordered[:_MOST_SUSPECTS] if pair[1] >= _UNUSUAL] or ordered[:1]
        explained = {}
    else:
        named = [(reading, chance) for reading, chance in ordered if chance >= doubtful]
        explained = _explained(chained, knowledge)
    return tuple(
        _suspect(record, reading, chance, found, explained.get(reading), judged, reference, knowledge)
        for reading, chance in named
    )


def _can_be_right(record: Record, knowledge: KnowledgeBase) -> bool:
    firings = chain(record.readings, knowledge).firings
    return not contradictions(rank(firings, knowledge), firings, knowledge)


def _suspect(
    record: Record,
    reading: str,
    chance: float,
    found: Resemblance,
    subtype: str | None,
    judged: Judged,
    reference: ReferenceReadings,
    knowledge: KnowledgeBase,
) -> Suspect:
    kind = knowledge.readings[reading]
    value = record.readings[reading]
    mistaken = next((word.mistaken for word in kind.values if word.is_ == value), ())
    ranking, verdict = judged(record.without(reading))
    return Suspect(
        reading=reading,
        probability=chance,
        predicted=predicted(record, reading, found, reference, knowledge),
        explained_by=subtype,
        causes=(*mistaken, *kind.misread.causes),
        repeat=kind.misread.repeat,
        verdict_without=verdict,
        first_without=ranking[0].class_,
        probability_without=ranking[0].probability,
    )


def predicted(
    record: Record, reading: str, found: Resemblance, reference: ReferenceReadings, knowledge: KnowledgeBase
) -> tuple[Predicted, ...]:
    """What the other readings lead one to expect of a reading from a closed list, likeliest first; nothing for a number."""
    kind = knowledge.readings[reading]
    value = record.readings[reading]
    if isinstance(value, Interval):
        return ()
    slip, rise = chance_of_value(reading, knowledge)
    seen = fits(reading, value, reference, knowledge)
    # Taking the reading's own factor out again leaves the probabilities by all other readings.
    substances = [weight / (slip + rise * fit) for weight, fit in zip(found.substances, seen.own, strict=True)]
    others = [weight / (slip + rise * fit) for weight, fit in zip(found.others, seen.alike, strict=True)]
    chances = {}
    for word in kind.words():
        fitting = fits(reading, word, reference, knowledge)
        chances[word] = sum(map(mul, substances, fitting.own)) + sum(map(mul, others, fitting.alike))
    whole = sum(chances.values())
    return tuple(Predicted(word, chance / whole) for word, chance in sorted(chances.items(), key=lambda item: -item[1]))


def _explained(chained: Chained, knowledge: KnowledgeBase) -> dict[str, str]:
    """Reading → subtype that the rules recognised with its help, so that the reading is no surprise."""
    explained: dict[str, str] = {}
    for fact, firings in chained.facts.items():
        subtype = knowledge.facts[fact].subtype
        if subtype is None:
            continue
        waiting, seen = list(firings), set()
        while waiting:
            firing = waiting.pop()
            if firing.rule.id in seen:
                continue
            seen.add(firing.rule.id)
            for reading in firing.readings:
                explained.setdefault(reading, subtype)
            waiting += [support for below in firing.facts for support in chained.facts[below]]
    return explained
