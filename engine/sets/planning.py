"""Planning an unknowns set: the best one for a teacher's wishes with its proof, or why there is none and what would help."""

from __future__ import annotations

import random
import string
import time
from collections.abc import Callable, Mapping, Sequence
from itertools import combinations

from spotplate.engine.reference_readings import load_reference
from spotplate.kb import KnowledgeBase, load_knowledge

from .amounts import Amount
from .bits import numbers_in
from .conflicts import find_clash
from .hazards import hazard_level
from .plan import Plan, PlannedVial
from .posing import Posed, Shelf, check_wishes, fill_shelf, pose
from .solving import Found, Progress, Solver, Stopwatch
from .telling_apart import parted_by
from .unknowns_set import UnknownsSet, Vial
from .wishes import Wishes

SECONDS = 20.0  # the usual time limit [s]
NOBODY_LEFT = "no substance of the cupboard may be given to students"  # it clashes with any wish at all


def plan_set(
    names: Sequence[str],
    wishes: Wishes,
    knowledge: KnowledgeBase | None = None,
    *,
    amounts: Mapping[str, Amount | None] | None = None,
    progress: Callable[[Progress], None] = lambda _: None,
    seconds: float | None = SECONDS,
    clock: Callable[[], float] = time.monotonic,
) -> Plan:
    """
    The best unknowns set from a cupboard: shortest kit, then least hazard, then widest spread, all wishes met.

    Parameters
    ----------
    names : sequence of str
        The substances of the cupboard by their names in the reference table
    wishes : Wishes
        What the set must be like
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given
    amounts : mapping, optional
        Substance → how much of it there is; what is not known is never held against a substance
    progress : callable
        Called with a `Progress` now and then
    seconds : float, optional
        Time limit of the search [s], and once more of finding out which wishes clash; without one, both go on to the end
    clock : callable
        Tells the time [s]

    Returns
    -------
    Plan
        The set with its proof or, after the time limit, with what no set can beat; or no set, the clashing wishes and
        the smallest changes that help

    Raises
    ------
    FaultyInputError
        If a wish or a substance names what does not exist

    Examples
    --------
    >>> from spotplate.engine.sets import Wishes
    >>> plan = plan_set(["sodium chloride", "sucrose", "iron", "sand"], Wishes(vials=3, of_class={"metallic": 1}))
    >>> plan.proved, plan.kit, plan.worth.minutes
    (True, ('look', 'scratch'), 3.0)
    """
    knowledge = knowledge or load_knowledge()
    check_wishes(wishes, names, knowledge)
    shelf = fill_shelf(names, amounts or {}, wishes.seed, knowledge)
    posed = pose(shelf, wishes, knowledge)
    found = Solver(posed, Stopwatch(seconds, clock), progress).solve()
    if found is None:
        clash = find_clash(shelf, wishes, knowledge, Stopwatch(seconds, clock), progress)
        conflict = clash.conflict or (NOBODY_LEFT,)
        return Plan(
            wishes, None, (), (), None, None, posed.left_out, posed.bench.useless, conflict, clash.proved, clash.relaxations
        )
    if found.worth is None:
        return Plan(
            wishes, None, (), (), None, found.bound, posed.left_out, posed.bench.useless, conflict_proved=False,
            kits_tried=found.kits_tried,
        )  # fmt: skip
    return _planned(posed, found, knowledge)


def _planned(posed: Posed, found: Found, knowledge: KnowledgeBase) -> Plan:
    chosen = list(numbers_in(found.chosen))
    random.Random(posed.wishes.seed).shuffle(chosen)  # so that no label tells anything of a class
    vials = tuple(
        _vial(label, posed.shelf, place, knowledge) for label, place in zip(string.ascii_uppercase, chosen, strict=False)
    )
    kit = posed.bench.names(found.kit)
    _verify([vial.substance for vial in vials], kit, posed.wishes, knowledge)
    unknowns_set = UnknownsSet(
        name=f"{len(vials)} unknowns",  # it stands on students' pages, so no seed in it
        vials=tuple(Vial(vial.label, vial.substance) for vial in vials),
        tests=kit,
        parted_at_least=posed.wishes.told_apart_by,
        notes="Planned: the tests are the smallest kit that tells any two of the vials apart as often as wished."
        if found.worth == found.bound
        else "Planned within a time limit: a smaller kit or a better choice may exist.",
    )
    return Plan(
        wishes=posed.wishes,
        set=unknowns_set,
        vials=vials,
        kit=kit,
        worth=found.worth,
        bound=found.bound,
        left_out=posed.left_out,
        useless_tests=posed.bench.useless,
        kits_tried=found.kits_tried,
    )


def _vial(label: str, shelf: Shelf, place: int, knowledge: KnowledgeBase) -> PlannedVial:
    substance = shelf.substances[place]
    return PlannedVial(
        label=label,
        substance=substance.name,
        class_=substance.class_,
        subtype=substance.subtype,
        hazard=hazard_level(substance, knowledge).level,
        statements=substance.hazards(),
        awkward=knowledge.is_awkward(substance.subtype),
        school_use=substance.school_use,
    )


def _verify(names: Sequence[str], kit: Sequence[str], wishes: Wishes, knowledge: KnowledgeBase) -> None:
    """Look at every pair anew, without anything that the search worked out."""
    rows = {row.name: row for row in load_reference().rows}
    for first, second in combinations(names, 2):
        if len(parted_by(rows[first], rows[second], kit, knowledge)) < wishes.told_apart_by:
            raise AssertionError(f"{first} and {second} are not told apart by the planned kit")
