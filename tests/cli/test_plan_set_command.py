"""`spotplate plan-set`: options, answers in every form, exit codes, and the file it writes."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from running import DEMO, control_characters, run, run_once

from spotplate.engine.files.sets import read_set
from spotplate.kb import load_knowledge

CUPBOARD = str(DEMO / "cupboard.csv")
USUAL = ("plan-set", CUPBOARD, "--vials", "6", "--of-class", "ionic=2; metal=1", "--awkward", "2", "--groups", "4")
CLASH = ("plan-set", CUPBOARD, "--vials", "4", "--of-class", "ionic=3", "--of-class", "metallic=2")
FORMS = pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)], ids=["drawn", "plain", "json"])


@FORMS
def test_a_proved_plan_is_told_in_every_form(form: tuple[str, ...]) -> None:
    done = run_once(*USUAL, *form, columns=120)
    assert (done.returncode, done.stderr) == (0, "")
    data = json.loads(run_once(*USUAL, "--json", columns=120).stdout)
    for vial in data["vials"]:
        assert vial["substance"] in done.stdout
    for test in data["kit"]:
        assert test["test"] in done.stdout
    if form != ("--json",):
        assert "proved to be the best" in done.stdout
        assert "safety data sheet" in done.stdout


def test_the_order_of_what_counts_stands_on_screen() -> None:
    told = " ".join(run_once(*USUAL, "--plain", columns=120).stdout.split())
    places = [told.index(words) for words in ("all wishes are met", "fewest minutes", "least hazard", "teach the most")]
    assert places == sorted(places)


def test_the_plan_meets_what_the_options_ask_for() -> None:
    data = json.loads(run_once(*USUAL, "--json", columns=120).stdout)
    classes = [vial["class"] for vial in data["vials"]]
    assert len(classes) == 6
    assert classes.count("ionic") >= 2
    assert classes.count("metallic") >= 1
    assert sum(vial["awkward"] for vial in data["vials"]) == 2
    assert data["worth"] == data["bound"]
    assert data["worth"]["minutes"] == sum(test["minutes"] for test in data["kit"])
    assert data["worth"]["hazard"] == sum(vial["hazard"] for vial in data["vials"])
    assert data["wishes"]["groups"] == 4
    knowledge = load_knowledge()
    total = sum(knowledge.tests[test["test"]].minutes for test in data["kit"])
    assert f"takes {6 * total:g} min" in " ".join(run_once(*USUAL, "--plain", columns=120).stdout.split())


def test_tests_of_the_room_hazard_and_names_are_kept_to() -> None:
    data = json.loads(
        run_once(
            "plan-set", CUPBOARD, "--vials", "4", "--without-test", "burning", "--without-test", "smell", "--require", "table sugar; copper",
            "--forbid", "graphite", "--hazard", "low", "--told-apart-by", "1", "--json",
        ).stdout
    )  # fmt: skip
    names = [vial["substance"] for vial in data["vials"]]
    assert {"sucrose", "copper"} <= set(names)
    assert "graphite" not in names
    assert not {"burning test", "smell"} & {test["test"] for test in data["kit"]}
    assert {vial["hazard_level"] for vial in data["vials"]} <= {"none", "low"}
    only = json.loads(
        run_once("plan-set", CUPBOARD, "--vials", "3", "--tests", "look; magnet; density; scratch", "--json").stdout
    )
    assert {test["test"] for test in only["kit"]} <= {"look", "magnet", "density", "scratch"}


@FORMS
def test_a_clash_is_told_with_what_helps_and_the_exit_code_1(form: tuple[str, ...]) -> None:
    done = run_once(*CLASH, *form, columns=120)
    assert (done.returncode, done.stderr) == (1, "")
    for words in ("at least 3 ionic vials", "at least 2 metallic vials", "4 vials", "5 vials in place of 4"):
        assert words in done.stdout


def test_a_required_substance_that_is_never_for_students_is_named_with_the_reason() -> None:
    done = run_once("plan-set", CUPBOARD, "--vials", "2", "--require", "potassium dichromate", "--plain", columns=200)
    assert done.returncode == 1
    told = " ".join(done.stdout.split())
    assert "potassium dichromate is required (never planned for students: highly toxic and carcinogenic" in told
    assert "without requiring potassium dichromate" in told


def test_a_substance_for_the_teacher_is_marked_when_it_is_required() -> None:
    done = run_once("plan-set", CUPBOARD, "--vials", "2", "--require", "silver nitrate", "--plain", columns=200)
    assert done.returncode == 0
    assert re.search(r"does not hold it fit for students: [AB] \(silver nitrate, teacher only\)", done.stdout)


def test_without_time_the_answer_is_open() -> None:
    done = run_once("plan-set", CUPBOARD, "--vials", "20", "--told-apart-by", "3", "--seconds", "0")
    assert done.returncode == 1
    assert "No set found in the time given" in done.stdout
    assert "Traceback" not in done.stderr


def test_the_written_set_is_the_planned_one_and_is_never_written_over_unasked(tmp_path: Path) -> None:
    path = tmp_path / "round-1.yaml"
    data = json.loads(run(*USUAL, "--output", str(path), "--json").stdout)
    written = read_set(path, load_knowledge())
    assert [(vial.label, vial.substance) for vial in written.vials] == [(v["label"], v["substance"]) for v in data["vials"]]
    assert list(written.tests) == [test["test"] for test in data["kit"]]
    assert written.parted_at_least == 2
    before = path.read_bytes()
    refused = run(*USUAL, "--seed", "2", "--output", str(path))
    assert refused.returncode == 2
    assert "there already" in refused.stderr
    assert path.read_bytes() == before
    assert run(*USUAL, "--seed", "2", "--output", str(path), "--over").returncode == 0
    assert path.read_bytes() != before


def test_a_clash_writes_no_file(tmp_path: Path) -> None:
    path = tmp_path / "none.yaml"
    assert run(*CLASH, "--output", str(path)).returncode == 1
    assert not path.exists()


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--vials", "0"), "vials: 0 stands here; 1 to 26 is accepted."),
        (("--vials", "27"), "vials: 27 stands here"),
        (("--told-apart-by", "4"), "told apart by: 4 stands here; 1 to 3"),
        (("--groups", "0"), "groups: 0 stands here"),
        (("--minutes", "nan"), "minutes: nan stands here"),
        (("--seconds", "nan"), "option --seconds"),
        (("--hazard", "moderat"), "did you mean 'moderate'?"),
        (("--of-class", "ionik=2"), "did you mean 'ionic'?"),
        (("--of-class", "2"), "such as ionic=2"),
        (("--of-class", "ionic=two"), "such as ionic=2"),
        (("--of-class", "ionic=1", "--of-class", "ionic=2"), "counted twice"),
        (("--awkward", "graphit=1"), "did you mean 'graphite'?"),
        (("--awkward", "=1"), "such as graphite=1"),
        (("--tests", "loook"), "did you mean 'look'?"),
        (("--require", "tabel salt"), "did you mean 'table salt'?"),
        (("--require", "gold"), "'gold' is not in the cupboard."),
        (("--require", "sucrose", "--forbid", "table sugar"), "both required and forbidden"),
        (("--over",), "name it with --output"),
    ],
)
def test_a_wish_that_means_nothing_is_refused_with_what_is_accepted(options: tuple[str, ...], told: str) -> None:
    done = run_once("plan-set", CUPBOARD, *options)
    assert done.returncode == 2
    assert done.stdout == ""
    assert told in done.stderr
    assert "Traceback" not in done.stderr


def test_text_of_the_cupboard_cannot_drive_the_screen(tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(
        "substance,amount\n\x1b[31mred\x1b[0m,1 g\n=cmd|' /C calc'!A0,2 g\n[bold]sand[/bold],3 g\nsucrose,500 g\nsand,1 kg\n"
    )
    done = run("plan-set", str(path), "--vials", "2", "--told-apart-by", "1")
    assert done.returncode == 0
    assert not control_characters(done.stdout)
    assert "line 2, line 3 and line 4" in done.stdout


def test_amounts_of_several_rows_add_up(tmp_path: Path) -> None:
    """Two groups need 16 g."""
    path = tmp_path / "two.csv"
    path.write_text("substance,amount\nsucrose,10 g\ntable sugar,7 g\nsand,15 g\niron,some\n")
    data = json.loads(run("plan-set", str(path), "--vials", "1", "--groups", "2", "--json").stdout)
    assert [item["substance"] for item in data["left_out"]] == ["sand"]
    assert data["amounts"] == {"sucrose": {"value": 17, "unit": "g"}, "sand": {"value": 15, "unit": "g"}, "iron": None}
