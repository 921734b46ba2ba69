"""How hard a question is: worked out from what makes it hard, told in words."""

from __future__ import annotations

from collections.abc import Mapping

from .question import Difficulty, Level

_EASY_UP_TO, _MEDIUM_UP_TO = 0.33, 0.6  # [-] a convention


def difficulty(parts: Mapping[str, float]) -> Difficulty:
    """
    The difficulty of a question.

    Parameters
    ----------
    parts : mapping
        What makes it hard, in a few words ("the runner-up is close") → how much, from 0 (not at all) to 1 (as much as can
        be) [-]; the number is their mean

    Examples
    --------
    >>> difficulty({"only 3 readings": 0.8, "the substance is awkward": 1.0, "the runner-up is close": 0.0}).level.value
    'medium'
    """
    number = sum(parts.values()) / len(parts) if parts else 0.0
    level = Level.EASY if number <= _EASY_UP_TO else Level.MEDIUM if number <= _MEDIUM_UP_TO else Level.HARD
    telling = sorted((says for says, share in parts.items() if share >= 0.5), key=lambda says: -parts[says])
    return Difficulty(number, level, tuple(telling))
