"""Tables that people bring as CSV: a header, and rows of cells."""

from __future__ import annotations

import csv
import io
import re

from spotplate.kb import Fault, FaultyInputError

MOST_ROWS = 5000
FORMULA = re.compile("'*[=+@-]")  # the beginning of what a spreadsheet reckons with, behind apostrophes that were typed


def plain_cell(cell: str) -> str:
    """A cell without the apostrophe that keeps a spreadsheet from reading it as a formula."""
    text = cell.strip()
    return text[1:] if text.startswith("'") and FORMULA.match(text) else text


def no_formula(text: str) -> str:
    """`text` for a cell; an apostrophe before it keeps a spreadsheet from reckoning with it, and is left out on reading."""
    return f"'{text}" if FORMULA.match(text) else text


def csv_delimiter(text: str) -> str:
    """The sign between the cells of a table: whichever the header has most of."""
    # Only line ends of the CSV kind end a row; str.splitlines would cut at a page or line separator inside a cell too.
    first = next(line for line in re.split(r"\r\n|\r|\n", text) if line.strip())
    return max(",;\t", key=first.count)


def csv_rows(text: str, file: str, row_of: str) -> tuple[list[str], list[tuple[int, list[str]]]]:
    """The header, and every row that is not blank with its line number; `row_of` is what a message says a row holds."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=csv_delimiter(text), strict=True)
    found: list[tuple[int, list[str]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                found.append((reader.line_num, cells))
            if len(found) > MOST_ROWS + 1:
                raise FaultyInputError([Fault(file, f"there are more than {MOST_ROWS:,} rows.")])
    except csv.Error as error:
        raise FaultyInputError([Fault(f"{file}, line {reader.line_num}", f"not valid CSV: {error}.")]) from None
    if not found:
        raise FaultyInputError([Fault(file, f"the file holds no cells; a header and rows, each with {row_of}, are accepted.")])
    header = [" ".join(name.split()) for name in found[0][1]]
    if len(found) == 1:
        raise FaultyInputError([Fault(file, f"there is a header but no row with {row_of}.")])
    return header, found[1:]
