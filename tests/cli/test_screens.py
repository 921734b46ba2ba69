"""What screens look like: narrow, piped, without colour, in a screen reader, on an old terminal."""

from __future__ import annotations

import json
import re

import pytest
from running import DEMO, run

VIAL = str(DEMO / "vial-c.yaml")
OPEN = ("identify", "-r", "state=solid", "-r", "in water=yes", "-r", "solution conductivity=yes")
SCREENS = [
    ("identify", VIAL), ("identify", VIAL, "--full"), ("identify", str(DEMO / "rack.csv")),
    ("identify", str(DEMO / "rack.csv"), "--details"), OPEN, ("demo",), ("substance", "sucrose"), ("classes",), ("tests",),
    ("tests", "dilute acid test"), ("rules",), ("rules", "graphite-layers"), ("check-rules",), ("report",),
]  # fmt: skip
each_screen = pytest.mark.parametrize("arguments", SCREENS, ids=" ".join)
ESCAPE = "\x1b"


@each_screen
@pytest.mark.parametrize("form", [(), ("--plain",)])
def test_no_screen_shows_the_inside_of_the_program(arguments: tuple[str, ...], form: tuple[str, ...]) -> None:
    told = " ".join(run(*arguments, *form).stdout.split())
    assert not re.search(r"\bNone\b|\bnan\b|class_|\binf\b|\{|\(\)|<|Struct", told.replace("< 0.1", "").replace("<NAME>", ""))
    assert ESCAPE not in told
    assert "  ." not in told
    assert ".." not in told


@each_screen
def test_plain_form_has_no_drawing(arguments: tuple[str, ...]) -> None:
    told = run(*arguments, "--plain").stdout
    assert not set(told) & set("─│┃━█╭╮╯╰")


@pytest.mark.parametrize("columns", [60, 80, 120])
@pytest.mark.parametrize("arguments", [("identify", VIAL), OPEN, ("tests", "water test"), ("classes",)], ids=" ".join)
def test_text_wraps_at_the_width_of_the_screen(arguments: tuple[str, ...], columns: int) -> None:
    lines = run(*arguments, columns=columns).stdout.splitlines()
    table = [line for line in lines if "█" in line or line.startswith(("class ", "---")) or "····" in line]
    assert all(len(line) <= columns for line in lines if line not in table)


def test_colour_is_there_when_forced_and_never_carries_meaning_alone() -> None:
    coloured = run("identify", VIAL, FORCE_COLOR="1").stdout
    assert ESCAPE in coloured
    assert ESCAPE not in run("identify", VIAL, FORCE_COLOR="1", NO_COLOR="1").stdout.replace("\x1b[1m", "").replace(
        "\x1b[0m", ""
    ).replace("\x1b[2m", "").replace("\x1b[1;2m", "")
    bare = re.sub(r"\x1b\[[0-9;]*m", "", coloured)
    assert "conclusive, ionic" in bare


@each_screen
@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_an_old_terminal_does_not_crash(arguments: tuple[str, ...], encoding: str) -> None:
    done = run(*arguments, PYTHONIOENCODING=encoding)
    assert done.returncode in (0, 1)
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("arguments", [("identify", VIAL), OPEN, ("identify", str(DEMO / "rack.csv"))], ids=" ".join)
def test_certainty_is_never_rounded_up(arguments: tuple[str, ...]) -> None:
    told = run(*arguments).stdout
    assert not re.search(r"\b100(\.0)? %|(?<![\d.])0(\.0)? %", told)


def test_an_open_answer_shows_the_tests_that_would_help_and_their_cautions() -> None:
    told = run(*OPEN).stdout
    best = json.loads(run(*OPEN, "--json").stdout)["vials"][0]["next_tests"][0]["test"]
    assert "Tests that would help most" in told
    assert f"1. {best}:" in told
    assert "Wear eye protection" in told
    assert "safety data sheet" in told
    assert "unlabelled chemical" in told


def test_an_assumed_unit_and_an_unclear_reading_are_told() -> None:
    told = run("identify", "-r", "melting range=80", "-r", "smell=unclear").stdout
    assert "melting range was written without a unit and read as 80 °C" in told
    assert "Unclear, so counted neither way: smell" in told
