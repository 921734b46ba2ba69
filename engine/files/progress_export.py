"""Answers written out for people to keep or to look at elsewhere: JSON, or CSV that no spreadsheet takes for formulas."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import msgspec

from spotplate.kb import Fault, FaultyInputError

from .progress import COLUMNS
from .tables import no_formula
from .writing import check_free, write_whole

FORMS = (".json", ".csv")


def check_export(path: Path, *, over: bool, where: str = "") -> None:
    """Refuse a file that answers could not be written into, before anything else is done."""
    if path.suffix.lower() not in FORMS:
        raise FaultyInputError([Fault(where, f"{str(path)!r} does not end in {' or '.join(FORMS)}.")])
    if not over:
        check_free(path, where=where, remedy="give another name, or write over it with --over")


def write_export(answers: Sequence[Mapping[str, Any]], path: Path, *, over: bool = False, where: str = "") -> None:
    """
    Write answers, as `ProgressFile.export` gives them, in the form that the ending of the file names.

    Raises
    ------
    FaultyInputError
        If the ending is another one, the file is there and `over` is false, or it cannot be written
    """
    check_export(path, over=over, where=where)
    text = _json(answers) if path.suffix.lower() == ".json" else _csv(answers)
    write_whole(path, text.encode("utf-8"), over=over, where=where)


def _json(answers: Sequence[Mapping[str, Any]]) -> str:
    return msgspec.json.format(msgspec.json.encode(answers)).decode() + "\n"


def _csv(answers: Sequence[Mapping[str, Any]]) -> str:
    """A header and a row for each answer; the sign at the beginning tells spreadsheets that it is UTF-8."""
    out = io.StringIO(newline="")
    writer = csv.writer(out)
    writer.writerow(COLUMNS)
    writer.writerows([[_cell(answer[column]) for column in COLUMNS] for answer in answers])
    return "\N{BYTE ORDER MARK}" + out.getvalue()


def _cell(value: str | float | None) -> str | float:
    if value is None:
        return ""
    return no_formula(value) if isinstance(value, str) else value
