"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .plan import LeftOut, Plan, PlannedVial, Relaxation, Worth
from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial
from .wishes import Wishes

__all__ = [
    "LeftOut",
    "Plan",
    "PlannedVial",
    "Relaxation",
    "UnknownsSet",
    "Vial",
    "Wishes",
    "Worth",
    "parted_by",
    "parting_readings",
]
