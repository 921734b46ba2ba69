"""A teacher's cupboard: what stands in it, and which substance of the reference table each row means."""

from __future__ import annotations

import msgspec

from .amounts import Amount, parse_amount


class CupboardItem(msgspec.Struct, frozen=True):
    """
    A row of a cupboard, with its words as they were written.

    `substance` is its name in the reference table; empty where none was found or several may be meant. Then `says`
    tells why, and `suggestions` names what may be meant; none of them is ever taken without asking. `others` holds the
    cells of all further columns, in the order of the cupboard's `other_columns`. `line` is 0 where there is no file.
    """

    line: int
    written: str
    amount: str = ""
    remark: str = ""
    substance: str = ""
    says: str = ""
    suggestions: tuple[str, ...] = ()
    others: tuple[str, ...] = ()

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
