"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .amounts import Amount, parse_amount
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
from .cupboard import Cupboard, CupboardItem, make_item
from .key import Key, KeyBranch, KeyStep, make_key
from .labelling import HazardLabel, hazard_label
from .plan import LeftOut, Plan, PlannedVial, Relaxation, Worth
from .preparation import Portion, Preparation, ReagentNeed, Recipe, ResidueNote, TimeNeeded, prepare
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial
from .versions import Difficulty, ParallelSet, Version
from .wishes import Wishes

__all__ = [
    "Amount",
    "Conclusion",
    "Cupboard",
    "CupboardItem",
    "Difficulty",
    "HazardLabel",
    "Key",
    "KeyBranch",
    "KeyStep",
    "LeftOut",
    "Misleading",
    "PairCheck",
    "ParallelSet",
    "Plan",
    "PlannedVial",
    "Portion",
    "Preparation",
    "ReagentNeed",
    "ReasonTold",
    "Recipe",
    "Relaxation",
    "ResidueNote",
    "SetCheck",
    "SmallestKit",
    "TimeNeeded",
    "UnknownsSet",
    "Version",
    "Vial",
    "VialConclusion",
    "Wishes",
    "Worth",
    "check_set",
    "hazard_label",
    "make_item",
    "make_key",
    "parse_amount",
    "parted_by",
    "parting_readings",
    "prepare",
]
