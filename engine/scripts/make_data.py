"""Make again, in this order, what is worked out from the YAML files and the reference table and shipped as data.

    snapshot      kb/snapshot.json                 after every change of a YAML file of kb
    readings      engine/reference_readings.json   after a change of bench tests, expected readings or substances
    tree          datasets/tree.json               after a change of those, too (half a minute)
    calibration   kb/calibration.yaml              after a change of rules or of those (half a minute)

Run from the top of the repository, with the names of the steps to make or with none for all of them. Nothing changes
when all are up to date.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import msgspec
import yaml

import spotplate.datasets
from spotplate.datasets import load_substances
from spotplate.engine import reference_readings
from spotplate.engine.second_opinion.calibration import fit_calibration
from spotplate.engine.second_opinion.tree_training import grow_tree
from spotplate.kb.loading import FOLDER, SNAPSHOT, load_knowledge, make_snapshot

TREE = Path(spotplate.datasets.__file__).parent / "tree.json"
CALIBRATION = FOLDER / "calibration.yaml"
CALIBRATION_HEAD = """\
# The one constant that scales decibans (odds = prior odds × 10^(constant × decibans / 10)), with the report of its fitting.
# Made by engine/scripts/make_data.py and never edited by hand; engine/second_opinion/calibration.py defines the figures.
"""


def snapshot() -> None:
    (FOLDER / SNAPSHOT).write_bytes(make_snapshot())
    load_knowledge.cache_clear()


def readings() -> None:
    made = reference_readings.make_reference(load_knowledge())
    reference_readings.FILE.write_bytes(_one_row_a_line(msgspec.to_builtins(made), "compact"))
    reference_readings.load_reference.cache_clear()


def tree() -> None:
    grown = grow_tree(load_substances(), load_knowledge())
    TREE.write_bytes(_one_row_a_line(msgspec.to_builtins(grown), "nodes"))


def calibration() -> None:
    fitted = fit_calibration(load_substances(), load_knowledge())
    text = yaml.safe_dump(msgspec.to_builtins(fitted), sort_keys=False, default_flow_style=None, width=120)
    CALIBRATION.write_text(CALIBRATION_HEAD + text, encoding="utf-8")
    snapshot()


def _one_row_a_line(data: dict[str, Any], rows: str) -> bytes:
    """JSON with each row on a line of its own, so that a change shows as one."""
    head = [
        f"{msgspec.json.encode(key).decode()}: {msgspec.json.encode(value).decode()}"
        for key, value in data.items()
        if key != rows
    ]
    lines = ",\n".join(msgspec.json.encode(row).decode() for row in data[rows])  # type: ignore[attr-defined]
    return ("{" + ",\n".join([*head, f'"{rows}": [\n{lines}\n]']) + "}\n").encode()


STEPS = {"snapshot": snapshot, "readings": readings, "tree": tree, "calibration": calibration}

if __name__ == "__main__":
    chosen = sys.argv[1:] or list(STEPS)
    if unknown := [name for name in chosen if name not in STEPS]:
        sys.exit(f"unknown step {unknown[0]!r}; steps: {', '.join(STEPS)}")
    for name in STEPS:
        if name in chosen:
            print(f"making {name} …", flush=True)
            STEPS[name]()
