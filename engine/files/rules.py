"""A teacher's rule base from a file, in place of the shipped rules or beside them."""

from __future__ import annotations

from pathlib import Path

from spotplate.kb import KnowledgeBase, with_rules

from .text import read_text


def read_rules(path: Path, base: KnowledgeBase, *, replace: bool) -> KnowledgeBase:
    """`base` with the rules of a file; `FaultyInputError` with every fault that can be told without running them."""
    return with_rules(base, read_text(path), str(path), replace=replace)
