"""`spotplate check-rules`: every fault of a rule base at once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine import check_rules as find_faults
from spotplate.engine.files import read_text
from spotplate.kb import FaultyInputError, load_knowledge, printable, with_rules

from .exit_codes import BAD_INPUT, SETTLED
from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Block, Heading, Item, Paragraph, show
from .views.words import count


def check_rules(
    file: Annotated[
        Path | None, typer.Argument(help="A teacher's rule base; the shipped one when not given.", show_default=False)
    ] = None,
    extra: Annotated[
        bool, typer.Option("--extra", help="Check the file as rules beside the shipped ones, not in their place.")
    ] = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Check a rule base, the shipped one or a teacher's own, and report every fault with its place.

    Exit code 0 when it is sound, 2 when it has faults.
    """
    knowledge = load_knowledge()
    readable = True
    text = read_text(file) if file is not None else ""  # a file that cannot be read is no fault of its rules
    try:
        if file is not None:
            knowledge = with_rules(knowledge, text, str(file), replace=not extra)
        faults = find_faults(knowledge)
    except FaultyInputError as error:
        faults, readable = error.faults, False
    name = printable(str(file)) if file else "the shipped rule base"
    if as_json:
        print_json(
            {
                "file": name,
                "rules": len(knowledge.rules) if readable else None,
                "faults": [{"where": f.where, "says": f.says} for f in faults],
            }
        )
    elif faults:
        page: list[Block] = [
            Heading(f"{name}: {count(len(faults), 'fault')}", "bad"),
            *(Item("-", str(fault), indent=2) for fault in faults),
        ]
        show(page, plain=plain)
    else:
        facts = {fact for rule in knowledge.rules for fact in rule.adds}
        show(
            [Paragraph(f"{name} is sound: {count(len(knowledge.rules), 'rule')} over {count(len(facts), 'fact')}.")], plain=plain
        )
    raise typer.Exit(BAD_INPUT if faults else SETTLED)
