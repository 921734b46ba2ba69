"""The JSON of `identify`, as README documents it: exactly these keys, of these types, at every level."""

from __future__ import annotations

import json
import math
from pathlib import Path
from typing import Any

import pytest
from running import RACK, VIAL, run, run_once

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")

NUMBER = int | float  # JSON knows one kind of number

# level → key → type; [x] a list of x; "name" an object of that level; x | None or "name | None" where null may stand.
SHAPE: dict[str, dict[str, Any]] = {
    "whole": {"spotplate": str, "knowledge_checksum": str, "vials": ["vial"]},
    "vial": {
        "vial": str, "notes": str, "readings": dict, "unclear": [str], "verdict": "verdict", "ranking": ["ranked"],
        "contrast": "contrast", "rests_on": ["dependence"], "facts": ["fact"], "next_tests": ["next test"], "cautions": [str],
        "air_pressure": "number | None", "cross_check": "cross-check", "suspects": ["suspect"], "candidates": "candidates",
    },
    "verdict": {"kind": str, "class": str | None, "reasons": [str], "open_between": [str]},
    "ranked": {"class": str, "probability": NUMBER, "decibans": NUMBER, "reasons": ["reason"]},
    "reason": {
        "rule": str, "cause": str, "word": str, "decibans": NUMBER, "counted": bool, "because": str, "readings": [str],
        "facts": [str], "steps": ["step"], "exceptions": [str], "source": str,
    },
    "step": {"rule": str, "readings": [str], "facts": [str], "because": str, "adds": [str], "source": str},
    "contrast": {"first": str, "second": str, "lead": NUMBER, "parted_by": ["difference"], "other_way": ["difference"]},
    "difference": {"cause": str, "decibans": NUMBER, "because": str},
    "dependence": {"reading": str, "first_without": str, "probability_without": NUMBER},
    "fact": {"fact": str, "says": str, "rules": [str], "subtype": str | None},
    "next test": {"test": str, "reading": str, "gain": NUMBER, "minutes": NUMBER, "parts": [str], "teacher": bool,
        "per_minute": NUMBER, "opens": str,
    },
    "cross-check": {
        "agreement": str, "class": str, "share": NUMBER, "makeup": dict, "examples": [str], "path": ["path step"],
        "parts_company": "parts company | None",
    },
    "path step": {"reading": str, "tested": bool, "value": str, "says": str},
    "parts company": {"reading": str, "tested": bool, "says": str, "settled_by": "parting | None"},
    "parting": {
        "first": str, "second": str, "test": str, "reading": str, "first_shows": str, "second_shows": str, "minutes": NUMBER,
        "how": str, "sure": bool,
    },
    "suspect": {
        "reading": str, "probability": NUMBER, "predicted": ["predicted"], "explained_by": str | None, "causes": [str],
        "repeat": str, "verdict_without": "verdict", "first_without": str, "probability_without": NUMBER,
    },
    "predicted": {"value": str, "probability": NUMBER},
    "candidates": {
        "best": ["candidate"], "others": NUMBER, "none_of_these": NUMBER, "none_like": str, "in_table": int, "fit_all": int,
        "set_size": int, "parting": "parting | None",
    },
    "candidate": {
        "name": str, "class": str, "subtype": str, "probability": NUMBER, "fits": [str], "misfits": ["misfit"], "unknown": [str],
        "also_defensible": str,
    },
    "misfit": {"reading": str, "seen": str, "expected": str},
    "number": {"low": NUMBER | None, "high": NUMBER | None, "unit": str},
}  # fmt: skip
CLASSES = {"ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network"}

CASES = [
    (VIAL,),
    (VIAL, "--full", "--plain"),  # --json shows everything whatever stands beside it
    (RACK,),
    (RACK, "--vial", "G", "--vial", "A"),
    ("-r", "state=solid"),
    ("-r", "state="),
    ("-r", "melting range=> 300 °C", "-r", "density=2.1-2.2", "-r", "smell=unclear"),
    ("-r", "state=liquid", "-r", "mp=300"),
    ("-r", "state=liquid", "-r", "bp=76 °C", "-r", "air pressure=90 kPa", "--among", "ethanol; water; benzene"),
]
each_case = pytest.mark.parametrize("arguments", CASES, ids=" ".join)


def no_constants(text: str) -> None:
    raise AssertionError(f"{text} is no JSON")


def identified(*arguments: str) -> dict[str, Any]:
    data = json.loads(run_once("identify", "--json", *arguments).stdout, parse_constant=no_constants)
    assert isinstance(data, dict)
    return data


def faults(found: Any, wanted: Any, where: str) -> list[str]:
    """Places at which `found` is not what SHAPE wants."""
    if isinstance(wanted, list):
        if not isinstance(found, list):
            return [f"{where}: {found!r} is no list"]
        return [fault for place, item in enumerate(found) for fault in faults(item, wanted[0], f"{where}[{place}]")]
    if isinstance(wanted, str):
        if wanted.endswith(" | None"):
            return [] if found is None else faults(found, wanted.removesuffix(" | None"), where)
        if not isinstance(found, dict) or found.keys() != SHAPE[wanted].keys():
            return [f"{where}: {found!r} has not the keys of {wanted}"]
        return [fault for key, kind in SHAPE[wanted].items() for fault in faults(found[key], kind, f"{where}.{key}")]
    right = isinstance(found, wanted) and (wanted is bool or not isinstance(found, bool))
    return [] if right else [f"{where}: {found!r} is no {wanted}"]


def test_a_wrong_shape_would_be_noticed() -> None:
    fact = {"fact": "a", "says": "b", "rules": ["c"], "subtype": None}
    assert not faults([fact], ["fact"], "")
    assert faults([{**fact, "more": 1}], ["fact"], "")
    assert faults([{**fact, "rules": "c"}], ["fact"], "")
    assert faults([{**fact, "rules": [None]}], ["fact"], "")
    assert faults(True, NUMBER, "")


@each_case
def test_keys_and_types_are_the_documented_ones(arguments: tuple[str, ...]) -> None:
    data = identified(*arguments)
    assert not faults(data, "whole", "")
    for vial in data["vials"]:
        for name, value in vial["readings"].items():
            assert not faults(value, "number" if isinstance(value, dict) else str, name)


@each_case
def test_the_numbers_and_words_of_a_vial_agree_with_one_another(arguments: tuple[str, ...]) -> None:
    for vial in identified(*arguments)["vials"]:
        ranking, verdict = vial["ranking"], vial["verdict"]
        assert {ranked["class"] for ranked in ranking} == CLASSES
        assert len(ranking) == len(CLASSES)
        assert math.fsum(ranked["probability"] for ranked in ranking) == pytest.approx(1, abs=1e-9)
        assert all(0 <= ranked["probability"] <= 1 for ranked in ranking)
        assert [ranked["probability"] for ranked in ranking] == sorted((r["probability"] for r in ranking), reverse=True)
        for ranked in ranking:  # only what counts adds up
            counted = sum(reason["decibans"] for reason in ranked["reasons"] if reason["counted"])
            assert counted == pytest.approx(ranked["decibans"])
            assert {name for reason in ranked["reasons"] for name in reason["readings"]} <= set(vial["readings"])
        assert verdict["kind"] in {"conclusive", "inconclusive", "contradictory"}
        assert verdict["reasons"]
        if verdict["kind"] == "conclusive":
            assert verdict["class"] == ranking[0]["class"]
            assert verdict["open_between"] == vial["next_tests"] == vial["cautions"] == []
        else:
            assert verdict["class"] is None
            assert len(verdict["open_between"]) >= 2
            assert set(verdict["open_between"]) <= CLASSES
        found = vial["candidates"]
        listed = math.fsum(candidate["probability"] for candidate in found["best"])
        assert listed + found["others"] + found["none_of_these"] == pytest.approx(1, abs=1e-9)
        assert vial["cross_check"]["agreement"] in {"agrees", "silent", "disagrees"}
        assert (vial["cross_check"]["parts_company"] is not None) == (vial["cross_check"]["agreement"] == "disagrees")
        assert bool(vial["cautions"]) == bool(vial["next_tests"])
        assert (vial["contrast"]["first"], vial["contrast"]["second"]) == (ranking[0]["class"], ranking[1]["class"])
        assert vial["contrast"]["lead"] == pytest.approx(ranking[0]["decibans"] - ranking[1]["decibans"])
        assert set(vial["unclear"]).isdisjoint(vial["readings"])
        for test in vial["next_tests"]:
            assert test["reading"] not in vial["readings"]
            assert set(test["parts"]) <= CLASSES


def test_every_vial_of_a_table_is_there_in_its_order() -> None:
    data = identified(RACK)
    assert [vial["vial"] for vial in data["vials"]] == list("ABCDEFG")
    assert data["vials"][0]["notes"] == "grey granules"
    assert data["vials"][1]["readings"]["dry conductivity"] == "no glow"  # a bare "no" is an answer, not false
    chosen = identified(RACK, "--vial", "G", "--vial", "A")
    assert [vial["vial"] for vial in chosen["vials"]] == ["G", "A"]
    assert chosen["vials"] == [data["vials"][6], data["vials"][0]]
    assert chosen["knowledge_checksum"] == data["knowledge_checksum"]


@pytest.mark.parametrize(
    ("written", "low", "high", "unit"),
    [
        ("> 300 °C", 300, None, "°C"),
        ("< 20 °C", None, 20, "°C"),
        ("121-123 °C", 121, 123, "°C"),
        ("801", 801, 801, "°C"),
        ("394.15 K", 394.15, 394.15, "K"),
        ("212 °F", 212, 212, "°F"),
        ("-38.8 °C", -38.8, -38.8, "°C"),
    ],
)
def test_a_number_keeps_its_range_and_the_unit_it_was_written_in(
    written: str, low: float | None, high: float | None, unit: str
) -> None:
    (vial,) = identified("-r", f"melting range={written}")["vials"]
    assert vial["readings"] == {"melting range": {"low": low, "high": high, "unit": unit}}


def test_an_unclear_reading_is_listed_and_is_no_reading() -> None:
    (vial,) = identified("-r", "density=2.1-2.2", "-r", "smell=unclear")["vials"]
    assert vial["readings"] == {"density": {"low": 2.1, "high": 2.2, "unit": "g/cm3"}}
    assert vial["unclear"] == ["smell"]


def test_every_other_command_prints_json_without_nan_too() -> None:
    for arguments in (("classes",), ("tests",), ("rules",), ("check-rules",), ("substance", "sucrose"), ("demo",)):
        assert json.loads(run_once(*arguments, "--json").stdout, parse_constant=no_constants)


@pytest.mark.parametrize(
    "encoding",
    [
        "ascii",
        "latin-1",
        "cp1252",
    ],
)
def test_json_loses_nothing_where_the_stream_is_not_utf_8(encoding: str) -> None:
    """A pipe on Windows is cp1252; "°C" must not come out as "?C"."""
    arguments = ("identify", "--json", "-r", "mp=> 300 °C", "-r", "on the hot plate=melts")
    assert json.loads(run(*arguments, PYTHONIOENCODING=encoding).stdout) == json.loads(run_once(*arguments).stdout)


@pytest.mark.parametrize(
    "level",
    list(SHAPE),
)
def test_readme_names_every_field(level: str) -> None:
    missing = [key for key in SHAPE[level] if f"`{key}`" not in README and not (level == "number" and key in README)]
    assert not missing
