"""A lab summary in Markdown (CommonMark with pipe tables), to be edited and turned into other documents."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence

from spotplate.cli.views.words import UNPREPARED, WHO_DECIDES

from .model import OWN_WORDS, PROGRAM, LabSummary, Section, Waiting
from .of_record import NEVER_NO, NOT_MADE, RULED_OUT, WAITING

_PAGE_BREAK = '<div style="break-before: page"></div>'
_BLANK = "_" * 24  # a run of low lines with blanks around it is no emphasis
_LINE = "___"  # drawn as a line across the page
# Whatever begins markup inside a line, and what some readers make a link of. Text never begins a line, where more would.
_MARKUP = re.compile(r"([\\`*_\[\]<>|~$&#{}!^=@]|:(?=/)|(?<=www)\.)", re.IGNORECASE)
_WORDS = re.compile(r"(?:[^\W_]+(?:[.,;:?!]? |[.,;:?!]?$))+")  # nothing that is markup or a link to anybody


def as_markdown(summaries: Sequence[LabSummary]) -> str:
    """One document; every further vial begins a page where the document is printed."""
    blocks = [f"# Lab summary{f' of {len(summaries)} vials' if len(summaries) > 1 else ''}"]
    for place, summary in enumerate(summaries):
        blocks += [_PAGE_BREAK] if place else []
        blocks += _vial(summary)
    return "\n\n".join(blocks) + "\n"


def escaped(text: str) -> str:
    """`text` of the knowledge base or a teacher's rules, which looks like itself in Markdown."""
    return _MARKUP.sub(r"\\\1", text)


def from_people(text: str) -> str:
    """
    `text` that a person wrote, as a code span where it holds anything but words.

    Nothing in a code span is markup, not even what some readers of Markdown make of an address or a mention.
    """
    if not text or _WORDS.fullmatch(text):
        return text
    fence = "`" * (1 + max((len(run) for run in re.findall("`+", text)), default=0))
    return f"{fence} {text} {fence}" if "`" in text else f"{fence}{text}{fence}"


def _vial(summary: LabSummary) -> Iterator[str]:
    yield f"## Vial {from_people(summary.vial)}" if summary.vial else f"## {summary.title}"
    yield "\n".join(
        [f"- Name: {_BLANK}", f"- Group: {_BLANK}", f"- Date: {from_people(summary.date) if summary.date else _BLANK}"]
    )
    yield escaped(summary.guide)
    yield from _readings(summary)
    yield "### Not tested"
    yield NEVER_NO
    yield from _waiting(RULED_OUT, summary.not_tested.ruled_out)
    yield from _waiting(WAITING, summary.not_tested.waiting)
    if summary.not_tested.not_made:
        yield f"{NOT_MADE} {escaped('; '.join(summary.not_tested.not_made))}."
    if summary.ranking:
        yield "### Ranking"
        yield f"**{PROGRAM}** {escaped(summary.ranked_by)}"
        yield _table(
            ("class", "probability", "decibans"),
            ((row.class_, row.probability, row.decibans) for row in summary.ranking),
        )
    for section in summary.sections:
        yield from _section(section)
    if summary.sources:
        yield "### Sources"
        yield "\n".join(f"{number}. {escaped(source)}" for number, source in enumerate(summary.sources, 1))
    yield from _cautions(summary)
    yield f"spotplate {escaped(summary.version)}, rule base `{summary.checksum}`"


def _readings(summary: LabSummary) -> Iterator[str]:
    yield "### Readings"
    if summary.readings:
        yield _table(
            ("test", "reading", "value", "what that looks like"),
            (
                (group.test, line.name, line.value, f"{line.looks} {line.remark}".strip())
                for group in summary.readings
                for line in group.lines
            ),
        )
    else:
        yield "No reading has been made."
    if summary.notes:
        yield f"Notes in the record: {from_people(summary.notes)}"


def _waiting(told: str, tests: Sequence[Waiting]) -> Iterator[str]:
    if tests:
        yield told
        yield "\n".join(f"- {escaped(f'{test.test}: {test.needs}')}" for test in tests)


def _section(section: Section) -> Iterator[str]:
    yield f"### {escaped(section.title)}"
    yield f"*{escaped(section.asks)}*"
    for statement in section.program:
        cited = f" \\[{statement.source}\\]" if statement.source else ""
        yield f"> **{PROGRAM}** {escaped(statement.says)}{cited}"
    if section.lines:
        yield f"**{OWN_WORDS}**"
        yield from [_LINE] * section.lines


def _cautions(summary: LabSummary) -> Iterator[str]:
    yield "### Cautions"
    lines = []
    for caution in summary.cautions:
        named = f" ({', '.join(caution.tests)})" if caution.tests else ""
        lines.append(escaped(f"{caution.says}{named}"))
    yield "\n".join(f"- {line}" for line in [*lines, WHO_DECIDES, UNPREPARED])


def _table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = [columns, ["---"] * len(columns), *([escaped(cell) for cell in row] for row in rows)]
    return "\n".join(f"| {' | '.join(line)} |" for line in lines)
