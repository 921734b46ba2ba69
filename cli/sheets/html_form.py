"""A sheet as one HTML page that asks nothing of the outside, for the screen and for A4 or Letter paper."""

from __future__ import annotations

from pathlib import Path

from spotplate.cli.templates import filled

from .model import HOW_SURE, READ_AS, READING, SEEN, WHY, Sheet

_WORDS = {"seen": SEEN, "reading": READING, "read_as": READ_AS, "why": WHY, "how_sure": HOW_SURE}
_PAGE = Path(__file__).parent / "page"  # the template and its style sheet


def as_html(sheet: Sheet) -> str:
    """The whole page; all text is escaped by the template engine."""
    return filled(_PAGE, "sheet.html", sheet=sheet, words=_WORDS)
