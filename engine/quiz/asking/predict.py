"""What does this reading show with this substance? With most substances of this class?"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence

from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Option, Question
from spotplate.engine.quiz.seen import known_of, reason_of, reason_of_class, shares, would_fit
from spotplate.engine.quiz.wording import capitalised
from spotplate.engine.reasoning import cited
from spotplate.engine.reference_readings import ReferenceRow

_MOST = 0.75  # [-] share of a class that shows a value, so that it is what "most" show
_NEARLY_ALL, _AS_ITS_CLASS = 0.9, 0.4  # [-] share of a class, and how awkward a substance is where it goes with so many
_NO_GUIDE = 0.5  # [-] how hard it is where the class gives no guide
_HARDLY_ANY = 0.1  # [-] share up to which a value is wrong for "most"
_FEWEST_OPTIONS, _USUAL_OPTIONS, _MOST_OPTIONS = 3, 4, 6
_NOT_SAID_OF_WATER = ("in water", "solution conductivity", "solution acidity")
_USED = {"students": 1.0, "teacher only": 0.4, "not in school": 0.0}
_LEAST_LIKELY = 0.05  # [-] so that values which no class mostly shows are offered now and then, too


def items(material: Material) -> tuple[Item, ...]:
    """
    One item for each reading and finer kind, and one for each reading and class.

    Of named substances nothing is asked where names are secret.
    """
    asked = _asked(material)
    named = _items_of_kinds(asked, material) if material.secrecy is Secrecy.NAMES else ()
    return (*named, *_items_of_classes(asked, material))


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """A substance of the kind that the item names, or its class, and values of the reading to choose from."""
    chance = random.Random(f"{item.key} {draw}")
    if item.topic in _topics_of_classes(material):
        return _of_class(item, draw, chance, material)
    return _of_substance(item, draw, chance, material)


def _asked(material: Material) -> tuple[str, ...]:
    """The readings that predictions are asked of."""
    test_of = material.knowledge.test_of
    return tuple(name for name, seen in material.quiz.seen.items() if seen.asks and test_of[name].id in material.tests)


# --- a named substance -----------------------------------------------------------------------------


def _items_of_kinds(asked: Iterable[str], material: Material) -> tuple[Item, ...]:
    found: dict[Item, None] = {}
    for reading in asked:
        for row in _rows(material):
            if _can_be_asked(row, reading, material):
                topic = f"{reading}: {', '.join(filter(None, (row.class_, row.subtype)))}"
                found[Item(Kind.PREDICT, topic, row.class_, row.subtype)] = None
    return tuple(found)


def _rows(material: Material) -> Iterable[ReferenceRow]:
    return (row for row in material.reference.rows if row.name in material.substances and _USED[row.school_use])


def _can_be_asked(row: ReferenceRow, reading: str, material: Material) -> bool:
    """Whether the reading can be made, all that it may show has a reason, and enough values are left to be wrong."""
    values = row.words.get(reading, ())
    if not values or (row.name == "water" and reading in _NOT_SAID_OF_WATER):
        return False
    reasoned = all(reason_of(row, reading, value, material.quiz) for value in values)
    return reasoned and _suffice(values, _clearly_other(values, reading, material))


def _suffice(right: Sequence[str], wrong: Sequence[str]) -> bool:
    """Whether there is a right and a wrong value, and options enough in all."""
    return bool(right and wrong) and len(right) + len(wrong) >= _FEWEST_OPTIONS


def _clearly_other(shown: Sequence[str], reading: str, material: Material) -> list[str]:
    """The values that are not shown, nor close to what is shown."""
    close = {other for value in shown for other in known_of(reading, value, material.quiz).beside}
    return [value for value in material.reference.readings[reading] if value not in shown and value not in close]


def _of_substance(item: Item, draw: int, chance: random.Random, material: Material) -> Question | None:
    reading = item.topic.partition(": ")[0]
    own = [
        row
        for row in _rows(material)
        if (row.class_, row.subtype) == (item.class_, item.subtype) and _can_be_asked(row, reading, material)
    ]
    if not own:
        return None
    row = chance.choices(own, [_USED[each.school_use] for each in own])[0]
    shown = row.words[reading]
    other = _some(_clearly_other(shown, reading, material), _USUAL_OPTIONS - len(shown), reading, chance, material)
    quiz, reference = material.quiz, material.reference
    options = [_option(value, reading, reason_of(row, reading, value, quiz), material, right=True) for value in shown]
    options += [_option(value, reading, would_fit(reading, value, quiz, reference, row.class_), material) for value in other]
    return _question(
        item,
        draw,
        f"{capitalised(row.name)}, {material.quiz.seen[reading].asks}",
        _shuffled(options, chance),
        _difficulty_of(row, reading, len(options), material),
        reading,
        material,
        substance=row.name,
        truth=row.classes,
    )


def _some(values: Sequence[str], wanted: int, reading: str, chance: random.Random, material: Material) -> list[str]:
    """Some of the values, at least as many as make three options of one right one; rather those that some class mostly shows."""
    left = list(values)
    chosen: list[str] = []
    wanted = max(wanted, _FEWEST_OPTIONS - 1)
    by_class = shares(reading, material.reference).values()
    while left and len(chosen) < min(wanted, _MOST_OPTIONS):
        weights = [_LEAST_LIKELY + max((share[value] for share in by_class), default=0.0) for value in left]
        chosen.append(left.pop(chance.choices(range(len(left)), weights)[0]))
    return chosen


def _difficulty_of(row: ReferenceRow, reading: str, options: int, material: Material) -> Difficulty:
    usual = shares(reading, material.reference).get(row.class_)
    share = max(usual.get(value, 0.0) for value in row.words[reading]) if usual else 0.0
    unlike = ("most of its class show something else", 1 - share) if usual else ("its class gives no guide", _NO_GUIDE)
    awkward = material.knowledge.is_awkward(row.subtype)
    return difficulty(
        {
            # An awkward substance that shows what its class mostly does misleads only those who think of its oddness.
            "the substance is of an awkward kind": awkward * (_AS_ITS_CLASS if share >= _NEARLY_ALL else 1.0),
            unlike[0]: unlike[1],
            "there are many values to choose from": (options - _FEWEST_OPTIONS) / (_MOST_OPTIONS - _FEWEST_OPTIONS),
        }
    )


# --- most substances of a class ----------------------------------------------------------------------


def _topics_of_classes(material: Material) -> dict[str, tuple[str, str]]:
    """Topic → class and reading."""
    return {f"{name}: {reading}": (name, reading) for name in material.knowledge.classes for reading in _asked(material)}


def _items_of_classes(asked: Iterable[str], material: Material) -> tuple[Item, ...]:
    return tuple(
        Item(Kind.PREDICT, f"{name}: {reading}", name)
        for reading in asked
        for name in material.classes_told
        if _values_of_class(name, reading, material) is not None
    )


def _values_of_class(class_: str, reading: str, material: Material) -> tuple[list[str], list[str]] | None:
    """What most substances of a class show, and what hardly any do; None where no question can be made of it."""
    share = shares(reading, material.reference).get(class_, {})
    right = [value for value, part in share.items() if part >= _MOST and reason_of_class(class_, reading, value, material.quiz)]
    wrong = [value for value in _clearly_other(right, reading, material) if share.get(value, 1.0) <= _HARDLY_ANY]
    return (right, wrong) if _suffice(right, wrong) else None


def _of_class(item: Item, draw: int, chance: random.Random, material: Material) -> Question | None:
    class_, reading = _topics_of_classes(material)[item.topic]
    found = _values_of_class(class_, reading, material)
    if found is None:
        return None
    right, wrong = found
    quiz, reference = material.quiz, material.reference
    options = [_option(value, reading, reason_of_class(class_, reading, value, quiz), material, right=True) for value in right]
    options += [
        _option(value, reading, would_fit(reading, value, quiz, reference), material)
        for value in _some(wrong, _USUAL_OPTIONS - len(right), reading, chance, material)
    ]
    share = shares(reading, material.reference)[class_]
    return _question(
        item,
        draw,
        f"Most {class_} substances, {material.quiz.seen[reading].asks}",
        _shuffled(options, chance),
        difficulty(
            {
                "some of the class show something else": 4 * (1 - max(share[value] for value in right)),
                "there are many values to choose from": (len(options) - _FEWEST_OPTIONS) / (_MOST_OPTIONS - _FEWEST_OPTIONS),
            }
        ),
        reading,
        material,
        truth=(class_,),
    )


# --- both ----------------------------------------------------------------------------------------------


def _option(value: str, reading: str, why: str, material: Material, *, right: bool = False) -> Option:
    return Option(known_of(reading, value, material.quiz).option or value, value, right, why)


def _shuffled(options: Sequence[Option], chance: random.Random) -> tuple[Option, ...]:
    return tuple(chance.sample(options, len(options)))


def _question(
    item: Item,
    draw: int,
    says: str,
    options: tuple[Option, ...],
    hard: Difficulty,
    reading: str,
    material: Material,
    substance: str = "",
    truth: tuple[str, ...] = (),
) -> Question:
    return Question(
        item=item,
        draw=draw,
        says=says,
        readings={},
        options=options,
        difficulty=hard,
        substance=substance,
        truth=truth,
        subtype=item.subtype,
        asked=reading,
        because=next(option.why for option in options if option.right),
        sources=(cited(material.quiz.seen[reading].source, material.knowledge),),
    )
