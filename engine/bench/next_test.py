"""Which bench test is worth doing next: what it is expected to tell, per minute, of the class (and of the substance).

How probable each outcome is comes from the reference substances that the record resembles; what an outcome would settle
comes from the rules. A test whose prerequisites are not met is not proposed, but what it would tell counts for the one
that opens the way to it. A test that could not change the verdict is not proposed at all.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import combinations

import msgspec

from spotplate.engine.reasoning import Ranked, chain, leading_causes, rank
from spotplate.engine.record import Readings, Record
from spotplate.engine.reference_readings import ReferenceReadings
from spotplate.engine.resemblance import Resemblance
from spotplate.kb import BenchTest, Condition, Interval, KnowledgeBase, ReadingKind

from .outlook import Outcome, Outlook, Weights, divergence, entropy

_SETTLING = 2.0  # [bit] that settling the class is worth, besides what is told of it
_WRONG = 6.0  # [bit] that settling it wrongly costs
_COMPANIONS = 4  # tests of which each is also tried as what comes before or after another of them
_ASKING = 3.0  # [min] that it takes on average to fetch the teacher's agreement; so gentle tests come first
_CARE = 2.0  # [min] that a test with fire, acid or flammable solvent is taken to cost more, for the same reason
_CARE_FOR = frozenset({"acid", "burning", "flammable solvent", "hot things"})
_LEAST = 0.01  # [bit] a test that is expected to tell less is not worth its time
_SELDOM = 0.02  # [-] a test that can follow only more seldom than this is not reckoned with
_RARE = 0.04  # [-] after an outcome less probable than this, what follows is not worked out
_POSSIBLE = 0.02  # [-] classes less probable than this are not named among those a test tells apart


class NextTest(msgspec.Struct, frozen=True):
    """
    A bench test that may decide, and why.

    `reading` is its first reading still to be made. `gain` is what it is expected to tell [bit], together with the test
    that is best done after it, chances to settle the class rightly (or wrongly) included; `minutes` how long the test takes
    [min]; `parts` the two classes (or substances of the set) that it tells apart best. `opens` names the test that it opens
    the way to, where most of the gain comes from that one. `per_minute` decides the order: the gain per minute of all that
    it takes, the teacher's agreement and the test after it included [bit/min]; 0 where what the test would settle is likelier
    to be wrong.
    """

    test: str
    reading: str
    gain: float
    minutes: float
    parts: tuple[str, ...]
    teacher: bool
    per_minute: float
    opens: str = ""


class Aim(msgspec.Struct, frozen=True):
    """What is still open: the class, the substance within a known set, or both."""

    class_: bool = True
    substance: bool = False


class _Trial(msgspec.Struct, frozen=True, gc=False):
    """
    An outcome of a test, and the ranking that the rules would give with it.

    `settles` tells whether that would settle the class, `told` what it tells of it [bit], `worth` that with what settling it
    rightly or wrongly counts [bit].
    """

    outcome: Outcome
    ranking: tuple[Ranked, ...]
    settles: bool
    told: float
    worth: float


class _Worth(msgspec.Struct, frozen=True, gc=False):
    """A test's expected gain [bit], with what it opens the way to, and the time that takes on average [min]."""

    gain: float
    minutes: float
    opens: str = ""
    last: bool = False

    @property
    def rate(self) -> float:
        return self.gain / self.minutes


def next_tests(
    record: Record,
    ranking: Sequence[Ranked],
    alike: Resemblance,
    reference: ReferenceReadings,
    knowledge: KnowledgeBase,
    *,
    aim: Aim | None = None,
    prior: Mapping[str, float] | None = None,
    left_out: Collection[str] = (),
    most: int = 3,
) -> tuple[NextTest, ...]:
    """
    The tests most worth doing, best first.

    None are left when nothing that can be done would change the verdict, or what could is likelier to settle it wrongly:
    the rules would then come to a conclusion that the reference substances which the record resembles speak against.

    Parameters
    ----------
    record, ranking, alike
        What has been read, and what rules and reference table say of it
    aim : Aim, optional
        What is still open; the class when not given
    prior : mapping, optional
        Class → prior probability [-] that the ranking rests on
    left_out : collection of str
        Tests that are not to be proposed: their apparatus is missing, they were tried, or the teacher has not agreed
    most : int
        How many tests to name, at most
    """
    search = _Search(record, ranking, Outlook(alike, reference, knowledge), knowledge, prior, aim or Aim())
    tests = [test for test in knowledge.tests.values() if test.id not in left_out and _to_be_made(test, record)]
    makeable = {kind.id for test in tests for kind in _to_be_made(test, record)}
    trials = {test.id: search.trials(test) for test in tests if _within_reach(test, record, makeable, knowledge)}
    ready = [test for test in tests if can_be_done(test, record)]
    # Nothing is done to a substance that nobody has looked at.
    ready = [test for test in ready if any(kind.id == "state" for kind in _to_be_made(test, record))] or ready
    if search.aim.class_ and not search.aim.substance:
        telling = _could_change(search, trials)
        ready = [test for test in ready if test.id in telling]
    own = {test.id: _Worth(sum(trial.worth for trial in trials[test.id]), _takes(test)) for test in ready}
    companions = sorted(own, key=lambda name: -own[name].rate)[:_COMPANIONS]
    found = []
    for test in ready:
        worth = max([own[test.id], *search.ways(test, trials, tests, companions)], key=lambda way: way.rate)
        told = sum(trial.told for trial in trials[test.id])
        if worth.gain < _LEAST <= told:
            # It tells something, but what the rules would make of it is likelier to be wrong: the last to be proposed.
            worth = _Worth(told, _takes(test), last=True)
        if worth.gain >= _LEAST:
            parts = search.told_apart(trials[test.id], worth.opens and trials.get(worth.opens))
            reading = next(kind.id for kind in _to_be_made(test, record))
            rate = 0.0 if worth.last else worth.rate
            proposed = NextTest(test.id, reading, worth.gain, test.minutes, parts, test.teacher, rate, worth.opens)
            found.append((worth, proposed))
    found.sort(key=lambda item: (item[0].last, -item[0].rate))
    return tuple(proposed for _, proposed in found[:most])


class _Search:
    """One search for the next test: what has been read, and what is still open."""

    def __init__(
        self,
        record: Record,
        ranking: Sequence[Ranked],
        outlook: Outlook,
        knowledge: KnowledgeBase,
        prior: Mapping[str, float] | None,
        aim: Aim,
    ) -> None:
        self.record = record
        self.ranking = ranking
        self.outlook = outlook
        self.knowledge = knowledge
        self.prior = prior
        self.aim = aim

    def trials(self, test: BenchTest, after: _Trial | None = None) -> list[_Trial]:
        """Every outcome of a test with what would follow; after an outcome of another test, where that is given."""
        before = after.outcome.weights if after else self.outlook.now
        ranking = after.ranking if after else self.ranking
        readings = self.readings_after(after)
        open_before = self._open(before)
        found = []
        for outcome in self.outlook.outcomes(test, before, (*readings, *self.record.unclear)):
            trial = rank(chain({**readings, **outcome.values}, self.knowledge).firings, self.knowledge, self.prior)
            told = outcome.chance * (open_before - self._open(outcome.weights))
            # What is settled already is not settled a second time.
            worth = told + self._settling(trial, outcome) - self._settling(ranking, outcome)
            settles = self.aim.class_ and _settles(trial, self.knowledge)
            found.append(_Trial(outcome, trial, settles, told, worth))
        return found

    def readings_after(self, after: _Trial | None) -> Readings:
        """The readings of the record, with those of an outcome."""
        return {**self.record.readings, **after.outcome.values} if after else self.record.readings

    def _settling(self, ranking: Sequence[Ranked], outcome: Outcome) -> float:
        """What it is worth, in an outcome, that a ranking settles the class: rightly or wrongly [bit]."""
        if not self.aim.class_ or not _settles(ranking, self.knowledge):
            return 0.0
        right = self.outlook.of_classes(outcome.weights)[ranking[0].class_]
        return _SETTLING * right - _WRONG * (outcome.chance - right)

    def _open(self, weights: Weights) -> float:
        """How open the class is, and the substance where that is asked for [bit]."""
        still = entropy(self.outlook.of_classes(weights).values()) if self.aim.class_ else 0.0
        return still + (entropy(self.outlook.of_substances(weights).values()) if self.aim.substance else 0.0)

    def ways(
        self, test: BenchTest, trials: Mapping[str, list[_Trial]], tests: Iterable[BenchTest], companions: Collection[str]
    ) -> list[_Worth]:
        """
        The worth of a test together with another that follows while the class is open.

        That is one which the test opens the way to, or one of its `companions`, since two kinds of evidence settle what
        one alone does not.
        """
        own = trials[test.id]
        gain = sum(trial.worth for trial in own)
        found = []
        for other in tests:
            opens = _waits_for(other, test, self.record)
            if other is test or not (opens or {test.id, other.id} <= set(companions)):
                continue
            chance = further = 0.0
            for trial in own:
                if trial.settles or trial.outcome.chance < _RARE:
                    continue
                readings = self.readings_after(trial)
                if all(allows(need, readings) for need in other.needs):
                    chance += trial.outcome.chance
                    further += sum(each.worth for each in self.trials(other, after=trial))
            if chance > _SELDOM and (not opens or further > gain):
                found.append(_Worth(gain + further, _takes(test) + chance * _takes(other), other.id if opens else ""))
        return found

    def told_apart(self, own: Sequence[_Trial], opened: Sequence[_Trial] | str | None) -> tuple[str, ...]:
        """The two likeliest things that the outcomes part best: classes, or substances of the set once the class is settled."""
        trials = opened if opened and not isinstance(opened, str) else own
        shares = self.outlook.of_classes if self.aim.class_ else self.outlook.of_substances
        now = shares(self.outlook.now)
        # Among classes, those that the rules leave open; what the verdict must tell apart is theirs.
        weight = {item.class_: item.probability for item in self.ranking} if self.aim.class_ else now
        whole = sum(now.values())
        likely = [name for name, share in now.items() if share > 0 and (self.aim.class_ or share > _POSSIBLE * whole)]
        each = [shares(trial.outcome.weights) for trial in trials]
        chances = {name: {at: told[name] / now[name] for at, told in enumerate(each)} for name in likely}
        pairs = list(combinations(sorted(likely, key=lambda name: -weight[name]), 2))
        if not pairs:  # one of them is all but certain, yet not by the thresholds of the verdict
            return tuple(item.class_ for item in self.ranking[:2]) if self.aim.class_ else _first_two(now)
        return max(pairs, key=lambda pair: min(weight[name] for name in pair) * divergence(*(chances[name] for name in pair)))


def _first_two(shares: Mapping[str, float]) -> tuple[str, ...]:
    return tuple(sorted(shares, key=lambda name: -shares[name])[:2])


def _could_change(search: _Search, trials: Mapping[str, list[_Trial]]) -> set[str]:
    """
    The tests that could change the verdict, at best together with the others.

    For each class, as much as every test could bring it forward is added up; where even that does not settle it, no test is
    worth doing for its sake. A test that opens the way to one that could is worth doing, too.
    """
    needed = search.knowledge.verdict.conclusive.lead
    sums = {item.class_: item.decibans for item in search.ranking}
    shifts = {
        test: [{item.class_: item.decibans - sums[item.class_] for item in trial.ranking} for trial in found]
        for test, found in trials.items()
    }
    telling: set[str] = set()
    for winner in sums:
        moving: dict[str, dict[str, float]] = {}
        for rival in sums.keys() - {winner}:
            best = {test: max((shift[winner] - shift[rival] for shift in found), default=0.0) for test, found in shifts.items()}
            moving[rival] = {test: shift for test, shift in best.items() if shift > 0}
        lead = {rival: sums[winner] - sums[rival] for rival in moving}
        if all(lead[rival] + sum(moving[rival].values()) >= needed for rival in moving):
            close = [rival for rival in moving if lead[rival] < needed] or list(moving)
            telling |= {test for rival in close for test in moving[rival]}
    return telling | _opening(telling, search)


def _opening(tests: set[str], search: _Search) -> set[str]:
    """The tests that open the way to some of `tests`, step by step."""
    known, record = search.knowledge.tests, search.record
    found = {test.id for test in known.values() if any(_waits_for(known[other], test, record) for other in tests)}
    return found if found <= tests else found | _opening(tests | found, search)


def _settles(ranking: Sequence[Ranked], knowledge: KnowledgeBase) -> bool:
    """Whether the first class would be far enough ahead, by enough different causes."""
    need = knowledge.verdict.conclusive
    first, second = ranking[:2]
    far = first.probability >= need.probability and first.decibans - second.decibans >= need.lead
    return far and len(leading_causes(first, second)) >= need.causes


def _takes(test: BenchTest) -> float:
    """How long a test takes, the teacher's agreement and special care included [min]."""
    return test.minutes + (_ASKING if test.teacher else 0.0) + (_CARE if _CARE_FOR & set(test.cautions) else 0.0)


def can_be_done(test: BenchTest, record: Record) -> bool:
    """Whether everything that must come first has been read, and allows the test."""
    return all(allows(need, record.readings) for need in test.needs)


def allows(need: Condition, readings: Readings) -> bool:
    """Whether the reading that a test needs first has been made, and allows it."""
    value = readings.get(need.reading or "")
    return isinstance(value, Interval) or value in need.is_


def _within_reach(test: BenchTest, record: Record, makeable: Collection[str], knowledge: KnowledgeBase) -> bool:
    """Whether what a test needs first has been read and allows it, or is `makeable` by tests that are within reach."""
    missing = [need.reading or "" for need in test.needs if not allows(need, record.readings)]
    return all(
        reading in makeable and _within_reach(knowledge.test_of[reading], record, makeable, knowledge) for reading in missing
    )


def _waits_for(other: BenchTest, test: BenchTest, record: Record) -> bool:
    """Whether a reading of `test` is all that `other` still waits for. (The state opens the way to most tests alike.)"""
    missing = {need.reading for need in other.needs if not allows(need, record.readings)}
    return bool(missing) and "state" not in missing and missing <= {kind.id for kind in _to_be_made(test, record)}


def _to_be_made(test: BenchTest, record: Record) -> list[ReadingKind]:
    """The readings of a test that were neither made nor tried."""
    return [kind for kind in test.readings if kind.id not in record.readings and kind.id not in record.unclear]
