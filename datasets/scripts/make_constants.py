"""Make `constants.csv`: melting points, boiling points and densities from named handbook tables, by CAS number.

Run from the top of the repository: `python datasets/scripts/make_constants.py`. A second run changes nothing.
With `--check` nothing is written; differences from the file on disk are listed and the exit code is 1.
Needs the reference package `chemicals` (part of the extra `test`).
"""

from __future__ import annotations

import csv
import io
import math
import os
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import chemicals
import chemicals.volume
import yaml
from chemicals.dippr import EQ105

FOLDER = Path(__file__).parent.parent
QUANTITIES = ("melting_point_K", "boiling_point_K", "density_kg_per_m3")
COLUMNS = (
    "name",
    "melting_point_K",
    "melting_point_source",
    "boiling_point_K",
    "boiling_point_source",
    "density_kg_per_m3",
    "density_source",
)
# Tables that are trusted unasked, in this order. Others contradict themselves too often (silica at 164.5 °C, zinc at
# 516 °C) and are taken only where an override names one.
TRUSTED = ("CRC_INORG", "CRC_ORG")
ROOM = 298.15  # K


def main() -> int:
    """Write or check the file; 0 when all is well."""
    made = make()
    target = FOLDER / "constants.csv"
    if "--check" in sys.argv[1:]:
        return check(made, target.read_text(encoding="utf-8"))
    draft = target.with_suffix(".tmp")
    draft.write_text(made, encoding="utf-8", newline="\n")
    os.replace(draft, target)
    report(made)
    return 0


def make() -> str:
    """The whole file as text."""
    overrides, remembered = read_overrides(), read_remembered()
    with (FOLDER / "substances.csv").open(encoding="utf-8", newline="") as file:
        substances = list(csv.DictReader(file))
    unknown = {name for name, _ in (*overrides, *remembered)} - {row["name"] for row in substances}
    if unknown:
        sys.exit(f"overrides or values from memory: no substance of this name: {', '.join(sorted(unknown))}")
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for row in substances:
        line = {"name": row["name"]}
        for quantity in QUANTITIES:
            key = (row["name"], quantity)
            value, source = constant(row, quantity, overrides.get(key))
            if not value and key not in overrides and key in remembered:
                value, source = shown(quantity, remembered[key]), "memory"
            line[quantity] = value
            line[source_column(quantity)] = source
        writer.writerow(line)
    return out.getvalue()


def source_column(quantity: str) -> str:
    """`melting_point_K` → `melting_point_source`."""
    return quantity.removesuffix("_K").removesuffix("_kg_per_m3") + "_source"


def read_overrides() -> dict[tuple[str, str], dict[str, Any]]:
    """(name, quantity) → override; each must have a reason."""
    entries = yaml.safe_load((FOLDER / "constants_overrides.yaml").read_text(encoding="utf-8"))
    overrides: dict[tuple[str, str], dict[str, Any]] = {}
    for entry in entries:
        if not entry.get("reason") or entry["quantity"] not in QUANTITIES or (entry["name"], entry["quantity"]) in overrides:
            sys.exit(f"constants_overrides.yaml: {entry} lacks a reason, names no quantity, or comes twice")
        overrides[entry["name"], entry["quantity"]] = entry
    return overrides


def read_remembered() -> dict[tuple[str, str], float]:
    """(name, quantity) → value from memory, used only where no table has one."""
    with (FOLDER / "constants_from_memory.csv").open(encoding="utf-8", newline="") as file:
        return {(row["name"], row["quantity"]): float(row["value"]) for row in csv.DictReader(file)}


def constant(row: dict[str, str], quantity: str, override: dict[str, Any] | None) -> tuple[str, str]:
    """Value and source key of one quantity [unit as in its name], both empty when not known."""
    if override is not None:
        if override.get("none"):
            return "", ""
        if "value" in override:
            return shown(quantity, float(override["value"])), str(override["source"])
        return looked_up(row["cas"], row["state"], quantity, (override["table"],))
    # A polymer's CAS number leads to its monomer, and mixtures have no constants of their own.
    if not row["cas"] or row["subtype"] == "macromolecule":
        return "", ""
    return looked_up(row["cas"], row["state"], quantity, TRUSTED)


def looked_up(cas: str, state: str, quantity: str, tables: tuple[str, ...]) -> tuple[str, str]:
    """The value in the first of `tables` that has one."""
    if quantity == "density_kg_per_m3":
        return density(cas, state)
    function = chemicals.Tm if quantity == "melting_point_K" else chemicals.Tb
    for table in tables:
        value = function(cas, method=table)
        if value is not None:
            return shown(quantity, value), f"chemicals-{table.lower().replace('_', '-')}"
    return "", ""


def density(cas: str, state: str) -> tuple[str, str]:
    """Density at room temperature [kg/m3]: molar mass over molar volume for solids, Perry's equation for liquids."""
    molar_mass = chemicals.MW(cas) if chemicals.identifiers.check_CAS(cas) and known(cas) else None
    if molar_mass is None or state == "gas":
        return "", ""
    quantity = "density_kg_per_m3"
    if state == "solid" and cas in chemicals.volume.rho_data_CRC_inorg_s_const.index:
        volume = chemicals.volume.rho_data_CRC_inorg_s_const.at[cas, "Vm"]
        return shown(quantity, molar_mass / 1000 / volume), "chemicals-crc-inorg-solid-volume"
    if state == "liquid" and cas in chemicals.volume.rho_data_Perry_8E_105_l.index:
        entry = chemicals.volume.rho_data_Perry_8E_105_l.loc[cas]
        if entry["Tmin"] <= ROOM <= entry["Tmax"]:
            molar = EQ105(ROOM, entry["C1"], entry["C2"], entry["C3"], entry["C4"])
            return shown(quantity, molar * molar_mass / 1000), "chemicals-perry-liquid"
    if state == "liquid" and cas in chemicals.volume.rho_data_CRC_inorg_l_const.index:
        volume = chemicals.volume.rho_data_CRC_inorg_l_const.at[cas, "Vm"]
        return shown(quantity, molar_mass / 1000 / volume), "chemicals-crc-inorg-liquid-volume"
    return "", ""


def known(cas: str) -> bool:
    """Whether the package knows this CAS number at all."""
    try:
        chemicals.search_chemical(cas)
    except ValueError:
        return False
    return True


def shown(quantity: str, value: float) -> str:
    """Temperatures to 0.01 K, densities to four figures; the tables print no more."""
    if quantity == "density_kg_per_m3":
        digits = 3 - math.floor(math.log10(abs(value)))
        return f"{round(value, digits):g}"
    return f"{value:.2f}"


def check(made: str, on_disk: str) -> int:
    """List the lines that differ."""
    ours, theirs = made.splitlines(), on_disk.splitlines()
    for line in sorted(set(ours) ^ set(theirs)):
        print(("missing: " if line in ours else "not made: ") + line)
    print("constants.csv is what the script makes" if made == on_disk else "constants.csv differs from what the script makes")
    return 0 if made == on_disk else 1


def report(made: str) -> None:
    """How many values come from where."""
    rows = list(csv.DictReader(io.StringIO(made)))
    for quantity in QUANTITIES:
        counts = Counter(row[source_column(quantity)] or "not known" for row in rows)
        print(quantity, ", ".join(f"{source} {count}" for source, count in counts.most_common()))


if __name__ == "__main__":
    sys.exit(main())
