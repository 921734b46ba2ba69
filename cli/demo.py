"""`spotplate demo`: the demo record identified, without any file."""

from __future__ import annotations

from typing import Annotated

import typer

from spotplate.datasets import demo_record
from spotplate.engine import identify, records_from_text
from spotplate.kb import load_knowledge

from .json_shape import identifications, print_json
from .options import AsJson, Plain
from .views.identification import identification_page
from .views.page import Block, Heading, Paragraph, show


def demo(
    full: Annotated[
        bool, typer.Option("--full", help="Reasons on every class, each step, further signs and exceptions.")
    ] = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show a real bench record and its identification."""
    name, content = demo_record()
    text = content.decode("utf-8")
    knowledge = load_knowledge()
    result = identify(records_from_text(text, name, knowledge)[0], knowledge)
    if as_json:
        print_json(identifications([result]))
        return
    page: list[Block] = [Heading(f"The bench record {name}")]
    page += [Paragraph(line, "quiet", 2) for line in text.splitlines()]
    show(page, plain=plain)
    print()
    show(identification_page(result, knowledge, full=full), plain=plain)
