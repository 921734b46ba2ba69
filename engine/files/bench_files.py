"""The files of a bench session: records that grow reading by reading, and what the session remembers beside them.

Every change is read, made and written whole in one go, so that neither an interruption nor an editor open on the same
file can cost a reading. A lock keeps a second session away.
"""

from __future__ import annotations

import contextlib
import csv
import io
from collections.abc import Callable
from pathlib import Path
from typing import Any

import msgspec

from spotplate.engine.bench.memory import Memory
from spotplate.engine.record import Record, find_reading
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, shown

from .records import NOTE_COLUMNS, VIAL_COLUMNS, is_csv, read_records, records_from_text
from .tables import csv_delimiter
from .text import read_text
from .writing import write_whole

_RECORD_ENDINGS = (".yaml", ".yml")
_TABLE_ENDINGS = (".csv", ".tsv")
_HEAD = 'Bench record. A reading that is not here was not tested; "unclear" was tried and could not be told.'
_FORMULA = ("=", "+", "-", "@")  # what a spreadsheet would take for the beginning of a formula


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
        self._places: dict[str, tuple[Path, str]] = {}  # label → its file, and the label that the file itself gives
        self._locks = contextlib.ExitStack()

    def __enter__(self) -> BenchFiles:
        try:
            # A session on a folder writes each record in it, so it must keep a session on one of them away, too.
            for file in dict.fromkeys([self.path, *self._files()]):
                self._hold(file)
            self._sweep()
            self.reload()
        except BaseException:
            self._locks.close()
            raise
        return self

    def __exit__(self, *_: object) -> None:
        self._locks.close()

    def _hold(self, file: Path) -> None:
        lock = _locked(file / ".lock" if file.is_dir() else file.with_name(f".{file.name}.lock"), file)
        self._locks.callback(lock.release)

    # --- reading ---

    def reload(self) -> None:
        """Read all records again."""
        found: dict[str, Record] = {}
        places: dict[str, tuple[Path, str]] = {}
        for file in self._files():
            for record in read_records(file, self.knowledge):
                label = record.vial or file.stem
                if label in found:
                    says = f"the vial {shown(label)} also stands in {places[label][0].name!r}; give every vial its own label."
                    raise FaultyInputError([Fault(str(file), says)])
                found[label] = msgspec.structs.replace(record, vial=label)
                places[label] = file, record.vial
        self.records, self._places = found, places

    def _files(self) -> list[Path]:
        if not self.is_folder:
            return [self.path] if self.path.exists() else []
        return sorted(file for file in self.path.iterdir() if file.suffix.lower() in _RECORD_ENDINGS and file.is_file())

    @property
    def folder(self) -> Path:
        """Where the files stand."""
        return self.path if self.is_folder else self.path.parent

    # --- writing ---

    def add_vial(self, label: str) -> None:
        """An empty record for a vial: a file of its own in a folder, a row in a table, the file itself where there is none."""
        label = " ".join(label.split())
        if not label or not label.isprintable():
            raise FaultyInputError([Fault("", f"{shown(label)} is no label for a vial; letters and digits are accepted.")])
        if label in self.records:
            raise FaultyInputError([Fault("", f"there is a vial {shown(label)} already.")])
        file = self.path / f"{as_file_name(label)}.yaml" if self.is_folder else self.path
        if not file.exists():
            if self.is_folder:
                self._hold(file)
            table = file.suffix.lower() in _TABLE_ENDINGS
            write_whole(file, (_new_table(label, file) if table else _new_record(label)).encode())
        else:
            if self.is_folder:
                raise FaultyInputError([Fault(str(file), "this file is there already; choose another label.")])
            text = read_text(file)
            self._write(file, _table_with_row(text, label) if is_csv(text, str(file)) else _list_with_record(text, label, file))
        self.reload()

    def set_reading(self, vial: str, reading: str, value: str) -> None:
        """Write a reading of a vial, in the spelling given; an empty value takes it back."""
        self._edit(vial, lambda record: _set(record, reading, value, self.knowledge), reading, value)

    def set_notes(self, vial: str, notes: str) -> None:
        """Write the notes of a vial."""
        self._edit(vial, lambda record: record.__setitem__("notes", notes), "notes", notes)

    def _edit(self, vial: str, change: Callable[[Any], None], column: str, value: str) -> None:
        self.reload()  # somebody may have edited the file in the meantime; what they wrote stays
        if vial not in self._places:
            raise FaultyInputError([Fault(str(self.path), f"the vial {shown(vial)} is no longer there.")])
        file, label = self._places[vial]
        text = read_text(file)
        at = self._place_of(label, text, file)
        if is_csv(text, str(file)):
            self._write(file, _table_with_cell(text, at, column, value, self.knowledge))
        else:
            self._write(file, _yaml_with(text, at, change))
        self.reload()

    def _place_of(self, label: str, text: str, file: Path) -> int:
        """Which of the records in a file is the one, counted as reading counts them: only that knows every label's spelling."""
        labels = [record.vial for record in records_from_text(text, str(file), self.knowledge)]
        if label not in labels:
            raise FaultyInputError([Fault(str(file), f"the vial {shown(label)} is no longer there.")])
        return labels.index(label)

    def _write(self, file: Path, text: str) -> None:
        records_from_text(text, str(file), self.knowledge)  # never leave a file that could not be read again
        begins = b"\xef\xbb\xbf" if file.exists() and file.read_bytes().startswith(b"\xef\xbb\xbf") else b""
        write_whole(file, begins + text.encode("utf-8"), over=True)

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
        names = [f"*{ending}" for ending in _RECORD_ENDINGS] if self.is_folder else [_escaped(self.path.name)]
        for name in [*names, _escaped(self.memory_file.name)]:
            for left in self.folder.glob(f".{name}.{'[0-9a-f]' * 8}.part"):
                with contextlib.suppress(OSError):
                    left.unlink()


def _resolved(path: Path) -> Path:
    """The file itself, and not a link to it, which writing would replace."""
    try:
        found = path.resolve()
        if found.exists() or found.suffix.lower() in (*_RECORD_ENDINGS, *_TABLE_ENDINGS):
            if not found.parent.is_dir():
                raise FaultyInputError([Fault(str(path), f"there is no folder {str(path.parent)!r}.")])
            return found
    except OSError as error:
        raise FaultyInputError([Fault(str(path), f"the file cannot be read: {error.strerror or error}.")]) from None
    accepted = f"a folder, or a file ending in {', '.join((*_RECORD_ENDINGS, *_TABLE_ENDINGS))}"
    raise FaultyInputError([Fault(str(path), f"there is no such file, and none of that name is begun; accepted: {accepted}.")])


def _locked(lock: Path, of: Path) -> Any:
    """A lock that ends with the session however it ends; `FaultyInputError` while another session holds it."""
    from filelock import FileLock, Timeout

    held = FileLock(lock, timeout=0)
    try:
        held.acquire()
    except Timeout:
        says = "another bench session is open on it; end that one first. Two sessions would overwrite each other's readings."
        raise FaultyInputError([Fault(str(of), says)]) from None
    except OSError as error:
        raise FaultyInputError([Fault(str(of), f"it cannot be locked for a session: {error.strerror or error}.")]) from None
    return held


def as_file_name(label: str) -> str:
    """A label as part of a file name on any system."""
    return "".join(sign if sign.isalnum() or sign in "-_ " else "-" for sign in label).strip() or "vial"


def _escaped(name: str) -> str:
    """A file name in which nothing is a pattern."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)


# --- YAML ------------------------------------------------------------------------------------------


def _yaml() -> Any:
    """A YAML reader and writer that keeps comments, order and quotes."""
    from ruamel.yaml import YAML

    yaml = YAML()
    yaml.preserve_quotes = True
    yaml.width = 1_000_000
    return yaml


def _written(tree: Any) -> str:
    out = io.StringIO()
    _yaml().dump(tree, out)
    return out.getvalue()


def _new_record(label: str) -> str:
    from ruamel.yaml.comments import CommentedMap

    tree = CommentedMap(vial=label, readings=CommentedMap())
    tree.yaml_set_start_comment(
        'Bench record. A reading that is not here was not tested; "unclear" was tried and could not be told.'
    )
    return _written(tree)


def _yaml_with(text: str, at: int, change: Callable[[Any], None]) -> str:
    """The text with the record at a place changed. It has been read strictly already, so nothing hostile is in it."""
    tree = _yaml().load(text)
    change(_records_in(tree)[at])
    return _written(tree)


def _records_in(tree: Any) -> list[Any]:
    if isinstance(tree, list):
        return tree
    return list(tree["vials"]) if list(tree) == ["vials"] else [tree]


def _list_with_record(text: str, label: str, file: Path) -> str:
    from ruamel.yaml.comments import CommentedMap

    tree = _yaml().load(text)
    new = CommentedMap(vial=label, readings=CommentedMap())
    if isinstance(tree, list):
        tree.append(new)
    elif list(tree) == ["vials"]:
        tree["vials"].append(new)
    else:
        says = "this file holds one record; for several vials use a table (.csv), a list of records, or a folder."
        raise FaultyInputError([Fault(str(file), says)])
    return _written(tree)


def _set(record: Any, reading: str, value: str, knowledge: KnowledgeBase) -> None:
    """Set a reading under whatever spelling it has in the record already."""
    readings = record["readings"]
    known = [key for key in readings if (kind := find_reading(str(key), knowledge)) and kind.id == reading]
    if not value:
        for key in known:
            del readings[key]
    else:
        if not readings:
            readings.fa.set_block_style()
        readings[known[0] if known else reading] = value


# --- CSV -------------------------------------------------------------------------------------------


def _new_table(label: str, file: Path) -> str:
    mark = "\t" if file.suffix.lower() == ".tsv" else ","
    return _as_csv([["vial", "state", "notes"], [_no_formula(label), "", ""]], mark, "\n")


def _table_with_cell(text: str, vial: int, column: str, value: str, knowledge: KnowledgeBase) -> str:
    rows, mark, ending = _table(text)
    header, *vials = (cells for _, cells in rows if _is_filled(cells))
    if column == "notes":
        at = _place(header, lambda name: name.casefold() in NOTE_COLUMNS)
    else:
        at = _place(header, lambda name: (kind := find_reading(name, knowledge)) is not None and kind.id == column)
    if at is None:
        at = len(header)
        for cells in (header, *vials):
            cells.append("")
        header[at] = column
    vials[vial][at] = _no_formula(value)
    return _as_csv([cells for _, cells in rows], mark, ending)


def _table_with_row(text: str, label: str) -> str:
    rows, mark, ending = _table(text)
    filled = [(line, cells) for line, cells in rows if _is_filled(cells)]
    header = filled[0][1]
    vials = _place(header, lambda name: name.casefold() in VIAL_COLUMNS)
    if vials is None:
        vials = len(header)
        for line, cells in filled:
            cells.append(f"row {line}")
        header[vials] = "vial"
    new = [""] * len(header)
    new[vials] = _no_formula(label)
    return _as_csv([*(cells for _, cells in rows), new], mark, ending)


def _table(text: str) -> tuple[list[tuple[int, list[str]]], str, str]:
    """All rows with their line numbers, the sign between cells, and the line end."""
    mark = csv_delimiter(text)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    rows = [(reader.line_num, cells) for cells in reader]
    return rows, mark, "\r\n" if "\r\n" in text else "\n"


def _is_filled(cells: list[str]) -> bool:
    """Whether a row is the header or a vial. Blank rows stay where they are, since an unlabelled vial is called by its line."""
    return any(cell.strip() for cell in cells)


def _place(header: list[str], fits: Callable[[str], bool]) -> int | None:
    return next((at for at, name in enumerate(header) if fits(" ".join(name.split()))), None)


def _as_csv(rows: list[list[str]], mark: str, ending: str) -> str:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=mark, lineterminator=ending).writerows(rows)
    return out.getvalue()


def _no_formula(text: str) -> str:
    """`text` for a cell; an apostrophe before it keeps a spreadsheet from reckoning with it, and is left out on reading."""
    return f"'{text}" if text.startswith(_FORMULA) else text
