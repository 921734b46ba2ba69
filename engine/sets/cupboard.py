"""A teacher's cupboard: what stands in it, and which substance of the reference table each row means."""

from __future__ import annotations

import re

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.lookup import Meaning, hydrates_of, meaning_of
from spotplate.kb import shown

from .amounts import Amount, parse_amount

_DISSOLVED = re.compile(r"\b(solution|aqueous|aq|(mol|g)(/| per )(l|L|dm3|dm³)|\d ?M)\b")


class CupboardItem(msgspec.Struct, frozen=True):
    """
    A row of a cupboard, with its words as they were written.

    `substance` is its name in the reference table; empty where none was found or several may be meant. Then `says`
    tells why, and `suggestions` names what may be meant; none of them is ever taken without asking. `others` holds the
    cells of all further columns, in the order of the cupboard's `other_columns`. `notes` says what is to be looked at
    although a substance was found. `line` is 0 where there is no file.
    """

    line: int
    written: str
    amount: str = ""
    remark: str = ""
    substance: str = ""
    says: str = ""
    suggestions: tuple[str, ...] = ()
    others: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def quantity(self) -> Amount | None:
        """The amount as a mass or a volume, or None where it is neither."""
        return parse_amount(self.amount)


class Cupboard(msgspec.Struct, frozen=True):
    """All rows of a cupboard in their order, also those that no substance was found for."""

    items: tuple[CupboardItem, ...]
    other_columns: tuple[str, ...] = ()

    def substances(self) -> tuple[str, ...]:
        """The substances in it by their names in the reference table, each once, in the order of the rows."""
        return tuple(dict.fromkeys(item.substance for item in self.items if item.substance))

    def of(self, substance: str) -> tuple[CupboardItem, ...]:
        """The rows that hold a substance of the reference table."""
        return tuple(item for item in self.items if item.substance == substance)

    def unmatched(self) -> tuple[CupboardItem, ...]:
        """The rows for which no one substance was found."""
        return tuple(item for item in self.items if not item.substance)

    def doubled(self) -> dict[str, tuple[CupboardItem, ...]]:
        """Substance → its rows, for substances that stand in several rows."""
        rows = {name: self.of(name) for name in self.substances()}
        return {name: items for name, items in rows.items() if len(items) > 1}


def make_item(written: str, amount: str = "", remark: str = "", *, line: int = 0, others: tuple[str, ...] = ()) -> CupboardItem:
    """A row with the substance that it means, where its name, formula or CAS number leads to exactly one."""
    if not written:
        return CupboardItem(line, written, amount, remark, says="no substance is named.", others=others)
    meaning = meaning_of(written)
    if meaning.substance is None:
        names = tuple(substance.name for substance in meaning.may_mean)
        return CupboardItem(line, written, amount, remark, "", meaning.says, names or meaning.near, others)
    notes = tuple(_notes(meaning, meaning.substance, written, amount, remark))
    return CupboardItem(line, written, amount, remark, meaning.substance.name, "", (), others, notes)


def _notes(meaning: Meaning, substance: Substance, written: str, amount: str, remark: str) -> list[str]:
    """What makes one doubt that the bottle holds the substance itself, or that there is so much of it."""
    quantity = parse_amount(amount)
    found = []
    if meaning.remark:
        found.append(f"{shown(written)} stands for {substance.name} ({meaning.remark}).")
    if (hydrates := hydrates_of(substance)) and "anhydrous" not in written.casefold():
        names = " and ".join(other.name for other in hydrates)
        found.append(f"taken as the substance without crystal water; with it, it is {names}.")
    if amount and quantity is None:
        found.append(f"the amount {shown(amount)} tells no mass or volume that can be reckoned with.")
    if _DISSOLVED.search(f"{amount} {remark}"):
        found.append(f"this reads like a solution; the reference table means {substance.name} itself.")
    elif quantity and quantity.unit == "mL" and substance.state != "liquid":
        found.append(f"a volume of a {substance.state}: a solution? The reference table means {substance.name} itself.")
    return found
