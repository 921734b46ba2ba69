"""A lab summary from what an identification found."""

from __future__ import annotations

from spotplate.engine import Identification
from spotplate.kb import KnowledgeBase, printable

from .argument import empty_sections, filled_sections, proposed_tests, ranked_by, ranking
from .model import PROGRAM, LabSummary, SummaryKind
from .of_record import cautions_for, not_tested, readings_by_test

_LONGEST_LABEL = 60  # characters; what is longer is no label, and would break headings
_GUIDES = {
    SummaryKind.WITH_SENTENCES: (
        f"Every sentence of the argument that the program wrote begins with “{PROGRAM}”; the ruled lines are for sentences of "
        "your own. The readings and notes are those of the record. The descriptions, lists and cautions come from the program."
    ),
    SummaryKind.ASSESSMENT: (
        "The readings and notes are those of the record; the descriptions, lists and cautions come from the program. The ruled "
        "lines are for sentences of your own: the program has written none of the argument."
    ),
}


def summary_of(
    result: Identification,
    knowledge: KnowledgeBase,
    kind: SummaryKind = SummaryKind.WITH_SENTENCES,
    *,
    date: str = "",
) -> LabSummary:
    """
    The lab summary of one vial; in an assessment it depends on the record and the rule base's checksum alone.

    Parameters
    ----------
    result : Identification
        What was found on the vial's record
    knowledge : KnowledgeBase
        The one that `result` was found with
    kind : SummaryKind
        With the program's sentences, or the record alone
    date : str
        Date of the bench session in any spelling; a line to fill in when it is empty
    """
    from importlib.metadata import version  # slow to import

    record = result.record
    filled = kind is SummaryKind.WITH_SENTENCES
    sections, sources = filled_sections(result, knowledge) if filled else (empty_sections(), ())
    return LabSummary(
        kind=kind,
        vial=_label(record.vial),
        date=_label(date),
        guide=_GUIDES[kind],
        readings=readings_by_test(record, knowledge),
        notes=_one_line(record.notes),
        not_tested=not_tested(record, knowledge),
        ranking=ranking(result) if filled else (),
        ranked_by=ranked_by(result) if filled else "",
        sections=sections,
        sources=sources,
        cautions=cautions_for(record, proposed_tests(result) if filled else (), knowledge),
        version=version("spotplate"),
        checksum=result.checksum,
    )


def _one_line(text: str) -> str:
    return " ".join(printable(text).split())


def _label(text: str) -> str:
    text = _one_line(text)
    return text if len(text) <= _LONGEST_LABEL else f"{text[: _LONGEST_LABEL - 1]}…"
