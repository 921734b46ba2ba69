"""To which bonding class does a named substance belong?"""

from __future__ import annotations

import random

from spotplate.datasets import Substance
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Question
from spotplate.engine.quiz.wording import special_of
from spotplate.kb import KnowledgeBase

from .classify import class_options

SELDOM_MET = {"students": 0.0, "teacher only": 0.5, "not in school": 1.0}  # [-] how hard it is to know a substance


def items(material: Material) -> tuple[Item, ...]:
    """One item for each class, and for each finer kind in a class; none where names are secret."""
    if material.secrecy is not Secrecy.NAMES:
        return ()
    kinds = {(item.class_, item.subtype): None for item in material.substances.values()}
    return tuple(Item(Kind.NAMED, ", ".join(filter(None, kind)), *kind) for kind in kinds)


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """The question of one of the item's substances, of those that schools use if there are any."""
    own = [each for each in material.substances.values() if (each.class_, each.subtype) == (item.class_, item.subtype)]
    met = [each for each in own if each.school_use != "not in school"] or own
    if not met:
        return None
    substance = random.Random(f"{item.key} {draw}").choice(met)
    truth = substance.defensible_classes()
    return Question(
        item=item,
        draw=draw,
        says=f"To which bonding class does {with_formula(substance)} belong?",
        readings={},
        options=class_options(material.knowledge, truth),
        difficulty=_difficulty(substance, material.knowledge),
        substance=substance.name,
        truth=truth,
        subtype=substance.subtype,
        because=because_of(substance, material.knowledge),
    )


def with_formula(substance: Substance) -> str:
    """
    A substance by its name and, where it has one, its formula.

    Examples
    --------
    >>> from spotplate.engine.lookup import find_substance
    >>> with_formula(find_substance("table salt")), with_formula(find_substance("brass"))
    ('sodium chloride (NaCl)', 'brass')
    >>> with_formula(find_substance("hartshorn salt"))
    'ammonium carbonate, (NH4)2CO3,'
    """
    if not substance.formula:
        return substance.name
    if "(" in substance.formula or " (" in substance.name:  # no brackets within or behind brackets
        return f"{substance.name}, {substance.formula},"
    return f"{substance.name} ({substance.formula})"


def because_of(substance: Substance, knowledge: KnowledgeBase) -> str:
    """
    What the particles of its class are, and what is special of this very substance.

    What is said of its finer kind stands in for that only where nothing is said of the substance itself: it is true of the kind
    at large, and the sentence on the substance often gives the same reason more exactly.
    """
    model = " ".join(knowledge.classes[substance.class_].model.split())
    return " ".join(filter(None, (model, special_of(substance, knowledge))))


def _difficulty(substance: Substance, knowledge: KnowledgeBase) -> Difficulty:
    return difficulty(
        {
            "an awkward substance": float(knowledge.is_awkward(substance.subtype)),
            "two classes can be defended": float(bool(substance.also_defensible)),
            "seldom met at school": SELDOM_MET[substance.school_use],
        }
    )
