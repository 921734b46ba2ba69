"""The best set for a question: shortest kit, then least hazard, then widest spread, each proved.

Kits come in the order of their minutes (`kits`); for each the question is whether the substances that it parts hold a set
of the wished make-up (`choosing`). A kit without one is grown by further tests as long as there is still none; every kit
that suffices must then have one of the tests still missing, which rules out most kits unseen. The first kit that holds a
set is the shortest. Among all kits as short as that, the least hazard is sought, and with that hazard the widest spread;
each is proved by finding nothing better.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import combinations

import msgspec

from .bits import numbers_in
from .choosing import OutOfStepsError, OutOfTimeError, Search
from .compatibility import Parted
from .kits import CheapestKits
from .plan import Worth
from .posing import Posed

_STEPS_TO_GROW = 200  # a kit is grown only where that is decided quickly
_STEPS_TO_IMPROVE = 150  # a fraction of a second for all that is improved after the time limit
_SWAPS = 40  # per vial, among equally good sets


class Stopwatch:
    """Ends a search when its time is up. The clock is the caller's, since the engine has none of its own."""

    def __init__(self, seconds: float | None, clock: Callable[[], float]) -> None:
        self.clock = clock
        self.end = None if seconds is None else clock() + seconds
        self._ticks = 0

    def tick(self) -> None:
        """Raise `OutOfTimeError` when the time is up; the clock is read at every 16th call."""
        self._ticks += 1
        if self._ticks % 16 == 0 and self.up:
            raise OutOfTimeError

    @property
    def up(self) -> bool:
        return self.end is not None and self.clock() >= self.end


class Progress(msgspec.Struct, frozen=True):
    """How far planning is: what is sought, kits tried, what every kit takes at least [min], and the best set so far."""

    seeks: str
    kits_tried: int
    least_minutes: float
    best: Worth | None


class Found(msgspec.Struct, frozen=True):
    """The best set found, its kit (both as bits) and worth, and what no set can beat; no set when the time was too short."""

    kit: int
    chosen: int
    worth: Worth | None
    bound: Worth
    kits_tried: int


Report = Callable[[Progress], None]


class Solver:
    """Answers one posed question."""

    def __init__(self, posed: Posed, stopwatch: Stopwatch, report: Report = lambda _: None) -> None:
        self.posed = posed
        self.question = posed.question
        self.bench = posed.bench
        self.stopwatch = stopwatch
        self.report = report
        self.tried = 0
        self.bound = Worth(0.0, least_hazard(posed), most_spread(posed))
        self.best: tuple[int, int, Worth] | None = None  # kit, set, worth
        self._tied: list[tuple[int, int]] = []
        self._graphs: dict[int, Parted] = {}

    def solve(self) -> Found | None:
        """
        The best set as far as the time allowed, or None when it is proved that there is none.

        Whether it is proved the best is told by `worth` being equal to `bound`.
        """
        try:
            if not self.exists():
                return None
            self._least_hazard()
            self._widest_spread()
        except OutOfTimeError:
            self._improve()
        if self.best is None:
            return Found(0, 0, None, self.bound, self.tried)
        kit, chosen, worth = self.best
        chosen = self._wander(kit, chosen)
        return Found(kit, chosen, worth, self.bound, self.tried)

    def exists(self) -> bool:
        """Whether there is a set; then all kits of the fewest minutes are known, and a set for each."""
        first = self._find(self.bench.all)
        if first is None:
            return False
        self._keep(self.bench.all, first)
        self._shortest_kits()
        return bool(self._tied)

    def could_exist(self) -> bool:
        """Whether there is a set when no kit is too long; quicker than the search for the shortest kit."""
        if self.posed.wishes.minutes is None:
            return self._find(self.bench.all) is not None
        return self.exists()

    def _find(self, kit: int, *, hazard: int | None = None, spread: int | None = None, steps: int | None = None) -> int | None:
        if kit not in self._graphs:
            self._graphs[kit] = self.posed.graph(kit)
        search = Search(self.question, self._graphs[kit], hazard=hazard, spread=spread, steps=steps, tick=self.stopwatch.tick)
        return search.run()

    # --- the shortest kits ------------------------------------------------------------------------

    def _shortest_kits(self) -> None:
        kits = CheapestKits(self.bench)
        limit = self.posed.wishes.minutes
        for kit in kits:
            assert kits.least is not None
            if (limit is not None and kits.least > limit) or (self._tied and kits.least > self.bound.minutes):
                break
            self.bound = msgspec.structs.replace(self.bound, minutes=kits.least)
            self._tell("the shortest kit")
            self.tried += 1
            chosen = self._find(kit)
            if chosen is None:
                kits.lacking.append(self.bench.all & ~self._grown(kit))
            else:
                self._tied.append((kit, chosen))
                self._keep(kit, chosen)
            self._graphs.pop(kit, None) if chosen is None else None

    def _grown(self, kit: int) -> int:
        """The kit with further tests, quick ones first, as long as it still holds no set."""
        for place in sorted(range(len(self.bench.tests)), key=lambda place: self.bench.minutes[place]):
            larger = kit | self.bench.with_first[place]
            if larger == kit:
                continue
            try:
                chosen = self._find(larger, steps=_STEPS_TO_GROW)
            except OutOfStepsError:
                continue
            if chosen is None:
                kit = larger
            else:
                self._keep(larger, chosen)
        return kit

    def _keep(self, kit: int, chosen: int) -> None:
        """Remember a set when it is the best so far."""
        kit = self._shortened(kit, chosen)
        minutes = self.bench.cost(kit)
        limit = self.posed.wishes.minutes
        if limit is not None and minutes > limit:
            return
        worth = Worth(minutes, self.question.hazard(chosen), self.question.spread(chosen))
        if self.best is None or _order(worth) < _order(self.best[2]):
            self.best = kit, chosen, worth

    def _shortened(self, kit: int, chosen: int) -> int:
        """The kit without tests that the set can do without, long ones first."""
        pairs = [
            sum(1 << test for test, parted in enumerate(self.posed.parted) if parted[one] >> other & 1)
            for one, other in combinations(numbers_in(chosen), 2)
        ]
        for place in sorted(numbers_in(kit), key=lambda place: -self.bench.minutes[place]):
            dropped = sum(1 << other for other in numbers_in(kit) if self.bench.with_first[other] >> place & 1)
            if all((mask & kit & ~dropped).bit_count() >= self.posed.wishes.told_apart_by for mask in pairs):
                kit &= ~dropped
        return kit

    # --- least hazard and widest spread -------------------------------------------------------------

    def _least_hazard(self) -> None:
        assert self.best is not None
        for kit, _ in self._tied:
            while self.best[2].hazard > self.bound.hazard:
                self._tell("the least hazard")
                chosen = self._find(kit, hazard=self.best[2].hazard - 1)
                if chosen is None:
                    break
                self._keep(kit, chosen)
        self.bound = msgspec.structs.replace(self.bound, hazard=self.best[2].hazard)

    def _widest_spread(self) -> None:
        assert self.best is not None
        for kit, _ in self._tied:
            while self.best[2].spread < self.bound.spread:
                self._tell("the widest spread")
                chosen = self._find(kit, hazard=self.best[2].hazard, spread=self.best[2].spread + 1)
                if chosen is None:
                    break
                self._keep(kit, chosen)
        self.bound = msgspec.structs.replace(self.bound, spread=self.best[2].spread)

    def _improve(self) -> None:
        """After the time limit: less hazard and a wider spread with the kit at hand, as far as a few steps go."""
        self.stopwatch = Stopwatch(None, self.stopwatch.clock)
        while self.best is not None and self.best[2].hazard > 0:
            if not self._improved(hazard=self.best[2].hazard - 1):
                break
        while self.best is not None and self.best[2].spread < self.bound.spread:
            if not self._improved(hazard=self.best[2].hazard, spread=self.best[2].spread + 1):
                break

    def _improved(self, *, hazard: int, spread: int | None = None) -> bool:
        assert self.best is not None
        kit = self.best[0]
        try:
            chosen = self._find(kit, hazard=hazard, spread=spread, steps=_STEPS_TO_IMPROVE)
        except OutOfStepsError:
            return False
        if chosen is not None:
            self._keep(kit, chosen)
        return chosen is not None

    def _wander(self, kit: int, chosen: int) -> int:
        """Another set that is exactly as good, reached by swapping single vials at random; the seed decides which."""
        question, graph = self.question, self.posed.graph(kit)
        draw = random.Random(self.posed.wishes.seed)
        hazard, spread = question.hazard(chosen), question.spread(chosen)
        movable = list(numbers_in(chosen & ~question.required))
        for _ in range(_SWAPS * len(movable)):
            index = draw.randrange(len(movable))
            others = chosen & ~(1 << movable[index])
            fitting = question.candidates & ~others
            for place in numbers_in(others):
                fitting &= graph[place]
            as_good = [
                place
                for place in numbers_in(fitting)
                if question.levels[place] == question.levels[movable[index]]
                and question.allowed(others | 1 << place)
                and question.hazard(others | 1 << place) == hazard
                and question.spread(others | 1 << place) == spread
            ]
            movable[index] = draw.choice(as_good)
            chosen = others | 1 << movable[index]
        return chosen

    def _tell(self, seeks: str) -> None:
        self.stopwatch.tick()
        self.report(Progress(seeks, self.tried, self.bound.minutes, self.best[2] if self.best else None))


def _order(worth: Worth) -> tuple[float, int, int]:
    return worth.minutes, worth.hazard, -worth.spread


def least_hazard(posed: Posed) -> int:
    """What the hazards of a set add up to at least, were all its substances parted [-]."""
    question = posed.question
    levels = [question.levels[place] for place in numbers_in(question.required)]
    left = question.candidates & ~question.required
    for quota in question.quotas:
        if quota.family == "class":
            missing = quota.least - (quota.members & question.required).bit_count()
            for place in sorted(numbers_in(left & quota.members), key=lambda place: question.levels[place])[: max(0, missing)]:
                levels.append(question.levels[place])
                left &= ~(1 << place)
    free = sorted(question.levels[place] for place in numbers_in(left))
    return sum(levels) + sum(free[: max(0, question.vials - len(levels))])


def most_spread(posed: Posed) -> int:
    """The widest spread that as many vials can have, were all substances parted [-]."""
    question = posed.question
    return sum(
        min(question.vials, sum(1 for members in sets if members & question.candidates))
        for sets in (question.kinds, question.classes)
    )
