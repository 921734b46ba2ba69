"""A page: headings, paragraphs, items and tables, drawn either with rich or as plain lines.

Commands build pages from results; only here is decided how a page looks. Text is never read as
markup, so what people wrote cannot change the look of a screen.
"""

from __future__ import annotations

import itertools
import os
import re
import shutil
import sys
import textwrap
from collections.abc import Sequence

import msgspec

from spotplate.cli.streams import speaks_unicode

_STYLES = {
    "heading": "bold",
    "good": "bold green",
    "open": "bold yellow",
    "bad": "bold red",
    "quiet": "dim",
    "caution": "yellow",
    "": "",
}


class Heading(msgspec.Struct, frozen=True):
    text: str
    style: str = "heading"


class Paragraph(msgspec.Struct, frozen=True):
    text: str
    style: str = ""
    indent: int = 0


class Item(msgspec.Struct, frozen=True):
    """A line of a list: a mark or short label, and a text that hangs beside it."""

    label: str
    text: str
    style: str = ""
    indent: int = 0


class Bar(msgspec.Struct, frozen=True):
    """A share from 0 to 1 [-], drawn as a bar."""

    share: float


class Table(msgspec.Struct, frozen=True):
    """Rows of cells; the plain form reads each row as `column: cell`, with bars left out."""

    columns: tuple[str, ...]
    rows: tuple[tuple[str | Bar, ...], ...]


Block = Heading | Paragraph | Item | Table
Page = Sequence[Block]
_BAR_WIDTH = 20
_GAP = "  "  # between columns; a single blank, hard to tell from those inside cells, only where there is no room for two
_NARROWEST = 30  # a terminal that says it is narrower (or of no width at all) is not believed
_GLUE = re.compile(r"(?<=\d) (?=%|°C|K\b|min\b|g/cm3|[kh]?Pa\b|m?bar\b|mmHg|Torr|atm\b)|(?<=[<>≥≤]) (?=\d)")
_MOST_HANGING = 20  # a longer label would leave too little room beside it


def show(page: Page, *, plain: bool = False) -> None:
    """Print a page to stdout. Only a terminal needs rich, whose import takes a fifth of the time to an answer."""
    if plain:
        print("\n".join(plain_lines(page)))
    elif sys.stdout.isatty() or "FORCE_COLOR" in os.environ:
        _draw(page)
    else:
        print("\n".join(_drawn_lines(page)))


def plain_lines(page: Page) -> list[str]:
    """The page as lines of plain text, wrapped only where a person sits at the terminal."""
    lines: list[str] = []
    for place, block in enumerate(page):
        if isinstance(block, Heading):
            lines += ["", block.text] if place else [block.text]
        elif isinstance(block, Paragraph):
            lines.append(block.text)
        elif isinstance(block, Item):
            lines.append(f"{block.label} {block.text}".strip())
        else:
            lines += [_spoken(block.columns, row) for row in block.rows]
    if not sys.stdout.isatty():
        return lines
    width = max(_NARROWEST, shutil.get_terminal_size().columns)
    return [part for line in lines for part in wrapped(line, width, "", "")]


def _spoken(columns: Sequence[str], row: Sequence[str | Bar]) -> str:
    cells = [(name, cell) for name, cell in zip(columns, row, strict=True) if isinstance(cell, str) and cell]
    said = "; ".join(f"{name}: {cell}" if name else cell for name, cell in cells)
    return said if said.endswith((".", "?", "!")) else f"{said}."


def _draw(page: Page) -> None:
    """Draw a page on a terminal."""
    from rich.console import Console
    from rich.text import Text

    width = max(_NARROWEST, shutil.get_terminal_size((100, 24)).columns)
    console = Console(highlight=False, emoji=False, markup=False, width=width)
    for place, block in enumerate(page):
        if isinstance(block, Table):
            tables = [table for table in (block, _without_bars(block)) if _fits(table, width)]
            if tables:
                console.print(_rich_table(tables[0], speaks_unicode(), width))
            else:
                console.print(Text("\n".join(_row_by_row(block, width))), soft_wrap=True)
            continue
        text = Text("\n".join(_lines(block, place, console.width)), "" if isinstance(block, Item) else _STYLES[block.style])
        if isinstance(block, Item):
            text.stylize(_STYLES[block.style], 0, block.indent + len(block.label))
        console.print(text, soft_wrap=True)


def _least_widths(block: Table) -> list[int]:
    """For each column, how wide it must be so that no word is broken, nor a number from its unit."""
    widths = []
    for index, name in enumerate(block.columns):
        cells = [cell for row in block.rows if isinstance(cell := row[index], str)]
        # Names of rows, in the first column, are never wrapped.
        words = [part for cell in cells for part in ([cell] if index == 0 else _glued(cell).split(" "))]
        bar = _BAR_WIDTH // 2 if len(cells) < len(block.rows) else 0
        widths.append(max([bar, *map(len, (*name.split(), *words))]))
    return widths


def _without_bars(block: Table) -> Table:
    kept = [index for index in range(len(block.columns)) if not any(isinstance(row[index], Bar) for row in block.rows)]
    return Table(tuple(block.columns[index] for index in kept), tuple(tuple(row[index] for index in kept) for row in block.rows))


def _row_by_row(block: Table, width: int) -> list[str]:
    """A table as sentences: one that would break inside words is easier to read so."""
    return [line for row in block.rows for line in wrapped(_spoken(block.columns, row), width, "", "  ")]


def _fits(block: Table, width: int) -> bool:
    """Whether a terminal of `width` columns holds the table, with the gaps that rich leaves, without breaking words."""
    widths = _least_widths(block)
    return sum(widths) + 3 * len(widths) <= width


def _drawn_lines(page: Page) -> list[str]:
    """The same page for a file or a pipe, where there is no colour, and no edge but the width asked for."""
    unicode = speaks_unicode()
    width = max(_NARROWEST, shutil.get_terminal_size((100, 24)).columns)
    lines: list[str] = []
    for place, block in enumerate(page):
        lines += ["", *_table_lines(block, unicode, width), ""] if isinstance(block, Table) else _lines(block, place, width)
    return lines


def _table_lines(block: Table, unicode: bool, width: int) -> list[str]:
    """A table of at most `width`: with shorter bars or none, with cells over several lines, or else row by row."""
    bare = _without_bars(block)
    for table, bar_width in ((block, _BAR_WIDTH), (block, _BAR_WIDTH // 2), (bare, 0)):
        rows = [table.columns, *_with_bars_drawn(table, unicode, bar_width)]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        if _across(widths, _GAP) <= width:
            return _padded(rows, widths, _GAP)
    least = _least_widths(bare)
    for gap in (_GAP, _GAP[1:]):
        if _across(least, gap) <= width:
            while _across(widths, gap) > width:
                widest = max(range(len(widths)), key=lambda index: (widths[index] > least[index], widths[index]))
                widths[widest] -= 1
            return _padded(rows, widths, gap)
    return _row_by_row(block, width)


def _with_bars_drawn(table: Table, unicode: bool, bar_width: int) -> list[tuple[str, ...]]:
    return [tuple(cell if isinstance(cell, str) else _bar(cell, unicode, bar_width) for cell in row) for row in table.rows]


def _across(widths: Sequence[int], gap: str) -> int:
    """Width of a table with columns of these widths."""
    return sum(widths) + len(gap) * (len(widths) - 1)


def _padded(rows: Sequence[Sequence[str]], widths: Sequence[int], gap: str) -> list[str]:
    """Rows under their header; a cell that is longer than its column goes over several lines."""
    drawn = []
    for row in rows:
        cells = [wrapped(cell, width, "", "") for cell, width in zip(row, widths, strict=True)]
        lines = itertools.zip_longest(*cells, fillvalue="")
        drawn.append([gap.join(map(str.ljust, line, widths)).rstrip() for line in lines])
    rule = "-" * max(len(line) for lines in drawn for line in lines)
    return [*drawn[0], rule, *(line for lines in drawn[1:] for line in lines)]


def _lines(block: Heading | Paragraph | Item, place: int, width: int) -> list[str]:
    if isinstance(block, Heading):
        return [""] * bool(place) + wrapped(block.text, width, "", "")
    indent = " " * block.indent
    label = f"{block.label} " if isinstance(block, Item) and block.label else ""
    hanging = " " * (len(label) if len(label) <= _MOST_HANGING else 4)
    return wrapped(f"{label}{block.text}", width, indent, indent + hanging)


def wrapped(text: str, width: int, first: str, later: str) -> list[str]:
    """Lines of at most `width`, the later ones hanging under the text of the first."""
    lines = textwrap.wrap(_glued(text), width, initial_indent=first, subsequent_indent=later, break_on_hyphens=False)
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines] or [""]


def _glued(text: str) -> str:
    """A number stays with its sign or unit, and a number with its percent sign."""
    return _GLUE.sub("\N{NO-BREAK SPACE}", text)


def _rich_table(block: Table, unicode: bool, width: int) -> object:
    from rich import box
    from rich.table import Table as RichTable
    from rich.text import Text

    table = RichTable(box=box.SIMPLE_HEAD if unicode else box.ASCII, pad_edge=False, header_style="bold")
    bar_width = _BAR_WIDTH if width >= 70 else _BAR_WIDTH // 2
    for index, (name, least) in enumerate(zip(block.columns, _least_widths(block), strict=True)):
        # Neither the name of a row nor a bar can be read when it breaks over lines.
        drawn = any(isinstance(row[index], Bar) for row in block.rows)
        table.add_column(name, no_wrap=index == 0 or drawn, min_width=least, overflow="fold")
    for row in block.rows:
        table.add_row(*(Text(cell) if isinstance(cell, str) else Text(_bar(cell, unicode, bar_width)) for cell in row))
    return table


def _bar(bar: Bar, unicode: bool, width: int = _BAR_WIDTH) -> str:
    filled = round(bar.share * width)
    return ("█" if unicode else "#") * filled + ("·" if unicode else ".") * (width - filled)
