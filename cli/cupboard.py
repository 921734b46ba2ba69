"""`spotplate cupboard`: what stands in a teacher's cupboard, and which substance of the reference table each row means."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import typer

from spotplate.datasets import Substance, load_substances
from spotplate.engine.files.cupboards import read_cupboard
from spotplate.engine.sets import Cupboard, CupboardItem
from spotplate.kb import printable, shown

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import WHO_DECIDES, count, listed

_FITNESS = {
    "teacher only": "In the reference table these are for the teacher only:",
    "not in school": "In the reference table these do not belong in a school; ask the person responsible what to do with them:",
}


def cupboard(
    table: Annotated[
        Path,
        typer.Argument(metavar="CUPBOARD", help="CSV with a column for the substance, one bottle a row.", show_default=False),
    ],
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Read a cupboard: which substance each row means, and which rows cannot be told.

    Near misses get suggestions and are never guessed. Exit code 0 when the table could be read, 2 on bad input.
    """
    found = read_cupboard(table)
    if as_json:
        print_json(_data(found, str(table)))
    else:
        show(_page(found, table.name), plain=plain)


# --- page ------------------------------------------------------------------------------------------


def _page(found: Cupboard, file: str) -> list[Block]:
    rows, missing = len(found.items), len(found.unmatched())
    told = f"{count(rows, 'row')}, {count(len(found.substances()), 'substance')} of the reference table"
    left = f"; {count(missing, 'row')} not told" if missing else ""
    page: list[Block] = [Heading(f"{printable(file)}: {told}{left}")]
    page += _matched(found)
    page += _not_matched(found)
    page += _several(found)
    page += _to_look_at(found)
    page += _unfit(found)
    if found.other_columns:
        page.append(Heading("Further columns"))
        page.append(Paragraph(f"Kept as they are: {listed(list(map(shown, found.other_columns)))}.", indent=2))
    page.append(Paragraph(""))
    page.append(Paragraph(WHO_DECIDES, "caution"))
    return page


def _matched(found: Cupboard) -> list[Block]:
    rows = tuple(
        (str(item.line), item.written, item.substance, item.amount, item.remark) for item in found.items if item.substance
    )
    return [Table(("line", "as written", "substance", "amount", "remark"), rows)] if rows else []


def _not_matched(found: Cupboard) -> list[Block]:
    rows = found.unmatched()
    if not rows:
        return []
    page: list[Block] = [Heading("Not told, but kept", "open")]
    page += [Item(f"line {item.line}:", _told(item), indent=2) for item in rows]
    page.append(Paragraph("Correct the name in the table to use such a row; nothing is guessed.", indent=2))
    return page


def _told(item: CupboardItem) -> str:
    rest = "; ".join(part for part in (item.amount, item.remark) if part)
    return f"{item.says} ({rest})" if rest else item.says


def _several(found: Cupboard) -> list[Block]:
    page: list[Block] = []
    for name, items in found.doubled().items():
        told = listed([f"line {item.line} ({item.written}{f', {item.amount}' if item.amount else ''})" for item in items])
        page.append(Item(f"{name}:", told, indent=2))
    return [Heading("In several rows"), *page] if page else []


def _to_look_at(found: Cupboard) -> list[Block]:
    notes: list[Block] = [Item(f"line {item.line}:", note, indent=2) for item in found.items for note in item.notes]
    return [Heading("To look at"), *notes] if notes else []


def _unfit(found: Cupboard) -> list[Block]:
    by_name = _by_name()
    page: list[Block] = []
    for school_use, says in _FITNESS.items():
        names = [name for name in found.substances() if by_name[name].school_use == school_use]
        if names:
            page.append(Paragraph(says, indent=2))
            page.append(Paragraph(f"{listed(names)}.", indent=4))
    return [Heading("Not for students", "caution"), *page] if page else []


def _by_name() -> dict[str, Substance]:
    return {substance.name: substance for substance in load_substances()}


# --- data ------------------------------------------------------------------------------------------


def _data(found: Cupboard, file: str) -> dict[str, Any]:
    from importlib.metadata import version  # slow to import, and needed for JSON only

    by_name = _by_name()
    return {
        "spotplate": version("spotplate"),
        "file": file,
        "items": [_item(item, found.other_columns, by_name) for item in found.items],
        "substances": list(found.substances()),
        "doubled": {name: [item.line for item in items] for name, items in found.doubled().items()},
        "other_columns": list(found.other_columns),
    }


def _item(item: CupboardItem, columns: Sequence[str], by_name: dict[str, Substance]) -> dict[str, Any]:
    substance = by_name.get(item.substance)
    quantity = item.quantity
    return {
        "line": item.line,
        "written": item.written,
        "amount": item.amount,
        "quantity": {"value": quantity.value, "unit": quantity.unit} if quantity else None,
        "remark": item.remark,
        "substance": substance.name if substance else None,
        "class": substance.class_ if substance else None,
        "school_use": substance.school_use if substance else None,
        "says": item.says,
        "suggestions": list(item.suggestions),
        "notes": list(item.notes),
        "others": [{"column": column, "cell": cell} for column, cell in zip(columns, item.others, strict=True)],
    }
