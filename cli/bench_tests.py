"""`spotplate tests`: the bench tests, and what each reading of them looks like."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from spotplate.engine.reasoning import cited
from spotplate.engine.record import find_test
from spotplate.kb import BenchTest, Condition, Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import WHO_DECIDES, listed, percent


def complete_test(incomplete: str) -> list[str]:
    """Names of tests for the shell."""
    return [name for name in load_knowledge().tests if name.startswith(incomplete.casefold())]


def bench_tests(
    name: Annotated[
        str | None, typer.Argument(help="A test or one of its readings.", show_default=False, autocompletion=complete_test)
    ] = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """List the bench tests, or explain one: procedure, cautions and what each reading looks like."""
    knowledge = load_knowledge()
    if name is not None:
        found = _find(name, knowledge)
        if as_json:
            print_json(msgspec.to_builtins(found))
        else:
            show(_test_page(found, knowledge), plain=plain)
    elif as_json:
        print_json(msgspec.to_builtins(list(knowledge.tests.values())))
    else:
        show(_list_page(knowledge), plain=plain)


def _find(name: str, knowledge: KnowledgeBase) -> BenchTest:
    if found := find_test(name, knowledge):
        return found
    raise FaultyInputError(
        [Fault("", not_accepted(name, "a bench test or reading", [*knowledge.tests, *knowledge.readings], most=50))]
    )


def _list_page(knowledge: KnowledgeBase) -> list[Block]:
    rows = [
        (test.id, listed([kind.id for kind in test.readings]), f"{test.minutes:g}", "must agree" if test.teacher else "")
        for test in knowledge.tests.values()
    ]
    return [
        Heading(f"{len(rows)} bench tests"),
        Table(("test", "readings", "minutes", "teacher"), tuple(rows)),
        Paragraph("For procedure, cautions and readings of one test: spotplate tests 'NAME'.", "quiet"),
    ]


def _test_page(test: BenchTest, knowledge: KnowledgeBase) -> list[Block]:
    page: list[Block] = [
        Heading(f"{test.id}: {test.does.lower()}"),
        Paragraph(test.procedure),
        Paragraph(f"Apparatus: {listed(test.apparatus)}. Takes {test.minutes:g} min."),
    ]
    if test.needs:
        page.append(Paragraph(f"Needs first: {listed([_told(need) for need in test.needs])}."))
    if test.teacher:
        page.append(Paragraph("The responsible teacher must agree before this test, or does it.", "caution"))
    page.append(Heading("Cautions", "caution"))
    page += [Item("-", knowledge.cautions[key].says, indent=2) for key in test.cautions]
    page.append(Paragraph(WHO_DECIDES, indent=2))
    for kind in test.readings:
        page += [Heading(f"Reading “{kind.id}”"), Paragraph(kind.asks)]
        page += [Item(f"- {value.is_}:", value.looks, indent=2) for value in kind.values]
        if kind.number:
            page.append(
                Paragraph(
                    f"A number or range with unit, {kind.number.least:g} to {kind.number.most:g} {kind.number.unit}.", indent=2
                )
            )
        page.append(Item("-", "unclear, or left out when not tested; neither counts as no.", indent=2))
        page.append(Paragraph(f"Misread about {percent(kind.misread.rate)} of the time ({kind.misread.from_}).", "quiet"))
    page.append(Paragraph(f"Source: {cited(test.source, knowledge)}.", "quiet"))
    return page


def _told(need: Condition) -> str:
    return f"“{need.reading}” read as {listed(need.is_, 'or')}"
