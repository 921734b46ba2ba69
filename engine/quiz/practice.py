"""Spaced practice: what an answer says of an item, when it is due again, and what is weak."""

from __future__ import annotations

import datetime

import msgspec

from .question import Item, Outcome


class Answered(msgspec.Struct, frozen=True):
    """
    An answer as it is kept: who gave it, when (UTC), to which item, and what it was worth.

    `mix_up` is the one that the guess showed, or empty; `sure` how sure the learner was, from 0 to 1 [-], None where that was
    not told; `difficulty` that of the question, from 0 to 1 [-].
    """

    learner: str
    at: datetime.datetime
    item: Item
    outcome: Outcome
    mix_up: str = ""
    sure: float | None = None
    difficulty: float = 0.0
