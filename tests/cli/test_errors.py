"""Bad input ends in one clear line a fault on stderr, exit code 2, and nothing on stdout."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from running import (
    DEMO,
    PROGRAM,
    RACK,
    VIAL,
    control_characters,
    environment_with,
    run,
    run_once,
    terminal_output,
    without_styles,
)


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("identify",), "nothing to identify"),
        (("identify",), "-r 'READING=VALUE'"),
        (("identify", "vial-c.yml"), "no such file"),
        (("identify", str(DEMO / "vial-c.yml")), "vial-c.yaml"),  # the nearest file of the folder
        (("identify", str(Path(__file__).parent)), "this folder"),
        (("identify", ""), "this folder"),
        (("identify", RACK, "-r", "state=solid"), "not both"),
        (("identify", RACK, "--vial", "AA"), "did you mean 'A'"),
        (("identify", RACK, "--vial", "Q7"), "Vials: A, B, C, D, E, F, G."),
        (("identify", RACK, "--vial", "A", "--vial", "Q7"), "'Q7'"),
        (("identify", RACK, "--vial", ""), "no vial ''"),
        (("identify", "-r", "state"), "has no '='"),
        (("identify", "-r", ""), "has no '='"),
        (("identify", "-r", "=solid"), "'' is not a reading"),
        (("identify", "-r", "state=solid", "-r", "state=gas"), "given twice"),
        (("identify", "-r", "mp=80", "-r", "melting range=81"), "given twice"),
        (("identify", "-r", "stat=solid"), "did you mean 'state'"),
        (("identify", "-r", "lustre=metalic"), "did you mean 'metallic'"),
        (("identify", "-r", "lustre=metalic"), "Accepted: "),
        (("identify", "-r", "mp=hot"), "'hot' is not a number with a unit"),
        (("identify", "-r", "mp=80 kg"), "kg"),
        (("identify", "-r", "mp=nan"), "'nan'"),
        (("identify", "-r", "mp=1e999"), "too large"),
        (("identify", "-r", "mp=300-100"), "lower number first"),
        (("identify", "-r", "mp=-300"), "outside -273.15 to"),
        (("identify", "-r", "state=solid", "--rules", "none.yaml"), "no such file"),
        (("identify", "-r", "state=solid", "--extra-rules", str(DEMO)), "a folder"),
        (("rules", "--rules", "none.yaml"), "no such file"),
        (("substance", "sucrse"), "did you mean 'sucrose'"),
        (("substance", ""), "not a substance"),
        (("classes", "ionik"), "did you mean 'ionic'"),
        (("classes", ""), "Accepted: ionic, "),
        (("tests", "watr test"), "did you mean 'water test'"),
        (("rules", "electron-see"), "did you mean 'electron-sea'"),
    ],
)
def test_one_line_on_stderr(arguments: tuple[str, ...], says: str) -> None:
    done = run_once(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1
    assert says in done.stderr


@pytest.mark.parametrize("form", ["--json", "--plain", "--full"])
def test_an_error_is_the_same_line_whatever_form_was_asked_for(form: str) -> None:
    done = run("identify", "nothing.yaml", form)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == run_once("identify", "nothing.yaml").stderr


@pytest.mark.parametrize(
    ("arguments", "near"),
    [
        (("identfy",), "identify"),
        (("identify", "--jsn"), "--json"),
        (("identify", "--vials", "A"), "--vial"),
        (("demo", "extra"), ""),
        (("identify", "--vial"), "--vial"),
        (("substance",), ""),
        (("identify", VIAL, RACK), ""),
        (("report", "--mises"), "--misses"),
    ],
)
def test_wrong_usage_is_told_without_a_traceback(arguments: tuple[str, ...], near: str) -> None:
    done = run(*arguments)
    assert done.returncode == 2
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
    assert "Error" in done.stderr
    assert near in done.stderr


def test_every_fault_of_a_file_gets_its_line(tmp_path: Path) -> None:
    path = tmp_path / "faulty.yaml"
    path.write_text("vial: C\nreadings:\n  state: sollid\n  lustr: dull\n  melting range: hot\n", encoding="utf-8")
    done = run("identify", str(path))
    assert done.returncode == 2
    assert done.stdout == ""
    assert all(line.startswith(f"error: {path}, line ") for line in done.stderr.splitlines())
    lines = [line.split(", line ")[1].split(":")[0] for line in done.stderr.splitlines()]
    assert sorted(lines) == ["3", "4", "5"]


def test_every_fault_of_a_table_gets_its_line(tmp_path: Path) -> None:
    path = tmp_path / "faulty.csv"
    path.write_text("vial,state,mp\nA,sollid,80\nB,solid,hot\nC,solid,80\nD,solid\n", encoding="utf-8")
    done = run("identify", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert [line.split(", line ")[1][0] for line in done.stderr.splitlines()] == ["2", "3", "5"]


def test_every_fault_of_the_options_gets_its_line() -> None:
    done = run("identify", "-r", "stat=solid", "-r", "lustre=metalic", "-r", "mp=hot")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.count("error: option --reading: ") == done.stderr.count("\n") == 3


@pytest.mark.parametrize(
    "content", ["", "\n \n", "# only a remark\n", "[]\n", "- 1\n", "vial: A\n", "readings: [\n", "no\n", "\x00"]
)
@pytest.mark.parametrize("ending", ["yaml", "csv", "txt"])
def test_what_is_no_record_is_refused(tmp_path: Path, content: str, ending: str) -> None:
    path = tmp_path / f"odd.{ending}"
    path.write_text(content, encoding="utf-8")
    done = run("identify", str(path))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith(f"error: {path}")
    assert "Traceback" not in done.stderr


# --- what people write stays text ------------------------------------------------------------------

ODD_RECORD = 'vial: "[red]A[/red] \\e[31m\\x9b32m"\nnotes: "[link=x]y \\e[32m"\nreadings: {state: solid, mp: 80}\n'
FORMS = [(), ("--plain",), ("--full",), ("--json",)]


@pytest.mark.parametrize("form", FORMS, ids=["drawn", "plain", "full", "json"])
def test_markup_and_escapes_in_a_record_stay_text(tmp_path: Path, form: tuple[str, ...]) -> None:
    path = tmp_path / "odd [bold] name.yaml"
    path.write_text(ODD_RECORD, encoding="utf-8")
    done = run("identify", str(path), *form)
    assert done.returncode == 1
    assert "[red]A[/red] [31m" in done.stdout
    assert not control_characters(done.stdout + done.stderr)


def test_markup_and_escapes_stay_text_where_colour_is_on(tmp_path: Path) -> None:
    path = tmp_path / "odd [bold] name.yaml"
    path.write_text(ODD_RECORD, encoding="utf-8")
    coloured = run("identify", str(path), FORCE_COLOR="1").stdout
    assert "[red]A[/red] [31m" in without_styles(coloured)
    assert "\x1b[31m" not in coloured
    assert not control_characters(without_styles(coloured))


@pytest.mark.parametrize("form", FORMS[:2], ids=["drawn", "plain"])
def test_markup_and_escapes_in_a_table_stay_text(tmp_path: Path, form: tuple[str, ...]) -> None:
    path = tmp_path / "odd.csv"
    path.write_text('vial,state,notes\n"[red]A[/red]\x1b[31m",solid,"[bold]x\x1b[1m"\n"=1+1\nB",gas,\n', encoding="utf-8")
    for details in ((), ("--details",)):
        done = run("identify", str(path), *form, *details)
        assert done.returncode == 1
        assert "[red]A[/red]" in done.stdout
        assert "=1+1 B" in done.stdout
        assert not control_characters(done.stdout + done.stderr)


@pytest.mark.parametrize(
    "arguments",
    [
        ("identify", "-r", "st\x1b[31mate=[bold]solid"),
        ("identify", "-r", "state=\x1b[31m[bold]solid\r\n"),
        ("identify", "-r", "\x1b[31m"),
        ("identify", RACK, "--vial", "\x1b[31m[red]A\n"),
        ("substance", "\x1b[31m[bold]salt"),
        ("classes", "\x1b[31m[bold]"),
        ("tests", "\x9b31m[bold]"),
        ("rules", "\x1b]0;title\x07[bold]"),
    ],
)
def test_markup_and_escapes_in_an_option_stay_text(arguments: tuple[str, ...]) -> None:
    done = run(*arguments)
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.startswith("error: ")
    assert done.stderr.count("\n") == 1
    assert not control_characters(done.stderr)


def test_escapes_in_wrong_usage_stay_text() -> None:
    for arguments in (("id\x1b[31m",), ("identify", "--x\x1b[31m")):
        assert not control_characters(run(*arguments).stderr)


def test_markup_in_a_file_name_stays_text(tmp_path: Path) -> None:
    done = run("identify", str(tmp_path / "[red]odd[/red].yaml"))
    assert "[red]odd[/red].yaml: there is no such file" in done.stderr


@pytest.mark.parametrize("name", ["odd\x1b[31m.yaml", "odd\nerror: second.yaml", "odd\x9b31m.yaml"])
def test_escapes_in_the_name_of_a_missing_file_stay_text(name: str) -> None:
    done = run("identify", name)
    assert done.stderr.count("\n") == 1
    assert not control_characters(done.stderr)


@pytest.mark.parametrize("command", [("identify",), ("check-rules",), ("check-rules", "--plain")], ids=" ".join)
def test_escapes_in_the_name_of_a_faulty_file_stay_text(tmp_path: Path, command: tuple[str, ...]) -> None:
    path = tmp_path / "odd\x1b[31m\nname.yaml"
    path.write_text("vial: C\nreadings: {state: sollid}\n", encoding="utf-8")
    done = run(*command, str(path))
    assert done.returncode == 2
    assert not control_characters(done.stdout + done.stderr)


ODD_RULE = """\
- id: odd-rule
  because: "In this game \\e[31m[bold]every\\x9b32m[/bold] solid is a metal."
  when: {all: [{reading: state, is: [solid]}]}
  weighs:
    cause: charge carriers
    for: {metallic: decisive, ionic: hint, polar molecular: hint, nonpolar molecular: hint, covalent network: hint}
  exceptions: [{subtype: graphite, because: "It is \\e[33mnone."}]
  source: {key: openstax-chemistry-2e, where: "here \\e[34m"}
  fires_on: [{state: solid}]
  silent_on: [{state: gas}]
"""


@pytest.mark.parametrize(
    "command",
    [("identify", "-r", "state=solid"), ("identify", "-r", "state=solid", "--full"), ("rules", "odd-rule")],
    ids=" ".join,
)
def test_escapes_in_a_teachers_rules_are_refused(tmp_path: Path, command: tuple[str, ...]) -> None:
    path = tmp_path / "odd.yaml"
    path.write_text(ODD_RULE, encoding="utf-8")
    done = run(*command, "--rules", str(path))
    assert done.returncode == 2
    assert done.stderr.count("holds control characters") == 3
    assert not control_characters(done.stdout + done.stderr)


@pytest.mark.parametrize("label", ["a\x7fb", "a\x9b31mb", "a\ufffeb"])
def test_a_blank_record_with_an_odd_label_is_clean_and_can_be_read(tmp_path: Path, label: str) -> None:
    path = tmp_path / "blank.yaml"
    told = run("blank-record", "--vial", label).stdout
    assert not control_characters(told)
    path.write_text(told, encoding="utf-8")
    assert run("identify", str(path)).returncode == 1


# --- streams that end ------------------------------------------------------------------------------


def test_a_reader_that_leaves_early_causes_no_traceback() -> None:
    with subprocess.Popen(
        [*PROGRAM, "rules", "--json"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment_with()
    ) as process:
        assert process.stdout
        assert process.stderr
        process.stdout.close()
        told = process.stderr.read().decode()
        process.wait(60)
    assert "Traceback" not in told


@pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX shell")
def test_a_closed_stdout_causes_no_traceback() -> None:
    shell = ["sh", "-c", '"$@" >&-', "sh", *PROGRAM, "identify", VIAL]
    done = subprocess.run(shell, capture_output=True, text=True, env=environment_with(), check=False, timeout=60)
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_is_told_in_one_line() -> None:
    with open("/dev/full", "w") as full:
        done = subprocess.run(
            [*PROGRAM, "identify", VIAL],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            env=environment_with(),
            check=False,
            timeout=60,
        )
    assert "Traceback" not in done.stderr
    assert done.returncode not in (0, 1)


@pytest.mark.parametrize("file", ["nothing.yaml", str(DEMO)])
def test_rules_that_cannot_be_read_are_an_error_like_any_other(file: str) -> None:
    done = run("check-rules", file)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("error: ")


def test_an_error_on_a_terminal_leaves_the_answer_empty() -> None:
    assert terminal_output("identify", "nothing.yaml") == ""
