"""
The lab summary: the page that a student hands in at the end of a bench session.

`summary_of` makes the data of one vial from its identification, with the program's sentences or as an assessment;
`as_text`, `as_markdown` and `as_html` write one or several of them as one document:

>>> from spotplate.cli.lab_summary import SummaryKind, as_text, summary_of
>>> from spotplate.engine import identify, load_knowledge, make_record
>>> knowledge = load_knowledge()
>>> result = identify(make_record({"state": "solid"}, knowledge, vial="C"), knowledge)
>>> print(as_text([summary_of(result, knowledge, SummaryKind.ASSESSMENT)]).splitlines()[0])
Lab summary, vial C

Inside: `of_record` holds what follows from the record alone, `argument` what the program argues, and only
`making` brings the two together, so that nothing of the second can reach an assessment. The forms (`text_form`,
`markdown_form`, `html_form`) read `model` and nothing else; `sheet/` holds the HTML template and its style sheet.
"""

from .html_form import as_html
from .making import summary_of
from .markdown_form import as_markdown
from .model import LabSummary, SummaryKind
from .text_form import as_text

__all__ = ["LabSummary", "SummaryKind", "as_html", "as_markdown", "as_text", "summary_of"]
