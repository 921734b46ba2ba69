"""`spotplate summary` as people run it: forms and files, vials, exit codes, faulty input."""

from __future__ import annotations

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from running import PROGRAM, RACK, VIAL, control_characters, environment_with, run, run_once, terminal_output

ENDINGS = {".txt": "text", ".md": "markdown", ".markdown": "markdown", ".html": "html", ".htm": "html", ".HTML": "html"}
BEGINS = {"text": "Lab summary, vial C\n===", "markdown": "# Lab summary\n\n## Vial C\n", "html": "<!DOCTYPE html>\n<html lang"}


def test_text_is_printed_when_nothing_else_is_asked_for() -> None:
    done = run_once("summary", VIAL)
    assert done.returncode == 0
    assert done.stderr == ""
    assert done.stdout.startswith(BEGINS["text"])
    assert done.stdout == run("summary", VIAL, "--form", "text").stdout


@pytest.mark.parametrize("ending", ENDINGS)
@pytest.mark.parametrize("assessment", [(), ("--assessment",)], ids=["with sentences", "assessment"])
def test_the_ending_of_the_file_decides_the_form(ending: str, assessment: tuple[str, ...], tmp_path: Path) -> None:
    path = tmp_path / f"page{ending}"
    done = run("summary", VIAL, "--output", str(path), *assessment)
    assert (done.returncode, done.stderr) == (0, "")
    assert str(path) in done.stdout
    page = path.read_text(encoding="utf-8")
    assert page.startswith(BEGINS[ENDINGS[ending]])
    assert page == run_once("summary", VIAL, "--form", ENDINGS[ending], *assessment).stdout
    assert [file.name for file in tmp_path.iterdir()] == [path.name]


def test_the_form_asked_for_goes_before_the_ending(tmp_path: Path) -> None:
    path = tmp_path / "page.txt"
    assert run("summary", VIAL, "--form", "html", "--output", str(path)).returncode == 0
    assert path.read_text(encoding="utf-8").startswith(BEGINS["html"])
    other = tmp_path / "page.pdf"
    assert run("summary", VIAL, "--form", "markdown", "--output", str(other)).returncode == 0
    assert other.read_text(encoding="utf-8").startswith(BEGINS["markdown"])


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("page.pdf", "'.pdf' is not an ending that tells the form"),
        ("page.markdwn", "did you mean '.markdown'?"),
        ("page", "has no ending that tells the form"),
        (".html", "has no ending that tells the form"),
    ],
)
def test_another_ending_is_refused_with_those_accepted(name: str, says: str, tmp_path: Path) -> None:
    done = run("summary", VIAL, "--output", str(tmp_path / name))
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.startswith("error: option --output: ")
    assert says in done.stderr
    assert "Accepted: .txt, .md, .markdown, .html, .htm." in done.stderr
    assert "--form" in done.stderr
    assert not list(tmp_path.iterdir())


def test_a_file_that_is_there_stays_unless_asked(tmp_path: Path) -> None:
    path = tmp_path / "page.html"
    path.write_text("mine", encoding="utf-8")
    done = run("summary", VIAL, "--output", str(path))
    assert done.returncode == 2
    assert "is there already" in done.stderr
    assert "--over" in done.stderr
    assert path.read_text(encoding="utf-8") == "mine"
    assert run("summary", VIAL, "--output", str(path), "--over").returncode == 0
    assert path.read_text(encoding="utf-8").startswith(BEGINS["html"])
    assert [file.name for file in tmp_path.iterdir()] == ["page.html"]


def test_over_writes_a_new_file_too_and_needs_a_file(tmp_path: Path) -> None:
    assert run("summary", VIAL, "--output", str(tmp_path / "new.md"), "--over").returncode == 0
    done = run("summary", VIAL, "--over")
    assert done.returncode == 2
    assert "option --over: there is no file to write over" in done.stderr


@pytest.mark.parametrize("over", [(), ("--over",)], ids=["anew", "over"])
def test_what_cannot_be_written_is_told_in_one_line(over: tuple[str, ...], tmp_path: Path) -> None:
    (tmp_path / "folder.html").mkdir()
    for path in (tmp_path / "none" / "page.html", tmp_path / "folder.html"):
        done = run("summary", VIAL, "--output", str(path), *over)
        assert done.returncode == 2
        assert done.stdout == ""
        assert len(done.stderr.splitlines()) == 1
        assert done.stderr.startswith("error: option --output: ")
    assert [file.name for file in tmp_path.iterdir()] == ["folder.html"]


@pytest.mark.parametrize("kind", [(), ("--assessment",)], ids=["with sentences", "assessment"])
@pytest.mark.parametrize("vial", ["A", "G"])
def test_the_exit_code_tells_nothing_of_the_verdict(vial: str, kind: tuple[str, ...]) -> None:
    """Vial A is settled, vial G is not."""
    assert run("summary", RACK, "--vial", vial, *kind).returncode == 0


def test_vials_come_in_the_order_asked_for_and_each_once() -> None:
    page = run("summary", RACK, "--vial", "G", "--vial", "A", "--vial", "G", "--form", "markdown").stdout
    assert re.findall(r"(?m)^## (.*)$", page) == ["Vial G", "Vial A"]
    assert len(re.findall(r"(?m)^## ", run_once("summary", RACK, "--form", "markdown").stdout)) == 7


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((RACK, "--vial", "Q"), "Vials: A, B, C, D, E, F, G."),
        (("nothing.yaml",), "no such file"),
        ((VIAL, "--among", "sucrse"), "did you mean 'sucrose'"),
        ((VIAL, "--rules", "nothing.yaml"), "no such file"),
        ((VIAL, "--form", "pdf"), "pdf"),
        ((), "Missing argument"),
    ],
)
def test_faulty_input_ends_with_two_and_says_why(arguments: tuple[str, ...], says: str) -> None:
    done = run("summary", *arguments, columns=200)
    assert done.returncode == 2
    assert done.stdout == ""
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_date_set_and_rules_reach_the_page(tmp_path: Path) -> None:
    assert "Date: 3 May" in run("summary", VIAL, "--date", "3 May").stdout
    usual, among = run_once("summary", VIAL).stdout, run("summary", VIAL, "--among", "potassium chloride; sucrose").stdout
    assert "unknowns set of 2 vials" in " ".join(among.split())
    assert "unknowns set" not in usual
    path = tmp_path / "own.yaml"
    path.write_text(
        "- id: in-this-room\n  because: In this room whatever is lilac is ionic.\n"
        "  when: {all: [{reading: flame colour, is: [lilac]}]}\n"
        "  weighs: {cause: charge carriers, for: {ionic: decisive, metallic: hint, polar molecular: hint, "
        "nonpolar molecular: hint, covalent network: hint}}\n"
        "  source: {key: judgement}\n  fires_on: [{flame colour: lilac}]\n  silent_on: [{flame colour: no colour}]\n",
        encoding="utf-8",
    )
    own = run("summary", VIAL, "--rules", str(path))
    assert own.returncode == 0, own.stderr
    assert "In this room whatever is lilac is ionic." in " ".join(own.stdout.split())
    assert usual.splitlines()[-1] != own.stdout.splitlines()[-1]  # the checksum of the rule base


def test_an_assessment_does_not_depend_on_what_is_known_of_the_set() -> None:
    assert run("summary", VIAL, "--assessment", "--among", "sucrose; iron").stdout == run("summary", VIAL, "--assessment").stdout


def test_html_in_a_pipe_without_unicode_loses_no_character() -> None:
    usual = run_once("summary", VIAL, "--form", "html").stdout
    plain = run("summary", VIAL, "--form", "html", PYTHONIOENCODING="ascii").stdout
    assert plain.isascii()
    assert not usual.isascii()
    assert re.sub(r"&#(\d+);", lambda found: chr(int(found[1])) if int(found[1]) > 127 else found[0], plain) == usual


@pytest.mark.skipif(os.name == "nt", reason="there are no terminals of this kind")
def test_a_terminal_gets_no_page_breaks_and_a_pipe_one_before_every_further_vial() -> None:
    screen = terminal_output("summary", RACK, "--vial", "A", "--vial", "B", columns=80)
    piped = run("summary", RACK, "--vial", "A", "--vial", "B").stdout
    assert not control_characters(screen)
    assert piped.count("\f") == 1
    assert screen == piped.replace("\f", "")


def test_a_template_engine_is_loaded_for_html_only() -> None:
    code = "import sys, spotplate.cli.lab_summary as s; print('jinja2' in sys.modules); s.as_html([]); print('jinja2' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, env=environment_with(), timeout=60
    )
    assert done.stdout.split() == ["False", "True"]


def test_the_output_of_a_closed_pipe_ends_quietly() -> None:
    process = subprocess.Popen(
        [*PROGRAM, "summary", RACK, "--form", "html"], stdout=subprocess.PIPE, stderr=subprocess.PIPE, env=environment_with()
    )
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.read(10)
    process.stdout.close()
    told = process.stderr.read().decode()
    process.stderr.close()
    process.wait(60)
    assert "Traceback" not in told
