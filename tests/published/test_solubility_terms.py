"""European Pharmacopoeia, General Notices 1.4: approximate solubility at 15 to 25 °C, millilitres of solvent per gram of solute."""

from __future__ import annotations

import itertools

import msgspec
import pytest

from spotplate.datasets import load_substances
from spotplate.engine import expected_readings
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
TERMS = {term.term: term for term in KNOWLEDGE.solubility}
PUBLISHED: list[tuple[str, float, float | None]] = [  # term, from, to less than [mL/g]
    ("very soluble", 0, 1),
    ("freely soluble", 1, 10),
    ("soluble", 10, 30),
    ("sparingly soluble", 30, 100),
    ("slightly soluble", 100, 1000),
    ("very slightly soluble", 1000, 10000),
    ("practically insoluble", 10000, None),
]


@pytest.mark.parametrize(("term", "at_least", "below"), PUBLISHED)
def test_term_has_the_limits_of_the_pharmacopoeia(term: str, at_least: float, below: float | None) -> None:
    assert (TERMS[term].from_, TERMS[term].below) == (at_least, below)


def test_there_are_no_other_terms_and_they_leave_no_gap() -> None:
    assert list(TERMS) == [term for term, _, _ in PUBLISHED]
    for term, following in itertools.pairwise(TERMS.values()):
        assert term.below == following.from_


def readings_at(parts: float) -> tuple[object, ...]:
    """Readings of the water test, likeliest first, of a substance of which one gram needs so many millilitres."""
    salt = next(substance for substance in load_substances() if substance.name == "sodium chloride")
    other = msgspec.structs.replace(salt, water_solubility_g_per_100mL=100 / parts, water_solubility_word="")
    return expected_readings(other, KNOWLEDGE)["in water"]


def test_bands_of_the_water_reading_are_these_limits() -> None:
    """One part in 30 is 3.33 g in 100 mL, one in 1000 is 0.1 g; the bench test shakes 0.5 g with 15 mL, one part in 30."""
    bands = next(way.bands for entry in KNOWLEDGE.expected if entry.reading == "in water" for way in entry.ways if way.bands)
    limits = {band.gives: band.upto for band in bands}
    assert limits == {
        "does not dissolve": pytest.approx(100 / 1000),
        "partly dissolves": pytest.approx(100 / 30, rel=2e-3),
        "dissolves": None,
    }
    assert "0.5 g with 15 mL" in KNOWLEDGE.test_of["in water"].procedure


@pytest.mark.parametrize("term", TERMS)
def test_every_solubility_within_a_term_gives_the_reading_of_that_term(term: str) -> None:
    least, most = TERMS[term].from_ or 0.1, TERMS[term].below or 1e6
    for share in (0.05, 0.25, 0.5, 0.75, 0.95):
        assert readings_at(least * (most / least) ** share)[0] == TERMS[term].reading


@pytest.mark.parametrize(
    ("parts", "both"), [(30, {"dissolves", "partly dissolves"}), (1000, {"partly dissolves", "does not dissolve"})]
)
def test_at_a_limit_both_neighbours_are_honest_readings(parts: float, both: set[str]) -> None:
    for factor in (0.8, 1.0, 1.25):
        assert set(readings_at(parts * factor)) == both


@pytest.mark.parametrize(
    ("word", "terms"),
    [  # substances.txt: soluble is 1 g in 30 mL or less, slightly soluble 30 to 1000 mL, insoluble more; "pharmacopoeia terms"
        ("soluble", {"very soluble", "freely soluble", "soluble"}),
        ("slightly soluble", {"sparingly soluble", "slightly soluble"}),
        ("insoluble", {"very slightly soluble", "practically insoluble"}),
    ],
)
def test_words_of_the_reference_table_mean_the_same_as_the_terms(word: str, terms: set[str]) -> None:
    entry = next(entry for entry in KNOWLEDGE.expected if entry.reading == "in water")
    words = next(way.words for way in entry.ways if way.column == "water_solubility_word")
    assert {(TERMS[term].reading,) for term in terms} == {words[word]}


@pytest.mark.parametrize(
    ("name", "term"),
    [  # European Pharmacopoeia, monographs, "Characters", solubility in water; recalled, not looked up
        ("sodium chloride", "freely soluble"),
        ("potassium chloride", "freely soluble"),
        ("sucrose", "very soluble"),
        ("urea", "very soluble"),
        ("potassium nitrate", "freely soluble"),
        ("benzoic acid", "slightly soluble"),
        ("salicylic acid", "slightly soluble"),
        ("boric acid", "soluble"),
        ("paracetamol", "sparingly soluble"),
        ("caffeine", "sparingly soluble"),
        ("calcium carbonate", "practically insoluble"),
        ("barium sulfate", "practically insoluble"),
        ("zinc oxide", "practically insoluble"),
        ("iodine", "very slightly soluble"),
    ],
)
def test_substance_dissolves_as_its_monograph_says(name: str, term: str) -> None:
    substance = next(substance for substance in load_substances() if substance.name == name)
    assert TERMS[term].reading in expected_readings(substance, KNOWLEDGE)["in water"]
