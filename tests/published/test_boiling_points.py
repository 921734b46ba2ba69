"""Boiling points at low air pressure, brought to normal pressure, against outside vapour pressures.

Sources: IAPWS-95 for water, and the Antoine constants of Poling, Prausnitz and O'Connell, The Properties of Gases and
Liquids, 5th edition, both as the package `chemicals` 1.5 gives them.
"""

from __future__ import annotations

import math

import pytest
from chemicals.iapws import iapws95_Tsat
from chemicals.vapor_pressure import Psat_data_AntoinePoling

from spotplate.engine import identify, make_record
from spotplate.engine.resemblance import at_normal_pressure
from spotplate.kb import Interval

NORMAL = 101_325.0
PRESSURES = [85_000.0, 92_000.0, 98_000.0, 104_000.0]  # [Pa] from a town at 1400 m to a fine day at the sea
LIQUIDS = {
    "acetone": "67-64-1",
    "benzene": "71-43-2",
    "cyclohexane": "110-82-7",
    "ethanol": "64-17-5",
    "heptane": "142-82-5",
    "methanol": "67-56-1",
    "toluene": "108-88-3",
}


def antoine_boiling_point(cas: str, pressure: float) -> float:
    """Boiling point [K] at a pressure [Pa]; the constants are for bar-free SI, log10(p) = A − B/(T + C)."""
    constants = Psat_data_AntoinePoling.loc[cas]
    return float(constants["B"] / (constants["A"] - math.log10(pressure)) - constants["C"])


def brought_to_normal(boiling: float, pressure: float) -> float:
    return at_normal_pressure(Interval(boiling, boiling, "°C"), Interval(pressure, pressure, "kPa")).low


@pytest.mark.parametrize("pressure", PRESSURES)
@pytest.mark.parametrize("name", LIQUIDS)
def test_a_liquid_boils_at_normal_pressure_where_its_vapour_pressure_says(name: str, pressure: float) -> None:
    """Within three tenths of the correction, as far as hydrogen-bonded liquids depart from Trouton's rule, and 0.1 K."""
    cas = LIQUIDS[name]
    there, normal = antoine_boiling_point(cas, pressure), antoine_boiling_point(cas, NORMAL)
    assert brought_to_normal(there, pressure) == pytest.approx(normal, abs=0.1 + 0.3 * abs(normal - there))


@pytest.mark.parametrize("pressure", PRESSURES)
def test_water_too(pressure: float) -> None:
    there, normal = iapws95_Tsat(pressure), iapws95_Tsat(NORMAL)
    assert brought_to_normal(there, pressure) == pytest.approx(normal, abs=0.1 + 0.3 * abs(normal - there))


def test_normal_pressure_changes_nothing() -> None:
    assert brought_to_normal(350.0, NORMAL) == pytest.approx(350.0)


def test_on_the_mountain_the_air_pressure_brings_up_the_right_liquid() -> None:
    """Water boils at 95.2 °C at 85 kPa (IAPWS-95); without the pressure it fits less well, since no more than a lowering of some 3 K is usual."""
    written = {"state": "liquid", "boiling point": f"{iapws95_Tsat(85_000.0) - 273.15:.1f} °C", "in water": "dissolves"}
    known = {
        item.name: item.probability for item in identify(make_record({**written, "air pressure": "850 hPa"})).candidates.best
    }
    unknown = {item.name: item.probability for item in identify(make_record(written)).candidates.best}
    assert "water" in known
    assert known["water"] > 1.1 * unknown.get("water", 0.0)
