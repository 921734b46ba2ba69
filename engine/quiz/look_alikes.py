"""Pairs of reference substances that look alike at the bench, for the question which test tells them apart."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from itertools import combinations

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.reference_readings import ReferenceReadings, ReferenceRow
from spotplate.kb import KnowledgeBase

_CLOSE = 0.6  # [-] share of the readings known of both that may coincide, from which on a pair is of interest
_PAIRS_OF_KINDS = 8  # pairs of substances that are kept of each pair of kinds, the closest ones
_OF_TWO_CLASSES = 0.15  # [-] how much farther apart substances of two classes may be, and be asked of as often
_PARTNERS = 9  # kinds that are set beside each kind, the closest ones, lest there be far more items of this kind than of others
_FIRE = {"H250", "H260"}
_PALE, _GREY = ("colourless", "white"), ("silvery", "grey", "dark grey")

Kind = tuple[str, str]
"""A class and a finer kind in it."""


class LookAlikes(msgspec.Struct, frozen=True):
    """Two substances of one state and look; `close` is the share of the readings known of both that may coincide [-]."""

    first: ReferenceRow
    second: ReferenceRow
    close: float

    @property
    def kinds(self) -> tuple[Kind, Kind]:
        return (self.first.class_, self.first.subtype), (self.second.class_, self.second.subtype)


def look_alikes(
    substances: Mapping[str, Substance], reference: ReferenceReadings, knowledge: KnowledgeBase
) -> dict[tuple[Kind, Kind], tuple[LookAlikes, ...]]:
    """
    Pair of kinds → the closest pairs of substances of these kinds that can still be told apart.

    Substances that schools do not use are left out; so are those that air or water sets on fire, and gases, of which few tests
    can be made.
    """
    found: dict[tuple[Kind, Kind], list[LookAlikes]] = defaultdict(list)
    for group in _groups(substances, reference).values():
        for (first, ours), (second, theirs) in combinations(group, 2):
            close = _closeness(ours, theirs)
            if close >= _CLOSE:
                pair = LookAlikes(*_in_order(first, second, knowledge), close)
                found[pair.kinds].append(pair)
    closest = {kinds: _closest(pairs) for kinds, pairs in found.items()}
    return {kinds: closest[kinds] for kinds in _partners(closest)}


def _partners(closest: Mapping[tuple[Kind, Kind], Sequence[LookAlikes]]) -> list[tuple[Kind, Kind]]:
    """The pairs of kinds in which one is among the closest to the other."""
    of_kind: dict[Kind, list[tuple[Kind, Kind]]] = defaultdict(list)
    for kinds in sorted(closest, key=lambda kinds: _rank(closest[kinds][0])):
        for kind in dict.fromkeys(kinds):
            of_kind[kind].append(kinds)
    kept = {kinds for ranked in of_kind.values() for kinds in ranked[:_PARTNERS]}
    return [kinds for kinds in closest if kinds in kept]


def _groups(
    substances: Mapping[str, Substance], reference: ReferenceReadings
) -> dict[tuple[str, str], list[tuple[ReferenceRow, tuple[int, ...]]]]:
    """State and look → rows, and their honest values as bits."""
    found = defaultdict(list)
    for row, compact in zip(reference.rows, reference.compact, strict=True):
        substance = substances.get(row.name)
        if substance and row.school_use != "not in school" and substance.state != "gas" and not _catches_fire(substance):
            found[substance.state, _look(substance)].append((row, compact.honest))
    return found


def _catches_fire(substance: Substance) -> bool:
    """Whether air or water sets it on fire, so that no row of tests is made with it."""
    return bool(_FIRE & set(substance.hazards()))


def _look(substance: Substance) -> str:
    """How a substance looks at a glance: its colour, and whether it shines like a metal."""
    colour = "pale" if substance.colour in _PALE else "grey" if substance.colour in _GREY else substance.colour
    return f"{colour} metallic" if substance.lustre == "metallic" else colour


def _closeness(ours: Sequence[int], theirs: Sequence[int]) -> float:
    """Share of the readings known of both that may coincide [-]; 0 where all may, since then nothing parts them."""
    known = alike = 0
    for first, second in zip(ours, theirs, strict=True):
        if first and second:
            known += 1
            alike += bool(first & second)
    return alike / known if alike < known else 0.0


def _in_order(first: ReferenceRow, second: ReferenceRow, knowledge: KnowledgeBase) -> tuple[ReferenceRow, ReferenceRow]:
    """By class and kind, so that a pair of kinds is met only once."""
    classes, kinds = list(knowledge.classes), ["", *knowledge.subtypes]
    ordered = sorted((first, second), key=lambda row: (classes.index(row.class_), kinds.index(row.subtype)))
    return ordered[0], ordered[1]


def _closest(pairs: Sequence[LookAlikes]) -> tuple[LookAlikes, ...]:
    """The closest ones, those that students use before the others."""
    by_use = sorted(pairs, key=lambda pair: (_strangers(pair), -pair.close))
    return tuple(by_use[:_PAIRS_OF_KINDS])


def _rank(pair: LookAlikes) -> tuple[int, float, str, str]:
    """What is asked first: substances that students use, of different classes rather than of one, close ones."""
    differ = _OF_TWO_CLASSES if pair.first.class_ != pair.second.class_ else 0.0
    return _strangers(pair), -pair.close - differ, pair.first.name, pair.second.name


def _strangers(pair: LookAlikes) -> int:
    return sum(row.school_use != "students" for row in (pair.first, pair.second))
