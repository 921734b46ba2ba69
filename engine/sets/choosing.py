"""Choosing vials that are all parted from one another: an exact search in the graph of one kit.

Substances are numbers from 0; sets of them are bits of an integer. The search adds one substance after another and gives a
branch up as soon as what is left cannot fill the set. What is left is cut into heaps in which no two substances are
parted (a greedy colouring): of each heap at most one can be taken, so a class with too few heaps cannot be filled.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Sequence

import msgspec

from .bits import bits_of, numbers_in


class OutOfTimeError(Exception):
    """The search was stopped before it was decided; never shown to people."""


class OutOfStepsError(OutOfTimeError):
    """It was stopped since it took more steps than it was given."""


class Quota(msgspec.Struct, frozen=True):
    """At least so many vials of these substances. Quotas of one `family` have no substance in common."""

    members: int
    least: int
    family: str


class Question(msgspec.Struct, frozen=True, dict=True):
    """
    What is chosen from, whatever the kit.

    `levels` are the hazards of the substances; `kinds` and `classes` are the sets whose number of members of the
    choice makes the spread; a substance is in one of each.
    """

    vials: int
    candidates: int
    required: int
    quotas: tuple[Quota, ...]
    levels: tuple[int, ...]
    kinds: tuple[int, ...]
    classes: tuple[int, ...]

    @functools.cached_property
    def upto(self) -> dict[int, int]:
        """Level → the substances of at most that level, least level first."""
        return {
            top: bits_of(place for place, level in enumerate(self.levels) if level <= top) for top in sorted(set(self.levels))
        }

    @functools.cached_property
    def counts_for(self) -> tuple[tuple[int, ...], ...]:
        """For every substance, the quotas that it counts for."""
        return tuple(
            tuple(index for index, quota in enumerate(self.quotas) if quota.members >> place & 1)
            for place in range(len(self.levels))
        )

    @functools.cached_property
    def kind_of(self) -> tuple[tuple[int, ...], ...]:
        """For every substance, its kind and its class."""
        sets = (*self.kinds, *self.classes)
        return tuple(
            tuple(index for index, members in enumerate(sets) if members >> place & 1) for place in range(len(self.levels))
        )

    def hazard(self, chosen: int) -> int:
        """The sum of the levels of the chosen substances [-]."""
        return sum(self.levels[place] for place in numbers_in(chosen))

    def spread(self, chosen: int) -> int:
        """How many classes and kinds are among the chosen substances [-]."""
        return sum(1 for members in (*self.kinds, *self.classes) if members & chosen)

    def allowed(self, chosen: int) -> bool:
        """Whether the choice has the right size and meets every quota; whether its substances are parted is not asked."""
        return (
            chosen.bit_count() == self.vials
            and not self.required & ~chosen
            and not chosen & ~self.candidates
            and all((chosen & quota.members).bit_count() >= quota.least for quota in self.quotas)
        )


class Search:
    """
    One search in the graph of a kit: a set that meets the quotas, with at most `hazard` and at least `spread`.

    `tick` is called at every step and raises `OutOfTimeError` to end the search; `steps` limits it, too.
    """

    def __init__(
        self,
        question: Question,
        parted: Sequence[int],
        *,
        hazard: int | None = None,
        spread: int | None = None,
        steps: int | None = None,
        tick: Callable[[], None] = lambda: None,
    ) -> None:
        self.question = question
        self.parted = parted
        self.hazard = hazard
        self.spread = spread
        self.steps = steps
        self.tick = tick
        self.tops = list(question.upto)
        self.upto = question.upto
        self.families = sorted({quota.family for quota in question.quotas})

    def run(self) -> int | None:
        """The first set found, as bits, or None when there is none."""
        question = self.question
        chosen, left = question.required, question.candidates & ~question.required
        if chosen & ~question.candidates:
            return None
        for place in numbers_in(chosen):
            if chosen & ~self.parted[place] & ~(1 << place):
                return None
            left &= self.parted[place]
        if chosen.bit_count() > question.vials:
            return None
        left = self._without_outdone(left)
        return self._extend(chosen, left)

    def _without_outdone(self, left: int) -> int:
        """
        What is left without substances that another one can stand in for in every set.

        The other meets the same quotas, is no more hazardous, is parted from all that the first is parted from (and not
        from the first itself, else a set may hold both), and, where spread counts, is of the same kind.
        """
        question, parted = self.question, self.parted
        alike: dict[tuple[tuple[int, ...], ...], list[int]] = {}
        for place in numbers_in(left):
            sign = (question.counts_for[place], () if self.spread is None else question.kind_of[place])
            alike.setdefault(sign, []).append(place)
        levels = question.levels if self.hazard is not None else (0,) * len(question.levels)
        for members in alike.values():
            members.sort(key=lambda place: ((parted[place] & left).bit_count(), -levels[place]), reverse=True)
            kept: list[tuple[int, int]] = []  # level, and what it is not parted from, itself included
            for place in members:
                reach, level = parted[place] & left, levels[place]
                for theirs, not_parted in kept:
                    if theirs <= level and not reach & not_parted:
                        left &= ~(1 << place)
                        break
                else:
                    kept.append((level, ~parted[place]))
        return left

    def _extend(self, chosen: int, left: int) -> int | None:
        self.tick()
        if self.steps is not None:
            if self.steps <= 0:
                raise OutOfStepsError
            self.steps -= 1
        question = self.question
        missing = question.vials - chosen.bit_count()
        if not missing:
            return chosen if question.allowed(chosen) and self._good(chosen) else None
        wanted = [(quota, quota.least - (chosen & quota.members).bit_count()) for quota in question.quotas]
        wanted = [(quota, need) for quota, need in wanted if need > 0]
        for family in self.families:
            needs = [(quota.members, need) for quota, need in wanted if quota.family == family]
            total = sum(need for _, need in needs)
            if total > missing:
                return None
            if total == missing:
                inside = 0
                for members, _ in needs:
                    inside |= members
                left &= inside
        if self.hazard is not None:
            spare = self.hazard - question.hazard(chosen)
            left = self._harmless(left, spare, missing)
        if self.spread is not None:
            narrowed = self._spreading(chosen, left, missing)
            if narrowed is None:
                return None
            left = narrowed
        heaps, needed = self._tightest(left, missing, wanted)
        if heaps is None:
            return None
        if self.hazard is not None and not self._hazard_fits(left, missing, spare):
            return None
        # A set takes one of each of `needed` heaps at least, so it takes something of the first ones.
        for heap in heaps[: len(heaps) - needed + 1]:
            for place in self._ordered(heap):
                bit = 1 << place
                found = self._extend(chosen | bit, left & self.parted[place])
                if found is not None:
                    return found
                left &= ~bit
        return None

    def _good(self, chosen: int) -> bool:
        return (self.hazard is None or self.question.hazard(chosen) <= self.hazard) and (
            self.spread is None or self.question.spread(chosen) >= self.spread
        )

    def _ordered(self, heap: int) -> list[int]:
        return sorted(numbers_in(heap), key=lambda place: (self.question.levels[place], place))

    def _tightest(self, left: int, missing: int, wanted: list[tuple[Quota, int]]) -> tuple[list[int] | None, int]:
        """The heaps with the fewest to spare, of all or of one quota, smallest first; None where there are too few."""
        best, needed = self._heaps(left), missing
        if len(best) < missing:
            return None, 0
        for quota, need in wanted:
            heaps = self._heaps(left & quota.members)
            if len(heaps) < need:
                return None, 0
            if _branches(heaps, need) < _branches(best, needed):
                best, needed = heaps, need
        return sorted(best, key=int.bit_count), needed

    def _heaps(self, left: int) -> list[int]:
        """`left` cut greedily into heaps in which no two substances are parted."""
        heaps = []
        while left:
            heap, fitting = 0, left
            while fitting:
                lowest = fitting & -fitting
                heap |= lowest
                fitting &= ~(self.parted[lowest.bit_length() - 1] | lowest)
            heaps.append(heap)
            left ^= heap
        return heaps

    def _harmless(self, left: int, spare: int, missing: int) -> int:
        """What is left without substances that alone would use up more than the spare hazard."""
        least = next((top for top in self.tops if left & self.upto[top]), 0)
        most = spare - least * (missing - 1)
        fitting = 0
        for top in self.tops:
            if top <= most:
                fitting = self.upto[top]
        return left & fitting

    def _hazard_fits(self, left: int, missing: int, spare: int) -> bool:
        """Whether enough heaps are harmless enough: no set has more vials of at most a level than there are such heaps."""
        taken = least = 0
        for top in self.tops:
            now = min(missing, len(self._heaps(left & self.upto[top])))
            if now > taken:
                least += (now - taken) * top
                taken = now
            if least > spare:
                return False
            if taken == missing:
                return True
        return False

    def _spreading(self, chosen: int, left: int, missing: int) -> int | None:
        """What is left where the spread can still be reached, without what would lose too much; None where it cannot."""
        assert self.spread is not None
        spare = self.question.spread(chosen) - self.spread
        for sets in (self.question.kinds, self.question.classes):
            spare += min(missing, sum(1 for members in sets if members & left and not members & chosen))
        if spare < 0:
            return None
        if spare == 0:
            new = [members for members in self.question.kinds if members & left and not members & chosen]
            if len(new) >= missing:  # every further vial must be of a new kind
                inside = 0
                for members in new:
                    inside |= members
                left &= inside
        return left


def _branches(heaps: list[int], needed: int) -> int:
    """How many substances have to be tried first [-]."""
    sizes = sorted(map(int.bit_count, heaps))
    return sum(sizes[: len(heaps) - needed + 1])
