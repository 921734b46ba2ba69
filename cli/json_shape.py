"""The JSON shape of results. README documents it; fields are only ever added."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import msgspec

from spotplate.engine import Identification, Interval
from spotplate.engine.record import ReadValue
from spotplate.kb import to_si

from .streams import speaks_unicode


def print_json(data: Any) -> None:
    """Print `data` as JSON, readable by people too."""
    import json  # only here, so that every other start goes without it

    print(json.dumps(data, ensure_ascii=not speaks_unicode(), indent=2, allow_nan=False))


def identifications(results: Sequence[Identification]) -> dict[str, Any]:
    """All vials of one run, with the versions that the answer rests on."""
    from importlib.metadata import version  # slow to import, and needed for JSON only

    return {
        "spotplate": version("spotplate"),
        "knowledge_checksum": results[0].checksum if results else "",
        "vials": [_identification(result) for result in results],
    }


def _identification(result: Identification) -> dict[str, Any]:
    return {
        "vial": result.record.vial,
        "notes": result.record.notes,
        "readings": {name: reading_data(value) for name, value in result.record.readings.items()},
        "unclear": list(result.record.unclear),
        "air_pressure": None if result.record.air_pressure is None else reading_data(result.record.air_pressure),
        "verdict": {
            "kind": result.verdict.kind.value,
            "class": result.verdict.class_,
            "reasons": list(result.verdict.reasons),
            "open_between": list(result.verdict.open_between),
        },
        "ranking": [
            {
                "class": item.class_,
                "probability": item.probability,
                "decibans": item.decibans,
                "reasons": [_reason(reason) for reason in result.reasons[item.class_]],
            }
            for item in result.ranking
        ],
        "contrast": msgspec.to_builtins(result.contrast),
        "rests_on": msgspec.to_builtins(result.rests_on),
        "facts": msgspec.to_builtins(result.facts),
        "next_tests": msgspec.to_builtins(result.next_tests),
        "cautions": list(result.cautions),
        "cross_check": plain_data(result.cross_check),
        "suspects": plain_data(result.suspects),
        "candidates": plain_data(result.candidates),
    }


def plain_data(found: Any) -> Any:
    """Structs as JSON data, with `class_` called `class`."""
    return _renamed(msgspec.to_builtins(found))


def _renamed(data: Any) -> Any:
    if isinstance(data, dict):
        return {"class" if key == "class_" else key: _renamed(value) for key, value in data.items()}
    if isinstance(data, (list, tuple)):
        return [_renamed(item) for item in data]
    return data


def _reason(reason: Any) -> dict[str, Any]:
    data: dict[str, Any] = msgspec.to_builtins(reason)
    del data["class_"]
    return data


def reading_data(value: ReadValue) -> Any:
    """A word as it is; a number as its range in the unit it was written in, null where it is open."""
    if not isinstance(value, Interval):
        return value
    scale = to_si(1.0, value.unit) - to_si(0.0, value.unit)
    low, high = (round((end - to_si(0.0, value.unit)) / scale, 10) for end in (value.low, value.high))
    return {
        "low": None if math.isinf(low) else low,
        "high": None if math.isinf(high) else high,
        "unit": value.unit,
    }
