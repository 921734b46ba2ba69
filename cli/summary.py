"""`spotplate summary`: the page that a student hands in at the end of a bench session."""

from __future__ import annotations

import enum
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from spotplate.engine import identify
from spotplate.engine.files import check_free, write_whole
from spotplate.kb import Fault, FaultyInputError, not_accepted, printable

from .knowledge import chosen_knowledge
from .lab_summary import LabSummary, SummaryKind, as_html, as_markdown, as_text, summary_of
from .lab_summary.text_form import PAGE_BREAK
from .options import Among, ExtraRules, OfSet, OwnRules
from .records import among_of, chosen_records
from .streams import speaks_unicode


class Form(enum.StrEnum):
    TEXT = "text"
    MARKDOWN = "markdown"
    HTML = "html"


_WRITERS = {Form.TEXT: as_text, Form.MARKDOWN: as_markdown, Form.HTML: as_html}
_ENDINGS = {
    ".txt": Form.TEXT, ".md": Form.MARKDOWN, ".markdown": Form.MARKDOWN, ".html": Form.HTML, ".htm": Form.HTML,
}  # fmt: skip


def summary(
    record: Annotated[Path, typer.Argument(help="YAML record, or CSV with one vial a row.", show_default=False)],
    vial: Annotated[list[str] | None, typer.Option("--vial", help="Only this vial of the file. May be repeated.")] = None,
    form: Annotated[
        Form | None,
        typer.Option("--form", help="Form of the page; by the ending of --output, or text, when not given.", show_default=False),
    ] = None,
    output: Annotated[
        Path | None, typer.Option("--output", metavar="FILE", help="Write the page into this file (.txt, .md, .html).")
    ] = None,
    over: Annotated[bool, typer.Option("--over", help="Write over the file if it is there.")] = False,
    assessment: Annotated[
        bool,
        typer.Option(
            "--assessment",
            help="Without any sentence of the program: the record alone, with lines for claim, evidence and reasoning.",
        ),
    ] = False,
    date: Annotated[str, typer.Option("--date", metavar="TEXT", help="Date to print; a line to fill in when not given.")] = "",
    among: Among = None,
    of_set: OfSet = None,
    rules: OwnRules = None,
    extra_rules: ExtraRules = None,
) -> None:
    """Write the lab summary of a record: readings, ranking, claim, evidence, reasoning, what was not tested, cautions.

    The program marks every sentence of its own and leaves room for the student's. Exit code 0 when the page was
    written, whatever the verdict, so that it tells nothing in an assessment; 2 on bad input.
    """
    chosen = form or _form_of(output)
    _check_output(output, over=over)
    knowledge = chosen_knowledge(rules, extra_rules)
    kind = SummaryKind.ASSESSMENT if assessment else SummaryKind.WITH_SENTENCES
    names = among_of(among or [], of_set, knowledge)
    summaries = [
        summary_of(identify(item, knowledge, among=names), knowledge, kind, date=date)
        for item in chosen_records(record, vial or [], knowledge)
    ]
    if output is None:
        _print(summaries, chosen)
        return
    write_whole(output, _WRITERS[chosen](summaries).encode("utf-8"), over=over, where="option --output")
    print(f"The lab summary is in {printable(str(output))}.")


def _form_of(output: Path | None) -> Form:
    if output is None:
        return Form.TEXT
    ending = output.suffix.lower()
    if ending not in _ENDINGS:
        says = (
            not_accepted(ending, "an ending that tells the form", list(_ENDINGS))
            if ending
            else (f"the name has no ending that tells the form. Accepted: {', '.join(_ENDINGS)}.")
        )
        raise FaultyInputError([Fault("option --output", f"{says} Or choose with --form.")])
    return _ENDINGS[ending]


def _check_output(output: Path | None, *, over: bool) -> None:
    """Refuse before the work what could not be written after it."""
    if over and output is None:
        raise FaultyInputError([Fault("option --over", "there is no file to write over; name it with --output.")])
    if output is not None and not over:
        check_free(output, where="option --output", remedy="give another name, or write over it with --over")


def _print(summaries: Sequence[LabSummary], form: Form) -> None:
    written = _WRITERS[form](summaries)
    if form is Form.TEXT and sys.stdout.isatty():
        written = written.replace(PAGE_BREAK, "")  # for printers, not for terminals
    if form is Form.HTML and not speaks_unicode():
        # The page says that it is UTF-8; characters told by number are right in any encoding.
        written = written.encode("ascii", "xmlcharrefreplace").decode("ascii")
    print(written, end="")
