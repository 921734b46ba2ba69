"""An unknowns set: the vials prepared for a class, with its key."""

from __future__ import annotations

import msgspec


class Vial(msgspec.Struct, frozen=True):
    """A labelled portion of an unknown: its letter, and the name of its substance in the reference table."""

    label: str
    substance: str


class UnknownsSet(msgspec.Struct, frozen=True):
    """
    The vials of a set, the tests that the room can do with it, and how it is told.

    `parted_at_least` is the number of tests by which any two vials are told apart (1 to 3).
    """

    name: str
    vials: tuple[Vial, ...]
    tests: tuple[str, ...]
    parted_at_least: int = 2
    notes: str = ""
