"""`spotplate mark`: marks one answer to a question of `spotplate quiz --json`, for another front end."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, TypeVar

import typer

from spotplate.engine.quiz.marking import mark as mark_answer
from spotplate.engine.quiz.material import Material
from spotplate.engine.quiz.question import Marked, Question
from spotplate.engine.quiz.quiz import question_of
from spotplate.kb import Fault, FaultyInputError

from .exit_codes import NOT_SETTLED
from .json_shape import plain_data, print_json
from .options import AsJson, Learner, NoMemory, Plain, ProgressPath, QuizAssessment, QuizSet
from .quiz_answers import certainty_of, place_of
from .quiz_material import chosen_material, follow_up, public_question
from .quiz_memory import answered_now, memory_for, tell
from .views.page import show
from .views.quiz import reply_page, told_difficulty

Found = TypeVar("Found")


def mark(
    token: Annotated[str, typer.Argument(help="The question: the “token” that quiz --json gives it.", show_default=False)],
    answer: Annotated[str, typer.Argument(help="The answer: its letter, its number, or its words.", show_default=False)],
    sure: Annotated[
        str, typer.Option("--sure", metavar="PERCENT", help="How sure the learner is, 0 to 100.", show_default=False)
    ] = "",
    of_set: QuizSet = None,
    assessment: QuizAssessment = False,
    learner: Learner = None,
    progress: ProgressPath = None,
    no_memory: NoMemory = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Mark one answer to a quiz question, for another front end, and reply to it.

    The answer is kept only when --learner says whose it is. Exit code 0 when it counts as right, 1 when it is wrong.
    """
    material = chosen_material(of_set, assessment=assessment)
    question = _named("TOKEN", lambda: question_of(token, material))
    place = _named("ANSWER", lambda: place_of(answer, question))
    certainty = _named("option --sure", lambda: certainty_of(sure))
    memory = memory_for(learner, progress, keep=learner is not None and not (no_memory or assessment))
    marked = mark_answer(question, place, material)
    answered = answered_now(memory.learner, question, marked, certainty, material)
    memory.keep(answered)
    tell(memory.trouble)
    if as_json:
        print_json(_as_data(marked, question, material, kept=memory.keeps and not memory.waiting))
    else:
        show(reply_page(marked, question), plain=plain)
    if not answered.right:
        raise typer.Exit(NOT_SETTLED)


def _as_data(marked: Marked, question: Question, material: Material, *, kept: bool) -> dict[str, Any]:
    """A marked answer, with the question that tests whether the mix-up is cured."""
    mix_up = marked.reply.mix_up
    cure = follow_up(mix_up.follow_up, question.draw, material) if mix_up and mix_up.follow_up else None
    return {
        **plain_data(marked),
        "difficulty_parts": list(told_difficulty(question)),
        "follow_up": public_question(cure, 1, material) if cure else None,
        "kept": kept,
    }


def _named(what: str, found: Callable[[], Found]) -> Found:
    """What a part of the command line means; what is wrong with it is told with its name."""
    try:
        return found()
    except FaultyInputError as error:
        raise FaultyInputError([Fault(what, fault.says) for fault in error.faults]) from None
