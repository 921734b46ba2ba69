"""`spotplate print-set` as people run it: folders and files, options, faulty input, what it says."""

from __future__ import annotations

import os
import re
from pathlib import Path

import pytest
from running import DEMO, run, run_once

SET = str(DEMO / "set.yaml")
TEACHERS = {"key", "preparation", "vial-labels-with-names", "waste"}


def written(folder: Path) -> set[str]:
    return {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()}


def files(students: set[str]) -> set[str]:
    return {
        f"{folder}/{name}{ending}"
        for folder, names in (("students", students), ("teacher", TEACHERS))
        for name in names
        for ending in (".html", ".md")
    }


def test_pages_for_students_and_teacher_lie_in_folders_of_their_own(tmp_path: Path) -> None:
    done = run("print-set", SET, "--folder", str(tmp_path / "out"))
    assert (done.returncode, done.stderr) == (0, "")
    assert written(tmp_path / "out") == files({"sheet", "vial-labels"})
    assert "for the teacher only, since they give the answers away" in done.stdout
    assert "sucrose" not in done.stdout


def test_every_group_gets_its_sheet_and_the_same_seed_the_same_letters(tmp_path: Path) -> None:
    for name in ("first", "second"):
        assert run("print-set", SET, "--folder", str(tmp_path / name), "--groups", "3", "--seed", "8").returncode == 0
    run("print-set", SET, "--folder", str(tmp_path / "other"), "--groups", "3", "--seed", "9")
    assert written(tmp_path / "first") == files({"sheet-group-1", "sheet-group-2", "sheet-group-3", "vial-labels"})
    pages = {name: (tmp_path / name / "teacher/key.html").read_bytes() for name in ("first", "second", "other")}
    assert pages["first"] == pages["second"] != pages["other"]


def test_title_date_amounts_and_hazards_reach_the_pages(tmp_path: Path) -> None:
    done = run(
        "print-set", SET, "--folder", str(tmp_path), "--title", "Lamp Street", "--date", "3 May", "--hazards", "together",
        "--amount-per-test", "water test=2 g", "--amount-per-test", "look=0", columns=200,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    sheet = (tmp_path / "students/sheet.html").read_text(encoding="utf-8")
    assert "<h1>Lamp Street</h1>" in sheet
    assert "Date: 3 May" in sheet
    assert (tmp_path / "students/vial-labels.html").read_text(encoding="utf-8").count("H319 Causes serious eye irritation.") == 8
    told = (tmp_path / "teacher/preparation.md").read_text(encoding="utf-8")
    assert re.search(r"\| water test \| 2 g \| your own figure \|", told)
    assert re.search(r"\| look \| – \| your own figure \|", told)


def test_nothing_is_written_over_unless_asked(tmp_path: Path) -> None:
    page = tmp_path / "teacher" / "waste.md"
    page.parent.mkdir()
    page.write_text("mine", encoding="utf-8")
    done = run("print-set", SET, "--folder", str(tmp_path))
    assert done.returncode == 2
    assert "is there already" in done.stderr
    assert "--over" in done.stderr
    assert written(tmp_path) == {"teacher/waste.md"}
    assert page.read_text(encoding="utf-8") == "mine"
    assert run("print-set", SET, "--folder", str(tmp_path), "--over").returncode == 0
    assert page.read_text(encoding="utf-8").startswith("# Eight vials")


def test_sheets_that_an_earlier_printing_left_are_named(tmp_path: Path) -> None:
    run("print-set", SET, "--folder", str(tmp_path), "--groups", "2")
    done = run("print-set", SET, "--folder", str(tmp_path), "--over")
    assert done.returncode == 0
    assert "Not of this printing, so perhaps of another key: " in done.stderr
    assert "sheet-group-1.html" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--amount-per-test", "watter test=1 g"), "did you mean 'water test'"),
        (("--amount-per-test", "water test=much"), "tells no amount"),
        (("--amount-per-test", "water test"), "tells no amount"),
        (("--amount-per-test", "water test=5 kg"), "0 to 1000 g or mL"),
        (("--title", "All about table salt"), "'sodium chloride', which is in the set"),
        (("--date", "sucrose day"), "'sucrose'"),
        (("--groups", "0"), "0"),
        (("--groups", "41"), "41"),
        (("--hazards", "some"), "some"),
    ],
)
def test_faulty_options_are_refused_before_anything_is_written(arguments: tuple[str, ...], says: str, tmp_path: Path) -> None:
    done = run("print-set", SET, "--folder", str(tmp_path / "out"), *arguments, columns=300)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("set: X\nvials: {A: sucrse}\n", "did you mean 'sucrose'"),
        ("set: X\nvials: {NaCl: sodium chloride}\n", "tells what is in the vial"),
        ("set: Of sodium chloride\nvials: {A: sodium chloride}\n", "Rename the set, or give another heading with --title"),
        ("", "no entries"),
    ],
)
def test_a_faulty_set_is_refused(text: str, says: str, tmp_path: Path) -> None:
    path = tmp_path / "set.yaml"
    path.write_text(text, encoding="utf-8")
    done = run("print-set", str(path), "--folder", str(tmp_path / "out"), columns=300)
    assert done.returncode == 2
    assert says in done.stderr
    assert not (tmp_path / "out").exists()


def test_a_file_or_a_missing_folder_in_the_way_is_told_in_one_line(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("x", encoding="utf-8")
    for folder in (tmp_path / "file", tmp_path / "none" / "out"):
        done = run("print-set", SET, "--folder", str(folder))
        assert done.returncode == 2
        assert len(done.stderr.splitlines()) == 1
        assert done.stderr.startswith("error: option --folder: ")


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="needs a folder that cannot be written to")
def test_a_folder_that_cannot_be_written_to_is_told_in_one_line(tmp_path: Path) -> None:
    tmp_path.chmod(0o500)
    done = run("print-set", SET, "--folder", str(tmp_path / "out"))
    tmp_path.chmod(0o700)
    assert done.returncode == 2
    assert done.stderr.startswith("error: option --folder: ")


def test_names_of_students_files_tell_nothing(tmp_path: Path) -> None:
    """They are the same for any set."""
    other = tmp_path / "set.yaml"
    other.write_text("set: X\nvials: {A: copper, B: sand}\ntests: [look]\n", encoding="utf-8")
    run("print-set", SET, "--folder", str(tmp_path / "a"), "--groups", "2")
    run("print-set", str(other), "--folder", str(tmp_path / "b"), "--groups", "2")
    assert written(tmp_path / "a") == written(tmp_path / "b")


def test_help_tells_where_the_answers_are() -> None:
    told = " ".join(run_once("print-set", "--help").stdout.split())
    assert "what gives the answers away" in told
