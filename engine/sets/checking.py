"""Checking an unknowns set: what its tests can tell apart, what follows for each vial, and where rules of thumb mislead."""

from __future__ import annotations

import msgspec

from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.record import ReadValue

from .unknowns_set import UnknownsSet


class PairCheck(msgspec.Struct, frozen=True):
    """
    Two vials, by their labels, and the tests that tell them apart whatever honest readings they give.

    `parted_by` maps each such test to its readings that cannot coincide, `enough` tells whether they are as many as wished.
    """

    first: str
    second: str
    parted_by: dict[str, tuple[str, ...]]
    enough: bool


class SmallestKit(msgspec.Struct, frozen=True):
    """
    The tests with the fewest minutes [min] that part every pair as often as wished.

    Where even all tests part some pair less often, `parts_all` is false, and the kit parts each pair as often as wished or,
    failing that, as often as all tests together do. `parted_at_least` is the number of tests that part its weakest pair.
    `smaller_kits` counts the kits of no more minutes that were tried and do not do: the proof that none is smaller.
    """

    tests: tuple[str, ...]
    minutes: float
    parts_all: bool
    parted_at_least: int
    smaller_kits: int


class ReasonTold(msgspec.Struct, frozen=True):
    """A reason of the conclusion: the readings it rests on, and why they speak for the class."""

    readings: tuple[str, ...]
    because: str
    source: str


class Conclusion(msgspec.Struct, frozen=True):
    """
    What follows from a vial's likeliest readings.

    `class_` is named only when the verdict is conclusive; `right` then tells whether it is the substance's class, or another
    defensible one, and is None otherwise. `first` is the class ranked first, with its probability [-], and
    `first_defensible` tells the same of it. `reasons` speak for it, the weightiest first.
    """

    kind: VerdictKind
    class_: str | None
    right: bool | None
    first: str
    probability: float
    first_defensible: bool
    open_between: tuple[str, ...]
    verdict_says: tuple[str, ...]
    reasons: tuple[ReasonTold, ...]


class VialConclusion(msgspec.Struct, frozen=True):
    """
    What a perfect student concludes of one vial: knowing what the set is made of, and knowing nothing.

    `classes` holds the substance's class and, behind it, any other defensible one. `readings` are the likeliest ones of the
    set's tests. `likeliest_substance` is the member of the set that fits best, with its probability [-].
    """

    label: str
    substance: str
    classes: tuple[str, ...]
    subtype: str
    readings: dict[str, ReadValue]
    within_set: Conclusion
    alone: Conclusion
    likeliest_substance: str
    substance_probability: float


class Misleading(msgspec.Struct, frozen=True):
    """
    A vial on which a usual rule of thumb leads astray.

    `rule` is the id of the rule of thumb, `says` its wording, `jumps_to` the classes it jumps to, `readings` those of the
    vial that invite it; `because` tells why the rule fails, `teaches` what this very substance teaches.
    """

    label: str
    substance: str
    class_: str
    rule: str
    says: str
    jumps_to: tuple[str, ...]
    readings: tuple[str, ...]
    because: str
    teaches: str
    source: str


class SetCheck(msgspec.Struct, frozen=True):
    """
    All that was found of a set.

    `tests` are those of its tests that can be done; `cannot_be_done` maps the others to the tests that they need and that are
    not among them. `pairs` holds every pair of vials once, in the order of the vials.
    """

    unknowns_set: UnknownsSet
    tests: tuple[str, ...]
    cannot_be_done: dict[str, tuple[str, ...]]
    pairs: tuple[PairCheck, ...]
    kit: SmallestKit
    conclusions: tuple[VialConclusion, ...]
    misleading: tuple[Misleading, ...]

    @property
    def not_parted(self) -> tuple[PairCheck, ...]:
        """Pairs that no test tells apart."""
        return tuple(pair for pair in self.pairs if not pair.parted_by)

    @property
    def parted_too_little(self) -> tuple[PairCheck, ...]:
        """Pairs that are told apart, but by fewer tests than wished."""
        return tuple(pair for pair in self.pairs if pair.parted_by and not pair.enough)

    @property
    def parted_at_least(self) -> int | None:
        """Number of tests that part the weakest pair; None for a set of a single vial."""
        return min((len(pair.parted_by) for pair in self.pairs), default=None)
