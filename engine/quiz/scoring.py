"""
Scores of a quiz: how much was right, and how well the learner knew it.

The certainty score of an answer is 1 − (sure − outcome)², where `sure` is how sure the learner was that the answer is right,
from 0 to 1, and the outcome 1 if it was and 0 if not. It is the quadratic rule of Brier [1]_, turned round so that more is
better. It is *proper*: whoever is right in 7 of 10 such answers scores best, on average, by saying 70 %, neither more nor less.

References
----------
.. [1] G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78 (1950) 1-3; his
   score of a question with two outcomes is twice the square taken here.
"""

from __future__ import annotations

from collections.abc import Iterable

import msgspec

from .practice import Answered

CERTAINTY_RULE = (
    "Certainty score: the mean of 1 − (how sure − outcome)², outcome 1 if right and 0 if wrong (Brier, 1950); it is highest when "
    "you say just how sure you are."
)
_BINS = 10  # of the calibration table, each as wide as the others


class PlainScore(msgspec.Struct, frozen=True):
    """How many answers were right; `share` [-] is None where there are none."""

    answered: int
    right: int

    @property
    def share(self) -> float | None:
        return self.right / self.answered if self.answered else None


class CertaintyScore(msgspec.Struct, frozen=True):
    """
    How well the learner knew what they knew.

    `answered` counts the answers with a stated certainty, `score` is their mean certainty score, `said` their mean certainty,
    `right` the share of them that was right, all from 0 to 1 [-].
    """

    answered: int
    score: float
    said: float
    right: float


class SaidAndRight(msgspec.Struct, frozen=True):
    """
    A row of the calibration table: of the answers said to be right with a certainty from `low` up to `high` [-], how many
    there are, their mean certainty `said` [-], and the `share` that was right [-].
    """

    low: float
    high: float
    answered: int
    said: float
    right: int

    @property
    def share(self) -> float:
        return self.right / self.answered


def certainty_points(sure: float, right: bool) -> float:
    """
    The certainty score of one answer.

    Parameters
    ----------
    sure : float
        How sure the learner was that the answer is right, 0 to 1 [-]
    right : bool
        Whether it was

    Returns
    -------
    float
        1 at best, 0 at worst [-]

    Examples
    --------
    >>> [round(certainty_points(sure, right=True), 2) for sure in (1.0, 0.5, 0.0)]
    [1.0, 0.75, 0.0]
    """
    return float(1 - (sure - right) ** 2)


def plain_score(answers: Iterable[Answered]) -> PlainScore:
    """How many answers were right; one that is defensible or not supported counts as right, too."""
    outcomes = [answer.right for answer in answers]
    return PlainScore(len(outcomes), sum(outcomes))


def certainty_score(answers: Iterable[Answered]) -> CertaintyScore | None:
    """The mean certainty score; None where no certainty was stated."""
    stated = _stated(answers)
    if not stated:
        return None
    number = len(stated)
    return CertaintyScore(
        number,
        sum(certainty_points(sure, right) for sure, right in stated) / number,
        sum(sure for sure, _ in stated) / number,
        sum(right for _, right in stated) / number,
    )


def calibration_table(answers: Iterable[Answered]) -> tuple[SaidAndRight, ...]:
    """
    How often answers were right, by how sure the learner said they were: a row for each tenth in which there are any.

    A certainty between two tenths belongs to the upper one: 60 % stands in 60-70 %, and 100 % in 90-100 %.
    """
    bins: dict[int, list[tuple[float, bool]]] = {}
    for sure, right in _stated(answers):
        place = min(int(sure * _BINS + 1e-9), _BINS - 1)  # 1e-9: a tenth that floating point puts just below itself
        bins.setdefault(place, []).append((sure, right))
    return tuple(
        SaidAndRight(
            place / _BINS,
            (place + 1) / _BINS,
            len(stated),
            sum(sure for sure, _ in stated) / len(stated),
            sum(right for _, right in stated),
        )
        for place, stated in sorted(bins.items())
    )


def _stated(answers: Iterable[Answered]) -> list[tuple[float, bool]]:
    """Certainty and outcome, of answers with a stated certainty."""
    return [(answer.sure, answer.right) for answer in answers if answer.sure is not None]
