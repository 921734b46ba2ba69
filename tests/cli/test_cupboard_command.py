"""`spotplate cupboard`, and `--set` of the commands that reason within a set."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from running import DEMO, VIAL, control_characters, run, run_once

CUPBOARD = str(DEMO / "cupboard.csv")
SET = str(DEMO / "set.yaml")
IN_SET = ["citric acid monohydrate", "copper", "graphite", "marble", "paraffin wax", "sand", "sodium chloride", "sucrose"]


# --- cupboard ------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)], ids=["drawn", "plain", "json"])
def test_every_row_of_the_demo_cupboard_is_told_in_every_form(form: tuple[str, ...]) -> None:
    done = run_once("cupboard", CUPBOARD, *form, columns=200)
    assert (done.returncode, done.stderr) == (0, "")
    rows = (DEMO / "cupboard.csv").read_text(encoding="utf-8").splitlines()[1:]
    for row in rows:
        assert row.partition(",")[0] in done.stdout
    if form != ("--json",):
        assert "safety data sheet" in done.stdout
        assert f"{len(rows)} rows" in done.stdout
        assert "'kept in' and 'bought'" in done.stdout


def test_what_cannot_be_told_is_listed_with_its_line_and_suggestion() -> None:
    told = run_once("cupboard", CUPBOARD, "--plain").stdout
    rows = (DEMO / "cupboard.csv").read_text(encoding="utf-8").splitlines()
    line = next(number for number, row in enumerate(rows, 1) if row.startswith("zinc granuals"))
    assert f"line {line}: 'zinc granuals' is not a substance of the reference table; did you mean 'zinc granules'?" in told
    assert "'chalk' may mean several substances" in told
    assert "sodium carbonate decahydrate: line 22 (washing soda, 500 g) and line 23 (Na2CO3.10H2O, 250 g)" in told


def test_what_is_not_for_students_is_told() -> None:
    told = run_once("cupboard", CUPBOARD, "--plain").stdout
    teacher, _, school = told.partition("do not belong in a school")
    assert "silver nitrate" in teacher.rpartition("for the teacher only")[2]
    assert re.search(r"potassium dichromate and mercury\.", school)


def test_json_holds_every_row_with_null_where_no_substance_was_found() -> None:
    data = json.loads(run_once("cupboard", CUPBOARD, "--json").stdout)
    items = {item["written"]: item for item in data["items"]}
    assert items["table salt"] | {"line": 0} == {
        "line": 0, "written": "table salt", "amount": "1 kg", "quantity": {"value": 1000, "unit": "g"}, "remark": "",
        "substance": "sodium chloride", "class": "ionic", "school_use": "students", "says": "", "suggestions": [], "notes": [],
        "others": [{"column": "kept in", "cell": "shelf 1"}, {"column": "bought", "cell": "2023"}],
    }  # fmt: skip
    assert items["napthalene"]["substance"] is None
    assert items["napthalene"]["suggestions"] == ["naphthalene"]
    assert data["doubled"]["copper"] == [items["copper turnings"]["line"], items["copper wire"]["line"]]
    assert data["other_columns"] == ["kept in", "bought"]
    assert len(data["substances"]) == len(set(data["substances"]))


def test_hostile_cells_are_shown_as_plain_text(tmp_path: Path) -> None:
    path = tmp_path / "odd.csv"
    path.write_text(
        'substance,amount,remark\n"=HYPERLINK(""http://x"")",\x1b[31m5 g,<script>alert(1)</script>\n[red]sand[/red],,\u202e\n',
        encoding="utf-8",
    )
    for form in ((), ("--plain",), ("--json",)):
        done = run("cupboard", str(path), *form, columns=200)
        assert done.returncode == 0
        assert not control_characters(done.stdout)
        assert "\u202e" not in done.stdout
        assert "[red]sand[/red]" in done.stdout


@pytest.mark.parametrize(
    ("name", "content", "says"),
    [
        ("none.csv", None, "there is no such file"),
        ("binary.csv", bytes(range(256)) * 9, "UTF-8"),
        ("huge.csv", b"substance\n" + b"sand\n" * 300_000, "at most 1,000,000 are read"),
        ("other.csv", b"vial,state\nA,solid\n", "no column names the substance"),
    ],
)
def test_what_is_no_cupboard_gets_one_line_and_exit_code_2(tmp_path: Path, name: str, content: bytes | None, says: str) -> None:
    path = tmp_path / name
    if content is not None:
        path.write_bytes(content)
    done = run("cupboard", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    (line,) = done.stderr.splitlines()
    assert line.startswith("error: ")
    assert name in line
    assert says in line


# --- sets ----------------------------------------------------------------------------------------


def test_a_set_gives_the_same_answer_as_its_substances_named_one_by_one() -> None:
    of_set = run_once("identify", VIAL, "--set", SET, "--json")
    among = run_once("identify", VIAL, "--among", "; ".join(IN_SET), "--json")
    assert of_set.returncode == among.returncode
    assert of_set.stdout == among.stdout
    assert json.loads(of_set.stdout)["vials"][0]["candidates"]["set_size"] == len(IN_SET)


@pytest.mark.parametrize("command", ["identify", "summary"])
def test_which_vial_holds_what_makes_no_difference_to_what_a_student_sees(tmp_path: Path, command: str) -> None:
    """Neither the labels nor the order of the vials may show."""
    told = []
    for number, names in enumerate((IN_SET, IN_SET[::-1], [*IN_SET[3:], *IN_SET[:3]])):
        path = tmp_path / f"{number}" / "set.yaml"
        path.parent.mkdir()
        vials = "".join(f"  V{place}{number}: {name}\n" for place, name in enumerate(names))
        path.write_text(f"set: secret-name-{number}\nvials:\n{vials}notes: secret-note-{number}\n", encoding="utf-8")
        told.append(run(command, VIAL, "--set", str(path)).stdout)
    assert told[0] == told[1] == told[2]
    assert "secret" not in told[0]


def test_a_bench_session_remembers_the_substances_of_the_set_but_not_the_key(tmp_path: Path) -> None:
    done = run("bench", str(tmp_path / "vial-a.yaml"), "--set", SET)
    assert done.returncode == 0
    memory = json.loads((tmp_path / "vial-a.yaml.bench.json").read_text(encoding="utf-8"))
    assert memory["among"] == IN_SET  # in alphabetical order, whatever the order of the vials


@pytest.mark.parametrize("command", ["identify", "summary", "bench"])
def test_a_faulty_key_is_not_told_to_those_who_work_with_it(tmp_path: Path, command: str) -> None:
    path = tmp_path / "set.yaml"
    path.write_text("set: x\nvials:\n  A: sand\n  B: sodium chlorid\n  C: chalk\n", encoding="utf-8")
    record = str(tmp_path / "new.yaml") if command == "bench" else VIAL
    done = run(command, record, "--set", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert "line 4, line 5" in done.stderr
    assert "check-set" in done.stderr
    for word in ("sodium", "chlor", "chalk", "sand"):
        assert word not in done.stderr


def test_a_set_and_named_substances_together_are_refused() -> None:
    done = run("identify", VIAL, "--set", SET, "--among", "sand")
    assert done.returncode == 2
    assert "leave --among out" in done.stderr
