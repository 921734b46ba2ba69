"""`spotplate print-set`: everything on paper that a set of unknowns needs, for students and for the teacher."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine.files.sets import read_set
from spotplate.engine.record import find_test
from spotplate.engine.sets import Amount, parse_amount
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted, shown

from .page_files import write_pages
from .sheets import Hazards, sheets_of
from .sheets.making import Printing


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
    write_pages(folder, pages, over=over)


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
