"""Unknowns sets: which substances the tests of a bench can tell apart, and the set that a class gets."""

from .telling_apart import parted_by, parting_readings
from .unknowns_set import UnknownsSet, Vial

__all__ = ["UnknownsSet", "Vial", "parted_by", "parting_readings"]
