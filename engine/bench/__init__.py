"""At the bench: which test is worth doing next, which one parts two classes, and which were not made."""

from .next_test import Aim, NextTest, can_be_done, next_tests
from .not_made import NotMade, UnmetNeed, not_made_tests, was_made
from .parting import Frequencies, Parting, parting_of_classes, value_frequencies

__all__ = [
    "Aim",
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
