"""Time from the shell to an answer, as a ratio to starting Python with typer, rich and YAML alone."""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

from spotplate import datasets

RUNS = 21
RECORD = str(Path(datasets.__file__).parent / "demo" / "vial-c.yaml")
BARE = [sys.executable, "-c", "import typer, rich, yaml"]
DRAWN = [sys.executable, "-c", "import typer, rich, yaml; from rich.console import Console; Console().print('ionic')"]
IDENTIFY = [sys.executable, "-m", "spotplate.cli", "identify", RECORD]


def seconds(command: list[str]) -> float:
    started = time.perf_counter()
    subprocess.run(command, stdout=subprocess.DEVNULL, check=True)
    return time.perf_counter() - started


def main() -> None:
    commands = {"bare imports": BARE, "imports and one line by rich": DRAWN, "identify one record": IDENTIFY}
    times: dict[str, list[float]] = {name: [] for name in commands}
    for turn in range(RUNS + 2):
        for name, command in commands.items():
            spent = seconds(command)
            if turn >= 2:  # the first turns warm the disk cache
                times[name].append(spent)
    medians = {name: statistics.median(spent) for name, spent in times.items()}
    for name, median in medians.items():
        print(f"{name}: {1000 * median:.0f} ms (median of {RUNS})")
    ratio = medians["identify one record"] / medians["bare imports"]
    drawn = medians["identify one record"] / medians["imports and one line by rich"]
    print(f"identify / bare imports: {ratio:.2f} (aim 1.5)")
    print(f"identify / imports and one line by rich: {drawn:.2f}")


if __name__ == "__main__":
    main()
