"""The files of a bench session: what is written is read again, and nothing else in them is touched."""

from __future__ import annotations

import os
import re
import stat
import string
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from spotplate.engine import FaultyInputError, Record, make_record, read_records
from spotplate.engine.bench.memory import Memory, VialMemory
from spotplate.engine.files.bench_files import BenchFiles, as_file_name
from spotplate.kb import load_knowledge, printable

KNOWLEDGE = load_knowledge()


@pytest.fixture(scope="module", autouse=True)
def _quick_disk() -> Iterator[None]:
    """Nobody pulls the plug during these tests, so the disk need not be waited for."""
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(os, "fsync", lambda _: None)
        yield


Change = Callable[[BenchFiles], None]
often = settings(deadline=None, max_examples=60)
seldom = settings(deadline=None, max_examples=25)


@contextmanager
def folder() -> Iterator[Path]:
    """A new folder; hypothesis needs one for each example."""
    with tempfile.TemporaryDirectory(prefix="bench-") as name:
        yield Path(name)


def after(file: Path, *changes: Change) -> dict[str, Record]:
    """The records of a file once it was changed in a session, as anyone else reads them."""
    with BenchFiles(file, KNOWLEDGE) as files:
        for change in changes:
            change(files)
        kept = dict(files.records)
    assert {record.vial or file.stem: record.readings for record in read_records(file, KNOWLEDGE)} == {
        label: record.readings for label, record in kept.items()
    }
    return kept


def changed(tmp_path: Path, name: str, text: str | bytes, *changes: Change) -> bytes:
    """The bytes of a file once it was changed in a session."""
    file = tmp_path / name
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    after(file, *changes)
    return file.read_bytes()


def reading(vial: str, name: str, value: str) -> Change:
    return lambda files: files.set_reading(vial, name, value)


def notes(vial: str, text: str) -> Change:
    return lambda files: files.set_notes(vial, text)


def vial(label: str) -> Change:
    return lambda files: files.add_vial(label)


def faults(file: Path, *changes: Change) -> str:
    with pytest.raises(FaultyInputError) as caught:
        after(file, *changes)
    return str(caught.value)


# --- round trips -----------------------------------------------------------------------------------

# Text as it may be typed or pasted: letters of all scripts, signs that mean something to YAML or CSV, controls, half characters.
typed = st.text(st.one_of(st.sampled_from(string.printable + "éß漢😀\u2028\x85\xa0\x7f\x1b\x00"), st.characters()), max_size=70)
signs = st.one_of(st.sampled_from("abCD12 .-/\\:'\"#&*?[]{}=+@,;%!|>`~éß漢😀"), st.characters().filter(str.isprintable))
labels = st.text(signs, min_size=1, max_size=60).map(lambda text: " ".join(text.split())).filter(bool)


@st.composite
def spelled(draw: st.DrawFn) -> tuple[str, str]:
    """A reading with a value in a spelling that the session writes."""
    kind = draw(st.sampled_from(list(KNOWLEDGE.readings.values())))
    if kind.values:
        return kind.id, draw(st.sampled_from((*kind.words(), "unclear")))
    number = draw(st.sampled_from(["1.5", "0.9 to 1.2", "> 2"]))
    return kind.id, f"{number} {kind.number.unit if kind.number else ''}"


readings = st.lists(spelled(), max_size=8, unique_by=lambda pair: pair[0])
FORMS = ("record.yaml", "table.csv", "table.tsv", "folder")


def cleaned(text: str) -> str:
    """Notes stand on one line, and what cannot be printed is a blank."""
    return " ".join(printable(text).split())


@often
@given(st.sampled_from(FORMS), labels, typed, readings)
def test_whatever_is_written_is_read_again(form: str, label: str, remark: str, made: list[tuple[str, str]]) -> None:
    with folder() as place:
        path = place if form == "folder" else place / form
        with BenchFiles(path, KNOWLEDGE) as files:
            files.add_vial(label)
            files.set_notes(label, remark)
            for name, value in made:
                files.set_reading(label, name, value)
        (file,) = [each for each in place.iterdir() if not each.name.startswith(".")]
        (record,) = read_records(file, KNOWLEDGE)
        expected = make_record(dict(made), KNOWLEDGE)
        assert record.vial == label
        assert record.notes == cleaned(remark)
        assert record.readings == expected.readings
        assert set(record.unclear) == set(expected.unclear)


@seldom
@given(st.sampled_from(FORMS), labels, readings, st.data())
def test_what_is_taken_back_is_gone_and_the_rest_stays(
    form: str, label: str, made: list[tuple[str, str]], data: st.DataObject
) -> None:
    taken = data.draw(st.lists(st.sampled_from([name for name, _ in made]), unique=True)) if made else []
    with folder() as place:
        path = place if form == "folder" else place / form
        with BenchFiles(path, KNOWLEDGE) as files:
            files.add_vial(label)
            for name, value in made:
                files.set_reading(label, name, value)
            for name in taken:
                files.set_reading(label, name, "")
            left = make_record({name: value for name, value in made if name not in taken}, KNOWLEDGE)
            assert files.records[label].readings == left.readings
            assert set(files.records[label].unclear) == set(left.unclear)


BEGUN = {
    "vials.yaml": "vials:\n  - vial: first\n    readings: {}\n",
    "list.yaml": "- vial: first\n  readings: {}\n",
    "table.csv": "vial,state\nfirst,\n",
    "folder": "",
}
racks = st.lists(
    labels.filter(lambda label: label != "first"), min_size=2, max_size=5, unique_by=lambda label: as_file_name(label).casefold()
)


@seldom
@given(st.sampled_from(sorted(BEGUN)), racks, st.data())
def test_vials_of_one_rack_never_disturb_one_another(form: str, rack: list[str], data: st.DataObject) -> None:
    steps = data.draw(st.lists(st.tuples(st.sampled_from(rack), spelled()), max_size=8))
    with folder() as place:
        path = place if form == "folder" else place / form
        if form != "folder":
            path.write_text(BEGUN[form], encoding="utf-8")
        expected: dict[str, dict[str, str]] = {} if form == "folder" else {"first": {}}
        with BenchFiles(path, KNOWLEDGE) as files:
            for label in rack:
                files.add_vial(label)
                expected[label] = {}
            for label, (name, value) in steps:
                files.set_reading(label, name, value)
                expected[label][name] = value
            found = {label: record.readings for label, record in files.records.items()}
        assert found == {label: make_record(made, KNOWLEDGE).readings for label, made in expected.items()}


@seldom
@given(typed)
def test_what_is_no_label_is_refused_and_leaves_nothing_behind(text: str) -> None:
    with folder() as place, BenchFiles(place / "record.yaml", KNOWLEDGE) as files:
        try:
            files.add_vial(text)
        except FaultyInputError:
            assert not (place / "record.yaml").exists()
        else:
            assert list(files.records) == [" ".join(text.split())]


@pytest.mark.parametrize("label", ["", "  ", "\t", "a\x1b[31m", "a\x00", "half \ud800 character", "x" * 61, "a\u202eb"])
def test_a_label_that_nobody_could_read_on_a_vial_is_refused(tmp_path: Path, label: str) -> None:
    assert "is no label for a vial" in faults(tmp_path / "record.yaml", vial(label))


# --- YAML, letter for letter -----------------------------------------------------------------------

COMMENTED = """\
# Tuesday's bench, group 3
vial: 'C'   # the third
readings:   # so far
  # by eye
  colour: "white"   # in daylight

  # after the water test
  conducts dry: no  # 9 V
  mp: 121-123

# nothing below
"""

LISTED = """\
# the rack
-   vial: 007
    readings: {}   # not begun
# second row
-   readings:
        state: solid
    vial: 1e3
    notes: |
        two lines
        of text
"""

# (text, change, the same text as it must be then)
LETTER_FOR_LETTER: list[tuple[str, Change, str]] = [
    # a value that stands there is replaced, under the name that it has
    (COMMENTED, reading("C", "colour", "black"), COMMENTED.replace('"white"', "black")),
    (COMMENTED, reading("C", "dry conductivity", "bright glow"), COMMENTED.replace("dry: no ", "dry: bright glow ")),
    (COMMENTED, reading("C", "melting range", "122 to 124 °C"), COMMENTED.replace("121-123", "122 to 124 °C")),
    # a new one comes below the others
    (COMMENTED, reading("C", "lustre", "dull"), COMMENTED.replace("mp: 121-123\n", "mp: 121-123\n  lustre: dull\n")),
    (COMMENTED, reading("C", "smell", "unclear"), COMMENTED.replace("mp: 121-123\n", "mp: 121-123\n  smell: unclear\n")),
    # one that is taken back takes its own comment with it, and no other
    (COMMENTED, reading("C", "colour", ""), COMMENTED.replace('  colour: "white"   # in daylight\n', "")),
    (COMMENTED, reading("C", "melting range", ""), COMMENTED.replace("  mp: 121-123\n", "")),
    (COMMENTED, reading("C", "lustre", ""), COMMENTED),
    # notes come before the readings
    (COMMENTED, notes("C", "a few crystals left"), COMMENTED.replace("readings: ", "notes: a few crystals left\nreadings: ")),
    # lists of records, whatever their order and indentation, and labels that look like numbers
    (LISTED, reading("007", "state", "solid"), LISTED.replace(" {}   # not begun\n", "   # not begun\n      state: solid\n")),
    (LISTED, reading("1e3", "colour", "black"), LISTED.replace("state: solid\n", "state: solid\n        colour: black\n")),
    (LISTED, reading("1e3", "state", ""), LISTED.replace("readings:\n        state: solid\n", "readings: {}\n")),
    (LISTED, notes("1e3", "one line"), LISTED.replace("|\n        two lines\n        of text\n", "one line\n")),
    (LISTED, notes("007", "new"), LISTED.replace("    readings: {}", "    notes: new\n    readings: {}")),
    (LISTED, vial("0"), f"{LISTED}- vial: '0'\n  readings: {{}}\n"),
    ("vials:\n  - readings: {}\n    vial: A\n\n# end\n", vial("B"),
     "vials:\n  - readings: {}\n    vial: A\n  - vial: B\n    readings: {}\n\n# end\n"),
    ("vials:\n- vial: A\n  readings: {}\n", vial("B"), "vials:\n- vial: A\n  readings: {}\n- vial: B\n  readings: {}\n"),
    # in brackets
    ("{vial: A, readings: {}}\n", reading("A", "state", "solid"), "{vial: A, readings: {state: solid}}\n"),
    ("{vial: A, readings: {}}\n", notes("A", "x"), "{vial: A, notes: x, readings: {}}\n"),
    ("{vial: A, readings: {state: solid}}\n", reading("A", "state", ""), "{vial: A, readings: {}}\n"),
    ("vial: A\nreadings: {state: solid, colour: red}\n", reading("A", "state", ""), "vial: A\nreadings: {colour: red}\n"),
    ("vial: A\nreadings: {state: solid, colour: red}\n", reading("A", "colour", ""), "vial: A\nreadings: {state: solid}\n"),
    ("vial: A\nreadings: {state: solid}\n", reading("A", "melting range", "> 300 °C"),
     "vial: A\nreadings: {state: solid, melting range: '> 300 °C'}\n"),
    ("[{vial: A, readings: {}}]\n", vial("B"), "[{vial: A, readings: {}}, {vial: B, readings: {}}]\n"),
    # a blank record that was printed to be filled in
    ("readings:\n  state:\n  colour:  # by daylight\n", reading("record", "colour", "black"),
     "readings:\n  state:\n  colour: black  # by daylight\n"),
    ("readings:\n  state: []\n", reading("record", "state", "gas"), "readings:\n  state: gas\n"),
    # no line end at the end of the file
    ("vial: A\nreadings:\n  state: solid", reading("A", "colour", "black"), "vial: A\nreadings:\n  state: solid\n  colour: black\n"),
    ("vial: A\nreadings: {}", reading("A", "colour", "black"), "vial: A\nreadings:\n  colour: black\n"),
    # a text that other readers of YAML take for true, and its ends
    ("%YAML 1.1\n---\nvial: no\nreadings:\n  dry conductivity: no\n...\n", reading("no", "state", "solid"),
     "%YAML 1.1\n---\nvial: no\nreadings:\n  dry conductivity: no\n  state: solid\n...\n"),
    # the air pressure of the day
    ("readings:\n  air pressure: 98.2 kPa\n", reading("record", "boiling point", "99 °C"),
     "readings:\n  air pressure: 98.2 kPa\n  boiling point: 99 °C\n"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "change", "expected"), LETTER_FOR_LETTER)
def test_only_the_value_asked_for_changes_in_a_yaml_file(tmp_path: Path, text: str, change: Change, expected: str) -> None:
    assert changed(tmp_path, "record.yaml", text, change).decode() == expected


@pytest.mark.parametrize(("text", "change", "expected"), LETTER_FOR_LETTER)
def test_line_ends_and_byte_order_mark_of_a_yaml_file_stay(tmp_path: Path, text: str, change: Change, expected: str) -> None:
    windows = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    assert changed(tmp_path, "record.yaml", windows, change) == b"\xef\xbb\xbf" + expected.replace("\n", "\r\n").encode()


@often
@given(spelled(), st.sampled_from([COMMENTED, LISTED, "vial: A\nreadings:\n  state: gas  # seen\n\n# end\n"]), st.data())
def test_a_reading_made_and_taken_back_leaves_a_file_as_it_was(pair: tuple[str, str], text: str, data: st.DataObject) -> None:
    with folder() as place:
        file = place / "record.yaml"
        file.write_text(text, encoding="utf-8", newline="")
        begun = {record.vial: record for record in read_records(file, KNOWLEDGE)}
        label = data.draw(st.sampled_from(sorted(begun)))
        assume(pair[0] not in begun[label].readings)
        after(file, reading(label, *pair), reading(label, pair[0], ""))
        assert file.read_text(encoding="utf-8") == text


def test_yaml_that_is_written_in_an_unforeseen_way_is_refused_and_stays(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    text = "vial: A\nreadings:\n  ? state\n  : solid\n"
    file.write_text(text, encoding="utf-8")
    told = faults(file, reading("A", "colour", "black"))
    assert "write it into the file yourself: 'colour: black'" in told
    assert file.read_text(encoding="utf-8") == text


def test_a_file_with_a_single_record_takes_no_second_vial(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    file.write_text(COMMENTED, encoding="utf-8")
    assert "this file holds one record; for several vials use a table" in faults(file, vial("D"))
    assert file.read_text(encoding="utf-8") == COMMENTED


def test_an_unlabelled_record_is_called_by_its_file_and_stays_unlabelled(tmp_path: Path) -> None:
    file = tmp_path / "unknown 4.yaml"
    file.write_text("readings: {}\n", encoding="utf-8")
    assert list(after(file, reading("unknown 4", "state", "solid"))) == ["unknown 4"]
    assert file.read_text(encoding="utf-8") == "readings:\n  state: solid\n"


def test_a_new_record_explains_itself(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    after(file, vial("C"))
    assert file.read_text(encoding="utf-8").startswith("# Bench record. A reading that is not here was not tested;")


# --- CSV -------------------------------------------------------------------------------------------

SEMICOLONS = 'vial;conducts dry;Remarks\nA;"no";"x; y ""z"""\n\n  B  2 ;;\n'

CSV_CHANGES: list[tuple[str, Change, str]] = [
    # the column that is there, under the name that it has
    ("vial,conducts dry\nA,no\nB,\n", reading("B", "dry conductivity", "bright glow"), "vial,conducts dry\nA,no\nB,bright glow\n"),
    ("vial,conducts dry\nA,no\nB,\n", reading("A", "dry conductivity", ""), "vial,conducts dry\nA,\nB,\n"),
    # a new one
    ("vial,state\nA,solid\nB,gas\n", reading("B", "lustre", "dull"), "vial,state,lustre\nA,solid,\nB,gas,dull\n"),
    ("vial,state\nA,solid\n", notes("A", "half, gone"), 'vial,state,notes\nA,solid,"half, gone"\n'),
    ("vial\tstate\nA\tsolid\n", reading("A", "lustre", "dull"), "vial\tstate\tlustre\nA\tsolid\tdull\n"),
    # quotes where they are needed, blank lines and blanks in a label
    (SEMICOLONS, reading("B 2", "dry conductivity", "no glow"), SEMICOLONS.replace('"no"', "no").replace("2 ;;", "2 ;no glow;")),
    (SEMICOLONS, notes("B 2", "5;6"), SEMICOLONS.replace('"no"', "no").replace("2 ;;", '2 ;;"5;6"')),
    # rows without a label are called by their lines, and keep them
    ("\n\nstate,colour\n\nsolid,red\n\n\ngas,red\n", reading("row 8", "colour", "black"),
     "\n\nstate,colour\n\nsolid,red\n\n\ngas,black\n"),
    ("vial,state\n,solid\nB,gas\n", reading("row 2", "state", "gas"), "vial,state\n,gas\nB,gas\n"),
    ("state\nsolid\ngas\n", vial("C"), "state,vial\nsolid,row 2\ngas,row 3\n,C\n"),
    ("vial,state\nA,solid\n\n", vial("B"), "vial,state\nA,solid\nB,\n\n"),
    # what a spreadsheet would reckon with
    ("vial,state\n'-3,solid\n", reading("-3", "state", "gas"), "vial,state\n'-3,gas\n"),
    ("vial,state\n-3,solid\n", reading("-3", "state", "gas"), "vial,state\n-3,gas\n"),
    ("vial,state\nA,solid\n", vial("=B"), "vial,state\nA,solid\n'=B,\n"),
    ("vial,state\nA,solid\n", reading("A", "melting range", "-20 to -18 °C"), "vial,state,melting range\nA,solid,'-20 to -18 °C\n"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "change", "expected"), CSV_CHANGES)
def test_only_the_cell_asked_for_changes_in_a_table(tmp_path: Path, text: str, change: Change, expected: str) -> None:
    assert changed(tmp_path, "table.csv", text, change).decode() == expected


@pytest.mark.parametrize(("text", "change", "expected"), CSV_CHANGES)
def test_line_ends_and_byte_order_mark_of_a_table_stay(tmp_path: Path, text: str, change: Change, expected: str) -> None:
    windows = b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode()
    assert changed(tmp_path, "table.csv", windows, change) == b"\xef\xbb\xbf" + expected.replace("\n", "\r\n").encode()


@often
@given(st.sampled_from(["=1+1", "+1", "-1", "@x", "=cmd|' /C calc'!A0", "'=1", "''+2", "-", "'"]), typed)
def test_no_text_becomes_a_formula_in_a_spreadsheet_and_every_one_is_read_as_it_was(beginning: str, rest: str) -> None:
    text = beginning + rest
    label = " ".join(printable(text).split())[:60].strip()
    with folder() as place:
        file = place / "table.csv"
        found = after(file, vial(label), notes(label, text))
        assert found[label].notes == cleaned(text)
        for cell in _cells(file):
            assert not cell.lstrip().startswith(("=", "+", "-", "@"))


def _cells(file: Path) -> list[str]:
    import csv

    with file.open(encoding="utf-8", newline="") as stream:
        return [cell for row in csv.reader(stream) for cell in row]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("vial,state\rA,solid\r", "vial,state,lustre\rA,solid,dull\r"),  # of old systems
        ('vial,state,notes\nA,solid,"two\nlines"\n', 'vial,state,notes,lustre\nA,solid,"two\nlines",dull\n'),
        ('vial,state,notes\nA,solid,"two\r\nlines"\n', 'vial,state,notes,lustre\nA,solid,"two\r\nlines",dull\n'),
    ],
)
def test_line_ends_of_old_systems_and_those_inside_a_cell_stay(tmp_path: Path, text: str, expected: str) -> None:
    assert changed(tmp_path, "table.csv", text, reading("A", "lustre", "dull")) == expected.encode()


# --- folders ---------------------------------------------------------------------------------------


def test_a_folder_holds_a_file_for_each_vial(tmp_path: Path) -> None:
    found = after_folder(tmp_path, vial("A"), vial("B/2: odd?"), reading("A", "state", "solid"))
    assert found == {"A": {"state": "solid"}, "B/2: odd?": {}}
    assert sorted(file.name for file in tmp_path.glob("*.yaml")) == ["A.yaml", "B-2- odd-.yaml"]


def after_folder(path: Path, *changes: Change) -> dict[str, dict[str, object]]:
    with BenchFiles(path, KNOWLEDGE) as files:
        for change in changes:
            change(files)
    with BenchFiles(path, KNOWLEDGE) as files:
        return {label: dict(record.readings) for label, record in files.records.items()}


@given(labels)
def test_a_file_name_stays_in_its_folder_on_any_system(label: str) -> None:
    name = as_file_name(label)
    assert name
    assert not set(name) & set('/\\:*?"<>|\0')
    assert name == name.strip()
    assert not name.startswith(".")
    assert not name.endswith(".")
    assert "\n" not in name


@pytest.mark.parametrize(
    ("label", "name"), [("..", "--"), ("../x", "---x"), ("/etc", "-etc"), (".hidden", "-hidden"), ("A 1", "A 1")]
)
def test_a_label_is_never_a_way_out_of_the_folder(tmp_path: Path, label: str, name: str) -> None:
    assert as_file_name(label) == name
    after_folder(tmp_path, vial(label))
    assert (tmp_path / f"{name}.yaml").is_file()


@pytest.mark.parametrize("label", ["con", "NUL", "Aux", "com1", "LPT9", "prn"])
def test_no_file_is_called_by_the_name_of_a_device(label: str) -> None:
    """Windows keeps these names for devices, whatever ending follows."""
    assert as_file_name(label) == f"vial {label}"
    assert as_file_name(f"{label}x") == f"{label}x"


def test_two_labels_that_would_share_a_file_are_not_mixed_up(tmp_path: Path) -> None:
    with BenchFiles(tmp_path, KNOWLEDGE) as files:
        files.add_vial("A/1")
        with pytest.raises(FaultyInputError, match="this file is there already; choose another label"):
            files.add_vial("A:1")
        assert list(files.records) == ["A/1"]


def test_a_label_that_stands_in_two_files_is_refused_with_both_names(tmp_path: Path) -> None:
    for name in ("one.yaml", "two.yaml"):
        (tmp_path / name).write_text("vial: A\nreadings: {}\n", encoding="utf-8")
    told = faults_of_folder(tmp_path)
    assert "two.yaml: the vial 'A' also stands in 'one.yaml'" in told


def faults_of_folder(path: Path) -> str:
    with pytest.raises(FaultyInputError) as caught:
        after_folder(path)
    return str(caught.value)


def test_hidden_files_and_other_kinds_are_no_records(tmp_path: Path) -> None:
    (tmp_path / "._A.yaml").write_bytes(b"\x00\x05\x16\x07")  # what one system leaves beside files on foreign drives
    (tmp_path / ".draft.yml").write_text("nonsense", encoding="utf-8")
    (tmp_path / "summary.html").write_text("<p>", encoding="utf-8")
    assert after_folder(tmp_path, vial("A")) == {"A": {}}


def test_a_vial_of_which_only_a_file_name_is_known_is_called_by_it(tmp_path: Path) -> None:
    (tmp_path / "left.yml").write_text("readings: {}\n", encoding="utf-8")
    assert after_folder(tmp_path, reading("left", "state", "gas")) == {"left": {"state": "gas"}}


@pytest.mark.skipif(os.name == "nt", reason="a folder in use cannot be moved there")
def test_a_folder_that_is_gone_in_the_meantime_is_told(tmp_path: Path) -> None:
    rack = tmp_path / "rack"
    rack.mkdir()
    with BenchFiles(rack, KNOWLEDGE) as files:
        files.add_vial("A")
        moved = rack.rename(tmp_path / "moved")
        with pytest.raises(FaultyInputError, match="the folder cannot be read"):
            files.set_reading("A", "state", "solid")
        moved.rename(rack)
        files.set_reading("A", "state", "solid")
        assert files.records["A"].readings == {"state": "solid"}


def test_an_empty_folder_has_no_vials(tmp_path: Path) -> None:
    assert after_folder(tmp_path) == {}


# --- what is opened --------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["notes.txt", "record", "record.xlsx"])
def test_a_file_of_another_kind_is_not_begun(tmp_path: Path, name: str) -> None:
    told = faults(tmp_path / name)
    assert "there is no such file" in told
    assert ".yaml, .yml, .csv, .tsv" in told
    assert list(tmp_path.iterdir()) == []


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    assert "there is no folder" in faults(tmp_path / "none" / "record.yaml")


BROKEN = [
    ("record.yaml", "readings: {lustr: dull}\n", "did you mean 'lustre'"),
    ("record.yaml", "readings: [", "not valid YAML"),
    ("record.yaml", "readings: " + "{a: " * 5000, "nested more than"),
    ("record.yaml", "a: &a [x]\nreadings: {state: *a}\n", "anchors and aliases"),
    ("record.yaml", "", "the file is empty"),
    ("table.csv", "vial,state\nA,sollid\n", "did you mean 'solid'"),
    ("table.csv", 'vial,state\nA,"solid\n', "not valid CSV"),
    ("table.csv", "vial,state\nA,solid,more\n", "3 cells; the header has 2"),
    ("table.csv", "vial,state\nA,solid\nA,gas\n", "occurs twice"),
    ("table.csv", "vial,state\nA,so\0lid\n", "not a text file"),
]


@pytest.mark.parametrize(("name", "text", "told"), BROKEN, ids=[told for _, _, told in BROKEN])
def test_a_broken_file_is_refused_and_left_untouched(tmp_path: Path, name: str, text: str, told: str) -> None:
    file = tmp_path / name
    file.write_text(text, encoding="utf-8")
    assert told in faults(file)
    assert file.read_text(encoding="utf-8") == text
    file.unlink()
    assert list(after(file, vial("A"))) == ["A"]  # and the lock was given back


@pytest.mark.parametrize("name", ["record.yaml", "table.csv"])
def test_a_file_broken_by_another_hand_in_the_meantime_is_left_as_it_is(tmp_path: Path, name: str) -> None:
    file = tmp_path / name
    with BenchFiles(file, KNOWLEDGE) as files:
        files.add_vial("A")
        file.write_text("vial: [", encoding="utf-8")
        for change in (reading("A", "state", "solid"), notes("A", "x")):
            with pytest.raises(FaultyInputError):
                change(files)
        assert file.read_text(encoding="utf-8") == "vial: ["
        file.write_text("vial: A\nreadings: {}\n" if name.endswith("yaml") else "vial,state\nA,\n", encoding="utf-8")
        files.set_reading("A", "state", "solid")
        assert files.records["A"].readings == {"state": "solid"}


def test_what_another_hand_wrote_in_the_meantime_stays(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    with BenchFiles(file, KNOWLEDGE) as files:
        files.add_vial("A")
        file.write_text("vial: A\nnotes: mine\nreadings:\n  colour: red  # mine\n", encoding="utf-8")
        files.set_reading("A", "state", "solid")
    assert file.read_text(encoding="utf-8") == "vial: A\nnotes: mine\nreadings:\n  colour: red  # mine\n  state: solid\n"


@pytest.mark.parametrize("change", [reading("A", "state", "solid"), notes("A", "x")])
def test_a_vial_that_is_gone_is_told(tmp_path: Path, change: Change) -> None:
    file = tmp_path / "table.csv"
    with BenchFiles(file, KNOWLEDGE) as files:
        files.add_vial("A")
        file.write_text("vial,state\nB,solid\n", encoding="utf-8")
        with pytest.raises(FaultyInputError, match="the vial 'A' is no longer there"):
            change(files)
        file.unlink()
        with pytest.raises(FaultyInputError, match="the vial 'A' is no longer there"):
            change(files)


def test_a_vial_is_not_begun_twice(tmp_path: Path) -> None:
    for path in (tmp_path / "record.yaml", tmp_path / "table.csv"):
        assert "there is a vial 'A' already" in faults(path, vial("A"), vial(" A "))


def test_a_value_that_is_not_accepted_never_gets_into_a_file(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    after(file, vial("A"))
    before = file.read_bytes()
    assert "did you mean" in faults(file, reading("A", "state", "sollid"))
    assert file.read_bytes() == before


# --- hostile input ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["record.yaml", "table.csv"])
@pytest.mark.parametrize("text", ["n" * 1_100_000, "é" * 600_000], ids=["letters", "bytes"])
def test_notes_too_long_to_be_read_again_are_refused_and_the_file_stays(tmp_path: Path, name: str, text: str) -> None:
    file = tmp_path / name
    after(file, vial("A"), reading("A", "state", "solid"))
    before = file.read_bytes()
    told = faults(file, notes("A", text))
    assert len(told) < 1000
    assert file.read_bytes() == before


@pytest.mark.parametrize("name", ["record.yaml", "table.csv"])
def test_characters_that_drive_a_terminal_or_are_none_do_not_get_into_a_file(tmp_path: Path, name: str) -> None:
    found = after(tmp_path / name, vial("A"), notes("A", "red \x1b[31m zero \x00 half \ud83d end\r\nnext"))
    assert found["A"].notes == "red [31m zero half end next"
    assert not re.search(rb"[\x00\x1b\r]", (tmp_path / name).read_bytes())


# --- links, permissions, interruptions -------------------------------------------------------------


def linked(link: Path, target: Path) -> None:
    try:
        link.symlink_to(target)
    except OSError:
        pytest.skip("this system makes no links")


def test_a_link_stays_a_link_and_the_file_behind_it_is_written(tmp_path: Path) -> None:
    (tmp_path / "shelf").mkdir()
    target, link = tmp_path / "shelf" / "real.yaml", tmp_path / "link.yaml"
    target.write_text("vial: A\nreadings: {}\n", encoding="utf-8")
    linked(link, target)
    with BenchFiles(link, KNOWLEDGE) as files:
        files.set_reading("A", "state", "solid")
    assert link.is_symlink()
    assert target.read_text(encoding="utf-8") == "vial: A\nreadings:\n  state: solid\n"


def test_a_link_and_the_file_behind_it_are_one_for_the_lock(tmp_path: Path) -> None:
    target, link = tmp_path / "real.yaml", tmp_path / "link.yaml"
    target.write_text("vial: A\nreadings: {}\n", encoding="utf-8")
    linked(link, target)
    with BenchFiles(link, KNOWLEDGE):
        assert "another bench session is open on it" in faults(target)


def test_links_in_a_circle_are_told(tmp_path: Path) -> None:
    linked(tmp_path / "a.yaml", tmp_path / "b.yaml")
    linked(tmp_path / "b.yaml", tmp_path / "a.yaml")
    with pytest.raises(FaultyInputError):
        after(tmp_path / "a.yaml", vial("A"))


@pytest.mark.parametrize("name", ["record.yaml", "table.csv"])
def test_a_writing_that_fails_leaves_the_old_file_whole_and_nothing_beside_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    file = tmp_path / name
    after(file, vial("A"), reading("A", "state", "solid"))
    before = file.read_bytes()

    def fail(*_: object) -> None:
        raise PermissionError(13, "Permission denied")  # as where another program holds the file open

    with monkeypatch.context() as patched, BenchFiles(file, KNOWLEDGE) as files:
        patched.setattr(os, "replace", fail)
        with pytest.raises(FaultyInputError, match="cannot be written: Permission denied"):
            files.set_reading("A", "colour", "red")
    assert file.read_bytes() == before
    assert not list(tmp_path.glob("*.part")) + list(tmp_path.glob(".*.part"))
    assert after(file, reading("A", "colour", "red"))["A"].readings["colour"] == "coloured"


@pytest.mark.skipif(os.name != "posix", reason="permission bits are those of POSIX systems")
def test_whoever_may_read_a_record_may_do_so_afterwards_and_nobody_else(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    after(file, vial("A"))
    for mode in (0o600, 0o664):
        file.chmod(mode)
        after(file, reading("A", "state", "solid" if mode == 0o600 else "gas"))
        assert stat.S_IMODE(file.stat().st_mode) == mode


def test_a_write_protected_file_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The folder may be written to all the same, so nothing but the file's own mark tells."""
    file = tmp_path / "record.yaml"
    after(file, vial("A"))
    before = file.read_bytes()
    allowed = os.access
    monkeypatch.setattr(os, "access", lambda path, mode: Path(path) != file and allowed(path, mode))
    assert "it is write-protected" in faults(file, reading("A", "state", "solid"))
    assert file.read_bytes() == before


def test_what_an_interrupted_writing_left_is_swept_away_and_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "vial [1].yaml"
    after(file, vial("A"))
    ours = [".vial [1].yaml.0123abcd.part", ".vial [1].yaml.bench.json.89abcdef.part"]
    others = [".vial 1.yaml.0123abcd.part", ".vial [1].yaml.mine.part", "vial [1].yaml.part", ".other.yaml.0123abcd.part"]
    for name in ours + others:
        (tmp_path / name).write_text("half", encoding="utf-8")
    after(file)
    left = {each.name for each in tmp_path.iterdir()}
    assert not left & set(ours)
    assert set(others) <= left


# --- locks -----------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", FORMS)
def test_a_second_session_is_kept_away_until_the_first_has_ended(tmp_path: Path, form: str) -> None:
    path = tmp_path if form == "folder" else tmp_path / form
    with BenchFiles(path, KNOWLEDGE) as files:
        files.add_vial("A")
        with pytest.raises(FaultyInputError, match="another bench session is open on it"), BenchFiles(path, KNOWLEDGE):
            pass
        files.set_reading("A", "state", "solid")  # the first goes on undisturbed
    with BenchFiles(path, KNOWLEDGE) as files:
        assert files.records["A"].readings == {"state": "solid"}


def test_a_session_on_a_folder_and_one_on_a_file_in_it_keep_each_other_away(tmp_path: Path) -> None:
    file = tmp_path / "A.yaml"
    after(file, vial("A"))
    with BenchFiles(tmp_path, KNOWLEDGE):
        assert "another bench session" in faults(file)
    with BenchFiles(file, KNOWLEDGE):
        assert "another bench session" in faults_of_folder(tmp_path)
    with BenchFiles(tmp_path, KNOWLEDGE) as files:
        assert list(files.records) == ["A"]


def test_sessions_on_two_files_of_one_folder_do_not_disturb_each_other(tmp_path: Path) -> None:
    with BenchFiles(tmp_path / "A.yaml", KNOWLEDGE) as one, BenchFiles(tmp_path / "B.yaml", KNOWLEDGE) as other:
        one.add_vial("A")
        other.add_vial("B")
        one.set_reading("A", "state", "solid")
        assert list(other.records) == ["B"]


def test_the_lock_is_given_back_when_a_session_breaks_off(tmp_path: Path) -> None:
    file = tmp_path / "record.yaml"
    with pytest.raises(ZeroDivisionError), BenchFiles(file, KNOWLEDGE):
        raise ZeroDivisionError
    assert list(after(file, vial("A"))) == ["A"]


# --- what the session remembers --------------------------------------------------------------------

names = st.lists(st.text(max_size=8).filter(lambda text: text.isprintable()), max_size=3).map(tuple)


@seldom
@given(
    st.dictionaries(
        labels, st.builds(VialMemory, prepared=st.booleans(), doing=labels, order=names, passed=names, left_out=names), max_size=3
    ),
    labels,
)
def test_what_is_remembered_is_read_again(of_vials: dict[str, VialMemory], label: str) -> None:
    memory = Memory(vial=label, among=("sodium chloride",), missing=("smell",), vials=of_vials)
    with folder() as place, BenchFiles(place / "record.yaml", KNOWLEDGE) as files:
        assert files.memory() is None
        files.remember(memory)
        assert files.memory() == memory
        assert not files.records  # it is no record


@pytest.mark.parametrize(
    ("form", "name"), [("record.yaml", "record.yaml.bench.json"), ("table.csv", "table.csv.bench.json"), ("folder", "bench.json")]
)
def test_it_is_remembered_beside_the_records(tmp_path: Path, form: str, name: str) -> None:
    path = tmp_path if form == "folder" else tmp_path / form
    with BenchFiles(path, KNOWLEDGE) as files:
        files.add_vial("A")
        files.remember(Memory(vial="A"))
        assert files.memory_file == tmp_path / name
    with BenchFiles(path, KNOWLEDGE) as files:
        assert files.memory() == Memory(vial="A")


@pytest.mark.parametrize("text", ["", "{", "[]", '{"vial": 3}', '{"vials": {"A": {"order": "look"}}}', "\0"])
def test_a_broken_memory_is_refused_with_what_to_do(tmp_path: Path, text: str) -> None:
    file = tmp_path / "record.yaml"
    with BenchFiles(file, KNOWLEDGE) as files:
        files.memory_file.write_text(text, encoding="utf-8")
        with pytest.raises(FaultyInputError, match=r"record\.yaml\.bench\.json"):
            files.memory()


def test_a_memory_of_a_later_version_is_read_for_what_is_known_of_it(tmp_path: Path) -> None:
    with BenchFiles(tmp_path / "record.yaml", KNOWLEDGE) as files:
        files.memory_file.write_text('{"vial": "A", "mood": "good"}', encoding="utf-8")
        assert files.memory() == Memory(vial="A")
