"""From a cupboard and wishes to the question that the search answers: who may be chosen, and which quotas must be met."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, not_accepted, shown

from .amounts import Amount
from .bits import bits_of
from .choosing import Question, Quota
from .compatibility import Parted, graph, parted_by_test
from .hazards import hazard_level, never_planned
from .kits import Bench, make_bench
from .plan import LeftOut
from .wishes import ANY_KIND, Wishes

MOST_VIALS = 26  # as many as there are letters for them
_STUDENTS = "students"


class Shelf(msgspec.Struct, frozen=True):
    """The substances of a cupboard, each with its place, and everything about them that no wish changes."""

    substances: tuple[Substance, ...]
    parted: dict[str, Parted]
    levels: tuple[int, ...]
    kinds: tuple[int, ...]
    classes: tuple[int, ...]
    of_class: dict[str, int]
    of_kind: dict[str, int]
    awkward: int
    amounts: tuple[Amount | None, ...]

    @property
    def all(self) -> int:
        return (1 << len(self.substances)) - 1

    @property
    def names(self) -> tuple[str, ...]:
        return tuple(substance.name for substance in self.substances)


class Posed(msgspec.Struct, frozen=True):
    """A question with the tests that may answer it, and who was left out of it."""

    shelf: Shelf
    wishes: Wishes
    question: Question
    bench: Bench
    parted: tuple[Parted, ...]
    left_out: tuple[LeftOut, ...]

    def graph(self, kit: int) -> Parted:
        """For each substance, those that the kit parts from it often enough."""
        return graph(self.parted, [place for place in range(len(self.parted)) if kit >> place & 1], self.wishes.told_apart_by)


def fill_shelf(names: Sequence[str], amounts: Mapping[str, Amount | None], seed: int, knowledge: KnowledgeBase) -> Shelf:
    """
    The substances of a cupboard by their names in the reference table, each once.

    Their order follows from the names and the seed alone, so that the order of the cupboard never changes a plan.
    """
    rows = {row.name: row for row in load_reference().rows}
    if unknown := [name for name in names if name not in rows]:
        raise FaultyInputError(
            [Fault("cupboard", not_accepted(name, "a substance of the reference table", list(rows), most=0)) for name in unknown]
        )
    chosen = sorted(set(names))
    random.Random(seed).shuffle(chosen)
    handbook = {substance.name: substance for substance in load_substances()}
    return _shelf([rows[name] for name in chosen], [handbook[name] for name in chosen], amounts, knowledge)


def _shelf(
    rows: Sequence[ReferenceRow],
    substances: Sequence[Substance],
    amounts: Mapping[str, Amount | None],
    knowledge: KnowledgeBase,
) -> Shelf:
    of_class: dict[str, int] = {}
    of_kind: dict[str, int] = {}
    kinds: dict[str, int] = {}
    for place, substance in enumerate(substances):
        of_class[substance.class_] = of_class.get(substance.class_, 0) | 1 << place
        of_kind[substance.subtype] = of_kind.get(substance.subtype, 0) | 1 << place
        kind = substance.subtype or substance.class_  # those without a finer kind are one kind of their class
        kinds[kind] = kinds.get(kind, 0) | 1 << place
    return Shelf(
        substances=tuple(substances),
        parted={test: parted_by_test(rows, test, knowledge) for test in knowledge.tests},
        levels=tuple(hazard_level(substance, knowledge).level for substance in substances),
        kinds=tuple(kinds.values()),
        classes=tuple(of_class.values()),
        of_class=of_class,
        of_kind=of_kind,
        awkward=bits_of(place for place, substance in enumerate(substances) if knowledge.is_awkward(substance.subtype)),
        amounts=tuple(amounts.get(substance.name) for substance in substances),
    )


def pose(shelf: Shelf, wishes: Wishes, knowledge: KnowledgeBase) -> Posed:
    """The question that these wishes put to a shelf."""
    left_out = []
    candidates = required = 0
    for place, substance in enumerate(shelf.substances):
        needed = substance.name in wishes.require
        required |= needed << place
        if why := why_left_out(shelf, place, wishes, knowledge):
            left_out.append(LeftOut(substance.name, why))
        else:
            candidates |= 1 << place
    bench = make_bench(wishes.tests or tuple(knowledge.tests), knowledge)
    return Posed(
        shelf=shelf,
        wishes=wishes,
        question=Question(
            wishes.vials, candidates, required, tuple(_quotas(shelf, wishes)), shelf.levels, shelf.kinds, shelf.classes
        ),
        bench=bench,
        parted=tuple(shelf.parted[test] for test in bench.tests),
        left_out=tuple(sorted(left_out, key=lambda item: item.substance)),
    )


def _quotas(shelf: Shelf, wishes: Wishes) -> list[Quota]:
    quotas = [Quota(shelf.of_class.get(name, 0), least, "class") for name, least in sorted(wishes.of_class.items()) if least]
    for kind, least in sorted(wishes.awkward.items()):
        if kind != ANY_KIND:
            quotas.append(Quota(shelf.of_kind.get(kind, 0), least, "kind"))
        else:  # exactly so many: the others must not be awkward
            quotas.append(Quota(shelf.awkward, least, "awkward"))
            quotas.append(Quota(shelf.all & ~shelf.awkward, wishes.vials - least, "awkward"))
    return quotas


def why_left_out(shelf: Shelf, place: int, wishes: Wishes, knowledge: KnowledgeBase) -> str:
    """Why a substance may not be chosen; empty when it may."""
    substance = shelf.substances[place]
    if never := never_planned(substance, knowledge):
        return f"never planned for students: {' and '.join(reason.id for reason in never)}"
    if substance.name in wishes.forbid:
        return "forbidden by the wishes"
    if substance.school_use != _STUDENTS and substance.name not in wishes.require:
        return f"{substance.school_use}, so only when it is required by name"
    if wishes.hazard is not None and shelf.levels[place] > wishes.hazard:
        return f"its hazard is {hazard_level(substance, knowledge).id}, above the highest level accepted"
    return _too_little(substance, shelf.amounts[place], wishes.groups, knowledge)


def _too_little(substance: Substance, amount: Amount | None, groups: int, knowledge: KnowledgeBase) -> str:
    """An amount that is not known, or that does not compare with what is needed, is never held against a substance."""
    portion = knowledge.set_planning.portion
    if amount is None:
        return ""
    if substance.state == "solid" and amount.unit == "g":
        value, needed = amount.value, portion.solid_g * groups
    elif substance.state == "liquid" and amount.unit == "mL":
        value, needed = amount.value, portion.liquid_mL * groups
    elif substance.state == "liquid" and substance.density_kg_per_m3:
        value, needed = amount.value, portion.liquid_mL * groups * substance.density_kg_per_m3 / 1000  # kg/m3 to g/mL
    else:
        return ""
    if value >= needed:
        return ""
    return f"{amount} are too little: {groups} {'groups need' if groups > 1 else 'group needs'} {needed:.3g} {amount.unit}"


# --- wishes that mean nothing -----------------------------------------------------------------------


def check_wishes(wishes: Wishes, names: Sequence[str], knowledge: KnowledgeBase) -> None:
    """Refuse wishes that speak of what does not exist; `FaultyInputError` with every fault."""
    faults: list[Fault] = []

    def among(found: Sequence[str], kind: str, known: Sequence[str], where: str) -> None:
        faults.extend(Fault(where, not_accepted(name, kind, known, most=50)) for name in found if name not in known)

    def within(value: float, least: float, most: float, where: str) -> None:
        if not least <= value <= most:
            faults.append(Fault(where, f"{value:g} stands here; {least:g} to {most:g} is accepted."))

    within(wishes.vials, 1, MOST_VIALS, "vials")
    within(wishes.told_apart_by, 1, 3, "told apart by")
    within(wishes.groups, 1, 1000, "groups")
    if wishes.minutes is not None:
        within(wishes.minutes, 0, 10_000, "minutes")
    if wishes.hazard is not None:
        within(wishes.hazard, 0, len(knowledge.set_planning.levels) - 1, "hazard")
    among(list(wishes.of_class), "a class", list(knowledge.classes), "of class")
    among(list(wishes.awkward), "a finer kind", [ANY_KIND, *knowledge.subtypes], "awkward")
    among(wishes.tests, "a bench test", list(knowledge.tests), "tests")
    for where, counts in (("of class", wishes.of_class), ("awkward", wishes.awkward)):
        for name, count in counts.items():
            within(count, 0, MOST_VIALS, f"{where}, {shown(name)}")
    for name in wishes.require:
        if name not in names:
            faults.append(Fault("require", f"{shown(name)} is not in the cupboard."))
        if name in wishes.forbid:
            faults.append(Fault("require", f"{shown(name)} is both required and forbidden."))
    if faults:
        raise FaultyInputError(faults)
