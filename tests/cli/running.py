"""Running the command line as people do: in a process of its own, into a pipe or on a terminal."""

from __future__ import annotations

import functools
import os
import re
import struct
import subprocess
import sys
import tempfile
from pathlib import Path

from spotplate import datasets

DEMO = Path(datasets.__file__).parent / "demo"
VIAL = str(DEMO / "vial-c.yaml")
RACK = str(DEMO / "rack.csv")
PROGRAM = (sys.executable, "-m", "spotplate.cli")
_LEFT_OUT = ("FORCE_COLOR", "NO_COLOR", "COLUMNS", "LINES", "TERM", "PYTHONDONTWRITEBYTECODE")
_COMPILED = tempfile.TemporaryDirectory(prefix="spotplate-tests-")  # compiled once a test run, whatever the machine's settings


def environment_with(**changes: str) -> dict[str, str]:
    """The environment of this process without what bears on screens, and with `changes`."""
    kept = {name: value for name, value in os.environ.items() if name not in _LEFT_OUT}
    return {**kept, "PYTHONPYCACHEPREFIX": _COMPILED.name, "PYTHONIOENCODING": "utf-8", **changes}


def run(*arguments: str, columns: int = 80, **environment: str) -> subprocess.CompletedProcess[str]:
    """`spotplate` with these arguments, its output piped."""
    return subprocess.run(
        [*PROGRAM, *arguments],
        capture_output=True,
        text=True,
        encoding=environment.get("PYTHONIOENCODING", "utf-8"),
        env=environment_with(COLUMNS=str(columns), **environment),
        stdin=subprocess.DEVNULL,
        timeout=60,
        check=False,
    )


# The same run need not be repeated for every test that looks at it; only for runs that read no file a test writes.
run_once = functools.cache(run)


@functools.cache
def terminal_output(*arguments: str, columns: int = 80, **environment: str) -> str:
    """What `spotplate` writes to a terminal of this width, escape sequences included."""
    import fcntl
    import pty
    import termios

    ours, theirs = pty.openpty()
    fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 24, columns, 0, 0))
    with subprocess.Popen(
        [*PROGRAM, *arguments],
        stdin=subprocess.DEVNULL,
        stdout=theirs,
        stderr=subprocess.DEVNULL,
        env=environment_with(**{"TERM": "xterm-256color", **environment}),
    ) as process:
        os.close(theirs)
        parts = []
        try:
            while part := os.read(ours, 65536):
                parts.append(part)
        except OSError:  # Linux ends a terminal in this way
            pass
        process.wait(60)
    os.close(ours)
    return b"".join(parts).decode("utf-8").replace("\r\n", "\n")


def without_styles(text: str) -> str:
    """`text` without the escape sequences that only change colour and weight."""
    return re.sub(r"\x1b\[[0-9;]*m", "", text)


def control_characters(text: str) -> set[str]:
    """Characters in `text` that could drive a terminal: C0 but for the line feed, DEL, and C1."""
    return {character for character in text if character != "\n" and (ord(character) < 32 or 127 <= ord(character) < 160)}
