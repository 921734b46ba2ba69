"""Amounts as they stand on labels and in lists: a mass or a volume."""

from __future__ import annotations

import math
import re
from typing import Literal

import msgspec

_UNITS: dict[str, tuple[float, Literal["g", "mL"]]] = {
    "mg": (0.001, "g"), "g": (1, "g"), "kg": (1000, "g"),
    "ml": (1, "mL"), "cm3": (1, "mL"), "cl": (10, "mL"), "dl": (100, "mL"), "l": (1000, "mL"), "dm3": (1000, "mL"),
}  # fmt: skip
_AMOUNT = re.compile(r"(?:(\d{1,4}) ?[x×*] ?)?(\d{1,9}(?:[.,]\d{1,9})?) ?([a-z]+3?)")
_LONGEST = 40  # characters; what is longer is a sentence, not an amount


class Amount(msgspec.Struct, frozen=True):
    """A mass [g] or a volume [mL]: `value` with its `unit`."""

    value: float
    unit: Literal["g", "mL"]

    def __str__(self) -> str:
        return f"{self.value:g} {self.unit}"


def parse_amount(text: str) -> Amount | None:
    """
    The mass or volume that a text tells, or None where it tells neither ("half a jar", "12 pieces").

    Examples
    --------
    >>> str(parse_amount("2 x 0.5 kg")), str(parse_amount("2,5 L")), parse_amount("12 pieces")
    ('1000 g', '2500 mL', None)
    """
    found = _AMOUNT.fullmatch(" ".join(text.casefold().replace("³", "3").split())) if len(text) <= _LONGEST else None
    if not found or found[3] not in _UNITS or re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", found[2]):
        return None  # 1,500 may be one and a half or a thousand and a half
    factor, unit = _UNITS[found[3]]
    value = int(found[1] or 1) * float(found[2].replace(",", ".")) * factor
    return Amount(value, unit) if value and math.isfinite(value) else None
