"""Time to make a quiz, by kind and by level, beside a plain piece of Python timed in the same run.

The yardstick is writing a record's readings as JSON 1,000 times, as for the reasoning. Every quiz has ten questions from the
reference table; each is made with several seeds, and the median counts. Material is made once, as in a running program.
"""

from __future__ import annotations

import json
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial

from spotplate.datasets import load_substances
from spotplate.engine import expected_records, load_knowledge
from spotplate.engine.quiz import Kind, Level, Wanted, make_quiz, mark, table_material

SEEDS = 3
QUESTIONS = 10
WRITTEN = 1000
AIM = 2.0  # [s] for any quiz of ten questions, on a machine that is busy with other things


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def main(seeds: int = SEEDS) -> None:
    substance = load_substances()[0]
    text = {name: str(value) for name, value in next(expected_records(substance, load_knowledge())).readings.items()}
    measure = statistics.median(seconds(lambda: [json.dumps(text) for _ in range(WRITTEN)]) for _ in range(21))
    material = table_material()
    first = seconds(partial(make_quiz, Wanted(QUESTIONS, 1), material))
    print(f"writing a record as JSON {WRITTEN:,} times: {1000 * measure:.2f} ms")
    print(f"the first quiz of a program, with all that is read for it: {first:.2f} s")
    slowest = 0.0
    for kinds in ((), *((kind,) for kind in Kind)):
        print(f"{kinds[0] if kinds else 'every kind'}:", end="")
        for level in (None, *Level):
            wishes = [Wanted(QUESTIONS, seed, kinds, level) for seed in range(seeds)]
            spent = statistics.median(seconds(partial(make_quiz, wanted, material)) for wanted in wishes)
            slowest = max(slowest, spent)
            print(f"  {level or 'any level'} {spent:.2f} s ({spent / measure:,.0f})", end="", flush=True)
        print()
    questions = make_quiz(Wanted(QUESTIONS, 1), material).questions
    guesses = [(question, place) for question in questions for place in range(len(question.options))]
    marked = seconds(lambda: [mark(question, place, material) for question, place in guesses]) / len(guesses)
    print(f"marking a guess: {1000 * marked:.1f} ms ({marked / measure:.1f})")
    print(f"slowest quiz of {QUESTIONS} questions: {slowest:.2f} s (aim {AIM:g}); in brackets the ratio to {WRITTEN:,} writings")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:2]))
