"""
What a sheet holds, before any form of it is written: a title and blocks.

Both forms, HTML and Markdown, are written from the same blocks, so that they say the same. All text is plain; the forms
escape it.
"""

from __future__ import annotations

from typing import ClassVar

import msgspec

# What stands at every question to be ticked.
SEEN, READING, READ_AS = "Seen at the bench", "reading", "read as"
WHY, HOW_SURE = "Why?", "How sure?"
_HALF_A_LINE = 38  # signs of an option that fit into half the width of a page


class Heading(msgspec.Struct, frozen=True):
    """A heading; `level` 2 for a part of the sheet, 3 inside it. `new_page` begins a page where that is printed."""

    kind: ClassVar[str] = "heading"
    says: str
    level: int = 2
    new_page: bool = False


class Text(msgspec.Struct, frozen=True):
    """A paragraph; a `warning` is set off by a rule and by its first word, never by colour alone."""

    kind: ClassVar[str] = "text"
    says: str
    warning: bool = False


class Bullets(msgspec.Struct, frozen=True):
    """A list of short statements; `columns` [-] in which it may be printed."""

    kind: ClassVar[str] = "bullets"
    items: tuple[str, ...]
    columns: int = 1


class Table(msgspec.Struct, frozen=True):
    """
    A table. The first cell of each row is its heading.

    `to_fill` tables have wide empty cells to write into. `widths` are shares of the columns [-]; equal ones when empty.
    """

    kind: ClassVar[str] = "table"
    caption: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    to_fill: bool = False
    widths: tuple[float, ...] = ()


class FillIn(msgspec.Struct, frozen=True):
    """Fields to fill in by hand: what each is for, and its text where that is known."""

    kind: ClassVar[str] = "fill-in"
    fields: tuple[tuple[str, str], ...]


class Procedure(msgspec.Struct, frozen=True):
    """How one bench test is done; `readings` hold the question and its accepted words with what each looks like."""

    kind: ClassVar[str] = "procedure"
    name: str
    does: str
    facts: str
    steps: str
    cautions: tuple[str, ...]
    readings: tuple[tuple[str, str, tuple[tuple[str, str], ...]], ...]


class Argument(msgspec.Struct, frozen=True):
    """Boxes to write into for one vial: (title, what it asks, lines [-])."""

    kind: ClassVar[str] = "argument"
    title: str
    boxes: tuple[tuple[str, str, int], ...]


class Choice(msgspec.Struct, frozen=True):
    """
    A question to answer by ticking: its number, how hard it is, what it asks, (reading, what was seen), (letter, option).

    `lines` [-] are left to write a reason on.
    """

    kind: ClassVar[str] = "choice"
    number: str
    level: str
    asks: str
    readings: tuple[tuple[str, str], ...]
    options: tuple[tuple[str, str], ...]
    lines: int

    @property
    def pairs(self) -> tuple[tuple[tuple[str, str], ...], ...]:
        """The readings, two beside one another where there is more than one."""
        beside = min(2, len(self.readings)) or 1
        return tuple(self.readings[place : place + beside] for place in range(0, len(self.readings), beside))

    @property
    def short(self) -> bool:
        """Whether all options are short enough to stand in two columns."""
        return all(len(says) <= _HALF_A_LINE for _, says in self.options)


class LabelCard(msgspec.Struct, frozen=True):
    """A label to cut out; `contents` is what only the teacher's copy tells."""

    letter: str
    lines: tuple[str, ...]
    signal_word: str = ""
    pictograms: str = ""
    statements: tuple[str, ...] = ()
    contents: str = ""


class Cards(msgspec.Struct, frozen=True):
    """Labels to cut out."""

    kind: ClassVar[str] = "cards"
    cards: tuple[LabelCard, ...]


class Twig(msgspec.Struct, frozen=True):
    """
    A line of a tree: `depth` [-] counts the twigs above it, `goes_on` tells for each of them whether its line goes on.

    `reads` is what leads here, `says` what stands here; `end` marks the places where the tree ends.
    """

    depth: int
    goes_on: tuple[bool, ...]
    last: bool
    reads: str
    says: str
    end: bool


class Tree(msgspec.Struct, frozen=True):
    """A drawing of a tree, line by line; `describes` says in words what it shows."""

    kind: ClassVar[str] = "tree"
    describes: str
    twigs: tuple[Twig, ...]

    @property
    def width(self) -> int:
        """Width that the longest line needs [units of the drawing: 22 a step to the right, about 7 a sign]."""
        return max([680, *(22 * twig.depth + 7 * len(f"{twig.reads} → {twig.says}") for twig in self.twigs)])


Block = Heading | Text | Bullets | Table | FillIn | Procedure | Argument | Choice | Cards | Tree


class Sheet(msgspec.Struct, frozen=True):
    """One document: for whom it is, its title, the line below it, and its blocks."""

    title: str
    subtitle: str
    blocks: tuple[Block, ...]
    foot: str
