"""Make `constants.csv`: melting points, boiling points and densities from named handbook tables, by CAS number.

Run from the top of the repository: `python datasets/scripts/make_constants.py`. A second run changes nothing.
With `--check` nothing is written; what differs from the file on disk is listed and the exit code is 1.
Needs the reference package `chemicals` (part of the extra `test`).

For each substance and quantity the first of these speaks:

1. its entry in `constants_overrides.yaml`;
2. the trusted tables, in the order of `TRUSTED`, if its CAS number means what the row means (`_may_be_joined`);
3. `constants_from_memory.csv`.
"""

from __future__ import annotations

import argparse
import csv
import io
import math
import os
import sys
import tempfile
from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

import chemicals
import chemicals.miscdata
import chemicals.volume
import yaml
from chemicals.dippr import EQ105, EQ116

FOLDER = Path(__file__).parent.parent
MELTING, BOILING, DENSITY = QUANTITIES = ("melting_point_K", "boiling_point_K", "density_kg_per_m3")
SOURCE_COLUMN = {MELTING: "melting_point_source", BOILING: "boiling_point_source", DENSITY: "density_source"}
COLUMNS = ("name", *(column for quantity in QUANTITIES for column in (quantity, SOURCE_COLUMN[quantity])))
ROOM = 298.15  # K
FIGURES = 4  # of a density; few tables print more

Key = tuple[str, str]  # name of a substance, quantity


class FaultyFileError(ValueError):
    """A file that the script reads breaks its own rules; the message names the file and the entry."""


@dataclass(frozen=True)
class Table:
    """A named table of the package: its key in `sources.yaml`, and how a CAS number is looked up in it."""

    source: str
    look_up: Callable[[str], float | None]
    figures: int = FIGURES  # significant figures that a density of this table is good for


@dataclass(frozen=True)
class Override:
    """An entry of `constants_overrides.yaml`: a value with its source, a table, or neither for "no value"."""

    reason: str
    value: float | None = None
    source: str = ""
    table: str = ""


def main() -> int:
    """Write or check the file; 0 when all is well."""
    parser = argparse.ArgumentParser(description="Make datasets/constants.csv from named tables of the package `chemicals`.")
    parser.add_argument("--check", action="store_true", help="write nothing; say what differs from the file on disk")
    arguments = parser.parse_args()
    target = FOLDER / "constants.csv"
    try:
        made = make()
    except FaultyFileError as error:
        print(error, file=sys.stderr)
        return 2
    if arguments.check:
        # Bytes, not text: reading as text would hide wrong line ends.
        on_disk = target.read_bytes().decode("utf-8") if target.exists() else ""
        return check(made, on_disk)
    write_whole(target, made)
    report(made)
    return 0


def make() -> str:
    """The whole file as text."""
    substances = read_substances()
    names = {row["name"] for row in substances}
    overrides, remembered = read_overrides(names), read_remembered(names)
    out = io.StringIO()
    writer = csv.DictWriter(out, COLUMNS, lineterminator="\n")
    writer.writeheader()
    for row in substances:
        line = {"name": row["name"]}
        for quantity in QUANTITIES:
            key = (row["name"], quantity)
            line[quantity], line[SOURCE_COLUMN[quantity]] = constant(row, quantity, overrides.get(key), remembered.get(key))
        writer.writerow(line)
    made = out.getvalue()
    _refuse_unknown_sources(made)
    return made


# ---- what is read


def read_substances() -> list[dict[str, str]]:
    """The rows of `substances.csv`."""
    with (FOLDER / "substances.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def read_overrides(names: set[str]) -> dict[Key, Override]:
    """The entries of `constants_overrides.yaml`, each checked; `names` are the substances that exist."""
    file = "constants_overrides.yaml"
    overrides: dict[Key, Override] = {}
    for number, entry in enumerate(yaml.safe_load((FOLDER / file).read_text(encoding="utf-8")) or [], start=1):
        where = f"{file}, entry {number}, {entry!r}"
        key = _checked_key(entry, names, where)
        if key in overrides:
            raise FaultyFileError(f"{where}: this substance and quantity stand in an earlier entry")
        overrides[key] = _checked_override(entry, key[1], where)
    return overrides


def _checked_key(entry: Any, names: set[str], where: str) -> Key:
    if not isinstance(entry, dict) or not {"name", "quantity"} <= entry.keys():
        raise FaultyFileError(f"{where}: needs a name and a quantity")
    name, quantity = entry["name"], entry["quantity"]
    if name not in names:
        raise FaultyFileError(f"{where}: no substance is called {name!r}")
    if quantity not in QUANTITIES:
        raise FaultyFileError(f"{where}: {quantity!r} is none of {', '.join(QUANTITIES)}")
    return name, quantity


def _checked_override(entry: dict[str, Any], quantity: str, where: str) -> Override:
    if not str(entry.get("reason", "")).strip():
        raise FaultyFileError(f"{where}: needs a reason")
    says = entry.keys() - {"name", "quantity", "reason"}
    if says == {"none"} and entry["none"] is True:
        return Override(entry["reason"])
    if says == {"table"}:
        if entry["table"] not in TABLES[quantity]:
            raise FaultyFileError(f"{where}: {entry['table']!r} is none of the tables {', '.join(TABLES[quantity])}")
        return Override(entry["reason"], table=entry["table"])
    if says == {"value", "source"}:
        value = entry["value"]
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < math.inf:
            raise FaultyFileError(f"{where}: the value must be a number above zero, in the unit of {quantity}")
        return Override(entry["reason"], value=float(value), source=str(entry["source"]))
    raise FaultyFileError(f"{where}: says {sorted(says)}; accepted: value and source, or table, or none: yes")


def read_remembered(names: set[str]) -> dict[Key, float]:
    """Values from memory that are used only where nothing else speaks; `names` are the substances that exist."""
    file = "constants_from_memory.csv"
    remembered: dict[Key, float] = {}
    with (FOLDER / file).open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            key = _checked_key(row, names, f"{file}, {row!r}")
            remembered[key] = float(row["value"])
    return remembered


def _refuse_unknown_sources(made: str) -> None:
    known = {entry["key"] for entry in yaml.safe_load((FOLDER / "sources.yaml").read_text(encoding="utf-8"))}
    used = {row[column] for row in _rows(made) for column in SOURCE_COLUMN.values()} - {""}
    if used - known:
        raise FaultyFileError(f"sources.yaml lacks the keys {', '.join(sorted(used - known))}")


# ---- one value


def constant(row: dict[str, str], quantity: str, override: Override | None, remembered: float | None) -> tuple[str, str]:
    """Value and source key of one quantity [unit as in its name]; both empty when not known."""
    if override is not None:
        return _overridden(row, quantity, override)
    for name in TRUSTED[quantity, row["state"]] if _may_be_joined(row) else ():
        found = _looked_up(row["cas"], quantity, name)
        if found is not None:
            return found
    return (shown(quantity, remembered), "memory") if remembered is not None else ("", "")


def _may_be_joined(row: dict[str, str]) -> bool:
    """
    Whether the package may be asked by this row's CAS number.

    The number of a polymer leads to its monomer; mixtures, which have no formula, have no constants of their own; and
    the package takes an empty number for vanadium.
    """
    return bool(row["cas"] and row["formula"]) and row["subtype"] != "macromolecule"


def _overridden(row: dict[str, str], quantity: str, override: Override) -> tuple[str, str]:
    if override.value is not None:
        return shown(quantity, override.value), override.source
    if not override.table:
        return "", ""
    if not _may_be_joined(row):
        raise FaultyFileError(f"constants_overrides.yaml: {row['name']!r} is a polymer or mixture; no table speaks of it")
    found = _looked_up(row["cas"], quantity, override.table)
    if found is None:
        raise FaultyFileError(f"constants_overrides.yaml: table {override.table} has no {quantity} of {row['name']!r}")
    return found


def _looked_up(cas: str, quantity: str, name: str) -> tuple[str, str] | None:
    table = TABLES[quantity][name]
    value = table.look_up(cas)
    return None if value is None else (shown(quantity, value, table.figures), table.source)


def shown(quantity: str, value: float, figures: int = FIGURES) -> str:
    """Temperatures to 0.01 K, densities to so many significant figures; the tables print no more."""
    if quantity == DENSITY:
        return f"{round(value, figures - 1 - math.floor(math.log10(value))):g}"
    return f"{value:.2f}"


# ---- the tables


def _melting_point(table: str, cas: str) -> float | None:
    """Melting point [K]."""
    value: float | None = chemicals.Tm(cas, method=table)
    return value


def _boiling_point(table: str, cas: str) -> float | None:
    """Boiling point at 1 atm [K]."""
    value: float | None = chemicals.Tb(cas, method=table)
    return value


def _printed_density(table: str, cas: str) -> float | None:
    """Density as the handbook prints it [kg/m3]."""
    return _cells(getattr(chemicals.miscdata, table), cas).get("rho")


def _solid_volume_density(cas: str) -> float | None:
    """Density of a solid from its molar volume [kg/m3]."""
    cells = _cells(chemicals.volume.rho_data_CRC_inorg_s_const, cas)
    return _molar_mass(cas) / cells["Vm"] if cells else None


def _perry_density(cas: str) -> float | None:
    """Density of a liquid at 298.15 K [kg/m3]; never extrapolated."""
    cells = _cells(chemicals.volume.rho_data_Perry_8E_105_l, cas)
    if not cells or not cells["Tmin"] <= ROOM <= cells["Tmax"]:
        return None
    molar = float(EQ105(ROOM, cells["C1"], cells["C2"], cells["C3"], cells["C4"]))  # type: ignore[no-untyped-call]
    return molar * _molar_mass(cas)


def _vdi_density(cas: str) -> float | None:
    """Density of a liquid at 298.15 K [kg/m3]."""
    cells = _cells(chemicals.volume.rho_data_VDI_PPDS_2, cas)
    if not cells or cells["Tc"] <= ROOM:
        return None
    return float(EQ116(ROOM, cells["Tc"], cells["rhoc"], cells["A"], cells["B"], cells["C"], cells["D"]))


def _cells(frame: Any, cas: str) -> dict[str, float]:
    """The numbers that a table has of a substance, by column; empty cells are left out."""
    if cas not in frame.index:
        return {}
    return {column: value for column, value in frame.loc[cas].items() if isinstance(value, float) and not math.isnan(value)}


def _molar_mass(cas: str) -> float:
    """Molar mass [kg/mol]."""
    return float(chemicals.MW(cas)) / 1000


def _temperatures(look_up: Callable[[str, str], float | None]) -> dict[str, Table]:
    names = ("CRC_INORG", "CRC_ORG", "OPEN_NTBKM", "COMMON_CHEMISTRY", "WEBBOOK")
    return {name: Table(f"chemicals-{name.lower().replace('_', '-')}", partial(look_up, name)) for name in names}


# Estimates (JOBACK) and tables that do not tell measured from estimated (YAWS, WIKIDATA) are left out on purpose.
TABLES: dict[str, dict[str, Table]] = {
    MELTING: _temperatures(_melting_point),
    BOILING: _temperatures(_boiling_point),
    DENSITY: {
        "CRC_INORG": Table("chemicals-crc-inorg", partial(_printed_density, "CRC_inorganic_data")),
        # The temperature of the measurement, a superscript in the handbook, has run into the digits here: 1.28 at 25 °C
        # became 1.2825. Three figures are beyond its reach.
        "CRC_ORG": Table("chemicals-crc-org", partial(_printed_density, "CRC_organic_data"), figures=3),
        # Needs the package's molar mass, which is wrong for many hydrates (alum: 182 for 474 g/mol): only where named.
        "CRC_INORG_SOLID_VOLUME": Table("chemicals-crc-inorg-solid-volume", _solid_volume_density),
        "PERRY_LIQUID": Table("chemicals-perry-liquid", _perry_density),
        "VDI_LIQUID": Table("chemicals-vdi-liquid", _vdi_density),
    },
}
# Asked unasked-for, in this order. The others contradict themselves too often (silica at 164.5 °C, zinc at 516 °C), and
# CRC_ORG gives many solids the density of their melt; they are taken only where an override names one.
TRUSTED: dict[tuple[str, str], tuple[str, ...]] = {
    **{(quantity, state): ("CRC_INORG", "CRC_ORG") for quantity in (MELTING, BOILING) for state in ("solid", "liquid", "gas")},
    (DENSITY, "solid"): ("CRC_INORG",),
    (DENSITY, "liquid"): ("PERRY_LIQUID", "CRC_INORG", "VDI_LIQUID"),
    (DENSITY, "gas"): (),
}


# ---- what is written and said


def write_whole(target: Path, text: str) -> None:
    """Write the file whole or not at all."""
    descriptor, draft = tempfile.mkstemp(dir=target.parent, prefix=target.name)
    try:
        with open(descriptor, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        os.chmod(draft, 0o644)  # a temporary file is private otherwise
        os.replace(draft, target)
    except BaseException:
        os.unlink(draft)
        raise


def check(made: str, on_disk: str) -> int:
    """Say what differs; 0 when nothing does."""
    if made == on_disk:
        print("constants.csv is what the script makes")
        return 0
    differences = list(_differences(_rows(made), _rows(on_disk)))
    print("constants.csv is not what the script makes:")
    print("\n".join(differences or ["the values are the same; order of rows, columns or line ends differ"]))
    return 1


def _differences(made: list[dict[str, str]], on_disk: list[dict[str, str]]) -> Iterable[str]:
    theirs = {row.get("name", ""): row for row in on_disk}
    for row in made:
        other = theirs.pop(row["name"], None)
        if other is None:
            yield f"{row['name']}: missing on disk"
            continue
        for column in COLUMNS:
            if row[column] != other.get(column):
                yield f"{row['name']}, {column}: {other.get(column)!r} on disk, {row[column]!r} made"
    yield from (f"{name}: on disk only" for name in theirs)


def report(made: str) -> None:
    """How many values come from where, and which remembered values nothing needs."""
    rows = _rows(made)
    print(f"{len(rows)} substances, package chemicals {chemicals.__version__}")
    for quantity in QUANTITIES:
        counts = Counter(row[SOURCE_COLUMN[quantity]] or "not known" for row in rows)
        print(f"{quantity}: {', '.join(f'{source} {count}' for source, count in sorted(counts.items()))}")
    names = {row["name"] for row in rows}
    overrides = read_overrides(names)
    used = {(row["name"], quantity) for row in rows for quantity in QUANTITIES if row[SOURCE_COLUMN[quantity]] == "memory"}
    idle = sorted(key for key in read_remembered(names) if key in overrides or key not in used)
    print(f"constants_from_memory.csv: {len(idle)} values are not needed: {'; '.join(f'{n}, {q}' for n, q in idle) or 'none'}")


def _rows(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


if __name__ == "__main__":
    sys.exit(main())
