"""`spotplate print-quiz`: a quiz on paper, with the answers on a page of its own for the teacher."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine.files.sets import read_set
from spotplate.engine.quiz.material import Material, set_material, table_material
from spotplate.engine.quiz.question import Kind, Level
from spotplate.engine.quiz.quiz import Wanted, make_quiz
from spotplate.engine.sets import UnknownsSet
from spotplate.kb import load_knowledge

from .page_files import write_pages
from .sheets.quiz_making import QuizPrinting, no_questions, quiz_pages


def print_quiz(
    folder: Annotated[
        Path, typer.Option("--folder", metavar="FOLDER", help="Folder to write into; it is made when it is not there.")
    ],
    seed: Annotated[
        int, typer.Option("--seed", help="Draws the questions; the same seed gives the same ones, on the screen too.")
    ],
    questions: Annotated[int, typer.Option("--questions", min=1, max=50, help="Number of questions.")] = 10,
    kind: Annotated[
        list[Kind] | None, typer.Option("--kind", help="Kind of question; all when not given. May be repeated.")
    ] = None,
    level: Annotated[
        Level | None, typer.Option("--level", help="How hard the questions shall be; all levels when not given.")
    ] = None,
    set_file: Annotated[
        Path | None,
        typer.Option(
            "--set", metavar="FILE", help="Unknowns set (YAML) that the questions are about; papers name nothing in it."
        ),
    ] = None,
    versions: Annotated[
        int, typer.Option("--versions", min=1, max=8, help="Papers A, B … with questions and options in another order.")
    ] = 1,
    title: Annotated[str, typer.Option("--title", metavar="TEXT", help="Heading of the pages.", show_default=False)] = "",
    date: Annotated[str, typer.Option("--date", metavar="TEXT", help="Date to print; a line to fill in when not given.")] = "",
    over: Annotated[bool, typer.Option("--over", help="Write over the pages of an earlier printing.")] = False,
) -> None:
    """Print a quiz: question papers for the students, and the answers with their reasons for the teacher.

    Each page comes as HTML and as Markdown. What may be given to students is in the folder "students", what gives the
    answers away in "teacher". Exit code 0 when all was written, 2 on bad input.
    """
    material, unknowns_set = _material(set_file)
    quiz = make_quiz(Wanted(number=questions, seed=seed, kinds=tuple(kind or ()), level=level), material)
    if not quiz.questions:
        raise no_questions()
    again = _again(seed, questions, tuple(kind or ()), level, of_set=set_file is not None)
    pages = quiz_pages(quiz, QuizPrinting(versions, title, date, again), material, unknowns_set)
    write_pages(folder, pages, over=over)
    for note in quiz.notes:
        print(note, file=sys.stderr)


def _material(set_file: Path | None) -> tuple[Material, UnknownsSet | None]:
    """What questions are drawn from, and the unknowns set where there is one."""
    knowledge = load_knowledge()
    if set_file is None:
        return table_material(knowledge), None
    unknowns_set = read_set(set_file, knowledge)
    return set_material(unknowns_set, knowledge=knowledge), unknowns_set


def _again(seed: int, questions: int, kinds: tuple[Kind, ...], level: Level | None, *, of_set: bool) -> str:
    """The command that asks the same questions on the screen."""
    parts = [f"spotplate quiz --seed {seed} --questions {questions}"]
    parts += [f"--kind '{kind.value}'" if " " in kind.value else f"--kind {kind.value}" for kind in kinds]
    parts += [f"--level {level.value}"] if level else []
    return " ".join([*parts, *(["--set FILE"] if of_set else [])])
