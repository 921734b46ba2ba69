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
