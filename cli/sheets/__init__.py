"""
The sheets of an unknowns set: what students and teacher get on paper.

`sheets_of` makes all sheets of a set for its groups, each as data with the folder and name it is written under;
`as_html` and `as_markdown` write one. Students' sheets are made in `students` from letters and tests alone, their
labels from letters and hazards alone (`labels`); `teacher` and `preparing` hold the rest, and `secrecy` refuses a
heading or a label that would tell what is in the vials. `model` holds the blocks that every form is written from.
"""

from .html_form import as_html
from .labels import Hazards
from .making import sheets_of
from .markdown_form import as_markdown
from .model import Sheet
from .printed import Printed

__all__ = ["Hazards", "Printed", "Sheet", "as_html", "as_markdown", "sheets_of"]
