"""Progress of long work, shown where a person waits for it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar(steps: int, of: str) -> Iterator[Callable[[], None]]:
    """A progress bar on stderr where a person sits at the terminal."""
    if not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(of, total=steps)
        yield lambda: bar.advance(task)


@contextmanager
def progress_share() -> Iterator[Callable[[float, str], None]]:
    """The same for work whose length is not known: takes the share done [-] and a few words on what is done now."""
    if not sys.stderr.isatty():
        yield lambda share, words: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("{task.description}", markup=False), BarColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=1.0)
        yield lambda share, words: bar.update(task, completed=share, description=words)
