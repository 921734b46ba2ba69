"""European Pharmacopoeia, General Notices 1.4: approximate solubility, millilitres of solvent per gram of solute."""

from __future__ import annotations

import pytest

from spotplate.kb import load_knowledge

TERMS = {term.term: term for term in load_knowledge().solubility}


@pytest.mark.parametrize(
    ("term", "at_least", "below"),
    [
        ("very soluble", 0, 1),
        ("freely soluble", 1, 10),
        ("soluble", 10, 30),
        ("sparingly soluble", 30, 100),
        ("slightly soluble", 100, 1000),
        ("very slightly soluble", 1000, 10000),
        ("practically insoluble", 10000, None),
    ],
)
def test_term_has_the_limits_of_the_pharmacopoeia(term: str, at_least: float, below: float | None) -> None:
    assert TERMS[term].from_ == at_least
    assert TERMS[term].below == below


def test_bands_of_the_water_reading_are_these_limits() -> None:
    """One part in 30 is 3.33 g in 100 mL, one in 1000 is 0.1 g."""
    entry = next(entry for entry in load_knowledge().expected if entry.reading == "in water")
    bands = next(way.bands for way in entry.ways if way.bands)
    limits = {band.gives: band.upto for band in bands}
    assert limits["does not dissolve"] == pytest.approx(100 / 1000)
    assert limits["partly dissolves"] == pytest.approx(100 / 30, rel=2e-3)
    for term in TERMS.values():
        middle = 100 / (term.from_ * 1.5 if term.from_ else 0.5)
        expected = next(band.gives for band in bands if band.upto is None or middle < band.upto)
        assert term.reading == expected, term.term
