"""Substances on which a rule of thumb misleads: the engine must never be confidently wrong about them.

What each shows at the bench is `common practice` of the trade, written here by hand and not taken from our tables.
"""

from __future__ import annotations

import pytest

from spotplate.engine import VerdictKind, identify, make_record

INSOLUBLE = {"in water": "insoluble", "dry conductivity": "no"}


@pytest.mark.parametrize(
    ("name", "written", "classes"),
    [
        # conducts, yet no metal
        ("graphite", {"state": "solid", "dry conductivity": "yes", "lustre": "metallic", "mark on paper": "yes",
                      "deformation": "brittle", "in water": "insoluble", "in the burner flame": "no"}, {"covalent network"}),
        # conducts in solution, yet not ionic
        ("citric acid", {"state": "solid", "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "weak",
                         "litmus": "acid", "on the hot plate": "chars"}, {"polar molecular"}),
        # shines, yet no metal
        ("iodine", {"state": "solid", "lustre": "metallic", "deformation": "brittle", "dry conductivity": "no",
                    "in the warm bath": "sublimes", "smell": "yes", "in hexane": "yes", "in water": "insoluble"},
         {"nonpolar molecular"}),
        # dissolves, yet not ionic
        ("sugar", {"state": "solid", "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "no",
                   "on the hot plate": "chars"}, {"polar molecular"}),
        ("urea", {"state": "solid", "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "no",
                  "melting range": "133-135 °C"}, {"polar molecular"}),
        # a metal that melts low
        ("tin", {"state": "solid", "lustre": "metallic", "deformation": "malleable", "dry conductivity": "yes",
                 "melting range": "230-232 °C", "in water": "insoluble"}, {"metallic"}),
        ("mercury", {"state": "liquid", "lustre": "metallic", "dry conductivity": "yes", "in water": "insoluble"}, {"metallic"}),
        ("sodium", {"state": "solid", "lustre": "metallic", "deformation": "malleable", "dry conductivity": "yes",
                    "in water": "reacts", "litmus": "alkaline", "solution conductivity": "yes"}, {"metallic"}),
        # a salt that melts low, in its own water
        ("Glauber's salt", {"state": "solid", "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "yes",
                            "litmus": "neutral", "in the warm bath": "melts", "cold glass": "water drops",
                            "flame colour": "yellow"}, {"ionic"}),
        # salts that do not dissolve
        ("chalk", INSOLUBLE | {"state": "solid", "gas in dilute acid": "co2", "solid in dilute acid": "dissolves"}, {"ionic"}),
        ("magnesium hydroxide", INSOLUBLE | {"state": "solid", "gas in dilute acid": "none", "solid in dilute acid": "dissolves",
                                             "on the hot plate": "no", "in heptane": "insoluble"}, {"ionic"}),
        ("barium sulfate", INSOLUBLE | {"state": "solid", "gas in dilute acid": "none", "solid in dilute acid": "no",
                                        "in the burner flame": "no", "flame colour": "green"}, {"ionic", "covalent network"}),
        # an acid salt
        ("sodium hydrogensulfate", {"state": "solid", "dry conductivity": "no", "in water": "dissolves",
                                    "solution conductivity": "yes", "litmus": "acid", "flame colour": "yellow",
                                    "on the hot plate": "no"}, {"ionic"}),
        ("ammonium chloride", {"state": "solid", "dry conductivity": "no", "in water": "dissolves",
                               "solution conductivity": "yes", "litmus": "acid", "on the hot plate": "sublimes"},
         {"ionic"}),
        # molecules that boil low and dissolve well
        ("ethanol", {"state": "liquid", "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "no",
                     "burning": "clean flame", "boiling point": "78 °C"}, {"polar molecular"}),
        ("candle wax", INSOLUBLE | {"state": "solid", "deformation": "waxy", "in the warm bath": "melts", "in heptane": "dissolves"},
         {"nonpolar molecular"}),
        ("hydrogen chloride", {"state": "gas", "in water": "dissolves", "litmus": "acid", "solution conductivity": "yes"},
         {"polar molecular"}),
        # a semiconductor
        ("silicon", {"state": "solid", "lustre": "metallic", "deformation": "brittle", "dry conductivity": "faint",
                     "hardness": "hard", "in water": "insoluble", "in the burner flame": "no"}, {"covalent network"}),
        ("quartz", INSOLUBLE | {"state": "solid", "lustre": "glassy", "hardness": "hard", "in the burner flame": "no",
                                "solid in dilute acid": "no", "gas in dilute acid": "none"}, {"covalent network"}),
    ],
)  # fmt: skip
def test_never_confidently_wrong(name: str, written: dict[str, str], classes: set[str]) -> None:
    result = identify(make_record(written))
    if result.verdict.kind is VerdictKind.CONCLUSIVE:
        assert result.verdict.class_ in classes, name
    assert result.verdict.kind is not VerdictKind.CONTRADICTORY, name
    assert result.ranking[0].class_ in classes, name
