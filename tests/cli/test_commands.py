"""Every command, run as people run it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from running import DEMO, run

COMMANDS = ("identify", "demo", "blank-record", "substance", "classes", "tests", "rules", "check-rules", "report")
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SALT = (
    "-r",
    "dry conductivity=no",
    "-r",
    "in water=yes",
    "-r",
    "solution conductivity=yes",
    "-r",
    "litmus=neutral",
    "-r",
    "mp=801",
)

OWN_RULE = """\
- id: everything-is-metal
  because: In this teacher's game every solid is a metal.
  when: {all: [{reading: state, is: [solid]}]}
  weighs:
    cause: charge carriers
    for: {metallic: decisive, ionic: hint, polar molecular: hint, nonpolar molecular: hint, covalent network: hint}
  source: {key: judgement}
  fires_on: [{state: solid}]
  silent_on: [{state: gas}]
"""


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_stands_in_readme(command: str) -> None:
    done = run(command, "--help")
    assert done.returncode == 0
    assert len(done.stdout) > 200
    assert f"`spotplate {command}" in README


def test_help_lists_every_command() -> None:
    told = run("--help").stdout
    assert all(command in told for command in COMMANDS)
    assert "Exit codes" in told


@pytest.mark.parametrize(
    ("arguments", "code"),
    [
        (("identify", str(DEMO / "vial-c.yaml")), 0),
        (("identify", str(DEMO / "rack.csv")), 1),  # vial G is left open
        (("identify", str(DEMO / "rack.csv"), "--vial", "A"), 0),
        (("identify", str(DEMO / "rack.csv"), "--vial", "G"), 1),
        (("identify", str(DEMO / "rack.csv"), "--details"), 1),
        (("identify", *SALT), 0),
        (("identify", "-r", "state=solid"), 1),
        (("identify", "-r", "state=liquid", "-r", "mp=300"), 1),
        (("demo",), 0),
        (("blank-record",), 0),
        (("substance", "table salt"), 0),
        (("classes",), 0),
        (("classes", "metal"), 0),
        (("tests",), 0),
        (("tests", "water test"), 0),
        (("tests", "litmus"), 0),
        (("rules",), 0),
        (("rules", "electron-sea"), 0),
        (("check-rules",), 0),
        (("report", "--no-misses"), 0),
        (("substance", "fish"), 2),
        (("classes", "wood"), 2),
        (("tests", "wood"), 2),
        (("rules", "wood"), 2),
        (("identify",), 2),
        (("identify", "nothing.yaml"), 2),
    ],
)
@pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)])
def test_exit_code_is_the_documented_one_in_every_form(arguments: tuple[str, ...], code: int, form: tuple[str, ...]) -> None:
    if arguments[0] == "blank-record" and form:
        pytest.skip("prints a file, in one form only")
    done = run(*arguments, *form)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr
    assert bool(done.stderr) == (code == 2)
    if code != 2:
        assert done.stdout
    if form == ("--json",) and code != 2:
        json.loads(done.stdout)


@pytest.mark.parametrize(
    "name", ["sodium carbonate decahydrate", "washing soda", "Washing Soda", "6132-02-1", "Na2CO3·10H2O", "Na2CO3*10H2O"]
)
def test_a_substance_is_found_by_any_of_its_names(name: str) -> None:
    assert json.loads(run("substance", name, "--json").stdout)["name"] == "sodium carbonate decahydrate"


def test_a_misspelt_substance_gets_a_suggestion() -> None:
    assert "did you mean 'sodium chloride'" in run("substance", "sodium chlorid").stderr


def test_a_formula_of_several_substances_lists_them() -> None:
    told = run("substance", "SiO2").stderr
    assert "quartz" in told
    assert "sand" in told


def test_every_value_of_a_substance_shows_its_source() -> None:
    data = json.loads(run("substance", "table salt", "--json").stdout)
    assert data["values"]["melting_point_K"]["source"] == "chemicals-crc-inorg"
    assert data["values"]["lustre"]["source"] == "memory"
    assert set(data["sources"]) == {entry["source"] for entry in data["values"].values()}
    assert "safety data sheet" in run("substance", "table salt").stdout


def test_a_blank_record_is_a_valid_record_without_readings(tmp_path: Path) -> None:
    path = tmp_path / "blank.yaml"
    path.write_text(run("blank-record", "--vial", 'odd: "label" #1').stdout, encoding="utf-8")
    data = json.loads(run("identify", str(path), "--json").stdout)
    assert data["vials"][0]["vial"] == 'odd: "label" #1'
    assert data["vials"][0]["readings"] == {}


def test_a_teachers_rules_replace_or_join_the_shipped_ones(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(OWN_RULE, encoding="utf-8")

    def first(*options: str) -> tuple[str, int]:
        data = json.loads(run("identify", "--json", "-r", "state=solid", "-r", "lustre=glassy", *options).stdout)
        return data["vials"][0]["ranking"][0]["class"], len(data["vials"][0]["ranking"][0]["reasons"])

    assert first()[0] != "metallic"
    assert first("--rules", str(path)) == ("metallic", 1)
    assert first("--extra-rules", str(path))[0] == "metallic"
    assert first("--extra-rules", str(path))[1] == 2  # the shipped rule on glassy lustre still speaks
    assert run("check-rules", str(path)).returncode == 0
    assert run("rules", "everything-is-metal", "--rules", str(path)).returncode == 0


def test_check_rules_lists_every_fault_with_its_place(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    path.write_text(OWN_RULE.replace("metallic:", "metalic:").replace("key: judgement", "key: jugdement"), encoding="utf-8")
    done = run("check-rules", str(path))
    assert done.returncode == 2
    assert "did you mean 'metallic'" in done.stdout
    assert "did you mean 'judgement'" in done.stdout
    assert "line 1" in done.stdout
    assert run("identify", "-r", "state=solid", "--rules", str(path)).returncode == 2


def test_report_counts_every_substance_and_keeps_its_promises() -> None:
    data = json.loads(run("report", "--json").stdout)
    total = data["scores"][-1]
    assert total["class"] == "all"
    assert total["substances"] == sum(score["substances"] for score in data["scores"][:-1]) >= 200
    assert total["right"] + total["inconclusive"] + total["contradictory"] + total["wrong"] == total["substances"]
    assert total["wrong"] <= 0.02 * total["substances"]
    assert total["ever_wrong"] <= 0.02 * total["substances"]
    assert all(miss["reason"] or miss["worst"] != "wrong" for miss in data["misses"])
