"""Numbers with units as people write them: `75.2 kPa`, `121-123 °C`, `> 300 °C`; SI inside.

A table of a dozen units instead of a units library, which would take longer to import than an
identification takes to run; a test compares every unit with such a library.
"""

from __future__ import annotations

import math
import re

import msgspec

from .errors import SpotplateError, not_accepted, shown

# unit → (quantity, factor, offset): SI value = number × factor + offset
UNITS: dict[str, tuple[str, float, float]] = {
    "°C": ("temperature", 1.0, 273.15),
    "K": ("temperature", 1.0, 0.0),
    "°F": ("temperature", 5 / 9, 459.67 * 5 / 9),
    "g/cm3": ("density", 1000.0, 0.0),
    "kg/m3": ("density", 1.0, 0.0),
    "kPa": ("pressure", 1000.0, 0.0),
    "hPa": ("pressure", 100.0, 0.0),
    "Pa": ("pressure", 1.0, 0.0),
    "mbar": ("pressure", 100.0, 0.0),
    "bar": ("pressure", 100_000.0, 0.0),
    "atm": ("pressure", 101_325.0, 0.0),
    "mmHg": ("pressure", 133.322387415, 0.0),
    "Torr": ("pressure", 101_325 / 760, 0.0),
}
_SPELLINGS = {
    "c": "°C", "degc": "°C", "deg c": "°C", "ºc": "°C", "° c": "°C", "℃": "°C", "celsius": "°C", "°c": "°C", "°": "°C",
    "k": "K", "kelvin": "K",
    "f": "°F", "degf": "°F", "deg f": "°F", "°f": "°F", "ºf": "°F", "fahrenheit": "°F",
    "g/cm3": "g/cm3", "g/cm^3": "g/cm3", "g/cm³": "g/cm3", "g/ml": "g/cm3", "g cm-3": "g/cm3", "kg/l": "g/cm3",
    "kpa": "kPa", "hpa": "hPa", "pa": "Pa", "mbar": "mbar", "bar": "bar", "atm": "atm",
    "mmhg": "mmHg", "mm hg": "mmHg", "torr": "Torr",
    "kg/dm3": "g/cm3", "kg/m3": "kg/m3", "kg/m^3": "kg/m3", "kg/m³": "kg/m3", "g/l": "kg/m3",
}  # fmt: skip
_NUMBER = r"[+-]?(?:\d+(?:[.,]\d+)?|[.,]\d+)(?:e[+-]?\d+)?"
_QUANTITY = re.compile(
    rf"(?P<sign>>=|<=|>|<|≥|≤|above|over|below|under|about|approx\.?|ca\.?|~|≈)? ?(?P<low>{_NUMBER})"
    rf"(?: ?(?:-|to|\.\.) ?(?P<high>{_NUMBER}))? ?(?P<unit>[^\d ].*)?",
    re.IGNORECASE,
)
_LONGEST = 10_000  # characters of a number with its unit
_THOUSANDS = re.compile(r"\d,\d{3}(?!\d)")
_DASHES = str.maketrans("–—−‐‑", "-----")
_ABOVE = (">", ">=", "≥", "above", "over")
_BELOW = ("<", "<=", "≤", "below", "under")


class QuantityError(SpotplateError, ValueError):
    """Text that is no number with an accepted unit."""


class Interval(msgspec.Struct, frozen=True):
    """
    A measured number as the range it lies in; a single number has `low` equal to `high`.

    Parameters
    ----------
    low, high : float
        Ends of the range [SI unit of the quantity]; infinite where it is open
    unit : str
        Unit it was written in, for showing it again
    excluded : bool
        Whether the finite end of an open range is itself left out: "> 300" as against "≥ 300"
    """

    low: float
    high: float
    unit: str
    excluded: bool = False

    def __str__(self) -> str:
        low, high = (_in_unit(end, self.unit) for end in (self.low, self.high))
        if math.isinf(self.high):
            return f"{'>' if self.excluded else '≥'} {low} {self.unit}"
        if math.isinf(self.low):
            return f"{'<' if self.excluded else '≤'} {high} {self.unit}"
        return f"{low} {self.unit}" if low == high else f"{low} to {high} {self.unit}"


def _in_unit(value: float, unit: str) -> str:
    _, factor, offset = UNITS[unit]
    return "" if math.isinf(value) else f"{(value - offset) / factor:.10g}"


def to_si(value: float, unit: str) -> float:
    """`value` in `unit` as the SI value of its quantity."""
    _, factor, offset = UNITS[unit]
    return value * factor + offset


def parse_quantity(text: str, default_unit: str) -> Interval:
    """
    A number or range with its unit.

    Parameters
    ----------
    text : str
        Such as "121-123 °C", "394 K", "> 300", "-20 to -18 °C"
    default_unit : str
        Unit of a bare number; its quantity decides which units are accepted

    Raises
    ------
    QuantityError
        If `text` is no number, has an unknown unit, or a range runs downwards

    Examples
    --------
    >>> str(parse_quantity("121–123 °C", "°C"))
    '121 to 123 °C'
    >>> parse_quantity("250 °F", "°C").low
    394.26...
    """
    match = _matched(text)
    accepted = [unit for unit, (quantity, _, _) in UNITS.items() if quantity == UNITS[default_unit][0]]
    if not match:
        raise QuantityError(f"{shown(text)} is not a number with a unit, such as 121-123 {default_unit}.")
    unit = default_unit
    if match["unit"]:
        unit = _SPELLINGS.get(" ".join(match["unit"].split()).casefold(), "")
        if unit not in accepted:
            raise QuantityError(not_accepted(match["unit"].strip(), "a unit of this reading", accepted))
    if UNITS[default_unit][0] == "temperature" and _THOUSANDS.search(text):
        # 1,085 °C may be copper's melting point or a hair above that of ice; a guess would be silently wrong.
        raise QuantityError(f"{shown(text)} can be read in two ways; write thousands without a comma, decimals with a point.")
    low = to_si(float(match["low"].replace(",", ".")), unit)
    high = to_si(float(match["high"].replace(",", ".")), unit) if match["high"] else low
    if not (math.isfinite(low) and math.isfinite(high)):
        raise QuantityError(f"{shown(text)} is too large a number.")
    if high < low:
        raise QuantityError(f"the range {shown(text)} runs downwards; write the lower number first.")
    sign = (match["sign"] or "").lower()
    if sign in _ABOVE or sign in _BELOW:
        if match["high"]:
            raise QuantityError(f"{shown(text)} is a range with {sign!r} before it; write one or the other.")
        low, high = (low, math.inf) if sign in _ABOVE else (-math.inf, high)
        return Interval(low, high, unit, excluded=sign not in (">=", "<=", "≥", "≤"))
    return Interval(low, high, unit)


def names_unit(text: str) -> bool:
    """Whether a number that `parse_quantity` accepts comes with a unit of its own."""
    match = _matched(text)
    return bool(match and match["unit"])


def _matched(text: str) -> re.Match[str] | None:
    """Runs of blanks are one blank first, so that matching takes no longer than the text is long."""
    text = " ".join(text.translate(_DASHES).split())
    return _QUANTITY.fullmatch(text) if len(text) <= _LONGEST else None
