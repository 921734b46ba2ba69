"""Versions of a quiz on paper: the same questions, in another order and with their options in another order."""

from __future__ import annotations

import itertools
import random
import string
from collections.abc import Sequence

import msgspec

from spotplate.engine.orders import latin_orders


class PaperVersion(msgspec.Struct, frozen=True):
    """
    One version: its letter, and what stands where.

    `questions` are the questions in the order of the paper, as places in the quiz [-]; `options` the same for the options of
    each question, in the order of the quiz: `options[3][0]` is the option that stands first at the quiz's question 3.
    """

    letter: str
    questions: tuple[int, ...]
    options: tuple[tuple[int, ...], ...]


def paper_versions(options: Sequence[int], number: int, seed: int) -> tuple[PaperVersion, ...]:
    """
    Versions whose neighbours differ; the first keeps the order of the quiz.

    Only numbers of options go in, so that no order can tell which option is right. As long as there are no more versions than
    questions, no place holds the same question twice; and as long as there are no more than a question has options, no letter
    means the same option of it twice.

    Parameters
    ----------
    options : sequence of int
        How many options each question of the quiz has [-]
    number : int
        How many versions, 1 to 26 [-]
    seed : int
        What the orders are drawn with [-]

    Returns
    -------
    tuple of PaperVersion
        As many as wished, with the letters A, B …
    """
    draw = random.Random(f"paper versions {seed}")
    questions = _orders(len(options), number, draw)
    of_options = [_orders(many, number, draw) for many in options]
    return tuple(
        PaperVersion(letter, order, tuple(orders[place] for orders in of_options))
        for place, (letter, order) in enumerate(zip(string.ascii_uppercase[:number], questions, strict=True))
    )


def _orders(many: int, number: int, draw: random.Random) -> list[tuple[int, ...]]:
    """`number` orders of `many` things, the first of them the plain one: each is told by what stands there in the first drawn."""
    drawn = list(itertools.islice(latin_orders(many, draw), number))
    place_of = {thing: place for place, thing in enumerate(drawn[0])}
    return [tuple(place_of[thing] for thing in order) for order in drawn]
