"""What published tables say of the classes of solids, fed to the engine as bench records and held against our labels.

Sources
-------
OpenStax, Chemistry 2e, section 10.5, "Types of Crystalline Solids and Their Properties": table, running text, and exercises
with printed answers. Nelson, Chemistry (2003), LSM 4.6-1, "Properties of Ionic, Metallic, Molecular, and Covalent
Network Crystals". A general-chemistry course table with five classes ("Crystal Types").
"""

from __future__ import annotations

import pytest

from spotplate.datasets import load_substances
from spotplate.engine import Identification, VerdictKind, identify, make_record
from spotplate.kb import load_knowledge

IONIC, METALLIC, NETWORK = {"ionic"}, {"metallic"}, {"covalent network"}
POLAR, NONPOLAR = {"polar molecular"}, {"nonpolar molecular"}
MOLECULAR = POLAR | NONPOLAR  # tables with four classes do not part them
OPENSTAX, NELSON, COURSE = "OpenStax, section 10.5", "Nelson, LSM 4.6-1", "course table"
BY_NAME = {substance.name: substance for substance in load_substances()}


def ranked_first_beyond_doubt_of_order(result: Identification, classes: set[str]) -> bool:
    """Whether a class of `classes` is first and more probable than every other class; a tie is no answer."""
    inside = max(item.probability for item in result.ranking if item.class_ in classes)
    outside = max(item.probability for item in result.ranking if item.class_ not in classes)
    return result.ranking[0].class_ in classes and inside > outside + 1e-9


# ---- property patterns, with the melting points printed beside the examples [°C]


@pytest.mark.parametrize(
    ("source", "classes", "pattern", "melting_points"),
    [
        # hard but brittle; does not conduct as a solid, conducts once liquid; high to very high melting point
        (OPENSTAX, IONIC,
         {"hardness": "hard", "deformation": "brittle", "dry conductivity": "no", "melt conductivity": "yes"}, (800.7, 2054)),
        # shiny, malleable, ductile; conducts well; melting point varies
        (OPENSTAX, METALLIC,
         {"lustre": "shiny", "deformation": "malleable and ductile", "dry conductivity": "yes"}, (1084.6, 1538, 1670, 327.5, 1135)),
        # very hard; does not conduct; very high melting point
        (OPENSTAX, NETWORK, {"hardness": "very hard", "dry conductivity": "no"}, (3500, 1610, 2830)),
        # brittle or soft; does not conduct; low melting point
        (OPENSTAX, MOLECULAR, {"hardness": "soft", "dry conductivity": "no"}, (0.0, -78, 113.7, 183.5)),
        (OPENSTAX, MOLECULAR, {"deformation": "brittle", "dry conductivity": "no"}, (0.0, -78, 113.7, 183.5)),
        # hard, brittle, melts high; melt and solution conduct
        (NELSON, IONIC,
         {"hardness": "hard", "deformation": "brittle", "melt conductivity": "yes", "solution conductivity": "yes"}, (800.7, 1583)),
        # soft to very hard; solid and liquid conduct; ductile, malleable, lustrous
        (NELSON, METALLIC,
         {"hardness": "soft", "dry conductivity": "yes", "melt conductivity": "yes", "deformation": "malleable, ductile",
          "lustre": "lustrous"}, (327.5, 1538, 1084.6, 660.3)),
        (NELSON, METALLIC,
         {"hardness": "very hard", "dry conductivity": "yes", "melt conductivity": "yes", "deformation": "malleable, ductile",
          "lustre": "lustrous"}, (327.5, 1538, 1084.6, 660.3)),
        # soft, melts low; solid, liquid and solution do not conduct
        (NELSON, MOLECULAR,
         {"hardness": "soft", "dry conductivity": "no", "melt conductivity": "no", "in water": "dissolves",
          "solution conductivity": "no"}, (0.0, 113.7, -182.5)),
        # very hard, melts very high, does not conduct
        (NELSON, NETWORK, {"hardness": "very hard", "dry conductivity": "no"}, (3500, 2830, 1610)),
        # high melting point, hard, brittle, conducts when melted
        (COURSE, IONIC,
         {"hardness": "hard", "deformation": "brittle", "dry conductivity": "no", "melt conductivity": "yes"}, (800.7, 1973, 334)),
        # low melting point, soft, non-conductor
        (COURSE, MOLECULAR, {"hardness": "soft", "dry conductivity": "no"}, (0.0, -75.5)),
        # very low melting point, very soft, non-conductor
        (COURSE, MOLECULAR, {"hardness": "very soft", "dry conductivity": "no"}, (-259.2, -101.5, -182.5)),
        # very high melting point, very hard, non-conductor
        (COURSE, NETWORK, {"hardness": "very hard", "dry conductivity": "no"}, (3500, 1610, 2830, 3000)),
        # generally fairly high melting point, hard or soft, malleable, ductile, conducts
        (COURSE, METALLIC, {"deformation": "malleable, ductile", "dry conductivity": "yes"}, (961.8, 1084.6, 97.8, 1538)),
    ],
)  # fmt: skip
def test_typical_pattern_ranks_its_class_first(
    source: str, classes: set[str], pattern: dict[str, str], melting_points: tuple[float, ...]
) -> None:
    for celsius in melting_points:
        result = identify(make_record(pattern | {"melting range": f"{celsius} °C"}))
        assert ranked_first_beyond_doubt_of_order(result, classes), (source, celsius, result.ranking[0].class_)
        assert result.verdict.kind is not VerdictKind.CONTRADICTORY, (source, celsius)


@pytest.mark.parametrize(
    ("written", "answer"),
    [  # OpenStax, Chemistry 2e, section 10.5, exercises; the answers are printed in the book
        (
            {"deformation": "brittle", "colour": "white", "melting range": "800 °C", "dry conductivity": "no",
             "melt conductivity": "yes", "solution conductivity": "yes", "in water": "soluble"},
            IONIC,
        ),
        (
            {"lustre": "shiny", "deformation": "malleable", "melting range": "1100 °C", "dry conductivity": "yes",
             "in water": "insoluble"},
            METALLIC,
        ),
        (
            {"hardness": "hard", "colour": "colourless", "melting range": "3550 °C", "dry conductivity": "no",
             "in water": "insoluble"},
            NETWORK,
        ),
    ],
    ids=["X", "Y", "Z"],
)  # fmt: skip
def test_exercise_with_printed_answer(written: dict[str, str], answer: set[str]) -> None:
    result = identify(make_record(written))
    assert ranked_first_beyond_doubt_of_order(result, answer)
    assert result.verdict.class_ in answer | {None}


# ---- example substances

EXAMPLES: list[tuple[str, str, set[str]]] = [
    # OpenStax, section 10.5, the table
    (OPENSTAX, "sodium chloride", IONIC), (OPENSTAX, "aluminium oxide", IONIC), (OPENSTAX, "copper", METALLIC),
    (OPENSTAX, "iron", METALLIC), (OPENSTAX, "titanium", METALLIC), (OPENSTAX, "lead", METALLIC),
    (OPENSTAX, "diamond", NETWORK), (OPENSTAX, "quartz", NETWORK), (OPENSTAX, "silicon carbide", NETWORK),
    (OPENSTAX, "water", MOLECULAR), (OPENSTAX, "carbon dioxide", MOLECULAR), (OPENSTAX, "iodine", MOLECULAR),
    (OPENSTAX, "sucrose", MOLECULAR),
    # the running text
    (OPENSTAX, "mercury", METALLIC), (OPENSTAX, "sodium", METALLIC), (OPENSTAX, "potassium", METALLIC),
    # the exercise "by formula"
    (OPENSTAX, "calcium chloride", IONIC), (OPENSTAX, "nitrogen", MOLECULAR), (OPENSTAX, "graphite", NETWORK),
    (OPENSTAX, "butane", MOLECULAR), (OPENSTAX, "hydrogen chloride", MOLECULAR), (OPENSTAX, "ammonium nitrate", IONIC),
    # Nelson, LSM 4.6-1
    (NELSON, "copper(II) sulfate pentahydrate", IONIC), (NELSON, "aluminium", METALLIC), (NELSON, "neon", MOLECULAR),
    (NELSON, "methane", MOLECULAR),
    # course table "Crystal Types"
    (COURSE, "potassium nitrate", IONIC), (COURSE, "water", POLAR), (COURSE, "sulfur dioxide", POLAR),
    (COURSE, "hydrogen", NONPOLAR), (COURSE, "chlorine", NONPOLAR), (COURSE, "methane", NONPOLAR),
    (COURSE, "aluminium nitride", NETWORK), (COURSE, "silver", METALLIC),
]  # fmt: skip


@pytest.mark.parametrize(("source", "name", "classes"), EXAMPLES, ids=lambda value: value if isinstance(value, str) else "")
def test_example_substance_has_the_printed_class(source: str, name: str, classes: set[str]) -> None:
    assert BY_NAME[name].class_ in classes, source


# Printed examples that the reference table does not hold: formula → where printed. Move a row up once it is there.
ABSENT = {"U": OPENSTAX, "K3PO4": OPENSTAX, "Na3PO4": NELSON, "BaO": COURSE}


def test_list_of_absent_examples_is_up_to_date() -> None:
    assert {substance.formula for substance in load_substances()} & set(ABSENT) == set()


def test_hydrogen_chloride_shows_the_known_fault_of_a_published_table() -> None:
    """Nelson says the solution of a molecular crystal does not conduct, and lists HCl; its solution does conduct."""
    substance = BY_NAME["hydrogen chloride"]
    assert substance.class_ == "polar molecular"
    assert substance.solution_conduction == "good"
    assert substance.exception


# ---- printed melting points


@pytest.mark.parametrize(
    ("source", "name", "celsius"),  # melting points printed beside the published tables [°C]
    [
        (OPENSTAX, "sodium chloride", 800.7), (OPENSTAX, "aluminium oxide", 2054), (OPENSTAX, "copper", 1084.6),
        (OPENSTAX, "iron", 1538), (OPENSTAX, "titanium", 1670), (OPENSTAX, "lead", 327.5), (OPENSTAX, "water", 0.0),
        (OPENSTAX, "iodine", 113.7), (OPENSTAX, "sucrose", 183.5),  # printed 181 to 186
        (OPENSTAX, "quartz", 1610),
        (NELSON, "aluminium", 660.3), (COURSE, "potassium nitrate", 334), (COURSE, "sulfur dioxide", -75.5),
        (COURSE, "hydrogen", -259.2), (COURSE, "chlorine", -101.5), (COURSE, "methane", -182.5), (COURSE, "silver", 961.8),
        (COURSE, "sodium", 97.8),
        # the warnings drawn from comparing the tables
        ("CRC", "ammonium nitrate", 170), ("CRC", "gallium", 29.8), ("CRC", "mercury", -38.8), ("CRC", "magnesium oxide", 2825),
    ],
)  # fmt: skip
def test_melting_point_agrees_with_the_printed_one(source: str, name: str, celsius: float) -> None:
    kelvin = BY_NAME[name].melting_point_K
    assert kelvin is not None
    assert kelvin - 273.15 == pytest.approx(celsius, abs=5), source


@pytest.mark.parametrize(
    ("name", "event"),  # printed with a melting point (or "sublimes"), but they change first in the open
    [
        ("silicon carbide", "decomposes"),
        ("aluminium nitride", "decomposes"),
        ("copper(II) sulfate pentahydrate", "loses water"),  # Nelson: loses water first
    ],
)
def test_printed_example_that_changes_before_it_melts_says_so(name: str, event: str) -> None:
    assert BY_NAME[name].melting_point_K is None
    assert BY_NAME[name].heating_events()[0][0] == event


def test_carbon_dioxide_sublimes_where_the_table_says() -> None:
    """OpenStax, section 10.5: −78 °C, sublimes."""
    substance = BY_NAME["carbon dioxide"]
    assert substance.melting_point_K is None
    assert substance.boiling_point_K is not None
    assert substance.boiling_point_K - 273.15 == pytest.approx(-78, abs=1)


# ---- warnings drawn from comparing published tables


@pytest.mark.parametrize(
    ("written", "never"),
    [  # fixed melting bands fail
        ({"melting range": "334 °C", "dry conductivity": "no", "in water": "yes", "solution conductivity": "yes"}, MOLECULAR),
        ({"melting range": "170 °C", "dry conductivity": "no", "in water": "yes", "solution conductivity": "yes",
          "litmus": "neutral"}, MOLECULAR),
        ({"melting range": "97.8 °C", "dry conductivity": "yes", "lustre": "shiny", "deformation": "malleable"}, MOLECULAR),
        ({"melting range": "29.8 °C", "dry conductivity": "yes", "lustre": "shiny"}, MOLECULAR),
        ({"melting range": "2825 °C", "dry conductivity": "no", "solid in dilute acid": "yes"}, NETWORK),
    ],
    ids=["potassium nitrate", "ammonium nitrate", "sodium", "gallium", "magnesium oxide"],
)  # fmt: skip
def test_melting_point_alone_never_overrules_what_conducts_or_dissolves(written: dict[str, str], never: set[str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.class_ not in never
    assert result.ranking[0].class_ not in never


@pytest.mark.parametrize("more", [{}, {"in water": "insoluble"}, {"in water": "insoluble", "deformation": "brittle"}])
def test_insulator_that_melts_high_is_left_open_between_ionic_and_network(more: dict[str, str]) -> None:
    """“Does not conduct, melts at 1200 °C” cannot part ionic from network."""
    result = identify(make_record({"dry conductivity": "no", "melting range": "1200 °C"} | more))
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert set(result.verdict.open_between) >= {"ionic", "covalent network"}


@pytest.mark.parametrize("name", ["barium sulfate", "calcium fluoride", "silver chloride"])
def test_insoluble_salt_leaves_its_water_dark_and_is_ionic_all_the_same(name: str) -> None:
    assert BY_NAME[name].class_ == "ionic"
    assert BY_NAME[name].solution_conduction == "none"


def test_acetone_is_polar_and_warned_against_as_non_polar_solvent() -> None:
    assert BY_NAME["propanone"].class_ == "polar molecular"
    test = load_knowledge().test_of["in non-polar solvent"]
    assert not any("acetone" in thing or "propanone" in thing for thing in test.apparatus)
    assert "Propanone (acetone) will not do" in test.procedure


@pytest.mark.parametrize("name", ["starch", "sucrose", "glucose", "fructose", "lactose monohydrate", "cellulose"])
def test_starch_and_sugars_char(name: str) -> None:
    assert "chars" in {event for event, _ in BY_NAME[name].heating_events()}
