"""
Writers of bench records that are killed while they write; run as a program of its own: FOLDER FORM SEED KILLS.

It forks a writer that goes on setting readings through `BenchFiles`, kills it at a random moment, and tells in one line of
JSON what the writer had begun and finished, what was left, and what the files then held; and so on. Judging is left to the test.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from pathlib import Path

import filelock  # noqa: F401  (imported here once, and not by every writer anew)
import msgspec

from spotplate.engine.bench.memory import Memory, VialMemory
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.kb import KnowledgeBase, load_knowledge

VIAL = "A 1"


def record_of(folder: Path, form: str) -> Path:
    """Where the writers write: a record, a table of several vials, or a folder of records."""
    if form == "folder":
        return folder
    path = folder / f"a.{form}"
    if form == "csv" and not path.exists():
        path.write_text(f"vial,state,notes\nother,liquid,stays\n{VIAL},,\n", "utf-8")
    return path


def write_on(path: Path, seed: int, tell: int, knowledge: KnowledgeBase) -> None:
    """Set and take back readings for ever, telling each before and after."""
    draw = random.Random(seed)
    kinds = [kind for kind in knowledge.readings.values() if kind.values]
    with BenchFiles(path, knowledge) as files:
        if VIAL not in files.records:
            files.add_vial(VIAL)
        memory = files.memory() or Memory(vial=VIAL)
        while True:
            kind = draw.choice(kinds)
            value = draw.choice(["", "unclear", *(value.is_ for value in kind.values)])
            os.write(tell, f"begin\t{kind.id}\t{value}\n".encode())
            files.set_reading(VIAL, kind.id, value)
            memory = memory.with_vial(VIAL, VialMemory(order=(*memory.of(VIAL).order[-40:], kind.id)))
            files.remember(memory)
            os.write(tell, f"done\t{kind.id}\t{value}\n".encode())


def killed_writer(path: Path, seed: int, knowledge: KnowledgeBase) -> list[list[str]]:
    """Let a writer write, kill it at a random moment, and return what it told."""
    draw = random.Random(seed)
    ours, theirs = os.pipe()
    writer = os.fork()
    if writer == 0:
        try:
            os.close(ours)
            write_on(path, seed, theirs, knowledge)
        finally:
            os._exit(1)  # only reached when writing failed
    os.close(theirs)
    told = b""
    # A few readings, and then some way into the next; or else already while it opens or begins the record.
    steps = draw.choice([0, 1, 1, 2, 2, 3])
    while told.count(b"done") < steps and (part := os.read(ours, 65536)):
        told += part
    time.sleep(draw.random() * 0.03)
    os.kill(writer, signal.SIGKILL)
    _, status = os.waitpid(writer, 0)
    while part := os.read(ours, 65536):
        told += part
    os.close(ours)
    assert os.WIFSIGNALED(status), "the writer ended by itself"
    return [line.split("\t") for line in told.decode().splitlines()]


def found_in(path: Path, knowledge: KnowledgeBase) -> dict[str, object]:
    """What the next session finds: the readings of every vial, the latest that is remembered, and what is swept up."""
    folder = path if path.is_dir() else path.parent
    left = [file.name for file in folder.glob(".*.part")]
    with BenchFiles(path, knowledge) as files:
        readings = {
            label: {**{name: str(value) for name, value in record.readings.items()}, **dict.fromkeys(record.unclear, "unclear")}
            for label, record in files.records.items()
        }
        memory = files.memory()
        return {
            "left": left,
            "unswept": [file.name for file in folder.glob(".*.part")],
            "readings": readings,
            "remembered": msgspec.to_builtins(memory) if memory else None,
        }


def main() -> None:
    folder, form, seed, kills = Path(sys.argv[1]), sys.argv[2], int(sys.argv[3]), int(sys.argv[4])
    knowledge = load_knowledge()
    path = record_of(folder, form)
    for turn in range(kills):
        told = killed_writer(path, 1000 * seed + turn, knowledge)
        print(json.dumps({"told": told, **found_in(path, knowledge)}))


if __name__ == "__main__":
    main()
