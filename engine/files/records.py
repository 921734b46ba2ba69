"""Bench records from files: YAML with one vial or several, or CSV with one vial a row."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import msgspec
import yaml

from spotplate.engine.record import Record, find_reading, make_record, names_air_pressure, unknown_reading
from spotplate.kb import MOST_FAULTS, Fault, FaultyInputError, KnowledgeBase, compose, nearest, shown

from .tables import MOST_ROWS, csv_rows, plain_cell
from .text import read_text

MOST_VIALS = MOST_ROWS
RECORD_ENDINGS = (".yaml", ".yml")
_KEYS = ("vial", "notes", "readings")
VIAL_COLUMNS = ("vial", "label", "unknown", "sample")
NOTE_COLUMNS = ("notes", "note", "remarks")


def read_records(path: Path, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    """
    All records in a file, in its order; the file's ending or its first line tells YAML from CSV. Or those in a folder.

    Raises
    ------
    FaultyInputError
        With every fault in the file: where it stands, what was found, what is accepted
    """
    if _is_folder(path):
        return _in_folder(path, knowledge)
    return records_from_text(read_text(path), str(path), knowledge)


def _is_folder(path: Path) -> bool:
    try:
        return path.is_dir()
    except (OSError, ValueError):  # no name at all; reading it tells what is wrong
        return False


def record_files(folder: Path) -> list[Path]:
    """The YAML records in a folder, in the order of their names; hidden files are what editors leave beside them."""
    try:
        return sorted(
            file
            for file in folder.iterdir()
            if file.suffix.lower() in RECORD_ENDINGS and not file.name.startswith(".") and file.is_file()
        )
    except OSError as error:
        raise FaultyInputError([Fault(str(folder), f"the folder cannot be read: {error.strerror or error}.")]) from None


def _in_folder(folder: Path, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    """Every record in a folder; one without a label goes by the name of its file."""
    found = [(file, record) for file in record_files(folder) for record in read_records(file, knowledge)]
    if not found:
        says = (
            f"there is no record in this folder; files ending in {', '.join(RECORD_ENDINGS)} are read, a table by its own name."
        )
        raise FaultyInputError([Fault(str(folder), says)])
    records = tuple(msgspec.structs.replace(record, vial=record.vial or file.stem) for file, record in found)
    if faults := list(_doubled_vials(records, str(folder))):
        raise FaultyInputError(faults)
    return records


def records_from_text(text: str, file: str, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    """The same from text that is already in memory; `file` is what error messages call it."""
    if not text.strip():
        raise FaultyInputError([Fault(file, "the file is empty; a bench record is accepted.")])
    records = _from_csv(text, file, knowledge) if is_csv(text, file) else _from_yaml(text, file, knowledge)
    faults = list(_doubled_vials(records, file))
    if faults:
        raise FaultyInputError(faults)
    return records


def is_csv(text: str, file: str) -> bool:
    ending = Path(file).suffix.lower()
    if ending in (".yaml", ".yml", ".json"):
        return False
    first = next(line for line in text.splitlines() if line.strip())
    return ending in (".csv", ".tsv") or (":" not in first and any(mark in first for mark in ",;\t"))


def _doubled_vials(records: Iterable[Record], file: str) -> Iterable[Fault]:
    seen: set[str] = set()
    for record in records:
        if record.vial and record.vial in seen:
            yield Fault(file, f"the vial {shown(record.vial)} occurs twice; give every vial its own label.")
        seen.add(record.vial)


# --- YAML ------------------------------------------------------------------------------------------


def _from_yaml(text: str, file: str, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    node = compose(text, file)
    if node is None:
        raise FaultyInputError([Fault(file, "the file holds no entries; a bench record is accepted.")])
    if isinstance(node, yaml.SequenceNode):
        return _all(node.value, file, knowledge)
    if isinstance(node, yaml.MappingNode):
        keys = [key.value for key, _ in node.value if isinstance(key, yaml.ScalarNode)]
        if keys == ["vials"] and isinstance(node.value[0][1], yaml.SequenceNode):
            return _all(node.value[0][1].value, file, knowledge)
    return (_record(node, file, knowledge),)


def _all(nodes: list[yaml.Node], file: str, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    if len(nodes) > MOST_VIALS:
        raise FaultyInputError([Fault(file, f"there are {len(nodes):,} vials; at most {MOST_VIALS:,} are read.")])
    if not nodes:
        raise FaultyInputError([Fault(file, "the list of vials is empty.")])
    records: list[Record] = []
    faults: list[Fault] = []
    for node in nodes:
        if len(faults) >= MOST_FAULTS:
            break
        try:
            records.append(_record(node, file, knowledge))
        except FaultyInputError as error:
            faults += error.faults
    if faults:
        raise FaultyInputError(faults)
    return tuple(records)


def _record(node: yaml.Node, file: str, knowledge: KnowledgeBase) -> Record:
    faults: list[Fault] = []
    top = _pairs(node, file, "a bench record", faults)
    for key, (key_node, _) in list(top.items())[:MOST_FAULTS]:
        if key not in _KEYS:
            faults.append(Fault(_at(file, key_node), _unknown_key(key, knowledge)))
    readings: dict[str, str] = {}
    places: dict[str, str] = {}
    if "readings" in top:
        for key, (key_node, value) in _pairs(top["readings"][1], file, "readings", faults).items():
            places[key] = _at(file, key_node)
            if isinstance(value, yaml.ScalarNode):
                readings[key] = value.value
            elif not (isinstance(value, yaml.SequenceNode) and not value.value):
                kind = "list" if isinstance(value, yaml.SequenceNode) else "mapping"
                faults.append(Fault(_at(file, value), f"reading {shown(key)}: a {kind} stands here; one value is accepted."))
    elif not faults:
        faults.append(Fault(_at(file, node), "the key 'readings' is missing; it holds 'reading: value' pairs."))
    texts = {key: _text(top, key, file, faults) for key in ("vial", "notes")}
    try:
        record = make_record(readings, knowledge, vial=texts["vial"], notes=texts["notes"], where=file, places=places)
    except FaultyInputError as error:
        raise FaultyInputError(faults + list(error.faults)) from None
    if faults:
        raise FaultyInputError(faults)
    return record


def _unknown_key(key: str, knowledge: KnowledgeBase) -> str:
    if find_reading(key, knowledge) or names_air_pressure(key):
        return f"the reading {shown(key)} stands beside 'readings'; move it under 'readings'."
    near = nearest(key, _KEYS)
    meant = f"; did you mean {near!r}?" if near else "."
    return f"{shown(key)} is not a key of a bench record{meant} Accepted: {', '.join(_KEYS)}."


def _pairs(node: yaml.Node, file: str, what: str, faults: list[Fault]) -> dict[str, tuple[yaml.Node, yaml.Node]]:
    if not isinstance(node, yaml.MappingNode):
        found = shown(node.value) if isinstance(node, yaml.ScalarNode) else "a list"
        says = f"{found} stands where {what} is expected; 'key: value' pairs are accepted."
        raise FaultyInputError([Fault(_at(file, node), says)])
    found_pairs: dict[str, tuple[yaml.Node, yaml.Node]] = {}
    for key, value in node.value:
        if not isinstance(key, yaml.ScalarNode):
            faults.append(Fault(_at(file, key), "a list or mapping stands where a key is expected."))
        elif key.value in found_pairs:
            faults.append(Fault(_at(file, key), f"the key {shown(key.value)} stands here a second time."))
        else:
            found_pairs[key.value] = (key, value)
    return found_pairs


def _text(top: dict[str, tuple[yaml.Node, yaml.Node]], key: str, file: str, faults: list[Fault]) -> str:
    node = top[key][1] if key in top else None
    if node is None:
        return ""
    if not isinstance(node, yaml.ScalarNode):
        faults.append(Fault(_at(file, node), f"{key!r} takes a text."))
        return ""
    return str(node.value).strip()


def _at(file: str, node: yaml.Node) -> str:
    return f"{file}, line {node.start_mark.line + 1}"


# --- CSV -------------------------------------------------------------------------------------------


def _from_csv(text: str, file: str, knowledge: KnowledgeBase) -> tuple[Record, ...]:
    header, rows = csv_rows(text, file, "a vial")
    faults = list(_header_faults(header, file, knowledge))
    if faults:
        raise FaultyInputError(faults)
    records: list[Record] = []
    for line, cells in rows:
        if len(faults) >= MOST_FAULTS:
            break
        where = f"{file}, line {line}"
        if len(cells) != len(header):
            faults.append(Fault(where, f"there are {len(cells)} cells; the header has {len(header)}."))
            continue
        row = dict(zip(header, (plain_cell(cell) for cell in cells), strict=True))
        vial = next((row[name] for name in header if name.casefold() in VIAL_COLUMNS), "")
        notes = next((row[name] for name in header if name.casefold() in NOTE_COLUMNS), "")
        readings = {name: value for name, value in row.items() if name.casefold() not in VIAL_COLUMNS + NOTE_COLUMNS}
        try:
            records.append(make_record(readings, knowledge, vial=vial or f"row {line}", notes=notes, where=where))
        except FaultyInputError as error:
            faults += error.faults
    if faults:
        raise FaultyInputError(faults)
    return tuple(records)


def _header_faults(header: list[str], file: str, knowledge: KnowledgeBase) -> Iterable[Fault]:
    where = f"{file}, header"
    seen: set[str] = set()
    if not any(find_reading(name, knowledge) for name in header):
        yield Fault(where, f"no column is a reading. Found: {', '.join(map(shown, header[:8]))}. {_columns(knowledge)}")
        return
    for group in (VIAL_COLUMNS, NOTE_COLUMNS):
        alike = [name for name in header if name.casefold() in group]
        if len(set(alike)) > 1:
            yield Fault(where, f"the columns {' and '.join(map(shown, alike))} mean the same; keep one.")
    for name in header[:MOST_FAULTS]:
        if name in seen:
            yield Fault(where, f"the column {shown(name)} occurs twice.")
        seen.add(name)
        if name.casefold() in VIAL_COLUMNS + NOTE_COLUMNS or names_air_pressure(name):
            continue
        if not find_reading(name, knowledge):
            yield Fault(where, f"column {unknown_reading(name, knowledge)} Besides readings: vial, notes, air pressure.")


def _columns(knowledge: KnowledgeBase) -> str:
    return f"Accepted: vial, notes, air pressure, and the readings {', '.join(knowledge.readings)}."
