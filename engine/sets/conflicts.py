"""Wishes that no set meets: a smallest group of them that clash, and the smallest change that helps."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from itertools import combinations, product
from typing import Any

import msgspec

from spotplate.kb import KnowledgeBase

from .choosing import OutOfTimeError
from .kits import tests_first
from .plan import Relaxation
from .posing import MOST_VIALS, Shelf, pose, why_left_out
from .solving import Progress, Report, Solver, Stopwatch
from .wishes import ANY_KIND, Wishes

Change = Callable[[Wishes], Wishes]
Exists = Callable[[Wishes], bool]
_MOST_STEPS = 3  # of changes of several wishes at once
_MOST_TOLD = 5
_SPARE_VIALS = 3  # tried beyond the fewest that the counts ask for, since a vial need not count for two of them


class Wish(msgspec.Struct, frozen=True):
    """
    One wish: in words, how to do without it, and smaller forms of it, each with its number of steps.

    `without` gives the forms that are tried when the wish is dropped; any of them will do.
    """

    says: str
    without: tuple[Change, ...]
    smaller: tuple[tuple[int, str, Change], ...]


class Clash(msgspec.Struct, frozen=True):
    """Wishes that cannot be met together, whether that is certain, and what helps."""

    conflict: tuple[str, ...]
    proved: bool
    relaxations: tuple[Relaxation, ...]


def find_clash(shelf: Shelf, wishes: Wishes, knowledge: KnowledgeBase, stopwatch: Stopwatch, report: Report) -> Clash:
    """Why no set meets the wishes, and the smallest change that helps, as far as the time allows."""

    def exists(tried: Wishes) -> bool:
        report(Progress("the wishes that clash", 0, 0.0, None))
        return Solver(pose(shelf, tried, knowledge), stopwatch).could_exist()

    open_ = list(wishes_in(shelf, wishes, knowledge))
    clashing = list(open_)
    proved = True
    try:
        # What can be dropped without a set coming about has no part in the clash; the rest clashes, and none is too many.
        for wish in open_:
            others = [other for other in clashing if other is not wish]
            if not _met_without([other for other in open_ if other not in others], wishes, exists):
                clashing = others
    except OutOfTimeError:
        proved = False
    try:
        relaxations = tuple(
            _with_minutes(found, shelf, wishes, knowledge, stopwatch) for found in _relaxations(wishes, clashing, open_, exists)
        )
    except OutOfTimeError:
        relaxations = ()
    return Clash(tuple(wish.says for wish in clashing), proved, relaxations)


def _met_without(dropped: list[Wish], wishes: Wishes, exists: Exists) -> bool:
    """Whether a set exists when these wishes are dropped."""
    forms = [wishes]
    for wish in dropped:
        forms = [change(form) for form in forms for change in wish.without]
    return any(exists(form) for form in forms)


# --- what helps -------------------------------------------------------------------------------------


def _relaxations(wishes: Wishes, clashing: list[Wish], open_: list[Wish], exists: Exists) -> list[Relaxation]:
    """For each clashing wish, the smallest change of it that helps; where none does, changes of several at once."""
    found: list[tuple[int, Relaxation]] = []
    for wish in clashing:
        enough: int | None = None
        for steps, says, change in wish.smaller:
            if enough is not None and steps > enough:
                break
            if exists(changed := change(wishes)):
                enough = steps
                found.append((steps, Relaxation(says, changed)))
    if found:
        found.sort(key=lambda item: item[0])
        return [relaxation for _, relaxation in found[:_MOST_TOLD]]
    for total in range(2, _MOST_STEPS + 1):
        together = [
            Relaxation(says, changed) for says, changed in _changes_at_once(wishes, clashing, open_, total) if exists(changed)
        ]
        if together:
            return together[:_MOST_TOLD]
    return _one_after_another(wishes, open_, exists)


def _one_after_another(wishes: Wishes, open_: list[Wish], exists: Exists) -> list[Relaxation]:
    """
    Where no small change helps: the wishes taken up one after another, each as far as a set still exists.

    The number of vials and their being told apart come first, what is forbidden last. Small as it can be made it need not be.
    """
    taken: list[tuple[Wish, str, Change | None]] = []
    waiting = open_[::-1]
    while waiting:
        wish = waiting.pop(0)
        forms: list[tuple[str, Change | None]] = [("", None)]
        forms += [(says, change) for _, says, change in wish.smaller]
        forms += [(f"without this wish: {wish.says}", change) for change in wish.without]
        for says, change in forms:
            if exists(_formed([*taken, (wish, says, change)], waiting, wishes)):
                taken.append((wish, says, change))
                break
        else:
            return []
    says = " and ".join(says for _, says, _ in taken if says)
    return [Relaxation(says, _formed(taken, [], wishes))]


def _formed(taken: list[tuple[Wish, str, Change | None]], waiting: list[Wish], wishes: Wishes) -> Wishes:
    """The wishes in the forms taken, without those still waiting."""
    for wish in waiting:
        wishes = wish.without[0](wishes)
    for _, _, change in taken:
        if change is not None:
            wishes = change(wishes)
    return wishes


def _changes_at_once(wishes: Wishes, clashing: list[Wish], open_: list[Wish], total: int) -> Iterator[tuple[str, Wishes]]:
    """Every change of several wishes, one of them clashing, that takes so many steps in all."""
    for many in range(2, total + 1):
        for some in combinations(open_, many):
            if not any(wish is other for wish in some for other in clashing):
                continue
            for parts in product(*(wish.smaller for wish in some)):
                if sum(steps for steps, _, _ in parts) == total:
                    changed = wishes
                    for _, _, change in parts:
                        changed = change(changed)
                    yield " and ".join(says for _, says, _ in parts), changed


def _with_minutes(found: Relaxation, shelf: Shelf, wishes: Wishes, knowledge: KnowledgeBase, stopwatch: Stopwatch) -> Relaxation:
    """Where a change lifts the limit on minutes, the fewest minutes that do."""
    if wishes.minutes is None or found.wishes.minutes is not None:
        return found
    solver = Solver(pose(shelf, found.wishes, knowledge), stopwatch)
    solver.exists()
    minutes = solver.bound.minutes
    says = found.says.replace(LONGER_KIT, f"a kit of {minutes:g} min in place of at most {wishes.minutes:g} min")
    return Relaxation(says, msgspec.structs.replace(found.wishes, minutes=minutes))


# --- the wishes, one by one -------------------------------------------------------------------------


def wishes_in(shelf: Shelf, wishes: Wishes, knowledge: KnowledgeBase) -> Iterator[Wish]:
    """Every wish that could be otherwise; those that are most readily named as a reason come last, since they are kept."""
    yield from _forbidden(wishes)
    yield from _limits(wishes, knowledge)
    yield from _counts(wishes)
    yield from _required(shelf, wishes, knowledge)
    apart = wishes.told_apart_by
    yield Wish(
        f"any two vials told apart by at least {_many(apart, 'test')}",
        (_put(told_apart_by=0),),
        tuple(
            (apart - fewer, f"told apart by {_many(fewer, 'test')} in place of {apart}", _put(told_apart_by=fewer))
            for fewer in range(apart - 1, 0, -1)
        ),
    )
    yield Wish(
        _many(wishes.vials, "vial"),
        tuple(_fewest_vials(spare) for spare in range(_SPARE_VIALS + 1)),
        tuple(
            (wishes.vials - fewer, f"{_many(fewer, 'vial')} in place of {wishes.vials}", _put(vials=fewer))
            for fewer in range(wishes.vials - 1, 0, -1)
        )
        + tuple(
            (more - wishes.vials, f"{more} vials in place of {wishes.vials}", _put(vials=more)) for more in _more_vials(wishes)
        ),
    )


def _forbidden(wishes: Wishes) -> Iterator[Wish]:
    for name in wishes.forbid:
        yield Wish(f"{name} is forbidden", (_less("forbid", name),), ((1, f"{name} allowed", _less("forbid", name)),))


def _limits(wishes: Wishes, knowledge: KnowledgeBase) -> Iterator[Wish]:
    if wishes.groups > 1:
        smaller = tuple(
            (wishes.groups - fewer, f"{_many(fewer, 'group')} in place of {wishes.groups}", _put(groups=fewer))
            for fewer in range(wishes.groups - 1, 0, -1)
        )
        yield Wish(f"enough of each substance for {wishes.groups} groups", (_put(groups=1),), smaller)
    missing = [name for name in knowledge.tests if wishes.tests and name not in wishes.tests]
    if missing:
        yield Wish(
            f"no other tests than {_many(len(wishes.tests), 'test')} of the room",
            (_put(tests=()),),
            tuple(sorted(_further_tests(wishes, missing, knowledge), key=lambda item: item[0])),
        )
    if wishes.minutes is not None:
        yield Wish(f"a kit of at most {wishes.minutes:g} min", (_put(minutes=None),), ((1, LONGER_KIT, _put(minutes=None)),))
    levels = knowledge.set_planning.levels
    if wishes.hazard is not None and wishes.hazard < levels[-1].level:
        now = levels[wishes.hazard].id
        yield Wish(
            f"no hazard above {now}",
            (_put(hazard=None),),
            tuple(
                (level.level - wishes.hazard, f"hazard up to {level.id} in place of {now}", _put(hazard=level.level))
                for level in levels[wishes.hazard + 1 :]
            ),
        )


def _further_tests(wishes: Wishes, missing: list[str], knowledge: KnowledgeBase) -> Iterator[tuple[int, str, Change]]:
    for name in missing:
        added = tuple(test for test in knowledge.tests if test in tests_first(name, knowledge) and test not in wishes.tests)
        yield len(added), f"with the {' and the '.join(_noun(test) for test in added)}, too", _put(tests=(*wishes.tests, *added))
    if len(missing) > 1:
        yield len(missing), "with all tests", _put(tests=())


def _counts(wishes: Wishes) -> Iterator[Wish]:
    for kind, count in wishes.awkward.items():
        if kind == ANY_KIND:
            others = sorted((other for other in range(wishes.vials + 1) if other != count), key=lambda other: abs(other - count))
            yield Wish(
                f"exactly {_many(count, 'awkward vial')}",
                (_less("awkward", kind),),
                tuple(
                    (abs(other - count), f"{_many(other, 'awkward vial')} in place of {count}", _count("awkward", kind, other))
                    for other in others
                ),
            )
        elif count:
            yield _at_least("awkward", kind, count)
    for class_, count in wishes.of_class.items():
        if count:
            yield _at_least("of_class", class_, count)


def _at_least(field: str, name: str, count: int) -> Wish:
    return Wish(
        f"at least {_many(count, f'{name} vial')}",
        (_less(field, name),),
        tuple(
            (count - fewer, f"{_many(fewer, f'{name} vial')} in place of {count}", _count(field, name, fewer))
            for fewer in range(count - 1, -1, -1)
        ),
    )


def _required(shelf: Shelf, wishes: Wishes, knowledge: KnowledgeBase) -> Iterator[Wish]:
    for name in wishes.require:
        why = why_left_out(shelf, shelf.names.index(name), wishes, knowledge)
        says = f"{name} is required" + (f" ({why})" if why else "")
        yield Wish(says, (_less("require", name),), ((1, f"without requiring {name}", _less("require", name)),))


# --- changes ----------------------------------------------------------------------------------------

LONGER_KIT = "a longer kit"  # until it is known how long


def _put(**fields: Any) -> Change:
    return lambda wishes: msgspec.structs.replace(wishes, **fields)


def _less(field: str, name: str) -> Change:
    """Without one of the substances or counts of a field."""

    def change(wishes: Wishes) -> Wishes:
        held = getattr(wishes, field)
        if isinstance(held, dict):
            return msgspec.structs.replace(wishes, **{field: {key: count for key, count in held.items() if key != name}})
        return msgspec.structs.replace(wishes, **{field: tuple(other for other in held if other != name)})

    return change


def _count(field: str, name: str, count: int) -> Change:
    return lambda wishes: msgspec.structs.replace(wishes, **{field: {**getattr(wishes, field), name: count}})


def _fewest_vials(spare: int) -> Change:
    return lambda wishes: msgspec.structs.replace(wishes, vials=min(MOST_VIALS, _asked_for(wishes) + spare))


def _more_vials(wishes: Wishes) -> Iterator[int]:
    """More vials only help where the counts ask for more than there are."""
    asked = _asked_for(wishes)
    yield from range(max(asked, wishes.vials + 1), min(MOST_VIALS, asked + _SPARE_VIALS) + 1) if asked > wishes.vials else ()


def _asked_for(wishes: Wishes) -> int:
    """The fewest vials that the counts may do with."""
    kinds = sum(count for kind, count in wishes.awkward.items() if kind != ANY_KIND)
    return max(1, len(wishes.require), sum(wishes.of_class.values()), kinds, wishes.awkward.get(ANY_KIND, 0))


def _many(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count or 'no'} {noun}s"


def _noun(test: str) -> str:
    return test if test.endswith("test") else f"test “{test}”"
