"""A sheet in Markdown (CommonMark with pipe tables), to be edited and turned into other documents."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from spotplate.cli.lab_summary.markdown_form import escaped, from_people

from .model import (
    HOW_SURE,
    READ_AS,
    READING,
    SEEN,
    WHY,
    Argument,
    Bullets,
    Cards,
    Choice,
    FillIn,
    Heading,
    Procedure,
    Sheet,
    Table,
    Text,
    Tree,
    Twig,
)

_BLANK = "_" * 24  # a run of low lines with blanks around it is no emphasis
_TICK = "\N{BALLOT BOX}"
_LINE = "___"  # drawn as a line across the page


def as_markdown(sheet: Sheet) -> str:
    """The same blocks as on the HTML page."""
    parts = [f"# {_plain(sheet.title)}", f"*{escaped(sheet.subtitle)}*"]
    for block in sheet.blocks:
        parts += _FORMS[block.kind](block)
    return "\n\n".join([*parts, escaped(sheet.foot)]) + "\n"


def _plain(text: str) -> str:
    """Text that may be from people: on one line, and no markup."""
    return from_people(" ".join(text.split()))


def _heading(block: Heading) -> Iterator[str]:
    yield f"{'#' * block.level} {_inside(block.says)}"


def _text(block: Text) -> Iterator[str]:
    says = _inside(block.says)
    yield f"> **{says}**" if block.warning else says


def _bullets(block: Bullets) -> Iterator[str]:
    yield "\n".join(f"- {_inside(item)}" for item in block.items)


def _table(block: Table) -> Iterator[str]:
    yield f"**{_inside(block.caption)}**"
    yield _rows(block.columns, block.rows)


def _rows(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [[_inside(cell) for cell in columns], ["---"] * len(columns), *([_inside(cell) for cell in row] for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)


def _fill_in(block: FillIn) -> Iterator[str]:
    yield "\n".join(f"- {name}: {_plain(text) if text else _BLANK}" for name, text in block.fields)


def _procedure(block: Procedure) -> Iterator[str]:
    yield f"### {_inside(block.does)}"
    yield f"{_inside(block.name)}; {_inside(block.facts)}"
    yield _inside(block.steps)
    lines = [f"**Caution:** {_inside(caution)}" for caution in block.cautions]
    for name, asks, words in block.readings:
        told = "; ".join(f"**{_inside(word)}**{f': {_inside(looks)}' if looks else ''}" for word, looks in words)
        lines.append(f"**{_inside(name)}**: {_inside(asks)} {told}")
    yield "\n".join(f"- {line}" for line in lines)


def _argument(block: Argument) -> Iterator[str]:
    yield f"### {_inside(block.title)}"
    for name, asks, lines in block.boxes:
        yield f"**{name}** {_inside(asks)}"
        yield from [_LINE] * lines


def _choice(block: Choice) -> Iterator[str]:
    yield f"## Question {_inside(block.number)} ({_inside(block.level)})"
    yield _inside(block.asks)
    if block.pairs:
        beside = len(block.pairs[0])
        rows = [[text for pair in pairs for text in pair] for pairs in block.pairs]
        yield f"**{SEEN}**"
        yield _rows((READING, READ_AS) * beside, [row + [""] * (2 * beside - len(row)) for row in rows])
    yield "\n".join(f"- {_TICK} {letter}) {_inside(says)}" for letter, says in block.options)
    yield f"{WHY} {_BLANK} {HOW_SURE} {'_' * 5} %"
    yield from [_LINE] * (block.lines - 1)


def _cards(block: Cards) -> Iterator[str]:
    columns = ("vial", "label", "contents", "signal word", "pictograms", "hazard statements")
    told = any(card.contents for card in block.cards)
    rows = []
    for card in block.cards:
        row = [card.letter, "; ".join(card.lines), card.contents, card.signal_word, card.pictograms, " ".join(card.statements)]
        rows.append([cell for place, cell in enumerate(row) if told or place != columns.index("contents")])
    yield _rows([name for name in columns if told or name != "contents"], rows)


def _tree(block: Tree) -> Iterator[str]:
    yield _inside(block.describes)
    # Indented text is shown as it is, whatever stands in it.
    yield "\n".join(f"    {_twig(twig)}" for twig in block.twigs)


def _twig(twig: Twig) -> str:
    rails = "".join("│   " if line else "    " for line in twig.goes_on)
    elbow = ("└── " if twig.last else "├── ") if twig.depth else ""
    return f"{rails}{elbow}{f'{twig.reads} → ' if twig.reads else ''}{twig.says}"


def _inside(text: str) -> str:
    """Text inside a line: no line breaks, no markup, nothing that some readers make a link of."""
    return escaped(" ".join(text.split()))


_FORMS: dict[str, Callable[[Any], Iterator[str]]] = {
    "heading": _heading, "text": _text, "bullets": _bullets, "table": _table, "fill-in": _fill_in, "procedure": _procedure,
    "argument": _argument, "choice": _choice, "cards": _cards, "tree": _tree,
}  # fmt: skip
