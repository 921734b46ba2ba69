"""What a chemist knows: classes, bench tests, facts, rules and cautions, all in YAML, with one loader and one schema."""

from .errors import (
    MOST_FAULTS,
    Fault,
    FaultyInputError,
    OutOfRangeError,
    Place,
    SpotplateError,
    nearest,
    not_accepted,
    printable,
    shown,
)
from .loading import load_knowledge, with_rules
from .quantity import Interval, QuantityError, names_unit, parse_quantity, to_si
from .schema import BenchTest, Condition, ExpectedReading, KnowledgeBase, ReadingKind, Rule, Source, Way
from .strict_yaml import compose, decode, read_into

__all__ = [
    "MOST_FAULTS",
    "BenchTest",
    "Condition",
    "ExpectedReading",
    "Fault",
    "FaultyInputError",
    "Interval",
    "KnowledgeBase",
    "OutOfRangeError",
    "Place",
    "QuantityError",
    "ReadingKind",
    "Rule",
    "Source",
    "SpotplateError",
    "Way",
    "compose",
    "decode",
    "load_knowledge",
    "names_unit",
    "nearest",
    "not_accepted",
    "parse_quantity",
    "printable",
    "read_into",
    "shown",
    "to_si",
    "with_rules",
]
