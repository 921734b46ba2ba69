"""Melting points, boiling points and densities: the script that makes them, and outside values."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import chemicals
import pytest
import yaml

from spotplate import datasets
from spotplate.datasets import load_substances

FOLDER = Path(datasets.__file__).parent
BY_NAME = {substance.name: substance for substance in load_substances()}


def test_the_script_makes_the_file_on_disk() -> None:
    script = FOLDER / "scripts" / "make_constants.py"
    done = subprocess.run([sys.executable, str(script), "--check"], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_every_override_has_a_reason() -> None:
    entries = yaml.safe_load((FOLDER / "constants_overrides.yaml").read_text(encoding="utf-8"))
    assert all(len(entry["reason"]) > 10 for entry in entries)


@pytest.mark.parametrize(
    ("name", "celsius"),  # International Temperature Scale of 1990 (ITS-90), defining fixed points, freezing
    [
        ("indium", 156.5985),
        ("tin", 231.928),
        ("zinc", 419.527),
        ("aluminium", 660.323),
        ("silver", 961.78),
        ("gold", 1064.18),
        ("copper", 1084.62),
        ("gallium", 29.7646),  # melting
        ("mercury", -38.8344),  # triple point
    ],
)
def test_fixed_points_of_the_temperature_scale(name: str, celsius: float) -> None:
    kelvin = BY_NAME[name].melting_point_K
    assert kelvin is not None
    assert kelvin - 273.15 == pytest.approx(celsius, abs=0.1)


@pytest.mark.parametrize(
    ("name", "low", "high"),  # [°C]; shared/published check list: OpenStax, Chemistry 2e, table 10.4 with CRC values
    [
        ("sodium chloride", 800, 802),
        ("iron", 1536, 1540),
        ("titanium", 1668, 1672),
        ("lead", 327, 328),
        ("potassium nitrate", 333, 335),
        ("ammonium nitrate", 169, 171),
        ("magnesium oxide", 2815, 2860),
        ("iodine", 113, 115),
    ],
)
def test_melting_points_of_textbook_examples(name: str, low: float, high: float) -> None:
    kelvin = BY_NAME[name].melting_point_K
    assert kelvin is not None
    assert low <= kelvin - 273.15 <= high


# Elements whose row means another form than the package's default table, or whose value is overridden with a reason.
NOT_COMPARED = {"tungsten", "grey arsenic", "red phosphorus", "black phosphorus", "white phosphorus", "amorphous boron"}


@pytest.mark.parametrize(
    "name", [s.name for s in load_substances() if s.subtype in ("ordinary metal", "reactive metal", "low-melting metal")]
)
def test_metals_melt_where_the_handbook_says(name: str) -> None:
    """Against `chemicals`, table CRC_INORG (CRC Handbook, Physical Constants of Inorganic Compounds)."""
    substance = BY_NAME[name]
    outside = chemicals.Tm(substance.cas, method="CRC_INORG") if substance.cas else None
    if outside is None or name in NOT_COMPARED:
        pytest.skip("not in the table, or overridden with a reason")
    assert substance.melting_point_K == pytest.approx(outside, abs=3)


def test_boiling_points_of_everyday_liquids() -> None:
    """CRC Handbook, Physical Constants of Organic Compounds; water by definition near 100 °C."""
    for name, celsius in (("water", 99.97), ("ethanol", 78.24), ("propanone", 56.08), ("heptane", 98.4)):
        kelvin = BY_NAME[name].boiling_point_K
        assert kelvin is not None
        assert kelvin - 273.15 == pytest.approx(celsius, abs=0.3)
