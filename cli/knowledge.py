"""The knowledge base that the options ask for."""

from __future__ import annotations

from pathlib import Path

from spotplate.engine import check_rules, read_rules
from spotplate.kb import FaultyInputError, KnowledgeBase, load_knowledge


def chosen_knowledge(own: Path | None, extra: Path | None) -> KnowledgeBase:
    """The shipped knowledge base, with a teacher's rules in place of its own or beside them; faulty rules are refused."""
    knowledge = load_knowledge()
    for path, replace in ((own, True), (extra, False)):
        if path is not None:
            knowledge = read_rules(path, knowledge, replace=replace)
    if (own or extra) and (faults := check_rules(knowledge)):
        raise FaultyInputError(faults)
    return knowledge
