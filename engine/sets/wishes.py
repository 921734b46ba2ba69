"""What a teacher wishes of an unknowns set."""

from __future__ import annotations

import msgspec

ANY_KIND = "any"  # awkward substances of whatever kind


class Wishes(msgspec.Struct, frozen=True):
    """
    What a set must be like; names are those of the reference table and of the knowledge base.

    `vials` is the number of substances. `of_class` maps a class to the least number of vials of it; a substance with two
    defensible classes counts for its first. `tests` are those that the room can do, all of them when empty.
    `minutes` is the longest kit accepted: the time [min] to do every test of it once on one vial. `hazard` is the
    highest level accepted of a vial (kb/set_planning.yaml defines the levels). Every one of `groups` groups gets a portion
    of each substance. `awkward` maps a finer kind to the least number of vials of it, and `any` to the exact number of
    awkward vials of whatever kind. `require` and `forbid` name substances. `told_apart_by` is the number of tests of
    the kit by which any two vials must be parted. Equally good sets are chosen among by `seed`.
    """

    vials: int = 8
    of_class: dict[str, int] = {}
    tests: tuple[str, ...] = ()
    minutes: float | None = None
    hazard: int | None = None
    groups: int = 1
    awkward: dict[str, int] = {}
    require: tuple[str, ...] = ()
    forbid: tuple[str, ...] = ()
    told_apart_by: int = 2
    seed: int = 1
