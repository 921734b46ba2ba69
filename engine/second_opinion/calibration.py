"""Calibration: the one constant that makes probabilities of the ranking hold, fitted on the reference table.

A probability holds when, of all records whose first class gets about 0.8, about eight in ten are right. The constant
scales the decibans; it is the one with the least Brier score of the first class over full and partial records.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.reasoning import chain, rank
from spotplate.engine.reference_readings import readings_checksum
from spotplate.engine.sampled_records import WeighedRecord, weighed_records
from spotplate.kb import Calibration, KnowledgeBase, Reliability, ReliabilityBin

if TYPE_CHECKING:
    import numpy as np

SEED = 30
PARTIAL_RECORDS = 20
BINS = 10
_SEARCHED = (0.1, 3.0)


def fit_calibration(
    substances: tuple[Substance, ...],
    knowledge: KnowledgeBase,
    *,
    seed: int = SEED,
    partial: int = PARTIAL_RECORDS,
    progress: Callable[[], None] = lambda: None,
) -> Calibration:
    """
    The constant, and how well probabilities hold on each substance with the constant fitted on all others.

    Parameters
    ----------
    seed : int
        Of the drawing of partial records
    partial : int
        Partial records drawn of each substance
    progress : callable
        Called once for each substance
    """
    import numpy as np

    records = weighed_records(substances, knowledge, partial=partial, seed=seed)
    decibans, right = _table(records, substances, knowledge)
    weight = np.array([item.weight for item in records])
    group = np.array([item.substance for item in records])
    full = np.array([item.full for item in records])
    constant = round(_fitted(decibans, right, weight), 2)
    probability, hit = np.empty(len(records)), np.empty(len(records))
    constants = []
    for place in range(len(substances)):
        own = group == place
        constants.append(_fitted(decibans[~own], right[~own], weight[~own]))
        probability[own], hit[own] = _first(decibans[own], right[own], constants[-1])
        progress()
    parts = {"full": full, "partial": ~full, "together": full | ~full}
    return Calibration(
        constant=constant,
        seed=seed,
        substances=len(substances),
        made_from=rules_checksum(knowledge),
        without_one=(round(min(constants), 3), round(max(constants), 3)),
        **{name: reliability(probability[part], hit[part], weight[part]) for name, part in parts.items()},
    )


def rules_checksum(knowledge: KnowledgeBase) -> str:
    """Checksum of what the probabilities rest on: rules, words, and the expected readings of the table."""
    rules = [msgspec.structs.replace(rule, place=None) for rule in knowledge.rules]
    digest = hashlib.sha256(msgspec.json.encode((rules, knowledge.verdict.words)))
    digest.update(readings_checksum(knowledge).encode())
    return digest.hexdigest()[:16]


def reliability(probability: np.ndarray, right: np.ndarray, weight: np.ndarray) -> Reliability:
    """
    How well probabilities of the first class hold.

    Parameters
    ----------
    probability : numpy.ndarray
        Probability of the first class of each record, 0 to 1 [-]
    right : numpy.ndarray
        Whether that class is defensible, 0 or 1 [-]
    weight : numpy.ndarray
        Weight of each record [-]

    Returns
    -------
    Reliability
        The Brier score is the weighed mean of (probability − right)²; the expected calibration error is the sum, over
        ten bins of equal width, of the bin's share of the weight times the distance between its mean probability and
        its share right; the log loss is the weighed mean of −ln of the probability given to what came true.

    References
    ----------
    .. [1] G. W. Brier, Verification of forecasts expressed in terms of probability, Monthly Weather Review 78 (1950) 1-3.
    .. [2] M. P. Naeini, G. F. Cooper, M. Hauskrecht, Obtaining well calibrated probabilities using Bayesian binning,
       Proceedings of the AAAI Conference on Artificial Intelligence (2015) 2901-2907.
    """
    import numpy as np

    share = weight / weight.sum()
    place = np.minimum((probability * BINS).astype(int), BINS - 1)
    bins = []
    error = 0.0
    for number in range(BINS):
        inside = place == number
        whole = share[inside].sum()
        if whole == 0:
            continue
        mean, hits = (float((share[inside] * values[inside]).sum() / whole) for values in (probability, right))
        error += float(whole) * abs(mean - hits)
        bins.append(ReliabilityBin((number + 1) / BINS, round(float(whole), 4), round(mean, 4), round(hits, 4)))
    given = np.clip(np.where(right > 0, probability, 1 - probability), 1e-12, None)
    return Reliability(
        records=len(probability),
        right=round(float((share * right).sum()), 4),
        brier=round(float((share * (probability - right) ** 2).sum()), 4),
        calibration_error=round(error, 4),
        log_loss=round(float(-(share * np.log(given)).sum()), 4),
        bins=tuple(bins),
    )


def _table(
    records: list[WeighedRecord], substances: tuple[Substance, ...], knowledge: KnowledgeBase
) -> tuple[np.ndarray, np.ndarray]:
    """Decibans of every class on every record, and whether the class is defensible, both [n_records, n_classes]."""
    import numpy as np

    decibans, right = [], []
    for item in records:
        found = {ranked.class_: ranked.decibans for ranked in rank(chain(item.record.readings, knowledge).firings, knowledge)}
        defensible = substances[item.substance].defensible_classes()
        decibans.append([found[name] for name in knowledge.classes])
        right.append([name in defensible for name in knowledge.classes])
    return np.array(decibans), np.array(right, dtype=float)


def _first(decibans: np.ndarray, right: np.ndarray, constant: float) -> tuple[np.ndarray, np.ndarray]:
    """Probability of the first class on each record, and whether it is right."""
    import numpy as np

    odds = 10 ** (constant / 10 * (decibans - decibans.max(axis=1, keepdims=True)))
    first = decibans.argmax(axis=1)
    rows = np.arange(len(first))
    return odds[rows, first] / odds.sum(axis=1), right[rows, first]


def _fitted(decibans: np.ndarray, right: np.ndarray, weight: np.ndarray) -> float:
    """The constant with the least Brier score of the first class."""
    from scipy.optimize import minimize_scalar

    def brier(constant: float) -> float:
        probability, hit = _first(decibans, right, constant)
        return float((weight * (probability - hit) ** 2).sum())

    found: Any = minimize_scalar(brier, bounds=_SEARCHED, method="bounded", options={"xatol": 1e-4})
    return float(found.x)
