"""What preparing a set takes; expected amounts are reckoned by hand from the knowledge base's figures."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate.datasets import load_substances
from spotplate.engine.sets import Preparation, UnknownsSet, Vial, prepare
from spotplate.engine.sets.preparation import elements_of, stock_volume
from spotplate.kb import FaultyInputError, load_knowledge

KNOWLEDGE = load_knowledge()
RULES = KNOWLEDGE.preparation
SUBSTANCES = {substance.name: substance for substance in load_substances()}
ALL_TESTS = tuple(KNOWLEDGE.tests)


def prepared(*names: str, tests: tuple[str, ...] = ALL_TESTS, groups: int = 1, **amounts: float) -> Preparation:
    vials = tuple(Vial(f"V{number}", name) for number, name in enumerate(names, 1))
    written = {name.replace("_", " "): amount for name, amount in amounts.items()}
    return prepare(UnknownsSet("set", vials, tests), KNOWLEDGE, groups, written)


def reagent(preparation: Preparation, name: str):  # type: ignore[no-untyped-def]
    return next(need for need in preparation.reagents if need.reagent.id == name)


# --- the knowledge base ----------------------------------------------------------------------------


def test_every_bench_test_tells_what_it_takes() -> None:
    assert [item.test for item in RULES.takes if item.test not in KNOWLEDGE.tests] == []
    assert sorted(item.test for item in RULES.takes) == sorted(KNOWLEDGE.tests)
    assert all(item.because.endswith(".") for item in RULES.takes)


def test_a_test_takes_at_least_what_its_procedure_says() -> None:
    """Figures out of the procedures in kb/bench_tests."""
    takes = {item.test: item for item in RULES.takes}
    assert takes["water test"].solid >= 0.5
    assert takes["non-polar solvent test"].solid >= 0.2
    assert takes["boiling point test"].liquid >= 1
    assert takes["water test"].uses["deionised water"] >= 15
    assert takes["non-polar solvent test"].uses["heptane"] >= 5
    assert takes["dilute acid test"].uses["hydrochloric acid, 2 mol/L"] >= 2


def test_containers_hold_more_and_more() -> None:
    sizes = [container.upto for container in RULES.containers]
    assert sizes[-1] is None
    bounded = [size for size in sizes if size is not None]
    assert len(bounded) == len(sizes) - 1
    assert bounded == sorted(set(bounded))


def test_storage_is_told_for_every_strong_hazard_of_the_table() -> None:
    told = {code for item in RULES.storage for code in item.hazards}
    strong = {code for item in SUBSTANCES.values() for code in item.hazards() if code[:4] in (
        "H224", "H225", "H226", "H228", "H250", "H260", "H261", "H270", "H271", "H272", "H300", "H301", "H310", "H311", "H314",
        "H330", "H331", "H340", "H350", "H360", "H400", "H410")}  # fmt: skip
    assert strong <= told


# --- solutions -------------------------------------------------------------------------------------


def test_concentrated_hydrochloric_acid_has_the_published_concentration() -> None:
    """Tables of concentrated reagents print 12.1 mol/L for 37.2 % with 1.18 g/mL, and 12 mol/L for 37 %."""
    dilution = next(item.dilution for item in RULES.reagents if item.id == "hydrochloric acid, 2 mol/L")
    assert dilution
    assert dilution.stock_concentration == pytest.approx(12.0, abs=0.05)


def test_a_litre_of_dilute_acid_takes_the_published_volume() -> None:
    """Laboratory manuals print 167 mL of 37 % acid for one litre of 2 mol/L."""
    dilution = next(item.dilution for item in RULES.reagents if item.id == "hydrochloric acid, 2 mol/L")
    assert dilution
    assert stock_volume(dilution, 1000) == pytest.approx(167, abs=0.5)


def test_limewater_is_made_with_more_than_dissolves() -> None:
    """So that it is saturated: 0.17 g dissolve in 100 mL (reference table)."""
    solution = next(item.solution for item in RULES.reagents if item.id == "limewater")
    solubility = SUBSTANCES["calcium hydroxide"].water_solubility_g_per_100mL
    assert solution
    assert solubility
    assert solution.of == "calcium hydroxide"
    assert 10 * solubility < solution.mass_per_litre <= 30 * solubility


def test_recipes_follow_the_volume_that_is_made_ready() -> None:
    found = prepared("sucrose", "copper", groups=4, tests=("look", "water test", "dilute acid test"))
    acid, lime = reagent(found, "hydrochloric acid, 2 mol/L"), reagent(found, "limewater")
    # 2 mL × 2 vials × 2 trials × 4 groups × 1.25 = 40 mL, made in steps of 50 mL
    assert acid.needed == pytest.approx(40)
    assert acid.ready == 50
    assert acid.recipe
    assert acid.recipe.take == pytest.approx(50 * 2 / 11.975, rel=1e-3)
    # 0.5 mL × 2 × 2 × 4 × 1.25 = 10 mL
    assert lime.needed == pytest.approx(10)
    assert lime.recipe
    assert lime.recipe.take == pytest.approx(0.15)


# --- portions --------------------------------------------------------------------------------------


def test_a_portion_is_the_sum_over_tests_times_trials_with_a_margin_rounded_up() -> None:
    (portion,) = prepared("sodium chloride", tests=("look", "water test", "dilute acid test"), groups=5).portions
    # (0.2 + 0.6 + 0.2) g × 2 × 1.25 = 2.5 g
    assert (portion.each, portion.unit) == (2.5, "g")
    assert portion.in_all == 12.5


def test_a_liquid_is_measured_in_millilitres() -> None:
    (portion,) = prepared("ethanol", tests=("look", "water test", "boiling point test")).portions
    # (0.3 + 1 + 1) mL × 2 × 1.25 = 5.75 mL
    assert (portion.each, portion.unit) == (6.0, "mL")


def test_a_teachers_own_figure_takes_the_place_of_the_usual_one() -> None:
    (portion,) = prepared("sodium chloride", tests=("look", "water test"), water_test=2.0).portions
    # (0.2 + 2) g × 2 × 1.25 = 5.5 g
    assert portion.each == 5.5
    (portion,) = prepared("sodium chloride", tests=("look", "water test"), water_test=0.0).portions
    assert portion.each == 0.5


def test_a_demonstration_is_done_once_for_all_groups() -> None:
    tests = ("look", "warm bath test", "hot plate test", "burner test", "melt conductivity test")
    (with_it,) = prepared("sodium chloride", tests=tests, groups=6).portions
    (without,) = prepared("sodium chloride", tests=tests[:-1], groups=6).portions
    assert with_it.each == without.each
    assert with_it.demonstrations == 6.5  # 5 g × 1.25, rounded up
    assert with_it.in_all == without.in_all + 6.5


def test_what_cannot_be_molten_is_not_prepared_for_the_melt() -> None:
    tests = ("look", "warm bath test", "hot plate test", "burner test", "melt conductivity test")
    for name in ("sand", "starch"):  # the one stays solid in the burner flame, the other chars
        (portion,) = prepared(name, tests=tests).portions
        assert portion.demonstrations == 0


def test_two_vials_of_one_substance_take_twice_as_much() -> None:
    (one,) = prepared("sucrose").portions
    (two,) = prepared("sucrose", "sucrose").portions
    assert two.vials == ("V1", "V2")
    assert two.in_all == 2 * one.in_all


def test_tests_that_lack_what_they_need_first_take_nothing() -> None:
    found = prepared("sucrose", tests=("look", "solution conductivity test"))
    assert found.tests == ("look",)
    assert found.reagents == ()


@given(
    st.lists(st.sampled_from(sorted(SUBSTANCES)), min_size=1, max_size=12),
    st.sets(st.sampled_from(ALL_TESTS), min_size=1),
    st.integers(1, 40),
)
def test_a_vial_never_holds_less_than_its_tests_take(names: list[str], tests: set[str], groups: int) -> None:
    found = prepared(*names, tests=tuple(tests), groups=groups)
    takes = {item.test: item for item in RULES.takes}
    assert sum(len(portion.vials) for portion in found.portions) == len(names)
    for portion in found.portions:
        taken = sum(getattr(takes[test], portion.state) for test in found.tests if test != "melt conductivity test")
        assert portion.each >= taken * RULES.trials - 1e-9
        assert portion.each > 0
        assert portion.in_all >= portion.each * groups * len(portion.vials) - 1e-9
        assert portion.storage
    for need in found.reagents:
        assert need.needed - 1e-9 <= need.ready < need.needed + need.reagent.rounded_to + 1e-9
        assert math.isclose(need.ready / need.reagent.rounded_to, round(need.ready / need.reagent.rounded_to))


@pytest.mark.parametrize("groups", [0, -1, 41])
def test_a_number_of_groups_out_of_range_is_refused(groups: int) -> None:
    with pytest.raises(FaultyInputError, match="1 to 40"):
        prepared("sucrose", groups=groups)


@pytest.mark.parametrize("amount", [-1.0, math.nan, math.inf, 1e9])
def test_an_impossible_amount_is_refused(amount: float) -> None:
    with pytest.raises(FaultyInputError, match="cannot take"):
        prepared("sucrose", water_test=amount)


# --- residues --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("formula", "elements"),
    [
        ("NaCl", {"Na", "Cl"}),
        ("CuSO4·5H2O", {"Cu", "S", "O", "H"}),
        ("(C2H4)n", {"C", "H"}),
        ("Co", {"Co"}),
        ("CO", {"C", "O"}),
        ("", set()),
    ],
)
def test_elements_of_a_formula(formula: str, elements: set[str]) -> None:
    assert elements_of(formula) == elements


def kinds(substance: str) -> set[str]:
    return {note.kind.id for note in prepared(substance, tests=("look",)).residues if substance in note.substances}


@pytest.mark.parametrize(
    ("substance", "kind"),  # what every school's waste plan says
    [
        ("copper(II) sulfate pentahydrate", "heavy metals"),
        ("lead", "heavy metals"),
        ("zinc", "heavy metals"),
        ("brass", "heavy metals"),  # no formula: its make-up is not in the table
        ("heptane", "organic solvents and liquids"),
        ("ethanol", "organic solvents and liquids"),
        ("dichloromethane", "halogenated organic substances"),
        ("sodium", "substances that react with water"),
        ("citric acid monohydrate", "acid or alkaline liquids"),
        ("sodium hydroxide", "acid or alkaline liquids"),
        ("potassium permanganate", "oxidisers"),
        ("potassium nitrate", "oxidisers"),
        ("iron(II) sulfide", "substances that free a poisonous gas with acid"),
        ("calcium fluoride", "substances that free a poisonous gas with acid"),
        ("potassium hexacyanoferrate(III)", "substances that free a poisonous gas with acid"),
        ("nitrobenzene", "organic solvents and liquids"),
        ("methane", "gases"),
        ("caffeine", "harmful or poisonous substances"),
        ("naphthalene", "substances that harm water"),
        ("sodium chloride", "inert or harmless"),
        ("sucrose", "inert or harmless"),
        ("sand", "inert or harmless"),
    ],
)
def test_a_substance_falls_under_the_kind_of_residue_it_leaves(substance: str, kind: str) -> None:
    assert kind in kinds(substance)


def test_halogenated_liquids_are_kept_apart_from_other_solvents() -> None:
    for name in ("dichloromethane", "tetrachloroethene"):
        assert "organic solvents and liquids" not in kinds(name)


def test_common_salt_is_no_halogenated_organic_substance() -> None:
    assert "halogenated organic substances" not in kinds("sodium chloride")


@pytest.mark.parametrize("name", sorted(SUBSTANCES))
def test_every_substance_falls_under_some_kind_and_the_harmless_under_no_other(name: str) -> None:
    found = kinds(name)
    assert found
    assert found == {"inert or harmless"} or "inert or harmless" not in found


def test_the_acid_test_leaves_acid_from_every_vial() -> None:
    notes = {note.kind.id: note for note in prepared("sand", tests=("look", "water test", "dilute acid test")).residues}
    assert notes["acid or alkaline liquids"].tests == ("dilute acid test",)
    assert notes["acid or alkaline liquids"].substances == ()
