"""Marking a guess: what it is worth, and the reply to it."""

from __future__ import annotations

from .material import Material
from .question import Marked, Outcome, Question, Reply


def mark(question: Question, place: int, material: Material) -> Marked:
    """
    Mark the choice of the option at `place`, counted from 0.

    Raises
    ------
    IndexError
        If the question has no such option
    """
    chosen = question.options[place]
    right = tuple(option.says for option in question.options if option.right)
    outcome = Outcome.RIGHT if chosen.right else Outcome.WRONG
    return Marked(outcome, chosen.says, right, Reply(chosen.why, particles=question.because, decisive=question.decisive))
