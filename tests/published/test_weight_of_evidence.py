"""I. J. Good, Probability and the Weighing of Evidence (1950): ten times the base-10 logarithm of a likelihood ratio."""

from __future__ import annotations

import math

import pytest

from spotplate.engine import identify, make_record
from spotplate.kb import load_knowledge


@pytest.mark.parametrize(("word", "likelihood_ratio"), [("hint", 2), ("supporting", 4), ("strong", 10), ("decisive", 100)])
def test_word_is_its_likelihood_ratio_in_decibans(word: str, likelihood_ratio: float) -> None:
    """Rounded to whole decibans: a ratio of 2 is 3.01, of 4 is 6.02."""
    decibans = {str(name): value for name, value in load_knowledge().verdict.words.items()}
    assert decibans[word] == round(10 * math.log10(likelihood_ratio))


def test_odds_between_two_classes_are_the_difference_of_their_weights() -> None:
    ranking = identify(make_record({"lustre": "metallic", "deformation": "brittle"})).ranking
    for first in ranking:
        for second in ranking:
            odds = 10 ** ((first.decibans - second.decibans) / 10)
            assert first.probability / second.probability == pytest.approx(odds)


def test_prior_odds_multiply() -> None:
    record = make_record({"lustre": "glassy"})
    even = {item.class_: item.probability for item in identify(record).ranking}
    prior = {"ionic": 0.5, "metallic": 0.125, "polar molecular": 0.125, "nonpolar molecular": 0.125, "covalent network": 0.125}
    found = {item.class_: item.probability for item in identify(record, prior=prior).ranking}
    before = even["ionic"] / even["covalent network"]
    assert found["ionic"] / found["covalent network"] == pytest.approx(4 * before)
