"""At the bench: which test is worth doing next, and which one parts two classes."""

from .next_test import Aim, NextTest, can_be_done, next_tests
from .parting import Frequencies, Parting, parting_of_classes, value_frequencies

__all__ = [
    "Aim",
    "Frequencies",
    "NextTest",
    "Parting",
    "can_be_done",
    "next_tests",
    "parting_of_classes",
    "value_frequencies",
]
