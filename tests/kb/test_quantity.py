"""Numbers with units, against an outside library of units."""

from __future__ import annotations

import time

import pint
import pytest

from spotplate.kb import Interval, QuantityError, SpotplateError, parse_quantity, to_si
from spotplate.kb.quantity import UNITS

PINT = {"°C": "degC", "K": "kelvin", "°F": "degF", "g/cm3": "g/cm**3", "kg/m3": "kg/m**3"}
PINT |= {unit: unit for unit in ("kPa", "hPa", "Pa", "mbar", "bar", "atm", "mmHg")} | {"Torr": "torr"}
SI = {"temperature": "kelvin", "density": "kg/m**3", "pressure": "pascal"}


def test_every_unit_is_compared_with_pint() -> None:
    assert set(UNITS) == set(PINT)
    assert {quantity for quantity, _, _ in UNITS.values()} == set(SI)


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
    assert [found.low, found.high] == pytest.approx([low, high])


@pytest.mark.parametrize("text", ["", "warm", "12 bar", "nan", "inf", "1e999", "12 13", "°C", "--3", "5-4", "0x10"])
def test_what_is_no_temperature_is_refused(text: str) -> None:
    with pytest.raises(QuantityError):
        parse_quantity(text, "°C")


@pytest.mark.parametrize("text", ["121-123 °C", "> 300 °C", "394.15 K", "2.17 g/cm3", "< 5 °C"])
def test_what_is_shown_reads_back_as_the_same(text: str) -> None:
    unit = "g/cm3" if "g" in text else "°C"
    once = parse_quantity(text, unit)
    assert parse_quantity(str(once), unit) == once


# Spelling → the same unit as pint spells it; a spelling that we accept must mean what it means elsewhere.
@pytest.mark.parametrize(
    ("spelling", "meant"),
    [
        ("°C", "degC"), ("C", "degC"), ("degC", "degC"), ("deg C", "degC"), ("ºC", "degC"), ("℃", "degC"), ("Celsius", "degC"),
        ("° C", "degC"), ("c", "degC"), ("K", "kelvin"), ("k", "kelvin"), ("kelvin", "kelvin"), ("°F", "degF"), ("F", "degF"),
        ("degF", "degF"), ("Fahrenheit", "degF"), ("g/cm3", "g/cm**3"), ("g/cm^3", "g/cm**3"), ("g/cm³", "g/cm**3"),
        ("g/mL", "g/mL"), ("g/ml", "g/mL"), ("g cm-3", "g/cm**3"), ("kg/L", "kg/L"), ("kg/dm3", "kg/dm**3"),
        ("kg/m3", "kg/m**3"), ("kg/m³", "kg/m**3"), ("g/L", "g/L"),
    ],
)  # fmt: skip
def test_spelling_of_a_unit_means_what_pint_says(spelling: str, meant: str) -> None:
    quantity = "density" if "g" in spelling and "de" not in spelling else "temperature"
    default = "g/cm3" if quantity == "density" else "°C"
    outside = pint.UnitRegistry().Quantity(12.5, meant).to(SI[quantity]).magnitude
    for space in ("", " ", "  "):
        assert parse_quantity(f"12.5{space}{spelling}", default).low == pytest.approx(outside)


@pytest.mark.parametrize(("unit", "other"), [("°C", "3 g/cm3"), ("g/cm3", "3 °C"), ("K", "3 kg/m3"), ("kg/m3", "3 K")])
def test_a_unit_of_another_quantity_is_refused_naming_the_accepted_ones(unit: str, other: str) -> None:
    with pytest.raises(QuantityError, match="is not a unit of this reading") as caught:
        parse_quantity(other, unit)
    assert unit in str(caught.value)


@pytest.mark.parametrize("dash", ["-", "–", "—", "‐", "‑", "−", " - ", " – ", " to ", " TO ", "..", " .. "])
def test_every_dash_makes_a_range(dash: str) -> None:
    found = parse_quantity(f"121{dash}123 °C", "°C")
    assert [found.low, found.high] == pytest.approx([394.15, 396.15])


@pytest.mark.parametrize("minus", ["-", "−", "–", "‐", "‑"])
def test_every_dash_is_a_minus_before_a_number(minus: str) -> None:
    assert parse_quantity(f"{minus}20 °C", "°C").low == pytest.approx(253.15)
    found = parse_quantity(f"{minus}20 to {minus}18 °C", "°C")
    assert [found.low, found.high] == pytest.approx([253.15, 255.15])
    found = parse_quantity(f"{minus}20-{minus}18 °C", "°C")
    assert [found.low, found.high] == pytest.approx([253.15, 255.15])


@pytest.mark.parametrize("text", ["123-121 °C", "10 to -10", "-18 to -20 °C", "0.2-0.1"])
def test_a_range_downwards_is_refused_with_the_remedy(text: str) -> None:
    with pytest.raises(QuantityError, match="runs downwards; write the lower number first"):
        parse_quantity(text, "°C")


def test_a_range_of_one_number_is_that_number() -> None:
    assert parse_quantity("80-80 °C", "°C") == parse_quantity("80 °C", "°C")


@pytest.mark.parametrize("sign", [">", "above", "over", "Above"])
def test_more_than_is_open_upwards(sign: str) -> None:
    assert parse_quantity(f"{sign} 300 °C", "°C") == Interval(573.15, float("inf"), "°C", excluded=True)


@pytest.mark.parametrize("sign", ["<", "below", "under", "BELOW"])
def test_less_than_is_open_downwards(sign: str) -> None:
    assert parse_quantity(f"{sign} 0 °C", "°C") == Interval(float("-inf"), 273.15, "°C", excluded=True)


@pytest.mark.parametrize("sign", ["about", "approx", "approx.", "ca", "ca.", "~", "≈"])
def test_about_is_the_number_itself(sign: str) -> None:
    assert parse_quantity(f"{sign} 80 °C", "°C") == parse_quantity("80 °C", "°C")


@pytest.mark.parametrize("text", ["1e999", "-1e999", "9" * 400, "1-1e999"])
def test_a_number_beyond_all_numbers_is_too_large(text: str) -> None:
    with pytest.raises(QuantityError, match="too large"):
        parse_quantity(text, "°C")


@pytest.mark.parametrize(
    "text",
    ["", " ", "warm", "nan", "-nan", "inf", "Infinity", "1e", "0x10", "1_000", "1 000 °C", "½", "12 °C 13", "\0", "1\x1b[0m"],
)
def test_a_fault_is_one_short_printable_line(text: str) -> None:
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "°C")
    assert isinstance(caught.value, SpotplateError)
    assert str(caught.value).isprintable()


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("1" * 100_000 + "x", id="digits"),
        pytest.param("1-" * 50_000, id="numbers and dashes"),
        pytest.param("1" + " " * 100_000 + "-", id="spaces inside"),
        pytest.param("1." * 50_000, id="numbers and points"),
        pytest.param("e" * 100_000, id="letters"),
        pytest.param(" " * 12_000 + "x", id="spaces before"),
    ],
)
def test_long_nonsense_is_refused_at_once(text: str) -> None:
    started = time.monotonic()
    with pytest.raises(QuantityError) as caught:
        parse_quantity(text, "°C")
    assert time.monotonic() - started < 0.5
    assert len(str(caught.value)) < 300


def test_a_comma_that_may_part_thousands_is_refused_for_a_temperature_only() -> None:
    """1,085 °C is copper's melting point to some and 1.085 °C to others; a density of 1,085 g/cm3 has one meaning."""
    with pytest.raises(QuantityError, match="read in two ways"):
        parse_quantity("1,085 °C", "°C")
    assert parse_quantity("1,085 g/cm3", "g/cm3").low == pytest.approx(1085)
    assert parse_quantity("80,5 °C", "°C").low == pytest.approx(353.65)
