"""Candidate substances: which rows of the reference table the record fits, or honestly none of these."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from spotplate.engine.bench import Parting
from spotplate.engine.record import Record
from spotplate.engine.reference_readings import ReferenceReadings, ReferenceRow
from spotplate.engine.resemblance import FITS, Resemblance, alike, comparable, fits, number_unit
from spotplate.kb import KnowledgeBase, to_si

_SELDOM_MISREAD = 0.05  # [-]


class Misfit(msgspec.Struct, frozen=True):
    """A reading of the record that a candidate would not show, and what it would show."""

    reading: str
    seen: str
    expected: str


class Candidate(msgspec.Struct, frozen=True):
    """
    A reference substance held against the record.

    `probability` [-] is that the unknown is this substance; `fits` names the readings it would show,
    `misfits` those it would not, `unknown` those that the table does not tell of it. `also_defensible` is the second class
    that chemists may put it into, or empty.
    """

    name: str
    class_: str
    subtype: str
    probability: float
    fits: tuple[str, ...]
    misfits: tuple[Misfit, ...]
    unknown: tuple[str, ...]
    also_defensible: str = ""


class Candidates(msgspec.Struct, frozen=True):
    """
    The best few candidates, with what remains for all others.

    `none_of_these` [-] is the probability that the unknown is not in the table (or set), `none_like` the class that it
    then most resembles; `others_listed` [-] the probability of all substances that are not among the best few.
    `in_table` counts the reference substances of the first candidate's class, `fit_all` those of the table which
    fit every reading known of them. `parting` is the test that would part the first two.
    """

    best: tuple[Candidate, ...]
    others: float
    none_of_these: float
    none_like: str
    in_table: int
    fit_all: int
    set_size: int
    parting: Parting | None


def candidates(
    record: Record,
    found: Resemblance,
    reference: ReferenceReadings,
    knowledge: KnowledgeBase,
    among: Sequence[str] = (),
) -> Candidates:
    """The candidates for a record; within the set whose names are `among`, where they are given."""
    settings = knowledge.second_opinion.candidates
    ordered = sorted(range(len(reference.compact)), key=lambda place: -found.substances[place])
    listed = [
        place
        for place in ordered[: settings.listed]
        if found.substances[place] >= settings.listed_from or reference.names[place] in among
    ]
    best = tuple(_candidate(place, record, found, reference, knowledge) for place in listed)
    likeness = dict.fromkeys(reference.classes, 0.0)
    for name, share in zip(reference.classes, found.others, strict=True):
        likeness[name] += share
    return Candidates(
        best=best,
        others=max(0.0, 1 - found.none_of_these - sum(item.probability for item in best)),
        none_of_these=found.none_of_these,
        none_like=max(likeness, key=lambda name: likeness[name]),
        in_table=reference.classes.count(reference.classes[ordered[0]]),
        fit_all=_fit_all(record, reference, knowledge),
        set_size=len(among),
        parting=_parting_of_first_two(record, listed, reference, knowledge),
    )


def _parting_of_first_two(
    record: Record, listed: Sequence[int], reference: ReferenceReadings, knowledge: KnowledgeBase
) -> Parting | None:
    if len(listed) < 2:
        return None
    return parting_of_substances(record, reference.row(listed[0]), reference.row(listed[1]), knowledge)


def _fit_all(record: Record, reference: ReferenceReadings, knowledge: KnowledgeBase) -> int:
    """How many substances fit every reading that the table tells of them."""
    fitting = list(range(len(reference.compact)))
    for reading, value in comparable(record, knowledge).items():
        told = fits(reading, value, reference, knowledge).told
        fitting = [place for place in fitting if (fit := told[place]) is None or fit >= FITS]
    return len(fitting)


def _candidate(
    place: int, record: Record, found: Resemblance, reference: ReferenceReadings, knowledge: KnowledgeBase
) -> Candidate:
    row = reference.row(place)
    fitting, misfits, unknown = [], [], []
    for reading, value in comparable(record, knowledge).items():
        fit = fits(reading, value, reference, knowledge).told[place]
        if fit is None:
            unknown.append(reading)
        elif fit >= FITS:
            fitting.append(reading)
        else:
            misfits.append(Misfit(reading, str(record.readings[reading]), expected_in_words(row, reading, knowledge)))
    return Candidate(
        name=row.name,
        class_=row.class_,
        subtype=row.subtype,
        probability=found.substances[place],
        fits=tuple(fitting),
        misfits=tuple(misfits),
        unknown=tuple(unknown),
        also_defensible=", ".join(row.classes[1:]),
    )


def expected_in_words(row: ReferenceRow, reading: str, knowledge: KnowledgeBase) -> str:
    """What a substance would show: its honest words, or its handbook value with the unit."""
    if reading in row.words:
        return " or ".join(row.words[reading])
    unit = number_unit(reading, knowledge)
    zero, one = to_si(0.0, unit), to_si(1.0, unit)
    return f"{(row.numbers[reading].value - zero) / (one - zero):.4g} {unit}"


def parting_of_substances(record: Record, first: ReferenceRow, second: ReferenceRow, knowledge: KnowledgeBase) -> Parting | None:
    """
    The quickest test not yet made on which the two cannot read alike; failing that, their mixed melting range, or the
    test on which they read alike least.

    None when the two read alike in every test of the bench.
    """
    shares = {
        reading: alike(reading, first, second, knowledge)
        for reading in (*first.words, *first.numbers)
        if reading not in record.readings and (reading in second.words or reading in second.numbers)
    }
    if telling := [reading for reading, share in shares.items() if share == 0]:
        return _by_reading(min(telling, key=lambda name: _effort(name, knowledge)), first, second, knowledge, sure=True)
    if _melts_sharply(first) and _melts_sharply(second):
        minutes = knowledge.test_of["melting range"].minutes
        how = knowledge.second_opinion.candidates.mixed_melting.format(first=first.name)
        return Parting(first.name, second.name, "", "", "melts as before", "melts lower, over a wider range", minutes, how)
    if weaker := [reading for reading, share in shares.items() if share < 1]:
        least = min(weaker, key=lambda name: (shares[name], *_effort(name, knowledge)))
        return _by_reading(least, first, second, knowledge, sure=False)
    return None


def _by_reading(reading: str, first: ReferenceRow, second: ReferenceRow, knowledge: KnowledgeBase, *, sure: bool) -> Parting:
    test = knowledge.test_of[reading]
    shows = [expected_in_words(row, reading, knowledge) for row in (first, second)]
    return Parting(first.name, second.name, test.id, reading, shows[0], shows[1], test.minutes, sure=sure)


def _melts_sharply(row: ReferenceRow) -> bool:
    """Only then does a melting range that is lower and broader tell of an admixture."""
    number = row.numbers.get("melting range")
    return number is not None and not number.more and not row.mixture


def _effort(reading: str, knowledge: KnowledgeBase) -> tuple[bool, float, str]:
    """Readings that are seldom misread come first, then the quickest test."""
    return knowledge.readings[reading].misread.rate > _SELDOM_MISREAD, knowledge.test_of[reading].minutes, reading
