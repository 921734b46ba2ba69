"""How a handbook value shows itself at the bench: the readings to expect of a reference substance.

The knowledge base declares the ways (`kb/expected_readings.yaml`); this page walks them. A value near a
boundary honestly allows more than one reading; a value that is not known gives none.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from spotplate.datasets import Substance
from spotplate.kb import Interval, KnowledgeBase, ReadingKind, Way, to_si

from .record import ReadValue, Record

Expected = dict[str, tuple[ReadValue, ...]]

_SHOWN_UNIT = {"K": "°C", "kg/m3": "g/cm3"}
_SEEN_AS = {
    "melts": "melts",
    "boils": "boils",
    "softens": "softens",
    "sublimes": "sublimes",
    "loses water": "gives off water",
    "decomposes": "breaks down",
    "chars": "chars",
    "changes colour": "breaks down",
    "burns": "burns",
}
_SOON = 50  # [K] within which heating passes from the first crystals on the cold glass to the melting
# After one of these the substance is no longer what it was, so its melting point is never seen. Subliming is none of
# them: in the narrow capillary the vapour stays with the solid.
_ENDS_IT = ("softens", "loses water", "decomposes", "chars", "burns")


def expected_readings(substance: Substance, knowledge: KnowledgeBase) -> Expected:
    """Reading → every value that a careful student may honestly see with this substance, likeliest first."""
    found: Expected = {}
    for entry in knowledge.expected:
        if any(getattr(substance, column) not in words for column, words in entry.only_if.items()):
            continue
        for way in entry.ways:
            values = _walk(way, knowledge.readings[entry.reading], substance)
            if values:
                found[entry.reading] = values
                break
    return {name: values for name, values in found.items() if _can_be_made(name, found, knowledge)}


def handbook_number(substance: Substance, reading: str, knowledge: KnowledgeBase) -> float:
    """The handbook value [SI] behind a reading that is a number, also where the bench cannot measure so far."""
    way = next(way for entry in knowledge.expected if entry.reading == reading for way in entry.ways if way.number)
    return to_si(getattr(substance, way.column or ""), way.number or "")


def expected_records(substance: Substance, knowledge: KnowledgeBase) -> Iterator[Record]:
    """Full records of a substance: the likeliest one first, then one for each other honest value of each reading."""
    expected = expected_readings(substance, knowledge)
    likeliest = {name: values[0] for name, values in expected.items()}
    yield Record(only_makeable(likeliest, knowledge), vial=substance.name)
    for name, values in expected.items():
        for value in values[1:]:
            yield Record(only_makeable(likeliest | {name: value}, knowledge), vial=substance.name)


def only_makeable(readings: dict[str, ReadValue], knowledge: KnowledgeBase) -> dict[str, ReadValue]:
    """The readings whose tests can be done at all, given what this very record says of the tests that come first."""
    made = readings
    while True:
        kept = {name: value for name, value in made.items() if needs_met(name, made, knowledge)}
        if len(kept) == len(made):
            return kept
        made = kept


def needs_met(reading: str, made: Mapping[str, ReadValue], knowledge: KnowledgeBase) -> bool:
    """Whether the readings made allow the test that yields `reading`."""
    return all(made.get(need.reading or "") in need.is_ for need in knowledge.test_of[reading].needs)


def _can_be_made(reading: str, found: Expected, knowledge: KnowledgeBase) -> bool:
    """Whether the test's prerequisites are met by what this substance shows."""
    needs = knowledge.test_of[reading].needs
    return all(any(value in need.is_ for value in found.get(need.reading or "", ())) for need in needs)


def _walk(way: Way, kind: ReadingKind, substance: Substance) -> tuple[ReadValue, ...]:
    if way.shows:
        return _on_cold_glass(way, substance)
    if way.heats_to is not None:
        return _on_heating(way, kind, substance)
    value = getattr(substance, way.column or "")
    if value is None or value == "":
        return ()
    if way.words:
        return way.words.get(value, ())
    if way.bands:
        return _in_bands(way, value)
    return _as_number(way, value, substance)


def _in_bands(way: Way, value: float) -> tuple[str, ...]:
    nearby = (value / way.factor, value * way.factor) if way.factor else (value - way.margin, value + way.margin)
    return tuple(dict.fromkeys(_band(way, at) for at in (value, *nearby)))


def _band(way: Way, value: float) -> str:
    return next(band.gives for band in way.bands if band.upto is None or value < band.upto)


def _as_number(way: Way, value: float, substance: Substance) -> tuple[Interval, ...]:
    assert way.number is not None
    if way.column == "melting_point_K" and any(event in _ENDS_IT and at <= value + 2 for event, at in substance.heating_events()):
        return ()
    if way.measured_to is not None and value > way.measured_to:
        return (Interval(way.measured_to, math.inf, _SHOWN_UNIT[way.number], excluded=True),)
    in_si = to_si(value, way.number)
    return (Interval(in_si, in_si, _SHOWN_UNIT[way.number]),)


def _events(substance: Substance) -> list[tuple[float, str]]:
    """What heating does, by temperature [K], melting and boiling included."""
    events = [(at, event) for event, at in substance.heating_events()]
    if substance.melting_point_K is not None and substance.state == "solid":
        events.append((substance.melting_point_K, "melts"))
    if substance.boiling_point_K is not None:
        events.append((substance.boiling_point_K, "boils"))
    return sorted(events)


def _on_heating(way: Way, kind: ReadingKind, substance: Substance) -> tuple[str, ...]:
    """The first change up to the temperature of the bath, plate or flame."""
    assert way.heats_to is not None
    limit = to_si(way.heats_to, "°C")
    reached = [(at, event) for at, event in _events(substance) if at <= limit + way.margin]
    if not reached:
        return ("no change",)
    first = reached[0][0]
    events = [event for at, event in reached if at <= first + way.apart]
    seen = [_SEEN_AS[event] for event in events]
    melts = next((at for at, event in reached if event == "melts"), None)
    if events == ["sublimes"] and melts is not None:
        # Crystals on the cold glass come first, but what melts soon after is seen to melt.
        seen = ["melts", "sublimes"] if melts - first < _SOON else ["sublimes", "melts"]
    if substance.lustre == "metallic" and set(events) == {"changes colour"}:
        seen.append("no change")  # a film of tarnish is seen or overlooked
    if any(event == "chars" and at <= limit for at, event in reached):
        seen.insert(0, "chars")  # charring is what people note, whatever came before
    seen = [word if word in kind.words() else "breaks down" for word in seen]
    if first > limit:
        seen.insert(0, "no change")
    elif first > limit - way.margin:
        seen.append("no change")
    return tuple(dict.fromkeys(seen))


def _on_cold_glass(way: Way, substance: Substance) -> tuple[str, ...]:
    """What collects on a cold glass above it; a change close to the limit may or may not be seen."""
    assert way.heats_to is not None
    limit = to_si(way.heats_to, "°C")
    events = {event: at for at, event in reversed(_events(substance))}
    for event, words in way.shows.items():
        at = events.get(event, math.inf)
        if at <= limit - way.margin:
            return words
        if at <= limit + way.margin:
            return (*words, *way.otherwise)
    return way.otherwise
