"""Putting a quiz together: which items, in which order, how hard; the same seed gives the same quiz."""

from __future__ import annotations

import random
import re
import zlib
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

import msgspec

from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, shown

from .asking import asking
from .material import Material
from .question import Item, Kind, Level, Question
from .wording import listed

DRAWS = 0xFFFF  # so many different draws of an item there are
_TRIES = 8  # draws of one item before it is passed over
_ROUNDS_FOR_LEVEL = (3, _TRIES - 3)  # the same for a level: every item is tried a little before any is tried much
_TOKEN = re.compile(r"([0-9a-f]{8})-([0-9a-f]{1,4})-([0-9a-f]{4})")
_SHARE = {Kind.CLASSIFY: 3, Kind.EXPLAIN: 2, Kind.TELL_APART: 2, Kind.PREDICT: 2}  # 1 for every other kind
_MIDDLE = {Level.EASY: 0.15, Level.MEDIUM: 0.45, Level.HARD: 0.8}  # [-]
_WEAK = 3.0  # how much oftener a weak item is drawn
_UNLIKELY = 0.05  # the same of an item whose questions are seldom of the level wanted


class Wanted(msgspec.Struct, frozen=True):
    """
    What a quiz shall be like.

    `kinds` to ask of, all when empty; `level` how hard, any when None. `due` are keys of items that come first,
    in this order; `weak` keys of items to prefer after them.
    """

    number: int = 10
    seed: int = 0
    kinds: Collection[Kind] = ()
    level: Level | None = None
    due: Sequence[str] = ()
    weak: Collection[str] = ()


class Quiz(msgspec.Struct, frozen=True):
    """A quiz: its seed, its questions, and `notes` on wishes that could not be met."""

    seed: int
    questions: tuple[Question, ...]
    notes: tuple[str, ...] = ()


def make_quiz(wanted: Wanted, material: Material) -> Quiz:
    """
    The quiz that a seed gives: due items first, then a mixture of kinds, no item twice.

    Raises
    ------
    FaultyInputError
        If no question of the kinds wanted can be made of the material
    """
    chance = random.Random(f"quiz {wanted.seed}")
    by_kind = _items(wanted, material)
    questions = _due(by_kind, wanted, chance, material)
    asked = {question.item.key for question in questions}
    items = _in_turns(by_kind, wanted, chance, asked, material.knowledge)
    fitting, others = _fitting(items, wanted.number - len(questions), wanted.level, chance, material)
    questions += fitting
    notes = []
    if wanted.level and others and len(questions) < wanted.number:
        of_level = sum(question.difficulty.level is wanted.level for question in questions)
        notes.append(f"Only {of_level} of the questions are {wanted.level}; the others come as near to it as may be.")
        questions += others[: wanted.number - len(questions)]
    if len(questions) < wanted.number:
        notes.append(f"Only {len(questions)} different questions could be made instead of {wanted.number}.")
    return Quiz(wanted.seed, tuple(questions), tuple(notes))


def _due(by_kind: Mapping[Kind, Sequence[Item]], wanted: Wanted, chance: random.Random, material: Material) -> list[Question]:
    """What is due, whatever its level."""
    of_key = {item.key: item for items in by_kind.values() for item in items}
    found: list[Question] = []
    for key in dict.fromkeys(wanted.due):
        if len(found) < wanted.number and key in of_key and (question := _posed(of_key[key], _TRIES, chance, material)):
            found.append(question)
    return found


def _fitting(
    items: Iterable[Item], number: int, level: Level | None, chance: random.Random, material: Material
) -> tuple[list[Question], list[Question]]:
    """So many questions of the level wanted, if there are, and those of another level that were met, the nearest first."""
    found: list[Question] = []
    others: dict[str, Question] = {}
    for tries in _ROUNDS_FOR_LEVEL if level else (_TRIES,):
        missed = []
        for item in items:
            if len(found) >= number:
                break
            question = _posed(item, tries, chance, material, level)
            if question and (level is None or question.difficulty.level is level):
                found.append(question)
                others.pop(item.key, None)
            else:
                missed.append(item)
                others |= {item.key: question} if question else {}
        items = missed
    middle = _MIDDLE[level] if level else 0.0
    return found, sorted(others.values(), key=lambda question: abs(question.difficulty.number - middle))


def _items(wanted: Wanted, material: Material) -> dict[Kind, tuple[Item, ...]]:
    """Every item of the kinds wanted."""
    kinds = [kind for kind in Kind if not wanted.kinds or kind in wanted.kinds]
    by_kind = {kind: items for kind in kinds if (items := asking(kind).items(material))}
    if not by_kind:
        told = listed([f"“{kind}”" for kind in kinds], "or")
        says = f"no question of the kind {told} can be made of this unknowns set without telling what is in it."
        raise FaultyInputError([Fault("the quiz", says)])
    return by_kind


def _in_turns(
    by_kind: Mapping[Kind, Sequence[Item]],
    wanted: Wanted,
    chance: random.Random,
    asked: Collection[str],
    knowledge: KnowledgeBase,
) -> Iterator[Item]:
    """Items to try: kinds in turns by their share, items of a kind in any order, weak and likely ones oftener first."""

    def weight(item: Item) -> float:
        unlikely = wanted.level is (Level.EASY if knowledge.is_awkward(item.subtype) else Level.HARD)
        return (_WEAK if item.key in wanted.weak else 1.0) * (_UNLIKELY if unlikely else 1.0)

    waiting = {}
    for kind, items in by_kind.items():
        left = [item for item in items if item.key not in asked]
        # The largest powers of uniform numbers are a weighed sample without replacement (Efraimidis and Spirakis, 2006).
        waiting[kind] = sorted(left, key=lambda item: chance.random() ** (1 / weight(item)))
    while any(waiting.values()):
        turn = [kind for kind in waiting for _ in range(_SHARE.get(kind, 1))]
        chance.shuffle(turn)
        for kind in turn:
            if waiting[kind]:
                yield waiting[kind].pop()


def _posed(item: Item, tries: int, chance: random.Random, material: Material, level: Level | None = None) -> Question | None:
    """A question on an item, of the level wanted if a draw gives one; None where no draw gives any."""
    other = None
    for _ in range(tries):
        question = asking(item.kind).pose(item, chance.randrange(DRAWS), material)
        if question and (level is None or question.difficulty.level is level):
            return question
        other = other or question
    return other


# --- names of questions ------------------------------------------------------------------------------


def token(question: Question, material: Material) -> str:
    """The short name of a question, from which it can be posed again and which tells nothing of its answer."""
    return f"{_mark_of(question.item, question.draw)}-{question.draw:x}-{material.mark}"


def question_of(text: str, material: Material) -> Question:
    """
    The question that a token names.

    Raises
    ------
    FaultyInputError
        If it is no token, or one of other material (another set, other rules, another version)
    """
    parts = _TOKEN.fullmatch(text.strip())
    if parts is None:
        raise FaultyInputError([Fault("the question", f"{shown(text)} is no token of a question, such as 1f0c2b3a-5d-09af.")])
    mark, made_of = parts[1], parts[3]
    draw = int(parts[2], 16)
    if made_of != material.mark:
        says = f"{shown(text)} was made of other material: give the same --set and --assessment as for the quiz, or ask anew."
        raise FaultyInputError([Fault("the question", says)])
    items = (item for kind in Kind for item in asking(kind).items(material) if _mark_of(item, draw) == mark)
    item = next(items, None)
    question = asking(item.kind).pose(item, draw, material) if item else None
    if question is None:
        raise FaultyInputError([Fault("the question", f"there is no question {shown(text)}.")])
    return question


def _mark_of(item: Item, draw: int) -> str:
    """Eight signs of an item, others with each draw, since one answer must not tell that of another question on the item."""
    return f"{zlib.crc32(f'{item.key} {draw}'.encode()):08x}"
