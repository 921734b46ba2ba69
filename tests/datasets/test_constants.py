"""Melting points, boiling points and densities: the script that makes them, and outside values."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import sys
from pathlib import Path

import chemicals
import pytest
import yaml
from chemicals.elements import periodic_table

from spotplate import datasets
from spotplate.datasets import load_sources, load_substances

FOLDER = Path(datasets.__file__).parent
BY_NAME = {substance.name: substance for substance in load_substances()}


def celsius_of_melting(name: str) -> float:
    """Melting point in our table [°C]."""
    kelvin = BY_NAME[name].melting_point_K
    assert kelvin is not None, name
    return kelvin - 273.15


# ---- the script and its files


def run_script(folder: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    script = folder / "scripts" / "make_constants.py"
    return subprocess.run([sys.executable, str(script), *arguments], capture_output=True, text=True, check=False)


def test_the_script_makes_the_file_on_disk() -> None:
    done = run_script(FOLDER, "--check")
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_changed_value_is_found_then_mended_and_a_second_run_changes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "datasets"
    shutil.copytree(FOLDER, folder, ignore=shutil.ignore_patterns("__pycache__"))
    target = folder / "constants.csv"
    shipped = target.read_bytes()
    target.write_bytes(shipped.replace(b"sodium chloride,1073.85", b"sodium chloride,1074.85"))
    found = run_script(folder, "--check")
    assert found.returncode == 1
    assert "sodium chloride, melting_point_K: '1074.85' on disk, '1073.85' made" in found.stdout
    for _ in range(2):
        assert run_script(folder).returncode == 0
        assert target.read_bytes() == shipped


def test_constants_have_the_rows_of_the_reference_table_in_the_same_order() -> None:
    names = []
    for file in ("substances.csv", "constants.csv"):
        with (FOLDER / file).open(encoding="utf-8", newline="") as lines:
            names.append([row["name"] for row in csv.DictReader(lines)])
    assert names[0] == names[1]


def test_every_override_has_a_reason_and_a_known_source() -> None:
    entries = yaml.safe_load((FOLDER / "constants_overrides.yaml").read_text(encoding="utf-8"))
    assert entries
    assert [entry for entry in entries if not re.search(r"\w+ \w+ \w+", entry["reason"])] == []
    assert {entry["source"] for entry in entries if "source" in entry} <= set(load_sources())
    assert {entry["name"] for entry in entries} <= set(BY_NAME)


def test_an_override_without_a_value_leaves_the_value_empty() -> None:
    entries = yaml.safe_load((FOLDER / "constants_overrides.yaml").read_text(encoding="utf-8"))
    assert [e for e in entries if e.get("none") and getattr(BY_NAME[e["name"]], e["quantity"]) is not None] == []


# ---- outside values


@pytest.mark.parametrize(
    ("name", "celsius"),  # International Temperature Scale of 1990 (ITS-90), table 1, defining fixed points: freezing
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
    assert celsius_of_melting(name) == pytest.approx(celsius, abs=0.02)


SYMBOLS = {element.symbol: element for element in periodic_table}
ELEMENTS = {
    name: SYMBOLS[match[1]]
    for name, substance in BY_NAME.items()
    if (match := re.fullmatch(r"([A-Z][a-z]?)\d*", substance.formula)) and match[1] in SYMBOLS
}
# Overridden with a reason, or another form than the one that the element's number stands for in the table.
DIFFERS = {"tungsten": "3422 °C is in general use; CRC 95th edition prints 3414 °C"}
NEVER_MELTS = {
    "grey arsenic": "sublimes in the open",
    "helium": "stays liquid at 1 atm down to absolute zero",
    "buckminsterfullerene": "sublimes",
    "diamond": "turns into graphite first",
    "graphite": "sublimes",
    "graphite powder": "sublimes",
    "charcoal": "burns or sublimes",
    "activated carbon": "burns or sublimes",
    "carbon black": "burns or sublimes",
    "carbon fibre": "burns or sublimes",
    "glassy carbon": "burns or sublimes",
    "amorphous boron": "burns first in air",
    "red phosphorus": "sublimes or burns",
    "black phosphorus": "sublimes or burns",
}


def outside_melting_point(name: str) -> float | None:
    """
    Melting point [K] by `chemicals`, table CRC_INORG (CRC Handbook, Physical Constants of Inorganic Compounds).

    The package's periodic table has no melting points. Molecules (Cl2, N2) have a CAS number of their own; where the table
    does not know the row's number (P4), that of the element is asked.
    """
    numbers = (BY_NAME[name].cas, ELEMENTS[name].CAS)
    found = (chemicals.Tm(number, method="CRC_INORG") for number in numbers if number)
    return next((float(value) for value in found if value is not None), None)


def test_the_elements_without_a_melting_point_are_those_that_never_melt() -> None:
    assert len(ELEMENTS) >= 60
    assert {name for name in ELEMENTS if BY_NAME[name].melting_point_K is None} == set(NEVER_MELTS)


@pytest.mark.parametrize("name", [name for name in ELEMENTS if name not in NEVER_MELTS | DIFFERS])
def test_element_melts_where_the_handbook_says(name: str) -> None:
    outside = outside_melting_point(name)
    assert outside is not None
    assert BY_NAME[name].melting_point_K == pytest.approx(outside, abs=3)


@pytest.mark.parametrize("name", DIFFERS)
def test_listed_exception_differs_indeed_and_only_a_little(name: str) -> None:
    outside = outside_melting_point(name)
    assert outside is not None
    assert 3 < abs(celsius_of_melting(name) + 273.15 - outside) < 15


@pytest.mark.parametrize(
    ("name", "celsius"),  # [°C] at 1 atm; CRC Handbook, Physical Constants of Organic Compounds and of Inorganic Compounds
    [
        ("water", 99.97),
        ("ethanol", 78.24),
        ("methanol", 64.54),
        ("propanone", 56.08),
        ("heptane", 98.4),
        ("hexane", 68.73),
        ("bromine", 58.8),
        ("mercury", 356.62),
        ("ammonia", -33.33),
        ("chlorine", -34.04),
        ("nitrogen", -195.80),
        ("carbon dioxide", -78.46),  # sublimes
    ],
)
def test_boiling_points_of_everyday_liquids_and_gases(name: str, celsius: float) -> None:
    kelvin = BY_NAME[name].boiling_point_K
    assert kelvin is not None
    assert kelvin - 273.15 == pytest.approx(celsius, abs=0.3)


@pytest.mark.parametrize(
    ("name", "density"),  # [g/cm3] at 25 °C; CRC Handbook, Physical Constants of Inorganic Compounds; water: IAPWS-95
    [
        ("water", 0.9970),
        ("mercury", 13.53),
        ("sodium chloride", 2.17),
        ("aluminium", 2.70),
        ("iron", 7.87),
        ("copper", 8.96),
        ("lead", 11.3),
        ("gold", 19.3),
        ("sulfur", 2.07),  # rhombic
        ("quartz", 2.648),
        ("diamond", 3.513),
        ("graphite", 2.2),
    ],
)
def test_densities_of_everyday_substances(name: str, density: float) -> None:
    found = BY_NAME[name].density_kg_per_m3
    assert found is not None
    assert found / 1000 == pytest.approx(density, rel=0.01)
