"""What preparing an unknowns set takes: portions, reagents and how to make them, time, storage, residues."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import Dilution, Fault, FaultyInputError, KnowledgeBase, Reagent, Residue, Source, Takes, not_accepted

from .checking import reachable_tests
from .unknowns_set import UnknownsSet

_DEMONSTRATION = "teacher does it"  # the caution of tests that are shown once to all
MOST_GROUPS = 40


class Portion(msgspec.Struct, frozen=True):
    """
    What is needed of one substance.

    `each` is what every vial holds and `in_all` what all groups and the teacher's demonstrations take, in `unit`;
    `by_test` what one trial of each test takes, where it takes any.
    """

    substance: str
    state: str
    vials: tuple[str, ...]
    unit: Literal["g", "mL"]
    each: float
    in_all: float
    demonstrations: float
    by_test: dict[str, float]
    container: str
    storage: tuple[str, ...]


class Recipe(msgspec.Struct, frozen=True):
    """
    How to make a reagent.

    `take` of the stock `of`, in `unit`, makes `volume` [mL]; `stock_concentration` [mol/L] of a solution that is diluted,
    with the figures it was worked out from in `from_dilution`.
    """

    of: str
    take: float
    unit: Literal["g", "mL"]
    volume: float
    steps: str
    source: Source
    stock_concentration: float | None = None
    from_dilution: Dilution | None = None


class ReagentNeed(msgspec.Struct, frozen=True):
    """What is needed of one reagent, by reckoning and rounded up, in its own unit; `tests` use it."""

    reagent: Reagent
    needed: float
    ready: float
    tests: tuple[str, ...]
    recipe: Recipe | None


class ResidueNote(msgspec.Struct, frozen=True):
    """A kind of residue, the tests of the set that leave it whatever the vial, and the substances that leave it."""

    kind: Residue
    tests: tuple[str, ...]
    substances: tuple[str, ...]


class TimeNeeded(msgspec.Struct, frozen=True):
    """Minutes [min]: each test once on one vial, on all vials of a group one after another, and to prepare the set."""

    one_vial: float
    all_vials: float
    preparing: float


class Preparation(msgspec.Struct, frozen=True):
    """All that is to be got ready for a set and some groups, and put away afterwards."""

    groups: int
    trials: int
    margin: float
    tests: tuple[str, ...]
    apparatus: dict[str, tuple[str, ...]]
    portions: tuple[Portion, ...]
    reagents: tuple[ReagentNeed, ...]
    time: TimeNeeded
    residues: tuple[ResidueNote, ...]
    after_the_lesson: str


def prepare(
    unknowns_set: UnknownsSet, knowledge: KnowledgeBase, groups: int = 1, amounts: Mapping[str, float] | None = None
) -> Preparation:
    """
    What preparing a set for some groups takes.

    Parameters
    ----------
    unknowns_set : UnknownsSet
        The set; tests that lack what they need first are left out
    knowledge : KnowledgeBase
        Tells what each test takes
    groups : int
        Groups that get every vial, 1 to 40 [-]
    amounts : mapping, optional
        Test → what one trial takes of any substance in place of what the knowledge base says [g of a solid, mL of
        a liquid or gas]

    Raises
    ------
    FaultyInputError
        If the number of groups is out of range or a name is not known
    """
    _check(groups, amounts or {}, knowledge)
    rules = knowledge.preparation
    tests, _ = reachable_tests(unknowns_set.tests, knowledge)
    takes = [item for item in rules.takes if item.test in tests]
    substances = {substance.name: substance for substance in load_substances()}
    rows = {row.name: row for row in load_reference().rows}
    labels: dict[str, list[str]] = {}
    for vial in unknowns_set.vials:
        labels.setdefault(vial.substance, []).append(vial.label)
    portions = tuple(
        _portion(substances[name], rows[name], tuple(vials), takes, groups, amounts or {}, knowledge)
        for name, vials in labels.items()
    )
    reagents = _reagents(takes, len(unknowns_set.vials), groups, knowledge)
    minutes = sum(knowledge.tests[name].minutes for name in tests)
    return Preparation(
        groups,
        rules.trials,
        rules.margin,
        tests,
        {name: knowledge.tests[name].apparatus for name in tests},
        portions,
        reagents,
        TimeNeeded(
            minutes,
            minutes * len(unknowns_set.vials),
            rules.filling * len(unknowns_set.vials) * groups + sum(need.reagent.minutes for need in reagents),
        ),
        _residues(tuple((substances[name], rows[name]) for name in labels), tests, knowledge),
        rules.after_the_lesson.strip(),
    )


def stock_volume(dilution: Dilution, volume: float) -> float:
    """Volume of the stock [mL] that makes `volume` [mL] of the wanted concentration."""
    return volume * dilution.wanted / dilution.stock_concentration


def elements_of(formula: str) -> frozenset[str]:
    """
    Symbols of the elements in a formula.

    Examples
    --------
    >>> sorted(elements_of("CuSO4·5H2O"))
    ['Cu', 'H', 'O', 'S']
    """
    return frozenset(re.findall(r"[A-Z][a-z]?", formula))


def _check(groups: int, amounts: Mapping[str, float], knowledge: KnowledgeBase) -> None:
    faults = [
        Fault("amounts", not_accepted(name, "a bench test", list(knowledge.tests)))
        for name in amounts
        if name not in knowledge.tests
    ]
    faults += [
        Fault("amounts", f"{name!r} cannot take {amount:g}; 0 to 1000 g or mL is accepted.")
        for name, amount in amounts.items()
        if not 0 <= amount <= 1000
    ]
    if not 1 <= groups <= MOST_GROUPS:
        faults.append(Fault("groups", f"{groups} groups cannot be prepared for; 1 to {MOST_GROUPS} are accepted."))
    if faults:
        raise FaultyInputError(faults)


def _portion(
    substance: Substance,
    row: ReferenceRow,
    vials: tuple[str, ...],
    takes: Sequence[Takes],
    groups: int,
    amounts: Mapping[str, float],
    knowledge: KnowledgeBase,
) -> Portion:
    rules = knowledge.preparation
    by_test = {item.test: amount for item in takes if (amount := amounts.get(item.test, _taken(item, substance.state))) > 0}
    shown = [name for name in by_test if _DEMONSTRATION in knowledge.tests[name].cautions]
    # A demonstration is only prepared where something is known to come out; what students try by themselves, always.
    by_test = {name: amount for name, amount in by_test.items() if name not in shown or _known(name, row, knowledge)}
    shown = [name for name in shown if name in by_test]
    in_vial = sum(amount for name, amount in by_test.items() if name not in shown)
    each = _rounded_up(in_vial * rules.trials * (1 + rules.margin), rules.portion)
    demonstrations = len(vials) * _rounded_up(sum(by_test[name] for name in shown) * (1 + rules.margin), rules.portion)
    # A test that is made straight from the vial needs something in it.
    each = each or rules.portion
    return Portion(
        substance.name,
        substance.state,
        vials,
        "g" if substance.state == "solid" else "mL",
        each,
        each * groups * len(vials) + demonstrations,
        demonstrations,
        by_test,
        _container(substance.state, each, knowledge),
        _storage(substance.hazards(), knowledge),
    )


def _known(test: str, row: ReferenceRow, knowledge: KnowledgeBase) -> bool:
    """Whether the table tells some reading of the test, so that it can be made."""
    return any(kind.id in row.words or kind.id in row.numbers for kind in knowledge.tests[test].readings)


def _taken(item: Takes, state: str) -> float:
    return {"solid": item.solid, "liquid": item.liquid, "gas": item.gas}[state]


def _rounded_up(amount: float, step: float) -> float:
    """The least multiple of `step` that is not below `amount`, but for the last binary digits."""
    return round(math.ceil(round(amount / step, 9)) * step, 9)


def _container(state: str, amount: float, knowledge: KnowledgeBase) -> str:
    rules = knowledge.preparation
    if state == "gas":
        return rules.gas_container
    return next(container.says for container in rules.containers if container.upto is None or amount <= container.upto)


def _storage(hazards: Iterable[str], knowledge: KnowledgeBase) -> tuple[str, ...]:
    rules = knowledge.preparation
    found = tuple(item.says for item in rules.storage if set(item.hazards).intersection(hazards))
    return found or (rules.otherwise_stored,)


def _reagents(takes: Sequence[Takes], vials: int, groups: int, knowledge: KnowledgeBase) -> tuple[ReagentNeed, ...]:
    """A test that only the teacher shows is counted for every group, too: what is too much of a reagent does no harm."""
    rules = knowledge.preparation
    needs = []
    for reagent in rules.reagents:
        users = [item for item in takes if reagent.id in item.uses or reagent.id in item.uses_once]
        if not users:
            continue
        each = sum(item.uses.get(reagent.id, 0) for item in users) * vials * rules.trials
        once = sum(item.uses_once.get(reagent.id, 0) for item in users)
        needed = (each + once) * groups * (1 + rules.margin)
        ready = _rounded_up(needed, reagent.rounded_to)
        needs.append(ReagentNeed(reagent, needed, ready, tuple(item.test for item in users), _recipe(reagent, ready)))
    return tuple(needs)


def _recipe(reagent: Reagent, volume: float) -> Recipe | None:
    if reagent.dilution:
        way = reagent.dilution
        return Recipe(way.of, stock_volume(way, volume), "mL", volume, reagent.steps, way.source, way.stock_concentration, way)
    if reagent.solution:
        mass = volume / 1000 * reagent.solution.mass_per_litre
        return Recipe(reagent.solution.of, mass, "g", volume, reagent.steps, reagent.solution.source)
    return None


def _residues(
    substances: Sequence[tuple[Substance, ReferenceRow]], tests: Sequence[str], knowledge: KnowledgeBase
) -> tuple[ResidueNote, ...]:
    kinds = knowledge.preparation.residues
    left = {kind.id: tuple(item.name for item, row in substances if _leaves(item, row, kind)) for kind in kinds}
    told = {name for names in left.values() for name in names}
    notes = []
    for kind in kinds:
        names = tuple(item.name for item, _ in substances if item.name not in told) if kind.for_all_others else left[kind.id]
        of_tests = tuple(name for name in kind.tests if name in tests)
        if names or of_tests:
            notes.append(ResidueNote(kind, of_tests, names))
    return tuple(notes)


def _leaves(substance: Substance, row: ReferenceRow, kind: Residue) -> bool:
    """Whether a substance falls under a kind of residue by what it is, whichever tests are made."""
    elements = elements_of(substance.formula)
    molecular = all(name.endswith("molecular") for name in row.classes)
    if elements.intersection(kind.unless_with):
        return False
    return (
        bool(elements.intersection(kind.elements))
        or (molecular and "C" in elements and bool(elements.intersection(kind.carbon_with)))
        or ("ionic" in row.classes and bool(elements.intersection(kind.salt_with)))
        or any(part in substance.formula for part in kind.formula_holds)
        or substance.state in kind.states
        or (substance.state == "liquid" and bool(elements.intersection(kind.liquid_with)))
        or bool(set(substance.hazards()).intersection(kind.hazards))
        or (not substance.formula and substance.class_ in kind.no_formula)
        or any(set(row.words.get(reading, ())).intersection(words) for reading, words in kind.readings.items())
    )
