"""What screens look like: narrow, piped, without colour, in a screen reader, on an old terminal."""

from __future__ import annotations

import json
import re
import subprocess
import sys

import pytest
from running import DEMO, PROGRAM, RACK, VIAL, environment_with, run, run_once, terminal_output, without_styles

from spotplate.engine import load_knowledge

OPEN = ("identify", "-r", "state=solid", "-r", "in water=yes", "-r", "solution conductivity=yes")
NOTHING_READ = ("identify", "-r", "state=")
IDENTIFICATIONS = [
    ("identify", VIAL), ("identify", VIAL, "--full"), ("identify", RACK, "--details"), ("identify", RACK, "--vial", "G"),
    ("identify", "-r", "state=liquid", "-r", "mp=300"), OPEN, NOTHING_READ, ("demo",),
]  # fmt: skip
SCREENS = [
    *IDENTIFICATIONS, ("identify", RACK), ("substance", "sucrose"), ("substance", "table salt"), ("classes",), ("tests",),
    ("tests", "dilute acid test"), ("tests", "water test"), ("rules",), ("rules", "graphite-layers"), ("check-rules",),
    ("cupboard", str(DEMO / "cupboard.csv")), ("report",),
]  # fmt: skip
each_screen = pytest.mark.parametrize("arguments", SCREENS, ids=" ".join)
each_screen_but_report = pytest.mark.parametrize("arguments", SCREENS[:-1], ids=" ".join)  # it takes seconds
each_identification = pytest.mark.parametrize("arguments", IDENTIFICATIONS, ids=" ".join)
each_width = pytest.mark.parametrize("columns", [60, 80, 120])
needs_terminal = pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX terminal")
ESCAPE = "\x1b"
DRAWING = set("─│┃━█▓▒░╭╮╯╰┌┐└┘├┤·═║╸╺▏▎▍▌▋▊▉")


# --- words -----------------------------------------------------------------------------------------


@each_screen
@pytest.mark.parametrize("form", [(), ("--plain",)], ids=["drawn", "plain"])
def test_no_screen_shows_the_inside_of_the_program(arguments: tuple[str, ...], form: tuple[str, ...]) -> None:
    told = " ".join(run_once(*arguments, *form).stdout.split())
    allowed = told.replace("< 0.1", "").replace("<NAME>", "")
    found = re.search(r"\bNone\b|\bTrue\b|\bFalse\b|\bnan\b|class_|\binf\b|[{}]|\(\)|<|Struct|Interval|VerdictKind|\[\]", allowed)
    assert not found, told[max(0, found.start() - 60) : found.end() + 60]
    assert ESCAPE not in told
    assert "  ." not in told
    assert ".." not in told
    assert ". ." not in told


# Lines that are no sentences: headings, readings as seen, the source, the cells of a table.
NO_SENTENCE = re.compile(
    r"seen: |source: |Vial |For and against |Why |What would |Tests that |Cautions |About the record|The bench record |"
    r"Second opinion: |Candidate substances|Readings that do not "
)


@pytest.mark.parametrize("arguments", [case for case in IDENTIFICATIONS if case != ("demo",)], ids=" ".join)
def test_every_sentence_of_an_identification_ends_as_one(arguments: tuple[str, ...]) -> None:
    lines = run_once(*arguments, "--plain").stdout.splitlines()
    for line in lines:
        if line and not NO_SENTENCE.match(line) and line not in ("inconclusive", "contradictory"):
            assert line.endswith((".", ":", ")")), line
        assert line == line.rstrip()
    assert len([line for line in lines if line.endswith(".")]) >= 7


@each_identification
def test_certainty_is_never_rounded_up(arguments: tuple[str, ...]) -> None:
    for told in (run_once(*arguments).stdout, run_once(*arguments, "--plain").stdout):
        assert "%" in told
        assert not re.search(r"(?<![\d.])(100|0)([.,]0+)? ?%", told)


def test_the_summary_of_a_table_does_not_round_up_either() -> None:
    assert not re.search(r"(?<![\d.])(100|0)([.,]0+)? ?%", run_once("identify", RACK).stdout)


@each_identification
def test_the_verdict_is_told_in_words(arguments: tuple[str, ...]) -> None:
    data = json.loads(run_once(*[part for part in arguments if part != "--full"], "--json").stdout)
    for told in (run_once(*arguments).stdout, run_once(*arguments, "--plain").stdout):
        for vial in data["vials"]:
            name = f"Vial {vial['vial']}: " if vial["vial"] else ""
            kind, answer = vial["verdict"]["kind"], vial["verdict"]["class"]
            assert f"{name}{kind}, {answer}" in told if answer else f"{name}{kind}" in told.splitlines()
            for ranked in vial["ranking"]:
                assert ranked["class"] in told


# --- safety ----------------------------------------------------------------------------------------


@each_identification
def test_every_identification_says_what_it_is_not_for(arguments: tuple[str, ...]) -> None:
    assert "An unlabelled chemical that nobody prepared" in " ".join(run_once(*arguments).stdout.split())


def test_the_summary_of_a_table_that_proposes_tests_has_a_safety_line() -> None:
    told = " ".join(run_once("identify", RACK).stdout.split())
    assert "do next" in told
    assert re.search("An unlabelled chemical|safety data sheet|--vial G .*cautions", told)


@pytest.mark.parametrize("arguments", [OPEN, NOTHING_READ, ("identify", RACK, "--vial", "G")], ids=" ".join)
@pytest.mark.parametrize("form", [(), ("--plain",)], ids=["drawn", "plain"])
def test_an_open_answer_shows_the_tests_that_would_help_and_their_cautions(
    arguments: tuple[str, ...], form: tuple[str, ...]
) -> None:
    told = " ".join(run_once(*arguments, *form).stdout.split())
    (vial,) = json.loads(run_once(*arguments, "--json").stdout)["vials"]
    assert vial["next_tests"]
    assert "Tests that would help most" in told
    for number, proposed in enumerate(vial["next_tests"], 1):
        assert f"{number}. {proposed['test']}:" in told
    usual = load_knowledge()
    for proposed in vial["next_tests"]:
        for key in usual.tests[proposed["test"]].cautions:
            assert " ".join(usual.cautions[key].says.split()) in told
        if proposed["teacher"]:
            assert "The teacher must agree first." in told
    assert "Wear eye protection" in told
    assert "safety data sheet" in told


def test_a_proposed_test_brings_the_cautions_of_the_tests_it_needs_first() -> None:
    knowledge = load_knowledge()
    (vial,) = json.loads(run_once("identify", "-r", "state=solid", "--json").stdout)["vials"]
    needed = {
        knowledge.test_of[need.reading].id
        for proposed in vial["next_tests"]
        for need in knowledge.tests[proposed["test"]].needs
        if need.reading and need.reading not in vial["readings"]
    }
    assert needed <= {"water test", "look", "melt conductivity test", "dilute acid test"}
    for test in needed:
        for key in knowledge.tests[test].cautions:
            assert knowledge.cautions[key].says in vial["cautions"]


def test_a_settled_answer_proposes_no_test() -> None:
    assert "Tests that would help most" not in run_once("identify", VIAL).stdout


@pytest.mark.parametrize("substance", ["sucrose", "table salt"])
def test_a_substance_page_tells_hazards_and_who_decides(substance: str) -> None:
    told = " ".join(run_once("substance", substance).stdout.split())
    assert "Hazards" in told
    assert "safety data sheet" in told


# --- what a record leaves open ---------------------------------------------------------------------


def test_an_assumed_unit_and_an_unclear_reading_are_told() -> None:
    told = run("identify", "-r", "melting range=80", "-r", "smell=unclear").stdout
    assert "melting range was written without a unit and read as 80 °C" in told
    assert "Unclear, so counted neither way: smell" in told
    assert "without a unit" not in run("identify", "-r", "melting range=80 °C").stdout


def test_the_air_pressure_is_told_with_its_assumed_unit_and_for_a_boiling_point_only() -> None:
    told = " ".join(run("identify", "-r", "boiling point=78 °C", "-r", "air pressure=98.2").stdout.split())
    assert "The boiling point is compared as it would be at 101.325 kPa; air pressure: 98.2 kPa." in told
    assert "air pressure was written without a unit and read as 98.2 kPa." in told
    told = " ".join(run("identify", "-r", "melting range=78 °C", "-r", "air pressure=98.2 kPa").stdout.split())
    assert "The boiling point is compared" not in told
    assert "No boiling point was taken; air pressure: 98.2 kPa." in told
    assert "without a unit" not in told


# --- width and drawing -----------------------------------------------------------------------------


@each_width
@each_screen_but_report
def test_nothing_in_a_pipe_is_wider_than_asked_for_tables_included(arguments: tuple[str, ...], columns: int) -> None:
    told = run_once(*arguments, columns=columns).stdout
    assert [line for line in told.splitlines() if len(line) > columns] == []


@pytest.mark.parametrize("columns", [40, 60, 80, 100])
@pytest.mark.parametrize("arguments", [("report",), ("tree", "--forks"), ("calibration", "--partial", "1"), ("audit-rules",)])
def test_tables_of_figures_fit_a_pipe_and_keep_every_figure_whole(arguments: tuple[str, ...], columns: int) -> None:
    told = run(*arguments, columns=columns).stdout
    assert [line for line in told.splitlines() if len(line) > columns] == []
    assert not re.search(r"^\s*%", told, flags=re.MULTILINE)
    figures = r"\d+\.\d+(?: %)?"
    wide = run_once(*arguments, columns=200).stdout
    assert sorted(re.findall(figures, told)) == sorted(re.findall(figures, wide))


def test_a_table_for_which_there_is_no_room_is_told_row_by_row() -> None:
    told = " ".join(run_once("tree", columns=40).stdout.split())
    assert "true class: polar molecular; ionic:" in told


def test_wider_screens_are_used() -> None:
    longest = [max(map(len, run_once("classes", columns=columns).stdout.splitlines())) for columns in (60, 80, 120)]
    assert longest[0] > 50
    assert longest[1] > 70
    assert longest[2] > 110


def test_width_changes_no_word() -> None:
    for arguments in (("identify", VIAL, "--full"), ("tests", "water test")):
        told = [run_once(*arguments, columns=columns).stdout for columns in (60, 80, 120)]
        words = [re.sub(r"[█·]+(?=  )|^-{10,}$", "", text, flags=re.MULTILINE).split() for text in told]  # bars may be shorter
        assert words[0] == words[1] == words[2]


@needs_terminal
@each_width
@each_screen_but_report
def test_nothing_is_wider_than_a_terminal_tables_included(arguments: tuple[str, ...], columns: int) -> None:
    told = without_styles(terminal_output(*arguments, columns=columns))
    assert told.strip()
    assert not [line for line in told.splitlines() if len(line.rstrip()) > columns]


@needs_terminal
@each_width
def test_the_plain_form_wraps_on_a_terminal(columns: int) -> None:
    for arguments in (("identify", RACK, "--details"), ("rules",)):
        lines = terminal_output(*arguments, "--plain", columns=columns).splitlines()
        assert columns - 20 < max(map(len, lines)) <= columns


@needs_terminal
def test_the_report_fits_a_terminal_and_leaves_no_progress_bar() -> None:
    told = without_styles(terminal_output("report", "--no-misses", columns=80))
    assert not [line for line in told.splitlines() if len(line.rstrip()) > 80]
    assert told.startswith("Full expected readings")


@needs_terminal
@pytest.mark.parametrize("columns", [60, 80, 120])
def test_a_table_on_a_terminal_never_breaks_a_verdict_inside_a_word(columns: int) -> None:
    told = without_styles(terminal_output("identify", RACK, columns=columns))
    assert re.search(r"\binconclusive\b", told)
    assert len(re.findall(r"\bconclusive\b", told)) == 6


@pytest.mark.parametrize(
    "columns",
    [
        "0",
        "1",
        "-5",
        "many",
        "7",
    ],
)
def test_a_nonsense_width_does_not_crash(columns: str) -> None:
    for extra in ({}, {"FORCE_COLOR": "1"}):
        done = subprocess.run(
            [*PROGRAM, "identify", VIAL],
            capture_output=True,
            text=True,
            encoding="utf-8",
            env=environment_with(COLUMNS=columns, **extra),
            check=False,
            timeout=60,
        )
        assert done.returncode == 0
        assert without_styles(done.stdout).startswith("Vial C:")


@each_screen
def test_plain_form_has_no_drawing_no_table_and_no_colour(arguments: tuple[str, ...]) -> None:
    told = run_once(*arguments, "--plain").stdout
    assert not set(re.sub(r"·\d+H2O", "", told)) & DRAWING
    assert not re.search(r"#{2,}|\.{2,}|-{2,}(?!\w)|\|| {3,}|\t", told)
    assert ESCAPE not in told
    assert ESCAPE not in run_once(*arguments, "--plain", FORCE_COLOR="1").stdout


@needs_terminal
def test_plain_form_stays_plain_on_a_terminal() -> None:
    told = terminal_output("identify", RACK, "--details", "--plain")
    assert ESCAPE not in told
    assert not set(told) & DRAWING


def test_plain_form_says_every_number_of_the_drawn_one() -> None:
    drawn, plain = run_once("identify", VIAL).stdout, run_once("identify", VIAL, "--plain").stdout
    numbers = r"[−+]\d+|\d+(?:\.\d+)? %"
    assert re.findall(numbers, drawn) == re.findall(numbers, plain)
    assert len(re.findall(numbers, plain)) > 10


# --- colour ----------------------------------------------------------------------------------------

COLOURS = re.compile(r"\x1b\[(?:\d+;)*(?:3[0-7]|4[0-7]|9[0-7]|10[0-7]|38|48)(?:;\d+)*m")


@each_screen
def test_a_pipe_gets_no_escapes(arguments: tuple[str, ...]) -> None:
    assert ESCAPE not in run_once(*arguments).stdout
    assert ESCAPE not in run_once(*arguments, NO_COLOR="1").stdout


def test_colour_is_there_when_forced_and_says_nothing_that_words_do_not() -> None:
    coloured = run_once("identify", VIAL, FORCE_COLOR="1").stdout
    assert COLOURS.search(coloured)
    assert "conclusive, ionic" in without_styles(coloured)
    words = [re.sub(r"[^\w.,;:%+−<>“”]+", "", told) for told in (without_styles(coloured), run_once("identify", VIAL).stdout)]
    assert words[0] == words[1]


@needs_terminal
def test_a_terminal_gets_colour_but_not_under_no_color_or_where_it_knows_none() -> None:
    assert COLOURS.search(terminal_output("identify", VIAL))
    assert not COLOURS.search(terminal_output("identify", VIAL, NO_COLOR="1"))
    assert ESCAPE not in terminal_output("identify", VIAL, TERM="dumb")


def test_no_color_wins_over_force_color() -> None:
    assert not COLOURS.search(run("identify", VIAL, FORCE_COLOR="1", NO_COLOR="1").stdout)


# --- old terminals ---------------------------------------------------------------------------------


@each_screen
@pytest.mark.parametrize("encoding", ["ascii", "latin-1"])
def test_an_old_terminal_does_not_crash(arguments: tuple[str, ...], encoding: str) -> None:
    done = run(*arguments, PYTHONIOENCODING=encoding)
    assert done.returncode == run_once(*arguments).returncode
    assert done.stderr == ""
    assert len(done.stdout.splitlines()) == len(run_once(*arguments).stdout.splitlines())


def test_an_old_terminal_shows_an_error_too() -> None:
    done = run("identify", "-r", "mp=80 ℧", PYTHONIOENCODING="ascii")
    assert done.returncode == 2
    assert done.stderr.startswith("error: ")
    assert "Traceback" not in done.stderr


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_an_old_terminal_keeps_the_sign_of_evidence(encoding: str) -> None:
    told = run_once("identify", VIAL, PYTHONIOENCODING=encoding).stdout
    assert not re.search(r"\?\d", told)
    assert re.search(r"nonpolar molecular .* -\d+$", told, flags=re.MULTILINE)
