"""The files of a bench session: records that grow reading by reading, and what the session remembers beside them.

Every change is read, made and written whole in one go, so that neither an interruption nor an editor open on the same
file can cost a reading. A lock keeps a second session away.
"""

from __future__ import annotations

import codecs
import contextlib
import csv
import glob
import io
import re
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import msgspec

from spotplate.engine.bench.memory import Memory
from spotplate.engine.record import AIR_PRESSURE, Record, make_record
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, decode, printable, shown

from .records import (
    NOTE_COLUMNS,
    RECORD_ENDINGS,
    VIAL_COLUMNS,
    is_csv,
    read_records,
    record_files,
    records_from_text,
)
from .tables import csv_delimiter, no_formula
from .text import read_text
from .writing import write_whole
from .yaml_text import line_end, means, new_yaml_record, yaml_with_notes, yaml_with_reading, yaml_with_vial

_TABLE_ENDINGS = (".csv", ".tsv")
_LONGEST_LABEL = 60  # characters; a file is named by it
_DEVICE = re.compile("con|prn|aux|nul|(com|lpt)[0-9¹²³]", re.IGNORECASE)  # names that Windows keeps for devices


class BenchFiles:
    """
    A record, a table of vials, or a folder of records, open for one session.

    `records` holds every vial by its label, as last read. Use it as a context manager: the lock is held inside.
    """

    def __init__(self, path: Path, knowledge: KnowledgeBase) -> None:
        self.path = _resolved(path)
        self.knowledge = knowledge
        self.is_folder = self.path.is_dir()
        self.records: dict[str, Record] = {}
        self._file_of: dict[str, Path] = {}  # label → the file that holds the vial

    def __enter__(self) -> BenchFiles:
        self._lock = _locked(_lock_of(self.path), self.path)
        try:
            self._check_alone()
            self._sweep()
            self.reload()
        except BaseException:
            self._lock.release()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._lock.release()

    def _check_alone(self) -> None:
        """
        Refuse while a session on the folder is open and this is one of its files, or the other way round.

        Both lock what is theirs first and look for the other's lock afterwards, so that never both find none.
        """
        others = self._files() if self.is_folder else [self.path.parent]
        for other in others:
            lock = _lock_of(other)
            if lock.exists():
                _locked(lock, other).release()

    # --- reading ---

    def reload(self) -> None:
        """Read all records again."""
        found: dict[str, Record] = {}
        files: dict[str, Path] = {}
        for file in self._files():
            for record in read_records(file, self.knowledge):
                label = _label(record, file)
                if label in found:
                    says = f"the vial {shown(label)} also stands in {files[label].name!r}; give every vial its own label."
                    raise FaultyInputError([Fault(str(file), says)])
                found[label] = msgspec.structs.replace(record, vial=label)
                files[label] = file
        self.records, self._file_of = found, files

    def _files(self) -> list[Path]:
        if not self.is_folder:
            return [self.path] if self.path.exists() else []
        return record_files(self.path)

    @property
    def folder(self) -> Path:
        """Where the files stand."""
        return self.path if self.is_folder else self.path.parent

    # --- writing ---

    def add_vial(self, label: str) -> None:
        """An empty record for a vial: a file of its own in a folder, a row in a table, the file itself where there is none."""
        label = " ".join(label.split())
        if not label or not label.isprintable() or len(label) > _LONGEST_LABEL:
            says = f"{shown(label)} is no label for a vial; letters and digits are accepted, at most {_LONGEST_LABEL} in all."
            raise FaultyInputError([Fault("", says)])
        if label in self.records:
            raise FaultyInputError([Fault("", f"there is a vial {shown(label)} already.")])
        file = self.path / f"{as_file_name(label)}.yaml" if self.is_folder else self.path
        if not file.exists():
            table = file.suffix.lower() in _TABLE_ENDINGS
            write_whole(file, (_new_table(label, file) if table else new_yaml_record(label)).encode())
        elif self.is_folder:
            raise FaultyInputError([Fault(str(file), "this file is there already; choose another label.")])
        else:
            self._add_to_list(file, label)
        self.reload()

    def _add_to_list(self, file: Path, label: str) -> None:
        text = read_text(file)
        before = records_from_text(text, str(file), self.knowledge)
        if is_csv(text, str(file)):
            changed: str | None = _table_with_row(text, label, [record.vial for record in before])
        else:
            changed = yaml_with_vial(text, str(file), label)
        if changed is None:
            says = "this file holds one record; for several vials use a table (.csv), a list of records, or a folder."
            raise FaultyInputError([Fault(str(file), says)])
        self._write(file, changed, (*before, Record({}, vial=label)), f"vial {label}")

    def put_back(self, record: Record) -> None:
        """Begin a record again that somebody has removed, with all that was read."""
        self.add_vial(record.vial)
        for reading, value in record.readings.items():
            self.set_reading(record.vial, reading, str(value))
        for reading in record.unclear:
            self.set_reading(record.vial, reading, "unclear")
        if record.air_pressure is not None:
            self.set_reading(record.vial, AIR_PRESSURE[0], str(record.air_pressure))
        if record.notes:
            self.set_notes(record.vial, record.notes)

    def set_reading(self, vial: str, reading: str, value: str) -> None:
        """Write a reading of a vial (or the air pressure), in the spelling given; an empty value takes it back."""
        file, text, before, place = self._found(vial)
        if is_csv(text, str(file)):
            changed = _table_with_cell(text, place, reading, value, self.knowledge)
        else:
            changed = yaml_with_reading(text, str(file), place, reading, value, self.knowledge)
        wanted = make_record({reading: value}, self.knowledge)
        then = msgspec.structs.replace(
            before[place],
            air_pressure=wanted.air_pressure if reading == AIR_PRESSURE[0] else before[place].air_pressure,
            readings={**before[place].without(reading).readings, **wanted.readings},
            unclear=(*(name for name in before[place].unclear if name != reading), *wanted.unclear),
        )
        self._write(file, changed, (*before[:place], then, *before[place + 1 :]), f"{reading}: {value}")
        self.reload()

    def set_notes(self, vial: str, notes: str) -> None:
        """Write the notes of a vial, on one line."""
        file, text, before, place = self._found(vial)
        notes = " ".join(printable(notes).split())
        if is_csv(text, str(file)):
            changed = _table_with_cell(text, place, "notes", notes, self.knowledge)
        else:
            changed = yaml_with_notes(text, str(file), place, notes)
        then = msgspec.structs.replace(before[place], notes=notes)
        self._write(file, changed, (*before[:place], then, *before[place + 1 :]), f"notes: {notes}")
        self.reload()

    def _found(self, vial: str) -> tuple[Path, str, tuple[Record, ...], int]:
        """The file of a vial as it is now, its text, its records, and which of them is the vial's."""
        self.reload()  # somebody may have edited the file in the meantime; what they wrote stays
        if vial in self._file_of:
            file = self._file_of[vial]
            text = read_text(file)
            records = records_from_text(text, str(file), self.knowledge)
            place = next((at for at, record in enumerate(records) if _label(record, file) == vial), None)
            if place is not None:
                return file, text, records, place
        raise FaultyInputError([Fault(str(self.path), f"the vial {shown(vial)} is no longer there.")])

    def _write(self, file: Path, text: str, wanted: Sequence[Record], change: str) -> None:
        """Write a changed text, if it can be read again and says what is `wanted`, neither more nor less."""
        content = text.encode("utf-8")
        decode(content, str(file))  # refuses what has grown too long to be read again
        try:
            found = records_from_text(text, str(file), self.knowledge)
        except FaultyInputError:
            found = ()
        if [_said(record) for record in found] != [_said(record) for record in wanted]:
            says = f"this cannot be changed here without spoiling the file; write it into the file yourself: {shown(change)}"
            raise FaultyInputError([Fault(str(file), says)])
        write_whole(file, _byte_order_mark(file) + content, over=True)

    # --- what the session remembers ---

    @property
    def memory_file(self) -> Path:
        # The whole name, for a table and a record may differ in the ending alone.
        return self.path / "bench.json" if self.is_folder else self.path.with_name(f"{self.path.name}.bench.json")

    def memory(self) -> Memory | None:
        """What an earlier session remembered; None when there was none, `FaultyInputError` when it cannot be read."""
        file = self.memory_file
        if not file.exists():
            return None
        try:
            return msgspec.json.decode(read_text(file), type=Memory)
        except msgspec.DecodeError as error:
            says = f"this is not what a bench session leaves: {error}. Remove the file; the readings are not in it."
            raise FaultyInputError([Fault(str(file), says)]) from None

    def remember(self, memory: Memory) -> None:
        write_whole(self.memory_file, msgspec.json.format(msgspec.json.encode(memory)) + b"\n", over=True)

    def _sweep(self) -> None:
        """Remove what an interrupted writing of these files left beside them, also of a record that was just being begun."""
        names = [f"*{ending}" for ending in RECORD_ENDINGS] if self.is_folder else [glob.escape(self.path.name)]
        for name in [*names, glob.escape(self.memory_file.name)]:
            for left in self.folder.glob(f".{name}.{'[0-9a-f]' * 8}.part"):
                with contextlib.suppress(OSError):
                    left.unlink()


def _resolved(path: Path) -> Path:
    """The file itself, and not a link to it, which writing would replace."""
    try:
        found = path.resolve()
        if found.exists() or found.suffix.lower() in (*RECORD_ENDINGS, *_TABLE_ENDINGS):
            if not found.parent.is_dir():
                raise FaultyInputError([Fault(str(path), f"there is no folder {str(path.parent)!r}.")])
            return found
    except (OSError, RuntimeError) as error:  # RuntimeError: links that go round in a circle, before Python 3.13
        says = f"the file cannot be read: {getattr(error, 'strerror', None) or error}."
        raise FaultyInputError([Fault(str(path), says)]) from None
    accepted = f"a folder, or a file ending in {', '.join((*RECORD_ENDINGS, *_TABLE_ENDINGS))}"
    says = f"there is no such file, and no record can be begun under that name; accepted: {accepted}."
    raise FaultyInputError([Fault(str(path), says)])


def _lock_of(path: Path) -> Path:
    """The lock of a file beside it, that of a folder inside it."""
    return path / ".lock" if path.is_dir() else path.with_name(f".{path.name}.lock")


def _locked(lock: Path, of: Path) -> Any:
    """A lock that ends with the session however it ends; `FaultyInputError` while another session holds it."""
    from filelock import FileLock, Timeout

    held = FileLock(lock, timeout=0)
    try:
        held.acquire()
    except Timeout:
        says = "another bench session is open on it; end that one first. Two sessions would overwrite each other's readings."
        raise FaultyInputError([Fault(str(of), says)]) from None
    except (OSError, NotImplementedError) as error:  # NotImplementedError: some network drives know no locks
        says = f"it cannot be locked for a session: {getattr(error, 'strerror', None) or error}."
        raise FaultyInputError([Fault(str(of), says)]) from None
    return held


def _byte_order_mark(file: Path) -> bytes:
    """What some programs write before the first letter of a file, and look for; empty where there is none."""
    try:
        with file.open("rb") as stream:
            begins = stream.read(len(codecs.BOM_UTF8))
    except OSError as error:
        raise FaultyInputError([Fault(str(file), f"the file cannot be read: {error.strerror or error}.")]) from None
    return begins if begins == codecs.BOM_UTF8 else b""


def _label(record: Record, file: Path) -> str:
    return record.vial or file.stem


def _said(record: Record) -> tuple[object, ...]:
    """All that a record says, whatever the order of its readings."""
    return record.vial, record.notes, record.readings, set(record.unclear), record.air_pressure


def as_file_name(label: str) -> str:
    """A label as part of a file name on any system."""
    name = "".join(sign if sign.isalnum() or sign in "-_ " else "-" for sign in label[:_LONGEST_LABEL]).strip() or "vial"
    return f"vial {name}" if _DEVICE.fullmatch(name) else name


# --- CSV -------------------------------------------------------------------------------------------


def _new_table(label: str, file: Path) -> str:
    mark = "\t" if file.suffix.lower() == ".tsv" else ","
    return _as_csv([["vial", "state", "notes"], [no_formula(label), "", ""]], mark, "\n")


def _table_with_cell(text: str, place: int, column: str, value: str, knowledge: KnowledgeBase) -> str:
    rows, mark = _table(text)
    header, *vials = _filled(rows)
    if column == "notes":
        at = _place(header, lambda name: name.casefold() in NOTE_COLUMNS)
    else:
        at = _place(header, lambda name: means(name, column, knowledge))
    if at is None:
        at = _append_column(rows, column, [""] * len(vials))
    vials[place][at] = no_formula(value)
    return _as_csv(rows, mark, line_end(text))


def _table_with_row(text: str, label: str, labels: Sequence[str]) -> str:
    """The table with an empty row; `labels` are those of the rows that are there, which a new row needs beside its own."""
    rows, mark = _table(text)
    header, *vials = _filled(rows)
    at = _place(header, lambda name: name.casefold() in VIAL_COLUMNS)
    if at is None:
        at = _append_column(rows, "vial", [no_formula(each) for each in labels])
    new = [""] * len(header)
    new[at] = no_formula(label)
    end = next(number for number, cells in enumerate(rows) if cells is vials[-1]) + 1
    return _as_csv([*rows[:end], new, *rows[end:]], mark, line_end(text))


def _append_column(rows: list[list[str]], name: str, values: Sequence[str]) -> int:
    filled = _filled(rows)
    for cells, value in zip(filled, [name, *values], strict=True):
        cells.append(value)
    return len(filled[0]) - 1


def _table(text: str) -> tuple[list[list[str]], str]:
    """All rows, blank ones too, since a vial without a label is called by the number of its line; the sign between cells."""
    mark = csv_delimiter(text)
    return list(csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)), mark


def _filled(rows: list[list[str]]) -> list[list[str]]:
    """The header and the rows of vials."""
    return [cells for cells in rows if any(cell.strip() for cell in cells)]


def _place(header: list[str], fits: Callable[[str], bool]) -> int | None:
    return next((at for at, name in enumerate(header) if fits(" ".join(name.split()))), None)


def _as_csv(rows: list[list[str]], mark: str, ending: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=mark, lineterminator=ending).writerows(rows)
    return out.getvalue()
