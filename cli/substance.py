"""`spotplate substance`: a substance of the reference table, every value with its source."""

from __future__ import annotations

from typing import Annotated, Any

import msgspec
import typer

from spotplate.datasets import Substance, load_hazard_statements, load_sources, load_substances
from spotplate.engine import expected_readings, find_substance
from spotplate.kb import load_knowledge

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import listed

_HIDDEN = ("name", "sources", "melting_point_source", "boiling_point_source", "density_source", "exception")
_SAFETY = "Check the supplier's safety data sheet; local rules and the responsible teacher decide."


def complete_name(incomplete: str) -> list[str]:
    """Label names of the reference table for the shell."""
    return [substance.name for substance in load_substances() if substance.name.startswith(incomplete.casefold())]


def substance(
    name: Annotated[str, typer.Argument(help="Any common name, a formula or a CAS number.", autocompletion=complete_name)],
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Look up a substance in the reference table, with the source of every value."""
    found = find_substance(name)
    if as_json:
        print_json(_data(found))
    else:
        show(_page(found), plain=plain)


def _values(found: Substance) -> dict[str, Any]:
    """Every value that is known, by column."""
    columns = {field.encode_name: getattr(found, field.name) for field in msgspec.structs.fields(found)}
    return {column: value for column, value in columns.items() if value not in ("", None) and column not in _HIDDEN}


def _data(found: Substance) -> dict[str, Any]:
    expected = expected_readings(found, load_knowledge())
    return {
        "name": found.name,
        "values": {column: {"value": value, "source": found.source_of(column)} for column, value in _values(found).items()},
        "exception": found.exception,
        "expected_readings": {reading: [str(value) for value in values] for reading, values in expected.items()},
        "sources": {key: load_sources()[key] for key in _keys(found)},
    }


def _keys(found: Substance) -> list[str]:
    return list(dict.fromkeys(found.source_of(column) for column in _values(found)))


def _page(found: Substance) -> list[Block]:
    sources = load_sources()
    classes = listed(found.defensible_classes(), "or, also defensible,")
    page: list[Block] = [Heading(f"{found.name}: {classes}")]
    if found.exception:
        page.append(Paragraph(found.exception))
    rows = [(_title(column), _shown(column, value), found.source_of(column)) for column, value in _values(found).items()]
    page.append(Table(("property", "value", "source"), tuple(rows)))
    page.append(Heading("Sources"))
    page += [Item(f"{key}:", sources[key], indent=2) for key in _keys(found)]
    page.append(Heading("Readings to expect at the bench"))
    expected = expected_readings(found, load_knowledge())
    page += [
        Item(f"{reading}:", listed([str(value) for value in values], "or"), indent=2) for reading, values in expected.items()
    ]
    page.append(Heading("Hazards", "caution"))
    statements = load_hazard_statements()
    page += [Item(f"{code}:", statements[code], indent=2) for code in found.hazards()]
    if not found.hazards():
        page.append(Paragraph("Not classified as hazardous, as far as we know.", indent=2))
    page.append(Paragraph(f"In school: {found.school_use}. {_SAFETY}", indent=2))
    return page


def _title(column: str) -> str:
    """A column's name in words, without the unit that stands at its end."""
    for unit in ("_g_per_100mL", "_kg_per_m3", "_at_C", "_K"):
        if column.endswith(unit):
            temperature = " measured at" if unit == "_at_C" else ""
            return column.removesuffix(unit).replace("_", " ") + temperature
    return column.replace("_", " ")


def _shown(column: str, value: str | float) -> str:
    if isinstance(value, str):
        return value
    if column.endswith("_K"):
        return f"{value - 273.15:.5g} °C ({value:.6g} K)"
    if column.endswith("_kg_per_m3"):
        return f"{value / 1000:.4g} g/cm3"
    if column.endswith("_at_C"):
        return f"{value:g} °C"
    return f"{value:g} g per 100 mL" if column.endswith("_g_per_100mL") else f"{value:g}"
