"""The misread reading: which readings do not go with the rest, why, and what the verdict would be without them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from operator import mul

import msgspec

from spotplate.engine.reasoning import Chained, Firing, Ranked, Verdict, VerdictKind, chain, contradictions, rank
from spotplate.engine.record import Record
from spotplate.engine.reference_readings import ReferenceReadings
from spotplate.engine.resemblance import Resemblance, chance_of_value, fits
from spotplate.kb import Interval, KnowledgeBase

_MOST_SUSPECTS = 3
_CERTAIN = 1 - 1e-12  # [-]
_OTHERS_NEEDED = 2  # readings besides the suspect that must point to a subtype which explains it


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
    ranking: Sequence[Ranked],
    verdict: Verdict,
    judged: Judged,
    reference: ReferenceReadings,
    knowledge: KnowledgeBase,
) -> tuple[Suspect, ...]:
    """
    The readings to doubt, the likeliest misreading first.

    A reading is doubted from the probabilities in `kb/second_opinion.yaml` on, sooner when a conclusion hangs on it. In
    a contradictory record one of the readings must be wrong, so the likeliest are named even below them. `judged` gives
    ranking and verdict of another record.
    """
    first = ranking[0].class_
    contradictory = verdict.kind is VerdictKind.CONTRADICTORY
    if contradictory:
        named = _in_contradiction(record, found, knowledge)
    else:
        named = _doubtful(record, found, first, verdict, judged, knowledge)
    doubted = []
    for reading, chance in named:
        subtype = None if contradictory else _explaining_subtype(reading, first, chained, knowledge)
        doubted.append(_suspect(record, reading, chance, found, subtype, judged, reference, knowledge))
    return tuple(doubted)


def _doubtful(
    record: Record, found: Resemblance, first: str, verdict: Verdict, judged: Judged, knowledge: KnowledgeBase
) -> list[tuple[str, float]]:
    limits = knowledge.second_opinion.misread

    def hangs_on(reading: str) -> bool:
        if verdict.kind is not VerdictKind.CONCLUSIVE or found.misread[reading] < limits.hanging:
            return False
        without, _ = judged(record.without(reading))
        return without[0].class_ != first

    named = {reading: chance for reading, chance in found.misread.items() if chance >= limits.doubtful or hangs_on(reading)}
    return sorted(named.items(), key=lambda item: -item[1])


def _in_contradiction(record: Record, found: Resemblance, knowledge: KnowledgeBase) -> list[tuple[str, float]]:
    """
    The likeliest of the readings without which the rest can be right; failing such, the likeliest of all.

    One of them was misread for certain, so their probabilities are those given that.
    """
    resolving = {name: found.misread[name] for name in record.readings if _can_be_right(record.without(name), knowledge)}
    if not resolving:
        return [max(found.misread.items(), key=lambda item: item[1])]
    # Written so that very small probabilities do not vanish beside 1.
    any_of_them = -math.expm1(sum(math.log1p(-min(chance, _CERTAIN)) for chance in resolving.values()))
    given = {name: min(1.0, chance / any_of_them) for name, chance in resolving.items()}
    return sorted(given.items(), key=lambda item: -item[1])[:_MOST_SUSPECTS]


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


def _explaining_subtype(reading: str, first: str, chained: Chained, knowledge: KnowledgeBase) -> str | None:
    """
    A subtype of the first class that the rules recognised with the help of a reading, so that it is no surprise.

    Two other readings at least must point to the subtype: a misreading must not testify in its own defence.
    """
    for fact, firings in chained.facts.items():
        name = knowledge.facts[fact].subtype
        if name is None or first not in knowledge.subtypes[name].of:
            continue
        for firing in firings:
            used = _readings_behind(firing, chained)
            if reading in used and len(used) > _OTHERS_NEEDED:
                return name
    return None


def _readings_behind(firing: Firing, chained: Chained) -> set[str]:
    """The readings that a firing rests on, through facts as well."""
    used: set[str] = set()
    seen: set[str] = set()
    waiting = [firing]
    while waiting:
        support = waiting.pop()
        if support.rule.id not in seen:
            seen.add(support.rule.id)
            used |= set(support.readings)
            waiting += [below for name in support.facts for below in chained.facts[name]]
    return used
