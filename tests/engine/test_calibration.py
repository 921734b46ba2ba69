"""Calibration: the shipped constant is the fitted one, and the figures of its report are what they are said to be.

Outside references: scikit-learn's `brier_score_loss`, `log_loss` and `calibration_curve`; the small cases are worked out by hand.
"""

from __future__ import annotations

import math

import msgspec
import numpy as np
import pytest
from sklearn.calibration import calibration_curve
from sklearn.metrics import brier_score_loss, log_loss

from spotplate.datasets import load_substances
from spotplate.engine import identify, make_record
from spotplate.engine.reasoning import chain, rank
from spotplate.engine.sampled_records import weighed_records
from spotplate.engine.second_opinion.calibration import PARTIAL_RECORDS, SEED, fit_calibration, reliability, rules_checksum
from spotplate.kb import Calibration, KnowledgeBase, Reliability, load_knowledge, with_rules

KNOWLEDGE = load_knowledge()
SUBSTANCES = load_substances()
SHIPPED = KNOWLEDGE.calibration
PARTS = ("full", "partial", "together")
RULE = """
- id: smells-of-a-test
  because: Since.
  when: {all: [{reading: smell, is: [smell]}]}
  weighs: {cause: charge carriers, for: {ionic: hint}}
  source: {key: judgement}
"""


def measured(probability: list[float], right: list[float], weight: list[float] | None = None) -> Reliability:
    weights = weight or [1.0] * len(probability)
    return reliability(np.array(probability), np.array(right), np.array(weights))


# --- the shipped constant --------------------------------------------------------------------------


@pytest.fixture(scope="module")
def fitted() -> Calibration:
    return fit_calibration(SUBSTANCES, KNOWLEDGE)


def test_the_shipped_calibration_is_what_fitting_gives(fitted: Calibration) -> None:
    assert msgspec.to_builtins(fitted) == msgspec.to_builtins(SHIPPED)


def test_the_shipped_calibration_is_fresh() -> None:
    assert SHIPPED.made_from == rules_checksum(KNOWLEDGE)
    assert SHIPPED.substances == len(SUBSTANCES)
    assert SHIPPED.seed == SEED


def test_a_changed_rule_word_or_expected_reading_makes_it_stale() -> None:
    fresh = rules_checksum(KNOWLEDGE)
    more = with_rules(KNOWLEDGE, RULE, "teacher.yaml", replace=False)
    words = msgspec.structs.replace(KNOWLEDGE.verdict, words={**KNOWLEDGE.verdict.words, "hint": 4})
    fewer = msgspec.structs.replace(KNOWLEDGE, expected=KNOWLEDGE.expected[1:])
    for changed in (more, msgspec.structs.replace(KNOWLEDGE, verdict=words), fewer):
        assert rules_checksum(changed) != fresh


def test_what_probabilities_do_not_rest_on_leaves_it_fresh() -> None:
    constant = msgspec.structs.replace(SHIPPED, constant=2.0)
    assert rules_checksum(msgspec.structs.replace(KNOWLEDGE, calibration=constant)) == rules_checksum(KNOWLEDGE)


@pytest.fixture(scope="module")
def weighed() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Decibans of each class, defensible classes and weight of each record that the shipped constant was fitted on."""
    decibans, right, weight = [], [], []
    for item in weighed_records(SUBSTANCES, KNOWLEDGE, partial=PARTIAL_RECORDS, seed=SEED):
        ranking = {each.class_: each.decibans for each in rank(chain(item.record.readings, KNOWLEDGE).firings, KNOWLEDGE)}
        decibans.append([ranking[name] for name in KNOWLEDGE.classes])
        right.append([name in SUBSTANCES[item.substance].defensible_classes() for name in KNOWLEDGE.classes])
        weight.append(item.weight)
    return np.array(decibans), np.array(right, dtype=float), np.array(weight)


def brier_of(constant: float, weighed: tuple[np.ndarray, np.ndarray, np.ndarray]) -> float:
    """By scikit-learn, of the first class at a constant: odds = 10^(constant × decibans / 10)."""
    decibans, right, weight = weighed
    odds = 10 ** (constant / 10 * (decibans - decibans.max(axis=1)[:, None]))
    first = decibans.argmax(axis=1)
    rows = np.arange(len(first))
    return float(brier_score_loss(right[rows, first], odds[rows, first] / odds.sum(axis=1), sample_weight=weight))


def test_no_other_constant_has_a_lower_brier_score(weighed: tuple[np.ndarray, np.ndarray, np.ndarray]) -> None:
    tried = [round(0.1 + step / 100, 2) for step in range(291)]
    best = min(tried, key=lambda constant: brier_of(constant, weighed))
    assert abs(best - SHIPPED.constant) <= 0.011
    assert brier_of(best, weighed) < brier_of(0.6, weighed)
    assert brier_of(best, weighed) < brier_of(1.6, weighed)


def test_the_brier_score_on_substances_left_out_is_hardly_worse_than_on_those_fitted(
    weighed: tuple[np.ndarray, np.ndarray, np.ndarray],
) -> None:
    """One constant fitted on 388 substances cannot learn the 389th by heart."""
    inside = brier_of(SHIPPED.constant, weighed)
    assert inside - 1e-4 <= SHIPPED.together.brier <= inside + 1e-3
    low, high = SHIPPED.without_one
    assert low <= SHIPPED.constant <= high
    assert high - low < 0.1


def test_the_constant_scales_the_decibans_of_every_ranking() -> None:
    """Odds of the first class against each other one, by the formula of the file's own head."""
    record = make_record({"dry conductivity": "no glow", "in water": "dissolves", "solution conductivity": "bright glow"})
    for constant in (SHIPPED.constant, 0.5, 2.0):
        knowledge = msgspec.structs.replace(KNOWLEDGE, calibration=msgspec.structs.replace(SHIPPED, constant=constant))
        first, *others = identify(record, knowledge, advise=False).ranking
        for other in others:
            odds = 10 ** (constant * (first.decibans - other.decibans) / 10)
            assert first.probability / other.probability == pytest.approx(odds)


# --- the figures, by hand --------------------------------------------------------------------------


def test_four_records_by_hand() -> None:
    """
    Brier: (0.1² + 0.9² + 0.4² + 0.35²) / 4 = (0.01 + 0.81 + 0.16 + 0.1225) / 4 = 0.275625.
    Calibration error: bin to 1.0: 2/4 · |0.9 − 0.5| = 0.2; to 0.7: 1/4 · |0.6 − 1| = 0.1; to 0.4: 1/4 · 0.35 = 0.0875.
    Log loss: −(ln 0.9 + ln 0.1 + ln 0.6 + ln 0.65) / 4 = (0.1054 + 2.3026 + 0.5108 + 0.4308) / 4 = 0.8374.
    """
    found = measured([0.9, 0.9, 0.6, 0.35], [1, 0, 1, 0])
    assert found.records == 4
    assert found.right == 0.5
    assert found.brier == pytest.approx(0.275625, abs=5e-5)
    assert found.calibration_error == pytest.approx(0.3875, abs=5e-5)
    assert found.log_loss == pytest.approx(0.8374, abs=1e-4)
    assert [(item.upto, item.weight, item.probability, item.right) for item in found.bins] == [
        (0.4, 0.25, 0.35, 0.0),
        (0.7, 0.25, 0.6, 1.0),
        (1.0, 0.5, 0.9, 0.5),
    ]


def test_weights_count_as_so_many_records_by_hand() -> None:
    """Three parts right at 0.8 and one part wrong: right 0.75, Brier (3 · 0.04 + 0.64) / 4 = 0.19, error |0.8 − 0.75| = 0.05."""
    found = measured([0.8, 0.8], [1, 0], [3, 1])
    assert (found.right, found.brier, found.calibration_error) == (0.75, 0.19, 0.05)
    repeated = measured([0.8] * 4, [1, 1, 1, 0])
    assert repeated.bins == found.bins
    assert repeated.brier == found.brier


def test_only_the_share_of_the_weight_matters() -> None:
    small, large = (measured([0.8, 0.45], [1, 0], weight) for weight in ([0.001, 0.003], [1000.0, 3000.0]))
    assert small == large


def test_certain_and_right_is_a_perfect_score_and_belongs_to_the_last_bin() -> None:
    found = measured([1.0, 1.0], [1, 1])
    assert (found.brier, found.calibration_error) == (0, 0)
    assert found.log_loss == pytest.approx(0, abs=1e-4)
    assert [item.upto for item in found.bins] == [1.0]


def test_certain_and_wrong_is_the_worst_brier_score_and_a_finite_log_loss() -> None:
    found = measured([1.0], [0])
    assert (found.brier, found.calibration_error, found.right) == (1, 1, 0)
    assert math.isfinite(found.log_loss)
    assert found.log_loss > 20


def test_overconfidence_costs_and_honest_doubt_does_not() -> None:
    """Of ten records eight are right: saying 0.8 is calibrated, saying 0.99 is not."""
    right = [1.0] * 8 + [0.0] * 2
    honest, proud = measured([0.8] * 10, right), measured([0.99] * 10, right)
    assert honest.calibration_error == 0
    assert proud.calibration_error == pytest.approx(0.19)
    assert honest.brier < proud.brier
    assert honest.log_loss < proud.log_loss


# --- the figures, beside scikit-learn --------------------------------------------------------------


@pytest.mark.parametrize("seed", range(8))
def test_scores_are_scikit_learns(seed: int) -> None:
    draw = np.random.default_rng(seed)
    probability = draw.uniform(0.01, 0.99, 400)
    right = (draw.uniform(size=400) < probability**2).astype(float)
    weight = draw.uniform(0.1, 3, 400)
    found = reliability(probability, right, weight)
    assert found.brier == pytest.approx(brier_score_loss(right, probability, sample_weight=weight), abs=5e-5)
    assert found.log_loss == pytest.approx(log_loss(right, probability, sample_weight=weight), abs=5e-5)
    assert found.right == pytest.approx(np.average(right, weights=weight), abs=5e-5)


@pytest.mark.parametrize("seed", range(8))
def test_bins_are_scikit_learns_reliability_curve(seed: int) -> None:
    """`calibration_curve` knows no weights, so all are alike; no probability falls on the end of a bin, where the two differ."""
    draw = np.random.default_rng(seed)
    probability = draw.beta(2, 1, 300)
    right = (draw.uniform(size=300) < probability).astype(float)
    found = reliability(probability, right, np.ones(300))
    shares, means = calibration_curve(right, probability, n_bins=10, strategy="uniform")
    assert [item.right for item in found.bins] == pytest.approx(list(shares), abs=5e-5)
    assert [item.probability for item in found.bins] == pytest.approx(list(means), abs=5e-5)
    counts = np.histogram(probability, bins=10, range=(0, 1))[0]
    assert [item.weight for item in found.bins] == pytest.approx(list(counts[counts > 0] / 300), abs=5e-5)
    error = sum(count / 300 * abs(share - mean) for count, share, mean in zip(counts[counts > 0], shares, means, strict=True))
    assert found.calibration_error == pytest.approx(error, abs=5e-5)


# --- the shipped report holds together -------------------------------------------------------------


@pytest.mark.parametrize("part", PARTS)
def test_bins_share_out_the_whole_weight_and_explain_the_error(part: str) -> None:
    """Each printed figure is rounded to four places, so sums over up to ten bins are good to some 1e-3."""
    report: Reliability = getattr(SHIPPED, part)
    assert sum(item.weight for item in report.bins) == pytest.approx(1, abs=1e-3)
    assert sum(item.weight * item.right for item in report.bins) == pytest.approx(report.right, abs=1e-3)
    error = sum(item.weight * abs(item.probability - item.right) for item in report.bins)
    assert error == pytest.approx(report.calibration_error, abs=1e-3)
    for item in report.bins:
        assert item.upto - 0.1 - 1e-9 <= item.probability <= item.upto + 1e-9
        assert 0 <= item.right <= 1
        assert item.weight > 0
    assert [item.upto for item in report.bins] == sorted({item.upto for item in report.bins})


@pytest.mark.parametrize("part", PARTS)
def test_brier_score_is_no_less_than_what_its_bins_leave(part: str) -> None:
    """Within a bin nothing parts right from wrong better than its share right: the refinement term of Murphy (1973)."""
    report: Reliability = getattr(SHIPPED, part)
    assert 0 <= report.calibration_error <= 1
    assert report.calibration_error**2 <= report.brier <= 1  # by Jensen's inequality
    assert report.log_loss >= report.brier  # −ln p ≥ (1 − p)² for every p


def test_full_and_partial_records_weigh_the_same_and_together_make_the_whole() -> None:
    full, partial, together = (getattr(SHIPPED, part) for part in PARTS)
    assert together.records == full.records + partial.records
    assert partial.records == PARTIAL_RECORDS * len(SUBSTANCES)
    assert full.records >= len(SUBSTANCES)
    for figure in ("right", "brier", "log_loss"):
        mean = (getattr(full, figure) + getattr(partial, figure)) / 2
        assert getattr(together, figure) == pytest.approx(mean, abs=1.5e-4)


def test_no_class_is_ever_less_probable_than_a_fifth_when_it_is_first() -> None:
    for part in PARTS:
        assert all(item.upto > 0.2 for item in getattr(SHIPPED, part).bins)


def test_full_records_hold_better_than_partial_ones() -> None:
    assert SHIPPED.full.right > SHIPPED.partial.right
    assert SHIPPED.full.brier < SHIPPED.partial.brier
    assert SHIPPED.full.log_loss < SHIPPED.partial.log_loss


def test_a_knowledge_base_keeps_its_calibration_when_a_teacher_adds_a_rule() -> None:
    changed: KnowledgeBase = with_rules(KNOWLEDGE, RULE, "teacher.yaml", replace=False)
    assert changed.calibration == SHIPPED
    assert changed.calibration.made_from != rules_checksum(changed)
