"""What handbooks say: the reference table of substances with a source for every value, and demo records."""

from .loading import (
    HazardStatement,
    Substance,
    demo_record,
    load_hazard_statements,
    load_label_elements,
    load_sources,
    load_substances,
    table_checksum,
    tree_data,
)

__all__ = [
    "HazardStatement",
    "Substance",
    "demo_record",
    "load_hazard_statements",
    "load_label_elements",
    "load_sources",
    "load_substances",
    "table_checksum",
    "tree_data",
]
