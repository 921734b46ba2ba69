"""What published tables say of the classes of solids, fed to the engine as bench records.

Sources
-------
OpenStax, Chemistry 2e, section 10.5, "Types of Crystalline Solids and Their Properties": table and exercises
with printed answers. Nelson, Chemistry (2003), LSM 4.6-1, "Properties of Ionic, Metallic, Molecular, and Covalent
Network Crystals". A general-chemistry course table with five classes ("Crystal Types").
"""

from __future__ import annotations

import pytest

from spotplate.datasets import load_substances
from spotplate.engine import identify, make_record

MOLECULAR = {"polar molecular", "nonpolar molecular"}
BY_NAME = {substance.name: substance for substance in load_substances()}


@pytest.mark.parametrize(
    ("written", "classes"),
    [
        # OpenStax, section 10.5, the table; hard but brittle, conducts once liquid, high melting
        ({"deformation": "brittle", "dry conductivity": "no", "melt conductivity": "yes", "melting range": "800.7 °C"}, {"ionic"}),
        # shiny, malleable, conducts well
        ({"lustre": "shiny", "deformation": "malleable", "dry conductivity": "yes", "melting range": "1084.6 °C"}, {"metallic"}),
        # very hard, does not conduct, very high melting
        ({"hardness": "very hard", "dry conductivity": "no", "melting range": "> 3500 °C"}, {"covalent network"}),
        # brittle or soft, does not conduct, low melting
        ({"hardness": "soft", "dry conductivity": "no", "melting range": "113.7 °C"}, MOLECULAR),
        # Nelson, LSM 4.6-1
        ({"deformation": "brittle", "melting range": "1583 °C", "melt conductivity": "yes", "solution conductivity": "yes"}, {"ionic"}),
        ({"dry conductivity": "yes", "melt conductivity": "yes", "deformation": "ductile", "lustre": "lustrous"}, {"metallic"}),
        (
            {"hardness": "soft", "melting range": "0 °C", "dry conductivity": "no", "melt conductivity": "no",
             "in water": "dissolves", "solution conductivity": "no"},
            MOLECULAR,
        ),
        ({"hardness": "very hard", "melting range": "2830 °C", "dry conductivity": "no"}, {"covalent network"}),
        # Course table "Crystal Types"
        ({"melting range": "1973 °C", "dry conductivity": "no", "melt conductivity": "yes"}, {"ionic"}),
        ({"melting range": "0 °C", "hardness": "soft", "dry conductivity": "no"}, MOLECULAR),
        ({"melting range": "-182.5 °C", "hardness": "very soft", "dry conductivity": "no"}, MOLECULAR),
        ({"melting range": "1610 °C", "hardness": "very hard", "dry conductivity": "no"}, {"covalent network"}),
        ({"melting range": "961.8 °C", "deformation": "malleable", "dry conductivity": "yes"}, {"metallic"}),
    ],
)  # fmt: skip
def test_typical_pattern_ranks_its_class_first(written: dict[str, str], classes: set[str]) -> None:
    assert identify(make_record(written)).ranking[0].class_ in classes


@pytest.mark.parametrize(
    ("written", "answer"),
    [  # OpenStax, Chemistry 2e, section 10.5, exercises; the answers are printed in the book
        (
            {"deformation": "brittle", "colour": "white", "melting range": "800 °C", "dry conductivity": "no",
             "melt conductivity": "yes", "solution conductivity": "yes", "in water": "soluble"},
            "ionic",
        ),
        (
            {"lustre": "shiny", "deformation": "malleable", "melting range": "1100 °C", "dry conductivity": "yes",
             "in water": "insoluble"},
            "metallic",
        ),
        (
            {"hardness": "hard", "colour": "colourless", "melting range": "3550 °C", "dry conductivity": "no",
             "in water": "insoluble"},
            "covalent network",
        ),
    ],
    ids=["X", "Y", "Z"],
)  # fmt: skip
def test_exercise_with_printed_answer(written: dict[str, str], answer: str) -> None:
    assert identify(make_record(written)).ranking[0].class_ == answer


@pytest.mark.parametrize(
    ("name", "classes"),
    [  # examples of all three tables and of the exercise "by formula"
        ("sodium chloride", {"ionic"}), ("aluminium oxide", {"ionic"}), ("calcium chloride", {"ionic"}),
        ("ammonium nitrate", {"ionic"}), ("potassium nitrate", {"ionic"}), ("copper(II) sulfate pentahydrate", {"ionic"}),
        ("copper", {"metallic"}), ("iron", {"metallic"}), ("titanium", {"metallic"}), ("lead", {"metallic"}),
        ("aluminium", {"metallic"}), ("silver", {"metallic"}), ("sodium", {"metallic"}),
        ("diamond", {"covalent network"}), ("quartz", {"covalent network"}), ("silicon carbide", {"covalent network"}),
        ("graphite", {"covalent network"}), ("aluminium nitride", {"covalent network"}),
        ("water", MOLECULAR), ("carbon dioxide", MOLECULAR), ("iodine", MOLECULAR), ("sucrose", MOLECULAR),
        ("nitrogen", MOLECULAR), ("hydrogen chloride", MOLECULAR), ("methane", MOLECULAR), ("neon", MOLECULAR),
        ("hydrogen", {"nonpolar molecular"}), ("chlorine", {"nonpolar molecular"}), ("sulfur dioxide", {"polar molecular"}),
    ],
)  # fmt: skip
def test_example_substance_has_the_printed_class(name: str, classes: set[str]) -> None:
    assert BY_NAME[name].class_ in classes


def test_network_examples_may_be_defended_as_ionic_only_where_the_table_says_so() -> None:
    """Aluminium nitride stands under the networks of the course table; its polar bonds make ionic defensible too."""
    assert BY_NAME["aluminium nitride"].class_ == "covalent network"


def test_hydrogen_chloride_shows_the_known_fault_of_a_published_table() -> None:
    """Nelson says the solution of a molecular crystal does not conduct, and lists HCl; its solution does conduct."""
    substance = BY_NAME["hydrogen chloride"]
    assert substance.class_ == "polar molecular"
    assert substance.solution_conduction == "good"


@pytest.mark.parametrize(
    ("name", "celsius"),  # melting points printed beside the published tables [°C]
    [
        ("sodium chloride", 800.7), ("aluminium oxide", 2054), ("copper", 1084.6), ("iron", 1538), ("titanium", 1670),
        ("lead", 327.5), ("water", 0.0), ("iodine", 113.7), ("aluminium", 660.3), ("potassium nitrate", 334),
        ("sulfur dioxide", -75.5), ("hydrogen", -259.2), ("chlorine", -101.5), ("methane", -182.5), ("silver", 961.8),
        ("sodium", 97.8),
    ],
)  # fmt: skip
def test_melting_point_agrees_with_the_printed_one(name: str, celsius: float) -> None:
    kelvin = BY_NAME[name].melting_point_K
    assert kelvin is not None
    assert kelvin - 273.15 == pytest.approx(celsius, abs=5)
