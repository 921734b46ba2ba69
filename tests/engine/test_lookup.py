"""Finding a substance by what people call it."""

from __future__ import annotations

import pytest

from spotplate.datasets import load_substances
from spotplate.engine import FaultyInputError, find_substance

# What people call several substances by the same name.
AMBIGUOUS = {
    "chalk": {"calcium carbonate", "calcium sulfate dihydrate", "basic magnesium carbonate"},
    "blackboard chalk": {"calcium carbonate", "calcium sulfate dihydrate"},
    "lime": {"calcium oxide", "calcium hydroxide"},
    "lye": {"sodium hydroxide", "potassium hydroxide"},
    "road salt": {"sodium chloride", "calcium chloride"},
    "descaler": {"citric acid monohydrate", "sulfamic acid"},
    "moth balls": {"naphthalene", "1,4-dichlorobenzene", "camphor"},
    "candle wax": {"paraffin wax", "candle stearin", "beeswax"},
    "wax": {"paraffin wax", "beeswax"},
    "paraffin": {"paraffin wax", "liquid paraffin", "kerosene"},
    "polythene": {"low-density polythene", "high-density polythene"},
    "polyethylene": {"low-density polythene", "high-density polythene"},
    "poly(ethene)": {"low-density polythene", "high-density polythene"},
    "PE": {"low-density polythene", "high-density polythene"},
    "glass": {"soda-lime glass", "borosilicate glass"},
    "rubbing alcohol": {"propan-2-ol", "ethanol"},
    "nail varnish remover": {"propanone", "ethyl ethanoate"},
    "tin foil": {"aluminium", "tin"},
    "tinfoil": {"aluminium", "tin"},
}


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("Co", "cobalt"),
        ("CO", "carbon monoxide"),
        ("table salt", "sodium chloride"),
        ("7647-14-5", "sodium chloride"),
        ("CuSO4*5H2O", "copper(II) sulfate pentahydrate"),
    ],
)
def test_names_formulas_and_numbers_lead_to_one_substance(name: str, found: str) -> None:
    assert find_substance(name).name == found


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("copper sulfate", ["copper(II) sulfate pentahydrate", "anhydrous copper(II) sulfate"]),
        ("soda", ["washing soda", "baking soda", "caustic soda"]),
        ("copper sulphate", ["copper(II) sulfate pentahydrate", "anhydrous copper(II) sulfate"]),
        ("sulfuric acid", ["sulfuric acid (concentrated)"]),
        ("sodium chlorid", ["sodium chloride"]),
    ],
)
def test_a_name_that_is_not_enough_is_never_guessed_but_told_the_near_ones(name: str, told: list[str]) -> None:
    with pytest.raises(FaultyInputError) as caught:
        find_substance(name)
    assert "did you mean" in str(caught.value)
    assert all(repr(word) in str(caught.value) for word in told)


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("salt", "sodium chloride"),
        ("sugar", "sucrose"),
        ("natural chalk", "calcium carbonate"),
        ("limestone", "marble"),
        ("washing soda", "sodium carbonate decahydrate"),
        ("soda crystals", "sodium carbonate decahydrate"),
        ("baking soda", "sodium hydrogencarbonate"),
        ("bicarbonate of soda", "sodium hydrogencarbonate"),
        ("plaster of Paris", "calcium sulfate hemihydrate"),
        ("alum", "potassium aluminium sulfate dodecahydrate"),
        ("hard soap", "sodium stearate"),  # sodium salts of fatty acids
        ("soap", "sodium stearate"),
        ("copper wire", "copper"),
        ("kitchen foil", "aluminium"),
        ("iron nail", "carbon steel"),  # nails are of mild steel
        ("iron filings", "iron powder"),
        ("window glass", "soda-lime glass"),
        ("sand", "sand"),
        ("pencil lead", "pencil lead"),
        ("wood alcohol", "methanol"),
        ("grain alcohol", "ethanol"),
        ("cornflour", "starch"),
        ("marsh gas", "methane"),
    ],
)
def test_everyday_names_lead_to_the_substance_they_stand_for(name: str, found: str) -> None:
    assert find_substance(name).name == found


@pytest.mark.parametrize(
    ("name", "found"),
    [
        ("Epsom salts", "magnesium sulfate heptahydrate"),
        ("marble chip", "marble"),
        ("table-salt", "sodium chloride"),
        ("iron (III) oxide", "iron(III) oxide"),
        ("flowers of sulphur", "sulfur"),
        ("aluminum foil", "aluminium"),
        ("gray arsenic", "grey arsenic"),
        ("glass polishing powder", "cerium(IV) oxide"),
        ("ruby", "corundum"),
    ],
)
def test_plural_blanks_hyphens_and_the_spelling_of_english_do_not_matter(name: str, found: str) -> None:
    assert find_substance(name).name == found


@pytest.mark.parametrize(("name", "found"), [("brass", "brass"), ("gas", None), ("glas", None), ("CO2", "carbon dioxide")])
def test_no_letter_is_dropped_that_is_no_plural(name: str, found: str | None) -> None:
    if found:
        assert find_substance(name).name == found
    else:
        with pytest.raises(FaultyInputError):
            find_substance(name)


@pytest.mark.parametrize(("name", "meanings"), AMBIGUOUS.items())
def test_a_name_of_several_substances_is_refused_with_all_of_them(name: str, meanings: set[str]) -> None:
    """Blackboard chalk is mostly gypsum, moth balls were once of naphthalene, candles are of several waxes."""
    with pytest.raises(FaultyInputError) as caught:
        find_substance(name)
    (fault,) = caught.value.faults
    assert f"'{name}' may mean several substances" in fault.says
    assert {meaning for meaning in meanings if repr(meaning) in fault.says} == meanings


def test_the_remark_that_tells_the_meanings_apart_is_shown() -> None:
    with pytest.raises(FaultyInputError, match=r"'calcium sulfate dihydrate' \(most blackboard chalk\)"):
        find_substance("chalk")


def test_only_these_names_mean_several_substances() -> None:
    several = set()
    for substance in load_substances():
        for name in substance.names():
            spelling = name.partition(" (")[0] if name != substance.name else name
            try:
                found = find_substance(spelling)
            except FaultyInputError:
                several.add(spelling)
            else:
                assert found == substance, spelling
    assert several == AMBIGUOUS.keys()
