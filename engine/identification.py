"""Identification: one record in, a ranked, judged and explained answer out."""

from __future__ import annotations

import functools
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.datasets import load_substances
from spotplate.kb import KnowledgeBase, load_knowledge

from .bench import Frequencies, NextTest, next_tests, value_frequencies
from .reasoning import Chained, Contrast, Ranked, Reason, Verdict, VerdictKind, chain, contrast, judge, rank, reasons
from .record import Record


class ParticleFact(msgspec.Struct, frozen=True):
    """A fact derived about the particles, the rules that support it, and the subtype it points to, if any."""

    fact: str
    says: str
    rules: tuple[str, ...]
    subtype: str | None


class Dependence(msgspec.Struct, frozen=True):
    """Which class would rank first, and with what probability [-], had one reading never been made."""

    reading: str
    first_without: str
    probability_without: float


class Identification(msgspec.Struct, frozen=True):
    """
    The whole result on one record.

    `ranking` runs from the likeliest class down; `reasons` holds, for each class, what speaks for and
    against it; `rests_on` the readings without which the first class would be another or clearly less probable;
    `next_tests` the tests that would help most, best first (none after a conclusive verdict).
    """

    record: Record
    verdict: Verdict
    ranking: tuple[Ranked, ...]
    reasons: dict[str, tuple[Reason, ...]]
    contrast: Contrast
    rests_on: tuple[Dependence, ...]
    facts: tuple[ParticleFact, ...]
    next_tests: tuple[NextTest, ...]
    cautions: tuple[str, ...]
    checksum: str


def identify(
    record: Record,
    knowledge: KnowledgeBase | None = None,
    *,
    prior: Mapping[str, float] | None = None,
    advise: bool = True,
) -> Identification:
    """
    What the readings of one vial say of its bonding class.

    Parameters
    ----------
    record : Record
        The readings; make one with `make_record` or `read_records`
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given
    prior : mapping, optional
        Class → prior probability [-]; all classes alike when not given
    advise : bool
        Whether to work out which tests would help; costs some milliseconds

    Examples
    --------
    >>> from spotplate.engine import identify, make_record
    >>> record = make_record({"lustre": "metallic", "deformation": "malleable", "dry conductivity": "bright glow"})
    >>> identify(record).verdict.class_
    'metallic'
    """
    knowledge = knowledge or load_knowledge()
    ranking, chained = _conclude(record, knowledge, prior)
    without = {reading: _conclude(record.without(reading), knowledge, prior) for reading in record.readings}
    verdict = judge(ranking, chained.firings, knowledge, {reading: found for reading, (found, _) in without.items()})
    tests: tuple[NextTest, ...] = ()
    if advise and verdict.kind is not VerdictKind.CONCLUSIVE:
        tests = next_tests(record, ranking, _reference_frequencies(), knowledge, prior=prior)
    return Identification(
        record=record,
        verdict=verdict,
        ranking=ranking,
        reasons={item.class_: reasons(item, chained, knowledge) for item in ranking},
        contrast=contrast(ranking),
        rests_on=_rests_on(ranking, {reading: found for reading, (found, _) in without.items()}),
        facts=_particle_facts(chained, knowledge),
        next_tests=tests,
        cautions=_cautions(tests, knowledge),
        checksum=knowledge.checksum,
    )


@functools.cache
def _reference_frequencies() -> Frequencies:
    return value_frequencies(load_substances(), load_knowledge())


def _conclude(record: Record, knowledge: KnowledgeBase, prior: Mapping[str, float] | None) -> tuple[tuple[Ranked, ...], Chained]:
    chained = chain(record.readings, knowledge)
    return rank(chained.firings, knowledge, prior), chained


def _rests_on(ranking: Sequence[Ranked], without: Mapping[str, Sequence[Ranked]]) -> tuple[Dependence, ...]:
    """The readings that the first class rests on most: without one of them it loses more than a tenth in probability."""
    first = ranking[0]
    found = []
    for reading, other in without.items():
        kept = next(item.probability for item in other if item.class_ == first.class_)
        if other[0].class_ != first.class_ or first.probability - kept > 0.1:
            found.append(Dependence(reading, other[0].class_, other[0].probability))
    return tuple(found)


def _particle_facts(chained: Chained, knowledge: KnowledgeBase) -> tuple[ParticleFact, ...]:
    return tuple(
        ParticleFact(name, knowledge.facts[name].says, tuple(f.rule.id for f in firings), knowledge.facts[name].subtype)
        for name, firings in chained.facts.items()
    )


def _cautions(tests: Sequence[NextTest], knowledge: KnowledgeBase) -> tuple[str, ...]:
    """The usual cautions for the tests proposed, each once."""
    keys = {key: None for test in tests for key in knowledge.tests[test.test].cautions}
    return tuple(knowledge.cautions[key].says for key in keys)
