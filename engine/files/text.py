"""Reading text from what people bring: files, and nothing but files, of bounded size."""

from __future__ import annotations

from pathlib import Path

from spotplate.kb import Fault, FaultyInputError, decode, nearest

MOST_BYTES = 1_000_000


def read_text(path: Path) -> str:
    """Text of a file that people brought; `FaultyInputError` when there is none or it cannot be text."""
    name = str(path)
    try:
        if path.is_dir():
            raise FaultyInputError([Fault(name, "this is a folder; a file is accepted.")])
        if not path.exists():
            raise FaultyInputError([Fault(name, f"there is no such file.{_meant(path)}")])
        if not path.is_file():
            raise FaultyInputError([Fault(name, "this is not an ordinary file.")])
        size = path.stat().st_size
        if size > MOST_BYTES:
            raise FaultyInputError([Fault(name, f"the file has {size:,} bytes; at most {MOST_BYTES:,} are read.")])
        return decode(path.read_bytes(), name)
    except (OSError, ValueError) as error:
        if isinstance(error, FaultyInputError):
            raise
        says = getattr(error, "strerror", None) or str(error)
        raise FaultyInputError([Fault(name, f"the file cannot be read: {says}.")]) from None


def _meant(path: Path) -> str:
    try:
        near = nearest(path.name, [entry.name for entry in path.parent.iterdir() if entry.is_file()])
    except OSError:
        return ""
    return f" Did you mean {str(path.parent / near)!r}?" if near else ""
