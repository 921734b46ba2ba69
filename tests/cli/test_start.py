"""What an identification imports: nothing heavy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from running import DEMO, RACK, VIAL, environment_with

from spotplate.engine.quiz import Kind, table_material, token
from spotplate.engine.quiz.asking import asking

HEAVY = {
    "pandas", "sklearn", "scipy", "numpy", "pint", "pydantic", "pydantic_core", "chemicals", "molmass", "joblib", "matplotlib",
    "jinja2", "hypothesis", "pytest",
}  # fmt: skip


def imported_by(*arguments: str) -> set[str]:
    """Names of all modules that are loaded when the command line has run."""
    code = (
        "import sys; sys.argv = ['spotplate', *sys.argv[1:]]\n"
        "from spotplate.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit as stop:\n    code = stop.code or 0\n"
        "print(code, *sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        text=True,
        check=True,
        env=environment_with(),
        timeout=60,
        stdin=subprocess.DEVNULL,
    )
    code_text, *names = done.stderr.split()
    assert code_text in {"0", "1"}
    assert done.stdout
    return set(names)


@pytest.mark.parametrize(
    "arguments",
    [
        ("identify", VIAL),
        ("identify", VIAL, "--plain", "--full"),
        ("identify", VIAL, "--json"),
        ("identify", RACK),  # with advice on vial G, so the reference table is read too
        ("identify", "-r", "state=solid"),
        ("--help",),
        ("identify", "--help"),
        ("demo", "--json"),
        ("blank-record",),
        ("tests",),
        ("substance", "sucrose"),
        ("summary", VIAL),
        ("summary", VIAL, "--form", "markdown"),
        ("plan-set", str(DEMO / "cupboard.csv"), "--vials", "3"),
    ],
    ids=" ".join,
)
def test_nothing_heavy_is_imported(arguments: tuple[str, ...]) -> None:
    loaded = imported_by(*arguments)
    assert "spotplate" in loaded
    assert not {name.partition(".")[0] for name in loaded} & HEAVY


@pytest.mark.parametrize("arguments", [("identify", VIAL), ("identify", VIAL, "--plain")], ids=" ".join)
def test_rich_is_not_imported_where_no_terminal_is(arguments: tuple[str, ...]) -> None:
    assert not {"rich.console", "rich.table", "asyncio", "pygments"} & imported_by(*arguments)


@pytest.mark.parametrize("arguments", [("identify", VIAL), ("identify", RACK), ("demo", "--json")], ids=" ".join)
def test_nothing_of_the_quiz_is_imported_by_other_commands(arguments: tuple[str, ...]) -> None:
    of_the_quiz = ("spotplate.engine.quiz", "spotplate.kb.quiz", "spotplate.cli.quiz", "sqlite3", "platformdirs")
    assert not [name for name in imported_by(*arguments) if name.startswith(of_the_quiz)]


QUIZ = ("quiz", "--seed", "1", "--questions", "1", "--kind", "named", "--no-memory")


@pytest.mark.parametrize("arguments", [QUIZ, (*QUIZ, "--json"), (*QUIZ, "--json", "--kind", "classify")], ids=" ".join)
def test_a_quiz_imports_nothing_heavy_and_plans_no_sets(arguments: tuple[str, ...]) -> None:
    loaded = imported_by(*arguments)
    assert "spotplate.engine.quiz.asking.named" in loaded
    assert not {name.partition(".")[0] for name in loaded} & HEAVY
    assert "spotplate.engine.sets.planning" not in loaded


def test_marking_an_answer_imports_nothing_heavy() -> None:
    material = table_material()
    question = next(
        question for item in asking(Kind.NAMED).items(material) if (question := asking(Kind.NAMED).pose(item, 1, material))
    )
    loaded = imported_by("mark", token(question, material), "a", "--json")
    assert "spotplate.engine.quiz.marking" in loaded
    assert not {name.partition(".")[0] for name in loaded} & HEAVY


def test_a_bench_session_imports_nothing_heavy(tmp_path: Path) -> None:
    """It begins, is asked for the first confirmation, and ends with its input."""
    loaded = imported_by("bench", str(tmp_path / "vial.yaml"))
    assert "filelock" in loaded
    assert not {name.partition(".")[0] for name in loaded} & HEAVY


def test_importing_the_program_again_runs_nothing() -> None:
    """As other processes do that share its work where processes are not copied."""
    done = subprocess.run(
        [sys.executable, "-c", "import spotplate.cli.__main__"], capture_output=True, text=True, timeout=60, check=True
    )
    assert (done.stdout, done.stderr) == ("", "")
