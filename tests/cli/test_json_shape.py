"""The JSON of `identify`, as README documents it: exactly these keys."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from running import DEMO, run

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SHAPE = {
    "": {"spotplate", "knowledge_checksum", "vials"},
    "vial": {"vial", "notes", "readings", "unclear", "verdict", "ranking", "contrast", "rests_on", "facts", "next_tests", "cautions"},
    "verdict": {"kind", "class", "reasons", "open_between"},
    "ranked": {"class", "probability", "decibans", "reasons"},
    "reason": {
        "rule", "cause", "word", "decibans", "counted", "because", "readings", "facts", "steps", "exceptions", "source",
    },
    "step": {"rule", "readings", "facts", "because", "adds", "source"},
    "contrast": {"first", "second", "lead", "parted_by", "other_way"},
    "difference": {"cause", "decibans", "because"},
    "dependence": {"reading", "first_without", "probability_without"},
    "fact": {"fact", "says", "rules", "subtype"},
    "next_test": {"test", "reading", "gain", "minutes", "parts", "teacher"},
}  # fmt: skip


def no_constants(text: str) -> None:
    raise AssertionError(f"{text} is no JSON")


@pytest.mark.parametrize(
    "arguments",
    [
        (str(DEMO / "vial-c.yaml"),),
        (str(DEMO / "rack.csv"),),
        ("-r", "melting range=> 300 °C", "-r", "density=2.1-2.2", "-r", "smell=unclear"),
        ("-r", "state=liquid", "-r", "mp=300"),
    ],
)
def test_shape_is_the_documented_one(arguments: tuple[str, ...]) -> None:
    data = json.loads(run("identify", "--json", *arguments).stdout, parse_constant=no_constants)
    assert set(data) == SHAPE[""]
    for vial in data["vials"]:
        assert set(vial) == SHAPE["vial"]
        assert set(vial["verdict"]) == SHAPE["verdict"]
        assert sum(ranked["probability"] for ranked in vial["ranking"]) == pytest.approx(1)
        for ranked in vial["ranking"]:
            assert set(ranked) == SHAPE["ranked"]
            for reason in ranked["reasons"]:
                assert set(reason) == SHAPE["reason"]
                assert all(set(step) == SHAPE["step"] for step in reason["steps"])
        assert set(vial["contrast"]) == SHAPE["contrast"]
        for side in ("parted_by", "other_way"):
            assert all(set(part) == SHAPE["difference"] for part in vial["contrast"][side])
        assert all(set(item) == SHAPE["dependence"] for item in vial["rests_on"])
        assert all(set(item) == SHAPE["fact"] for item in vial["facts"])
        assert all(set(item) == SHAPE["next_test"] for item in vial["next_tests"])


def test_readme_names_every_field() -> None:
    for keys in SHAPE.values():
        for key in keys - SHAPE["step"]:
            assert f"`{key}`" in README, key


def test_numbers_are_ranges_with_their_unit() -> None:
    done = run("identify", "--json", "-r", "melting range=> 300 °C", "-r", "density=2.1-2.2", "-r", "smell=unclear")
    vial = json.loads(done.stdout)["vials"][0]
    assert vial["readings"] == {
        "melting range": {"low": 300, "high": None, "unit": "°C"},
        "density": {"low": 2.1, "high": 2.2, "unit": "g/cm3"},
    }
    assert vial["unclear"] == ["smell"]
