"""Why a substance or a whole class shows a value of a reading, and what the value would fit where it is not shown."""

from __future__ import annotations

from collections.abc import Sequence

from spotplate.engine.reference_readings import ReferenceReadings, ReferenceRow
from spotplate.kb.quiz import QuizKnowledge, SeenValue

from .wording import listed

_MOSTLY = 0.6  # [-] share of a class from which on it mostly shows a value
_FEWEST = 8  # substances of a class, below which nothing is said of most of them
_ENOUGH = 0.3  # [-] share of a class on which a reading must be known; that of a few odd ones tells nothing of most
_TOO_MANY = 3  # classes, above which naming them says nothing
_WORTH_SHARING = 2  # words at the end, such as “in water”, that are not said twice


def known_of(reading: str, value: str, quiz: QuizKnowledge) -> SeenValue:
    """What is known to say of a value of a reading; of some it is nothing."""
    values = quiz.seen[reading].values if reading in quiz.seen else ()
    return next((seen for seen in values if seen.is_ == value), SeenValue(value))


def reason_of(row: ReferenceRow, reading: str, value: str, quiz: QuizKnowledge) -> str:
    """Why a substance shows a value; empty where nothing is known to say of it."""
    known = known_of(reading, value, quiz).because
    return next((reason.says for reason in known if reason.speaks_for(row.class_, row.subtype, row.name)), "")


def reason_of_class(class_: str, reading: str, value: str, quiz: QuizKnowledge) -> str:
    """Why most substances of a class show a value; empty where nothing is known to say of them all."""
    known = known_of(reading, value, quiz).because
    return next((each.says for each in known if class_ in each.of and not each.subtypes and not each.names), "")


def shares(reading: str, reference: ReferenceReadings) -> dict[str, dict[str, float]]:
    """
    Class → value → share of its substances that may show it [-].

    Of a class on few of whose substances the reading is known nothing is told.
    """
    kept: dict[str, dict[str, dict[str, float]]] = reference.__dict__.setdefault("shares_by_class", {})
    if reading not in kept:
        kept[reading] = _shares(reading, reference)
    return kept[reading]


def _shares(reading: str, reference: ReferenceReadings) -> dict[str, dict[str, float]]:
    counts: dict[str, dict[str, int]] = {}
    made: dict[str, int] = {}
    for row in reference.rows:
        for value in row.words.get(reading, ()):
            of_class = counts.setdefault(row.class_, dict.fromkeys(reference.readings[reading], 0))
            of_class[value] += 1
        made[row.class_] = made.get(row.class_, 0) + (reading in row.words)
    return {
        name: {value: count / made[name] for value, count in of_class.items()}
        for name, of_class in counts.items()
        if made[name] >= max(_FEWEST, _ENOUGH * reference.classes.count(name))
    }


def mostly_shown_by(reading: str, value: str, reference: ReferenceReadings) -> tuple[str, ...]:
    """The classes most of whose substances show a value."""
    return tuple(name for name, share in shares(reading, reference).items() if share[value] >= _MOSTLY)


def would_fit(reading: str, value: str, quiz: QuizKnowledge, reference: ReferenceReadings, other_than: str = "") -> str:
    """
    What a value would fit that is not shown: the kind of reason, and the classes that mostly show it.

    `other_than` is the class of the substance in question, which then is an exception to it.
    """
    says = known_of(reading, value, quiz).would
    classes = mostly_shown_by(reading, value, reference)
    if not classes or len(classes) > _TOO_MANY:
        return says
    told = f"{says} Most {listed(classes)} substances show it"
    return f"{told}, but not this one." if other_than in classes else f"{told}."


def told_together(phrases: Sequence[str], joined_by: str) -> str:
    """
    What one does, joined; words that all have in common at their ends are said once.

    Examples
    --------
    >>> told_together(["chars on the hot plate", "melts on the hot plate"], "or")
    'chars or melts on the hot plate'
    >>> told_together(["dissolve in water", "give no lasting foam with water"], "and")
    'dissolve in water and give no lasting foam with water'
    """
    if not phrases:
        return ""
    split = [phrase.split() for phrase in phrases]
    common = 0
    while len(phrases) > 1 and len({tuple(words[-common - 1 :]) for words in split}) == 1:
        common += 1
    if common < _WORTH_SHARING:
        return listed(tuple(phrases), joined_by)
    return f"{listed(tuple(' '.join(words[:-common]) for words in split), joined_by)} {' '.join(split[0][-common:])}"
