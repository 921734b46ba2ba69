"""Bad input ends in one clear line on stderr, exit code 2, and nothing on stdout."""

from __future__ import annotations

from pathlib import Path

import pytest
from running import DEMO, run

RACK = str(DEMO / "rack.csv")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("identify",), "nothing to identify"),
        (("identify", "vial-c.yml"), "no such file"),
        (("identify", str(DEMO)), "a folder"),
        (("identify", RACK, "-r", "state=solid"), "not both"),
        (("identify", RACK, "--vial", "AA"), "did you mean 'A'"),
        (("identify", "-r", "state"), "has no '='"),
        (("identify", "-r", "state=solid", "-r", "state=gas"), "given twice"),
        (("identify", "-r", "stat=solid"), "did you mean 'state'"),
        (("identify", "-r", "lustre=metalic"), "did you mean 'metallic'"),
        (("identify", "-r", "state=solid", "--rules", "none.yaml"), "no such file"),
        (("substance", "sucrse"), "did you mean 'sucrose'"),
        (("classes", "ionik"), "did you mean 'ionic'"),
        (("tests", "watr test"), "did you mean 'water test'"),
        (("rules", "electron-see"), "did you mean 'electron-sea'"),
    ],
)
def test_one_line_on_stderr(arguments: tuple[str, ...], says: str) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1
    assert says in done.stderr


@pytest.mark.parametrize("arguments", [("identfy",), ("identify", "--jsn"), ("demo", "extra")])
def test_wrong_usage_is_told_without_a_traceback(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert "Usage" in done.stderr


def test_every_fault_of_a_file_gets_its_line(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    path.write_text("vial: C\nreadings:\n  state: sollid\n  lustr: dull\n  melting range: hot\n", encoding="utf-8")
    done = run("identify", str(path))
    assert done.returncode == 2
    lines = [line.split(", line ")[1].split(":")[0] for line in done.stderr.splitlines()]
    assert sorted(lines) == ["3", "4", "5"]


@pytest.mark.parametrize("form", [(), ("--plain",), ("--json",)])
def test_what_people_write_stays_text(tmp_path: Path, form: tuple[str, ...]) -> None:
    path = tmp_path / "odd [bold] name.yaml"
    path.write_text('vial: "[red]A[/red] \\e[31m"\nnotes: "[link=x]y"\nreadings: {state: solid}\n', encoding="utf-8")
    done = run("identify", str(path), *form, FORCE_COLOR="1" if not form else "")
    assert done.returncode == 1
    assert "[red]A[/red]" in done.stdout.replace("\x1b[1;33m", "")
    assert "\x1b[31m" not in done.stdout
