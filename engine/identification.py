"""Identification: one record in, a ranked, judged and explained answer out."""

from __future__ import annotations

import functools
from collections.abc import Collection, Mapping, Sequence

import msgspec

from spotplate.kb import KnowledgeBase, load_knowledge

from .bench import Aim, Frequencies, NextTest, next_tests, value_frequencies
from .reasoning import Chained, Contrast, Ranked, Reason, Verdict, VerdictKind, chain, contrast, judge, rank, reasons
from .record import Record
from .reference_readings import ReferenceReadings, load_reference
from .resemblance import Resemblance, classes_of_set, prior_of_set, prior_of_table, resemblance
from .second_opinion import (
    Agreement,
    Candidates,
    CrossCheck,
    Suspect,
    Tree,
    candidates,
    cross_check,
    load_tree,
    suspects,
)

_LIKELY = 0.5  # [-] probability from which a candidate explains a record that every class objects to

_BORNE_OUT = 0.8  # [-] share of the class among what the record resembles, below which a conclusion is worth confirming
_CERTAIN = 0.9  # [-] probability from which no further test is proposed to find out which substance of a set it is


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
    `next_tests` the tests that would help most, best first. After a conclusive verdict there are
    none, unless the substance within a known set is still open, or reference substances that the record resembles are of
    other classes, so that it is worth confirming. `cross_check` is the
    decision tree's answer, `suspects` the readings that were probably misread, `candidates` the reference substances
    that the record fits.
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
    cross_check: CrossCheck
    suspects: tuple[Suspect, ...]
    candidates: Candidates
    checksum: str


class Colleagues(msgspec.Struct, frozen=True):
    """Whom the second opinions are asked of: the tree, and the reference table's expected readings."""

    tree: Tree
    reference: ReferenceReadings


def identify(
    record: Record,
    knowledge: KnowledgeBase | None = None,
    *,
    among: Sequence[str] = (),
    prior: Mapping[str, float] | None = None,
    left_out: Collection[str] = (),
    advise: bool = True,
    colleagues: Colleagues | None = None,
) -> Identification:
    """
    What the readings of one vial say of its bonding class.

    Parameters
    ----------
    record : Record
        The readings; make one with `make_record` or `read_records`
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given
    among : sequence of str
        Reference substances of the unknowns set that the vial belongs to, once for each vial, by the names of the
        reference table (`find_substance` gives them); they become the prior for substances and classes
    prior : mapping, optional
        Class → prior probability [-], instead of what `among` says; all classes alike when neither is given
    left_out : collection of str
        Bench tests that are not to be proposed, since their apparatus is missing or they were tried
    advise : bool
        Whether to work out which tests would help; costs some tens of milliseconds
    colleagues : Colleagues, optional
        Tree and reference readings to ask for second opinions; the shipped ones when not given. An assessment on a
        substance gives some that have never seen it

    Raises
    ------
    FaultyInputError
        If `among` names what is not in the reference table, or the prior leaves nothing possible

    Examples
    --------
    >>> from spotplate.engine import identify, make_record
    >>> record = make_record({"lustre": "metallic", "deformation": "malleable", "dry conductivity": "bright glow"})
    >>> identify(record).verdict.class_
    'metallic'
    """
    knowledge = knowledge or load_knowledge()
    colleagues = colleagues or Colleagues(load_tree(), load_reference())
    reference = colleagues.reference
    among = (among,) if isinstance(among, str) else among  # one name is a set of one vial, not of its letters
    if among:
        shares = classes_of_set(among, reference, knowledge)  # refuses what is not in the table
        prior = shares if prior is None else prior

    def judged(other: Record) -> tuple[Sequence[Ranked], Verdict]:
        found, _, _, verdict = _by_rules(other, knowledge, prior)
        return found, verdict

    ranking, chained, without, verdict = _by_rules(record, knowledge, prior)
    frequencies = functools.partial(_frequencies, reference, knowledge)
    second = cross_check(record, ranking, colleagues.tree, frequencies, knowledge)
    substances = prior_of_set(among, reference, knowledge) if among else prior_of_table(reference, knowledge, prior)
    alike = resemblance(record, substances, reference, knowledge)
    listed = candidates(record, alike, reference, knowledge, among)
    verdict = _known_exception(verdict, chained, listed)
    doubted = suspects(record, alike, chained, ranking, verdict, judged, reference, knowledge)
    verdict = with_second_opinion(verdict, ranking, second, doubted)
    tests: tuple[NextTest, ...] = ()
    settled = verdict.kind is VerdictKind.CONCLUSIVE and _borne_out(ranking[0].class_, alike, reference)
    aim = Aim(class_=not settled, substance=bool(among) and not _one_stands_out(listed))
    if advise and (aim.class_ or aim.substance):
        tests = next_tests(record, ranking, alike, reference, knowledge, aim=aim, prior=prior, left_out=left_out)
    return Identification(
        record=record,
        verdict=verdict,
        ranking=ranking,
        reasons={item.class_: reasons(item, chained, knowledge) for item in ranking},
        contrast=contrast(ranking),
        rests_on=_rests_on(ranking, without),
        facts=_particle_facts(chained, knowledge),
        next_tests=tests,
        cautions=_cautions(tests, knowledge),
        cross_check=second,
        suspects=doubted,
        candidates=listed,
        checksum=knowledge.checksum,
    )


def _borne_out(class_: str, alike: Resemblance, reference: ReferenceReadings) -> bool:
    """Whether the reference substances that a record resembles are mostly of a class."""
    share = sum(
        own + other for name, own, other in zip(reference.classes, alike.substances, alike.others, strict=True) if name == class_
    )
    return share >= _BORNE_OUT


def _one_stands_out(listed: Candidates) -> bool:
    """Whether one substance of the set is as good as certain."""
    return bool(listed.best) and listed.best[0].probability >= _CERTAIN


def _known_exception(verdict: Verdict, chained: Chained, listed: Candidates) -> Verdict:
    """
    No contradiction where the readings speak against every class, yet a reference substance shows them all.

    Readings that cannot stand together in any substance stay a contradiction.
    """
    if verdict.kind is not VerdictKind.CONTRADICTORY or any(firing.rule.conflict for firing in chained.firings):
        return verdict
    if not listed.best or listed.best[0].misfits or listed.best[0].probability < _LIKELY:
        return verdict
    first = listed.best[0]
    kind = f", {first.subtype}," if first.subtype else ""
    reason = f"But {first.name} of the reference table ({first.class_}){kind} shows all these readings."
    return Verdict(VerdictKind.INCONCLUSIVE, None, (*verdict.reasons, reason), verdict.open_between)


def with_second_opinion(verdict: Verdict, ranking: Sequence[Ranked], second: CrossCheck, doubted: Sequence[Suspect]) -> Verdict:
    """A conclusion stands only when the tree does not speak against it, and it does not hang on a doubtful reading."""
    if verdict.kind is not VerdictKind.CONCLUSIVE:
        return verdict
    against = []
    first = ranking[0].class_
    if second.agreement is Agreement.DISAGREES:
        against.append(f"By the rules it would be {first}, but the cross-check by the decision tree says {second.class_}.")
    against += [
        f"By the rules it would be {first}, but that hangs on the reading “{item.reading}”, which was probably misread."
        for item in doubted
        if item.explained_by is None and item.first_without != first
    ]
    if not against:
        return verdict
    others = [second.class_] if second.agreement is Agreement.DISAGREES else []
    others += [item.first_without for item in doubted if item.explained_by is None]
    return Verdict(VerdictKind.INCONCLUSIVE, None, tuple(against), tuple(dict.fromkeys((first, *others))))


def _frequencies(reference: ReferenceReadings, knowledge: KnowledgeBase) -> Frequencies:
    """How often each class shows each value; worked out once for a reference."""
    kept: Frequencies | None = reference.__dict__.get("frequencies")
    if kept is None:
        kept = reference.__dict__["frequencies"] = value_frequencies(reference.rows, knowledge)
    return kept


def _by_rules(
    record: Record, knowledge: KnowledgeBase, prior: Mapping[str, float] | None
) -> tuple[tuple[Ranked, ...], Chained, dict[str, tuple[Ranked, ...]], Verdict]:
    """Ranking, firings, the ranking without each reading, and the verdict, all by the rules alone."""
    ranking, chained = _conclude(record, knowledge, prior)
    without = {reading: _conclude(record.without(reading), knowledge, prior)[0] for reading in record.readings}
    return ranking, chained, without, judge(ranking, chained.firings, knowledge, without)


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
