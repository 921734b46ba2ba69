"""Every command, run as people run it."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import typer.main
from running import DEMO, RACK, VIAL, run, run_once

from spotplate.cli.app import make_app

COMMANDS: dict[str, Any] = dict(getattr(typer.main.get_command(make_app()), "commands"))  # noqa: B009 - typer's own click has no public types
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SALT = (
    "-r", "dry conductivity=no", "-r", "in water=yes", "-r", "solution conductivity=yes", "-r", "litmus=neutral", "-r", "mp=801",
)  # fmt: skip

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
CONFLICT_RULE = """\
- id: nobody-owns-a-lilac-flame
  because: In this teacher's room no substance colours a flame lilac.
  when: {all: [{reading: flame colour, is: [lilac]}]}
  conflict: In this room no flame can be lilac, so a reading is wrong.
  source: {key: judgement}
  fires_on: [{flame colour: lilac}]
  silent_on: [{flame colour: no colour}]
"""


# --- help ----------------------------------------------------------------------------------------


def test_the_commands_are_the_known_ones() -> None:
    assert set(COMMANDS) == {
        "identify", "bench", "summary", "cupboard", "plan-set", "check-set", "print-set", "print-quiz", "demo", "quiz", "mark", "blank-record",
        "substance",
        "classes", "tests", "rules", "check-rules", "audit-rules", "tree", "calibration", "misreadings", "simulate", "report",
        "progress",
    }  # fmt: skip


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_and_stands_in_readme(command: str) -> None:
    done = run_once(command, "--help")
    assert done.returncode == 0
    assert done.stderr == ""
    assert COMMANDS[command].help.split("\n")[0].endswith(".")
    assert " ".join(COMMANDS[command].help.split()[:6]) in " ".join(done.stdout.split())
    assert f"`spotplate {command}" in README
    assert run(command, "-h").stdout == done.stdout


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_and_argument_is_explained(command: str) -> None:
    told = run_once(command, "--help").stdout
    for parameter in COMMANDS[command].params:
        assert parameter.help, parameter.name
        assert parameter.help.endswith("."), parameter.name
        for spelling in [name for name in parameter.opts + parameter.secondary_opts if name.startswith("-")]:
            assert spelling in told


def test_readme_names_every_option() -> None:
    options = {name for command in COMMANDS.values() for parameter in command.params for name in parameter.opts}
    missing = {name for name in options if name.startswith("--") and f"{name}" not in README and name != "--reading"}
    assert not missing - {"--misses"}  # stands there in its other form, --no-misses
    assert "-r '" in README


def test_help_lists_every_command_and_the_exit_codes() -> None:
    told = " ".join(run("--help").stdout.split())
    assert all(command in told for command in COMMANDS)
    assert "0 settled, 1 not settled, 2 bad input" in told
    assert "Traceback" not in run().stderr


# --- exit codes ----------------------------------------------------------------------------------

EXITS = [
    (("identify", VIAL), 0),
    (("identify", VIAL, "--full"), 0),
    (("identify", VIAL, "--details"), 0),
    (("identify", VIAL, "--vial", "C"), 0),
    (("identify", RACK), 1),  # vial G is left open
    (("identify", RACK, "--details"), 1),
    (("identify", RACK, "--details", "--full"), 1),
    (("identify", RACK, "--vial", "A"), 0),
    (("identify", RACK, "--vial", "A", "--vial", "B"), 0),
    (("identify", RACK, "--vial", "A", "--vial", "G"), 1),
    (("identify", RACK, "--vial", "G"), 1),
    (("identify", *SALT), 0),
    (("identify", *SALT, "--full"), 0),
    (("identify", "-r", "state=solid"), 1),
    (("identify", "-r", "state="), 1),
    (("identify", "-r", "smell=unclear"), 1),
    (("identify", "-r", "state=liquid", "-r", "mp=300"), 1),
    (("demo",), 0),
    (("demo", "--full"), 0),
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
    (("cupboard", str(DEMO / "cupboard.csv")), 0),
    (("cupboard", "nothing.csv"), 2),
    (("identify", VIAL, "--set", str(DEMO / "set.yaml")), 0),
    (("identify", VIAL, "--set", "nothing.yaml"), 2),
    (("substance", "fish"), 2),
    (("classes", "wood"), 2),
    (("tests", "wood"), 2),
    (("rules", "wood"), 2),
    (("identify",), 2),
    (("identify", "nothing.yaml"), 2),
]  # fmt: skip


@pytest.mark.parametrize(("arguments", "code"), EXITS, ids=[" ".join(arguments) for arguments, _ in EXITS])
@pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)], ids=["drawn", "plain", "json"])
def test_exit_code_is_the_documented_one_in_every_form(arguments: tuple[str, ...], code: int, form: tuple[str, ...]) -> None:
    done = run_once(*arguments, *form)
    assert done.returncode == code, done.stderr
    assert "Traceback" not in done.stderr + done.stdout
    assert bool(done.stderr) == (code == 2)
    assert bool(done.stdout) == (code != 2)
    if form == ("--json",) and code != 2:
        json.loads(done.stdout)


def test_several_vials_come_in_the_order_asked_for_and_each_once() -> None:
    told = run("identify", RACK, "--vial", "G", "--vial", "A", "--vial", "G").stdout
    assert [line for line in told.splitlines() if line.startswith("Vial ")] == [
        "Vial G: inconclusive",
        "Vial A: conclusive, metallic",
    ]


def test_a_table_is_summed_up_and_details_tell_every_vial() -> None:
    summary = run_once("identify", RACK).stdout
    details = run_once("identify", RACK, "--details").stdout
    assert "7 vials, 6 settled" in summary
    assert "For and against" not in summary
    for vial in "ABCDEFG":
        assert any(line.startswith(f"{vial} ") for line in summary.splitlines())
        assert f"Vial {vial}: " in details
    assert details.count("For and against") == 7


def test_full_tells_more_and_changes_no_number() -> None:
    usual, full = run_once("identify", VIAL).stdout, run_once("identify", VIAL, "--full").stdout
    for name in ("ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network"):
        assert f"For and against {name}" in full
    assert "same cause, counted once)" in full
    assert "but: " in full
    assert [line for line in usual.splitlines() if "%" in line] == [line for line in full.splitlines() if "%" in line]


def test_a_vial_asked_for_where_there_is_no_file_is_refused() -> None:
    assert run("identify", *SALT, "--vial", "Z").returncode == 2


# --- look-ups ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "spellings"),  # CAS numbers and formulas as printed on supplier's labels
    [
        ("sodium carbonate decahydrate", ["washing soda", "Washing  Soda", "6132-02-1", "Na2CO3·10H2O", "Na2CO3*10H2O"]),
        ("sodium chloride", ["table salt", "TABLE SALT", "7647-14-5", "NaCl", "nacl"]),
        ("sucrose", ["table sugar", "57-50-1", "C12H22O11"]),
        ("naphthalene", ["91-20-3", "C10H8"]),
        ("benzoic acid", ["65-85-0"]),
        ("copper(II) sulfate pentahydrate", ["7758-99-8"]),
    ],
)
def test_a_substance_is_found_by_any_of_its_names(name: str, spellings: list[str]) -> None:
    for spelling in [name, *spellings]:
        assert json.loads(run("substance", spelling, "--json").stdout)["name"] == name


@pytest.mark.parametrize(
    ("written", "meant"), [("sodium chlorid", "sodium chloride"), ("sucrse", "sucrose"), ("napthalene", "naphthalene")]
)
def test_a_misspelt_substance_gets_a_suggestion(written: str, meant: str) -> None:
    done = run("substance", written)
    assert done.returncode == 2
    assert f"did you mean '{meant}'?" in done.stderr


@pytest.mark.parametrize(("formula", "names"), [("SiO2", ["quartz", "sand"]), ("C", ["diamond", "graphite"])])
def test_a_formula_of_several_substances_lists_them(formula: str, names: list[str]) -> None:
    done = run("substance", formula)
    assert done.returncode == 2
    assert all(name in done.stderr for name in names)
    assert "give one of these names" in done.stderr


@pytest.mark.parametrize(("formula", "name"), [("Co", "cobalt"), ("CO", "carbon monoxide")])
def test_a_formula_written_exactly_is_not_taken_for_another(formula: str, name: str) -> None:
    assert run("substance", formula).stdout.startswith(f"{name}:")


def test_every_value_of_a_substance_shows_its_source() -> None:
    data = json.loads(run("substance", "table salt", "--json").stdout)
    assert data["values"]["melting_point_K"]["source"] == "chemicals-crc-inorg"
    assert data["values"]["lustre"]["source"] == "memory"
    assert set(data["sources"]) == {entry["source"] for entry in data["values"].values()}
    assert all(data["sources"].values())
    told = run("substance", "table salt").stdout
    assert "safety data sheet" in told
    assert all(key in told for key in data["sources"])


def test_tests_are_found_by_their_name_and_by_their_readings() -> None:
    listed = json.loads(run("tests", "--json").stdout)
    for test in listed[:3]:
        for name in (test["id"], test["readings"][0]["id"], test["id"].upper()):
            assert json.loads(run("tests", name, "--json").stdout)["id"] == test["id"]


@pytest.mark.parametrize("test", ["water test", "dilute acid test", "burner test"])
def test_a_test_comes_with_procedure_cautions_and_what_each_reading_looks_like(test: str) -> None:
    data = json.loads(run("tests", test, "--json").stdout)
    told = run("tests", test, "--plain").stdout
    assert data["procedure"].strip() in told
    assert data["cautions"]
    assert "Cautions" in told
    assert "safety data sheet" in told
    for reading in data["readings"]:
        assert all(value["looks"].strip() in told for value in reading["values"])


def test_classes_are_the_five_with_their_particle_models() -> None:
    told = run("classes", "--plain").stdout
    for data in json.loads(run("classes", "--json").stdout):
        assert data["id"] in told
        assert data["model"].strip() in told
    only = run("classes", "metal").stdout
    assert only.startswith("metallic\n")
    assert "\nionic\n" not in only


def test_every_rule_is_listed_and_one_is_told_in_full() -> None:
    rules = json.loads(run_once("rules", "--json").stdout)
    told = run_once("rules").stdout
    assert f"{len(rules)} rules" in told
    assert all(rule["id"] in told for rule in rules)
    one = run_once("rules", "electron-sea", "--plain").stdout
    (rule,) = json.loads(run("rules", "electron-sea", "--json").stdout)
    assert rule["because"] in one
    assert "Source: " in one


# --- blank record --------------------------------------------------------------------------------


@pytest.mark.parametrize("label", ["A", 'odd: "label" #1', "it's [bold]", "no", "007", "- x", "Ω-3", "back\\slash"])
def test_a_blank_record_is_a_valid_record_without_readings(tmp_path: Path, label: str) -> None:
    path = tmp_path / "blank.yaml"
    path.write_text(run("blank-record", "--vial", label).stdout, encoding="utf-8")
    (vial,) = json.loads(run("identify", str(path), "--json").stdout)["vials"]
    assert vial["vial"] == label
    assert vial["readings"] == {}
    assert vial["unclear"] == []
    assert vial["verdict"]["kind"] == "inconclusive"


def test_a_blank_record_has_every_reading_with_its_values() -> None:
    told = run("blank-record").stdout
    for test in json.loads(run("tests", "--json").stdout):
        for reading in test["readings"]:
            (line,) = [line for line in told.splitlines() if line.startswith(f"  {reading['id']}: ")]
            assert all(value["is"] in line for value in reading["values"])


def test_a_filled_blank_record_is_read(tmp_path: Path) -> None:
    path = tmp_path / "filled.yaml"
    blank = run("blank-record").stdout
    path.write_text(
        blank.replace("  lustre: ", "  lustre: metallic ").replace("  density: ", "  density: 7.9 g/cm3 "), encoding="utf-8"
    )
    (vial,) = json.loads(run("identify", str(path), "--json").stdout)["vials"]
    assert vial["readings"] == {"lustre": "metallic", "density": {"low": 7.9, "high": 7.9, "unit": "g/cm3"}}


# --- teachers' rules -----------------------------------------------------------------------------


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
    assert "In this teacher's game" in run("identify", "-r", "state=solid", "--rules", str(path)).stdout
    assert run("check-rules", str(path)).returncode == 0
    assert run("rules", "everything-is-metal", "--rules", str(path)).returncode == 0
    assert run("rules", "electron-sea", "--rules", str(path)).returncode == 2  # a shipped rule, replaced
    assert run("rules", "electron-sea", "--extra-rules", str(path)).returncode == 0


def test_a_teachers_rule_can_unsettle_a_settled_vial(tmp_path: Path) -> None:
    path = tmp_path / "lilac.yaml"
    path.write_text(CONFLICT_RULE, encoding="utf-8")
    assert run("check-rules", "--extra", str(path)).returncode == 0
    done = run("identify", VIAL, "--extra-rules", str(path))
    assert run_once("identify", VIAL).returncode == 0
    assert done.returncode == 1
    assert done.stdout.startswith("Vial C: contradictory\n")
    assert "no flame can be lilac" in done.stdout


def test_rules_with_another_checksum_are_told_apart_in_the_answer(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(OWN_RULE, encoding="utf-8")
    own = json.loads(run("identify", VIAL, "--json", "--extra-rules", str(path)).stdout)
    assert own["knowledge_checksum"] != json.loads(run_once("identify", VIAL, "--json").stdout)["knowledge_checksum"]


@pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)], ids=["drawn", "plain", "json"])
def test_check_rules_finds_the_shipped_rules_sound(form: tuple[str, ...]) -> None:
    done = run("check-rules", *form)
    assert done.returncode == 0
    if form == ("--json",):
        assert json.loads(done.stdout)["faults"] == []
    else:
        assert "is sound" in done.stdout


FAULTY = [
    ("metallic:", "metalic:", "did you mean 'metallic'"),
    ("key: judgement", "key: jugdement", "did you mean 'judgement'"),
    ("{reading: state,", "{reading: sttae,", "did you mean 'state'"),
    ("cause: charge carriers", "cause: charge cariers", "did you mean 'charge carriers'"),
    ("ionic: hint", "ionic: hnt", "did you mean 'hint'"),
]


@pytest.mark.parametrize(("right", "wrong", "says"), FAULTY)
def test_check_rules_names_a_fault_its_place_and_the_nearest_spelling(tmp_path: Path, right: str, wrong: str, says: str) -> None:
    path = tmp_path / "faulty.yaml"
    path.write_text(OWN_RULE.replace(right, wrong), encoding="utf-8")
    done = run("check-rules", str(path), columns=400)
    assert done.returncode == 2
    assert "faulty.yaml, line " in done.stdout
    assert "rule 'everything-is-metal'" in done.stdout.replace("rules '", "rule '")
    assert says in done.stdout
    assert run("identify", "-r", "state=solid", "--rules", str(path)).returncode == 2


def test_check_rules_lists_every_wrong_name_of_every_rule(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    second = OWN_RULE.replace("everything-is-metal", "second").replace("{reading: state,", "{reading: sttae,")
    first = OWN_RULE.replace("metallic:", "metalic:").replace("key: judgement", "key: jugdement")
    path.write_text(first + second, encoding="utf-8")
    done = run("check-rules", str(path), "--json")
    says = [fault["says"] for fault in json.loads(done.stdout)["faults"]]
    assert done.returncode == 2
    for meant in ("metallic", "judgement", "state"):
        assert sum(f"did you mean '{meant}'" in text for text in says) == 1
    lines = {fault["where"].split(", ")[1] for fault in json.loads(done.stdout)["faults"] if "line" in fault["where"]}
    assert lines == {"line 1", "line 10"}


def test_check_rules_runs_the_examples_of_a_rule(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    path.write_text(OWN_RULE.replace("silent_on: [{state: gas}]", "silent_on: [{state: solid}]"), encoding="utf-8")
    done = run("check-rules", str(path))
    assert done.returncode == 2
    assert "everything-is-metal" in done.stdout


def test_check_rules_lists_wrong_keys_and_wrong_names_together(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    second = OWN_RULE.replace("everything-is-metal", "second").replace("{reading: state,", "{reading: sttae,")
    path.write_text(OWN_RULE.replace("  when:", "  whn:") + second, encoding="utf-8")
    told = run("check-rules", str(path), columns=400).stdout
    assert "did you mean 'when'" in told
    assert "did you mean 'state'" in told


def test_a_fault_of_the_rules_taken_together_names_the_file(tmp_path: Path) -> None:
    path = tmp_path / "onesided.yaml"
    path.write_text(OWN_RULE.replace("ionic: hint, ", ""), encoding="utf-8")
    assert "onesided.yaml" in run("identify", "-r", "state=solid", "--rules", str(path)).stderr


# --- report --------------------------------------------------------------------------------------


def test_report_counts_every_substance_and_keeps_its_promises() -> None:
    data = json.loads(run("report", "--json").stdout)
    total = data["scores"][-1]
    assert total["class"] == "all"
    assert total["substances"] == sum(score["substances"] for score in data["scores"][:-1]) >= 200
    assert total["right"] + total["inconclusive"] + total["contradictory"] + total["wrong"] == total["substances"]
    assert total["wrong"] <= 0.02 * total["substances"]
    assert total["ever_wrong"] <= 0.02 * total["substances"]
    assert all(miss["reason"] or miss["worst"] != "wrong" for miss in data["misses"])


def test_demo_shows_the_shipped_record_and_its_answer() -> None:
    told = run_once("demo", "--plain").stdout
    for line in (DEMO / "vial-c.yaml").read_text(encoding="utf-8").splitlines():
        assert line in told
    assert run_once("identify", VIAL, "--plain").stdout in told
    assert json.loads(run("demo", "--json").stdout)["vials"] == json.loads(run_once("identify", VIAL, "--json").stdout)["vials"]


def test_a_test_that_is_proposed_for_the_sake_of_another_says_so() -> None:
    """Shaking with water tells salt from sugar only by what the solution does."""
    told = " ".join(run_once("identify", "-r", "state=solid", "-r", "colour=white").stdout.split())
    assert "opens the way to the solution conductivity test (2 min more), which tells ionic from polar molecular" in told
