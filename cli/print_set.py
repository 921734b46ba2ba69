"""`spotplate print-set`: everything on paper that a set of unknowns needs, for students and for the teacher."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine.files import write_whole
from spotplate.engine.files.sets import read_set
from spotplate.engine.record import find_test
from spotplate.engine.sets import Amount, parse_amount
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted, printable, shown

from .sheets import Hazards, Printed, as_html, as_markdown, sheets_of
from .sheets.making import FOR_STUDENTS, FOR_TEACHER, Printing
from .views.words import count

_FORMS = {".html": as_html, ".md": as_markdown}


def print_set(
    file: Annotated[Path, typer.Argument(metavar="SET", help="YAML file of an unknowns set.", show_default=False)],
    folder: Annotated[
        Path, typer.Option("--folder", metavar="FOLDER", help="Folder to write into; it is made when it is not there.")
    ],
    groups: Annotated[int, typer.Option("--groups", min=1, max=40, help="Number of groups that get all vials.")] = 1,
    seed: Annotated[
        int | None,
        typer.Option("--seed", help="Give every group letters of its own, drawn with this seed.", show_default=False),
    ] = None,
    title: Annotated[
        str, typer.Option("--title", metavar="TEXT", help="Heading of the pages; the name of the set when not given.")
    ] = "",
    date: Annotated[str, typer.Option("--date", metavar="TEXT", help="Date to print; a line to fill in when not given.")] = "",
    amount_per_test: Annotated[
        list[str] | None,
        typer.Option(
            "--amount-per-test",
            metavar="'TEST=AMOUNT'",
            help="What one trial of a test takes, such as 'water test=0.3 g', in place of the usual amount. May be repeated.",
        ),
    ] = None,
    hazards: Annotated[
        Hazards,
        typer.Option(
            "--hazards", help="Hazards on a vial's label: its own, or those of all vials together, which hint at nothing."
        ),
    ] = Hazards.EACH,
    over: Annotated[bool, typer.Option("--over", help="Write over the pages of an earlier printing.")] = False,
) -> None:
    """Print a set of unknowns: students' sheets, labels, the teacher's key, preparation list, notes on waste.

    Each page comes as HTML and as Markdown. What may be given to students is in the folder "students", what gives the
    answers away in "teacher". Exit code 0 when all was written, 2 on bad input.
    """
    knowledge = load_knowledge()
    unknowns_set = read_set(file, knowledge)
    amounts = _amounts(amount_per_test or [], knowledge)
    pages = sheets_of(unknowns_set, Printing(groups, seed, date, title, hazards, amounts), knowledge)
    paths = [folder / page.folder / f"{page.name}{ending}" for page in pages for ending in _FORMS]
    _check_free(folder, paths, over=over)
    written = [form(page.sheet).encode("utf-8") for page in pages for form in _FORMS.values()]
    _make_folders(folder)
    for path, content in zip(paths, written, strict=True):
        write_whole(path, content, over=over, where="option --folder")
    _tell(folder, pages, paths)


def _amounts(given: Sequence[str], knowledge: KnowledgeBase) -> dict[str, float]:
    """Test → amount of one trial [g or mL]; every fault at once."""
    amounts, faults = {}, []
    for entry in given:
        name, _, written = entry.partition("=")
        test = find_test(name, knowledge)
        amount = Amount(0, "g") if written.strip() in ("0", "0 g", "0 mL") else parse_amount(written)
        if test is None:
            faults.append(Fault("option --amount-per-test", not_accepted(name, "a bench test", list(knowledge.tests), most=30)))
        elif amount is None:
            says = f"{shown(entry)} tells no amount; 'TEST=AMOUNT' with g or mL is accepted, such as '{test.id}=0.3 g'."
            faults.append(Fault("option --amount-per-test", says))
        else:
            amounts[test.id] = amount.value
    if faults:
        raise FaultyInputError(faults)
    return amounts


def _check_free(folder: Path, paths: Sequence[Path], *, over: bool) -> None:
    """Refuse before anything is written what could not be written after it."""
    if folder.exists() and not folder.is_dir():
        raise FaultyInputError([Fault("option --folder", f"{str(folder)!r} is a file; a folder is accepted.")])
    if not folder.absolute().parent.is_dir():
        raise FaultyInputError([Fault("option --folder", f"there is no folder {str(folder.parent)!r}.")])
    if not over and (there := [path for path in paths if path.exists() or path.is_symlink()]):
        others = f" and {len(there) - 1} more" if len(there) > 1 else ""
        says = f"{str(there[0])!r}{others} is there already; give another folder, or write over it with --over."
        raise FaultyInputError([Fault("option --folder", says)])


def _make_folders(folder: Path) -> None:
    try:
        for name in ("", FOR_STUDENTS, FOR_TEACHER):
            (folder / name).mkdir(exist_ok=True)
    except OSError as error:
        says = f"{str(folder)!r} cannot be made: {error.strerror or error}."
        raise FaultyInputError([Fault("option --folder", says)]) from error


def _tell(folder: Path, pages: Sequence[Printed], paths: Sequence[Path]) -> None:
    """What was written, and what an earlier printing left behind, which may be of another key."""
    for name, says in (
        (FOR_STUDENTS, "for the students"),
        (FOR_TEACHER, "for the teacher only, since they give the answers away"),
    ):
        number = sum(page.folder == name for page in pages)
        print(f"{printable(str(folder / name))}: {count(number, 'page')} {says}, as HTML and Markdown.")
    kept = set(paths)
    left = sorted(path.name for name in (FOR_STUDENTS, FOR_TEACHER) for path in (folder / name).iterdir() if path not in kept)
    if left:
        print(f"Not of this printing, so perhaps of another key: {', '.join(map(printable, left))}.", file=sys.stderr)
