"""The reference table as the bench sees it: every substance with the readings to expect of it.

Working these out of the handbook values takes longer than an identification, so they are kept in
`reference_readings.json`, which is used only while it fits the handbook values and the knowledge base.
"""

from __future__ import annotations

import functools
import math
import zlib
from collections.abc import Mapping
from pathlib import Path

import msgspec

from spotplate.datasets import Substance, load_substances, table_checksum
from spotplate.kb import Interval, KnowledgeBase, load_knowledge

from .expected import expected_readings, handbook_number

FILE = Path(__file__).parent / "reference_readings.json"


class Number(msgspec.Struct, frozen=True, array_like=True):
    """A handbook value to expect, in SI; beyond `measured_to`, all that the bench can say is that it lies above that."""

    value: float
    measured_to: float | None = None

    @property
    def more(self) -> bool:
        """Whether the bench can only say that it is more."""
        return self.measured_to is not None

    def interval(self, unit: str) -> Interval:
        """What the bench reads."""
        if self.measured_to is not None:
            return Interval(self.measured_to, math.inf, unit, excluded=True)
        return Interval(self.value, self.value, unit)


class ReferenceRow(msgspec.Struct, frozen=True):
    """
    One reference substance: what is known of its kind, and its expected readings.

    `words` holds every honest value of each reading from a closed list, `numbers` one value of each that is a number.
    A reading in neither is not known of this substance, or cannot be made on it. A `mixture` (an alloy, a wax, a plastic
    with chains of many lengths) melts over a range even when nothing has been added to it.
    """

    name: str
    classes: tuple[str, ...]
    subtype: str
    school_use: str
    words: dict[str, tuple[str, ...]]
    numbers: dict[str, Number]
    mixture: bool

    @property
    def class_(self) -> str:
        return self.classes[0]


class CompactRow(msgspec.Struct, frozen=True, array_like=True, gc=False):
    """A row as it is kept: for each reading, the honest words as the sum of 2 to the power of their places; 0 when not known."""

    name: str
    classes: tuple[str, ...]
    subtype: str
    school_use: str
    honest: tuple[int, ...]
    numbers: dict[str, Number]
    mixture: bool


class ReferenceReadings(msgspec.Struct, frozen=True, dict=True):
    """
    The expected readings of every reference substance, and the checksum of what they were made from.

    `readings` maps every reading from a closed list to its words, in the order that compact rows keep to.
    """

    made_from: str
    readings: dict[str, tuple[str, ...]]
    compact: tuple[CompactRow, ...]

    @functools.cached_property
    def rows(self) -> tuple[ReferenceRow, ...]:
        """All rows written out; to look at a few, `row` is quicker."""
        return tuple(self.row(place) for place in range(len(self.compact)))

    @functools.cached_property
    def classes(self) -> tuple[str, ...]:
        """The class of every row."""
        return tuple(row.classes[0] for row in self.compact)

    @functools.cached_property
    def names(self) -> tuple[str, ...]:
        return tuple(row.name for row in self.compact)

    def row(self, place: int) -> ReferenceRow:
        """One row written out."""
        kept = self.compact[place]
        words = {
            reading: tuple(word for number, word in enumerate(known) if honest >> number & 1)
            for (reading, known), honest in zip(self.readings.items(), kept.honest, strict=True)
            if honest
        }
        return ReferenceRow(kept.name, kept.classes, kept.subtype, kept.school_use, words, kept.numbers, kept.mixture)

    def honest(self, reading: str, word: str) -> list[bool | None]:
        """Whether a word is an honest value of the reading in every row; None where the reading is not known."""
        place = list(self.readings).index(reading)
        wanted = 1 << self.readings[reading].index(word)
        return [bool(row.honest[place] & wanted) if row.honest[place] else None for row in self.compact]

    def without(self, name: str) -> ReferenceReadings:
        """The table as if it did not hold a substance, so that it can be judged like one never seen."""
        return ReferenceReadings(self.made_from, self.readings, tuple(row for row in self.compact if row.name != name))


@functools.cache
def load_reference() -> ReferenceReadings:
    """The expected readings of the reference table, from their file where it fits, else worked out again."""
    made_from = readings_checksum(load_knowledge())
    if FILE.is_file():
        try:
            kept = msgspec.json.decode(FILE.read_bytes(), type=ReferenceReadings)
        except msgspec.DecodeError:  # of an older shape
            kept = None
        if kept and kept.made_from == made_from:
            return kept
    return make_reference(load_knowledge())


def make_reference(knowledge: KnowledgeBase) -> ReferenceReadings:
    """The reference table's expected readings by the ways of `knowledge`."""
    readings = {kind.id: kind.words() for kind in knowledge.readings.values() if kind.values}
    compact = tuple(_compact(item, readings, knowledge) for item in load_substances())
    return ReferenceReadings(readings_checksum(knowledge), readings, compact)


def _compact(substance: Substance, readings: Mapping[str, tuple[str, ...]], knowledge: KnowledgeBase) -> CompactRow:
    expected = expected_readings(substance, knowledge)
    return CompactRow(
        substance.name,
        substance.defensible_classes(),
        substance.subtype,
        substance.school_use,
        tuple(sum(1 << words.index(str(value)) for value in expected.get(reading, ())) for reading, words in readings.items()),
        {
            reading: Number(handbook_number(substance, reading, knowledge), values[0].low if math.isinf(values[0].high) else None)
            for reading, values in expected.items()
            if isinstance(values[0], Interval)
        },
        _is_mixture(substance),
    )


def _is_mixture(substance: Substance) -> bool:
    """`substances.txt`: alloys and mixtures have no formula, polymers one that ends in n."""
    return not substance.formula or substance.formula.endswith(")n")


def readings_checksum(knowledge: KnowledgeBase) -> str:
    """Only the tests, the ways from handbook values to readings and the table itself count; rules do not."""
    told = zlib.crc32(msgspec.json.encode((knowledge.tests, knowledge.expected)))
    return f"{told:08x}{table_checksum()}"
