"""The reference table as the bench sees it: every substance with the readings to expect of it.

Working these out of the handbook values takes longer than an identification, so they are kept in
`reference_readings.json`, which is used only while it fits the handbook values and the knowledge base.
"""

from __future__ import annotations

import functools
import hashlib
import math
from pathlib import Path

import msgspec

from spotplate.datasets import Substance, load_substances, table_checksum
from spotplate.kb import Interval, KnowledgeBase, load_knowledge

from .expected import expected_readings

FILE = Path(__file__).parent / "reference_readings.json"


class Number(msgspec.Struct, frozen=True):
    """A number to expect, in SI; with `more`, all the bench can say is that the value lies above it."""

    value: float
    more: bool = False

    def interval(self, unit: str) -> Interval:
        return Interval(self.value, math.inf if self.more else self.value, unit, excluded=self.more)


class ReferenceRow(msgspec.Struct, frozen=True):
    """
    One reference substance: what is known of its kind, and its expected readings.

    `words` holds every honest value of each reading from a closed list, `numbers` one value of each that is a number.
    A reading in neither is not known of this substance, or cannot be made on it.
    """

    name: str
    classes: tuple[str, ...]
    subtype: str
    school_use: str
    words: dict[str, tuple[str, ...]]
    numbers: dict[str, Number]

    @property
    def class_(self) -> str:
        return self.classes[0]


class ReferenceReadings(msgspec.Struct, frozen=True, dict=True):
    """Every reference substance, and the checksum of what the rows were made from."""

    made_from: str
    rows: tuple[ReferenceRow, ...]

    def without(self, name: str) -> ReferenceReadings:
        """The table as if it did not hold a substance, so that it can be judged like one never seen."""
        return ReferenceReadings(self.made_from, tuple(row for row in self.rows if row.name != name))


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
    return ReferenceReadings(readings_checksum(knowledge), tuple(reference_row(item, knowledge) for item in load_substances()))


def reference_row(substance: Substance, knowledge: KnowledgeBase) -> ReferenceRow:
    """One substance with its expected readings."""
    words: dict[str, tuple[str, ...]] = {}
    numbers: dict[str, Number] = {}
    for reading, values in expected_readings(substance, knowledge).items():
        first = values[0]
        if isinstance(first, Interval):
            numbers[reading] = Number(first.low, math.isinf(first.high))
        else:
            words[reading] = tuple(str(value) for value in values)
    return ReferenceRow(substance.name, substance.defensible_classes(), substance.subtype, substance.school_use, words, numbers)


def readings_checksum(knowledge: KnowledgeBase) -> str:
    """Only the tests, the ways from handbook values to readings and the table itself count; rules do not."""
    digest = hashlib.sha256(msgspec.json.encode((knowledge.tests, knowledge.expected)))
    digest.update(table_checksum().encode())
    return digest.hexdigest()[:16]
