"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .amounts import Amount, parse_amount
from .cupboard import Cupboard, CupboardItem, make_item
from .plan import LeftOut, Plan, PlannedVial, Relaxation, Worth
from .planning import plan_set
from .solving import Progress
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial
from .wishes import Wishes

__all__ = [
    "Amount",
    "Cupboard",
    "CupboardItem",
    "LeftOut",
    "Plan",
    "PlannedVial",
    "Progress",
    "Relaxation",
    "UnknownsSet",
    "Vial",
    "Wishes",
    "Worth",
    "make_item",
    "parse_amount",
    "parted_by",
    "parting_readings",
    "plan_set",
]
