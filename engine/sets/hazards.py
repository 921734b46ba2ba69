"""How hazardous a substance is for choosing it as a vial; kb/set_planning.yaml gives levels and reasons."""

from __future__ import annotations

from collections.abc import Iterator

from spotplate.datasets import Substance
from spotplate.kb import HazardLevel, KnowledgeBase, NeverPlanned

_CODE = 4  # signs of a code without the letters that refine it, as in H350i


def hazard_level(substance: Substance, knowledge: KnowledgeBase) -> HazardLevel:
    """The level of its worst hazard statement; a statement that no level holds counts as the highest."""
    levels = knowledge.set_planning.levels
    of_code = {code: level for level in levels for code in level.statements}
    return max((of_code.get(code, levels[-1]) for code in _codes(substance)), key=lambda level: level.level, default=levels[0])


def never_planned(substance: Substance, knowledge: KnowledgeBase) -> tuple[NeverPlanned, ...]:
    """Every reason for which a substance is never planned for students."""
    codes = set(_codes(substance))
    return tuple(reason for reason in knowledge.set_planning.never if codes & set(reason.statements))


def _codes(substance: Substance) -> Iterator[str]:
    """Codes without refining letters; a combined statement, as H300+H310, counts as each of its parts."""
    for statement in substance.hazards():
        for code in statement.split("+"):
            yield code.strip()[:_CODE]
