"""Reading and writing what people bring or leave; nothing else in the engine touches the disk."""

from .records import read_records, records_from_text
from .rules import read_rules
from .text import read_text

__all__ = ["read_records", "read_rules", "read_text", "records_from_text"]
