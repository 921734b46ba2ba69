"""The search for the shortest identification key: exact dynamic programming over sets of vials that are still possible.

A vial's weight is the probability of getting to a place of the key with it: all vials start alike, and a vial with several
honest values of a reading goes on with each of them, as often with one as with another. A vial of which a reading is not known
goes on in every branch that the others open, since not known is not "no". A test that was done gives all its readings, so a
place of the search is the vials still possible with their weights, the tests done, and what was read of readings that
other tests wait for. Sets of vials and of tests are kept as sums of 2 to the power of their places.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from fractions import Fraction

import msgspec

from spotplate.engine.reference_readings import Number, ReferenceRow
from spotplate.engine.resemblance import alike
from spotplate.kb import KnowledgeBase

# The weight of a whole vial: a number that can be divided again and again without a remainder, since whole numbers are
# quicker than fractions. Where one remains after all, a fraction takes over, so nothing is ever rounded.
_WHOLE = 27720**8
Weight = int | Fraction
Weights = tuple[Weight, ...]  # of the vials of a set, by their places
# What a key costs, in this order: vials left besides the right one, tests, minutes; each times the weight.
Cost = tuple[Weight, Weight, Weight]
Seen = tuple[tuple[str, str], ...]  # what was read of readings that further tests wait for
_NOTHING: Cost = (0, 0, 0)
_WEAK = 2  # tests; of pairs that no more than these part, it is worth looking whether they were used up


class Cell(msgspec.Struct, frozen=True):
    """
    An answer of a reading: the word, or the numbers, and the vials that may give it.

    `shares` tells, for each of these vials, by what its weight is divided.
    """

    word: str
    numbers: tuple[Number, ...]
    vials: int
    shares: tuple[int, ...]


class Outcome(msgspec.Struct, frozen=True, gc=False):
    """An outcome of a whole test: the vials that may give it, their places among those before, and what was noted."""

    vials: int
    came_from: tuple[int, ...]
    shares: tuple[int, ...]
    noted: Seen

    def weights(self, before: Weights) -> Weights:
        """The weights that the vials go on with."""
        return tuple(_shared(before[at], share) for at, share in zip(self.came_from, self.shares, strict=True))


class Answer(msgspec.Struct, frozen=True):
    """Where an answer leads: to the next step, or to the end of the key with some vials."""

    word: str
    numbers: tuple[Number, ...]
    then: Place


class Place(msgspec.Struct, frozen=True):
    """
    A place of the finished key: the step taken there (a reading of a test), or none where the key ends.

    `vials` holds the places in the set of the vials still possible, `chances` the probability of being here with each [-].
    """

    vials: tuple[int, ...]
    chances: tuple[float, ...]
    test: str = ""
    reading: str = ""
    new_test: bool = False
    answers: tuple[Answer, ...] = ()


class KeySearch:
    """
    One search over the vials of a set.

    After `most_places` places it is given up: from then on only the most promising test is looked at, and what is found is a
    key but no longer the shortest one for certain. `complete` tells which.
    """

    def __init__(self, rows: Sequence[ReferenceRow], tests: Sequence[str], knowledge: KnowledgeBase, *, most_places: int) -> None:
        self.rows = rows
        self.tests = tuple(tests)
        self.knowledge = knowledge
        self.most_places = most_places
        self.complete = True
        self.minutes = [_exact(knowledge.tests[name].minutes) for name in tests]
        self.readings = [tuple(kind.id for kind in knowledge.tests[name].readings) for name in tests]
        self.needs = [
            tuple(
                (need.reading, need.is_, 1 << self.tests.index(knowledge.test_of[need.reading].id))
                for need in knowledge.tests[name].needs
                if need.reading
            )
            for name in tests
        ]
        self.awaited = {reading for needs in self.needs for reading, _, _ in needs}
        self.before = [self._all_before(number) for number in range(len(tests))]
        self._measuring = sum(
            1 << number
            for number, readings in enumerate(self.readings)
            if any(knowledge.readings[reading].number for reading in readings)
        )
        self._kept: dict[object, tuple[Cost, int]] = {}
        self._outcomes: dict[tuple[int, int], list[Outcome]] = {}
        self._cells: dict[tuple[str, int], list[Cell]] = {}
        self._splitters: dict[int, int] = {}
        self._apart: dict[tuple[str, int, int], bool] = {}
        self._weak = self._weak_pairs()

    def _all_before(self, number: int) -> int:
        """Every test that has to come before a test, directly or not."""
        direct = 0
        for _, _, test in self.needs[number]:
            direct |= test | self._all_before(test.bit_length() - 1)
        return direct

    def _weak_pairs(self) -> list[tuple[int, int, int]]:
        pairs = [(one, other) for other in range(len(self.rows)) for one in range(other)]
        parting = [(one, other, self.splitters(1 << one | 1 << other)) for one, other in pairs]
        return [pair for pair in parting if pair[2].bit_count() <= _WEAK]

    def shortest(self) -> tuple[tuple[Fraction, Fraction, Fraction], Place]:
        """What the best key costs (vials left over, tests, minutes), and the key."""
        vials, weights = (1 << len(self.rows)) - 1, (_WHOLE,) * len(self.rows)
        cost, _ = self._solve(vials, weights, 0, ())
        whole = _WHOLE * len(self.rows)
        shares = (Fraction(cost[0]) / whole, Fraction(cost[1]) / whole, Fraction(cost[2]) / whole)
        return shares, self._built(vials, weights, 0, ())

    # --- what a test does with the vials ------------------------------------------------------------

    def known(self, place: int, reading: str) -> bool:
        """Whether the reference table tells a reading of a vial."""
        return reading in self.rows[place].words or reading in self.rows[place].numbers

    def cells(self, reading: str, vials: int) -> list[Cell]:
        """The answers that these vials can give to a reading; a single one when none of them is known."""
        kept = self._cells.get((reading, vials))
        if kept is None:
            kept = self._cells[reading, vials] = self._made_cells(reading, vials)
        return kept

    def _made_cells(self, reading: str, vials: int) -> list[Cell]:
        places = list(places_of(vials))
        known = [place for place in places if self.known(place, reading)]
        if not known:
            return [Cell("", (), vials, (1,) * len(places))]
        if self.knowledge.readings[reading].number:
            answers = [("", self._numbers_of(heap, reading), heap) for heap in self._heaps(known, reading)]
        else:
            shown = {place: self.rows[place].words[reading] for place in known}
            order = self.knowledge.readings[reading].words()
            answers = [(word, (), [place for place in known if word in shown[place]]) for word in order]
            answers = [answer for answer in answers if answer[2]]
        found = []
        for word, numbers, giving in answers:
            shares = {place: len(self.rows[place].words.get(reading, ("",))) for place in giving}
            shares |= {place: len(answers) for place in places if place not in known}
            here = sorted(shares)
            found.append(Cell(word, numbers, sum(1 << place for place in here), tuple(shares[place] for place in here)))
        return found

    def _heaps(self, places: Sequence[int], reading: str) -> list[list[int]]:
        """Numbers that may be taken for one another, directly or by way of others, stay together; by rising numbers."""
        heaps: list[list[int]] = []
        for place in sorted(places, key=lambda at: self._value(at, reading)):
            near = [heap for heap in heaps if any(not self._told_apart(reading, place, other) for other in heap)]
            heaps = [heap for heap in heaps if heap not in near] + [[other for heap in near for other in heap] + [place]]
        return sorted(heaps, key=lambda heap: self._value(heap[0], reading))

    def _numbers_of(self, places: Sequence[int], reading: str) -> tuple[Number, ...]:
        return tuple(self.rows[place].numbers[reading] for place in places)

    def _value(self, place: int, reading: str) -> float:
        number = self.rows[place].numbers[reading]
        return math.inf if number.more else number.value

    def _told_apart(self, reading: str, one: int, other: int) -> bool:
        pair = (reading, min(one, other), max(one, other))
        if pair not in self._apart:
            self._apart[pair] = alike(reading, self.rows[one], self.rows[other], self.knowledge) == 0
        return self._apart[pair]

    def outcomes(self, test: int, vials: int) -> list[Outcome]:
        """What a test can turn out with these vials, when all its readings are made."""
        kept = self._outcomes.get((test, vials))
        if kept is None:
            count = vials.bit_count()
            kept = [Outcome(vials, tuple(range(count)), (1,) * count, ())]
            for reading in self.readings[test]:
                kept = [outcome for before in kept for outcome in self._further(before, reading)]
            self._outcomes[test, vials] = kept
        return kept

    def _further(self, before: Outcome, reading: str) -> Iterator[Outcome]:
        """An outcome parted by one more reading."""
        order = {place: at for at, place in enumerate(places_of(before.vials))}
        for cell in self.cells(reading, before.vials):
            at = [order[place] for place in places_of(cell.vials)]
            shares = tuple(before.shares[each] * share for each, share in zip(at, cell.shares, strict=True))
            noted = (*before.noted, (reading, cell.word)) if reading in self.awaited and cell.word else before.noted
            yield Outcome(cell.vials, tuple(before.came_from[each] for each in at), shares, noted)

    def most_outcomes(self) -> int:
        """The largest number of different outcomes that one test can have with the vials; every number counts as one."""
        return max((self._different(readings) for readings in self.readings), default=1)

    def _different(self, readings: Sequence[str]) -> int:
        found: set[tuple[object, ...]] = set()
        for row in self.rows:
            combined: list[tuple[object, ...]] = [()]
            for reading in readings:
                values: tuple[object, ...] = row.words.get(reading) or (row.numbers.get(reading),)
                combined = [(*start, value) for start in combined for value in values]
            found.update(combined)
        return len(found)

    def splitters(self, vials: int) -> int:
        """The tests with a reading that has more than one answer with these vials, whatever has to come before."""
        kept = self._splitters.get(vials)
        if kept is None:
            kept = sum(
                1 << number
                for number, readings in enumerate(self.readings)
                if any(len(self.cells(reading, vials)) > 1 for reading in readings)
            )
            self._splitters[vials] = kept
        return kept

    def _allowed(self, test: int, vials: int, done: int, seen: Seen) -> bool:
        """Whether the tests that come first were done, and what was read allows this one with every vial still possible."""
        for reading, accepted, needed in self.needs[test]:
            if not needed & done:
                return False
            word = next((word for name, word in seen if name == reading), None)
            if word is not None:
                if word not in accepted:
                    return False
            elif not all(self._always(place, reading, accepted) for place in places_of(vials)):
                return False
        return True

    def _always(self, place: int, reading: str, accepted: Sequence[str]) -> bool:
        honest = self.rows[place].words.get(reading, ())
        return bool(honest) and set(honest) <= set(accepted)

    # --- the search -----------------------------------------------------------------------------------

    def _solve(self, vials: int, weights: Weights, done: int, seen: Seen) -> tuple[Cost, int]:
        """The least cost from here, and the test to do; −1 where the key ends."""
        if len(weights) == 1:
            return _NOTHING, -1
        left = self.splitters(vials) & ~done
        if not left:
            return _ends(weights), -1
        opening = self._opening(left)
        # Tests that can do no more from here on, and readings that nothing waits for, make no difference. Numbers that
        # cannot be told apart now may be so among fewer vials.
        later = left | self._measuring & ~done
        waiting_for = self._opening(later)
        done &= self.splitters(vials) | waiting_for | self._measuring
        waited = {reading for number in places_of(later | waiting_for) for reading, _, _ in self.needs[number]}
        seen = tuple(sorted(each for each in seen if each[0] in waited))
        key = (vials, weights, done, seen)
        if key not in self._kept:
            tests = [number for number in places_of((left | opening) & ~done) if self._allowed(number, vials, done, seen)]
            self._kept[key] = self._best(vials, weights, done, seen, tests)
        return self._kept[key]

    def _opening(self, tests: int) -> int:
        """The tests that open the way to these."""
        found = 0
        for number in places_of(tests):
            found |= self.before[number]
        return found

    def _best(self, vials: int, weights: Weights, done: int, seen: Seen, tests: Sequence[int]) -> tuple[Cost, int]:
        best, choice = _ends(weights), -1
        trials = []
        whole = sum(weights)
        for test in tests:
            made = done | 1 << test
            after = [(outcome, outcome.weights(weights)) for outcome in self.outcomes(test, vials)]
            bounds = [self._least(outcome.vials, each, made) for outcome, each in after]
            least = _sum((0, whole, whole * self.minutes[test]), *bounds)
            trials.append((least, test, made, after, bounds))
        # The most promising test first, so that most others are seen to be no better without being followed.
        trials.sort(key=lambda trial: trial[:2])
        if len(self._kept) >= self.most_places and len(trials) > 1:
            self.complete = False
            trials = trials[:1]
        for cost, test, made, after, bounds in trials:
            if cost >= best:
                break
            for (outcome, each), bound in sorted(zip(after, bounds, strict=True), key=lambda item: -len(item[0][1])):
                found, _ = self._solve(outcome.vials, each, made, (*seen, *outcome.noted))
                cost = _sum(cost, found, (-bound[0], -bound[1], -bound[2]))
                if cost >= best:
                    break
            else:
                best, choice = cost, test
        return best, choice

    def _least(self, vials: int, weights: Weights, done: int) -> Cost:
        """
        A cost that no way on from here goes below.

        Every vial that is not alone takes one more test, and a second one unless the test leaves it alone; pairs that no test
        left to do parts stay together.
        """
        if len(weights) == 1:
            return _NOTHING
        left = self.splitters(vials) & ~done
        if not left:
            return _ends(weights)
        together: Weight = 0
        for one, other, parting in self._weak:
            if vials >> one & 1 and vials >> other & 1 and not parting & ~done:
                together += weights[_rank(vials, one)] + weights[_rank(vials, other)]
        whole = sum(weights)
        numbers = list(places_of(left))
        second: Weight = 0 if together else whole - max(self._alone(number, vials, weights) for number in numbers)
        return together, whole + second, whole * min(self.minutes[number] for number in numbers)

    def _alone(self, test: int, vials: int, weights: Weights) -> Weight:
        """The weight of the vials that a test leaves alone."""
        return sum(
            _shared(weights[outcome.came_from[0]], outcome.shares[0])
            for outcome in self.outcomes(test, vials)
            if len(outcome.came_from) == 1
        )

    # --- the key that was found ---------------------------------------------------------------------

    def _built(self, vials: int, weights: Weights, done: int, seen: Seen) -> Place:
        _, test = self._solve(vials, weights, done, seen)
        if test < 0:
            return Place(tuple(places_of(vials)), self._chances(weights))
        return self._read(test, self.readings[test], vials, weights, done | 1 << test, seen, first=True)[2]

    def _chances(self, weights: Weights) -> tuple[float, ...]:
        return tuple(float(Fraction(weight) / (_WHOLE * len(self.rows))) for weight in weights)

    def _read(
        self, test: int, left: Sequence[str], vials: int, weights: Weights, done: int, seen: Seen, *, first: bool
    ) -> tuple[Cost, int, Place]:
        """
        The cheapest way on within a test that was done: which of its readings to look at, and no more of them than serve.

        Gives the cost from here, the number of steps, and the place.
        """
        ways: list[tuple[Cost, int, Place | None]] = []
        if not first:
            ways.append((self._solve(vials, weights, done, seen)[0], 0, None))
        for number, reading in enumerate(left):
            cells = self.cells(reading, vials)
            if len(cells) == 1 and not (first and reading in self.awaited):
                continue
            then = []
            for cell in cells:
                at = [_rank(vials, place) for place in places_of(cell.vials)]
                shared = tuple(_shared(weights[each], share) for each, share in zip(at, cell.shares, strict=True))
                noted = (*seen, (reading, cell.word)) if reading in self.awaited and cell.word else seen
                then.append(self._read(test, left[number + 1 :], cell.vials, shared, done, noted, first=False))
            answers = tuple(Answer(cell.word, cell.numbers, each[2]) for cell, each in zip(cells, then, strict=True))
            place = Place(tuple(places_of(vials)), self._chances(weights), self.tests[test], reading, first, answers)
            ways.append((_sum(*(each[0] for each in then)), 1 + sum(each[1] for each in then), place))
        cost, steps, found = min(ways, key=lambda way: way[:2])
        return cost, steps, found or self._built(vials, weights, done, seen)


def places_of(numbers: int) -> Iterator[int]:
    """The places of a set that is kept as a sum of 2 to the power of its places, rising."""
    while numbers:
        lowest = numbers & -numbers
        yield lowest.bit_length() - 1
        numbers ^= lowest


def _rank(numbers: int, place: int) -> int:
    """How many members of a set come before a place."""
    return (numbers & ((1 << place) - 1)).bit_count()


def _exact(minutes: float) -> Weight:
    return int(minutes) if minutes == int(minutes) else Fraction(minutes)


def _shared(weight: Weight, share: int) -> Weight:
    if share == 1:
        return weight
    if isinstance(weight, int):
        quotient, rest = divmod(weight, share)
        return Fraction(weight, share) if rest else quotient
    return weight / share


def _ends(weights: Weights) -> Cost:
    """What it costs to end with these vials: each leaves all the others besides it."""
    return sum(weights) * (len(weights) - 1), 0, 0


def _sum(*costs: Cost) -> Cost:
    return sum(cost[0] for cost in costs), sum(cost[1] for cost in costs), sum(cost[2] for cost in costs)
