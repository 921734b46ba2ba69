"""What a teacher writes on students' pages must not tell what is in the vials."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from spotplate.datasets import Substance
from spotplate.engine.sets import UnknownsSet
from spotplate.kb import Fault, FaultyInputError, shown

_SHORT = 3  # signs; a shorter formula is any letter of a text: C, I2, KI


def check_kept_secret(written: Mapping[str, str], unknowns_set: UnknownsSet, substances: Mapping[str, Substance]) -> None:
    """
    Refuse texts for students' pages that name a substance of the set; `written` maps where a text comes from to it, and
    `substances` those of the set by name.

    Raises
    ------
    FaultyInputError
        With every text that does
    """
    faults = texts_that_tell(written, tuple(substances.values()), "in the set")
    faults += [
        Fault("vials", f"the label {shown(vial.label)} tells what is in the vial; give it another.")
        for vial in unknowns_set.vials
        if _told_by(vial.label, substances.values()) or (len(vial.label) > 1 and vial.label == substances[vial.substance].formula)
    ]
    if faults:
        raise FaultyInputError(faults)


def texts_that_tell(written: Mapping[str, str], substances: Sequence[Substance], place: str) -> list[Fault]:
    """A fault for every text that tells of one of these substances, which is at `place` ("in the set")."""
    return [
        Fault(
            where, f"{shown(text)} tells of {told!r}, which is {place}, and would stand on the students' pages.{_remedy(where)}"
        )
        for where, text in written.items()
        if (told := _told_by(text, substances))
    ]


def _remedy(where: str) -> str:
    return " Rename the set, or give another heading with --title." if where == "the name of the set" else ""


def _told_by(text: str, substances: Iterable[Substance]) -> str:
    """Name of the first substance that a text tells of, by any of its names, its formula or its number."""
    return next((substance.name for substance in substances if tells_of(text, substance)), "")


def tells_of(text: str, substance: Substance) -> tuple[str, ...]:
    """The spellings of a substance that stand in a text as words of their own: names, CAS number, formula."""
    names = [re.sub(r" \(.*\)$", "", name) for name in substance.names()]  # the remark behind a name is no name
    found = [name for name in names if _stands_in(name, text, re.IGNORECASE)]
    exact: Sequence[str] = [substance.cas, substance.formula if len(substance.formula) >= _SHORT else ""]
    return tuple(found + [spelling for spelling in exact if spelling and _stands_in(spelling, text, 0)])


def _stands_in(spelling: str, text: str, flags: int) -> bool:
    return re.search(rf"(?<![\w]){re.escape(spelling)}(?![\w])", text, flags) is not None
