"""`spotplate quiz`: questions to practise with, one at a time, and a reply to every guess."""

from __future__ import annotations

import random
import sys
from typing import Annotated

import msgspec
import typer

from spotplate.engine.quiz.material import Material
from spotplate.engine.quiz.quiz import DRAWS, Quiz, make_quiz

from .exit_codes import INTERRUPTED
from .json_shape import print_json
from .options import AsJson, Learner, NoMemory, Plain, ProgressPath, QuizAssessment, QuizSet
from .quiz_dialogue import QuizDialogue
from .quiz_material import (
    OfKind,
    OfLevel,
    Questions,
    chosen_material,
    follow_up,
    public_question,
    refuse_empty,
    wanted_quiz,
)
from .quiz_memory import QuizMemory, memory_for, tell
from .views.page import show
from .views.quiz import opening_page

_SEEDS = range(1, 10_000)  # from which a seed is drawn that is short enough to be told to others


def quiz(
    questions: Questions = 10,
    seed: Annotated[
        int | None,
        typer.Option(
            "--seed",
            help="The same seed gives the same quiz, whoever takes it; without it, one is drawn, and what you are due to "
            "practise comes first.",
            show_default=False,
        ),
    ] = None,
    kind: OfKind = None,
    level: OfLevel = "",
    of_set: QuizSet = None,
    assessment: QuizAssessment = False,
    learner: Learner = None,
    progress: ProgressPath = None,
    no_memory: NoMemory = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Practise with a quiz: one question at a time, and a reply that says why a guess was wrong.

    Every answer is kept before its reply is shown. Exit code 0 when the quiz was ended, 130 after Ctrl-C.
    """
    material = chosen_material(of_set, assessment=assessment)
    wanted = wanted_quiz(questions, kind or [], level, seed if seed is not None else random.SystemRandom().choice(_SEEDS))
    # Another front end keeps no answers here unless it says whose they are.
    memory = memory_for(learner, progress, keep=not (no_memory or assessment or (as_json and learner is None)))
    if seed is None:
        wanted = msgspec.structs.replace(wanted, due=memory.due(), weak=memory.weak())
    made = make_quiz(wanted, material)
    refuse_empty(made)
    if as_json:
        tell(memory.trouble)
        numbered = enumerate(made.questions, 1)
        print_json(
            {
                "seed": made.seed,
                "notes": list(made.notes),
                "questions": [public_question(question, number, material) for number, question in numbered],
            }
        )
        return
    due = sum(question.item.key in set(wanted.due) for question in made.questions)
    _hold(made, material, memory, due=due, plain=plain)


def _hold(made: Quiz, material: Material, memory: QuizMemory, *, due: int, plain: bool) -> None:
    """Hold the dialogue; Ctrl-C ends it with every answer kept."""
    show(opening_page(made.seed, made.notes, len(made.questions), due=due, kept=memory.told()), plain=plain)
    dialogue = QuizDialogue(made, material, memory, lambda key: follow_up(key, made.seed % DRAWS, material), plain=plain)
    try:
        dialogue.run()
    except KeyboardInterrupt:
        print()
        kept = dialogue.interrupted()
        print(f"Stopped. {kept}".strip(), file=sys.stderr)
        raise typer.Exit(INTERRUPTED) from None
