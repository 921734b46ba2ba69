"""`spotplate progress`: what a learner has practised, what is weak and what is due; export and deletion."""

from __future__ import annotations

import datetime
import sys
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine.files.progress import ProgressFile
from spotplate.engine.files.progress_export import check_export, write_export
from spotplate.kb import Fault, FaultyInputError, printable, shown

from .exit_codes import NOT_SETTLED
from .json_shape import print_json
from .options import AsJson, Learner, Plain, ProgressPath
from .quiz_memory import chosen_progress, tell
from .views.page import show
from .views.progress import progress_data, progress_page
from .views.words import count


def quiz_progress(
    learner: Learner = None,
    progress: ProgressPath = None,
    export: Annotated[
        Path | None, typer.Option("--export", metavar="FILE", help="Write the answers into this file (.json, .csv).")
    ] = None,
    over: Annotated[bool, typer.Option("--over", help="Write over the exported file if it is there.")] = False,
    delete: Annotated[bool, typer.Option("--delete", help="Delete the learner's answers, once confirmed.")] = False,
    everybody: Annotated[bool, typer.Option("--all", help="Export or delete the answers of everybody.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Delete without asking.")] = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show what a learner has practised in the quiz: what is weak, what is due, how sure and how right.

    Answers are kept on this machine alone. --export writes them out, --delete removes them; with both, they are written
    first. Exit code 0 when that was done, 1 when the deletion was not confirmed, 2 on bad input.
    """
    _check(export, over=over, delete=delete, everybody=everybody, yes=yes)
    name, file = chosen_progress(learner, progress)
    whose = None if everybody else name
    try:
        if export is None and not delete:
            _show(file, name, as_json=as_json, plain=plain)
        if export is not None:
            _export(file, whose, export, over=over, quiet=as_json and delete, as_json=as_json)
        deleted = _delete(file, whose, yes=yes, as_json=as_json) if delete else True
    finally:
        tell(map(str, file.set_aside))
    raise typer.Exit(0 if deleted else NOT_SETTLED)


def _check(export: Path | None, *, over: bool, delete: bool, everybody: bool, yes: bool) -> None:
    """Refuse what cannot be done, before anything is."""
    faults = []
    if over and export is None:
        faults.append(Fault("option --over", "there is nothing to write over without --export FILE."))
    if yes and not delete:
        faults.append(Fault("option --yes", "there is nothing to confirm without --delete."))
    if everybody and export is None and not delete:
        faults.append(Fault("option --all", "it goes with --export or --delete; progress is shown of one learner at a time."))
    if faults:
        raise FaultyInputError(faults)
    if export is not None:
        check_export(export, over=over, where="option --export")


def _show(file: ProgressFile, learner: str, *, as_json: bool, plain: bool) -> None:
    answers = file.answers(learner)
    others = tuple(name for name in file.learners() if name != learner)
    now = datetime.datetime.now(datetime.UTC)
    if as_json:
        print_json(progress_data(file, learner, answers, now))
    else:
        show(progress_page(file.path, learner, others, answers, now), plain=plain)


def _export(file: ProgressFile, whose: str | None, path: Path, *, over: bool, quiet: bool, as_json: bool) -> None:
    found = file.export(whose)
    write_export(found, path, over=over, where="option --export")
    if as_json and not quiet:
        print_json({"exported": len(found), "file": str(path)})
    elif not as_json:
        print(f"{printable(str(path))}: {count(len(found), 'answer')} of {_named(whose)}.")


def _delete(file: ProgressFile, whose: str | None, *, yes: bool, as_json: bool) -> bool:
    """Delete, once confirmed; whether that was done."""
    number = len(file.export(whose))
    if number and not yes and not _confirmed(f"Delete {count(number, 'answer')} of {_named(whose)} for good?"):
        print("Nothing was deleted.", file=sys.stderr)
        return False
    deleted = file.delete_all() if whose is None else file.delete(whose)
    left = file.set_aside_earlier()
    if as_json:
        print_json({"deleted": deleted, "learner": whose, "set_aside_earlier": [str(path) for path in left]})
        return True
    print(f"{count(deleted, 'answer')} of {_named(whose)} deleted.")
    if left:
        print("Set aside earlier, and perhaps with answers in it; remove it yourself if it is not needed:")
        for path in left:
            print(f"  {printable(str(path))}")
    return True


def _named(whose: str | None) -> str:
    return "everybody" if whose is None else shown(whose, longest=100)


def _confirmed(question: str) -> bool:
    """Ask on stderr, so that stdout holds nothing but the answer; no input is a no."""
    print(f"{question} Type yes or no: ", end="", file=sys.stderr, flush=True)
    try:
        return input().strip().casefold() in ("yes", "y")
    except EOFError:
        print(file=sys.stderr)
        return False
