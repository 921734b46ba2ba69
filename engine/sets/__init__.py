"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .amounts import Amount, parse_amount
from .cupboard import Cupboard, CupboardItem, make_item
from .labelling import HazardLabel, hazard_label
from .preparation import Portion, Preparation, ReagentNeed, Recipe, ResidueNote, TimeNeeded, prepare, tests_that_can_be_done
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial

__all__ = [
    "Amount",
    "Cupboard",
    "CupboardItem",
    "HazardLabel",
    "Portion",
    "Preparation",
    "ReagentNeed",
    "Recipe",
    "ResidueNote",
    "TimeNeeded",
    "UnknownsSet",
    "Vial",
    "hazard_label",
    "make_item",
    "parse_amount",
    "parted_by",
    "parting_readings",
    "prepare",
    "tests_that_can_be_done",
]
