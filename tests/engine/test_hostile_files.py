"""Files that people, or somebody who means harm, may bring: one clear fault each, quickly, and nothing run."""

from __future__ import annotations

import os
import re
import time
from pathlib import Path

import pytest

from spotplate.engine import FaultyInputError, Interval, Record, load_knowledge, read_records, read_rules

GOOD = "vial: C\nreadings:\n  state: solid\n"
BOMB = "a: &a [x, x]\nb: &b [*a, *a]\nc: &c [*b, *b]\nreadings: {state: *c}\n"

# (name of the file, its content, part of the message)
BAD: list[tuple[str, str | bytes, str]] = [
    # empty and not text
    ("empty.yaml", "", "empty"),
    ("blank.yaml", "  \n\n", "empty"),
    ("comments.yaml", "# nothing\n# here\n", "no entries"),
    ("bom.yaml", b"\xef\xbb\xbf", "empty"),
    ("binary.yaml", bytes(range(256)) * 8, "UTF-8"),
    ("nul.yaml", b"vial: C\0\nreadings: {}\n", "not a text file"),
    ("utf16.yaml", GOOD.encode("utf-16"), "UTF-8"),
    ("latin1.yaml", "vial: Öl\nreadings: {state: solid}\n".encode("latin-1"), "UTF-8"),
    ("picture.yaml", b"\x89PNG\r\n\x1a\n" + b"\xff" * 50, "UTF-8"),
    ("control.yaml", "vial: \x1b[31mred\nreadings: {state: solid}\n", "not valid YAML"),
    # not a record
    ("text.yaml", "hello there\n", "a bench record is expected"),
    ("number.yaml", "42\n", "a bench record is expected"),
    ("list-of-text.yaml", "- solid\n- liquid\n", "a bench record is expected"),
    ("empty-list.yaml", "[]\n", "list of vials is empty"),
    ("no-readings.yaml", "vial: C\n", "'readings' is missing"),
    ("readings-text.yaml", "readings: solid\n", "readings is expected"),
    ("readings-list.yaml", "readings: [solid]\n", "readings is expected"),
    # unknown keys and spellings, with the nearest one
    ("key.yaml", "vail: C\nreadings: {state: solid}\n", "did you mean 'vial'"),
    ("outside.yaml", "vial: C\nstate: solid\nreadings: {}\n", "move it under 'readings'"),
    ("reading.yaml", "readings: {lustr: dull}\n", "did you mean 'lustre'"),
    ("reading2.yaml", "readings: {dry conductivty: no}\n", "did you mean 'dry conductivity'"),
    ("value.yaml", "readings: {state: sollid}\n", "did you mean 'solid'"),
    ("value2.yaml", "readings: {in water: disolves}\n", "did you mean 'dissolves'"),
    ("value3.yaml", "readings: {state: plasma}\n", "Accepted: solid, liquid, gas"),
    ("synonyms.yaml", "readings: {mp: 80 °C, melting point: 81 °C}\n", "given twice"),
    # wrong types
    ("value-list.yaml", "readings: {state: [solid, liquid]}\n", "one value is accepted"),
    ("value-mapping.yaml", "readings: {state: {is: solid}}\n", "a mapping stands here"),
    ("vial-list.yaml", "vial: [C]\nreadings: {state: solid}\n", "'vial' takes a text"),
    ("key-list.yaml", "? [a, b]\n: c\nreadings: {state: solid}\n", "where a key is expected"),
    ("number-word.yaml", "readings: {melting range: hot}\n", "not a number"),
    ("number-huge.yaml", "readings: {melting range: 1e999}\n", "too large"),
    ("number-nan.yaml", "readings: {melting range: .nan}\n", "not a number"),
    ("number-range.yaml", "readings: {melting range: 90-80 °C}\n", "runs downwards"),
    ("number-unit.yaml", "readings: {density: 3 °C}\n", "not a unit of this reading"),
    ("number-cold.yaml", "readings: {melting range: -300 °C}\n", "lies outside"),
    # broken YAML
    ("duplicate.yaml", "vial: C\nvial: D\nreadings: {state: solid}\n", "second time"),
    ("duplicate2.yaml", "readings:\n  state: solid\n  state: liquid\n", "second time"),
    ("tab.yaml", "readings:\n\tstate: solid\n", "not valid YAML"),
    ("unclosed.yaml", "readings: {state: solid\n", "not valid YAML"),
    ("quote.yaml", 'readings: {state: "solid}\n', "not valid YAML"),
    ("indent.yaml", "readings:\n  state: solid\n lustre: dull\n", "not valid YAML"),
    ("two.yaml", GOOD + "---\n" + GOOD, "second document"),
    # YAML that bites
    ("bomb.yaml", BOMB, "anchors and aliases"),
    ("anchor.yaml", "vial: &x C\nreadings: {state: solid}\n", "anchors and aliases"),
    ("tag.yaml", "!!python/object/apply:os.system ['echo hacked']\n", "the tag"),
    ("tag2.yaml", "readings: {state: !!python/name:os.system solid}\n", "the tag"),
    ("tag3.yaml", "readings: !!binary c29saWQ=\n", "the tag"),
    ("deep.yaml", "readings: " + "[" * 100_000, "nest"),
    ("deep2.yaml", "readings: " + "{a: " * 5000, "nested more than"),
    ("deep3.yaml", "".join("  " * depth + "a:\n" for depth in range(300)), "nested more than"),
    ("many.yaml", "[" + "a," * 300_000 + "a]\n", "too many entries"),
    ("long.yaml", "readings: {state: " + "s" * 500_000 + "}\n", "not accepted"),
    ("vials.yaml", "vials:\n" + "- {readings: {state: solid}}\n" * 6000, "at most 5,000"),
    ("same.yaml", "- {vial: A, readings: {state: solid}}\n- {vial: A, readings: {state: gas}}\n", "occurs twice"),
    # CSV
    ("header.csv", "vial,state\n", "no row with a vial"),
    ("no-reading.csv", "name,price\nA,3\n", "no column is a reading"),
    ("column.csv", "vial,state,lustr\nA,solid,dull\n", "did you mean 'lustre'"),
    ("cells.csv", "vial,state\nA,solid,extra\n", "3 cells; the header has 2"),
    ("few.csv", "vial,state,lustre\nA,solid\n", "2 cells; the header has 3"),
    ("cell.csv", "vial,state\nA,sollid\n", "did you mean 'solid'"),
    ("columns.csv", "vial,state,state\nA,solid,solid\n", "occurs twice"),
    ("synonyms.csv", "vial,mp,melting point\nA,80,80\n", "given twice"),
    ("doubled.csv", "vial,state\nA,solid\nA,gas\n", "occurs twice"),
    ("quotes.csv", 'vial,state\nA,"solid\n', "not valid CSV"),
    ("rows.csv", "vial,state\n" + "".join(f"{n},solid\n" for n in range(7000)), "more than 5,000 rows"),
]


@pytest.mark.parametrize(("name", "content", "says"), BAD, ids=[name for name, _, _ in BAD])
def test_bad_file_ends_in_one_clear_fault(tmp_path: Path, name: str, content: str | bytes, says: str) -> None:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    started = time.monotonic()
    with pytest.raises(FaultyInputError) as caught:
        read_records(path, load_knowledge())
    assert time.monotonic() - started < 5
    assert type(caught.value) is FaultyInputError
    told = [str(fault) for fault in caught.value.faults]
    assert told
    assert says in "\n".join(told)
    for line in told:
        assert str(path) in line
        assert "\n" not in line
        assert line.isprintable()
        assert len(line) < 1500


def test_there_are_at_least_sixty_bad_files() -> None:
    assert len(BAD) >= 60


def test_nothing_in_a_file_is_ever_run(tmp_path: Path) -> None:
    mark = tmp_path / "ran"
    path = tmp_path / "run.yaml"
    path.write_text(f"!!python/object/apply:os.system ['touch {mark}']\n", encoding="utf-8")
    with pytest.raises(FaultyInputError):
        read_records(path, load_knowledge())
    assert not mark.exists()


def test_a_file_of_fifty_megabytes_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "big.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    started = time.monotonic()
    with pytest.raises(FaultyInputError, match="50,000,000 bytes"):
        read_records(path, load_knowledge())
    assert time.monotonic() - started < 1


def test_missing_file_names_the_nearest_one(tmp_path: Path) -> None:
    (tmp_path / "vial-c.yaml").write_text(GOOD, encoding="utf-8")
    with pytest.raises(FaultyInputError, match=r"no such file.*vial-c\.yaml"):
        read_records(tmp_path / "vail-c.yaml", load_knowledge())


def test_a_folder_without_records_is_told(tmp_path: Path) -> None:
    with pytest.raises(FaultyInputError, match="no record in this folder"):
        read_records(tmp_path, load_knowledge())


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes on this system")
def test_a_named_pipe_does_not_hang(tmp_path: Path) -> None:
    path = tmp_path / "pipe.yaml"
    os.mkfifo(path)
    with pytest.raises(FaultyInputError, match="not an ordinary file"):
        read_records(path, load_knowledge())


def test_impossible_names_are_faults() -> None:
    for name in ("a\0b.yaml", "x" * 5000):
        with pytest.raises(FaultyInputError):
            read_records(Path(name), load_knowledge())


@pytest.mark.parametrize(
    ("name", "content", "vials"),
    [
        ("no.yaml", "readings: {dry conductivity: no, smell: yes}\n", [""]),
        ("accents.yaml", "vial: Fläschchen №7 🧪\nreadings: {state: solid}\n", ["Fläschchen №7 🧪"]),
        ("windows.yaml", GOOD.replace("\n", "\r\n"), ["C"]),
        ("bom.yaml", b"\xef\xbb\xbf" + GOOD.encode(), ["C"]),
        ("json.json", '{"vial": "C", "readings": {"state": "solid"}}', ["C"]),
        ("list.yaml", "- {vial: A, readings: {state: solid}}\n- {vial: B, readings: {state: gas}}\n", ["A", "B"]),
        ("vials.yaml", "vials:\n- {vial: A, readings: {state: solid}}\n", ["A"]),
        ("empty-readings.yaml", "vial: C\nreadings:\n  state:\n", ["C"]),
        ("comma.csv", "vial,state\nA,solid\nB,\n", ["A", "B"]),
        ("semicolon.csv", "vial;state;notes\nA;solid;a, b\n", ["A"]),
        ("tab.tsv", "vial\tstate\nA\tsolid\n", ["A"]),
        ("windows.csv", "vial,state\r\nA,solid\r\n\r\n", ["A"]),
        ("bom.csv", b"\xef\xbb\xbfvial,state\nA,solid\n", ["A"]),
        ("accents.csv", "vial,state\nÄß 3,solid\n", ["Äß 3"]),
        ("no-vial.csv", "state,lustre\nsolid,dull\n", ["row 2"]),
        ("no-ending", "vial,state\nA,solid\n", ["A"]),
        ("formula.csv", 'vial,state\n"=1+1",solid\n', ["=1+1"]),
    ],
)
def test_good_files_of_every_kind_are_read(tmp_path: Path, name: str, content: str | bytes, vials: list[str]) -> None:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    assert [record.vial for record in read_records(path, load_knowledge())] == vials


def test_unquoted_no_is_an_answer(tmp_path: Path) -> None:
    path = tmp_path / "no.yaml"
    path.write_text("readings: {dry conductivity: no, solution conductivity: yes}\n", encoding="utf-8")
    assert read_records(path, load_knowledge())[0].readings == {
        "dry conductivity": "no glow",
        "solution conductivity": "bright glow",
    }


@pytest.mark.parametrize("content", ["", "rules: []\n", "- 3\n", BOMB, "[" * 50_000, "- {id: x}\n", "rules: {id: x}\n", "\0"])
def test_bad_rule_files_are_faults_too(tmp_path: Path, content: str) -> None:
    path = tmp_path / "rules.yaml"
    path.write_text(content, encoding="utf-8")
    for replace in (True, False):
        with pytest.raises(FaultyInputError) as caught:
            read_rules(path, load_knowledge(), replace=replace)
        assert str(path) in str(caught.value)


# --- more records ------------------------------------------------------------------------------------

# (name of the file, its content, where the first fault stands, part of its message)
PLACED: list[tuple[str, str | bytes, str, str]] = [
    # YAML: the line of the key or value that is wrong
    ("key.yaml", "vial: C\nreadngs:\n  state: solid\n", ", line 2", "did you mean 'readings'"),
    ("note.yaml", "vial: C\nnote: wet\nreadings: {}\n", ", line 2", "did you mean 'notes'"),
    ("reading.yaml", "vial: C\nreadings:\n  state: solid\n  lustr: dull\n", ", line 4", "did you mean 'lustre'"),
    ("value.yaml", "vial: C\nreadings:\n  state: solid\n  lustre: shinny\n", ", line 4", "did you mean 'metallic'"),
    ("flow.yaml", "{vial: C,\n readings: {\n  state: solid,\n  lustre: dul}}\n", ", line 4", "did you mean 'dull'"),
    ("list.yaml", "- vial: A\n  readings: {state: solid}\n- vial: B\n  readings: {state: sollid}\n", ", line 4", "'solid'"),
    ("duplicate.yaml", "readings:\n  state: solid\n  lustre: dull\n  state: solid\n", ", line 4", "second time"),
    ("tab.yaml", "vial: C\nreadings:\n\tstate: solid\n", ", line 3", "not valid YAML"),
    ("two.yaml", GOOD + "---\n" + GOOD, ", line 4", "second document"),
    ("anchor.yaml", "vial: C\nreadings:\n  state: &here solid\n", ", line 3", "anchors and aliases"),
    ("alias.yaml", "vial: C\nreadings:\n  state: *here\n", ", line 3", "anchors and aliases"),
    ("merge.yaml", "vial: C\n<<: {notes: x}\nreadings: {}\n", ", line 2", "'<<' is not a key"),
    ("tag-object.yaml", "vial: C\nreadings:\n  state: !!python/object/new:os.system [echo]\n", ", line 3", "the tag"),
    ("tag-own.yaml", "vial: C\nreadings: !mine {state: solid}\n", ", line 2", "the tag"),
    ("tag-int.yaml", "vial: !!int 7\nreadings: {state: solid}\n", ", line 1", "the tag"),
    ("directive.yaml", "%YAML 9.9\n---\nreadings: {state: solid}\n", ", line 1", "not valid YAML"),
    ("escape.yaml", 'vial: "\\uD800"\nreadings: {}\n', ", line 1", "not valid YAML"),
    ("colon.yaml", "vial: C\nreadings:\n  state: solid: liquid\n", ", line 3", "not valid YAML"),
    ("percent.yaml", "vial: C\nreadings:\n  state: %solid\n", ", line 3", "not valid YAML"),
    ("backtick.yaml", "vial: C\nreadings:\n  state: `solid`\n", ", line 3", "not valid YAML"),
    ("latin1.yaml", "vial: C\nnotes: brûlé\nreadings: {}\n".encode("latin-1"), ", line 2", "not UTF-8"),
    ("cp1252.yaml", "vial: C\nreadings:\n  melting range: 80 °C\n".encode("cp1252"), ", line 3", "not UTF-8"),
    ("cut.yaml", "vial: Ö".encode()[:-1], ", line 1", "not UTF-8"),
    ("utf32.yaml", GOOD.encode("utf-32"), ", line 1", "not UTF-8"),
    ("utf16le.yaml", GOOD.encode("utf-16-le"), "", "not a text file"),
    ("key-mapping.yaml", "readings:\n  ? {a: b}\n  : solid\n", ", line 2", "where a key is expected"),
    ("nan.yaml", "readings:\n  melting range: nan\n", ", line 2", "not a number"),
    ("inf.yaml", "readings:\n  boiling point: .inf\n", ", line 2", "not a number"),
    ("huge.yaml", "readings:\n  density: 1e999\n", ", line 2", "too large"),
    ("digits.yaml", "readings:\n  density: " + "9" * 5000 + "\n", ", line 2", "too large"),
    ("hex.yaml", "readings:\n  density: 0x1F\n", ", line 2", "is not a unit"),
    ("downwards.yaml", "readings:\n  melting range: 123–121 °C\n", ", line 2", "runs downwards"),
    ("colour-codes.yaml", 'readings:\n  state: "\\e[31msolid\\e[0m"\n', ", line 2", "not accepted"),
    ("newline.yaml", 'readings:\n  "sta\\nte": solid\n', ", line 2", "is not a reading"),
    ("bell.csv", "vial,state\nA,\x07solid\n", ", line 2", "not accepted"),
    ("bidi.yaml", 'readings:\n  state: "\\u202Esolid"\n', ", line 2", "not accepted"),
    ("alone.yaml", "'", ", line 1", "not valid YAML"),
    ("dashes.yaml", "---\n", ", line .*", "a bench record is expected"),
    ("vials-blank.yaml", "vials:\n", ", line 1", "'vials' is not a key"),
    ("vials-text.yaml", "vials: [A, B]\n", ", line 1", "a bench record is expected"),
    ("vials-more.yaml", "vials: []\nnotes: x\n", ", line 1", "'vials' is not a key"),
    # CSV: the line in the file, blank lines counted
    ("header.csv", "vial,state,lustr\nA,solid,dull\n", ", header", "did you mean 'lustre'"),
    ("cell.csv", "vial,state\nA,solid\n\nB,sollid\n", ", line 4", "did you mean 'solid'"),
    ("cells.csv", "vial,state\nA,solid\nB\n", ", line 3", "1 cells; the header has 2"),
    ("extra.csv", "vial,state\nA,solid,,\n", ", line 2", "4 cells; the header has 2"),
    ("quote.csv", 'vial,state\nA,"solid\nB,gas\n', ", line 3", "not valid CSV"),
    ("quote-inside.csv", 'vial,state\nA,"solid"x\n', ", line 2", "not valid CSV"),
    ("field.csv", "vial,state\nA," + "s" * 200_000 + "\n", ", line 2", "not valid CSV"),
    ("wide.csv", "vial,state\nA," + "solid," * 100_000 + "\n", ", line 2", "the header has 2"),
    ("folded.csv", 'vial,state,notes\nA,solid,"one\ntwo"\nB,sollid,\n', ", line 4", "did you mean 'solid'"),
    ("utf16.csv", "vial,state\nA,solid\n".encode("utf-16"), ", line 1", "not UTF-8"),
    ("latin1.csv", "vial,state\nFläschchen,solid\n".encode("latin-1"), ", line 2", "not UTF-8"),
    ("nul.csv", "vial,state\nA,so\0lid\n", "", "not a text file"),
    ("bom-twice.csv", b"\xef\xbb\xbf\xef\xbb\xbfvial,state\nA,solid\n", ", header", "is not a reading"),
    ("unit.csv", "vial,mp\nA,80 bar\n", ", line 2", "not a unit of this reading"),
    ("prose.csv", "Dear all,\nplease find the records below.\n", ", header", "no column is a reading"),
]


@pytest.mark.parametrize(("name", "content", "where", "says"), PLACED, ids=[name for name, _, _, _ in PLACED])
def test_fault_stands_at_its_place(tmp_path: Path, name: str, content: str | bytes, where: str, says: str) -> None:
    path = tmp_path / name
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    started = time.monotonic()
    with pytest.raises(FaultyInputError) as caught:
        read_records(path, load_knowledge())
    assert time.monotonic() - started < 5
    assert type(caught.value) is FaultyInputError
    fault = caught.value.faults[0]
    assert re.fullmatch(re.escape(str(path)) + where, fault.where)
    assert says in fault.says
    assert str(fault).isprintable()


def test_every_fault_of_a_file_is_told_in_one_go(tmp_path: Path) -> None:
    path = tmp_path / "many.yaml"
    path.write_text("vail: C\nreadings:\n  lustr: dull\n  state: sollid\n  mp: 90-80 °C\n", encoding="utf-8")
    with pytest.raises(FaultyInputError) as caught:
        read_records(path, load_knowledge())
    assert [fault.where for fault in caught.value.faults] == [f"{path}, line {line}" for line in (1, 3, 4, 5)]


def test_every_bad_row_of_a_sheet_is_told_in_one_go(tmp_path: Path) -> None:
    path = tmp_path / "many.csv"
    path.write_text("vial,state,lustre\nA,sollid,dull\nB,gas\nC,gas,shinny\nD,gas,dull\n", encoding="utf-8")
    with pytest.raises(FaultyInputError) as caught:
        read_records(path, load_knowledge())
    assert [fault.where for fault in caught.value.faults] == [f"{path}, line {line}" for line in (2, 3, 4)]


def test_a_million_rows_are_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "rows.csv"
    path.write_bytes(b"state\n" + b"gas\n" * 1_000_000)
    started = time.monotonic()
    with pytest.raises(FaultyInputError, match="bytes; at most"):
        read_records(path, load_knowledge())
    assert time.monotonic() - started < 1


@pytest.mark.parametrize("device", ["/dev/zero", "/dev/urandom", "/dev/null"])
def test_a_device_is_no_record(tmp_path: Path, device: str) -> None:
    if not Path(device).exists():
        pytest.skip("no such device on this system")
    path = tmp_path / "record.yaml"
    path.symlink_to(device)
    started = time.monotonic()
    with pytest.raises(FaultyInputError, match="not an ordinary file"):
        read_records(path, load_knowledge())
    assert time.monotonic() - started < 1


def test_a_link_to_itself_or_to_nothing_is_a_fault(tmp_path: Path) -> None:
    (tmp_path / "ring.yaml").symlink_to(tmp_path / "ring.yaml")
    (tmp_path / "nowhere.yaml").symlink_to(tmp_path / "gone.yaml")
    for name in ("ring.yaml", "nowhere.yaml", "ring.yaml/under.yaml"):
        with pytest.raises(FaultyInputError, match=name.partition(".")[0]):
            read_records(tmp_path / name, load_knowledge())


@pytest.mark.skipif(not hasattr(os, "geteuid") or os.geteuid() == 0, reason="everything is readable here")
def test_a_file_that_may_not_be_read_is_a_fault(tmp_path: Path) -> None:
    path = tmp_path / "locked.yaml"
    path.write_text(GOOD, encoding="utf-8")
    path.chmod(0)
    with pytest.raises(FaultyInputError, match="cannot be read"):
        read_records(path, load_knowledge())


def test_a_missing_file_in_a_missing_folder_is_a_fault(tmp_path: Path) -> None:
    with pytest.raises(FaultyInputError, match="no such file"):
        read_records(tmp_path / "gone" / "r.yaml", load_knowledge())


# --- good files are read right -----------------------------------------------------------------------

READ_RIGHT: list[tuple[str, str, list[Record]]] = [
    ("no.yaml", "readings: {dry conductivity: no, smell: yes, foam: No}\n",
     [Record({"dry conductivity": "no glow", "smell": "smell", "foam": "no foam"})]),
    ("minus.yaml", "readings: {melting range: −20 °C}\n", [Record({"melting range": Interval(253.15, 253.15, "°C")})]),
    ("bare.yaml", "readings: {melting range: 121-123}\n",
     [Record({"melting range": Interval(394.15, 396.15, "°C")}, assumed_units=("melting range",))]),
    ("quoted.yaml", "readings: {melting range: '121-123 °C'}\n", [Record({"melting range": Interval(394.15, 396.15, "°C")})]),
    ("open.yaml", "readings: {melting range: '> 300 °C'}\n", [Record({"melting range": Interval(573.15, float("inf"), "°C")})]),
    ("left-out.yaml", "vial: C\nreadings: {state: solid, lustre: , smell: null, colour: unclear, foam: ~}\n",
     [Record({"state": "solid"}, vial="C", unclear=("colour",))]),
    ("windows.csv", "vial,state,melting range\r\nA,solid,121-123 °C\r\n",
     [Record({"state": "solid", "melting range": Interval(394.15, 396.15, "°C")}, vial="A")]),
    ("mac.csv", "vial,state\rA,solid\rB,gas\r", [Record({"state": "solid"}, vial="A"), Record({"state": "gas"}, vial="B")]),
    ("bom.csv", "\ufeffvial,state\nA,solid\n", [Record({"state": "solid"}, vial="A")]),
    ("semicolon.csv", "label;mp;remarks\nA;80,5 °C;wet, sticky\n",
     [Record({"melting range": Interval(353.65, 353.65, "°C")}, vial="A", notes="wet, sticky")]),
    ("tab.tsv", "Vial\tState\tDry Conductivity\nA\tSOLID\tno\n", [Record({"state": "solid", "dry conductivity": "no glow"}, vial="A")]),
    ("quotes.csv", 'vial,state,notes\n"A, first",solid,"said ""wet"""\n',
     [Record({"state": "solid"}, vial="A, first", notes='said "wet"')]),
    ("folded.csv", 'vial,state,notes\nA,solid,"one\ntwo"\n', [Record({"state": "solid"}, vial="A", notes="one two")]),
    ("blank-rows.csv", "\n\nvial,state\n\n,\n\nA,solid\n", [Record({"state": "solid"}, vial="A")]),
    ("unlabelled.csv", "state\nsolid\n\ngas\n", [Record({"state": "solid"}, vial="row 2"), Record({"state": "gas"}, vial="row 4")]),
    ("labels.yaml", "- {vial: Ω-7, readings: {state: gas}}\n- {vial: 试管, readings: {state: gas}}\n- {vial: no, readings: {}}\n",
     [Record({"state": "gas"}, vial="Ω-7"), Record({"state": "gas"}, vial="试管"), Record({}, vial="no")]),
    ("block.yaml", "# rinsed twice\nvial: C   # third shelf\nnotes: >-\n  smells\n  sweet\nreadings:\n  smell: yes\n",
     [Record({"smell": "smell"}, vial="C", notes="smells sweet")]),
    ("json.json", '{"vial": "C", "readings": {"state": "solid", "melting range": "80 K"}}',
     [Record({"state": "solid", "melting range": Interval(80, 80, "K")}, vial="C")]),
    ("long.yaml", "vial: C\nnotes: " + "wet " * 200_000 + "\nreadings: {state: solid}\n",
     [Record({"state": "solid"}, vial="C", notes=("wet " * 200_000).strip())]),
    ("upper.YML", GOOD, [Record({"state": "solid"}, vial="C")]),
]  # fmt: skip


@pytest.mark.parametrize(("name", "content", "records"), READ_RIGHT, ids=[name for name, _, _ in READ_RIGHT])
def test_good_file_gives_the_right_readings(tmp_path: Path, name: str, content: str, records: list[Record]) -> None:
    path = tmp_path / name
    path.write_bytes(content.encode())
    assert [about(record) for record in read_records(path, load_knowledge())] == [about(record) for record in records]


def about(record: Record) -> tuple[object, ...]:
    """A record for comparison, with its numbers to six decimals."""
    readings = {
        name: value if isinstance(value, str) else (round(value.low, 6), round(value.high, 6), value.unit)
        for name, value in record.readings.items()
    }
    return readings, record.vial, record.unclear, record.notes, record.assumed_units


# --- known faults ------------------------------------------------------------------------------------


def refused_in_time(path: Path, content: str) -> None:
    """The file is refused within the time that people wait, and not with a book of faults."""
    path.write_text(content, encoding="utf-8")
    started = time.monotonic()
    with pytest.raises(FaultyInputError) as caught:
        read_records(path, load_knowledge())
    assert len(str(caught.value)) < 1_000_000
    assert time.monotonic() - started < 5


def test_thousands_of_unknown_readings_do_not_take_minutes(tmp_path: Path) -> None:
    refused_in_time(tmp_path / "keys.yaml", "readings: {" + ", ".join(f"lustre{number}: x" for number in range(10_000)) + "}\n")


def test_thousands_of_unknown_columns_do_not_take_minutes(tmp_path: Path) -> None:
    refused_in_time(tmp_path / "columns.csv", "state," + ",".join(f"lustre{number}" for number in range(10_000)) + "\nsolid\n")


def test_a_second_list_of_vials_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "vials.yaml"
    path.write_text(
        "vials: [{vial: A, readings: {state: solid}}]\nvials: [{vial: B, readings: {state: gas}}]\n", encoding="utf-8"
    )
    with pytest.raises(FaultyInputError, match="second time"):
        read_records(path, load_knowledge())


def test_two_columns_of_labels_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "labels.csv"
    path.write_text("vial,label,state\nA,B,solid\n", encoding="utf-8")
    with pytest.raises(FaultyInputError, match="label"):
        read_records(path, load_knowledge())


@pytest.mark.parametrize("sign", ["\x0b", "\x0c", "\x85", "\u2028", "\u2029"])
def test_a_row_ends_only_at_a_line_end(tmp_path: Path, sign: str) -> None:
    path = tmp_path / "pasted.csv"
    path.write_text(f"vial,state,notes\nA,solid,one{sign}two\n", encoding="utf-8")
    (record,) = read_records(path, load_knowledge())
    assert about(record) == about(Record({"state": "solid"}, vial="A", notes="one two"))


@pytest.mark.parametrize("name", ["a\x1b[31mb.yaml", "a\nb.yaml", "a\0b.yaml"])
def test_a_name_with_control_characters_is_told_without_them(tmp_path: Path, name: str) -> None:
    with pytest.raises(FaultyInputError) as caught:
        read_records(tmp_path / name, load_knowledge())
    assert str(caught.value).isprintable()


# --- rule files ----------------------------------------------------------------------------------------

RULE = """\
- id: mine
  because: Since.
  when: {all: [{reading: state, is: solid}]}
  adds: [mobile electrons]
  source: {key: judgement}
"""

# (name of the test, content, where the first fault stands, part of its message)
RULES: list[tuple[str, str | bytes, str, str]] = [
    # empty and not text
    ("empty", "", "", "empty"),
    ("comments", "# nothing\n", "", "empty"),
    ("bom", b"\xef\xbb\xbf", "", "empty"),
    ("binary", bytes(range(256)) * 8, ", line .*", "not UTF-8"),
    ("nul", RULE + "\0", "", "not a text file"),
    ("utf16", RULE.encode("utf-16"), ", line 1", "not UTF-8"),
    ("latin1", RULE.replace("Since.", "Öl.").encode("latin-1"), ", line 2", "not UTF-8"),
    # not a rule base
    ("text", "hello\n", ", line 1", "'key: value' pairs are accepted"),
    ("list-of-text", "- hello\n", ", line 1.*", "'key: value' pairs are accepted"),
    ("list-of-lists", "- [hello]\n", ", line 1.*", "'key: value' pairs are accepted"),
    ("no-rule", "rules: []\n", "", "no rule in the file"),
    ("empty-list", "[]\n", "", "no rule in the file"),
    ("rules-mapping", "rules: {id: x}\n", ", line 1.*", "a list is accepted"),
    ("rules-blank", "rules:\n", ", line 1.*", "a list is accepted"),
    # keys and types
    ("key", RULE.replace("adds", "add"), ", line 4.*", "did you mean 'adds'"),
    ("part", RULE.replace("all:", "al:"), ", line 3.*", "did you mean 'all'"),
    ("missing", RULE.replace("  because: Since.\n", ""), ", line 1.*", "'because' is missing"),
    ("duplicate", RULE + "  id: again\n", ", line 6.*", "second time"),
    ("when-list", RULE.replace("{all: [{reading: state, is: solid}]}", "[solid]"), ", line 3.*", "pairs are accepted"),
    ("all-text", RULE.replace("[{reading: state, is: solid}]", "solid"), ", line 3.*", "a list is accepted"),
    ("is-mapping", RULE.replace("is: solid", "is: {a: b}"), ", line 3.*", "a list is accepted"),
    ("id-list", RULE.replace("id: mine", "id: [mine]"), ", line 1.*", "text is accepted"),
    ("source-text", RULE.replace("{key: judgement}", "judgement"), ", line 5.*", "pairs are accepted"),
    (
        "weight",
        RULE + "  weighs: {cause: charge carriers, for: {ionic: massive}}\n",
        ", line 6.*",
        "hint, supporting, strong, decisive",
    ),
    (
        "weight-number",
        RULE + "  weighs: {cause: charge carriers, for: {ionic: 10}}\n",
        ", line 6.*",
        "hint, supporting, strong, decisive",
    ),
    ("key-list", RULE + "  ? [a]\n  : b\n", ", line 6.*", "where a key is expected"),
    ("place", RULE + "  place: {file: x, line: 3}\n", ", line 6.*", "'place' is not a key"),
    # bounds
    ("bound-word", RULE.replace("reading: state, is: solid", "reading: melting range, above: hot"), ", line 1.*", "not a number"),
    ("bound-nan", RULE.replace("reading: state, is: solid", "reading: melting range, above: nan"), ", line 1.*", "not a number"),
    ("bound-huge", RULE.replace("reading: state, is: solid", "reading: melting range, above: 1e999"), ", line 1.*", "too large"),
    (
        "bound-unit",
        RULE.replace("reading: state, is: solid", "reading: melting range, above: 3 g/mL"),
        ", line 1.*",
        "not a unit",
    ),
    ("bound-none", RULE.replace("reading: state, is: solid", "reading: melting range"), ", line 1.*", "is a number; give above"),
    ("values-none", RULE.replace(", is: solid", ""), ", line 1.*", "has a list of values"),
    # YAML that bites
    ("tab", RULE.replace("  adds", "\tadds"), ", line 4", "not valid YAML"),
    ("unclosed", RULE.replace("solid}]}", "solid"), ", line .*", "not valid YAML"),
    ("two", RULE + "---\n" + RULE, ", line 6", "second document"),
    ("bomb", BOMB, ", line 1", "anchors and aliases"),
    ("anchor", RULE.replace("Since.", "&a Since."), ", line 2", "anchors and aliases"),
    ("tag", "!!python/object/apply:os.system ['echo hacked']\n", ", line 1", "the tag"),
    ("tag-inside", RULE.replace("Since.", "!!python/name:os.system Since."), ", line 2", "the tag"),
    ("deep", "[" * 100_000, ", line 1", "nest"),
    ("deep-block", "".join("  " * depth + "a:\n" for depth in range(300)), ", line .*", "nested more than"),
    ("many", "[" + "a," * 300_000 + "a]\n", ", line 1", "too many entries"),
    ("control", RULE.replace("Since.", "Sin\x1bce."), ".*", "not valid YAML"),
    ("escape", RULE.replace("mobile electrons", '"\\e[31mmobile"'), ", line 4.*", "holds control characters"),
    ("long", RULE.replace("solid", "s" * 500_000), ", line 1.*", "is not a value of 'state'"),
]


@pytest.mark.parametrize(("content", "where", "says"), [case[1:] for case in RULES], ids=[case[0] for case in RULES])
@pytest.mark.parametrize("replace", [True, False])
def test_bad_rule_file_ends_in_clear_faults(tmp_path: Path, content: str | bytes, where: str, says: str, replace: bool) -> None:
    path = tmp_path / "rules.yaml"
    path.write_bytes(content if isinstance(content, bytes) else content.encode())
    started = time.monotonic()
    with pytest.raises(FaultyInputError) as caught:
        read_rules(path, load_knowledge(), replace=replace)
    assert time.monotonic() - started < 5
    assert type(caught.value) is FaultyInputError
    fault = caught.value.faults[0]
    assert re.fullmatch(re.escape(str(path)) + where, fault.where)
    assert says in fault.says
    for fault in caught.value.faults:
        assert str(fault).isprintable()
        assert len(str(fault)) < 10_000


def test_a_rule_file_is_an_ordinary_file_too(tmp_path: Path) -> None:
    (tmp_path / "rules.yaml").write_text(RULE, encoding="utf-8")
    for path, says in (
        (tmp_path, "a folder"),
        (tmp_path / "rule.yaml", r"rules\.yaml"),
        (tmp_path / "rules.yaml" / "x", "no such file|cannot be read"),
        (Path("a\0b"), "no such file|cannot be read"),
    ):
        with pytest.raises(FaultyInputError, match=says):
            read_rules(path, load_knowledge(), replace=True)


def test_a_huge_rule_file_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "rules.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)
    started = time.monotonic()
    with pytest.raises(FaultyInputError, match="50,000,000 bytes"):
        read_rules(path, load_knowledge(), replace=True)
    assert time.monotonic() - started < 1


@pytest.mark.parametrize("text", [RULE, "rules:\n" + RULE, "\ufeff" + RULE, RULE.replace("\n", "\r\n"), "# mine\n\n" + RULE])
def test_good_rule_file_is_read(tmp_path: Path, text: str) -> None:
    path = tmp_path / "rules.yaml"
    path.write_bytes(text.encode())
    base = load_knowledge()
    assert [rule.id for rule in read_rules(path, base, replace=True).rules] == ["mine"]
    assert [rule.id for rule in read_rules(path, base, replace=False).rules] == [*(rule.id for rule in base.rules), "mine"]
    assert "mine" not in {rule.id for rule in load_knowledge().rules}


@pytest.mark.parametrize("key", [r"a\e[31mb", r"a\nb"])
def test_a_key_with_control_characters_is_told_without_them(tmp_path: Path, key: str) -> None:
    path = tmp_path / "rules.yaml"
    path.write_text(RULE + f'  weighs: {{cause: charge carriers, for: {{"{key}": x}}}}\n', encoding="utf-8")
    with pytest.raises(FaultyInputError) as caught:
        read_rules(path, load_knowledge(), replace=True)
    assert all(str(fault).isprintable() for fault in caught.value.faults)


def test_a_rule_with_an_endless_id_is_told_briefly(tmp_path: Path) -> None:
    path = tmp_path / "rules.yaml"
    path.write_text(RULE.replace("mine", "m" * 100_000).replace("mobile electrons", "nothing"), encoding="utf-8")
    with pytest.raises(FaultyInputError) as caught:
        read_rules(path, load_knowledge(), replace=True)
    assert len(str(caught.value)) < 10_000


def test_spaces_before_a_number_in_an_example_take_no_time(tmp_path: Path) -> None:
    path = tmp_path / "rules.yaml"
    path.write_text(RULE + f'  fires_on: [{{melting range: "{" " * 12_000}x"}}]\n', encoding="utf-8")
    started = time.monotonic()
    with pytest.raises(FaultyInputError):
        read_rules(path, load_knowledge(), replace=True)
    assert time.monotonic() - started < 0.5
