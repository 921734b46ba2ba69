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
from .key_drawing import DrawnLine, DrawnNode, KeyDrawing, key_as_tree, key_drawing, key_in_words
from .labelling import HazardLabel, hazard_label
from .plan import LeftOut, Plan, PlannedVial, Relaxation, Worth
from .planning import plan_set
from .preparation import Portion, Preparation, ReagentNeed, Recipe, ResidueNote, TimeNeeded, prepare
from .solving import Progress
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial
from .versions import Difficulty, ParallelSet, Version, difficulty, make_versions, parallel_sets
from .wishes import Wishes

__all__ = [
    "Amount",
    "Conclusion",
    "Cupboard",
    "CupboardItem",
    "Difficulty",
    "DrawnLine",
    "DrawnNode",
    "HazardLabel",
    "Key",
    "KeyBranch",
    "KeyDrawing",
    "KeyStep",
    "LeftOut",
    "Misleading",
    "PairCheck",
    "ParallelSet",
    "Plan",
    "PlannedVial",
    "Portion",
    "Preparation",
    "Progress",
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
    "difficulty",
    "hazard_label",
    "key_as_tree",
    "key_drawing",
    "key_in_words",
    "make_item",
    "make_key",
    "make_versions",
    "parallel_sets",
    "parse_amount",
    "parted_by",
    "parting_readings",
    "plan_set",
    "prepare",
]
