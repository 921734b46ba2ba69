"""Identifications per second within a running program, beside a plain piece of Python timed in the same run.

The yardstick is writing a record's readings as JSON 1,000 times. The records are the likeliest full one of every
reference substance; nothing is remembered from one turn to the next, since every turn makes its records anew.
"""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable

from spotplate.datasets import load_substances
from spotplate.engine import Record, expected_records, identify, load_knowledge

TURNS = 5
WRITTEN = 1000
SAMPLE = 40  # the yardstick need not run on every record


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def main() -> None:
    knowledge = load_knowledge()

    def records() -> list[Record]:
        return [next(expected_records(substance, knowledge)) for substance in load_substances()]

    def yardstick() -> None:
        for text in texts:
            for _ in range(WRITTEN):
                json.dumps(text)

    full = records()
    texts = [{name: str(value) for name, value in record.readings.items()} for record in full[:: len(full) // SAMPLE]]
    identify(full[0], knowledge, advise=False)
    reasoned, written = [], []
    for _ in range(TURNS):
        made = records()
        reasoned.append(seconds(lambda made=made: [identify(record, knowledge, advise=False) for record in made]) / len(made))  # type: ignore[misc]
        written.append(seconds(yardstick) / len(texts))
    each, measure = statistics.median(reasoned), statistics.median(written)
    readings = statistics.mean(len(record.readings) for record in full)
    print(f"{len(full)} full records of {readings:.0f} readings on average; median of {TURNS} turns")
    print(f"identify(advise=False): {1 / each:.0f} records a second, {1000 * each:.2f} ms each")
    print(f"writing a record as JSON {WRITTEN:,} times: {1000 * measure:.2f} ms")
    print(f"one identification / {WRITTEN:,} writings: {each / measure:.2f}")


if __name__ == "__main__":
    main()
