"""The certainty score is Brier's and proper; the calibration table counts what was said."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sklearn.metrics import brier_score_loss

from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Item, Kind, Outcome
from spotplate.engine.quiz.scoring import (
    CERTAINTY_RULE,
    calibration_table,
    certainty_points,
    certainty_score,
    plain_score,
)

AT = datetime.datetime(2030, 1, 7, tzinfo=datetime.UTC)
ITEM = Item(Kind.CLASSIFY, "ionic", "ionic")
SHARES = st.floats(0, 1)


def answers(told: Sequence[tuple[float | None, bool]]) -> list[Answered]:
    return [Answered("me", AT, ITEM, Outcome.RIGHT if right else Outcome.WRONG, sure=sure) for sure, right in told]


# G. W. Brier, "Verification of forecasts expressed in terms of probability", Monthly Weather Review 78 (1950) 1-3: the score of n
# forecasts of r classes is P = (1/n) sum over classes and forecasts of (f - E)², E being 1 for the class that occurred, else 0.


def brier_1950(told: Sequence[tuple[float, bool]]) -> float:
    """P as it is printed, for the two classes “right” and “wrong”; it runs from 0 (best) to 2."""
    forecasts = [(sure, 1 - sure) for sure, _ in told]
    occurred = [(float(right), float(not right)) for _, right in told]
    return sum((f - e) ** 2 for fs, es in zip(forecasts, occurred, strict=True) for f, e in zip(fs, es, strict=True)) / len(told)


@given(st.lists(st.tuples(SHARES, st.booleans()), min_size=1, max_size=30))
def test_the_certainty_score_is_one_less_half_of_briers(told: list[tuple[float, bool]]) -> None:
    score = certainty_score(answers(told))
    assert score is not None
    assert score.score == pytest.approx(1 - brier_1950(told) / 2)


def test_the_certainty_score_agrees_with_scikit_learn() -> None:
    told = [(0.9, True), (0.8, False), (0.55, True), (1.0, True), (0.3, False), (0.7, True)]
    score = certainty_score(answers(told))
    assert score is not None
    assert score.score == pytest.approx(1 - brier_score_loss([right for _, right in told], [sure for sure, _ in told]))


def expected(sure: float, truth: float) -> float:
    """The expected score of saying `sure` where one is right with the probability `truth`."""
    return truth * certainty_points(sure, True) + (1 - truth) * certainty_points(sure, False)


@given(SHARES, SHARES)
def test_it_is_proper_since_no_certainty_pays_more_than_the_true_one(truth: float, other: float) -> None:
    assert expected(truth, truth) >= expected(other, truth) - 1e-12
    if abs(truth - other) > 1e-3:
        assert expected(truth, truth) > expected(other, truth)


@pytest.mark.parametrize("truth", [0.0, 0.2, 0.5, 0.7, 0.95, 1.0])
def test_of_all_whole_percentages_the_true_one_scores_best(truth: float) -> None:
    assert max(range(101), key=lambda percent: expected(percent / 100, truth)) == round(100 * truth)


def test_half_sure_is_worth_three_quarters_either_way() -> None:
    assert certainty_points(0.5, True) == certainty_points(0.5, False) == 0.75


def test_without_a_stated_certainty_there_is_no_certainty_score() -> None:
    assert certainty_score(answers([(None, True), (None, False)])) is None
    assert certainty_score([]) is None
    assert calibration_table(answers([(None, True)])) == ()


def test_only_answers_with_a_stated_certainty_count() -> None:
    score = certainty_score(answers([(None, False), (0.9, True), (0.7, False)]))
    assert score is not None
    assert (score.answered, score.said, score.right) == (2, pytest.approx(0.8), 0.5)
    assert score.score == pytest.approx((0.99 + 0.51) / 2)


def test_the_plain_score_counts_all_but_wrong_answers_as_right() -> None:
    score = plain_score([Answered("me", AT, ITEM, outcome) for outcome in Outcome])
    assert (score.answered, score.right, score.share) == (4, 3, 0.75)
    assert plain_score([]).share is None


def test_the_calibration_table_has_a_row_for_each_tenth_that_was_said() -> None:
    table = calibration_table(answers([(0.5, True), (0.55, False), (0.6, True), (0.99, True), (1.0, False), (None, True)]))
    assert [(row.low, row.high, row.answered, row.right) for row in table] == [
        (0.5, 0.6, 2, 1), (0.6, 0.7, 1, 1), (0.9, 1.0, 2, 1),
    ]  # fmt: skip
    assert table[0].share == 0.5
    assert table[0].said == pytest.approx(0.525)


@pytest.mark.parametrize("tenth", range(10))
def test_a_certainty_between_two_tenths_belongs_to_the_upper_one(tenth: int) -> None:
    for sure in (tenth / 10, tenth * 0.1):
        (row,) = calibration_table(answers([(sure, True)]))
        assert row.low == tenth / 10


@given(st.lists(st.tuples(SHARES, st.booleans()), min_size=1, max_size=30))
def test_every_stated_certainty_stands_in_one_row(told: list[tuple[float, bool]]) -> None:
    table = calibration_table(answers(told))
    assert sum(row.answered for row in table) == len(told)
    assert sum(row.right for row in table) == sum(right for _, right in told)
    assert all(row.low - 1e-9 <= row.said <= row.high for row in table)


def test_the_rule_is_told_in_one_line() -> None:
    assert "\n" not in CERTAINTY_RULE
    assert "(how sure − outcome)²" in CERTAINTY_RULE
