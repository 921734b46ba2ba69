"""Time of one identification within a running program, as a ratio to writing its record as JSON."""

from __future__ import annotations

import json
import statistics
import time
from collections.abc import Callable

from spotplate.datasets import load_substances
from spotplate.engine import expected_records, identify, load_knowledge

TURNS = 5


def seconds(work: Callable[[], object]) -> float:
    started = time.perf_counter()
    work()
    return time.perf_counter() - started


def main() -> None:
    knowledge = load_knowledge()
    records = [next(expected_records(substance, knowledge)) for substance in load_substances()]
    texts = [{name: str(value) for name, value in record.readings.items()} for record in records]
    reasoned, written = [], []
    for _ in range(TURNS):
        reasoned.append(seconds(lambda: [identify(record, knowledge, advise=False) for record in records]))
        written.append(seconds(lambda: [json.dumps(text) for text in texts for _ in range(100)]))
    each = statistics.median(reasoned) / len(records)
    ratio = each / (statistics.median(written) / len(records) / 100)
    print(f"{len(records)} full records: {1000 * each:.2f} ms an identification (median of {TURNS} turns)")
    print(f"one identification / writing its record once as JSON: {ratio:.0f}")


if __name__ == "__main__":
    main()
