"""Questions of open textbooks, with the answer that the book gives."""

from __future__ import annotations

from spotplate.datasets import Substance
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Question
from spotplate.engine.reasoning import cited
from spotplate.kb import KnowledgeBase
from spotplate.kb.quiz import PublishedQuestion

from .classify import class_options
from .named import SELDOM_MET

_MOLECULAR = {"polar molecular", "nonpolar molecular"}
_NOT_PARTED = "The book asks for a molecular solid only, so either of the two molecular classes counts."
_AT_A_GLANCE, _FEWEST = 8, 3  # readings


def items(material: Material) -> tuple[Item, ...]:
    """One item for each question; none for an unknowns set, which they are not about."""
    if material.secrecy is not Secrecy.NAMES:
        return ()
    return tuple(
        Item(Kind.PUBLISHED, entry.id, entry.classes[0] if len(entry.classes) == 1 else "")
        for entry in material.quiz.published.values()
    )


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """The question as it is written; every draw gives the same."""
    entry = material.quiz.published.get(item.topic)
    if entry is None:
        return None
    known = material.substances.get(entry.substance)
    return Question(
        item=item,
        draw=draw,
        says=" ".join(entry.asks.split()),
        readings=dict(entry.readings),
        options=class_options(material.knowledge, entry.classes),
        difficulty=_difficulty(entry, known, material.knowledge),
        substance=known.name if known else "",
        truth=entry.classes,
        subtype=known.subtype if known else "",
        because=_because(entry),
        sources=(cited(entry.source, material.knowledge),),
    )


def _because(entry: PublishedQuestion) -> str:
    because = " ".join(entry.because.split())
    return f"{because} {_NOT_PARTED}" if set(entry.classes) == _MOLECULAR else because


def _difficulty(entry: PublishedQuestion, known: Substance | None, knowledge: KnowledgeBase) -> Difficulty:
    if not entry.readings:
        return difficulty(
            {
                "an awkward substance": float(known is not None and knowledge.is_awkward(known.subtype)),
                "seldom met at school": SELDOM_MET[known.school_use] if known else 1.0,
            }
        )
    many = len(entry.readings)
    return difficulty(
        {
            f"only {many} readings": max(0.0, (_AT_A_GLANCE - many) / (_AT_A_GLANCE - _FEWEST)),
            "the readings leave two classes open": float(len(entry.classes) > 1),
        }
    )
