"""At the bench: which test is worth doing next, which one parts two classes, and which were not made."""

from .next_test import Frequencies, NextTest, can_be_done, next_tests, value_frequencies
from .not_made import NotMade, UnmetNeed, tests_not_made, was_made
from .parting import Parting, parting_of_classes

__all__ = [
    "Frequencies",
    "NextTest",
    "NotMade",
    "Parting",
    "UnmetNeed",
    "can_be_done",
    "next_tests",
    "parting_of_classes",
    "tests_not_made",
    "value_frequencies",
    "was_made",
]
