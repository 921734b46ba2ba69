"""Reading and writing what people bring or leave; nothing else in the engine touches the disk."""

from .records import read_records, records_from_text
from .rules import read_rules
from .text import read_text
from .writing import check_free, write_whole

__all__ = ["check_free", "read_records", "read_rules", "read_text", "records_from_text", "write_whole"]
