"""`spotplate classes`: the bonding classes, their particle models and finer kinds."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from spotplate.kb import Fault, FaultyInputError, load_knowledge, not_accepted

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Block, Heading, Item, Paragraph, show


def classes(
    name: Annotated[str | None, typer.Argument(help="Only this class.", show_default=False)] = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Explain the five bonding classes and the finer kinds that behave unlike their class."""
    knowledge = load_knowledge()
    chosen = list(knowledge.classes.values())
    if name is not None:
        wanted = " ".join(name.casefold().split())
        chosen = [item for item in chosen if wanted in (item.id, *item.also)]
        if not chosen:
            raise FaultyInputError([Fault("", not_accepted(name, "a class", list(knowledge.classes)))])
    if as_json:
        kinds = {item.id: [kind for kind in knowledge.subtypes.values() if item.id in kind.of] for item in chosen}
        print_json([{**msgspec.to_builtins(item), "subtypes": msgspec.to_builtins(kinds[item.id])} for item in chosen])
        return
    page: list[Block] = []
    for item in chosen:
        page += [Heading(item.id), Paragraph(item.model)]
        page += [Item(f"- {kind.id}:", kind.because, indent=2) for kind in knowledge.subtypes.values() if item.id in kind.of]
    show(page, plain=plain)
