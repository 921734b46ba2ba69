"""Sets of small whole numbers as the bits of one integer, in which whole sets are compared at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator


def bits_of(numbers: Iterable[int]) -> int:
    """The integer whose bits are these numbers."""
    found = 0
    for number in numbers:
        found |= 1 << number
    return found


def numbers_in(bits: int) -> Iterator[int]:
    """The numbers of a set, least first."""
    while bits:
        lowest = bits & -bits
        yield lowest.bit_length() - 1
        bits ^= lowest
