"""A lab summary as plain text, to be read anywhere and printed on anything."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from spotplate.cli.views.page import wrapped
from spotplate.cli.views.words import UNPREPARED, WHO_DECIDES

from .model import OWN_WORDS, PROGRAM, LabSummary, Section, Waiting
from .of_record import NEVER_NO, NOT_MADE, RULED_OUT, WAITING

WIDTH = 72
PAGE_BREAK = "\f"  # printers begin a new page at it


def as_text(summaries: Sequence[LabSummary]) -> str:
    """The summaries one after another, wrapped at 72 columns, with a form feed before every further vial."""
    pages = ["\n".join(_page(summary)) + "\n" for summary in summaries]
    return f"\n{PAGE_BREAK}".join(pages)


def _page(summary: LabSummary) -> Iterator[str]:
    title = f"Lab summary, {summary.title[:1].lower()}{summary.title[1:]}"
    yield from _underlined(title, "=")
    yield ""
    yield f"Name: {'_' * 36}  Group: {'_' * (WIDTH - 51)}"
    yield ""
    yield from _wrapped(f"Date: {summary.date}") if summary.date else [f"Date: {'_' * 20}"]
    yield ""
    yield from _wrapped(summary.guide)
    yield from _readings(summary)
    yield from _heading("Not tested")
    yield from _wrapped(NEVER_NO)
    yield from _waiting(RULED_OUT, summary.not_tested.ruled_out)
    yield from _waiting(WAITING, summary.not_tested.waiting)
    if summary.not_tested.not_made:
        yield from ["", *_wrapped(f"{NOT_MADE} {'; '.join(summary.not_tested.not_made)}.")]
    if summary.ranking:
        yield from _ranking(summary)
    for section in summary.sections:
        yield from _section(section)
    if summary.sources:
        yield from _heading("Sources")
        for number, source in enumerate(summary.sources, 1):
            yield from _wrapped(f"[{number}] {source}", later="    ")
    yield from _cautions(summary)
    yield ""
    yield from _wrapped(f"spotplate {summary.version}, rule base {summary.checksum}")


def _readings(summary: LabSummary) -> Iterator[str]:
    yield from _heading("Readings")
    if not summary.readings:
        yield "No reading has been made."
    for place, group in enumerate(summary.readings):
        if place:
            yield ""
        yield from _wrapped(group.test)
        for line in group.lines:
            yield from _wrapped(f"{line.name}: {line.value}", "  ", "    ")
            yield from _wrapped(f"{line.looks} {line.remark}".strip(), "      ", "      ")
    if summary.notes:
        yield ""
        yield "Notes in the record:"
        # The bar keeps every line of a note apart from what the program writes.
        yield from _wrapped(summary.notes, "  | ", "  | ")


def _waiting(told: str, tests: Sequence[Waiting]) -> Iterator[str]:
    if tests:
        yield from ["", *_wrapped(told)]
    for test in tests:
        yield from _wrapped(f"- {test.test}: {test.needs}", "  ", "    ")


def _ranking(summary: LabSummary) -> Iterator[str]:
    yield from _heading("Ranking")
    yield from _wrapped(f"{PROGRAM} {summary.ranked_by}")
    yield ""
    rows = [("class", "probability", "decibans"), *((row.class_, row.probability, row.decibans) for row in summary.ranking)]
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    for row in rows:
        yield "  " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _section(section: Section) -> Iterator[str]:
    yield from _heading(section.title)
    yield from _wrapped(section.asks)
    for statement in section.program:
        cited = f" [{statement.source}]" if statement.source else ""
        yield from ["", *_wrapped(f"{PROGRAM} {statement.says}{cited}", "  ", "    ")]
    if section.lines:
        yield from ["", f"  {OWN_WORDS}"]
        yield from ["", f"  {'_' * (WIDTH - 2)}"] * section.lines


def _cautions(summary: LabSummary) -> Iterator[str]:
    yield from _heading("Cautions")
    for caution in summary.cautions:
        named = f" ({', '.join(caution.tests)})" if caution.tests else ""
        yield from _wrapped(f"- {caution.says}{named}", later="  ")
    yield from _wrapped(f"- {WHO_DECIDES}", later="  ")
    yield from _wrapped(f"- {UNPREPARED}", later="  ")


def _heading(text: str) -> list[str]:
    return ["", "", *_underlined(text, "-"), ""]


def _underlined(text: str, sign: str) -> list[str]:
    lines = _wrapped(text)
    return [*lines, sign * max(map(len, lines))]


def _wrapped(text: str, first: str = "", later: str = "") -> list[str]:
    return wrapped(text, WIDTH, first, later)
