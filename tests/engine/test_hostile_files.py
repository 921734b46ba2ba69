"""Files that people, or somebody who means harm, may bring: one clear fault each, quickly, and nothing run."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest

from spotplate.engine import FaultyInputError, load_knowledge, read_records, read_rules

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
    told = [str(fault) for fault in caught.value.faults]
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


def test_folder_is_no_file(tmp_path: Path) -> None:
    with pytest.raises(FaultyInputError, match="a folder"):
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
