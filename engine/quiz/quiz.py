"""Putting a quiz together: which items, in which order, how hard; the same seed gives the same quiz."""

from __future__ import annotations

from collections.abc import Collection, Sequence

import msgspec

from .material import Material
from .question import Kind, Level, Question


class Wanted(msgspec.Struct, frozen=True):
    """
    What a quiz shall be like.

    `kinds` to ask of, all when empty; `level` how hard, any when None. `due` are keys of items that come first,
    in this order; `weak` keys of items to prefer after them.
    """

    number: int = 10
    seed: int = 0
    kinds: Collection[Kind] = ()
    level: Level | None = None
    due: Sequence[str] = ()
    weak: Collection[str] = ()


class Quiz(msgspec.Struct, frozen=True):
    """
    A quiz: its questions and the seed. `notes` says where a wish could not be met (too few questions of a level …).
    """

    seed: int
    questions: tuple[Question, ...]
    notes: tuple[str, ...] = ()


def make_quiz(wanted: Wanted, material: Material) -> Quiz:
    """The quiz that a seed gives; `due` items come first, then a mixture of kinds and topics."""
    raise NotImplementedError


def token(question: Question, material: Material) -> str:
    """The short name of a question, from which it can be posed again and which tells nothing of its answer."""
    raise NotImplementedError


def question_of(text: str, material: Material) -> Question:
    """
    The question that a token names.

    Raises
    ------
    FaultyInputError
        If it is no token, or one of other material (another set, other rules, another version)
    """
    raise NotImplementedError
