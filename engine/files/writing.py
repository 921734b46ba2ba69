"""Writing what people keep: whole or not at all, and never over a file that is there unless asked to."""

from __future__ import annotations

import contextlib
import os
import shutil
from pathlib import Path

from spotplate.kb import Fault, FaultyInputError


def check_free(path: Path, *, where: str = "", remedy: str = "give another name") -> None:
    """Refuse a path that cannot be written anew, before long work is done for it; `remedy` says what to do instead."""
    if path.exists() or path.is_symlink():
        raise FaultyInputError([Fault(where, f"{str(path)!r} is there already; {remedy}.")])
    if not path.parent.is_dir():
        raise FaultyInputError([Fault(where, f"there is no folder {str(path.parent)!r}.")])


def write_whole(path: Path, content: bytes, *, over: bool = False, where: str = "") -> None:
    """
    Write a file through a temporary one beside it, so that an interruption never leaves half a file.

    Whoever may read or write a file that is written over, may do so afterwards.

    Raises
    ------
    FaultyInputError
        If the file is there and `over` is false or it is write-protected, or the folder cannot be written to
    """
    if not over:
        check_free(path, where=where)
    elif path.exists() and not os.access(path, os.W_OK):
        raise FaultyInputError([Fault(where, f"{str(path)!r} cannot be written: it is write-protected.")])
    beside = path.with_name(f".{path.name}.{os.urandom(4).hex()}.part")
    try:
        with beside.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        if over and path.exists():
            shutil.copymode(path, beside)
        os.replace(beside, path)
        _keep_name(path.parent)
    except OSError as error:
        raise FaultyInputError([Fault(where, f"{str(path)!r} cannot be written: {error.strerror or error}.")]) from error
    finally:
        with contextlib.suppress(OSError):
            beside.unlink()


def _keep_name(folder: Path) -> None:
    """Have a folder's names on disk, too: without that, a power failure can bring the old file back."""
    with contextlib.suppress(OSError):  # not every system opens a folder
        names = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(names)
        finally:
            os.close(names)
