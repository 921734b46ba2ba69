"""All sheets of a set, each with the place it is written to."""

from __future__ import annotations

from collections.abc import Iterator

import msgspec

from spotplate.datasets import load_substances
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.sets import UnknownsSet, Version, check_set, make_key, make_versions, prepare
from spotplate.kb import KnowledgeBase

from .labels import Hazards, LabelText, teachers_labels, vial_hazards, vial_labels
from .model import Sheet
from .preparing import PreparationContents, preparation_list, waste_notes
from .secrecy import check_kept_secret
from .students import Handout, student_sheet
from .teacher import KeyContents, teachers_key

FOR_STUDENTS = "students"
FOR_TEACHER = "teacher"


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


class Printed(msgspec.Struct, frozen=True):
    """A sheet, and the folder and name (without ending) that it is written under."""

    folder: str
    name: str
    sheet: Sheet


def sheets_of(unknowns_set: UnknownsSet, printing: Printing, knowledge: KnowledgeBase) -> tuple[Printed, ...]:
    """
    Students' sheets and labels, and the teacher's key, labels, preparation list and notes on waste.

    Raises
    ------
    FaultyInputError
        If the set is faulty, or a text for the students' pages tells what is in the vials
    """
    substances = {substance.name: substance for substance in load_substances()}
    preparation = prepare(unknowns_set, knowledge, printing.groups, printing.amounts)
    check = check_set(unknowns_set, knowledge)
    title, date = _one_line(printing.title or unknowns_set.name), _one_line(printing.date)
    heading = "option --title" if printing.title else "the name of the set"
    check_kept_secret({heading: title, "option --date": date}, unknowns_set, substances)
    version, versions = _version(), _versions(unknowns_set, printing)
    inside = [substances[name] for name in dict.fromkeys(vial.substance for vial in unknowns_set.vials)]
    hazards = vial_hazards(inside, printing.hazards)
    text = LabelText(title, date, printing.groups)
    on_vials = [[(group.group, vial.label, hazards[vial.substance]) for vial in group.vials] for group in versions]
    key = KeyContents(
        title, date, check, make_key(unknowns_set, knowledge), versions, printing.seed,
        {substance.name: substance for substance in inside},
        {row.name: row for row in load_reference().rows},
    )  # fmt: skip
    contents = PreparationContents(title, date, check, preparation, substances, printing.amounts)
    formulas = {substance.name: substance.formula for substance in inside}
    labels = tuple(vial.label for vial in unknowns_set.vials)
    return (
        *_for_students(Handout(title, labels, check.tests, 1, printing.groups, date), knowledge, version),
        Printed(FOR_STUDENTS, "vial-labels", vial_labels(text, on_vials, version)),
        Printed(FOR_TEACHER, "key", teachers_key(key, knowledge, version)),
        Printed(FOR_TEACHER, "preparation", preparation_list(contents, knowledge, version)),
        Printed(FOR_TEACHER, "vial-labels-with-names", teachers_labels(text, versions, hazards, formulas, version)),
        Printed(FOR_TEACHER, "waste", waste_notes(contents, version)),
    )


def _for_students(handout: Handout, knowledge: KnowledgeBase, version: str) -> Iterator[Printed]:
    digits = len(str(handout.groups))
    for group in range(1, handout.groups + 1):
        sheet = student_sheet(msgspec.structs.replace(handout, group=group), knowledge, version)
        yield Printed(FOR_STUDENTS, f"sheet-group-{group:0{digits}}" if handout.groups > 1 else "sheet", sheet)


def _versions(unknowns_set: UnknownsSet, printing: Printing) -> tuple[Version, ...]:
    if printing.seed is None:
        return tuple(Version(group, unknowns_set.vials) for group in range(1, printing.groups + 1))
    return make_versions(unknowns_set, printing.groups, printing.seed)


def _one_line(text: str) -> str:
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def _version() -> str:
    from importlib.metadata import version  # slow to import

    return version("spotplate")
