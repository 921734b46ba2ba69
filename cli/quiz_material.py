"""What the options of a quiz ask for: the material, the kinds and the level of its questions."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from spotplate.engine.quiz.asking import asking
from spotplate.engine.quiz.material import Material, set_material, table_material
from spotplate.engine.quiz.question import Kind, Level, Question
from spotplate.engine.quiz.quiz import DRAWS, Quiz, Wanted, token
from spotplate.kb import Fault, FaultyInputError, load_knowledge, not_accepted

from .quiz_answers import letter
from .records import hidden_set

MOST_QUESTIONS = 200
_TRIES = 8  # draws of a follow-up question

# Options that a quiz on the screen and one on paper share; here, since other commands need none of this.
Questions = Annotated[int, typer.Option("--questions", help=f"Number of questions, 1 to {MOST_QUESTIONS}.")]
OfKind = Annotated[
    list[str] | None,
    typer.Option(
        "--kind",
        metavar="KIND",
        help=f"Only this kind of question: {', '.join(Kind)}. May be repeated.",
        show_default=False,
    ),
]
OfLevel = Annotated[str, typer.Option("--level", metavar="LEVEL", help="How hard: easy, medium or hard.", show_default=False)]


def chosen_material(of_set: Path | None, *, assessment: bool) -> Material:
    """The reference table, or the unknowns set that --set names."""
    if of_set is None:
        if assessment:
            raise FaultyInputError([Fault("option --assessment", "it keeps classes of a set back; name the set with --set.")])
        return table_material()
    knowledge = load_knowledge()
    return set_material(hidden_set(of_set, knowledge), assessment=assessment, knowledge=knowledge)


def wanted_quiz(questions: int, kinds: Sequence[str], level: str, seed: int) -> Wanted:
    """What the options wish of a quiz; every fault at once."""
    faults: list[Fault] = []
    if not 1 <= questions <= MOST_QUESTIONS:
        faults.append(Fault("option --questions", f"{questions:,} stands here; 1 to {MOST_QUESTIONS} are accepted."))
    found = {given: _spelt(given) for given in kinds}
    for given, kind in found.items():
        if kind not in list(Kind):
            faults.append(Fault("option --kind", not_accepted(given, "a kind of question", [*map(str, Kind)])))
    hard = _spelt(level)
    if hard and hard not in list(Level):
        faults.append(Fault("option --level", not_accepted(level, "a level", [*map(str, Level)])))
    if faults:
        raise FaultyInputError(faults)
    chosen = tuple(dict.fromkeys(Kind(kind) for kind in found.values()))
    return Wanted(questions, seed, chosen, Level(hard) if hard else None)


def refuse_empty(made: Quiz) -> None:
    """Tell why there is no question at all, where that is so."""
    if not made.questions:
        raise FaultyInputError([Fault("", note) for note in made.notes or ("no such question can be asked.",)])


def public_question(question: Question, number: int, material: Material) -> dict[str, Any]:
    """What another front end may know of a question before it is answered; nothing here gives the answer away."""
    return {
        "token": token(question, material),
        "number": number,
        "kind": question.kind.value,
        "says": question.says,
        "readings": dict(question.readings),
        "options": [{"letter": letter(place), "says": option.says} for place, option in enumerate(question.options)],
        # Without its parts: what makes a question hard is a hint at its answer.
        "difficulty": {"number": round(question.difficulty.number, 4), "level": question.difficulty.level.value},
    }


def follow_up(key: str, draw: int, material: Material) -> Question | None:
    """The question of the item with this key, from this draw or the next that gives one; None where there is none."""
    module = asking(Kind(key.partition("/")[0]))
    item = next((item for item in module.items(material) if item.key == key), None)
    if item is None:
        return None
    posed = (module.pose(item, each % DRAWS, material) for each in range(draw, draw + _TRIES))
    return next(filter(None, posed), None)


def _spelt(given: str) -> str:
    """A kind as it is written with blanks or with hyphens between its words."""
    folded = " ".join(given.casefold().split())
    by_hyphens = {kind.replace(" ", "-"): kind.value for kind in Kind}
    return by_hyphens.get(folded.replace(" ", "-"), folded)
