"""Progress is never lost: not by damage, other programs' files, several processes at once, or a sudden end."""

from __future__ import annotations

import contextlib
import datetime
import os
import random
import signal
import sqlite3
import stat
import subprocess
import sys
import tempfile
import threading
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from spotplate.engine.files.progress import APPLICATION_ID, LONGEST_NAME, ProgressFile, default_path
from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Item, Kind, Outcome
from spotplate.kb import FaultyInputError

AT = datetime.datetime(2030, 1, 7, 10, 0, 0, 123456, tzinfo=datetime.UTC)
ITEM = Item(Kind.CLASSIFY, "ionic, hydrate", "ionic", "hydrate")
needs_posix = pytest.mark.skipif(sys.platform == "win32", reason="needs signals and rights as POSIX has them")
heeds_rights = pytest.mark.skipif(
    sys.platform == "win32" or os.geteuid() == 0, reason="the superuser may write whatever the rights say"
)


def answer(number: int = 0, learner: str = "me") -> Answered:
    """An answer that can be told from others by its time and topic."""
    at = AT + datetime.timedelta(seconds=number)
    return Answered(learner, at, Item(Kind.CLASSIFY, f"topic {number}", "ionic"), Outcome.RIGHT, "", 0.7, 0.25)


def filled(path: Path, number: int = 60) -> ProgressFile:
    """A progress file with so many answers, on several pages."""
    file = ProgressFile(path)
    for each in range(number):
        file.add(answer(each))
    return file


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "progress.sqlite3"


# --- keeping, reading, deleting --------------------------------------------------------------------

WORDS = st.text(st.characters(exclude_categories=["C", "Z"], include_characters=" "), max_size=40)
NAMES = WORDS.filter(lambda word: word.strip() == word != "")
ANSWERS = st.builds(
    Answered,
    NAMES,
    st.datetimes(timezones=st.just(datetime.UTC)),
    st.builds(Item, st.sampled_from(Kind), WORDS, WORDS, WORDS, WORDS),
    st.sampled_from(Outcome),
    WORDS,
    st.none() | st.floats(0, 1),
    st.floats(0, 1),
)


@given(st.lists(ANSWERS, max_size=6))
@settings(max_examples=30, deadline=None)
def test_what_was_kept_is_read_again_in_the_same_order(answers: list[Answered]) -> None:
    with tempfile.TemporaryDirectory() as folder:
        file = ProgressFile(Path(folder) / "progress.sqlite3")
        for each in answers:
            file.add(each)
        for learner in {each.learner for each in answers}:
            assert list(ProgressFile(file.path).answers(learner)) == [each for each in answers if each.learner == learner]
        assert set(file.learners()) == {each.learner for each in answers}
        assert file.set_aside == ()


def test_reading_makes_no_file(path: Path) -> None:
    file = ProgressFile(path)
    assert file.answers("me") == ()
    assert file.learners() == ()
    assert file.export() == []
    assert file.delete("me") == 0
    assert list(path.parent.iterdir()) == []


def test_times_are_kept_in_utc(path: Path) -> None:
    east = datetime.timezone(datetime.timedelta(hours=5, minutes=30))
    file = ProgressFile(path)
    file.add(Answered("me", datetime.datetime(2030, 1, 7, 1, 0, tzinfo=east), ITEM, Outcome.RIGHT))
    assert file.export()[0]["at"] == "2030-01-06T19:30:00.000000+00:00"
    assert file.answers("me")[0].at.utcoffset() == datetime.timedelta(0)


def test_an_export_is_plain_data_of_one_learner_or_of_all(path: Path) -> None:
    file = ProgressFile(path)
    item = Item(Kind.MIX_UP, "dissolves-so-ionic", mix_up="dissolves-so-ionic")
    file.add(Answered("Ann", AT, ITEM, Outcome.WRONG, "dissolves-so-ionic", 0.8, 0.5))
    file.add(Answered("me", AT, item, Outcome.UNSUPPORTED))
    assert file.export("Ann") == [
        {
            "learner": "Ann", "at": "2030-01-07T10:00:00.123456+00:00", "kind": "classify", "topic": "ionic, hydrate",
            "class": "ionic", "subtype": "hydrate", "about_mix_up": "", "outcome": "wrong", "mix_up": "dissolves-so-ionic",
            "sure": 0.8, "difficulty": 0.5,
        }
    ]  # fmt: skip
    everybody = file.export()
    assert [row["learner"] for row in everybody] == ["Ann", "me"]
    assert (everybody[1]["outcome"], everybody[1]["sure"], everybody[1]["about_mix_up"]) == (
        "right, but not supported", None, "dissolves-so-ionic",
    )  # fmt: skip


def test_deleting_removes_one_learner_and_wipes_the_name_from_the_file(path: Path) -> None:
    file = ProgressFile(path)
    for number in range(30):
        file.add(answer(number, "Wilhelmine Quartz"))
        file.add(answer(number, "me"))
    assert b"Wilhelmine" in path.read_bytes()
    assert file.delete(" Wilhelmine Quartz ") == 30
    assert b"Wilhelmine" not in path.read_bytes()
    assert file.learners() == ("me",)
    assert file.delete("Wilhelmine Quartz") == 0
    assert file.delete_all() == 30
    assert file.export() == []


def test_the_file_says_whose_it_is_and_only_its_owner_may_read_it(path: Path) -> None:
    filled(path, 1)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
        assert connection.execute("PRAGMA user_version").fetchone() == (1,)
    if sys.platform != "win32":
        assert stat.S_IMODE(path.stat().st_mode) == 0o600


@needs_posix
def test_without_a_path_it_is_in_the_user_data_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    monkeypatch.setenv("HOME", str(tmp_path))
    assert default_path().is_relative_to(tmp_path)
    assert default_path().parts[-2:] == ("spotplate", "progress.sqlite3")
    file = ProgressFile()
    assert file.answers("me") == ()
    assert list(tmp_path.iterdir()) == []
    file.add(answer())
    assert file.path == default_path().resolve()
    assert len(ProgressFile().answers("me")) == 1


# --- what is refused -------------------------------------------------------------------------------

HOSTILE = [
    "'; DROP TABLE answers; --",
    '" OR 1=1',
    "%_",
    "Ann\N{RIGHT SINGLE QUOTATION MARK}s",
    "=HYPERLINK(1)",
    "[bold]x[/bold]",
    "née 東",
]


@pytest.mark.parametrize("name", HOSTILE)
def test_hostile_names_are_names(path: Path, name: str) -> None:
    file = ProgressFile(path)
    file.add(answer(learner="me"))
    file.add(answer(learner=name))
    assert set(file.learners()) == {"me", name}
    assert len(file.answers(name)) == 1
    assert file.delete(name) == 1
    assert file.learners() == ("me",)


def test_a_name_is_kept_as_typed_without_blanks_around_it(path: Path) -> None:
    file = ProgressFile(path)
    file.add(answer(learner="  Ann  B \t"))
    assert file.learners() == ("Ann  B",)
    assert len(file.answers("Ann  B ")) == 1


@pytest.mark.parametrize(
    "name", ["", "  ", "x" * (LONGEST_NAME + 1), "a\x1b[31m", "a\nb", "a\0b", "\udc80", "a\N{RIGHT-TO-LEFT OVERRIDE}b"]
)
def test_names_that_cannot_be_printed_are_refused(path: Path, name: str) -> None:
    file = ProgressFile(path)
    for refused in (lambda: file.add(answer(learner=name)), lambda: file.answers(name), lambda: file.delete(name)):
        with pytest.raises(FaultyInputError, match="is no name for a learner"):
            refused()
    assert not path.exists()


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"at": datetime.datetime(2030, 1, 7)}, "time zone"),
        ({"at": datetime.datetime.max.replace(tzinfo=datetime.timezone(-datetime.timedelta(hours=3)))}, "calendar"),
        ({"sure": 1.5}, "between 0 and 1"),
        ({"sure": float("nan")}, "between 0 and 1"),
        ({"difficulty": -0.1}, "between 0 and 1"),
        ({"mix_up": "a\nb"}, "no word"),
        ({"item": Item(Kind.CLASSIFY, "x" * 300)}, "no word"),
    ],
)
def test_an_answer_that_could_not_be_read_again_is_refused(path: Path, changed: dict[str, object], says: str) -> None:
    whole = {"learner": "me", "at": AT, "item": ITEM, "outcome": Outcome.RIGHT, **changed}
    with pytest.raises(FaultyInputError, match=says):
        ProgressFile(path).add(Answered(**whole))  # type: ignore[arg-type]
    assert not path.exists()


@pytest.mark.parametrize("name", ["thesis.odt", "progress", "record.yaml"])
def test_a_file_of_another_ending_is_left_alone(tmp_path: Path, name: str) -> None:
    """A slip of the pen must not rename what people work on."""
    (tmp_path / name).write_text("mine", encoding="utf-8")
    with pytest.raises(FaultyInputError, match=r"ends in \.sqlite3"):
        ProgressFile(tmp_path / name)
    assert [each.name for each in tmp_path.iterdir()] == [name]


def test_a_missing_folder_and_a_folder_in_place_of_the_file_are_told(tmp_path: Path) -> None:
    with pytest.raises(FaultyInputError, match="there is no folder"):
        ProgressFile(tmp_path / "none" / "p.sqlite3")
    (tmp_path / "p.sqlite3").mkdir()
    with pytest.raises(FaultyInputError, match="not an ordinary file"):
        ProgressFile(tmp_path / "p.sqlite3")


@needs_posix
def test_a_pipe_in_place_of_the_file_is_told_and_does_not_hang(path: Path) -> None:
    os.mkfifo(path)
    with pytest.raises(FaultyInputError, match="not an ordinary file"):
        ProgressFile(path)


# --- setting aside ---------------------------------------------------------------------------------


def check_set_aside(path: Path, content: bytes, why: str) -> None:
    """The file was renamed with every byte of it, a fresh one works, and the caller is told."""
    path.write_bytes(content)
    file = ProgressFile(path)
    assert file.answers("me") == ()
    (told,) = file.set_aside
    assert why in told.why
    assert told.path == path.with_name("progress-set-aside-1.sqlite3")
    assert str(told.path) in str(told)
    assert told.path.read_bytes() == content
    file.add(answer(99))
    assert ProgressFile(path).answers("me") == (answer(99),)
    assert told.path.read_bytes() == content
    assert file.set_aside_earlier() == (told.path,)


def test_a_file_cut_short_anywhere_is_set_aside(path: Path) -> None:
    filled(path)
    whole = path.read_bytes()
    for length in [1, 15, 16, 50, 99, 100, 101, 4095, 4096, 4097, len(whole) // 2, len(whole) - 4096, len(whole) - 1]:
        assert 0 < length < len(whole)
        check_set_aside(path, whole[:length], "damaged")
        for left in path.parent.iterdir():
            left.unlink()


def test_an_empty_file_is_begun(path: Path) -> None:
    """As a process leaves it that is ended at the very beginning."""
    path.touch()
    file = ProgressFile(path)
    assert file.answers("me") == ()
    file.add(answer())
    assert file.set_aside == ()
    assert file.answers("me") == (answer(),)


@given(st.data())
@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.data_too_large, HealthCheck.too_slow])
def test_random_bytes_never_stop_the_quiz_and_nothing_is_overwritten(data: st.DataObject) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "progress.sqlite3"
        damaged = bytearray(_whole())
        first_page = st.integers(0, 120)
        places = data.draw(st.lists(first_page | st.integers(0, len(damaged) - 1), min_size=1, max_size=12), label="places")
        for place in places:
            damaged[place] = data.draw(st.integers(0, 255))
        path.write_bytes(damaged)
        file = ProgressFile(path)
        file.add(answer(999))
        found = file.export()
        assert found[-1]["topic"] == "topic 999"
        if file.set_aside:
            (told,) = file.set_aside
            assert told.path.read_bytes() == damaged
            assert len(found) == 1
        else:
            assert len(found) == 61
        assert ProgressFile(path).export() == found


_kept: list[bytes] = []


def _whole() -> bytes:
    """A file with 60 answers, made once."""
    if not _kept:
        with tempfile.TemporaryDirectory() as folder:
            _kept.append(filled(Path(folder) / "p.sqlite3").path.read_bytes())
    return _kept[0]


def test_long_stretches_of_random_bytes_are_found(path: Path) -> None:
    chance = random.Random(4)
    whole = _whole()
    for page in [1, 2, 3] * 4:  # each hits the beginning of a page; between its answers a page may have room to spare
        begin = page * 4096 - chance.randrange(2900)
        check_set_aside(path, whole[:begin] + chance.randbytes(3000) + whole[begin + 3000 :], "")
        for left in path.parent.iterdir():
            left.unlink()


def test_a_file_that_is_no_database_is_set_aside(path: Path) -> None:
    check_set_aside(path, b"This is a shopping list: chalk, tape, string.\n" * 20, "no progress file")


def test_a_database_of_another_program_is_set_aside(path: Path) -> None:
    with contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("CREATE TABLE answers (learner TEXT)")
        connection.execute("INSERT INTO answers VALUES ('somebody')")
        connection.commit()
    check_set_aside(path, path.read_bytes(), "another program")


def changed_with(path: Path, *statements: str) -> bytes:
    """The bytes of a progress file after some other program has changed it."""
    filled(path, 3)
    with contextlib.closing(sqlite3.connect(path)) as connection:
        for statement in statements:
            connection.execute(statement)
        connection.commit()
    return path.read_bytes()


def test_a_file_of_a_newer_version_is_set_aside(path: Path) -> None:
    check_set_aside(path, changed_with(path, "PRAGMA user_version = 2"), "newer version")


@pytest.mark.parametrize(
    "statement",
    [
        "ALTER TABLE answers DROP COLUMN sure",
        "DROP TABLE answers",
        "CREATE TRIGGER t AFTER INSERT ON answers BEGIN DELETE FROM answers; END",
        "UPDATE answers SET outcome = 'perfect' WHERE id = 2",
        "UPDATE answers SET at = '2030-01-07T10:00:00' WHERE id = 2",
        "UPDATE answers SET at = 'yesterday' WHERE id = 2",
        "UPDATE answers SET kind = x'00ff' WHERE id = 2",
        "UPDATE answers SET topic = CAST(x'ff' AS TEXT) WHERE id = 2",
        "UPDATE answers SET sure = 7 WHERE id = 2",
        "UPDATE answers SET difficulty = 'very' WHERE id = 2",
    ],
)
def test_a_file_whose_table_or_answers_make_no_sense_is_set_aside(path: Path, statement: str) -> None:
    check_set_aside(path, changed_with(path, statement), "damaged")


def test_a_free_name_is_taken_and_journals_go_along(path: Path) -> None:
    taken = path.with_name("progress-set-aside-1.sqlite3")
    taken.write_bytes(b"earlier")
    path.with_name("progress-set-aside-2.sqlite3-wal").write_bytes(b"earlier still")
    path.write_bytes(b"no database" * 100)
    Path(f"{path}-journal").write_bytes(b"a journal")
    file = ProgressFile(path)
    file.add(answer())
    (told,) = file.set_aside
    assert told.path == path.with_name("progress-set-aside-3.sqlite3")
    assert told.path.read_bytes() == b"no database" * 100
    assert Path(f"{told.path}-journal").read_bytes() == b"a journal"
    assert taken.read_bytes() == b"earlier"
    assert ProgressFile(path).answers("me") == (answer(),)


def test_damage_inside_one_answer_is_found_before_another_is_added(path: Path) -> None:
    """Else the new one would be set aside with the old ones as soon as they are read."""
    filled(path, 20)
    damaged = path.read_bytes().replace(b"classifytopic 7ionic", b"classifytopic 7\0onic")
    assert damaged != path.read_bytes()
    path.write_bytes(damaged)
    file = ProgressFile(path)
    file.add(answer(99))
    assert file.answers("me") == (answer(99),)
    assert [told.path.read_bytes() for told in file.set_aside] == [damaged]


def test_damage_that_spoils_the_message_about_it_is_found_too(path: Path) -> None:
    filled(path, 1)
    whole = path.read_bytes()
    for spoilt in (b"answersanswers\x02C\x80EATE", b"answers\xffnswers\x09CREATE", b"\x80nswersanswers\x02XREATE"):
        check_set_aside(path, whole.replace(b"answersanswers\x02CREATE", spoilt), "damaged")
        for left in path.parent.iterdir():
            left.unlink()


def test_damage_that_shows_later_is_mended_and_the_answer_kept(path: Path) -> None:
    file = filled(path)
    whole = path.read_bytes()
    spoilt = whole[:4096] + b"\xff" * (len(whole) - 4096)
    path.write_bytes(spoilt)
    file.add(answer(99))
    assert file.answers("me") == (answer(99),)
    (told,) = file.set_aside
    assert told.path.read_bytes() == spoilt


# --- several at once, and sudden ends --------------------------------------------------------------

WRITER = """
import sys, datetime
from pathlib import Path
from spotplate.engine.files.progress import ProgressFile
from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Item, Kind, Outcome
file = ProgressFile(Path(sys.argv[1]))
sys.stdin.readline()
for number in range(int(sys.argv[3])):
    at = datetime.datetime.now(datetime.UTC)
    file.add(Answered(sys.argv[2], at, Item(Kind.CLASSIFY, f"topic {number}", "ionic"), Outcome.RIGHT))
    print(number, flush=True)
print("set aside:", len(file.set_aside), flush=True)
"""


def writers(path: Path, number: int, answers: int) -> list[subprocess.Popen[str]]:
    """Processes that each write so many answers as learner 0, 1, 2 …, once they are told to begin."""
    return [
        subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), str(learner), str(answers)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        for learner in range(number)
    ]


def begin(processes: list[subprocess.Popen[str]]) -> None:
    for each in processes:
        assert each.stdin
        each.stdin.write("\n")
        each.stdin.flush()


@pytest.mark.parametrize("content", [None, b"", b"no database at all" * 50], ids=["no file", "empty file", "other file"])
def test_processes_that_write_at_once_lose_no_answer(path: Path, content: bytes | None) -> None:
    """Whether they find no file and all make it, or find one that all want to set aside."""
    if content is not None:
        path.write_bytes(content)
    processes = writers(path, 3, 40)
    begin(processes)
    outputs = [each.communicate(timeout=60)[0].splitlines() for each in processes]
    assert [each.returncode for each in processes] == [0, 0, 0]
    file = ProgressFile(path)
    for learner in ("0", "1", "2"):
        assert [each.item.topic for each in file.answers(learner)] == [f"topic {number}" for number in range(40)]
    assert sorted(output[-1] for output in outputs) == ["set aside: 0", "set aside: 0", f"set aside: {int(bool(content))}"]
    assert [each.read_bytes() for each in file.set_aside_earlier()] == ([content] if content else [])


def test_threads_that_write_at_once_lose_no_answer(path: Path) -> None:
    file = ProgressFile(path)
    threads = [
        threading.Thread(target=lambda learner=learner: [file.add(answer(each, learner)) for each in range(20)])  # type: ignore[misc]
        for learner in ("a", "b", "c")
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert [len(file.answers(learner)) for learner in ("a", "b", "c")] == [20, 20, 20]


@needs_posix
def test_a_kill_while_writing_loses_no_answer_that_was_finished(path: Path) -> None:
    chance = random.Random(7)
    finished = 0
    for _ in range(6):
        (process,) = writers(path, 1, 1000)
        begin([process])
        assert process.stdout
        for _ in range(chance.randrange(1, 12)):
            process.stdout.readline()
        process.send_signal(signal.SIGKILL)
        rest, _ = process.communicate(timeout=30)
        told = len(ProgressFile(path).answers("0"))
        finished += len(rest.splitlines())
    file = ProgressFile(path)
    topics = [each.item.topic for each in file.answers("0")]
    runs = [place for place, topic in enumerate(topics) if topic == "topic 0"]
    assert told == len(topics) >= 6 + finished
    assert len(runs) == 6
    for run, end in zip(runs, [*runs[1:], len(topics)], strict=True):  # within each run, no answer is missing
        assert topics[run:end] == [f"topic {number}" for number in range(end - run)]
    assert file.set_aside == ()


@needs_posix
def test_a_change_that_was_cut_off_half_way_is_undone(path: Path) -> None:
    """A killed program leaves pages half written, and a journal from which they are put right again."""
    filled(path, 40)
    code = """
import os, signal, sqlite3, sys
connection = sqlite3.connect(sys.argv[1], isolation_level=None)
connection.execute("PRAGMA cache_size = 1")
connection.execute("PRAGMA cache_spill = 1")
connection.execute("BEGIN IMMEDIATE")
connection.execute("UPDATE answers SET learner = 'spoilt' || hex(randomblob(200))")
os.kill(os.getpid(), signal.SIGKILL)
"""
    subprocess.run([sys.executable, "-c", code, str(path)], check=False, timeout=30)
    assert Path(f"{path}-journal").stat().st_size > 0
    assert b"spoilt" in path.read_bytes()
    file = ProgressFile(path)
    assert file.answers("me") == tuple(answer(number) for number in range(40))
    assert file.set_aside == ()


# --- a disk that does not take it ------------------------------------------------------------------


def test_a_full_disk_is_told_and_what_was_kept_stays(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = filled(path, 20)
    connected = ProgressFile._connected

    def on_a_small_disk(self: ProgressFile) -> sqlite3.Connection:
        connection = connected(self)
        connection.execute(f"PRAGMA max_page_count = {path.stat().st_size // 4096}")
        return connection

    monkeypatch.setattr(ProgressFile, "_connected", on_a_small_disk)
    number, refused = 20, ""
    while not refused:
        assert number < 200
        try:
            file.add(answer(number))
            number += 1
        except FaultyInputError as error:
            refused = str(error)
    assert "the disk is full" in refused
    monkeypatch.undo()
    assert file.answers("me") == tuple(answer(each) for each in range(number))
    file.add(answer(number))
    assert len(file.answers("me")) == number + 1
    assert file.set_aside == ()


@needs_posix
def test_a_disk_that_refuses_bytes_is_told_and_what_was_kept_stays(path: Path) -> None:
    filled(path, 20)
    code = f"""
import resource, signal
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (4096, 4096))
{WRITER}"""
    done = subprocess.run(
        [sys.executable, "-c", code, str(path), "0", "200"], input="\n", capture_output=True, text=True, timeout=60, check=False
    )
    assert "FaultyInputError" in done.stderr
    assert "progress cannot be kept in this file" in done.stderr
    file = ProgressFile(path)
    assert file.answers("me") == tuple(answer(number) for number in range(20))
    assert len(file.answers("0")) == len(done.stdout.splitlines())
    assert file.set_aside == ()


def test_a_user_data_folder_that_cannot_be_made_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "data").write_text("a file stands where the folder should be", encoding="utf-8")
    monkeypatch.setattr("spotplate.engine.files.progress.default_path", lambda: tmp_path / "data" / "spotplate" / "p.sqlite3")
    file = ProgressFile()
    assert file.answers("me") == ()
    with pytest.raises(FaultyInputError, match="progress cannot be kept in this file"):
        file.add(answer())


@heeds_rights
def test_a_folder_that_cannot_be_written_is_told(path: Path) -> None:
    path.parent.chmod(0o500)
    try:
        with pytest.raises(FaultyInputError, match="progress cannot be kept in this file: Permission denied"):
            ProgressFile(path).add(answer())
    finally:
        path.parent.chmod(0o700)


@heeds_rights
def test_a_write_protected_file_can_be_read_and_is_not_changed(path: Path) -> None:
    filled(path, 3)
    path.chmod(0o400)
    with pytest.raises(FaultyInputError, match="write-protected"):
        ProgressFile(path).add(answer(4))
    path.with_name(".progress.sqlite3.lock").unlink()
    path.parent.chmod(0o500)
    try:
        assert len(ProgressFile(path).answers("me")) == 3
    finally:
        path.parent.chmod(0o700)


@heeds_rights
def test_a_damaged_file_that_cannot_be_set_aside_is_told_and_stays(path: Path) -> None:
    path.write_bytes(b"no database" * 100)
    path.parent.chmod(0o500)
    try:
        with pytest.raises(FaultyInputError, match="cannot be used"):
            ProgressFile(path).answers("me")
    finally:
        path.parent.chmod(0o700)
    assert path.read_bytes() == b"no database" * 100


def test_a_file_that_another_program_holds_is_told_after_a_while(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = filled(path, 2)
    monkeypatch.setattr("spotplate.engine.files.progress._PATIENCE", 0.1)
    with contextlib.closing(sqlite3.connect(path, isolation_level=None)) as connection:
        connection.execute("BEGIN EXCLUSIVE")
        with pytest.raises(FaultyInputError, match="another program holds it"):
            file.add(answer(3))
    file.add(answer(3))
    assert len(file.answers("me")) == 3
