"""How well every reference substance resembles a record: one probability model behind candidates and misread readings.

The unknown is a substance of the reference table, or one outside it that resembles one of the table (it differs in a
reading now and then). It shows one of its honest values in each reading, unless the reading is misread. So the
readings are independent *given the substance*, which the readings of one class are not.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from spotplate.engine.record import ReadValue, Record
from spotplate.engine.reference_readings import Number, ReferenceReadings
from spotplate.kb import Fault, FaultyInputError, Interval, KnowledgeBase, NumberFit, not_accepted

# How well a reading fits each row of the table, from 0 to 1 [-].
Fits = Sequence[float]


class Resemblance(msgspec.Struct, frozen=True):
    """
    Probabilities after a record [-].

    `substances` holds one for each row of the reference table, `others` one for "outside the table, and like
    this row"; together they sum to 1. `misread` tells how probable it is that each reading was misread.
    """

    substances: tuple[float, ...]
    others: tuple[float, ...]
    misread: dict[str, float]

    @property
    def none_of_these(self) -> float:
        return sum(self.others)


class Prior(msgspec.Struct, frozen=True):
    """Probabilities before any reading [-], for each row of the table and for its like outside the table."""

    substances: tuple[float, ...]
    others: tuple[float, ...]


def prior_of_table(reference: ReferenceReadings, knowledge: KnowledgeBase, classes: Mapping[str, float] | None = None) -> Prior:
    """All classes alike (or as `classes` says); within one, each substance as often as schools use it."""
    settings = knowledge.second_opinion.candidates
    share = _shares(classes or dict.fromkeys(knowledge.classes, 1.0))
    used = [settings.school_use[row.school_use] for row in reference.rows]
    whole: dict[str, float] = {}
    many: dict[str, int] = {}
    for row, use in zip(reference.rows, used, strict=True):
        whole[row.class_] = whole.get(row.class_, 0.0) + use
        many[row.class_] = many.get(row.class_, 0) + 1
    return Prior(
        tuple(
            (1 - settings.none_of_these) * share.get(row.class_, 0.0) * use / whole[row.class_]
            for row, use in zip(reference.rows, used, strict=True)
        ),
        tuple(settings.none_of_these * share.get(row.class_, 0.0) / many[row.class_] for row in reference.rows),
    )


def prior_of_set(names: Sequence[str], reference: ReferenceReadings, knowledge: KnowledgeBase) -> Prior:
    """Each vial of the set alike (a name given twice counts twice); a little is kept for what does not belong to it."""
    outside = knowledge.second_opinion.candidates.outside_set
    table = prior_of_table(reference, knowledge)
    others = sum(table.others)
    return Prior(
        tuple((1 - outside) * names.count(row.name) / len(names) for row in reference.rows),
        tuple(outside * each / others for each in table.others),
    )


def classes_of_set(names: Sequence[str], reference: ReferenceReadings, knowledge: KnowledgeBase) -> dict[str, float]:
    """Class → share of the vials of the set [-]; a little is kept for every class, since vials get mixed up."""
    outside = knowledge.second_opinion.candidates.outside_set
    rows = {row.name: row for row in reference.rows}
    if unknown := [name for name in names if name not in rows]:
        raise FaultyInputError(
            [Fault("among", not_accepted(name, "a substance of the reference table", rows, most=0)) for name in unknown]
        )
    shares = dict.fromkeys(knowledge.classes, outside / len(knowledge.classes))
    for name in names:
        for class_ in rows[name].classes:
            shares[class_] += (1 - outside) / len(names) / len(rows[name].classes)
    return shares


def _shares(weights: Mapping[str, float]) -> dict[str, float]:
    whole = sum(weights.values())
    return {name: weight / whole for name, weight in weights.items()}


def resemblance(record: Record, prior: Prior, reference: ReferenceReadings, knowledge: KnowledgeBase) -> Resemblance:
    """
    The probabilities of every row, of what is like it outside the table, and of each reading having been misread.

    A reading that fits counts in full, however many other honest values there are, so that a reading which a
    substance predicts never makes it less probable.
    """
    substances, others = list(prior.substances), list(prior.others)
    wrong: dict[str, tuple[list[float], list[float]]] = {}
    for reading, value in record.readings.items():
        own, alike = fits(reading, value, reference, knowledge)
        rate, apart = _misreading(reading, knowledge)
        wrong[reading] = ([], [])
        for hypotheses, fit, kept in ((substances, own, wrong[reading][0]), (others, alike, wrong[reading][1])):
            for place, fitting in enumerate(fit):
                slip = rate * (1 - fitting) / apart
                chance = (1 - rate) * fitting + slip
                hypotheses[place] *= chance
                kept.append(slip / chance)
    whole = sum(substances) + sum(others)
    substances, others = [each / whole for each in substances], [each / whole for each in others]
    misread = {
        reading: sum(map(float.__mul__, substances, own)) + sum(map(float.__mul__, others, alike))
        for reading, (own, alike) in wrong.items()
    }
    return Resemblance(tuple(substances), tuple(others), misread)


def _misreading(reading: str, knowledge: KnowledgeBase) -> tuple[float, float]:
    """Chance that the reading is misread [-], and over how many wrong values that chance spreads."""
    kind = knowledge.readings[reading]
    apart = len(kind.values) - 1 if kind.values else number_fits(knowledge)[reading].apart
    return kind.misread.rate, apart


def fits(reading: str, value: ReadValue, reference: ReferenceReadings, knowledge: KnowledgeBase) -> tuple[Fits, Fits]:
    """How well a reading fits every row itself, and its like outside the table; kept once worked out."""
    kept: dict[tuple[str, ReadValue], tuple[Fits, Fits]] = reference.__dict__.setdefault("fits", {})
    if (reading, value) not in kept:
        own = list(_own_fits(reading, value, reference, knowledge))
        shares = _class_shares(own, reading, reference, knowledge)
        differs = knowledge.second_opinion.candidates.differs
        known = [shares[row.class_] if fit is None else fit for fit, row in zip(own, reference.rows, strict=True)]
        alike = [(1 - differs) * fit + differs * shares[row.class_] for fit, row in zip(known, reference.rows, strict=True)]
        kept[reading, value] = known, alike
    return kept[reading, value]


def _own_fits(reading: str, value: ReadValue, reference: ReferenceReadings, knowledge: KnowledgeBase) -> Iterator[float | None]:
    """1 for an honest value of the row, 0 for another one, something between for numbers; None where it is not known."""
    if isinstance(value, Interval):
        how = number_fits(knowledge)[reading]
        for row in reference.rows:
            expected = row.numbers.get(reading)
            yield None if expected is None else fit_of_number(value, expected, how)
        return
    for row in reference.rows:
        values = row.words.get(reading)
        yield None if values is None else float(value in values)


def _class_shares(
    own: Sequence[float | None], reading: str, reference: ReferenceReadings, knowledge: KnowledgeBase
) -> dict[str, float]:
    """How well a reading fits a class on the whole [-]: add-one-half smoothing for words, a least share for numbers."""
    known: dict[str, list[float]] = {row.class_: [] for row in reference.rows}
    for fit, row in zip(own, reference.rows, strict=True):
        if fit is not None:
            known[row.class_].append(fit)
    if values := len(knowledge.readings[reading].values):
        return {name: (sum(found) + 0.5) / (len(found) + 0.5 * values) for name, found in known.items()}
    least = 1 / number_fits(knowledge)[reading].apart
    return {name: max(least, sum(found) / len(found)) if found else least for name, found in known.items()}


def number_fits(knowledge: KnowledgeBase) -> Mapping[str, NumberFit]:
    """Reading → how a measured number is compared."""
    kept: dict[str, NumberFit] | None = knowledge.__dict__.get("number_fits")
    if kept is None:
        kept = knowledge.__dict__["number_fits"] = {how.reading: how for how in knowledge.second_opinion.numbers}
    return kept


def fit_of_number(measured: Interval, expected: Number, how: NumberFit) -> float:
    """
    How well a measured number fits a handbook value, from 0 to 1 [-].

    Of a range the upper end counts, since impurity lowers and broadens a melting range and never raises it: the last
    crystal melts nearest to the melting point of the pure substance.
    """
    scale = expected.value if how.relative else 1.0
    width = measured.high - measured.low
    if math.isinf(measured.high):  # "more than"
        off = 0.0 if expected.more else min(0.0, expected.value - measured.low)
        return _fit(-off / scale, how.handbook, how.above)
    if math.isinf(measured.low):  # "less than"
        return _fit(max(0.0, expected.value - measured.high) / scale, how.handbook, how.below)
    at = measured.high if how.widened else (measured.low + measured.high) / 2
    off = (at - expected.value) / scale
    if off >= 0:
        return 1.0 if expected.more else _fit(off, how.handbook, how.above)
    if how.widened:  # a lowering by impurity gets rarer the larger it is
        return math.exp(-max(0.0, -off - how.handbook) / (how.below + how.widened * width))
    return _fit(-off, how.handbook, how.below)


def _fit(off: float, handbook: float, deviation: float) -> float:
    return math.exp(-0.5 * (max(0.0, off - handbook) / deviation) ** 2)
