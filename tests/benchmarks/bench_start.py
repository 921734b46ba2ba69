"""Time from the shell to an answer, as a ratio to starting Python with typer, rich and YAML alone.

The three commands run in turn, so that a slow or busy machine slows all of them. Compiled code is kept in a folder of
this run and made by the first turns, whatever the machine's own settings for it: people start a program that has been
started before.
"""

from __future__ import annotations

import os
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from spotplate import datasets

RUNS = 21
WARM_UP = 3
AIM, LIMIT = 1.5, 1.6
RECORD = str(Path(datasets.__file__).parent / "demo" / "vial-c.yaml")
BARE = [sys.executable, "-c", "import typer, rich, yaml"]
DRAWN = [sys.executable, "-c", "import typer, rich, yaml; from rich.console import Console; Console().print('ionic')"]
IDENTIFY = [
    sys.executable,
    "-c",
    "from spotplate.cli.app import main; main()",
    "identify",
    RECORD,
]  # as the installed script does


def milliseconds(command: list[str], environment: dict[str, str]) -> float:
    started = time.perf_counter()
    subprocess.run(command, stdout=subprocess.PIPE, check=True, env=environment)
    return 1000 * (time.perf_counter() - started)


def main() -> None:
    commands = {"bare imports": BARE, "identify one record": IDENTIFY, "imports and one line by rich": DRAWN}
    times: dict[str, list[float]] = {name: [] for name in commands}
    with tempfile.TemporaryDirectory() as compiled:
        left_out = ("PYTHONDONTWRITEBYTECODE", "FORCE_COLOR", "NO_COLOR")
        kept = {name: value for name, value in os.environ.items() if name not in left_out}
        environment = {**kept, "PYTHONPYCACHEPREFIX": compiled}
        for turn in range(WARM_UP + RUNS):
            for name, command in commands.items():
                elapsed = milliseconds(command, environment)
                if turn >= WARM_UP:
                    times[name].append(elapsed)
    bare, identify, drawn = (statistics.median(spent) for spent in times.values())
    for name, spent in times.items():
        print(f"{name}: {statistics.median(spent):.1f} ms (median of {RUNS}; fastest {min(spent):.1f}, slowest {max(spent):.1f})")
    print(f"identify / bare imports: {identify / bare:.2f} (aim {AIM}; later limit {LIMIT})")
    print(f"identify / imports and one line by rich: {identify / drawn:.2f}")


if __name__ == "__main__":
    main()
