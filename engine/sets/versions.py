"""Several versions of a set: other letters for each group, and parallel sets of equal difficulty."""

from __future__ import annotations

import msgspec

from .unknowns_set import UnknownsSet, Vial


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
    """A set as hard as another: its vials, its difficulty, and which substances took the place of which."""

    unknowns_set: UnknownsSet
    difficulty: Difficulty
    exchanged: dict[str, str]
