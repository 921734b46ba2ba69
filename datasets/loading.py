"""Loaders that return typed rows; every number keeps its unit in its name."""

from __future__ import annotations

import functools
import zlib
from pathlib import Path

import msgspec
import yaml

Number = float | None
_FOLDER = Path(__file__).parent


class Substance(msgspec.Struct, frozen=True, rename={"class_": "class"}):
    """A row of `substances.csv` together with its row of `constants.csv`. Empty text and None mean "not known"."""

    name: str
    other_names: str
    formula: str
    cas: str
    class_: str
    also_defensible: str
    subtype: str
    state: str
    colour: str
    appearance: str
    lustre: str
    deformation: str
    mohs_hardness: Number
    marks_paper: str
    attracted_by_magnet: str
    dry_conduction: str
    water_action: str
    water_solubility_g_per_100mL: Number
    water_solubility_at_C: Number
    water_solubility_word: str
    solution_conduction: str
    solution_acidity: str
    foams: str
    molten_conduction: str
    nonpolar_solubility: str
    heating: str
    burning: str
    acid_gas: str
    acid_dissolves: str
    flame_colour: str
    odour: str
    hazard_statements: str
    school_use: str
    exception: str
    sources: str
    melting_point_K: Number = None
    melting_point_source: str = ""
    boiling_point_K: Number = None
    boiling_point_source: str = ""
    density_kg_per_m3: Number = None
    density_source: str = ""

    def names(self) -> tuple[str, ...]:
        """The label name and every other common name."""
        return (self.name, *_listed(self.other_names))

    def heating_events(self) -> tuple[tuple[str, float], ...]:
        """What heating does besides plain melting and boiling: (event, temperature [K])."""
        events = (entry.split("@") for entry in _listed(self.heating))
        return tuple((event, float(celsius) + 273.15) for event, celsius in events)

    def hazards(self) -> tuple[str, ...]:
        """GHS hazard statement codes; none when not classified."""
        return tuple(code for code in _listed(self.hazard_statements) if code != "none")

    def defensible_classes(self) -> tuple[str, ...]:
        return (self.class_, self.also_defensible) if self.also_defensible else (self.class_,)

    def source_of(self, column: str) -> str:
        """Source key of the value in `column`."""
        if column in ("melting_point_K", "boiling_point_K", "density_kg_per_m3"):
            return str(getattr(self, f"{column.rpartition('_')[0].removesuffix('_kg_per')}_source"))
        keys = dict(entry.split("=", 1) for entry in _listed(self.sources))
        return keys.get(column, keys["*"])


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(";") if part.strip())


_NUMBERS = frozenset(field.encode_name for field in msgspec.structs.fields(Substance) if field.type == Number)


def _rows(file: str) -> list[dict[str, str]]:
    import csv  # not needed by an identification, whose time counts

    text = (_FOLDER / file).read_text(encoding="utf-8")
    return list(csv.DictReader(text.splitlines()))


@functools.cache
def load_substances() -> tuple[Substance, ...]:
    """The reference table, in the order of `substances.csv`."""
    constants = {row["name"]: row for row in _rows("constants.csv")}
    return tuple(_substance({**row, **constants.get(row["name"], {})}) for row in _rows("substances.csv"))


def table_checksum() -> str:
    """CRC-32 of the reference table as shipped, its constants included; it tells whether the table has changed."""
    checksum = 0
    for file in ("substances.csv", "constants.csv"):
        checksum = zlib.crc32((_FOLDER / file).read_bytes(), checksum)
    return f"{checksum:08x}"


def _substance(row: dict[str, str]) -> Substance:
    values = {column: (float(text) if text else None) if column in _NUMBERS else text for column, text in row.items()}
    values["class_"] = values.pop("class")
    return Substance(**values)  # type: ignore[arg-type]


@functools.cache
def load_sources() -> dict[str, str]:
    """Source key → citation, for every value of the reference table."""
    text = (_FOLDER / "sources.yaml").read_text(encoding="utf-8")
    return {entry["key"]: entry["cites"] for entry in yaml.safe_load(text)}


class HazardStatement(msgspec.Struct, frozen=True):
    """
    A GHS hazard statement: its code, its text, and what a label carries for it.

    `signal_words` holds two words, the stronger one first, where the category of the hazard decides, which the code
    alone does not tell; none where there is none. `pictogram` is its name in words, or empty.
    """

    code: str
    says: str
    signal_words: tuple[str, ...] = ()
    pictogram: str = ""


@functools.cache
def load_label_elements() -> dict[str, HazardStatement]:
    """GHS hazard statement code → its text, signal word and pictogram, in the order of the codes."""
    return {
        row["code"]: HazardStatement(row["code"], row["statement"], _listed(row["signal_word"]), row["pictogram"])
        for row in _rows("hazard_statements.csv")
    }


@functools.cache
def load_hazard_statements() -> dict[str, str]:
    """GHS hazard statement code → its text."""
    return {row["code"]: row["statement"] for row in _rows("hazard_statements.csv")}


def demo_record() -> tuple[str, bytes]:
    """Name and content of the demo bench record."""
    return "vial-c.yaml", (_FOLDER / "demo" / "vial-c.yaml").read_bytes()


def tree_data() -> bytes:
    """The trained cross-check tree, as JSON."""
    return (_FOLDER / "tree.json").read_bytes()
