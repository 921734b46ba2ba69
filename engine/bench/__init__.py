"""At the bench: which test is worth doing next."""

from .next_test import Frequencies, NextTest, can_be_done, next_tests, value_frequencies

__all__ = ["Frequencies", "NextTest", "can_be_done", "next_tests", "value_frequencies"]
