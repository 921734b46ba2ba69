"""The records and the unknowns set that arguments and options ask for."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from spotplate.engine import Record, find_substance, read_records
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, nearest, shown

if TYPE_CHECKING:
    from spotplate.engine.sets.unknowns_set import UnknownsSet


def chosen_records(path: Path, vials: Sequence[str], knowledge: KnowledgeBase) -> Sequence[Record]:
    """The records of a file, or those of the vials named, each once and in that order."""
    records = read_records(path, knowledge)
    if not vials:
        return records
    known = {record.vial: record for record in records}
    for label in vials:
        if label not in known:
            near = nearest(label, known)
            meant = f"; did you mean {near!r}?" if near else "."
            listed = ", ".join(list(known)[:20])
            raise FaultyInputError([Fault(str(path), f"there is no vial {shown(label)}{meant} Vials: {listed}.")])
    return [known[label] for label in dict.fromkeys(vials)]


def among_of(given: Sequence[str], of_set: Path | None, knowledge: KnowledgeBase) -> list[str]:
    """Names of the reference table for the substances of the set that --among or --set tells."""
    if of_set is None:
        return set_names(given)
    if given:
        raise FaultyInputError([Fault("option --set", "the file tells the substances; leave --among out.")])
    return _substances_of(of_set, knowledge)


def _substances_of(of_set: Path, knowledge: KnowledgeBase) -> list[str]:
    """The substances of a set in an order that tells nothing of the vials, each as often as it is there."""
    return sorted(vial.substance for vial in hidden_set(of_set, knowledge).vials)


def hidden_set(of_set: Path, knowledge: KnowledgeBase) -> UnknownsSet:
    """The unknowns set in a file, for those who must not learn its key from what is wrong with it."""
    from spotplate.engine.files.sets import read_set  # only for those who have a set

    try:
        return read_set(of_set, knowledge)
    except FaultyInputError as error:
        # Students run this, too: what is wrong with an entry of the key would tell what stands in it.
        of_key = [fault for fault in error.faults if ", vials" in fault.where]
        told = [fault for fault in error.faults if fault not in of_key]
        if of_key:
            where = ", ".join(dict.fromkeys(fault.where.partition(", vials")[0].rpartition(", ")[2] for fault in of_key))
            told.append(Fault(str(of_set), f"the vials cannot be read ({where}); 'spotplate check-set' tells the teacher why."))
        raise FaultyInputError(told) from None


def set_names(given: Sequence[str], option: str = "--among") -> list[str]:
    """Names of the reference table for substances that an option lists, however they are called."""
    names, faults = [], []
    for spelling in [part.strip() for text in given for part in text.split(";")]:
        try:
            if spelling:
                names.append(find_substance(spelling).name)
        except FaultyInputError as error:
            told = [Fault(f"option {option}", _told_of(spelling, fault.says)) for fault in error.faults]
            faults += [fault for fault in told if fault not in faults]
    if given and not (names or faults):
        faults = [Fault(f"option {option}", "there is no name in it; write names with semicolons between them.")]
    if faults:
        raise FaultyInputError(faults)
    return names


def _told_of(spelling: str, says: str) -> str:
    """What is wrong with a name; commas between names are the likeliest slip, though one may stand inside a name too."""
    parts = [part.strip() for part in re.split(r",(?!\d)", spelling)]
    return f"{says} To name several, write semicolons between the names: {shown('; '.join(parts))}." if len(parts) > 1 else says
