"""A lab summary as one HTML page that asks nothing of the outside, for the screen and for A4 or Letter paper."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from spotplate.cli.templates import filled
from spotplate.cli.views.words import UNPREPARED, WHO_DECIDES

from .model import OWN_WORDS, PROGRAM, LabSummary
from .of_record import NEVER_NO, NOT_MADE, RULED_OUT, WAITING

_SHEET = Path(__file__).parent / "sheet"  # the template and its style sheet


def as_html(summaries: Sequence[LabSummary]) -> str:
    """One document with an article for each vial; on paper every vial begins a page."""
    return filled(
        _SHEET,
        "summary.html",
        summaries=summaries,
        program=PROGRAM,
        own_words=OWN_WORDS,
        never_no=NEVER_NO,
        ruled_out=RULED_OUT,
        waiting=WAITING,
        not_made=NOT_MADE,
        who_decides=WHO_DECIDES,
        no_case=UNPREPARED,
    )
