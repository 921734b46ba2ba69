"""Walks the whole reference table: words, numbers, names, CAS numbers, formulas, sources, labels."""

from __future__ import annotations

import csv
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
BY_NAME = {substance.name: substance for substance in SUBSTANCES}
FOLDER = Path(datasets.__file__).parent
DESCRIPTION = (FOLDER / "substances.txt").read_text(encoding="utf-8")
ROOM = 298.15  # [K]
each_substance = pytest.mark.parametrize("substance", SUBSTANCES, ids=lambda substance: substance.name)

# Subtypes that behave as the pattern of their class says; all others are awkward on purpose.
TYPICAL = {"", "ordinary metal", "hydrogen-bonded molecule", "dipolar molecule", "hydrocarbon", "three-dimensional network"}


# ---- substances.txt, read by this test, so that the documentation is tested too


def documented_columns() -> dict[str, str]:
    """Column → what `substances.txt` says of it, on one line."""
    told = DESCRIPTION.partition("Columns\n-------\n")[2]
    entries = (entry.partition(" ") for entry in re.split(r"\n(?=[a-z])", told))
    return {column: " ".join(rest.split()) for column, _, rest in entries}


def documented_words() -> dict[str, frozenset[str]]:
    """Closed lists of `substances.txt`: column → accepted words, among them "" where it says that the cell may be empty."""
    words = {}
    for column, told in documented_columns().items():
        listed = re.split(r"[;:,(]", told)[0].strip()
        if "|" not in listed:
            continue
        accepted = {word.strip() for word in listed.split("|")} - {"empty"}
        may_be_empty = "empty" in told or "solids only" in told
        words[column] = frozenset(accepted | ({""} if may_be_empty else set()))
    return words


def documented_events() -> frozenset[str]:
    """Heating events that `substances.txt` lists."""
    listed = re.sub(r"\(.*?\)", "", documented_columns()["heating"]).partition("events:")[2].partition(".")[0]
    return frozenset(event.strip() for event in listed.split(","))


def value_of(substance: Substance, column: str) -> object:
    return getattr(substance, "class_" if column == "class" else column)


WORDS = documented_words()
CLOSED_COLUMNS = (
    "class", "state", "colour", "lustre", "deformation", "marks_paper", "attracted_by_magnet", "dry_conduction",
    "water_action", "water_solubility_word", "solution_conduction", "solution_acidity", "foams", "molten_conduction",
    "nonpolar_solubility", "burning", "acid_gas", "acid_dissolves", "flame_colour", "odour", "school_use",
)  # fmt: skip


def test_description_names_every_column_in_the_order_of_the_table() -> None:
    header = (FOLDER / "substances.csv").read_text(encoding="utf-8").splitlines()[0].split(",")
    assert list(documented_columns()) == header


def test_description_holds_a_closed_list_for_each_column_of_words() -> None:
    assert tuple(WORDS) == CLOSED_COLUMNS
    assert all(word == "" or re.fullmatch(r"[a-z]+([ -][a-z]+)*", word) for words in WORDS.values() for word in words)


def test_description_and_knowledge_base_list_the_same_classes() -> None:
    assert WORDS["class"] == set(load_knowledge().classes)


@pytest.mark.parametrize("column", CLOSED_COLUMNS)
def test_every_documented_word_shows_itself_at_the_bench(column: str) -> None:
    """A word that `kb/expected_readings.yaml` does not know would silently give no reading."""
    ways = [way for entry in load_knowledge().expected for way in entry.ways if way.column == column]
    if column in ("class", "school_use"):
        assert ways == []  # labels, not readings
    else:
        assert [set(way.words) for way in ways] == [WORDS[column] - {""}]


# ---- the table as a whole


def test_table_is_large_enough_in_every_class() -> None:
    counts = Counter(substance.class_ for substance in SUBSTANCES)
    assert len(SUBSTANCES) >= 200
    assert counts["covalent network"] >= 20
    assert all(counts[name] >= 35 for name in load_knowledge().classes if name != "covalent network")


def test_at_least_a_third_is_awkward_in_the_whole_table_and_in_every_class() -> None:
    """Awkward: its subtype departs from the pattern of the class *and* a sentence tells how, so that one word is not enough."""
    awkward = [substance for substance in SUBSTANCES if substance.subtype not in TYPICAL and substance.exception]
    assert len(awkward) >= len(SUBSTANCES) / 3
    rows, odd = (Counter(substance.class_ for substance in some) for some in (SUBSTANCES, awkward))
    assert all(odd[name] >= rows[name] / 3 for name in rows)


def test_every_subtype_of_the_knowledge_base_has_an_example() -> None:
    assert set(load_knowledge().subtypes) == {substance.subtype for substance in SUBSTANCES} - {""}


def test_no_name_with_its_remark_means_two_substances() -> None:
    """Without the remark some do; those are listed, and tested, in `tests/engine/test_lookup.py`."""
    names = Counter(name.casefold() for substance in SUBSTANCES for name in substance.names())
    assert [name for name, count in names.items() if count > 1] == []


# Rows that share a CAS number on purpose: one number for every grain size, grade or form of the same matter.
SHARED_NUMBERS = {
    "7429-90-5": {"aluminium", "aluminium powder"},
    "7440-50-8": {"copper", "copper powder"},
    "7439-89-6": {"iron", "iron powder"},
    "7440-66-6": {"zinc", "zinc powder"},
    "7439-95-4": {"magnesium", "magnesium powder"},
    "7440-02-0": {"nickel", "nickel powder"},
    "7440-31-5": {"tin", "tin powder"},
    "7782-42-5": {"graphite", "graphite powder"},
    "7440-44-0": {"activated carbon", "carbon fibre", "glassy carbon"},
    "7440-42-8": {"boron", "amorphous boron"},
    "7723-14-0": {"red phosphorus", "black phosphorus"},
    "9002-88-4": {"low-density polythene", "high-density polythene"},
    "14808-60-7": {"quartz", "sand"},
    "65997-17-3": {"soda-lime glass", "borosilicate glass"},
    "10043-11-5": {"hexagonal boron nitride", "cubic boron nitride"},
}


def test_a_cas_number_is_shared_only_by_forms_of_the_same_matter() -> None:
    by_number: dict[str, set[str]] = {}
    for substance in SUBSTANCES:
        by_number.setdefault(substance.cas, set()).add(substance.name)
    assert {cas: names for cas, names in by_number.items() if cas and len(names) > 1} == SHARED_NUMBERS


# ---- every row: words


@each_substance
def test_words_are_the_documented_ones(substance: Substance) -> None:
    strange = {column: value_of(substance, column) for column in WORDS if value_of(substance, column) not in WORDS[column]}
    assert strange == {}


@each_substance
def test_label_name_is_lower_case_but_for_oxidation_numbers(substance: Substance) -> None:
    assert re.sub(r"\([IV]+(,[IV]+)*\)", "", substance.name) == re.sub(r"\([IV]+(,[IV]+)*\)", "", substance.name).lower()
    assert substance.name == substance.name.strip() != ""


@each_substance
def test_columns_are_filled_where_the_state_allows(substance: Substance) -> None:
    """As `substances.txt` documents: some columns are for solids only, conduction of the dry substance not for gases."""
    solid, gas = substance.state == "solid", substance.state == "gas"
    assert bool(substance.marks_paper) == solid
    assert bool(substance.attracted_by_magnet) == solid
    assert bool(substance.dry_conduction) == (not gas)
    assert bool(substance.lustre) == (solid or (not gas and substance.class_ == "metallic"))
    assert solid or (substance.deformation, substance.mohs_hardness) == ("", None)
    assert not gas or substance.density_kg_per_m3 is None
    assert substance.appearance


@each_substance
def test_class_and_subtype_are_known_and_go_together(substance: Substance) -> None:
    knowledge = load_knowledge()
    assert substance.class_ in knowledge.classes
    assert substance.also_defensible in {"", *knowledge.classes} - {substance.class_}
    if substance.subtype:
        assert set(knowledge.subtypes[substance.subtype].of) & set(substance.defensible_classes())


def test_subtype_is_of_the_second_class_only_for_silicates_of_separate_ions() -> None:
    """`substances.txt`: silicates of separate SiO4 ions (garnet, zircon) are ionic, with the network second."""
    knowledge = load_knowledge()
    of_second = {s.name for s in SUBSTANCES if s.subtype and s.class_ not in knowledge.subtypes[s.subtype].of}
    assert of_second == {"garnet", "zircon"}


@each_substance
def test_conduction_fits_the_class_or_the_exception_is_explained(substance: Substance) -> None:
    dry, molten, solution = substance.dry_conduction, substance.molten_conduction, substance.solution_conduction
    fits = {
        "ionic": dry in ("none", "") and molten in ("good", "") and solution == "good",
        "metallic": dry == "good" and molten in ("good", "") and (solution == "none" or substance.water_action == "reacts"),
        "covalent network": dry == "none" and solution == "none",
    }.get(substance.class_, dry in ("none", "") and molten in ("none", "") and solution == "none")
    assert fits or re.fullmatch(r"[A-Z0-9].{30,}\.", substance.exception), (dry, molten, solution, substance.exception)


@each_substance
def test_exception_is_one_whole_sentence(substance: Substance) -> None:
    if substance.exception:
        assert substance.exception.endswith(".")
        assert not re.search(r"[.!?] [A-Z]", substance.exception)


@each_substance
def test_hydrates_and_only_they_melt_in_their_crystal_water(substance: Substance) -> None:
    events = {event for event, _ in substance.heating_events()}
    assert substance.subtype not in ("hydrate", "hydrate melting in its water") or "·" in substance.formula
    assert "melts" not in events or "·" in substance.formula
    assert substance.subtype != "hydrate melting in its water" or "melts" in events


@each_substance
def test_heating_entries_are_known_events_with_temperatures(substance: Substance) -> None:
    for entry in filter(None, substance.heating.split("; ")):
        event, sign, celsius = entry.partition("@")
        assert event in documented_events()
        assert sign
        assert 30 <= float(celsius) <= 3700  # graphite, which sublimes at about 3650 °C, is last
    temperatures = [temperature for _, temperature in substance.heating_events()]
    assert temperatures == sorted(temperatures)
    assert len(temperatures) == len(list(filter(None, substance.heating.split("; "))))


# ---- every row: numbers


@each_substance
def test_cas_check_digit(substance: Substance) -> None:
    """CAS Registry: the last digit is the sum of the others, weighted by their place from the right, modulo ten."""
    if substance.cas:
        match = re.fullmatch(r"([1-9]\d{1,6})-(\d\d)-(\d)", substance.cas)
        assert match
        digits = reversed(match[1] + match[2])
        assert sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 == int(match[3])


@each_substance
def test_numbers_lie_in_their_ranges(substance: Substance) -> None:
    assert substance.mohs_hardness is None or 0 < substance.mohs_hardness <= 10
    assert substance.water_solubility_g_per_100mL is None or 0 < substance.water_solubility_g_per_100mL <= 1000
    assert (substance.water_solubility_g_per_100mL is None) == (substance.water_solubility_at_C is None)
    assert substance.water_solubility_at_C is None or 0 <= substance.water_solubility_at_C <= 30
    assert substance.density_kg_per_m3 is None or 20 < substance.density_kg_per_m3 < 22700  # osmium, the densest, 22590
    for temperature in (substance.melting_point_K, substance.boiling_point_K):
        assert temperature is None or 0 < temperature < 6300  # rhenium, the last to boil, about 5900 K


@each_substance
def test_solubility_is_a_number_or_a_word_or_the_substance_reacts(substance: Substance) -> None:
    number, word = substance.water_solubility_g_per_100mL is not None, substance.water_solubility_word != ""
    assert not (number and word)
    assert number or word or substance.water_action == "reacts"


@each_substance
def test_melts_below_its_boiling_point(substance: Substance) -> None:
    if substance.melting_point_K is not None and substance.boiling_point_K is not None:
        assert substance.melting_point_K < substance.boiling_point_K


@each_substance
def test_state_agrees_with_melting_and_boiling_point(substance: Substance) -> None:
    """Of all rows; none needs an exception, and one that comes to need it must be argued here."""
    if substance.melting_point_K is not None:
        assert (substance.melting_point_K > ROOM) == (substance.state == "solid")
    if substance.boiling_point_K is not None:
        assert (substance.boiling_point_K < ROOM) == (substance.state == "gas")


# ---- every row: sources and safety


@each_substance
def test_every_value_has_a_known_source(substance: Substance) -> None:
    assert substance.sources.startswith("*=")
    for column in Substance.__struct_fields__:
        if getattr(substance, column) not in ("", None) and not column.endswith("_source"):
            assert substance.source_of(column) in load_sources(), column


@each_substance
def test_no_source_without_a_value(substance: Substance) -> None:
    assert bool(substance.melting_point_source) == (substance.melting_point_K is not None)
    assert bool(substance.boiling_point_source) == (substance.boiling_point_K is not None)
    assert bool(substance.density_source) == (substance.density_kg_per_m3 is not None)


def test_hazard_table_has_one_statement_for_each_code() -> None:
    """GHS, Annex 3: H2xx physical, H3xx health, H4xx environment; letters narrow H340 to H362."""
    with (FOLDER / "hazard_statements.csv").open(encoding="utf-8", newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["code", "statement", "signal_word", "pictogram"]
    codes = [row[0] for row in rows[1:]]
    assert len(set(codes)) == len(codes)
    assert all(re.fullmatch(r"H[234]\d\d([Dd]|[Ff]|FD|Fd|fd|Df|i)?", code) for code in codes)
    assert all(re.fullmatch(r"[A-Z].{10,}", row[1]) for row in rows[1:])
    assert load_hazard_statements() == {row[0]: row[1] for row in rows[1:]}


@pytest.mark.parametrize(
    ("code", "words"),  # United Nations, GHS, Annex 3, tables A3.1.1 to A3.1.3
    [
        ("H220", "Extremely flammable gas"),
        ("H225", "Highly flammable liquid and vapour"),
        ("H290", "May be corrosive to metals"),
        ("H301", "Toxic if swallowed"),
        ("H302", "Harmful if swallowed"),
        ("H314", "Causes severe skin burns and eye damage"),
        ("H319", "Causes serious eye irritation"),
        ("H330", "Fatal if inhaled"),
        ("H335", "May cause respiratory irritation"),
        ("H350", "May cause cancer"),
        ("H410", "Very toxic to aquatic life with long lasting effects"),
    ],
)
def test_hazard_statement_has_the_published_words(code: str, words: str) -> None:
    assert load_hazard_statements()[code] == words


@each_substance
def test_hazard_statements_are_ghs_codes(substance: Substance) -> None:
    codes = substance.hazard_statements.split("; ")
    assert codes == ["none"] or set(codes) <= set(load_hazard_statements())
    assert len(set(codes)) == len(codes)


@each_substance
def test_very_dangerous_substances_are_not_for_students(substance: Substance) -> None:
    """Common practice: fatal, carcinogenic, mutagenic and self-igniting substances are never handed to students."""
    never = re.compile(r"H300|H310|H330|H340|H350i?|H360\w*|H250|H230|H240")
    if any(never.fullmatch(code) for code in substance.hazards()):
        assert substance.school_use != "students"


# ---- formulas against outside molar masses

# The package has another molar mass under these CAS numbers; each was looked at.
PACKAGE_DIFFERS = {
    "magnesium chloride hexahydrate": "the package counts crystal water once",
    "cobalt(II) chloride hexahydrate": "the package counts crystal water once",
    "copper(II) nitrate trihydrate": "the package counts each part of the formula once",
    "potassium aluminium sulfate dodecahydrate": "the package counts each part of the formula once",
    "potassium hydrogentartrate": "the package gives tartaric acid",
    "calcium carbide": "the package gives an unrelated ester",
    "magnetite": "the package gives Fe3H8O4",
    "calcium sulfate hemihydrate": "the package stores the doubled formula",
    "basic magnesium carbonate": "the package gives another basic carbonate",
    "sulfur": "the package counts one atom, the row the molecule S8",
    "white phosphorus": "the package counts one atom, the row the molecule P4",
    "phosphorus(V) oxide": "the package counts P2O5, the row the molecule P4O10",
    "talc": "the package gives another silicate",
}
PACKAGE_LACKS = {
    "monosodium glutamate monohydrate", "1-ethyl-3-methylimidazolium ethanoate", "garnet", "diamond", "graphite",
    "graphite powder", "charcoal", "carbon black", "mica", "feldspar", "zeolite 4a",
}  # fmt: skip


def formula_mass(formula: str) -> float:
    """Molar mass [g/mol] of a formula with hydrate dots, by the package molmass."""
    total = 0.0
    for part in formula.replace("½", "0.5").split("·"):
        match = re.fullmatch(r"(\d+(?:\.\d+)?)?(.+)", part)
        assert match
        total += float(match[1] or 1) * Formula(match[2]).mass
    return total


def outside_mass(substance: Substance) -> float | None:
    """Molar mass [g/mol] by CAS number, package chemicals; None when it does not know the number."""
    try:
        return float(chemicals.MW(substance.cas))
    except (ValueError, KeyError):
        return None


# Alloys and mixtures have no formula; a polymer's CAS number leads to its monomer; flint has no number of its own.
FORMULA_AND_NUMBER = [s for s in SUBSTANCES if s.formula and s.cas and ")n" not in s.formula]
COMPARED = [s for s in FORMULA_AND_NUMBER if s.name not in PACKAGE_DIFFERS.keys() | PACKAGE_LACKS]


@pytest.mark.parametrize("substance", COMPARED, ids=lambda substance: substance.name)
def test_formula_agrees_with_an_outside_molar_mass(substance: Substance) -> None:
    """Formula by `molmass` against the molar mass of `chemicals` by CAS number, within 0.1 %."""
    assert formula_mass(substance.formula) == pytest.approx(outside_mass(substance), rel=1e-3)


def test_most_rows_are_compared_and_only_needed_exceptions_are_listed() -> None:
    assert len(COMPARED) >= 300
    assert {s.name for s in FORMULA_AND_NUMBER if outside_mass(s) is None} == PACKAGE_LACKS
    for name in PACKAGE_DIFFERS:
        assert formula_mass(BY_NAME[name].formula) != pytest.approx(outside_mass(BY_NAME[name]), rel=1e-3), name


@pytest.mark.parametrize(
    ("name", "published"),  # [g/mol]; CRC Handbook, Physical Constants of Inorganic Compounds, where `chemicals` is of no use
    [
        ("magnesium chloride hexahydrate", 203.302),
        ("cobalt(II) chloride hexahydrate", 237.929),
        ("copper(II) nitrate trihydrate", 241.602),
        ("potassium aluminium sulfate dodecahydrate", 474.389),
        ("calcium sulfate hemihydrate", 145.148),
        ("calcium carbide", 64.099),
        ("magnetite", 231.533),
        ("diamond", 12.011),
        ("graphite", 12.011),
    ],
)
def test_formula_agrees_with_a_printed_molar_mass(name: str, published: float) -> None:
    assert formula_mass(BY_NAME[name].formula) == pytest.approx(published, rel=1e-4)


def test_rows_without_a_formula_are_mixtures_alloys_or_macromolecules() -> None:
    mixtures = {"alloy", "macromolecule", "fat or wax", "amphiphile", "hydrocarbon", "glass", "graphite", "metal powder",
                "weakly polar molecule", "low-melting metal", "liquid metal", "reactive metal"}  # fmt: skip
    without = [substance for substance in SUBSTANCES if not substance.formula]
    assert without
    assert {substance.subtype for substance in without} <= mixtures


@each_substance
def test_repeating_units_are_written_with_n_only_for_macromolecules(substance: Substance) -> None:
    is_polymer_with_formula = substance.subtype == "macromolecule" and substance.formula != ""
    assert bool(re.fullmatch(r"\(\w+\)n", substance.formula)) == is_polymer_with_formula
