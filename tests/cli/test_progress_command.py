"""`spotplate progress`: what it shows, exports and deletes. It never touches the real user-data folder."""

from __future__ import annotations

import csv
import datetime
import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from running import PROGRAM, control_characters, environment_with, run, terminal_output, without_styles

from spotplate.engine.files.progress import ProgressFile
from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Item, Kind, Outcome
from spotplate.kb import load_knowledge
from spotplate.kb.quiz import load_quiz

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
MIX_UP = next(iter(load_quiz().mix_ups.values()))
NOW = datetime.datetime.now(datetime.UTC)
HYDRATE = Item(Kind.CLASSIFY, "ionic, hydrate", "ionic", "hydrate")
METAL = Item(Kind.NAMED, "metallic", "metallic")
ACID = Item(Kind.PREDICT, "polar molecular, molecular acid", "polar molecular", "molecular acid")
# Days ago, item, outcome, mix-up shown, how sure. The hydrate is due (1 day, answered 3 days ago), its mix-up too; the metal is not.
TOLD = [
    (9.0, HYDRATE, Outcome.WRONG, MIX_UP.id, 0.9),
    (3.0, HYDRATE, Outcome.RIGHT, "", 0.8),
    (2.0, METAL, Outcome.RIGHT, "", 0.95),
    (0.9, METAL, Outcome.RIGHT, "", None),
    (0.5, ACID, Outcome.UNSUPPORTED, "", 0.55),
]
needs_terminal = pytest.mark.skipif(sys.platform == "win32", reason="needs a POSIX terminal")


def fill(path: Path, learner: str = "me") -> ProgressFile:
    file = ProgressFile(path)
    for days, item, outcome, mix_up, sure in TOLD:
        file.add(Answered(learner, NOW - datetime.timedelta(days=days), item, outcome, mix_up, sure))
    return file


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """A progress file with five answers of “me”."""
    return fill(tmp_path / "progress.sqlite3").path


def progress(path: Path, *arguments: str, columns: int = 80, **environment: str) -> subprocess.CompletedProcess[str]:
    done = run("progress", "--progress", str(path), *arguments, columns=columns, **environment)
    assert "Traceback" not in done.stderr
    return done


def data(path: Path, *arguments: str) -> Any:
    done = progress(path, "--json", *arguments)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def typed(path: Path, *arguments: str, keys: str) -> subprocess.CompletedProcess[str]:
    """The command with somebody at the keyboard."""
    command = [*PROGRAM, "progress", "--progress", str(path), *arguments]
    return subprocess.run(
        command, input=keys, capture_output=True, text=True, encoding="utf-8", env=environment_with(), timeout=60, check=False
    )


# --- what is shown ---------------------------------------------------------------------------------


def test_scores_are_those_of_the_answers(path: Path) -> None:
    found = data(path)
    assert found["score"] == {"answered": 5, "right": 4, "share": 0.8}
    certainty = found["certainty"]
    # 1 − 0.9², 1 − 0.2², 1 − 0.05², 1 − 0.45²: wrong at 90 %, right at 80, 95 and 55 %
    assert certainty["score"] == pytest.approx((0.19 + 0.96 + 0.9975 + 0.7975) / 4)
    assert (certainty["answered"], certainty["said"], certainty["right"]) == (4, pytest.approx(0.8), 0.75)
    assert "Brier" in certainty["rule"]
    assert [(row["low"], row["answered"], row["right"]) for row in found["calibration"]] == [
        (0.5, 1, 1),
        (0.8, 1, 1),
        (0.9, 2, 1),
    ]


def test_due_items_come_with_mix_ups_first(path: Path) -> None:
    found = data(path)
    assert [each["item"] for each in found["due"]] == [f"mix-up/{MIX_UP.id}", HYDRATE.key]
    assert [each["interval_days"] for each in found["due"]] == [0, 1]
    assert [each["item"] for each in found["later"]] == [ACID.key, METAL.key]
    assert [each["interval_days"] for each in found["later"]] == [1, 2]


def test_weaknesses_are_told_of_classes_exceptions_mix_ups_and_kinds(path: Path) -> None:
    weak = data(path)["weak"]
    assert [(each["name"], each["right"], each["answered"]) for each in weak["classes"]] == [
        ("ionic", 1, 2), ("polar molecular", 1, 1), ("metallic", 2, 2),
    ]  # fmt: skip
    assert [each["name"] for each in weak["exceptions"]] == ["hydrate", "molecular acid"]
    assert [(each["name"], each["says"], each["right"]) for each in weak["mix_ups"]] == [(MIX_UP.id, MIX_UP.says, 0)]
    assert {each["name"] for each in weak["kinds"]} == {"classify", "named", "predict"}


@pytest.mark.parametrize(
    ("kind", "topic", "says"),
    [
        (Kind.EXPLAIN, "sugar-chars", "explain “Why does … turn brown to black on strong heating, while water collects on the cold glass?”"),
        (Kind.EXCEPTION, "insoluble-so-not-ionic", None),
        (Kind.PUBLISHED, "openstax-shiny-975", "published “A shiny solid conducts well and melts at 975 °C. Which bonding class is the likeliest?”"),
        (Kind.EXPLAIN, "forgotten-since", "explain: forgotten-since"),
    ],
)  # fmt: skip
def test_an_item_is_named_by_what_it_asks_and_not_by_its_short_name(
    tmp_path: Path, kind: Kind, topic: str, says: str | None
) -> None:
    says = says or f"exception “{load_knowledge().rules_of_thumb[topic].says.rstrip('.')}”"
    file = ProgressFile(tmp_path / "progress.sqlite3")
    file.add(Answered("me", NOW - datetime.timedelta(hours=5), Item(kind, topic), Outcome.WRONG))
    told = " ".join(progress(file.path).stdout.split())
    assert f"1. {says} (answered wrongly)" in told
    assert (topic in told) == (topic == "forgotten-since")


FORMS = [(), ("--plain",)]


@pytest.mark.parametrize("form", FORMS, ids=["drawn", "plain"])
@pytest.mark.parametrize("columns", [60, 100])
def test_the_page_tells_everything_at_any_width(path: Path, form: tuple[str, ...], columns: int) -> None:
    done = progress(path, *form, columns=columns)
    assert (done.returncode, done.stderr) == (0, "")
    if not form:
        assert max(len(line) for line in done.stdout.splitlines() if str(path) not in line) <= columns
    told = " ".join(done.stdout.split())
    for wanted in (
        "Progress of “me”: 5 answers, 4 right", "Due now: 2 items", "classify: ionic, hydrate", "Brier", "On average you said 80 %",
        "were right in 75 %", "90–100 %", "molecular acid", "named", "Weakest first", "on this machine alone",
    ):  # fmt: skip
        assert wanted in told, wanted
    assert MIX_UP.says in told
    assert not re.search(r"None|nan|\bTrue\b|class_|\.\.|\[\]|Struct", told.replace(str(path), ""))
    assert "\x1b" not in done.stdout


def test_plain_lines_hold_no_bars(path: Path) -> None:
    assert "█" in progress(path).stdout
    assert not set("█·─-") & set(re.sub(r"\w-\w|-\d\d", "", progress(path, "--plain").stdout.replace(str(path), "")))


def test_an_old_terminal_gets_bars_that_it_can_show(path: Path) -> None:
    assert "#" in progress(path, PYTHONIOENCODING="ascii").stdout


@needs_terminal
def test_without_colour_a_terminal_shows_the_same(path: Path) -> None:
    arguments = ("progress", "--progress", str(path))
    coloured = terminal_output(*arguments, columns=60)
    plain = terminal_output(*arguments, columns=60, NO_COLOR="1")
    assert without_styles(coloured) == without_styles(plain)
    assert "Due now: 2 items" in plain
    assert not re.search(r"\x1b\[[\d;]*3[0-7]m", plain)
    assert all(len(line) <= 60 for line in without_styles(plain).splitlines() if str(path)[:20] not in line)


@pytest.mark.parametrize("form", [*FORMS, ("--json",)], ids=["drawn", "plain", "json"])
def test_without_answers_it_says_so_and_makes_no_file(tmp_path: Path, form: tuple[str, ...]) -> None:
    done = progress(tmp_path / "new.sqlite3", *form)
    assert (done.returncode, done.stderr) == (0, "")
    if form != ("--json",):
        assert "No answers of “me” are kept yet." in done.stdout
    else:
        found = json.loads(done.stdout)
        assert (found["score"]["share"], found["certainty"], found["due"], found["weak"]["classes"]) == (None, None, [], [])
    assert list(tmp_path.iterdir()) == []


def test_learners_are_kept_apart_and_named(path: Path) -> None:
    fill(path, "Ann")
    assert data(path, "--learner", " Ann ")["score"]["answered"] == 5
    assert data(path)["learners"] == ["Ann", "me"]
    assert "Others with answers in it: 'Ann'." in progress(path).stdout
    assert "No answers of “Bo” are kept yet." in progress(path, "--learner", "Bo").stdout


def test_odd_names_and_unknown_mix_ups_stay_text(path: Path) -> None:
    file = ProgressFile(path)
    item = Item(Kind.MIX_UP, "no longer known", mix_up="no longer known")
    file.add(Answered("[red]Ann[/red]", NOW, item, Outcome.WRONG))
    for form in FORMS:
        done = progress(path, "--learner", "[red]Ann[/red]", *form)
        assert "Progress of “[red]Ann[/red]”: 1 answer, 0 right" in done.stdout
        assert "no longer known" in done.stdout
        assert not control_characters(done.stdout)
    refused = progress(path, "--learner", "a\x1b[31m")
    assert refused.returncode == 2
    assert not control_characters(refused.stderr)


def test_readme_documents_every_json_field_of_progress(path: Path) -> None:
    """Those of the export, too."""

    def names(found: Any) -> set[str]:
        if isinstance(found, dict):
            return set(found) | {name for each in found.values() for name in names(each)}
        return {name for each in found for name in names(each)} if isinstance(found, list) else set()

    section = README.split("### Progress and spaced practice")[1].split("\n### ")[0]
    told = names(data(path)) | names(ProgressFile(path).export()) | {"path", "why"}
    assert not {name for name in told if f"`{name}`" not in section}


# --- a file that cannot be used --------------------------------------------------------------------


@pytest.mark.parametrize("form", [*FORMS, ("--json",)], ids=["drawn", "plain", "json"])
def test_a_damaged_file_is_set_aside_and_reported(tmp_path: Path, form: tuple[str, ...]) -> None:
    path = tmp_path / "p.sqlite3"
    path.write_bytes(b"chalk, tape, string" * 100)
    done = progress(path, *form)
    assert done.returncode == 0
    assert len(done.stderr.splitlines()) == 1
    assert "p-set-aside-1.sqlite3" in done.stderr
    assert "a new one is begun" in done.stderr
    assert (tmp_path / "p-set-aside-1.sqlite3").read_bytes() == b"chalk, tape, string" * 100
    if form == ("--json",):
        (told,) = json.loads(done.stdout)["set_aside"]
        assert told["path"] == str(tmp_path / "p-set-aside-1.sqlite3")


@pytest.mark.parametrize("name", ["notes.txt", "none/p.sqlite3"])
def test_a_path_that_cannot_be_used_is_told_in_one_line(tmp_path: Path, name: str) -> None:
    done = progress(tmp_path / name)
    assert (done.returncode, done.stdout) == (2, "")
    assert len(done.stderr.splitlines()) == 1


# --- export ----------------------------------------------------------------------------------------


def test_an_export_as_json_is_what_the_file_holds(path: Path, tmp_path: Path) -> None:
    fill(path, "Ann")
    out = tmp_path / "mine.json"
    done = progress(path, "--export", str(out))
    assert (done.returncode, done.stdout) == (0, f"{out}: 5 answers of 'me'.\n")
    assert json.loads(out.read_text(encoding="utf-8")) == ProgressFile(path).export("me")
    assert data(path, "--export", str(tmp_path / "all.JSON"), "--all") == {"exported": 10, "file": str(tmp_path / "all.JSON")}


def test_an_export_as_csv_has_a_row_for_each_answer(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.csv"
    assert progress(path, "--export", str(out)).returncode == 0
    with out.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.DictReader(file))
    kept = ProgressFile(path).export("me")
    assert [{name: "" if cell is None else str(cell) for name, cell in row.items()} for row in kept] == rows


@pytest.mark.parametrize("name", ["=HYPERLINK(1)", "+1", "-2+3", "@SUM(A1)", "'=1"])
def test_no_cell_of_an_export_is_a_formula(tmp_path: Path, name: str) -> None:
    path, out = fill(tmp_path / "p.sqlite3", name).path, tmp_path / "out.csv"
    assert progress(path, f"--learner={name}", "--export", str(out)).returncode == 0
    with out.open(encoding="utf-8-sig", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[1][0] == f"'{name}"
    assert not [cell for row in rows for cell in row if cell[:1] in "=+-@" and cell]


def test_an_export_never_writes_over_a_file_unless_asked(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.json"
    out.write_text("old", encoding="utf-8")
    done = progress(path, "--export", str(out))
    assert done.returncode == 2
    assert "--over" in done.stderr
    assert out.read_text(encoding="utf-8") == "old"
    assert progress(path, "--export", str(out), "--over").returncode == 0
    assert len(json.loads(out.read_text(encoding="utf-8"))) == 5


def test_an_export_of_another_ending_is_refused(path: Path, tmp_path: Path) -> None:
    done = progress(path, "--export", str(tmp_path / "mine.pdf"))
    assert done.returncode == 2
    assert "does not end in .json or .csv" in done.stderr


# --- deletion --------------------------------------------------------------------------------------


@pytest.mark.parametrize("keys", ["no\n", "\n", "", "yesterday\n"])
def test_nothing_is_deleted_without_a_yes(path: Path, keys: str) -> None:
    done = typed(path, "--delete", keys=keys)
    assert (done.returncode, done.stdout) == (1, "")
    assert "Delete 5 answers of 'me' for good?" in done.stderr
    assert "Nothing was deleted." in done.stderr
    assert len(ProgressFile(path).answers("me")) == 5


@pytest.mark.parametrize("keys", ["yes\n", " Y \n"])
def test_a_yes_deletes_one_learner(path: Path, keys: str) -> None:
    fill(path, "Ann")
    done = typed(path, "--delete", "--learner", "Ann", keys=keys)
    assert (done.returncode, done.stdout) == (0, "5 answers of 'Ann' deleted.\n")
    assert ProgressFile(path).learners() == ("me",)


def test_deletion_can_go_without_a_question_and_for_everybody(path: Path) -> None:
    fill(path, "Ann")
    assert data(path, "--delete", "--yes") == {"deleted": 5, "learner": "me", "set_aside_earlier": []}
    done = progress(path, "--delete", "--all", "--yes")
    assert (done.returncode, done.stdout, done.stderr) == (0, "5 answers of everybody deleted.\n", "")
    assert ProgressFile(path).export() == []
    assert progress(path, "--delete").stdout == "0 answers of 'me' deleted.\n"


def test_answers_are_exported_before_they_are_deleted(path: Path, tmp_path: Path) -> None:
    out = tmp_path / "mine.json"
    assert progress(path, "--export", str(out), "--delete", "--yes").returncode == 0
    assert len(json.loads(out.read_text(encoding="utf-8"))) == 5
    assert ProgressFile(path).export() == []


def test_an_export_that_fails_keeps_the_answers(path: Path, tmp_path: Path) -> None:
    done = progress(path, "--export", str(tmp_path / "none" / "mine.json"), "--delete", "--yes")
    assert done.returncode == 2
    assert len(ProgressFile(path).answers("me")) == 5


def test_deletion_lists_files_that_were_set_aside(path: Path) -> None:
    left = path.with_name("progress-set-aside-1.sqlite3")
    left.write_bytes(b"old answers")
    done = progress(path, "--delete", "--yes")
    assert str(left) in done.stdout
    assert left.read_bytes() == b"old answers"


@pytest.mark.parametrize(("option", "needs"), [("--over", "--export"), ("--yes", "--delete"), ("--all", "--export or --delete")])
def test_options_that_need_another_say_so(path: Path, option: str, needs: str) -> None:
    done = progress(path, option)
    assert (done.returncode, done.stdout) == (2, "")
    assert option in done.stderr
    assert needs in done.stderr


# --- where it is kept ------------------------------------------------------------------------------


@pytest.mark.skipif(sys.platform in ("win32", "darwin"), reason="only there can the folder be moved by a variable")
def test_without_an_option_it_is_kept_in_the_user_data_folder(tmp_path: Path) -> None:
    done = run("progress", XDG_DATA_HOME=str(tmp_path), columns=300)
    assert done.returncode == 0
    assert str(tmp_path / "spotplate" / "progress.sqlite3") in done.stdout
    assert list(tmp_path.iterdir()) == []


def test_showing_progress_imports_nothing_heavy(path: Path) -> None:
    code = (
        "import sys; sys.argv = ['spotplate', 'progress', '--progress', sys.argv[1]]\n"
        "from spotplate.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit:\n    print(*sys.modules, file=sys.stderr)"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(path)], capture_output=True, text=True, env=environment_with(), timeout=60, check=True
    )
    assert not {"pandas", "sklearn", "scipy", "numpy", "jinja2", "rich.console"} & set(done.stderr.split())
