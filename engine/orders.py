"""Orders in which nothing keeps its place, for groups and paper versions that must differ."""

from __future__ import annotations

import random
from collections.abc import Iterator


def latin_orders(many: int, draw: random.Random) -> Iterator[tuple[int, ...]]:
    """Orders of `many` things in blocks; within one, no place ever holds the same thing twice (a Latin square)."""
    while True:
        things, places, shifts = ([*range(many)] for _ in range(3))
        for each in (things, places, shifts):
            draw.shuffle(each)
        for shift in shifts:
            yield tuple(things[(place + shift) % many] for place in places)
