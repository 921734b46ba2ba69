"""All sheets of a set, each with the place it is written to."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.sets import UnknownsSet, Version, check_set, difficulty, make_key, make_versions, prepare
from spotplate.engine.sets.checking import reachable_tests, set_rows
from spotplate.kb import KnowledgeBase

from .labels import Hazards, LabelText, teachers_labels, vial_hazards, vial_labels
from .preparing import PreparationContents, preparation_list, waste_notes
from .printed import FOR_STUDENTS, FOR_TEACHER, Printed, one_line, program_version
from .secrecy import check_kept_secret
from .students import Handout, student_sheet
from .teacher import KeyContents, teachers_key


class Printing(msgspec.Struct, frozen=True):
    """
    How a set is printed.

    Every one of `groups` groups gets all vials; with a `seed`, each under letters of its own. `title` stands in place of the
    name of the set. `amounts` maps tests to what one trial takes [g of a solid, mL of a liquid or gas].
    """

    groups: int = 1
    seed: int | None = None
    date: str = ""
    title: str = ""
    hazards: Hazards = Hazards.EACH
    amounts: dict[str, float] = {}


def sheets_of(unknowns_set: UnknownsSet, printing: Printing, knowledge: KnowledgeBase) -> tuple[Printed, ...]:
    """
    Students' sheets and labels, and the teacher's key, labels, preparation list and notes on waste.

    Raises
    ------
    FaultyInputError
        If the set is faulty, or a text for the students' pages tells what is in the vials
    """
    return (
        *sheets_for_students(unknowns_set, printing, knowledge),
        *sheets_for_teacher(unknowns_set, printing, knowledge),
    )


def sheets_for_students(unknowns_set: UnknownsSet, printing: Printing, knowledge: KnowledgeBase) -> Iterator[Printed]:
    """What may be given out: a sheet for each group, and the labels for all vials."""
    set_rows(unknowns_set, knowledge)  # refuses a faulty set
    text, inside = _text(unknowns_set, printing), _inside(unknowns_set)
    heading = "option --title" if printing.title else "the name of the set"
    check_kept_secret({heading: text.title, "option --date": text.date}, unknowns_set, inside)
    tests, _ = reachable_tests(unknowns_set.tests, knowledge)
    handout = Handout(text.title, tuple(vial.label for vial in unknowns_set.vials), tests, 1, printing.groups, text.date)
    digits = len(str(printing.groups))
    for group in range(1, printing.groups + 1):
        sheet = student_sheet(msgspec.structs.replace(handout, group=group), knowledge, program_version())
        yield Printed(FOR_STUDENTS, f"sheet-group-{group:0{digits}}" if printing.groups > 1 else "sheet", sheet)
    hazards = vial_hazards(tuple(inside.values()), printing.hazards)
    versions = _versions(unknowns_set, printing)
    on_vials = [[(group.group, vial.label, hazards[vial.substance]) for vial in group.vials] for group in versions]
    yield Printed(FOR_STUDENTS, "vial-labels", vial_labels(text, on_vials, program_version()))


def sheets_for_teacher(unknowns_set: UnknownsSet, printing: Printing, knowledge: KnowledgeBase) -> Iterator[Printed]:
    """What gives the answers away: key, preparation list, labels with names, notes on waste."""
    preparation = prepare(unknowns_set, knowledge, printing.groups, printing.amounts)
    check, key = check_set(unknowns_set, knowledge), make_key(unknowns_set, knowledge)
    text, inside, version = _text(unknowns_set, printing), _inside(unknowns_set), program_version()
    versions = _versions(unknowns_set, printing)
    contents = KeyContents(
        text.title, text.date, check, key, difficulty(unknowns_set, knowledge, key=key), versions, printing.seed, inside,
        {row.name: row for row in load_reference().rows if row.name in inside},
    )  # fmt: skip
    yield Printed(FOR_TEACHER, "key", teachers_key(contents, knowledge, version))
    ready = PreparationContents(text.title, text.date, check, preparation, inside, printing.amounts)
    yield Printed(FOR_TEACHER, "preparation", preparation_list(ready, knowledge, version))
    hazards = vial_hazards(tuple(inside.values()), printing.hazards)
    formulas = {name: substance.formula for name, substance in inside.items()}
    named = teachers_labels(text, versions, hazards, formulas, version)
    yield Printed(FOR_TEACHER, "vial-labels-with-names", named)
    yield Printed(FOR_TEACHER, "waste", waste_notes(ready, version))


def _text(unknowns_set: UnknownsSet, printing: Printing) -> LabelText:
    return LabelText(one_line(printing.title or unknowns_set.name), one_line(printing.date), printing.groups)


def _inside(unknowns_set: UnknownsSet) -> dict[str, Substance]:
    """The substances of the set by name, in the order of their vials."""
    table = {substance.name: substance for substance in load_substances()}
    return {vial.substance: table[vial.substance] for vial in unknowns_set.vials}


def _versions(unknowns_set: UnknownsSet, printing: Printing) -> tuple[Version, ...]:
    if printing.seed is None:
        return tuple(Version(group, unknowns_set.vials) for group in range(1, printing.groups + 1))
    return make_versions(unknowns_set, printing.groups, printing.seed)
