"""Unknowns sets as YAML files."""

from __future__ import annotations

import itertools
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate import datasets
from spotplate.datasets import load_substances
from spotplate.engine import FaultyInputError, load_knowledge
from spotplate.engine.files.cupboards import read_cupboard
from spotplate.engine.files.sets import read_set, set_as_text, set_from_text, write_set
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.sets import UnknownsSet, Vial, parted_by

DEMO = Path(datasets.__file__).parent / "demo"
GOOD = """\
set: First round
told apart by at least: 1
tests: [Water test, solution acidity]
vials:
  A: table sugar
  no: NaCl
  '007': 7782-42-5
notes: two powders
"""


def read(text: str) -> UnknownsSet:
    return set_from_text(text, "set.yaml", load_knowledge())


def test_substances_and_tests_go_by_any_of_their_names_and_labels_stay_text() -> None:
    # 7782-42-5 is printed on bottles of graphite, whether rod or powder.
    found = read(GOOD.replace("7782-42-5", "graphite"))
    assert found.vials == (Vial("A", "sucrose"), Vial("no", "sodium chloride"), Vial("007", "graphite"))
    assert found.tests == ("water test", "litmus test")
    assert (found.name, found.parted_at_least, found.notes) == ("First round", 1, "two powders")


def test_without_tests_a_set_is_for_all_of_them_and_two_must_part() -> None:
    found = read("set: x\nvials: {A: sand}\n")
    assert found.tests == tuple(load_knowledge().tests)
    assert found.parted_at_least == 2


BAD = [
    ("", "", "no entries"),
    ("# nothing\n", "", "no entries"),
    ("- a\n", "line 1", "'key: value' pairs are accepted"),
    ("vials: {A: sand}\n", "", "the key 'set' is missing"),
    ("set: x\n", "", "the key 'vials' is missing"),
    ("set: x\nvails: {A: sand}\n", "line 2", "did you mean 'vials'?"),
    ("set: x\nvials: {}\n", "line 2, vials", "0 vials"),
    ("set: x\nvials: [sand]\n", "line 2, vials", "'key: value' pairs are accepted"),
    ("set: x\nvials:\n  A: sand\n  B: sodium chlorid\n", "line 4, vials.B", "did you mean 'sodium chloride'?"),
    ("set: x\nvials: {A: chalk}\n", "line 2, vials.A", "may mean several substances"),
    ("set: x\nvials: {A: sand, A: copper}\n", "line 2, vials", "second time"),
    ("set: x\nvials: {A: sand, a: copper}\n", "vials", "the label 'a' is there twice"),
    ("set: x\nvials: {'': sand}\n", "vials", "no label for a vial"),
    ("set: x\nvials: {" + "A" * 21 + ": sand}\n", "vials", "no label for a vial"),
    ("set: x\nvials: {A: sand}\ntests: [watr test]\n", "line 3, tests", "did you mean 'water test'?"),
    ("set: x\nvials: {A: sand}\ntold apart by at least: 4\n", "line 3", "1, 2 or 3 tests"),
    ("set: x\nvials: {A: sand}\ntold apart by at least: two\n", "line 3", "not a number"),
    ("set: ''\nvials: {A: sand}\n", "line 1, set", "1 to 120 characters"),
    ("set: &a x\nvials: {A: *a}\n", "line 1", "anchors and aliases"),
    ("set: !!python/name:os.system x\nvials: {A: sand}\n", "line 1", "the tag"),
    ("set: x\nvials: {" + ", ".join(f"V{number}: sand" for number in range(101)) + "}\n", "vials", "101 vials"),
]


@pytest.mark.parametrize(("text", "where", "says"), BAD, ids=[f"{says} ({number})" for number, (_, _, says) in enumerate(BAD)])
def test_a_fault_is_told_with_its_place(text: str, where: str, says: str) -> None:
    with pytest.raises(FaultyInputError) as caught:
        read(text)
    assert any(where in fault.where and says in fault.says for fault in caught.value.faults), caught.value


def test_all_faults_are_told_together() -> None:
    with pytest.raises(FaultyInputError) as caught:
        read("set: x\nvials:\n  A: chalk\n  B: fish\ntests: [wood]\ntold apart by at least: 9\n")
    assert len(caught.value.faults) == 4


_NAMES = [substance.name for substance in load_substances()]
_TESTS = list(load_knowledge().tests)
_PLAIN = st.text(st.characters(codec="utf-8"), min_size=1, max_size=20)
_LABELS = _PLAIN.filter(lambda text: text.isprintable() and " ".join(text.split()) == text)


@given(
    name=st.sampled_from(["First round", "no", "=1+1", "a: b # c", "'", "{x}", "007", "- x", "ß & <b>"]),
    vials=st.dictionaries(_LABELS, st.sampled_from(_NAMES), min_size=1, max_size=6),
    tests=st.lists(st.sampled_from(_TESTS), min_size=1, max_size=5, unique=True),
    parted=st.integers(1, 3),
    notes=st.sampled_from(["", "one", "two\nlines: here\n  = and more", "'\"\\", "#"]),
)
def test_a_set_that_was_written_is_read_as_the_same(
    name: str, vials: dict[str, str], tests: list[str], parted: int, notes: str
) -> None:
    if len({label.casefold() for label in vials}) < len(vials):
        return
    made = UnknownsSet(name, tuple(itertools.starmap(Vial, vials.items())), tuple(tests), parted, notes)
    assert read(set_as_text(made)) == made


def test_writing_is_whole_or_not_at_all_and_over_nothing(tmp_path: Path) -> None:
    made, path = read(GOOD.replace("7782-42-5", "graphite")), tmp_path / "set.yaml"
    knowledge = load_knowledge()
    write_set(made, path, knowledge)
    assert read_set(path, knowledge) == made
    assert path.read_text(encoding="utf-8").startswith("# Unknowns set. It holds the key")
    with pytest.raises(FaultyInputError, match="there already"):
        write_set(made, path, knowledge)
    write_set(made, path, knowledge, over=True)
    broken = UnknownsSet("x", (Vial("A", "fish"),), ("look",))
    with pytest.raises(FaultyInputError, match="'fish'"):
        write_set(broken, tmp_path / "broken.yaml", knowledge)
    assert [entry.name for entry in tmp_path.iterdir()] == ["set.yaml"]


def test_control_characters_in_a_name_or_notes_are_not_written() -> None:
    text = set_as_text(UnknownsSet("a\x1b[31mb\nc", (Vial("A", "sand"),), ("look",), notes="x\x07y\n\u202ez"))
    assert read(text).name == "a [31mb c"
    assert read(text).notes == "x y\n z"


# --- the demo ------------------------------------------------------------------------------------


def test_any_two_vials_of_the_demo_set_are_parted_by_two_tests_that_a_student_can_do() -> None:
    knowledge = load_knowledge()
    demo = read_set(DEMO / "set.yaml", knowledge)
    rows = {row.name: row for row in load_reference().rows}
    names = [vial.substance for vial in demo.vials]
    assert (len(names), demo.parted_at_least) == (8, 2)
    assert not any(knowledge.tests[test].teacher for test in demo.tests)
    for first, second in itertools.combinations(names, 2):
        assert len(parted_by(rows[first], rows[second], demo.tests, knowledge)) >= 2, (first, second)


def test_the_tests_of_the_demo_set_bring_the_readings_they_need() -> None:
    knowledge = load_knowledge()
    tests = read_set(DEMO / "set.yaml", knowledge).tests
    for test in tests:
        for need in knowledge.tests[test].needs:
            assert need.reading
            assert knowledge.test_of[need.reading].id in tests


def test_the_demo_set_is_safe_for_students_and_comes_from_the_demo_cupboard() -> None:
    table = {substance.name: substance for substance in load_substances()}
    demo = read_set(DEMO / "set.yaml", load_knowledge())
    held = read_cupboard(DEMO / "cupboard.csv").substances()
    irritating_at_most = {"H315", "H319", "H335"}
    for vial in demo.vials:
        assert vial.substance in held
        assert table[vial.substance].school_use == "students"
        assert set(table[vial.substance].hazards()) <= irritating_at_most
    assert {table[vial.substance].class_ for vial in demo.vials} == set(load_knowledge().classes)
