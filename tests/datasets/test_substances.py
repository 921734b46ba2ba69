"""Walks the whole reference table: words, numbers, names, CAS numbers, formulas, sources, labels."""

from __future__ import annotations

import re
from collections import Counter
from pathlib import Path

import chemicals
import pytest
from molmass import Formula

from spotplate import datasets
from spotplate.datasets import Substance, load_hazard_statements, load_sources, load_substances
from spotplate.kb import load_knowledge

SUBSTANCES = load_substances()
FOLDER = Path(datasets.__file__).parent
each_substance = pytest.mark.parametrize("substance", SUBSTANCES, ids=lambda substance: substance.name)

# Subtypes that behave as the pattern of their class says; all others are awkward on purpose.
TYPICAL = {"", "ordinary metal", "hydrogen-bonded molecule", "dipolar molecule", "hydrocarbon", "three-dimensional network"}


def documented_words() -> dict[str, set[str]]:
    """Closed lists as `substances.txt` documents them: column → accepted words."""
    text = (FOLDER / "substances.txt").read_text(encoding="utf-8").partition("Columns\n-------\n")[2]
    words: dict[str, set[str]] = {}
    for entry in re.split(r"\n(?=[a-z])", text):
        column, _, told = entry.partition(" ")
        told = " ".join(told.split()).split(";")[0].split(":")[0].split(",")[0]
        if "|" in told and not told.startswith("Mohs"):
            words[column] = {word.strip().replace("empty", "") for word in told.split("|")}
    return words


def test_table_is_large_enough_in_every_class() -> None:
    counts = Counter(substance.class_ for substance in SUBSTANCES)
    assert len(SUBSTANCES) >= 200
    assert counts["covalent network"] >= 20
    assert all(counts[name] >= 35 for name in load_knowledge().classes if name != "covalent network")


def test_all_states_occur_and_a_third_is_awkward() -> None:
    assert {substance.state for substance in SUBSTANCES} == {"solid", "liquid", "gas"}
    awkward = [substance for substance in SUBSTANCES if substance.subtype not in TYPICAL]
    assert len(awkward) >= len(SUBSTANCES) / 3


def test_no_name_means_two_substances() -> None:
    names = Counter(name.casefold() for substance in SUBSTANCES for name in set(substance.names()))
    assert [name for name, count in names.items() if count > 1] == []


def test_documented_word_lists_were_found() -> None:
    assert len(documented_words()) >= 20


@each_substance
def test_words_are_the_documented_ones(substance: Substance) -> None:
    for column, words in documented_words().items():
        value = getattr(substance, "class_" if column == "class" else column)
        assert value in words | {""}, (column, value)


@each_substance
def test_class_and_subtype_are_known_and_go_together(substance: Substance) -> None:
    knowledge = load_knowledge()
    assert substance.class_ in knowledge.classes
    assert substance.also_defensible in {"", *knowledge.classes} - {substance.class_}
    if substance.subtype:
        assert set(knowledge.subtypes[substance.subtype].of) & set(substance.defensible_classes())


@each_substance
def test_cas_check_digit(substance: Substance) -> None:
    """CAS Registry: the last digit is the sum of the others, weighted by their place from the right, modulo ten."""
    if substance.cas:
        match = re.fullmatch(r"(\d{2,7})-(\d\d)-(\d)", substance.cas)
        assert match
        digits = reversed(match[1] + match[2])
        assert sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(match[3])


@each_substance
def test_numbers_lie_in_their_ranges(substance: Substance) -> None:
    assert substance.mohs_hardness is None or 0 < substance.mohs_hardness <= 10
    assert substance.water_solubility_g_per_100mL is None or 0 < substance.water_solubility_g_per_100mL <= 1000
    assert (substance.water_solubility_g_per_100mL is None) == (substance.water_solubility_at_C is None)
    assert substance.density_kg_per_m3 is None or 20 < substance.density_kg_per_m3 < 23000  # osmium is the densest
    for temperature in (substance.melting_point_K, substance.boiling_point_K):
        assert temperature is None or 0 < temperature < 6300
    for _, temperature in substance.heating_events():
        assert 200 < temperature < 5000


@each_substance
def test_melts_below_its_boiling_point(substance: Substance) -> None:
    if substance.melting_point_K is not None and substance.boiling_point_K is not None:
        assert substance.melting_point_K < substance.boiling_point_K


@each_substance
def test_state_agrees_with_melting_and_boiling_point(substance: Substance) -> None:
    room = 298.15
    if substance.melting_point_K is not None:
        assert (substance.melting_point_K > room) == (substance.state == "solid") or substance.exception
    if substance.boiling_point_K is not None:
        assert (substance.boiling_point_K < room) == (substance.state == "gas") or substance.exception


@each_substance
def test_heating_events_have_known_words(substance: Substance) -> None:
    known = {"softens", "sublimes", "loses water", "decomposes", "chars", "melts", "changes colour", "burns"}
    assert {event for event, _ in substance.heating_events()} <= known


@each_substance
def test_conduction_fits_the_class_or_the_exception_is_explained(substance: Substance) -> None:
    dry, solution = substance.dry_conduction, substance.solution_conduction
    pattern = {
        "ionic": dry in ("none", "") and solution == "good",
        "metallic": dry == "good",
        "covalent network": dry == "none" and solution == "none",
    }.get(substance.class_, dry in ("none", "") and solution == "none")
    assert pattern or re.search(r"\w{3,}.*\.$", substance.exception)


@each_substance
def test_every_value_has_a_known_source(substance: Substance) -> None:
    assert substance.sources.startswith("*=")
    for column in Substance.__struct_fields__:
        if getattr(substance, column) not in ("", None) and not column.endswith("_source"):
            assert substance.source_of(column) in load_sources(), column


@each_substance
def test_hazard_statements_are_ghs_codes(substance: Substance) -> None:
    assert substance.hazard_statements
    for code in substance.hazards():
        assert code in load_hazard_statements()


@each_substance
def test_very_dangerous_substances_are_not_for_students(substance: Substance) -> None:
    """Common practice: fatal, carcinogenic, mutagenic and self-igniting substances are never handed to students."""
    never = {"H300", "H310", "H330", "H340", "H350", "H350i", "H250", "H230"}
    if never & set(substance.hazards()):
        assert substance.school_use != "students"


# The package has another molar mass under these CAS numbers; each was looked at.
PACKAGE_DIFFERS = {
    "magnesium chloride hexahydrate": "the package leaves crystal water out",
    "cobalt(II) chloride hexahydrate": "the package leaves crystal water out",
    "copper(II) nitrate trihydrate": "the package leaves crystal water out",
    "potassium aluminium sulfate dodecahydrate": "the package leaves crystal water out",
    "potassium hydrogentartrate": "the package gives tartaric acid",
    "calcium carbide": "the package gives an unrelated ester",
    "magnetite": "the package gives Fe3H8O4",
    "calcium sulfate hemihydrate": "the package stores the doubled formula",
    "basic magnesium carbonate": "the package gives another basic carbonate",
    "white spirit": "a mixture",
    "candle stearin": "a mixture",
    "lecithin": "a mixture",
    "sulfur": "the package counts one atom, the row the molecule S8",
    "white phosphorus": "the package counts one atom, the row the molecule P4",
    "phosphorus(V) oxide": "the package counts P2O5, the row the molecule P4O10",
    "talc": "the package gives another silicate",
}


def formula_mass(formula: str) -> float:
    """Molar mass [g/mol] of a formula with hydrate dots, by the package molmass."""
    total = 0.0
    for part in formula.replace("½", "0.5").split("·"):
        match = re.fullmatch(r"(\d+(?:\.\d+)?)?(.+)", part)
        assert match
        total += float(match[1] or 1) * Formula(match[2]).mass
    return total


@each_substance
def test_formula_agrees_with_an_outside_molar_mass(substance: Substance) -> None:
    """Formula by `molmass` against the molar mass of `chemicals` by CAS number, within 0.1 %."""
    if not (substance.cas and substance.formula) or substance.subtype == "macromolecule" or substance.name in PACKAGE_DIFFERS:
        pytest.skip("mixture, macromolecule, no CAS number, or a known fault of the package")
    try:
        outside = chemicals.MW(substance.cas)
    except (ValueError, KeyError):
        pytest.skip("not in the package")
    assert formula_mass(substance.formula) == pytest.approx(outside, rel=1e-3)
