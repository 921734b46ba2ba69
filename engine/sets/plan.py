"""A planned unknowns set, with what is proved of it; or why there is none, and what would help."""

from __future__ import annotations

import msgspec

from .unknowns_set import UnknownsSet
from .wishes import Wishes


class PlannedVial(msgspec.Struct, frozen=True):
    """A vial of the plan: its substance, the level of its hazards, and whether its finer kind breaks its class's pattern."""

    label: str
    substance: str
    class_: str
    subtype: str
    hazard: int
    statements: tuple[str, ...]
    awkward: bool
    school_use: str


class Worth(msgspec.Struct, frozen=True):
    """
    How good a set is, in the order in which it counts.

    `minutes` of the kit [min] (least first), `hazard` the sum of the vials' levels [-] (least), `spread` the number of
    different classes and of different finer kinds together [-] (most).
    """

    minutes: float
    hazard: int
    spread: int


class LeftOut(msgspec.Struct, frozen=True):
    """A substance of the cupboard that was not considered, and why."""

    substance: str
    why: str


class Relaxation(msgspec.Struct, frozen=True):
    """A smaller wish with which a set exists, in words and as wishes."""

    says: str
    wishes: Wishes


class Plan(msgspec.Struct, frozen=True):
    """
    The best set for some wishes as far as it was searched.

    `worth` is that of the set, `bound` what no set can beat; where they are equal, the set is proved to be the best.
    `useless_tests` are tests of the room that cannot be done, since the room lacks one that must come first.
    Without a set, `conflict` holds wishes that cannot be met together (each of them is needed for the conflict) and
    `relaxations` the smallest changes that help; `conflict_proved` is false where the time ran out before it was certain.
    """

    wishes: Wishes
    set: UnknownsSet | None
    vials: tuple[PlannedVial, ...]
    kit: tuple[str, ...]
    worth: Worth | None
    bound: Worth | None
    left_out: tuple[LeftOut, ...]
    useless_tests: tuple[str, ...]
    conflict: tuple[str, ...] = ()
    conflict_proved: bool = True
    relaxations: tuple[Relaxation, ...] = ()
    kits_tried: int = 0

    @property
    def proved(self) -> bool:
        """Whether no better set exists, or none at all."""
        return self.worth == self.bound if self.set else self.conflict_proved
