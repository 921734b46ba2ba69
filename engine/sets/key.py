"""The identification key of an unknowns set: which test to do first, and where each reading leads."""

from __future__ import annotations

import msgspec


class KeyBranch(msgspec.Struct, frozen=True):
    """
    One answer of a step: the reading in words, the vials that may give it, and where it leads.

    Either `goes_to` is the number of the next step, or the key ends here with these vials: one, or several that no
    further test tells apart.
    """

    reads: str
    vials: tuple[str, ...]
    goes_to: int | None = None


class KeyStep(msgspec.Struct, frozen=True):
    """
    One numbered step: a reading of a test. `new_test` is false when the test was done before on this way.

    `came_from` is the number of the step that leads here, None for the first.
    """

    number: int
    test: str
    reading: str
    new_test: bool
    came_from: int | None
    branches: tuple[KeyBranch, ...]


class Key(msgspec.Struct, frozen=True):
    """
    An identification key for the vials of one set.

    Parameters of its length, every vial being as likely as another, and every honest reading of a vial as another:
    `tests` is the mean number of tests until the key ends [tests], `minutes` the time that they take on average [min],
    `left_over` the mean number of vials besides the right one that are left where it ends [vials], `most_tests` the number
    of tests on the longest way. `bound` is the least mean number of tests that information theory allows [tests];
    `outcomes` is the largest number of different outcomes of one test, on which it rests. `proved` tells whether no key of
    these tests is shorter on average; when the search was given up, it is the best one found, and
    `at_least` is the mean number of tests that no key can go below [tests].
    """

    steps: tuple[KeyStep, ...]
    tests: float
    minutes: float
    left_over: float
    most_tests: int
    bound: float
    outcomes: int
    information: float
    proved: bool
    at_least: float
