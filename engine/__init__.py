"""Reasoning over readings: records, expected readings, identification. It prints nothing and asks nothing."""

from spotplate.kb import FaultyInputError, Interval, KnowledgeBase, SpotplateError, load_knowledge

from .expected import expected_readings, expected_records
from .files import read_records, read_rules, records_from_text
from .identification import Colleagues, Identification, identify
from .lookup import find_substance
from .reasoning import VerdictKind
from .record import Record, make_record
from .rule_check import check_rules

__all__ = [
    "Colleagues",
    "FaultyInputError",
    "Identification",
    "Interval",
    "KnowledgeBase",
    "Record",
    "SpotplateError",
    "VerdictKind",
    "check_rules",
    "expected_readings",
    "expected_records",
    "find_substance",
    "identify",
    "load_knowledge",
    "make_record",
    "read_records",
    "read_rules",
    "records_from_text",
]
