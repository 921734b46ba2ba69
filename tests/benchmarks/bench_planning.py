"""Planning of unknowns sets: seconds to a proved optimum, on cupboards drawn from the reference table.

The aim is a cupboard of 300, 16 tests, 12 vials and r = 2 in 10 s on two cores (one is used). Beside the time on the clock
stands that of the processor, which a busy machine does not lengthen.
"""

from __future__ import annotations

import random
import statistics
import sys
import time

import msgspec

from spotplate.datasets import load_substances
from spotplate.engine.sets import Wishes, plan_set
from spotplate.engine.sets.kits import make_bench
from spotplate.engine.sets.posing import fill_shelf, pose
from spotplate.engine.sets.solving import Solver, Stopwatch
from spotplate.kb import load_knowledge

DRAWS = 10
AIM, LIMIT = 10.0, 60.0  # [s]
OF_CLASS = {"ionic": 3, "metallic": 2, "polar molecular": 3, "nonpolar molecular": 2, "covalent network": 2}


def room(tests: int, draw: random.Random) -> tuple[str, ...]:
    """So many tests that can all be done in the room."""
    knowledge = load_knowledge()
    while True:
        names = tuple(draw.sample(list(knowledge.tests), tests))
        if not make_bench(names, knowledge).useless:
            return names


def planned(cupboard: int, tests: int, wishes: Wishes, seed: int) -> tuple[bool, float, float]:
    """Whether a plan was proved, with its time on the clock and of the processor [s]."""
    names, wanted = drawn(cupboard, tests, wishes, seed)
    clock, processor = time.perf_counter(), time.process_time()
    proved = plan_set(names, wanted, seconds=LIMIT).proved
    return proved, time.perf_counter() - clock, time.process_time() - processor


def all_candidates(cupboard: int, tests: int, wishes: Wishes, seed: int) -> tuple[bool, float, float]:
    """The same as if every substance were fit for students, since the table holds fewer than 300 that are."""
    names, wanted = drawn(cupboard, tests, wishes, seed)
    clock, processor = time.perf_counter(), time.process_time()
    knowledge = load_knowledge()
    shelf = fill_shelf(names, {}, wanted.seed, knowledge)
    posed = pose(shelf, wanted, knowledge)
    question = msgspec.structs.replace(posed.question, candidates=shelf.all)
    found = Solver(msgspec.structs.replace(posed, question=question), Stopwatch(LIMIT, time.monotonic)).solve()
    return found is None or found.worth == found.bound, time.perf_counter() - clock, time.process_time() - processor


def drawn(cupboard: int, tests: int, wishes: Wishes, seed: int) -> tuple[list[str], Wishes]:
    draw = random.Random(seed)
    names = draw.sample([substance.name for substance in load_substances()], cupboard)
    return names, msgspec.structs.replace(wishes, tests=room(tests, draw))


def main(draws: int = DRAWS) -> None:
    planned(60, 10, Wishes(vials=4), 0)  # what is read once is read
    usual = Wishes(vials=12, of_class=OF_CLASS)
    for title, work, cupboard, tests, wishes in (
        ("aim: cupboard 300, 16 tests, 12 vials, r = 2", planned, 300, 16, usual),
        ("the same with all 300 as candidates", all_candidates, 300, 16, usual),
        ("all 300 as candidates, r = 3", all_candidates, 300, 16, msgspec.structs.replace(usual, told_apart_by=3)),
        ("exactly 4 awkward vials", planned, 300, 16, msgspec.structs.replace(usual, awkward={"any": 4})),
        ("the whole table, 21 tests, 20 vials, r = 2", planned, 389, 21, msgspec.structs.replace(usual, vials=20)),
        ("a kit too short by far, and what helps", planned, 300, 16, msgspec.structs.replace(usual, minutes=3)),
    ):
        results = [work(cupboard, tests, wishes, seed) for seed in range(draws)]
        clock, processor = [result[1] for result in results], [result[2] for result in results]
        print(f"{title}: {sum(result[0] for result in results)} of {draws} proved")
        print(f"  clock {statistics.median(clock):.2f} s (slowest {max(clock):.2f})", end="; ")
        print(f"processor {statistics.median(processor):.2f} s (slowest {max(processor):.2f})", flush=True)
    print(f"aim: {AIM:g} s on the clock, two cores")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
