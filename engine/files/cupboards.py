"""A teacher's cupboard from a CSV: one bottle, jar or box a row."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from spotplate.engine.sets.cupboard import Cupboard, make_item
from spotplate.kb import Fault, FaultyInputError, nearest, printable, shown

from .tables import csv_rows, plain_cell
from .text import read_text

# What the columns may be called. The first spelling that a header has is taken; the others stay further columns.
_SUBSTANCE = (
    "substance", "chemical", "material", "compound", "name", "item", "product", "label", "formula", "cas", "cas number",
)  # fmt: skip
_AMOUNT = ("amount", "amounts", "quantity", "stock", "mass", "volume")
_REMARK = ("remark", "remarks", "note", "notes", "comment", "comments")
_LONGEST_CELL = 500  # characters; what is longer is no name, amount or remark
_MOST_TOLD = 10


def read_cupboard(path: Path) -> Cupboard:
    """
    Every row of a cupboard, matched to the reference table where its name leads to exactly one substance.

    Rows that nothing was found for are kept, and say why and what they may mean.

    Raises
    ------
    FaultyInputError
        When the file is no table of this kind; an unknown substance is no fault
    """
    return cupboard_from_text(read_text(path), str(path))


def cupboard_from_text(text: str, file: str) -> Cupboard:
    """The same from text that is already in memory; `file` is what error messages call it."""
    if not text.strip():
        raise FaultyInputError([Fault(file, "the file is empty; a table of substances is accepted.")])
    header, rows = csv_rows(text, file, "a substance")
    header = [_plain(name) for name in header]
    substance = _column(header, _SUBSTANCE)
    if substance is None:
        raise FaultyInputError([Fault(f"{file}, header", _no_substance(header))])
    amount, remark = _column(header, _AMOUNT), _column(header, _REMARK)
    further = [place for place in range(len(header)) if place not in (substance, amount, remark)]
    # A column without a name that is empty all the way down is a stray sign of the spreadsheet.
    further = [place for place in further if header[place] or any(_cell(cells, place) for _, cells in rows)]
    _refuse_odd_rows(header, rows, file)
    items = tuple(
        make_item(
            _cell(cells, substance),
            _cell(cells, amount),
            _cell(cells, remark),
            line=line,
            others=tuple(_cell(cells, place) for place in further),
        )
        for line, cells in rows
    )
    return Cupboard(items, tuple(header[place] or f"column {place + 1}" for place in further))


def _plain(cell: str) -> str:
    """A cell on one line, without control characters."""
    return " ".join(printable(plain_cell(cell)).split())


def _cell(cells: Sequence[str], place: int | None) -> str:
    """A cell, empty where the column or, at the end of a row, the cell is missing."""
    return _plain(cells[place]) if place is not None and place < len(cells) else ""


def _column(header: Sequence[str], names: Sequence[str]) -> int | None:
    folded = [name.casefold() for name in header]
    return next((folded.index(name) for name in names if name in folded), None)


def _no_substance(header: Sequence[str]) -> str:
    found = ", ".join(shown(name) for name in header[:8])
    near = next((word for name in header[:50] if (word := nearest(name, _SUBSTANCE[:1]))), None)
    meant = f" Did you mean {near!r}?" if near else ""
    accepted = f"{', '.join(_SUBSTANCE[:-1])} or {_SUBSTANCE[-1]}"
    return f"no column names the substance. Found: {found}.{meant} The first line must name the columns; accepted: {accepted}."


def _refuse_odd_rows(header: Sequence[str], rows: Sequence[tuple[int, list[str]]], file: str) -> None:
    """Refuse rows whose cells stand under no column, or that hold more than a name, an amount or a remark can be."""
    faults = []
    for line, cells in rows:
        if any(cell.strip() for cell in cells[len(header) :]):
            says = (
                f"there are {len(cells)} cells; the header has {len(header)}. Put quotes around a cell that holds the separator."
            )
            faults.append(Fault(f"{file}, line {line}", says))
        elif longest := max((len(cell) for cell in cells if len(cell) > _LONGEST_CELL), default=0):
            says = f"a cell has {longest:,} characters; at most {_LONGEST_CELL} are read. Is a quotation mark missing?"
            faults.append(Fault(f"{file}, line {line}", says))
    if len(faults) > _MOST_TOLD:
        faults = [*faults[:_MOST_TOLD], Fault(file, f"{len(faults) - _MOST_TOLD:,} more rows are like that.")]
    if faults:
        raise FaultyInputError(faults)
