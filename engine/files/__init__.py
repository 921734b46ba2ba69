"""Reading and writing what people bring or leave; nothing else in the engine touches the disk."""

from .records import read_records, records_from_text
from .rules import read_rules

__all__ = ["read_records", "read_rules", "records_from_text"]
