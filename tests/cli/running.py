"""Running the command line as people do: in a process of its own."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from spotplate import datasets

DEMO = Path(datasets.__file__).parent / "demo"


def run(*arguments: str, columns: int = 80, **environment: str) -> subprocess.CompletedProcess[str]:
    """`spotplate` with these arguments, its output piped."""
    kept = {name: value for name, value in os.environ.items() if name not in ("FORCE_COLOR", "NO_COLOR")}
    return subprocess.run(
        [sys.executable, "-m", "spotplate.cli", *arguments],
        capture_output=True,
        text=True,
        encoding=environment.get("PYTHONIOENCODING", "utf-8"),
        env={**kept, "COLUMNS": str(columns), "PYTHONIOENCODING": "utf-8", **environment},
        stdin=subprocess.DEVNULL,
        timeout=60,
        check=False,
    )
