"""The lab summary at the end of a bench session, beside the record."""

from __future__ import annotations

from pathlib import Path

from spotplate.engine.bench.session import Session
from spotplate.engine.files import write_whole
from spotplate.engine.files.bench_files import BenchFiles, as_file_name
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, not_accepted

from .lab_summary import SummaryKind, as_html, as_markdown, as_text, summary_of

_FORMS = {"html": (as_html, ".html"), "markdown": (as_markdown, ".md"), "text": (as_text, ".txt")}


def write_summary(session: Session, files: BenchFiles, form: str, knowledge: KnowledgeBase) -> Path:
    """Write the summary of the vial at hand into a new file, and return its path."""
    if form.casefold() not in _FORMS:
        raise FaultyInputError([Fault("", not_accepted(form, "a form of the lab summary", list(_FORMS)))])
    writer, ending = _FORMS[form.casefold()]
    kind = SummaryKind.ASSESSMENT if session.memory.assessment else SummaryKind.WITH_SENTENCES
    page = writer([summary_of(session.result(), knowledge, kind)])
    path = _free(files.folder, f"summary-{as_file_name(session.vial)}", ending)
    write_whole(path, page.encode("utf-8"))
    return path


def _free(folder: Path, stem: str, ending: str) -> Path:
    """A name that is not taken: an earlier summary is never written over."""
    path = folder / f"{stem}{ending}"
    number = 2
    while path.exists():
        path = folder / f"{stem}-{number}{ending}"
        number += 1
    return path
