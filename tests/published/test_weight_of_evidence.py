"""
I. J. Good, Probability and the Weighing of Evidence (1950): weight of evidence and odds.

The weight of evidence is the logarithm of the likelihood ratio; ten times its base-10 logarithm counts decibans. It adds to
the logarithm of the prior odds. In Good's round figures 3 decibans are odds of 2, 10 of 10, 20 of 100, and one deciban is 5/4.
"""

from __future__ import annotations

import math

import pytest

from spotplate.engine import Identification, identify, make_record
from spotplate.kb import KnowledgeBase, load_knowledge, with_rules

KNOWLEDGE = load_knowledge()
CALIBRATION = KNOWLEDGE.calibration.constant
WORDS = {str(word): decibans for word, decibans in KNOWLEDGE.verdict.words.items()}


# ---- the four words


@pytest.mark.parametrize(("word", "likelihood_ratio"), [("hint", 2), ("supporting", 4), ("strong", 10), ("decisive", 100)])
def test_word_is_its_likelihood_ratio_in_decibans(word: str, likelihood_ratio: float) -> None:
    """Rounded to whole decibans: a ratio of 2 is 3.01, of 4 is 6.02."""
    assert WORDS[word] == round(10 * math.log10(likelihood_ratio))


def test_there_are_no_other_words() -> None:
    assert set(WORDS) == {"hint", "supporting", "strong", "decisive"}


# ---- odds, on rules made for the purpose

LUSTRE, SMELL, MAGNET, FOAM = ({"lustre": "dull"}, {"smell": "no smell"}, {"magnet": "not attracted"}, {"foam": "no foam"})
RULES = """
- id: lustre-for-ionic
  because: A rule of this test.
  when: {all: [{reading: lustre, is: [dull]}]}
  weighs: {cause: surface and deformation, for: {ionic: strong}}
  source: {key: good-1950}
- id: smell-for-ionic
  because: A rule of this test.
  when: {all: [{reading: smell, is: [no smell]}]}
  weighs: {cause: escape of molecules, for: {ionic: supporting}, against: {polar molecular: hint}}
  source: {key: good-1950}
- id: magnet-for-ionic-again
  because: A rule of this test, of the same cause as the first.
  when: {all: [{reading: magnet, is: [not attracted]}]}
  weighs: {cause: surface and deformation, for: {ionic: hint}}
  source: {key: good-1950}
- id: foam-against-ionic
  because: A rule of this test, of the same cause as the first.
  when: {all: [{reading: foam, is: [no foam]}]}
  weighs: {cause: surface and deformation, against: {ionic: decisive}}
  source: {key: good-1950}
"""


@pytest.fixture(scope="module")
def knowledge() -> KnowledgeBase:
    """The shipped knowledge base with four plain rules in place of its own."""
    return with_rules(KNOWLEDGE, RULES, "rules of this test", replace=True)


def odds(result: Identification, one: str, other: str) -> float:
    probability = {item.class_: item.probability for item in result.ranking}
    return probability[one] / probability[other]


@pytest.mark.parametrize(
    ("readings", "decibans"),
    [
        ({}, 0),
        (LUSTRE, 10),
        (SMELL, 6),
        (MAGNET, 3),
        (FOAM, -20),
        (LUSTRE | SMELL, 16),  # weights of different causes add
        (SMELL | MAGNET, 9),
        (LUSTRE | MAGNET, 10),  # of one cause the strongest counts, once
        (LUSTRE | FOAM, -10),  # but one for and one against
        (LUSTRE | SMELL | MAGNET | FOAM, -4),
    ],
)
def test_odds_against_an_untouched_class_are_the_antilogarithm_of_the_weight(
    knowledge: KnowledgeBase, readings: dict[str, str], decibans: float
) -> None:
    result = identify(make_record(readings, knowledge), knowledge, advise=False)
    assert {item.class_: item.decibans for item in result.ranking}["ionic"] == decibans
    assert odds(result, "ionic", "covalent network") == pytest.approx(10 ** (CALIBRATION * decibans / 10))


def test_weight_against_one_class_counts_between_it_and_every_other(knowledge: KnowledgeBase) -> None:
    """6 decibans for one and 3 against the other make 9 between them: odds of 8 in round figures."""
    result = identify(make_record(SMELL, knowledge), knowledge, advise=False)
    assert odds(result, "ionic", "polar molecular") == pytest.approx(10 ** (CALIBRATION * 0.9))
    if CALIBRATION == 1:
        assert odds(result, "ionic", "polar molecular") == pytest.approx(8, rel=0.01)


@pytest.mark.parametrize(("decibans", "ratio"), [(1, 5 / 4), (3, 2), (10, 10), (20, 100)])
def test_round_figures_of_the_book_hold(decibans: float, ratio: float) -> None:
    assert 10 ** (decibans / 10) == pytest.approx(ratio, rel=0.01)


@pytest.mark.parametrize("prior_of_ionic", [0.1, 0.5, 0.9])
def test_posterior_odds_are_prior_odds_times_likelihood_ratio(knowledge: KnowledgeBase, prior_of_ionic: float) -> None:
    """Bayes' theorem in odds form, Good (1950), section 6.1."""
    others = [name for name in knowledge.classes if name != "ionic"]
    prior = {"ionic": prior_of_ionic} | dict.fromkeys(others, (1 - prior_of_ionic) / len(others))
    result = identify(make_record(LUSTRE, knowledge), knowledge, prior=prior, advise=False)
    ratio = 10**CALIBRATION
    expected = prior_of_ionic * ratio / (prior_of_ionic * ratio + 1 - prior_of_ionic)
    assert {item.class_: item.probability for item in result.ranking}["ionic"] == pytest.approx(expected)


def test_a_class_that_cannot_be_in_the_set_stays_impossible(knowledge: KnowledgeBase) -> None:
    prior = {name: 0.25 for name in knowledge.classes if name != "ionic"}
    result = identify(make_record(LUSTRE, knowledge), knowledge, prior=prior, advise=False)
    assert {item.class_: item.probability for item in result.ranking}["ionic"] == 0


# ---- and on the shipped rules


@pytest.mark.parametrize(
    "readings",
    [
        {},
        {"lustre": "metallic", "deformation": "brittle"},
        {"dry conductivity": "no glow", "in water": "dissolves", "solution conductivity": "bright glow"},
    ],
)
def test_shipped_rules_follow_the_same_arithmetic(readings: dict[str, str]) -> None:
    ranking = identify(make_record(readings), advise=False).ranking
    assert sum(item.probability for item in ranking) == pytest.approx(1)
    for first in ranking:
        assert first.decibans == pytest.approx(sum(first.by_cause().values()))
        for second in ranking:
            ratio = 10 ** (CALIBRATION * (first.decibans - second.decibans) / 10)
            assert first.probability / second.probability == pytest.approx(ratio)
