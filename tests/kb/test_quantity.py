"""Numbers with units, against an outside library of units."""

from __future__ import annotations

import pint
import pytest

from spotplate.kb.quantity import UNITS, QuantityError, parse_quantity, to_si

PINT = {"°C": "degC", "K": "kelvin", "°F": "degF", "g/cm3": "g/cm**3", "kg/m3": "kg/m**3"}
SI = {"temperature": "kelvin", "density": "kg/m**3"}


@pytest.mark.parametrize("unit", UNITS)
@pytest.mark.parametrize("value", [0.0, 1.0, 25.0, 373.15])
def test_unit_agrees_with_pint(unit: str, value: float) -> None:
    outside = pint.UnitRegistry().Quantity(value, PINT[unit]).to(SI[UNITS[unit][0]]).magnitude
    assert to_si(value, unit) == pytest.approx(outside)


@pytest.mark.parametrize(
    ("text", "low", "high"),  # [K]
    [
        ("25 °C", 298.15, 298.15),
        ("25", 298.15, 298.15),
        ("25.5", 298.65, 298.65),
        ("25,5 °C", 298.65, 298.65),
        ("121-123 °C", 394.15, 396.15),
        ("121 – 123 °C", 394.15, 396.15),
        ("121 to 123", 394.15, 396.15),
        ("-20 to -18 °C", 253.15, 255.15),
        ("−20 °C", 253.15, 253.15),
        ("300 K", 300, 300),
        ("32 F", 273.15, 273.15),
        ("> 300 °C", 573.15, float("inf")),
        ("above 300", 573.15, float("inf")),
        ("< 0 °C", float("-inf"), 273.15),
        ("about 80 °C", 353.15, 353.15),
        ("1e2 °C", 373.15, 373.15),
    ],
)
def test_people_write_temperatures_in_many_ways(text: str, low: float, high: float) -> None:
    found = parse_quantity(text, "°C")
    assert (found.low, found.high) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize("text", ["", "warm", "12 bar", "nan", "inf", "1e999", "12 13", "°C", "12 °", "--3", "5-4", "0x10"])
def test_what_is_no_temperature_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(text, "°C")


@pytest.mark.parametrize("text", ["121-123 °C", "> 300 °C", "394.15 K", "2.17 g/cm3", "< 5 °C"])
def test_what_is_shown_reads_back_as_the_same(text: str) -> None:
    unit = "g/cm3" if "g" in text else "°C"
    once = parse_quantity(text, unit)
    assert parse_quantity(str(once), unit) == once
