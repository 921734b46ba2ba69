"""At the bench: which test is worth doing next, and which one parts two classes."""

from .next_test import Frequencies, NextTest, can_be_done, next_tests, value_frequencies
from .parting import Parting, parting_of_classes

__all__ = [
    "Frequencies",
    "NextTest",
    "Parting",
    "can_be_done",
    "next_tests",
    "parting_of_classes",
    "value_frequencies",
]
