"""Pages for students and for the teacher, written into folders of their own: all of them, or none."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from spotplate.engine.files import write_whole
from spotplate.kb import Fault, FaultyInputError, printable

from .sheets import Printed, as_html, as_markdown
from .sheets.printed import FOR_STUDENTS, FOR_TEACHER
from .views.words import count

_FORMS = {".html": as_html, ".md": as_markdown}


def write_pages(folder: Path, pages: Sequence[Printed], *, over: bool) -> None:
    """
    Write every page as HTML and as Markdown into the option --folder, and tell what was written.

    Raises
    ------
    FaultyInputError
        If the folder cannot be made or written to, or a page is there already and may not be written over
    """
    paths = [folder / page.folder / f"{page.name}{ending}" for page in pages for ending in _FORMS]
    _check_free(folder, paths, over=over)
    written = [form(page.sheet).encode("utf-8") for page in pages for form in _FORMS.values()]
    _make_folders(folder)
    for path, content in zip(paths, written, strict=True):
        write_whole(path, content, over=over, where="option --folder")
    _tell(folder, pages, paths)


def _check_free(folder: Path, paths: Sequence[Path], *, over: bool) -> None:
    """Refuse before anything is written what could not be written after it."""
    if folder.exists() and not folder.is_dir():
        raise FaultyInputError([Fault("option --folder", f"{str(folder)!r} is a file; a folder is accepted.")])
    if not folder.absolute().parent.is_dir():
        raise FaultyInputError([Fault("option --folder", f"there is no folder {str(folder.parent)!r}.")])
    if not over and (there := [path for path in paths if path.exists() or path.is_symlink()]):
        others = f" and {len(there) - 1} more" if len(there) > 1 else ""
        says = f"{str(there[0])!r}{others} is there already; give another folder, or write over it with --over."
        raise FaultyInputError([Fault("option --folder", says)])


def _make_folders(folder: Path) -> None:
    try:
        for name in ("", FOR_STUDENTS, FOR_TEACHER):
            (folder / name).mkdir(exist_ok=True)
    except OSError as error:
        says = f"{str(folder)!r} cannot be made: {error.strerror or error}."
        raise FaultyInputError([Fault("option --folder", says)]) from error


def _tell(folder: Path, pages: Sequence[Printed], paths: Sequence[Path]) -> None:
    """What was written, and what an earlier printing left behind, which may be of another key."""
    for name, says in (
        (FOR_STUDENTS, "for the students"),
        (FOR_TEACHER, "for the teacher only, since they give the answers away"),
    ):
        number = sum(page.folder == name for page in pages)
        print(f"{printable(str(folder / name))}: {count(number, 'page')} {says}, as HTML and Markdown.")
    kept = set(paths)
    left = sorted(path.name for name in (FOR_STUDENTS, FOR_TEACHER) for path in (folder / name).iterdir() if path not in kept)
    if left:
        print(f"Not of this printing, so perhaps of another key: {', '.join(map(printable, left))}.", file=sys.stderr)
