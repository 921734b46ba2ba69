"""A sheet with the place it is written to, and what all printed sheets share."""

from __future__ import annotations

import msgspec

from .model import Sheet

FOR_STUDENTS = "students"
FOR_TEACHER = "teacher"


class Printed(msgspec.Struct, frozen=True):
    """A sheet, and the folder and name (without ending) that it is written under."""

    folder: str
    name: str
    sheet: Sheet


def one_line(text: str) -> str:
    """Text from people on one line, without signs that cannot be printed."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def program_version() -> str:
    """The version of spotplate, for the foot of a sheet."""
    from importlib.metadata import version  # slow to import

    return version("spotplate")
