"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .checking import (
    Conclusion,
    Misleading,
    PairCheck,
    ReasonTold,
    SetCheck,
    SmallestKit,
    VialConclusion,
    check_set,
)
from .key import Key, KeyBranch, KeyStep, make_key
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial
from .versions import Difficulty, ParallelSet, Version

__all__ = [
    "Conclusion",
    "Difficulty",
    "Key",
    "KeyBranch",
    "KeyStep",
    "Misleading",
    "PairCheck",
    "ParallelSet",
    "ReasonTold",
    "SetCheck",
    "SmallestKit",
    "UnknownsSet",
    "Version",
    "Vial",
    "VialConclusion",
    "check_set",
    "make_key",
    "parted_by",
    "parting_readings",
]
