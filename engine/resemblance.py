"""How well every reference substance resembles a record: one probability model behind candidates and misread readings.

The unknown is a substance of the reference table, or one outside it that resembles one of the table (it differs in a
reading now and then). It shows one of its honest values in each reading, unless the reading is misread. So the
readings are independent *given the substance*, which the readings of one class are not.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.engine.record import Readings, ReadValue, Record
from spotplate.engine.reference_readings import Number, ReferenceReadings, ReferenceRow
from spotplate.kb import Fault, FaultyInputError, Interval, KnowledgeBase, NumberFit, not_accepted

_GAS_CONSTANT = 8.314462618  # J/(mol K), exact by the SI of 2019 to the digits given
_TROUTON = 88.0  # J/(mol K), Trouton's rule
_NEVER_SEEN = 0.01  # [substances] taken to have a number that is far from those of all others in the class
FITS = 0.5  # [-] a number that fits less well than this is told as a misfit
TOLD_APART = 0.05  # [-] two numbers part two substances when the one fits the other's less than this
_NORMAL_PRESSURE = 101_325.0  # Pa, the standard atmosphere (10th CGPM, 1954)


class Fits(msgspec.Struct, frozen=True, gc=False):
    """
    How well a reading fits each row of the table, from 0 to 1 [-].

    `told`: 1 for an honest value of the row, 0 for another one, something between for numbers, None where the table does
    not tell. `own`: the same, with the habit of its class where the table does not tell. `alike`: for a substance outside
    the table that is like the row, and differs from it now and then.
    """

    told: list[float | None]
    own: list[float]
    alike: list[float]


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
    used = [settings.school_use[row.school_use] for row in reference.compact]
    whole = dict.fromkeys(reference.classes, 0.0)
    many = dict.fromkeys(reference.classes, 0)
    for name, use in zip(reference.classes, used, strict=True):
        whole[name] += use
        many[name] += 1
    inside = {name: (1 - settings.none_of_these) * share.get(name, 0.0) / whole[name] for name in whole}
    outside = {name: settings.none_of_these * share.get(name, 0.0) / many[name] for name in many}
    return Prior(
        tuple(inside[name] * use for name, use in zip(reference.classes, used, strict=True)),
        tuple(outside[name] for name in reference.classes),
    )


def prior_of_set(names: Sequence[str], reference: ReferenceReadings, knowledge: KnowledgeBase) -> Prior:
    """Each vial of the set alike (a name given twice counts twice); a little is kept for what does not belong to it."""
    outside = knowledge.second_opinion.candidates.outside_set
    table = prior_of_table(reference, knowledge)
    others = sum(table.others)
    return Prior(
        tuple((1 - outside) * names.count(name) / len(names) for name in reference.names),
        tuple(outside * each / others for each in table.others),
    )


def classes_of_set(names: Sequence[str], reference: ReferenceReadings, knowledge: KnowledgeBase) -> dict[str, float]:
    """Class → share of the vials of the set [-]; a little is kept for every class, since vials get mixed up."""
    outside = knowledge.second_opinion.candidates.outside_set
    rows = {row.name: row for row in reference.compact}
    if unknown := [name for name in dict.fromkeys(names) if name not in rows]:
        raise FaultyInputError(
            [
                Fault("among", not_accepted(name, "a substance of the reference table", reference.names, most=0))
                for name in unknown
            ]
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
    readings = comparable(record, knowledge)
    for reading, value in readings.items():
        fitting = fits(reading, value, reference, knowledge)
        slip, rise = chance_of_value(reading, knowledge)
        substances = [weight * (slip + rise * fit) for weight, fit in zip(substances, fitting.own, strict=True)]
        others = [weight * (slip + rise * fit) for weight, fit in zip(others, fitting.alike, strict=True)]
    whole = sum(substances) + sum(others)
    substances, others = [each / whole for each in substances], [each / whole for each in others]
    misread = {}
    for reading, value in readings.items():
        fitting = fits(reading, value, reference, knowledge)
        slip, rise = chance_of_value(reading, knowledge)
        misread[reading] = sum(
            weight * slip * (1 - fit) / (slip + rise * fit)
            for weights, fitted in ((substances, fitting.own), (others, fitting.alike))
            for weight, fit in zip(weights, fitted, strict=True)
        )
    return Resemblance(tuple(substances), tuple(others), misread)


def comparable(record: Record, knowledge: KnowledgeBase) -> Readings:
    """The readings as they compare with handbook values: a boiling point as it would be at 101.325 kPa, where that is known."""
    pressure = record.air_pressure
    if pressure is None:
        return record.readings
    fits_by_reading = number_fits(knowledge)
    return {
        reading: at_normal_pressure(value, pressure)
        if isinstance(value, Interval) and fits_by_reading[reading].with_pressure
        else value
        for reading, value in record.readings.items()
    }


def at_normal_pressure(boiling: Interval, pressure: Interval) -> Interval:
    """
    A boiling point as it would be at normal pressure.

    Parameters
    ----------
    boiling : Interval
        As measured [K]
    pressure : Interval
        Air pressure at which it was measured [Pa]

    Returns
    -------
    Interval
        Boiling point at 101.325 kPa [K], by the Clausius–Clapeyron equation with the enthalpy of vaporisation that
        Trouton's rule gives, 88 J/(mol K) times the boiling point; liquids with hydrogen bonds are
        corrected by up to three tenths too much

    Examples
    --------
    >>> celsius = Interval(273.15 + 96.7, 273.15 + 96.7, "°C")  # water at 90 kPa
    >>> round(at_normal_pressure(celsius, Interval(90e3, 90e3, "kPa")).low - 273.15, 1)
    100.8
    """
    middle = (pressure.low + pressure.high) / 2
    factor = 1 + _GAS_CONSTANT / _TROUTON * math.log(_NORMAL_PRESSURE / middle)
    return msgspec.structs.replace(boiling, low=boiling.low * factor, high=boiling.high * factor)


def chance_of_value(reading: str, knowledge: KnowledgeBase) -> tuple[float, float]:
    """
    How the chance of writing a value grows with its fit [-]: `slip` when it does not fit at all, `slip + rise` when it does.

    A misreading lands on each of the wrong values alike.
    """
    kind = knowledge.readings[reading]
    apart = len(kind.values) - 1 if kind.values else number_fits(knowledge)[reading].apart
    slip = kind.misread.rate / apart
    return slip, 1 - kind.misread.rate - slip


def likelihoods(
    reading: str, reference: ReferenceReadings, knowledge: KnowledgeBase
) -> dict[str, tuple[list[float], list[float]]]:
    """Word of a reading → how probable it is that each row of the table shows it, and its like outside the table [-]."""
    slip, rise = chance_of_value(reading, knowledge)
    fitting = {word: fits(reading, word, reference, knowledge) for word in knowledge.readings[reading].words()}
    # A row with several honest words shows one of them.
    own = [slip * len(fitting) + rise * sum(each) for each in zip(*(found.own for found in fitting.values()), strict=True)]
    alike = [slip * len(fitting) + rise * sum(each) for each in zip(*(found.alike for found in fitting.values()), strict=True)]
    return {
        word: (
            [(slip + rise * fit) / whole for fit, whole in zip(found.own, own, strict=True)],
            [(slip + rise * fit) / whole for fit, whole in zip(found.alike, alike, strict=True)],
        )
        for word, found in fitting.items()
    }


def fits(reading: str, value: ReadValue, reference: ReferenceReadings, knowledge: KnowledgeBase) -> Fits:
    """How well a reading fits every row itself, and its like outside the table; kept once worked out for these settings."""
    settings, kept = reference.__dict__.get("fits", (None, {}))
    if settings is not knowledge.second_opinion:
        kept = {}
        reference.__dict__["fits"] = knowledge.second_opinion, kept
    found: Fits | None = kept.get((reading, value))
    if found is None:
        found = kept[reading, value] = _fits(reading, value, reference, knowledge)
    return found


def _fits(reading: str, value: ReadValue, reference: ReferenceReadings, knowledge: KnowledgeBase) -> Fits:
    settings = knowledge.second_opinion.candidates
    differs = settings.differs_more.get(reading, settings.differs)
    told = _told_fits(reading, value, reference, knowledge)
    if isinstance(value, Interval):
        shares = _class_shares_of_number(value, number_fits(knowledge)[reading], reference)
    else:
        shares = _class_shares(told, reading, reference, knowledge)
    usual = [shares[name] for name in reference.classes]
    own = [often if fit is None else fit for fit, often in zip(told, usual, strict=True)]
    alike = [(1 - differs) * fit + differs * often for fit, often in zip(own, usual, strict=True)]
    return Fits(told, own, alike)


def _told_fits(reading: str, value: ReadValue, reference: ReferenceReadings, knowledge: KnowledgeBase) -> list[float | None]:
    if isinstance(value, Interval):
        how = number_fits(knowledge)[reading]
        numbers = [row.numbers.get(reading) for row in reference.compact]
        return [None if number is None else fit_of_number(value, number, how) for number in numbers]
    return [None if honest is None else float(honest) for honest in reference.honest(reading, value)]


def _class_shares(
    told: Sequence[float | None], reading: str, reference: ReferenceReadings, knowledge: KnowledgeBase
) -> dict[str, float]:
    """How often a class shows a word [-], with add-one-half smoothing."""
    known: dict[str, list[float]] = {name: [] for name in reference.classes}
    for fit, name in zip(told, reference.classes, strict=True):
        if fit is not None:
            known[name].append(fit)
    values = len(knowledge.readings[reading].values)
    return {name: (sum(found) + 0.5) / (len(found) + 0.5 * values) for name, found in known.items()}


def _class_shares_of_number(measured: Interval, how: NumberFit, reference: ReferenceReadings) -> dict[str, float]:
    """
    How often a class has a number like this [-].

    The numbers of its substances are spread over the distance `spread`, of which a measured number takes up only a part;
    an open range takes up all that lies beyond its end. A little is left for numbers that no substance of it comes near.
    """
    known: dict[str, list[float]] = {name: [] for name in reference.classes}
    part = 1.0 if math.isinf(measured.high - measured.low) else min(1.0, (how.handbook + how.above) / how.spread)
    for row, name in zip(reference.compact, reference.classes, strict=True):
        number = row.numbers.get(how.reading)
        if number is not None:
            off = max(0.0, measured.low - number.value, number.value - measured.high)
            known[name].append(part * _fit(off / (number.value if how.relative else 1.0), how.handbook, how.spread))
    return {name: (sum(found) + _NEVER_SEEN) / (len(found) + 1) for name, found in known.items()}


def number_fits(knowledge: KnowledgeBase) -> Mapping[str, NumberFit]:
    """Reading → how a measured number is compared."""
    kept: dict[str, NumberFit] | None = knowledge.__dict__.get("number_fits")
    if kept is None:
        kept = knowledge.__dict__["number_fits"] = {how.reading: how for how in knowledge.second_opinion.numbers}
    return kept


def fit_of_number(measured: Interval, expected: Number, how: NumberFit) -> float:
    """
    How well a measured number fits a handbook value, from 0 to 1 [-].

    A range fits fully when the handbook value lies in it, an open one when the value lies beyond its end. Of a melting
    range the upper end counts, since impurity lowers and broadens it and never raises it: the last crystal melts
    nearest to the melting point of the pure substance.
    """
    scale = expected.value if how.relative else 1.0
    width = measured.high - measured.low
    if math.isinf(width):
        off = max(0.0, measured.low - expected.value, expected.value - measured.high) / scale
        return _fit(off, how.handbook, how.above if math.isinf(measured.high) else how.below)
    if how.widened:
        off = (measured.high - expected.value) / scale
        if off < 0:  # a lowering by impurity gets rarer the larger it is
            return math.exp(-max(0.0, -off - how.handbook) / (how.below + how.widened * width))
        return _fit(off, how.handbook, how.above)
    above = max(0.0, measured.low - expected.value) / scale
    below = max(0.0, expected.value - measured.high) / scale
    return min(_fit(above, how.handbook, how.above), _fit(below, how.handbook, how.below))


def _fit(off: float, handbook: float, deviation: float) -> float:
    return math.exp(-0.5 * (max(0.0, off - handbook) / deviation) ** 2)


def alike(reading: str, first: ReferenceRow, second: ReferenceRow, knowledge: KnowledgeBase) -> float:
    """
    How far two substances read alike [-]: 0 when they never do, 1 when a reading tells nothing of which it is.

    Of words, the chance that they have in common when every honest word of a substance is as likely as another.
    """
    if reading in first.words:
        words, others = first.words[reading], second.words[reading]
        return sum(min(1 / len(words), 1 / len(others)) for word in words if word in others)
    number, other = first.numbers[reading], second.numbers[reading]
    how = number_fits(knowledge)[reading]
    pairs = ((number, other), (other, number))
    fit = max(fit_of_number(one.interval(number_unit(reading, knowledge)), another, how) for one, another in pairs)
    return 0.0 if fit < TOLD_APART else 1.0 if fit > FITS else fit


def number_unit(reading: str, knowledge: KnowledgeBase) -> str:
    """The unit in which a reading that is a number is shown."""
    number = knowledge.readings[reading].number
    assert number is not None
    return number.unit
