"""Versions of a quiz on paper: orders that differ, from numbers of options alone."""

from __future__ import annotations

import itertools

import pytest

from spotplate.engine.quiz.versions import PaperVersion, paper_versions

SIZES = [3, 4, 5, 6, 4, 6, 6, 3, 5, 4]


def test_every_version_holds_every_question_and_option_once() -> None:
    for version in paper_versions(SIZES, 8, 5):
        assert sorted(version.questions) == list(range(len(SIZES)))
        assert [sorted(order) for order in version.options] == [list(range(many)) for many in SIZES]


def test_the_first_version_keeps_the_order_of_the_quiz() -> None:
    (only,) = paper_versions(SIZES, 1, 5)
    assert only == PaperVersion("A", tuple(range(10)), tuple(tuple(range(many)) for many in SIZES))
    assert paper_versions(SIZES, 4, 5)[0] == only


@pytest.mark.parametrize("seed", range(20))
def test_no_place_holds_the_same_question_on_two_papers(seed: int) -> None:
    for first, second in itertools.combinations(paper_versions(SIZES, 8, seed), 2):
        assert all(ours != theirs for ours, theirs in zip(first.questions, second.questions, strict=True))


@pytest.mark.parametrize("seed", range(20))
def test_no_letter_means_the_same_option_on_two_papers(seed: int) -> None:
    for first, second in itertools.combinations(paper_versions(SIZES, 3, seed), 2):
        for ours, theirs in zip(first.options, second.options, strict=True):
            assert all(one != other for one, other in zip(ours, theirs, strict=True))


def test_the_same_seed_draws_the_same_and_another_seed_others() -> None:
    assert paper_versions(SIZES, 4, 1) == paper_versions(SIZES, 4, 1) != paper_versions(SIZES, 4, 2)


def test_more_versions_than_there_are_orders_can_be_drawn() -> None:
    assert [version.letter for version in paper_versions([3], 8, 0)] == list("ABCDEFGH")
