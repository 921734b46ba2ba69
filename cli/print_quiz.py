"""`spotplate print-quiz`: a quiz on paper, with the answers on a page of its own for the teacher."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine.files.sets import read_set
from spotplate.engine.quiz.material import Material, set_material, table_material
from spotplate.engine.quiz.quiz import Wanted, make_quiz
from spotplate.engine.sets import UnknownsSet
from spotplate.kb import load_knowledge

from .options import QuizSet
from .page_files import write_pages
from .quiz_material import OfKind, OfLevel, Questions, refuse_empty, wanted_quiz
from .sheets.quiz_making import QuizPrinting, quiz_pages


def print_quiz(
    folder: Annotated[
        Path, typer.Option("--folder", metavar="FOLDER", help="Folder to write into; it is made when it is not there.")
    ],
    seed: Annotated[
        int, typer.Option("--seed", help="Draws the questions; the same seed gives the same ones, on the screen too.")
    ],
    questions: Questions = 10,
    kind: OfKind = None,
    level: OfLevel = "",
    of_set: QuizSet = None,
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
    material, unknowns_set = _material(of_set)
    wanted = wanted_quiz(questions, kind or [], level, seed)
    made = make_quiz(wanted, material)
    refuse_empty(made)
    pages = quiz_pages(made, QuizPrinting(versions, title, date, _again(wanted, of_set)), material, unknowns_set)
    write_pages(folder, pages, over=over)
    for note in made.notes:
        print(note, file=sys.stderr)


def _material(of_set: Path | None) -> tuple[Material, UnknownsSet | None]:
    """What questions are drawn from, and the unknowns set where there is one."""
    knowledge = load_knowledge()
    if of_set is None:
        return table_material(knowledge), None
    unknowns_set = read_set(of_set, knowledge)
    return set_material(unknowns_set, knowledge=knowledge), unknowns_set


def _again(wanted: Wanted, of_set: Path | None) -> str:
    """The command that asks the same questions on the screen."""
    parts = [f"spotplate quiz --seed {wanted.seed} --questions {wanted.number}"]
    parts += [f"--kind {kind.value.replace(' ', '-')}" for kind in wanted.kinds]
    parts += [f"--level {wanted.level.value}"] if wanted.level else []
    parts += ["--set FILE"] if of_set else []
    return " ".join(parts)
