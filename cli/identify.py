"""`spotplate identify`: a record, a table of vials, or readings given as options."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine import Identification, Record, VerdictKind, make_record
from spotplate.engine import identify as identify_record
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, shown

from .exit_codes import NOT_SETTLED, SETTLED
from .json_shape import identifications, print_json
from .knowledge import chosen_knowledge
from .options import Among, AsJson, ExtraRules, OfSet, OwnRules, Plain
from .records import among_of, chosen_records
from .views.identification import identification_page, summary_page
from .views.page import Block, Paragraph, show


def complete_reading(incomplete: str) -> list[str]:
    """`reading=value` completions for the shell."""
    kinds = load_knowledge().readings.values()
    return [
        f"{kind.id}={word}" for kind in kinds for word in (kind.words() or ("",)) if f"{kind.id}={word}".startswith(incomplete)
    ]


def identify(
    record: Annotated[Path | None, typer.Argument(help="YAML record, or CSV with one vial a row.", show_default=False)] = None,
    reading: Annotated[
        list[str] | None,
        typer.Option(
            "--reading",
            "-r",
            metavar="'READING=VALUE'",
            help="A reading given directly, such as 'dry conductivity=no glow'. May be repeated.",
            autocompletion=complete_reading,
        ),
    ] = None,
    vial: Annotated[
        list[str] | None, typer.Option("--vial", help="Only this vial of the file, in detail. May be repeated.")
    ] = None,
    among: Among = None,
    of_set: OfSet = None,
    details: Annotated[bool, typer.Option("--details", help="Every vial of a table in detail.")] = False,
    full: Annotated[
        bool, typer.Option("--full", help="Reasons on every class, each step, further signs and exceptions.")
    ] = False,
    rules: OwnRules = None,
    extra_rules: ExtraRules = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Identify the bonding class of an unknown from its bench readings.

    Exit code 0 when every vial is settled, 1 when one is not, 2 on bad input.
    """
    knowledge = chosen_knowledge(rules, extra_rules)
    records = _records(record, reading or [], vial or [], knowledge)
    names = among_of(among or [], of_set, knowledge)
    results = [identify_record(item, knowledge, among=names) for item in records]
    if as_json:
        print_json(identifications(results))
    else:
        show(_page(results, knowledge, details=details or bool(vial), full=full), plain=plain)
    settled = all(result.verdict.kind is VerdictKind.CONCLUSIVE for result in results)
    raise typer.Exit(SETTLED if settled else NOT_SETTLED)


def _page(results: Sequence[Identification], knowledge: KnowledgeBase, *, details: bool, full: bool) -> list[Block]:
    if len(results) > 1 and not details:
        return summary_page(results, knowledge)
    page: list[Block] = []
    for result in results:
        if page:
            page.append(Paragraph(""))
        page += identification_page(result, knowledge, full=full)
    return page


def _records(path: Path | None, given: Sequence[str], vials: Sequence[str], knowledge: KnowledgeBase) -> Sequence[Record]:
    if path is None:
        if not given:
            says = "nothing to identify; give a record file, or readings with -r 'READING=VALUE'. Try 'spotplate demo'."
            raise FaultyInputError([Fault("", says)])
        if vials:
            raise FaultyInputError([Fault("option --vial", "it chooses from a record file; with -r there is only one vial.")])
        return [_from_options(given, knowledge)]
    if given:
        raise FaultyInputError([Fault("", "give either a record file or readings with -r, not both.")])
    return chosen_records(path, vials, knowledge)


def _from_options(given: Sequence[str], knowledge: KnowledgeBase) -> Record:
    readings: dict[str, str] = {}
    for text in given:
        name, sign, value = text.partition("=")
        name = name.strip()
        if not sign:
            says = f"{shown(text)} has no '='; write it as 'READING=VALUE', such as 'dry conductivity=no glow'."
            raise FaultyInputError([Fault("option --reading", says)])
        if name in readings:
            raise FaultyInputError([Fault("option --reading", f"the reading {shown(name)} is given twice.")])
        readings[name] = value
    return make_record(readings, knowledge, where="option --reading")
