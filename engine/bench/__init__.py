"""At the bench: which test is worth doing next, which one parts two classes, and which were not made."""

from .next_test import Frequencies, NextTest, can_be_done, next_tests, value_frequencies
from .not_made import NotMade, UnmetNeed, not_made_tests, was_made
from .parting import Parting, parting_of_classes

__all__ = [
    "Frequencies",
    "NextTest",
    "NotMade",
    "Parting",
    "UnmetNeed",
    "can_be_done",
    "next_tests",
    "not_made_tests",
    "parting_of_classes",
    "value_frequencies",
    "was_made",
]
