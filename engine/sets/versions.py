"""Several versions of a set: other letters for each group, and parallel sets of equal difficulty."""

from __future__ import annotations

import itertools
import random
from collections import Counter
from collections.abc import Iterator, Sequence

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.engine.orders import latin_orders
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted

from .checking import conclusion_alone, misleading_vials, pair_tests, reachable_tests, set_rows
from .hazards import hazard_level, never_planned
from .key import Key, make_key
from .telling_apart import parted_by
from .unknowns_set import UnknownsSet, Vial

EQUALLY_HARD = 0.25  # [-] by which the numbers of two sets of equal difficulty may differ
_TRIED = 60  # sets whose key is worked out in search of one that is as hard
_POOL = 12  # substances to choose from for a place of the set
_LOOKED_AT = 30  # substances of a class that are looked at for these places
_EXCHANGES = 200  # attempts to mend pairs that are not told apart well enough
_STRICTNESS = ("students", "teacher only", "not in school")
_FEW = 6  # vials; of no more than these every order of letters can be gone through


class Version(msgspec.Struct, frozen=True):
    """The vials of one group: the labels of the set in their order, each with the substance that this group finds in it."""

    group: int
    vials: tuple[Vial, ...]


class Difficulty(msgspec.Struct, frozen=True):
    """
    How hard a set is.

    `tests` is the mean number of tests of its identification key [tests], `misleading` the number of vials on which a rule of
    thumb misleads, `undecided` the number on which even a perfect student who does not know the set reaches no right
    conclusion, `parted_at_least` the number of tests that part the weakest pair (None for a single vial). `number`
    sums them up [-]: the tests of the key, and one more for each vial that misleads and for each that stays open,
    shared out over all vials. `says` tells all of it in words.
    """

    tests: float
    misleading: int
    undecided: int
    vials: int
    parted_at_least: int | None
    number: float
    says: str


class ParallelSet(msgspec.Struct, frozen=True):
    """
    A set meant to be as hard as another: its vials, its difficulty, and which substances took the place of which.

    `as_hard` tells whether its number differs from that of the other set by no more than `EQUALLY_HARD`.
    """

    unknowns_set: UnknownsSet
    difficulty: Difficulty
    exchanged: dict[str, str]
    as_hard: bool


# --- letters for each group ---------------------------------------------------------------------------


def make_versions(unknowns_set: UnknownsSet, groups: int, seed: int) -> tuple[Version, ...]:
    """
    Other letters for every group, from one seed.

    As long as there are no more groups than vials, no label holds the same vial for two groups. Beyond that no two groups
    have the same letters throughout, until every order of them has been used.
    """
    labels = [vial.label for vial in unknowns_set.vials]
    substances = [vial.substance for vial in unknowns_set.vials]
    draw = random.Random(f"letters {seed}")
    found = []
    used: set[tuple[str, ...]] = set()
    orders = latin_orders(len(labels), draw)
    for group in range(1, groups + 1):
        order = _unused(substances, used, orders, draw)
        used.add(order)
        found.append(Version(group, tuple(map(Vial, labels, order))))
    return tuple(found)


def _unused(
    substances: Sequence[str], used: set[tuple[str, ...]], orders: Iterator[tuple[int, ...]], draw: random.Random
) -> tuple[str, ...]:
    for order in itertools.islice(orders, 2 * len(substances)):
        letters = tuple(substances[place] for place in order)
        if letters not in used:
            return letters
    if len(substances) > _FEW:  # so many orders that most have not been used
        return letters
    every = sorted(set(itertools.permutations(substances)))
    if not (left := [each for each in every if each not in used]):
        used.clear()
        left = every
    return draw.choice(left)


# --- difficulty -----------------------------------------------------------------------------------------


def difficulty(unknowns_set: UnknownsSet, knowledge: KnowledgeBase | None = None, *, key: Key | None = None) -> Difficulty:
    """
    How hard a set is, in words and as a number.

    Parameters
    ----------
    unknowns_set : UnknownsSet
        The set, with the tests that can be done
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given
    key : Key, optional
        Its identification key, where that is known already

    Notes
    -----
    The number is a convention for comparing sets, not a measurement: a test to be done counts as one, and so do a rule of thumb
    to be seen through and a conclusion to be left open, each shared out over all vials.
    """
    knowledge = knowledge or load_knowledge()
    set_rows(unknowns_set, knowledge)
    tests, _ = reachable_tests(unknowns_set.tests or tuple(knowledge.tests), knowledge)
    traits = [_Trait.of(vial.substance, tests, knowledge) for vial in unknowns_set.vials]
    pairs = [len(parted) for parted in pair_tests(unknowns_set, tests, knowledge)]
    key = key or make_key(unknowns_set, knowledge)
    misleading, undecided = sum(trait.misleads for trait in traits), sum(not trait.decided for trait in traits)
    weakest = min(pairs, default=None)
    number = key.tests + (misleading + undecided) / len(traits)
    return Difficulty(
        tests=key.tests,
        misleading=misleading,
        undecided=undecided,
        vials=len(traits),
        parted_at_least=weakest,
        number=number,
        says=_in_words(key.tests, misleading, undecided, len(traits), weakest, number),
    )


def _in_words(tests: float, misleading: int, undecided: int, vials: int, weakest: int | None, number: float) -> str:
    told = (
        f"Difficulty {number:.2f}: by the shortest key a vial takes {tests:.2f} tests on average; a rule of thumb misleads on "
        f"{misleading} of {vials}; {undecided} of {vials} cannot be concluded rightly without knowing the set."
    )
    if weakest is not None:
        told += f" The two vials most alike are told apart by {weakest} {'test' if weakest == 1 else 'tests'}."
    return told


class _Trait(msgspec.Struct, frozen=True):
    """What a substance brings to the difficulty of a set: its class, whether a rule of thumb misleads, whether it is decided."""

    class_: str
    misleads: bool
    decided: bool

    @classmethod
    def of(cls, substance: str, tests: tuple[str, ...], knowledge: KnowledgeBase) -> _Trait:
        """Kept once worked out, since parallel sets ask for the same substances again and again."""
        kept: dict[tuple[str, tuple[str, ...]], _Trait] = knowledge.__dict__.setdefault("set_traits", {})
        if (substance, tests) not in kept:
            kept[substance, tests] = cls._made(substance, tests, knowledge)
        return kept[substance, tests]

    @classmethod
    def _made(cls, substance: str, tests: tuple[str, ...], knowledge: KnowledgeBase) -> _Trait:
        alone = UnknownsSet("", (Vial("", substance),), tests)
        row = next(item for item in load_substances() if item.name == substance)
        decided = conclusion_alone(substance, tests, knowledge).right is True
        return cls(row.class_, bool(misleading_vials(alone, tests, knowledge)), decided)


# --- parallel sets ----------------------------------------------------------------------------------------


def parallel_sets(
    unknowns_set: UnknownsSet, cupboard: Sequence[str], many: int, seed: int, knowledge: KnowledgeBase | None = None
) -> tuple[ParallelSet, ...]:
    """
    Sets from a cupboard that are as hard as a given one, from one seed.

    Every vial is exchanged, where the cupboard allows it, for a substance of the same class that misleads, or does not, and
    can be concluded, or not, as that one; its hazard is no higher than the highest in the set. The pairs are told apart at
    least as well as in the given set. Of the sets found, the first that is as hard is taken, else the one that comes nearest.
    Fewer than `many` come back when the cupboard does not hold more.

    Parameters
    ----------
    unknowns_set : UnknownsSet
        The set to be matched
    cupboard : sequence of str
        Substances to choose from, by their names in the reference table
    many : int
        How many sets are wanted
    seed : int
        The same seed gives the same sets
    """
    knowledge = knowledge or load_knowledge()
    names = load_reference().names
    if unknown := [name for name in dict.fromkeys(cupboard) if name not in names]:
        raise FaultyInputError(
            [Fault("cupboard", not_accepted(name, "a substance of the reference table", names, most=0)) for name in unknown]
        )
    search = _Exchange(unknowns_set, cupboard, random.Random(f"parallel {seed}"), knowledge)
    found: list[ParallelSet] = []
    for number in range(1, many + 1):
        parallel = search.next_set(number)
        if parallel is None:
            break
        found.append(parallel)
    return tuple(found)


class _Exchange:
    """Seeded exchange of vials for others of their kind."""

    def __init__(self, unknowns_set: UnknownsSet, cupboard: Sequence[str], draw: random.Random, knowledge: KnowledgeBase) -> None:
        self.set = unknowns_set
        self.draw = draw
        self.knowledge = knowledge
        self.tests, _ = reachable_tests(unknowns_set.tests or tuple(knowledge.tests), knowledge)
        self.target = difficulty(unknowns_set, knowledge)
        reference = load_reference()
        self.rows: dict[str, ReferenceRow] = {row.name: row for row in reference.rows}
        self.substances: dict[str, Substance] = {item.name: item for item in load_substances()}
        self.pools = self._pools(cupboard)
        self.used = {self._content([vial.substance for vial in unknowns_set.vials])}
        self._parted: dict[tuple[str, str], int] = {}

    def _content(self, names: Sequence[str]) -> tuple[str, ...]:
        return tuple(sorted(names))

    def _pools(self, cupboard: Sequence[str]) -> list[list[str]]:
        """For every vial the substances that may take its place; itself where there is none."""
        ours = [self.substances[vial.substance] for vial in self.set.vials]
        level = max(hazard_level(item, self.knowledge).level for item in ours)
        strictest = max(_STRICTNESS.index(item.school_use) for item in ours)
        fit = [
            name
            for name in dict.fromkeys(cupboard)
            if name not in {item.name for item in ours}
            and hazard_level(self.substances[name], self.knowledge).level <= level
            and not never_planned(self.substances[name], self.knowledge)
            and _STRICTNESS.index(self.substances[name].school_use) <= strictest
        ]
        self.draw.shuffle(fit)
        traits = {item.name: _Trait.of(item.name, self.tests, self.knowledge) for item in ours}
        wanted = Counter(traits.values())
        pools: dict[_Trait, list[str]] = {trait: [] for trait in wanted}
        looked_at = Counter[str]()
        for name in fit:
            class_ = self.substances[name].class_
            # Working out a trait takes an identification, so no more are worked out than are of use.
            open_pools = [each for each in wanted if each.class_ == class_ and len(pools[each]) < _POOL + wanted[each]]
            if open_pools and looked_at[class_] < _LOOKED_AT:
                looked_at[class_] += 1
                pools.get(_Trait.of(name, self.tests, self.knowledge), []).append(name)
        return [pools[traits[item.name]] or [item.name] for item in ours]

    def next_set(self, number: int) -> ParallelSet | None:
        """A set not had before that is as hard, or comes nearest to it; None when there is none that is told apart as well."""
        names = self._told_apart()
        if names is None:
            return None
        nearest = self._judged(names, number)
        for _ in range(_TRIED):
            if nearest.as_hard:
                break
            other = self._with_one_exchanged(names) or self._told_apart()
            if other is None:
                break
            parallel = self._judged(other, number)
            if self._off(parallel) <= self._off(nearest):
                names, nearest = other, parallel
        self.used.add(self._content(names))
        return nearest

    def _with_one_exchanged(self, names: Sequence[str]) -> list[str] | None:
        """The same substances but for one, still told apart as well and not had before."""
        for _ in range(len(names)):
            place = self.draw.randrange(len(names))
            free = [name for name in self.pools[place] if name not in names]
            if free:
                other = [*names[:place], self.draw.choice(free), *names[place + 1 :]]
                if not self._badly_parted(other) and self._content(other) not in self.used:
                    return other
        return None

    def _off(self, parallel: ParallelSet) -> float:
        return abs(parallel.difficulty.number - self.target.number)

    def _judged(self, names: Sequence[str], number: int) -> ParallelSet:
        """The set with these substances in a new order, so that a label tells nothing of what it held in the other set."""
        order = list(names)
        self.draw.shuffle(order)
        vials = tuple(Vial(vial.label, name) for vial, name in zip(self.set.vials, order, strict=True))
        other = msgspec.structs.replace(self.set, name=f"{self.set.name}, parallel {number}", vials=vials, notes="")
        hard = difficulty(other, self.knowledge)
        exchanged = {vial.substance: name for vial, name in zip(self.set.vials, names, strict=True) if vial.substance != name}
        return ParallelSet(other, hard, exchanged, abs(hard.number - self.target.number) <= EQUALLY_HARD)

    def _told_apart(self) -> list[str] | None:
        """Substances, one from every pool and none twice, of which every two are told apart as well as in the given set."""
        names = self._drawn()
        for _ in range(_EXCHANGES):
            if names is None:
                return None
            bad = self._badly_parted(names)
            if not bad and self._content(names) not in self.used:
                return names
            place = self.draw.choice(bad) if bad else self.draw.randrange(len(names))
            free = [name for name in self.pools[place] if name not in names]
            if not free or self.draw.random() < 0.1:
                names = self._drawn()
                continue
            trials = [[*names[:place], name, *names[place + 1 :]] for name in free]
            fewest = min(len(self._badly_parted(trial)) for trial in trials)
            names = self.draw.choice([trial for trial in trials if len(self._badly_parted(trial)) == fewest])
        return None

    def _drawn(self) -> list[str] | None:
        """One substance from every pool, none twice; the vials with least choice first."""
        chosen: dict[int, str] = {}
        for place in sorted(range(len(self.pools)), key=lambda at: len(self.pools[at])):
            free = [name for name in self.pools[place] if name not in chosen.values()]
            # Where too few can take its place, the vial keeps its substance.
            chosen[place] = self.draw.choice(free) if free else self.set.vials[place].substance
        return [chosen[place] for place in range(len(self.pools))]

    def _badly_parted(self, names: Sequence[str]) -> list[int]:
        """Places of vials that some other vial is too much like."""
        least = self.target.parted_at_least or 0
        found = set()
        for (one, first), (other, second) in itertools.combinations(enumerate(names), 2):
            if self._tests_between(first, second) < least:
                found |= {one, other}
        return sorted(found)

    def _tests_between(self, first: str, second: str) -> int:
        pair = (min(first, second), max(first, second))
        if pair not in self._parted:
            self._parted[pair] = len(parted_by(self.rows[first], self.rows[second], self.tests, self.knowledge))
        return self._parted[pair]
