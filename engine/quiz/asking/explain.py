"""Questions that ask for the particle-level reason for what is seen at the bench, from `kb/quiz/particle_reasons.yaml`."""

from __future__ import annotations

import random
import re
from collections.abc import Mapping

from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Item, Kind, Option, Question
from spotplate.engine.reasoning.explanation import cited
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.kb.quiz import ParticleReason, WrongReason

_WRONG = 3  # wrong reasons in one question
_NOT_IN_SCHOOL = "not in school"
_SHARED = 0.3  # [-] from this share of common words on, a wrong reason sounds like the right one; a convention
_OF_ITS_KIND = 0.7  # [-] how far what is typical of a finer kind only counts as typical; a convention
# Words that tell nothing of a reason.
_EMPTY = re.compile(
    r"\b(an?|and|are|as|at|be|but|by|for|from|have|held|here|in|into|is|its?|no|not|of|on|one|only|or|so|such|that|the|then|these|"
    r"they|this|those|to|too|which|while|with|would)\b"
)


def items(material: Material) -> tuple[Item, ...]:
    """One item for each reason that holds for a substance of the material; none where the class itself must stay hidden."""
    reasons = material.quiz.reasons.values()
    return tuple(_item(reason) for reason in reasons if explained_by(reason, material))


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """The question that a draw makes of an item: of another substance and with other wrong reasons each time."""
    reason = material.quiz.reasons[item.topic]
    names = explained_by(reason, material)
    if not names:
        return None
    chance = random.Random(f"{item.key} {draw}")
    row = material.rows[chance.choice(names)]
    # Values stand in the order in which the question speaks of them: of several honest ones, the first is shown.
    readings = {
        reading: next(value for value in values if value in row.words[reading]) for reading, values in reason.readings.items()
    }
    wrong = chance.sample(reason.wrong, min(_WRONG, len(reason.wrong)))
    options = [
        Option(reason.right, "", True, reason.why),
        *(Option(each.says, "", False, each.why, each.mix_up) for each in wrong),
    ]
    chance.shuffle(options)
    named = row.name if material.secrecy is Secrecy.NAMES else "an unknown of the set"
    return Question(
        item,
        draw,
        reason.asks.format(substance=named),
        readings,
        tuple(options),
        difficulty(_hardness(reason, wrong, readings, row, material)),
        substance=row.name,
        truth=row.classes,
        subtype=row.subtype,
        because=reason.right,
        sources=(cited(reason.source, material.knowledge),),
    )


def explained_by(reason: ParticleReason, material: Material) -> tuple[str, ...]:
    """The substances of the material that a reason can be asked of; those that no school uses only where there are no others."""
    if material.secrecy is Secrecy.NOTHING or (reason.needs_name and material.secrecy is not Secrecy.NAMES):
        return ()
    if any(material.knowledge.test_of[reading].id not in material.tests for reading in reason.readings):
        return ()
    fitting = [name for name in material.names if holds_for(reason, material.rows[name])]
    met_at_school = [name for name in fitting if material.rows[name].school_use != _NOT_IN_SCHOOL]
    return tuple(met_at_school or fitting)


def holds_for(reason: ParticleReason, row: ReferenceRow) -> bool:
    """Whether a substance is of the kind, and shows a reading asked for whichever of its honest values is seen."""
    return (
        row.class_ in reason.of
        and (not reason.subtypes or row.subtype in reason.subtypes)
        and row.subtype not in reason.other_than
        and (not reason.substances or row.name in reason.substances)
        and row.name not in reason.except_for
        and all(row.words.get(reading) and set(row.words[reading]) <= set(values) for reading, values in reason.readings.items())
    )


def _item(reason: ParticleReason) -> Item:
    class_ = reason.of[0] if len(reason.of) == 1 else ""
    subtype = reason.subtypes[0] if len(reason.subtypes) == 1 else ""
    return Item(Kind.EXPLAIN, reason.id, class_, subtype)


def _hardness(
    reason: ParticleReason, wrong: list[WrongReason], readings: Mapping[str, str], row: ReferenceRow, material: Material
) -> dict[str, float]:
    awkward = material.knowledge.is_awkward(row.subtype)
    alike = [each for each in wrong if _shared_words(each.says, reason.right) >= _SHARED]
    return {
        "the substance is awkward": float(awkward),
        "wrong reasons sound like the right one": len(alike) / len(wrong),
        "its readings are not typical of its class or kind": 1 - _typical(readings, row, material),
    }


def _shared_words(one: str, other: str) -> float:
    """Share of the shorter text's words, little ones left out, that the other one has as well [-]."""
    first, second = _words(one), _words(other)
    return len(first & second) / min(len(first), len(second))


def _words(text: str) -> set[str]:
    """The words that tell something, singular and plural alike."""
    return {word.removesuffix("s") for word in re.findall(r"[a-z]+", _EMPTY.sub("", text.lower()))}


def _typical(readings: Mapping[str, str], row: ReferenceRow, material: Material) -> float:
    """
    The share of substances that may show the same [-], on the mean of the readings.

    Of its class, or in part of its finer kind: that carbonates fizz in acid is known well, though few salts do.
    """
    of_its_class = [other for other in material.reference.rows if other.class_ == row.class_]
    of_its_kind = [other for other in of_its_class if other.subtype == row.subtype]
    return sum(
        max(_share(reading, value, of_its_class), _OF_ITS_KIND * _share(reading, value, of_its_kind))
        for reading, value in readings.items()
    ) / len(readings)


def _share(reading: str, value: str, others: list[ReferenceRow]) -> float:
    """Share of the substances on which a reading is known that may show a value of it [-]."""
    tested = [other.words[reading] for other in others if reading in other.words]
    return sum(value in words for words in tested) / len(tested)
