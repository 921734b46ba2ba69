"""Unknowns sets as YAML: what the teacher keeps of a set, its key included."""

from __future__ import annotations

from pathlib import Path

import msgspec
import yaml

from spotplate.engine.lookup import find_substance
from spotplate.engine.record import find_test
from spotplate.engine.sets.unknowns_set import UnknownsSet, Vial
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, compose, not_accepted, printable, read_into, shown

from .text import read_text
from .writing import write_whole

MOST_VIALS = 100
_LONGEST_LABEL = 20  # characters; a longer one has no room on a vial
_LONGEST_NAME = 120  # characters
_HEAD = "# Unknowns set. It holds the key: which substance is in which vial. Keep it from those who work with the vials.\n"


class _WrittenSet(msgspec.Struct, frozen=True, rename={"parted_at_least": "told apart by at least"}):
    """The file as it stands, before names are looked up."""

    set: str
    vials: dict[str, str]
    parted_at_least: int = 2
    tests: tuple[str, ...] = ()
    notes: str = ""


def read_set(path: Path, knowledge: KnowledgeBase) -> UnknownsSet:
    """
    The unknowns set in a file; without `tests` it is for all tests of the knowledge base.

    Raises
    ------
    FaultyInputError
        With every fault in the file; those of the key have "vials" in `where`
    """
    return set_from_text(read_text(path), str(path), knowledge)


def set_from_text(text: str, file: str, knowledge: KnowledgeBase) -> UnknownsSet:
    """The same from text that is already in memory; `file` is what error messages call it."""
    node = compose(text, file) if text.strip() else None
    if node is None:
        raise FaultyInputError([Fault(file, "the file holds no entries; an unknowns set is accepted.")])
    written = read_into(_WrittenSet, node, file)
    lines = _lines(node)
    faults: list[Fault] = []

    def fault(says: str, *place: str) -> None:
        line = f", line {lines[place]}" if place in lines else ""
        faults.append(Fault(f"{file}{line}, {'.'.join(place)}", says))

    name = " ".join(written.set.split())
    if not name or len(name) > _LONGEST_NAME:
        fault(f"a name of 1 to {_LONGEST_NAME} characters is accepted.", "set")
    if written.parted_at_least not in (1, 2, 3):
        fault(f"{written.parted_at_least} stands here; 1, 2 or 3 tests are accepted.", "told apart by at least")
    if not 1 <= len(written.vials) <= MOST_VIALS:
        fault(f"there are {len(written.vials):,} vials; 1 to {MOST_VIALS} are accepted.", "vials")
        raise FaultyInputError(faults)
    tests = {test: find_test(test, knowledge) for test in written.tests}
    for test, found in tests.items():
        if found is None:
            fault(not_accepted(test, "a bench test", list(knowledge.tests), most=30), "tests")
    vials = []
    for label, substance in written.vials.items():
        try:
            _check_label(label)
            vials.append(Vial(" ".join(label.split()), find_substance(substance).name))
        except FaultyInputError as error:
            for says in error.faults:
                fault(says.says, "vials", label)
    for label in _doubled([vial.label for vial in vials]):
        fault(f"the label {shown(label)} is there twice; capital letters and blanks do not part labels.", "vials")
    if faults:
        raise FaultyInputError(faults)
    kept = tuple(dict.fromkeys(found.id for found in tests.values() if found)) or tuple(knowledge.tests)
    return UnknownsSet(name, tuple(vials), kept, written.parted_at_least, written.notes.strip())


def write_set(unknowns_set: UnknownsSet, path: Path, knowledge: KnowledgeBase, *, over: bool = False, where: str = "") -> None:
    """
    Write a set so that `read_set` gives the same one; text from people becomes plain text in it.

    Raises
    ------
    FaultyInputError
        If the file is there and `over` is false, or the set could not be read again
    """
    text = set_as_text(unknowns_set)
    set_from_text(text, str(path), knowledge)  # never leave a file that could not be read again
    write_whole(path, text.encode("utf-8"), over=over, where=where)


def set_as_text(unknowns_set: UnknownsSet) -> str:
    """A set as YAML."""
    entries: dict[str, object] = {
        "set": _one_line(unknowns_set.name),
        "told apart by at least": unknowns_set.parted_at_least,
        "tests": list(unknowns_set.tests),
        "vials": {vial.label: vial.substance for vial in unknowns_set.vials},
    }
    if unknowns_set.notes.strip():
        entries["notes"] = "\n".join(printable(line) for line in unknowns_set.notes.strip().splitlines())
    return _HEAD + yaml.safe_dump(entries, allow_unicode=True, sort_keys=False, width=120)


def _one_line(text: str) -> str:
    return " ".join(printable(text).split())


def _check_label(label: str) -> None:
    if not label.strip() or len(label) > _LONGEST_LABEL or not label.isprintable():
        raise FaultyInputError([Fault("", f"{shown(label)} is no label for a vial; up to {_LONGEST_LABEL} signs are accepted.")])


def _doubled(labels: list[str]) -> list[str]:
    seen: set[str] = set()
    doubled = []
    for label in labels:
        if label.casefold() in seen:
            doubled.append(label)
        seen.add(label.casefold())
    return doubled


def _lines(node: yaml.Node) -> dict[tuple[str, ...], int]:
    """The line of every key, and of every vial."""
    found: dict[tuple[str, ...], int] = {}
    for key, value in node.value:
        found[(key.value,)] = key.start_mark.line + 1
        if key.value == "vials" and isinstance(value, yaml.MappingNode):
            found |= {("vials", label.value): label.start_mark.line + 1 for label, _ in value.value}
    return found
