"""
What learners have answered, kept in one SQLite file on this machine.

Answers are all it holds; what is due or weak is worked out from them (`engine/quiz/practice.py`). Every use of the file opens it
anew, under a lock beside it, so that several quizzes at once lose nothing, even while one of them finds the file
damaged and sets it aside. What is set aside is renamed and never written to.
"""

from __future__ import annotations

import contextlib
import datetime
import glob
import itertools
import math
import os
import sqlite3
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar

import msgspec

from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Item, Kind, Outcome
from spotplate.kb import Fault, FaultyInputError, printable, shown

ENDINGS = (".sqlite3", ".sqlite", ".db")
LONGEST_NAME = 80  # characters of a learner's name
APPLICATION_ID = 0x53504C54  # "SPLT", in the place where SQLite files tell whose they are
VERSION = 1  # of the table; a file of a later one is set aside

_TABLE = """\
CREATE TABLE answers (
    id INTEGER PRIMARY KEY,
    learner TEXT NOT NULL,
    at TEXT NOT NULL,
    kind TEXT NOT NULL,
    topic TEXT NOT NULL,
    class TEXT NOT NULL,
    subtype TEXT NOT NULL,
    about_mix_up TEXT NOT NULL,
    outcome TEXT NOT NULL,
    mix_up TEXT NOT NULL,
    sure REAL,
    difficulty REAL NOT NULL
)"""
COLUMNS = (
    "learner", "at", "kind", "topic", "class", "subtype", "about_mix_up", "outcome", "mix_up", "sure", "difficulty",
)  # fmt: skip
_SELECT = f"SELECT {', '.join(COLUMNS)} FROM answers"
_INSERT = f"INSERT INTO answers ({', '.join(COLUMNS)}) VALUES ({', '.join('?' * len(COLUMNS))})"
_COMPANIONS = ("-journal", "-wal", "-shm")  # what SQLite keeps beside a file while it is being changed
_MAGIC = b"SQLite format 3\0"
_HEADER = 100  # [bytes]
_PATIENCE = 30.0  # [s] while another quiz writes; one writing takes some milliseconds
_LONGEST_WORD = 200  # characters of a topic, a class …
# What SQLite finds only in a file that is damaged, or not of the kind that was expected.
_DAMAGE = {
    sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT, sqlite3.SQLITE_TOOBIG, sqlite3.SQLITE_MISMATCH,
    sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_INTERNAL,
}  # fmt: skip
_TROUBLE = {
    sqlite3.SQLITE_BUSY: "another program holds it",
    sqlite3.SQLITE_LOCKED: "another program holds it",
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "it is write-protected",
    sqlite3.SQLITE_PERM: "it is write-protected",
    sqlite3.SQLITE_CANTOPEN: "it, or its folder, is write-protected or cannot be opened",
}
Found = TypeVar("Found")


class SetAside(msgspec.Struct, frozen=True):
    """A progress file that could not be used: where it is kept now, and why."""

    path: Path
    why: str

    def __str__(self) -> str:
        return f"The progress file could not be used, since {self.why}. It is kept as {str(self.path)!r}, and a new one is begun."


class _DamagedError(Exception):
    """The file is not what we left; `why` completes “since …”."""

    def __init__(self, why: str) -> None:
        super().__init__(why)
        self.why = why


def default_path() -> Path:
    """Where progress is kept unless another file is given: in the platform's folder for the data of this user."""
    from platformdirs import user_data_path

    return user_data_path("spotplate", appauthor=False) / "progress.sqlite3"


def learner_name(typed: str) -> str:
    """
    A learner's name as it is kept: as typed, without blanks around it.

    Raises
    ------
    FaultyInputError
        If it is empty, too long, or holds signs that cannot be printed
    """
    name = typed.strip()
    if not name or len(name) > LONGEST_NAME or not name.isprintable():
        says = f"{shown(typed)} is no name for a learner; up to {LONGEST_NAME} characters that can be printed are accepted."
        raise FaultyInputError([Fault("", says)])
    return name


class ProgressFile:
    """
    The answers of all learners in one file.

    `set_aside` tells which files were set aside on the way, for the caller to report. A file that is not there yet holds
    no answers, and is made with the first one.

    Raises
    ------
    FaultyInputError
        From every method, if the file cannot be read or written (no space, write-protected, held by another program); a quiz can
        go on without it
    """

    def __init__(self, path: Path | None = None) -> None:
        self.path = _accepted(path) if path is not None else _resolved(default_path())
        self.set_aside: tuple[SetAside, ...] = ()
        self._makes_folder = path is None
        self._checked = False  # whether the whole file was looked through since it was first opened here

    # --- what can be asked and told ---

    def answers(self, learner: str) -> tuple[Answered, ...]:
        """All answers of one learner, in the order they were kept in."""
        name = learner_name(learner)
        return tuple(answer for answer in self._all(name))

    def add(self, answer: Answered) -> None:
        """Keep an answer; when this returns, it is on the disk."""
        row = _row(answer)
        self._use(lambda connection: connection.execute(_INSERT, row), begin=True)

    def learners(self) -> tuple[str, ...]:
        """The names of all learners with answers."""
        return tuple(sorted({answer.learner for answer in self._all()}, key=lambda name: (name.casefold(), name)))

    def delete(self, learner: str) -> int:
        """Remove all answers of one learner, and tell how many there were."""
        return self._delete("DELETE FROM answers WHERE learner = ?", learner_name(learner))

    def delete_all(self) -> int:
        """Remove the answers of all learners, and tell how many there were."""
        return self._delete("DELETE FROM answers")

    def export(self, learner: str | None = None) -> list[dict[str, Any]]:
        """The answers of one learner, or of all, as plain data; times in UTC as ISO 8601."""
        found = self._all(None if learner is None else learner_name(learner))
        return [dict(zip(COLUMNS, _row(answer), strict=True)) for answer in found]

    def _all(self, learner: str | None = None) -> tuple[Answered, ...]:
        where, values = ("", ()) if learner is None else (" WHERE learner = ?", (learner,))

        def read(connection: sqlite3.Connection) -> tuple[Answered, ...]:
            return tuple(_answered(row) for row in connection.execute(f"{_SELECT}{where} ORDER BY id", values))

        return self._use(read) or ()

    def _delete(self, statement: str, *values: str) -> int:
        def delete(connection: sqlite3.Connection) -> int:
            connection.execute("PRAGMA secure_delete = ON")  # what is deleted is also wiped from the file
            return connection.execute(statement, values).rowcount

        return self._use(delete, writes=True) or 0

    def set_aside_earlier(self) -> tuple[Path, ...]:
        """Files beside this one that were set aside, now or earlier; they may still hold answers."""
        stem, ending = glob.escape(self.path.stem), glob.escape(self.path.suffix)
        return tuple(sorted(self.path.parent.glob(f"{stem}-set-aside-*{ending}")))

    # --- opening, checking, setting aside ---

    def _use(self, work: Callable[[sqlite3.Connection], Found], *, writes: bool = False, begin: bool = False) -> Found | None:
        """
        Do some work in the file; None where there is no file, and none is to be begun.

        A file that turns out not to be ours, or damaged, is set aside, and the work is done in a fresh one.
        """
        if not begin and not _is_there(self.path):
            return None
        with self._telling_trouble():
            if begin and self._makes_folder:
                self.path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
            with self._lock(needed=writes or begin) as locked:
                try:
                    return self._work(work, begin=begin)
                except _DamagedError as damage:
                    if not locked:
                        raise FaultyInputError(
                            [Fault(str(self.path), f"the progress file cannot be used: {damage.why}.")]
                        ) from None
                    self._put_aside(damage.why)
                return self._work(work, begin=True)

    def _work(self, work: Callable[[sqlite3.Connection], Found], *, begin: bool) -> Found | None:
        if not _is_there(self.path):
            if not begin:
                return None
            os.close(os.open(self.path, os.O_CREAT | os.O_EXCL | os.O_RDWR, 0o600))  # what people answer is their own affair
        empty = self.path.stat().st_size == 0
        if empty and not begin:
            return None
        with contextlib.closing(self._connected()) as connection:
            try:
                if empty:
                    _begin(connection)
                else:
                    self._check(connection)
                return work(connection)
            except UnicodeDecodeError:  # from Python's own sqlite3, when SQLite's message quotes a name that is damaged
                raise _DamagedError("it is damaged (a name in it cannot be read)") from None
            except sqlite3.Error as error:
                if _code(error) in _DAMAGE:
                    raise _DamagedError(f"it is damaged ({printable(str(error))})") from None
                raise

    def _connected(self) -> sqlite3.Connection:
        # Each statement is a transaction of its own; SQLite waits, too, in case that some other program has the file open.
        connection = sqlite3.connect(self.path, timeout=_PATIENCE, isolation_level=None)
        connection.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")  # damaged text is told by its signs
        return connection

    def _check(self, connection: sqlite3.Connection) -> None:
        """Refuse a file that we did not write, cannot understand, or that is damaged."""
        with self.path.open("rb") as file:
            header = file.read(_HEADER)
        if not header.startswith(_MAGIC):
            raise _DamagedError("it is no progress file, or its beginning is damaged")
        if len(header) < _HEADER or header[18] not in (1, 2) or header[19] not in (1, 2):
            raise _DamagedError("its beginning is damaged")
        try:
            (owner,) = connection.execute("PRAGMA application_id").fetchone()
            (version,) = connection.execute("PRAGMA user_version").fetchone()
            if owner != APPLICATION_ID:
                raise _DamagedError("it belongs to another program")
            if version > VERSION:
                raise _DamagedError("it was written by a newer version of this program")
            made_by = dict(connection.execute("SELECT name, sql FROM sqlite_master WHERE name NOT LIKE 'sqlite~_%' ESCAPE '~'"))
            if version != VERSION or made_by != {"answers": _TABLE}:
                raise _DamagedError("it is damaged (its table is not the one that was made)")
            # Not sooner: SQLite has now put right what a killed program left half done.
            if self.path.stat().st_size % _page_size(header):
                raise _DamagedError("it is damaged (its end is missing)")
            if not self._checked:
                found = connection.execute("PRAGMA quick_check(1)").fetchone()
                if found != ("ok",):
                    raise _DamagedError("it is damaged (the check of the whole file failed)")
                # Bytes inside an answer are no matter to SQLite. Were they found later, answers added by then would go aside too.
                for row in connection.execute(_SELECT):
                    _answered(row)
        except sqlite3.Error as error:
            if _code(error) == sqlite3.SQLITE_ERROR:
                raise _DamagedError(f"it is damaged ({printable(str(error))})") from None
            raise
        self._checked = True

    def _put_aside(self, why: str) -> None:
        """Rename the file, and what SQLite keeps beside it, to a name that is free."""
        places = (self.path.with_name(f"{self.path.stem}-set-aside-{number}{self.path.suffix}") for number in itertools.count(1))
        aside = next(
            place for place in places if not any(os.path.lexists(f"{place}{companion}") for companion in ("", *_COMPANIONS))
        )
        # The file itself goes last: were the program ended in between, its journal would be taken for that of a fresh file.
        for companion in (*_COMPANIONS, ""):
            with contextlib.suppress(FileNotFoundError):
                os.rename(f"{self.path}{companion}", f"{aside}{companion}")
        self.set_aside += (SetAside(aside, why),)
        self._checked = False

    @contextlib.contextmanager
    def _lock(self, *, needed: bool) -> Iterator[bool]:
        """Keep other quizzes out for a moment; whether that could be done. Where nothing can be written, reading goes on."""
        from filelock import FileLock, Timeout

        lock = FileLock(self.path.with_name(f".{self.path.name}.lock"), timeout=_PATIENCE, poll_interval=0.01)
        try:
            lock.acquire()
        except Timeout:
            raise FaultyInputError(
                [Fault(str(self.path), "another quiz has been holding the progress file; try again.")]
            ) from None
        except (OSError, NotImplementedError):  # NotImplementedError: some network drives know no locks
            if needed:
                raise
            yield False
            return
        try:
            yield True
        finally:
            lock.release()

    @contextlib.contextmanager
    def _telling_trouble(self) -> Iterator[None]:
        """Tell in plain words why a file cannot be used."""
        try:
            yield
        except _DamagedError as damage:
            why = damage.why
        except sqlite3.Error as error:
            why = _TROUBLE.get(_code(error), str(error))
        except (OSError, NotImplementedError) as error:
            why = getattr(error, "strerror", None) or str(error)
        else:
            return
        raise FaultyInputError([Fault(str(self.path), f"progress cannot be kept in this file: {why}.")]) from None


# --- the path --------------------------------------------------------------------------------------


def _accepted(path: Path) -> Path:
    """A file that people gave; its ending keeps a slip of the pen from setting some other file aside."""
    if path.suffix.lower() not in ENDINGS:
        says = f"{str(path)!r} is no name for a progress file; one that ends in {', '.join(ENDINGS)} is accepted."
        raise FaultyInputError([Fault("", says)])
    found = _resolved(path)
    _is_there(found)
    if not found.parent.is_dir():
        raise FaultyInputError([Fault(str(path), f"there is no folder {str(path.parent)!r}.")])
    return found


def _resolved(path: Path) -> Path:
    """The file itself, so that a link to it has the same lock."""
    try:
        return path.resolve()
    except (OSError, RuntimeError, ValueError) as error:  # RuntimeError: links that go round in a circle; ValueError: a zero byte
        raise FaultyInputError([Fault(str(path), f"the file cannot be used: {error}.")]) from None


def _is_there(path: Path) -> bool:
    """Whether the file is there; refused if it is a folder, a device …"""
    try:
        if path.is_file():
            return True
        if path.exists():
            raise FaultyInputError([Fault(str(path), "this is not an ordinary file.")])
    except OSError as error:
        raise FaultyInputError([Fault(str(path), f"the file cannot be used: {error.strerror or error}.")]) from None
    return False


# --- the table -------------------------------------------------------------------------------------


def _begin(connection: sqlite3.Connection) -> None:
    """Make the table, all of it or nothing."""
    connection.execute("BEGIN IMMEDIATE")
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    connection.execute(f"PRAGMA user_version = {VERSION}")
    connection.execute(_TABLE)
    connection.execute("COMMIT")


def _row(answer: Answered) -> tuple[str | float | None, ...]:
    """The cells of an answer; refused if they could not be read again."""
    name = learner_name(answer.learner)
    if says := _fault(answer):
        raise FaultyInputError([Fault("", f"this answer cannot be kept: {says}.")])
    item = answer.item
    at = answer.at.astimezone(datetime.UTC).isoformat(timespec="microseconds")
    about = (item.kind.value, item.topic, item.class_, item.subtype, item.mix_up)
    return (name, at, *about, answer.outcome.value, answer.mix_up, answer.sure, answer.difficulty)


def _answered(row: Sequence[Any]) -> Answered:
    """The answer that a row holds."""
    learner, at, kind, topic, class_, subtype, about_mix_up, outcome, mix_up, sure, difficulty = row
    try:
        answer = Answered(
            learner_name(learner),
            datetime.datetime.fromisoformat(at),
            Item(Kind(kind), topic, class_, subtype, about_mix_up),
            Outcome(outcome),
            mix_up,
            sure,
            difficulty,
        )
        says = _fault(answer)
    except (ValueError, TypeError, AttributeError) as error:
        says = str(error)
    if says:
        raise _DamagedError("it is damaged (an answer in it cannot be understood)")
    return answer


def _fault(answer: Answered) -> str:
    """What is wrong with an answer, empty when it can be kept."""
    item = answer.item
    for word in (item.topic, item.class_, item.subtype, item.mix_up, answer.mix_up):
        if not isinstance(word, str) or not word.isprintable() or len(word) > _LONGEST_WORD:
            return f"{shown(word)} is no word that can be kept"
    if answer.at.utcoffset() is None:
        return "its time lacks a time zone"
    try:
        answer.at.astimezone(datetime.UTC)
    except OverflowError:
        return "its time is outside the calendar"
    for share in (answer.sure, answer.difficulty):
        if share is not None and not (isinstance(share, (int, float)) and math.isfinite(share) and 0 <= share <= 1):
            return f"{shown(share)} is not between 0 and 1"
    return "" if answer.difficulty is not None else "its difficulty is not told"


def _page_size(header: bytes) -> int:
    """The size of a page, of which an SQLite file holds a whole number [bytes]."""
    size = int.from_bytes(header[16:18], "big")
    return 65536 if size == 1 else size  # 65536 itself has no room there


def _code(error: sqlite3.Error) -> int:
    """The primary result code of SQLite, 0 where it gave none."""
    return getattr(error, "sqlite_errorcode", 0) & 0xFF
