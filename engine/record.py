"""A vial's record: its readings, checked against the knowledge base, with every spelling that people use."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from spotplate.kb import (
    MOST_FAULTS,
    BenchTest,
    Fault,
    FaultyInputError,
    Interval,
    KnowledgeBase,
    QuantityError,
    ReadingKind,
    load_knowledge,
    names_unit,
    nearest,
    not_accepted,
    parse_quantity,
    printable,
    shown,
    to_si,
)

ReadValue = str | Interval
Readings = Mapping[str, ReadValue]
NOT_TESTED = ("", "not tested", "untested", "-", "–", "—", "n/a", "na", "null", "~")
# The air pressure is no reading of the substance, but a boiling point means little without it.
AIR_PRESSURE = ("air pressure", "atmospheric pressure", "barometric pressure", "barometer", "ambient pressure")
_LEAST_PRESSURE, _MOST_PRESSURE = 50.0, 110.0  # [kPa] from the highest towns to deep mines
UNCLEAR = ("unclear", "?", "not sure", "unsure", "uncertain")


class Record(msgspec.Struct, frozen=True):
    """
    The readings of one vial.

    `readings` holds only what was seen: a word of the reading's list, or an interval in SI units.
    Names in `unclear` were tried without a clear result; they and everything absent never count as "no".
    `air_pressure` [Pa] is that of the day, where it was noted. `assumed_units` names what was written without a unit.
    """

    readings: dict[str, ReadValue]
    vial: str = ""
    unclear: tuple[str, ...] = ()
    notes: str = ""
    assumed_units: tuple[str, ...] = ()
    air_pressure: Interval | None = None

    def without(self, reading: str) -> Record:
        """The same record as if `reading` had never been made."""
        kept = {name: value for name, value in self.readings.items() if name != reading}
        return msgspec.structs.replace(self, readings=kept)


def make_record(
    written: Mapping[str, str],
    knowledge: KnowledgeBase | None = None,
    *,
    vial: str = "",
    notes: str = "",
    where: str = "",
    places: Mapping[str, str] | None = None,
) -> Record:
    """
    A record from readings as people wrote them.

    Parameters
    ----------
    written : mapping
        Name of the reading → value, in any accepted spelling; numbers with or without a unit. The air pressure of
        the day may stand among them
    knowledge : KnowledgeBase, optional
        The readings there are, and their spellings; the shipped ones when not given
    where, places
        What an error message says of the place, for all readings and for single ones

    Raises
    ------
    FaultyInputError
        With every unknown reading, value, unit and every doubled reading in it

    Examples
    --------
    >>> make_record({"conducts dry": "no", "mp": "801"}).readings["dry conductivity"]
    'no glow'
    """
    knowledge = knowledge or load_knowledge()
    faults: list[Fault] = []
    readings: dict[str, ReadValue] = {}
    unclear: list[str] = []
    assumed: list[str] = []
    pressure: Interval | None = None
    first_spelling: dict[str, str] = {}
    for spelling, value in written.items():
        if len(faults) >= MOST_FAULTS:
            break
        place = (places or {}).get(spelling, where)
        if names_air_pressure(spelling):
            try:
                noted = _read_pressure(value)
            except QuantityError as error:
                faults.append(Fault(place, f"{spelling}: {error}"))
                continue
            if noted and not names_unit(value) and AIR_PRESSURE[0] not in assumed:
                assumed.append(AIR_PRESSURE[0])
            pressure = noted or pressure
            continue
        kind = find_reading(spelling, knowledge)
        if kind is None:
            faults.append(Fault(place, unknown_reading(spelling, knowledge)))
            continue
        if kind.id in first_spelling:
            says = f"{kind.id!r} is given twice, as {shown(first_spelling[kind.id])} and as {shown(spelling)}."
            faults.append(Fault(place, says))
            continue
        first_spelling[kind.id] = spelling
        text = " ".join(value.split())
        if text.casefold() in NOT_TESTED:
            continue
        if text.casefold() in UNCLEAR:
            unclear.append(kind.id)
            continue
        try:
            readings[kind.id] = read_value(kind, text)
        except (FaultyInputError, QuantityError) as error:
            faults.append(Fault(place, f"reading {kind.id!r}: {error}"))
            continue
        if kind.number and not names_unit(text):
            assumed.append(kind.id)
    if faults:
        raise FaultyInputError(faults)
    label, remark = (" ".join(printable(text).split()) for text in (vial, notes))
    return Record(readings, label, tuple(unclear), remark, tuple(assumed), pressure)


def names_air_pressure(spelling: str) -> bool:
    """Whether a key or column stands for the air pressure of the day."""
    return _folded(spelling) in AIR_PRESSURE


def _read_pressure(text: str) -> Interval | None:
    """The air pressure, or None where it was not noted."""
    text = " ".join(text.split())
    if text.casefold() in (*NOT_TESTED, *UNCLEAR):
        return None
    pressure = parse_quantity(text, "kPa")
    least, most = (to_si(end, "kPa") for end in (_LEAST_PRESSURE, _MOST_PRESSURE))
    if not least <= pressure.low <= pressure.high <= most:
        raise QuantityError(
            f"{shown(text)} lies outside {_LEAST_PRESSURE:g} to {_MOST_PRESSURE:g} kPa; units: kPa, hPa, mbar, mmHg, atm."
        )
    return pressure


def find_reading(spelling: str, knowledge: KnowledgeBase) -> ReadingKind | None:
    """The reading that `spelling` names, or None."""
    return _spellings(knowledge).get(_folded(spelling))


def find_test(name: str, knowledge: KnowledgeBase) -> BenchTest | None:
    """The bench test called `name`, or the one that yields the reading called so."""
    wanted = " ".join(name.casefold().split())
    if wanted in knowledge.tests:
        return knowledge.tests[wanted]
    kind = find_reading(name, knowledge)
    return knowledge.test_of[kind.id] if kind else None


def unknown_reading(spelling: str, knowledge: KnowledgeBase) -> str:
    """Sentence that `spelling` is no reading, with the nearest one and all there are."""
    spellings = {word: kind.id for word, kind in _spellings(knowledge).items()} | dict.fromkeys(AIR_PRESSURE, AIR_PRESSURE[0])
    near = nearest(_folded(spelling), spellings)
    meant = f"; did you mean {spellings[near]!r}?" if near else "."
    return f"{shown(spelling)} is not a reading{meant} Readings: {', '.join(knowledge.readings)}."


def read_value(kind: ReadingKind, text: str) -> ReadValue:
    """The value of `kind` that `text` means; `FaultyInputError` or `QuantityError` when there is none."""
    if kind.number:
        return _read_number(kind, text)
    folded = _folded(text)
    for value in kind.values:
        if folded in (_folded(spelling) for spelling in (value.is_, *value.also)):
            return value.is_
    raise FaultyInputError([Fault("", _unknown_value(kind, text))])


def _unknown_value(kind: ReadingKind, text: str) -> str:
    spellings = {_folded(spelling): value.is_ for value in kind.values for spelling in (value.is_, *value.also)}
    near = nearest(_folded(text), spellings)
    if near and spellings[near] != near:
        return f"{shown(text)} is not accepted; did you mean {spellings[near]!r}? Accepted: {', '.join(_accepted(kind))}."
    return not_accepted(text, "accepted", _accepted(kind))


def _accepted(kind: ReadingKind) -> Sequence[str]:
    return (*kind.words(), "unclear", "not tested")


def _read_number(kind: ReadingKind, text: str) -> Interval:
    assert kind.number is not None
    measured = parse_quantity(text, kind.number.unit)
    least, most = (to_si(end, kind.number.unit) for end in (kind.number.least, kind.number.most))
    ends = [end for end in (measured.low, measured.high) if abs(end) != float("inf")]
    if any(not least - 1e-9 <= end <= most + 1e-9 for end in ends):
        says = f"{shown(text)} lies outside {kind.number.least:g} to {kind.number.most:g} {kind.number.unit}."
        raise FaultyInputError([Fault("", says)])
    return measured


def _folded(spelling: str) -> str:
    return " ".join(spelling.casefold().replace("_", " ").split())


def _spellings(knowledge: KnowledgeBase) -> dict[str, ReadingKind]:
    """Every accepted spelling of every reading; worked out once a knowledge base."""
    known: dict[str, ReadingKind] | None = knowledge.__dict__.get("spellings")
    if known is None:
        known = {_folded(word): kind for kind in knowledge.readings.values() for word in (kind.id, *kind.also)}
        knowledge.__dict__["spellings"] = known
    return known
