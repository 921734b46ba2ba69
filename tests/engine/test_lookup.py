"""Finding a substance by what people call it."""

from __future__ import annotations

import pytest

from spotplate.engine import FaultyInputError, find_substance


@pytest.mark.parametrize(
    ("name", "found"),
    [("Co", "cobalt"), ("CO", "carbon monoxide"), ("table salt", "sodium chloride"), ("7647-14-5", "sodium chloride")],
)
def test_names_formulas_and_numbers_lead_to_one_substance(name: str, found: str) -> None:
    assert find_substance(name).name == found


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("copper sulfate", ["copper(II) sulfate pentahydrate", "anhydrous copper(II) sulfate"]),
        ("sugar", ["table sugar", "milk sugar"]),
        ("sodium chlorid", ["sodium chloride"]),
    ],
)
def test_a_name_that_is_not_enough_is_never_guessed_but_told_the_near_ones(name: str, told: list[str]) -> None:
    with pytest.raises(FaultyInputError) as caught:
        find_substance(name)
    assert "did you mean" in str(caught.value)
    assert all(repr(word) in str(caught.value) for word in told)
