"""Checking an unknowns set: what its tests can tell apart, what follows for each vial, and where rules of thumb mislead."""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from itertools import combinations

import msgspec

from spotplate.datasets import load_substances
from spotplate.engine.expected import expected_readings, only_makeable
from spotplate.engine.identification import Identification, identify
from spotplate.engine.reasoning import VerdictKind, cited, readings_that_meet
from spotplate.engine.record import ReadValue, Record
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted, shown

from .telling_apart import parting_readings
from .unknowns_set import UnknownsSet

_REASONS = 3  # told of each conclusion


class PairCheck(msgspec.Struct, frozen=True):
    """
    Two vials, by their labels, and the tests that tell them apart whatever honest readings they give.

    `parted_by` maps each such test to its readings that cannot coincide, `enough` tells whether they are as many as wished.
    """

    first: str
    second: str
    parted_by: dict[str, tuple[str, ...]]
    enough: bool


class SmallestKit(msgspec.Struct, frozen=True):
    """
    The tests with the fewest minutes [min] that part every pair as often as wished.

    Where even all tests part some pair less often, `parts_all` is false, and the kit parts each pair as often as wished or,
    failing that, as often as all tests together do. `parted_at_least` is the number of tests that part its weakest pair.
    `smaller_kits` counts the kits of no more minutes that were tried and do not do: the proof that none is smaller.
    """

    tests: tuple[str, ...]
    minutes: float
    parts_all: bool
    parted_at_least: int
    smaller_kits: int


class ReasonTold(msgspec.Struct, frozen=True):
    """A reason of the conclusion: the readings it rests on, and why they speak for the class."""

    readings: tuple[str, ...]
    because: str
    source: str


class Conclusion(msgspec.Struct, frozen=True):
    """
    What follows from a vial's likeliest readings.

    `class_` is named only when the verdict is conclusive; `right` then tells whether it is the substance's class, or another
    defensible one, and is None otherwise. `first` is the class ranked first, with its probability [-], and
    `first_defensible` tells the same of it. `reasons` speak for it, the weightiest first.
    """

    kind: VerdictKind
    class_: str | None
    right: bool | None
    first: str
    probability: float
    first_defensible: bool
    open_between: tuple[str, ...]
    verdict_says: tuple[str, ...]
    reasons: tuple[ReasonTold, ...]


class VialConclusion(msgspec.Struct, frozen=True):
    """
    What a perfect student concludes of one vial: knowing what the set is made of, and knowing nothing.

    `classes` holds the substance's class and, behind it, any other defensible one. `readings` are the likeliest ones of the
    set's tests. `likeliest_substance` is the member of the set that fits best, with its probability [-].
    """

    label: str
    substance: str
    classes: tuple[str, ...]
    subtype: str
    readings: dict[str, ReadValue]
    within_set: Conclusion
    alone: Conclusion
    likeliest_substance: str
    substance_probability: float


class Misleading(msgspec.Struct, frozen=True):
    """
    A vial on which a usual rule of thumb leads astray.

    `rule` is the id of the rule of thumb, `says` its wording, `jumps_to` the classes it jumps to, `readings` those of the
    vial that invite it; `because` tells why the rule fails, `teaches` what this very substance teaches.
    """

    label: str
    substance: str
    class_: str
    rule: str
    says: str
    jumps_to: tuple[str, ...]
    readings: tuple[str, ...]
    because: str
    teaches: str
    source: str


class SetCheck(msgspec.Struct, frozen=True):
    """
    All that was found of a set.

    `tests` are those of its tests that can be done; `cannot_be_done` maps the others to the tests that they need and that are
    not among them. `pairs` holds every pair of vials once, in the order of the vials.
    """

    unknowns_set: UnknownsSet
    tests: tuple[str, ...]
    cannot_be_done: dict[str, tuple[str, ...]]
    pairs: tuple[PairCheck, ...]
    kit: SmallestKit
    conclusions: tuple[VialConclusion, ...]
    misleading: tuple[Misleading, ...]

    @property
    def not_parted(self) -> tuple[PairCheck, ...]:
        """Pairs that no test tells apart."""
        return tuple(pair for pair in self.pairs if not pair.parted_by)

    @property
    def parted_too_little(self) -> tuple[PairCheck, ...]:
        """Pairs that are told apart, but by fewer tests than wished."""
        return tuple(pair for pair in self.pairs if pair.parted_by and not pair.enough)

    @property
    def parted_at_least(self) -> int | None:
        """Number of tests that part the weakest pair; None for a set of a single vial."""
        return min((len(pair.parted_by) for pair in self.pairs), default=None)


def check_set(unknowns_set: UnknownsSet, knowledge: KnowledgeBase | None = None) -> SetCheck:
    """
    What the tests of a set can do with its vials.

    Parameters
    ----------
    unknowns_set : UnknownsSet
        The vials, by substances of the reference table; all bench tests count where it names none
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given

    Raises
    ------
    FaultyInputError
        If a substance or a test is not known, a label is given twice, or there is no vial

    Examples
    --------
    >>> from spotplate.engine.sets import UnknownsSet, Vial, check_set
    >>> vials = (Vial("A", "sodium chloride"), Vial("B", "sucrose"))
    >>> found = check_set(UnknownsSet("a pair", vials, ("look", "water test", "solution conductivity test")))
    >>> found.kit.tests, found.kit.parts_all
    (('water test', 'solution conductivity test'), False)
    """
    knowledge = knowledge or load_knowledge()
    rows = set_rows(unknowns_set, knowledge)
    tests, cannot = reachable_tests(unknowns_set.tests or tuple(knowledge.tests), knowledge)
    pairs = _pairs(unknowns_set, rows, tests, knowledge)
    return SetCheck(
        unknowns_set=unknowns_set,
        tests=tests,
        cannot_be_done=cannot,
        pairs=pairs,
        kit=smallest_kit([frozenset(pair.parted_by) for pair in pairs], tests, unknowns_set.parted_at_least, knowledge),
        conclusions=conclusions(unknowns_set, tests, knowledge),
        misleading=misleading_vials(unknowns_set, tests, knowledge),
    )


def set_rows(unknowns_set: UnknownsSet, knowledge: KnowledgeBase) -> tuple[ReferenceRow, ...]:
    """The expected readings of every vial's substance, in the order of the vials; faults of the set are told all at once."""
    reference = load_reference()
    places = {name: place for place, name in enumerate(reference.names)}
    faults = []
    if not unknowns_set.vials:
        faults.append(Fault("", "there is no vial in the set."))
    labels = [vial.label for vial in unknowns_set.vials]
    faults += [Fault("", f"the label {shown(name)} is given twice.") for name in dict.fromkeys(labels) if labels.count(name) > 1]
    faults += [
        Fault(f"vial {vial.label}", not_accepted(vial.substance, "a substance of the reference table", reference.names, most=0))
        for vial in unknowns_set.vials
        if vial.substance not in places
    ]
    known = tuple(knowledge.tests)
    faults += [
        Fault("tests", not_accepted(name, "a bench test", known, most=len(known)))
        for name in unknowns_set.tests
        if name not in known
    ]
    if faults:
        raise FaultyInputError(faults)
    return tuple(reference.row(places[vial.substance]) for vial in unknowns_set.vials)


def reachable_tests(tests: Sequence[str], knowledge: KnowledgeBase) -> tuple[tuple[str, ...], dict[str, tuple[str, ...]]]:
    """
    The tests that can be done with nothing but one another, in the order of the knowledge base; the rest with what they lack.

    A test that needs a reading of a test which the room cannot do, cannot be done either.
    """
    kept = set(tests)
    lacking: dict[str, tuple[str, ...]] = {}
    while True:
        cut_off = {name for name in kept if not needed_tests(name, knowledge) <= kept}
        if not cut_off:
            break
        for name in cut_off:
            lacking[name] = tuple(other for other in knowledge.tests if other in needed_tests(name, knowledge) - kept)
        kept -= cut_off
    return tuple(name for name in knowledge.tests if name in kept), {name: lacking[name] for name in tests if name in lacking}


def needed_tests(test: str, knowledge: KnowledgeBase) -> frozenset[str]:
    """The tests whose readings come directly before a test."""
    return frozenset(knowledge.test_of[need.reading].id for need in knowledge.tests[test].needs if need.reading)


# --- pairs and kits -------------------------------------------------------------------------------


def _pairs(
    unknowns_set: UnknownsSet, rows: Sequence[ReferenceRow], tests: Sequence[str], knowledge: KnowledgeBase
) -> tuple[PairCheck, ...]:
    found = []
    for (one, first), (other, second) in combinations(zip(unknowns_set.vials, rows, strict=True), 2):
        parted = parting_readings(first, second, tests, knowledge)
        found.append(PairCheck(one.label, other.label, parted, len(parted) >= unknowns_set.parted_at_least))
    return tuple(found)


def pair_tests(unknowns_set: UnknownsSet, tests: Sequence[str], knowledge: KnowledgeBase) -> list[frozenset[str]]:
    """The tests that part each pair of vials."""
    return [frozenset(pair.parted_by) for pair in _pairs(unknowns_set, set_rows(unknowns_set, knowledge), tests, knowledge)]


def smallest_kit(parted_by: Sequence[frozenset[str]], tests: Sequence[str], wished: int, knowledge: KnowledgeBase) -> SmallestKit:
    """
    The tests with the fewest minutes that part every pair `wished` times, or as often as all `tests` do.

    `parted_by` holds, for each pair, the tests that part it. Kits are tried in the order of their minutes (of equal ones, that
    with fewer tests first), so the first that does is the smallest.
    """
    place = {name: 1 << number for number, name in enumerate(tests)}
    minutes = [knowledge.tests[name].minutes for name in tests]
    needs = [sum(place[other] for other in needed_tests(name, knowledge)) for name in tests]
    # Pairs that the same tests part ask the same of a kit.
    asked = {mask: min(wished, mask.bit_count()) for mask in {sum(place[name] for name in parted) for parted in parted_by}}
    wanted = [(mask, times) for mask, times in asked.items() if times]
    tried = 0
    for _, kit in _kits_by_minutes(minutes):
        if any(kit >> number & 1 and needed & ~kit for number, needed in enumerate(needs)):
            continue
        if all((mask & kit).bit_count() >= times for mask, times in wanted):
            names = tuple(name for name in tests if place[name] & kit)
            least = min(((mask & kit).bit_count() for mask in asked), default=wished)
            return SmallestKit(names, sum(knowledge.tests[name].minutes for name in names), least >= wished, least, tried)
        tried += 1
    raise AssertionError("all tests together part every pair as often as all tests together do")


def _kits_by_minutes(minutes: Sequence[float]) -> Iterator[tuple[float, int]]:
    """Every set of tests, as the sum of 2 to the power of their places, with its minutes [min]; the shortest first."""
    order = sorted(range(len(minutes)), key=lambda number: minutes[number])
    yield 0.0, 0
    waiting = [(minutes[order[0]], 1, 0, 1 << order[0])] if order else []
    while waiting:
        whole, many, last, kit = heapq.heappop(waiting)
        yield whole, kit
        if last + 1 < len(order):
            longer = minutes[order[last + 1]]
            added = kit | 1 << order[last + 1]
            heapq.heappush(waiting, (whole + longer, many + 1, last + 1, added))
            # The last test gives way to the next longer one: so every set comes up exactly once.
            heapq.heappush(waiting, (whole - minutes[order[last]] + longer, many, last + 1, added ^ 1 << order[last]))


# --- what a perfect student concludes ---------------------------------------------------------------


def likeliest_readings(substance: str, tests: Sequence[str], knowledge: KnowledgeBase) -> dict[str, ReadValue]:
    """The likeliest readings of a substance that these tests give, each made only where those before it allow it."""
    row = next(item for item in load_substances() if item.name == substance)
    likeliest = {
        reading: values[0]
        for reading, values in expected_readings(row, knowledge).items()
        if knowledge.test_of[reading].id in tests
    }
    return only_makeable(likeliest, knowledge)


def conclusion_alone(substance: str, tests: Sequence[str], knowledge: KnowledgeBase) -> Conclusion:
    """What a perfect student concludes who does not know what the set is made of."""
    row = next(item for item in load_substances() if item.name == substance)
    record = Record(likeliest_readings(substance, tests, knowledge))
    return _conclusion(identify(record, knowledge, advise=False), row.defensible_classes())


def conclusions(unknowns_set: UnknownsSet, tests: Sequence[str], knowledge: KnowledgeBase) -> tuple[VialConclusion, ...]:
    """What a perfect student concludes of every vial, in their order."""
    among = [vial.substance for vial in unknowns_set.vials]
    return tuple(_concluded(vial.label, vial.substance, among, tests, knowledge) for vial in unknowns_set.vials)


def _concluded(
    label: str, substance: str, among: Sequence[str], tests: Sequence[str], knowledge: KnowledgeBase
) -> VialConclusion:
    row = next(item for item in load_substances() if item.name == substance)
    readings = likeliest_readings(substance, tests, knowledge)
    record = Record(readings, vial=label)
    known = identify(record, knowledge, among=among, advise=False)
    unknown = identify(record, knowledge, advise=False)
    best = known.candidates.best[0] if known.candidates.best else None
    return VialConclusion(
        label=label,
        substance=substance,
        classes=row.defensible_classes(),
        subtype=row.subtype,
        readings=readings,
        within_set=_conclusion(known, row.defensible_classes()),
        alone=_conclusion(unknown, row.defensible_classes()),
        likeliest_substance=best.name if best else "",
        substance_probability=best.probability if best else 0.0,
    )


def _conclusion(found: Identification, defensible: Sequence[str]) -> Conclusion:
    first = found.ranking[0]
    class_ = found.verdict.class_
    speaking = [reason for reason in found.reasons[first.class_] if reason.counted and reason.decibans > 0]
    return Conclusion(
        kind=found.verdict.kind,
        class_=class_,
        right=None if class_ is None else class_ in defensible,
        first=first.class_,
        probability=first.probability,
        first_defensible=first.class_ in defensible,
        open_between=found.verdict.open_between,
        verdict_says=found.verdict.reasons,
        reasons=tuple(ReasonTold(reason.readings, reason.because, reason.source) for reason in speaking[:_REASONS]),
    )


# --- rules of thumb -----------------------------------------------------------------------------------


def misleading_vials(unknowns_set: UnknownsSet, tests: Sequence[str], knowledge: KnowledgeBase) -> tuple[Misleading, ...]:
    """The vials whose likeliest readings invite a rule of thumb that jumps to none of their defensible classes."""
    rows = {item.name: item for item in load_substances()}
    found = []
    for vial in unknowns_set.vials:
        row = rows[vial.substance]
        readings = likeliest_readings(vial.substance, tests, knowledge)
        for thumb in knowledge.rules_of_thumb.values():
            inviting = readings_that_meet(thumb.when, readings, knowledge)
            if inviting is None or set(thumb.jumps_to) & set(row.defensible_classes()):
                continue
            found.append(
                Misleading(
                    label=vial.label,
                    substance=vial.substance,
                    class_=row.class_,
                    rule=thumb.id,
                    says=thumb.says,
                    jumps_to=thumb.jumps_to,
                    readings=inviting,
                    because=thumb.because,
                    teaches=row.exception or _of_its_kind(row.subtype, knowledge),
                    source=cited(thumb.source, knowledge),
                )
            )
    return tuple(found)


def _of_its_kind(subtype: str, knowledge: KnowledgeBase) -> str:
    return knowledge.subtypes[subtype].because if subtype else ""
