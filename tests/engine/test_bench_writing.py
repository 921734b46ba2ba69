"""What a bench session writes lands in the right vial, whatever its label and the form of its file, and on disk."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from spotplate.engine.bench.memory import Memory
from spotplate.engine.files import read_records, write_whole
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.kb import FaultyInputError, load_knowledge

KNOWLEDGE = load_knowledge()


def set_state(path: Path, vial: str) -> dict[str, dict[str, object]]:
    """Write `state: solid` for a vial; label → readings as the file then has them."""
    with BenchFiles(path, KNOWLEDGE) as files:
        files.set_reading(vial, "state", "solid")
    return {record.vial: record.readings for record in read_records(path, KNOWLEDGE)}


# Labels that YAML takes for numbers, truth or dates, that a spreadsheet takes for formulas, or with more than one space.
@pytest.mark.parametrize(
    "label", ["007", "1.0", "1e3", "0x1F", "true", "no", "2026-01-05", "12:30", "a  b", "-1", "=A1", "Ünknown 3"]
)
@pytest.mark.parametrize("place", [0, 1])
@pytest.mark.parametrize("form", ["list", "vials", "table"])
def test_a_reading_is_written_for_the_vial_of_any_label(tmp_path: Path, form: str, place: int, label: str) -> None:
    labels = ["other", "another"]
    labels.insert(place, label)
    if form == "table":
        path = tmp_path / "rack.csv"
        path.write_text("vial,state\n" + "".join(f"{name},\n" for name in labels), "utf-8")
    else:
        path = tmp_path / "rack.yaml"
        head, indent = ("vials:\n", "  ") if form == "vials" else ("", "")
        path.write_text(head + "".join(f"{indent}- vial: {name}\n{indent}  readings: {{}}\n" for name in labels), "utf-8")
    found = set_state(path, " ".join(label.split()))
    assert {vial for vial, readings in found.items() if readings} == {" ".join(label.split())}
    assert len(found) == 3


@pytest.mark.parametrize("label", ["007", "no", "-1", "=A1", "a, b", 'the "left" one', "#4", "x: y"])
@pytest.mark.parametrize("name", ["rack.csv", "rack.tsv", "one.yaml", "folder"])
def test_a_vial_begun_in_a_session_keeps_its_label(tmp_path: Path, name: str, label: str) -> None:
    path = tmp_path / name
    if name == "folder":
        path.mkdir()
    with BenchFiles(path, KNOWLEDGE) as files:
        files.add_vial(label)
        files.set_reading(label, "state", "solid")
        files.set_notes(label, "=1+1, two; lines")
        assert list(files.records) == [label]
    with BenchFiles(path, KNOWLEDGE) as files:
        assert files.records[label].readings == {"state": "solid"}
        assert files.records[label].notes == "=1+1, two; lines"


def test_vials_called_by_their_line_keep_it_whatever_is_written(tmp_path: Path) -> None:
    rack = tmp_path / "rack.csv"
    rack.write_text("\nstate,notes\n\n,one\n,two\n,\n", "utf-8")  # the last row holds nothing and is no vial
    with BenchFiles(rack, KNOWLEDGE) as files:
        assert list(files.records) == ["row 4", "row 5"]
        files.set_reading("row 5", "state", "solid")
        files.set_reading("row 4", "lustre", "glassy")
        assert list(files.records) == ["row 4", "row 5"]
        assert {vial: record.readings for vial, record in files.records.items()} == {
            "row 4": {"lustre": "glassy"},
            "row 5": {"state": "solid"},
        }
        files.add_vial("row six")
        assert list(files.records) == ["row 4", "row 5", "row six"]


def test_what_a_killed_beginning_left_is_swept_up_and_nothing_else(tmp_path: Path) -> None:
    def left(name: str) -> Path:
        path = tmp_path / name
        path.write_text("half", "utf-8")
        return path

    gone = [left(name) for name in (".a[1].yaml.0123abcd.part", ".a[1].yaml.bench.json.0123abcd.part")]
    stays = [
        left(name) for name in (".b.yaml.0123abcd.part", ".a[1].yaml.part", ".a1.yaml.0123abcd.part", ".a[1].yaml.of-mine.part")
    ]
    with BenchFiles(tmp_path / "a[1].yaml", KNOWLEDGE):  # which was not there yet when its beginning was killed
        assert not [path for path in gone if path.exists()]
        assert all(path.exists() for path in stays)


def test_what_a_killed_beginning_left_in_a_folder_is_swept_up(tmp_path: Path) -> None:
    gone = [tmp_path / name for name in (".B.yaml.0123abcd.part", ".bench.json.0123abcd.part")]
    for path in gone:
        path.write_text("half", "utf-8")
    with BenchFiles(tmp_path, KNOWLEDGE):
        assert not [path for path in gone if path.exists()]


def test_a_table_and_a_record_of_one_name_are_remembered_apart(tmp_path: Path) -> None:
    with BenchFiles(tmp_path / "a.yaml", KNOWLEDGE) as record, BenchFiles(tmp_path / "a.csv", KNOWLEDGE) as table:
        record.remember(Memory(vial="of the record"))
        table.remember(Memory(vial="of the table"))
        assert record.memory() == Memory(vial="of the record")


def test_a_session_keeps_another_away_until_it_ends(tmp_path: Path) -> None:
    path = tmp_path / "a.yaml"
    with BenchFiles(path, KNOWLEDGE), pytest.raises(FaultyInputError, match="another bench session is open on it"):
        BenchFiles(path, KNOWLEDGE).__enter__()
    with BenchFiles(path, KNOWLEDGE):
        pass
    path.write_text("no record", "utf-8")
    for _ in range(2):  # a session that could not begin holds nothing either
        with pytest.raises(FaultyInputError, match="a bench record is expected"):
            BenchFiles(path, KNOWLEDGE).__enter__()


@pytest.mark.skipif(os.name == "nt", reason="this system opens no folder")
def test_the_new_name_is_on_disk_as_well_as_the_content(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A power failure must not bring back the file before, so the folder is flushed after the renaming."""
    done: list[str] = []
    fsync, replace = os.fsync, os.replace
    folder = os.stat(tmp_path).st_ino

    def watched_fsync(descriptor: int) -> None:
        done.append("folder" if os.fstat(descriptor).st_ino == folder else "content")
        fsync(descriptor)

    def watched_replace(source: Path, target: Path) -> None:
        done.append("renamed")
        replace(source, target)

    monkeypatch.setattr(os, "fsync", watched_fsync)
    monkeypatch.setattr(os, "replace", watched_replace)
    write_whole(tmp_path / "a.txt", b"one")
    assert done == ["content", "renamed", "folder"]
