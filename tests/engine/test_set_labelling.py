"""Signal words, pictograms and hazard statements of a label, by the rules of the UN GHS (from memory where not said)."""

from __future__ import annotations

import itertools

import pytest

from spotplate.datasets import load_label_elements, load_substances
from spotplate.engine.sets import hazard_label
from spotplate.engine.sets.labelling import PICTOGRAMS, SIGNAL_WORDS

TABLE = load_label_elements()


@pytest.mark.parametrize(
    ("code", "words", "pictogram"),  # United Nations, GHS, Annex 3, tables A3.1.1 to A3.1.3, from memory
    [
        ("H225", ("Danger",), "flame"),
        ("H226", ("Warning",), "flame"),
        ("H228", ("Danger", "Warning"), "flame"),  # category 1, category 2
        ("H260", ("Danger",), "flame"),
        ("H261", ("Danger", "Warning"), "flame"),  # category 2, category 3
        ("H271", ("Danger",), "flame over circle"),
        ("H272", ("Danger", "Warning"), "flame over circle"),  # category 2, category 3
        ("H280", ("Warning",), "gas cylinder"),
        ("H290", ("Warning",), "corrosion"),
        ("H301", ("Danger",), "skull and crossbones"),
        ("H302", ("Warning",), "exclamation mark"),
        ("H304", ("Danger",), "health hazard"),  # H305 is the weaker category
        ("H314", ("Danger",), "corrosion"),
        ("H317", ("Warning",), "exclamation mark"),
        ("H318", ("Danger",), "corrosion"),
        ("H319", ("Warning",), "exclamation mark"),
        ("H334", ("Danger",), "health hazard"),
        ("H350", ("Danger",), "health hazard"),
        ("H351", ("Warning",), "health hazard"),
        ("H362", (), ""),
        ("H372", ("Danger",), "health hazard"),
        ("H373", ("Warning",), "health hazard"),
        ("H410", ("Warning",), "environment"),
        ("H411", (), "environment"),
        ("H412", (), ""),
        ("H413", (), ""),
    ],
)
def test_a_code_has_the_signal_word_and_pictogram_of_its_category(code: str, words: tuple[str, ...], pictogram: str) -> None:
    assert TABLE[code].signal_words == words
    assert TABLE[code].pictogram == pictogram


def test_every_code_has_known_words_and_pictograms() -> None:
    for statement in TABLE.values():
        assert statement.signal_words in ((), ("Danger",), ("Warning",), ("Danger", "Warning"))
        assert statement.pictogram in (*PICTOGRAMS, "")
        assert set(statement.signal_words) <= set(SIGNAL_WORDS)


def test_a_substance_without_hazards_has_an_empty_label() -> None:
    label = hazard_label([])
    assert (label.signal_word, label.pictograms, label.statements, label.open_codes) == ("", (), (), ())


def test_danger_stands_without_warning() -> None:
    """GHS 1.4.10.5.3.2: where Danger applies, Warning does not appear."""
    assert hazard_label(["H319", "H225"]).signal_word == "Danger"
    assert hazard_label(["H319", "H226"]).signal_word == "Warning"
    assert hazard_label(["H411"]).signal_word == ""


@pytest.mark.parametrize(
    ("codes", "pictograms"),  # GHS 1.4.10.5.3.1
    [
        (["H301", "H312"], ("skull and crossbones",)),
        (["H301", "H335"], ("skull and crossbones", "exclamation mark")),  # narcosis and irritation of airways keep theirs
        (["H314", "H315"], ("corrosion",)),
        (["H318", "H302"], ("corrosion", "exclamation mark")),
        (["H334", "H317"], ("health hazard",)),
        (["H350", "H317"], ("exclamation mark", "health hazard")),  # only sensitisation of airways spares it
        (["H225", "H319", "H336"], ("flame", "exclamation mark")),
    ],
)
def test_stronger_pictograms_spare_the_exclamation_mark(codes: list[str], pictograms: tuple[str, ...]) -> None:
    assert hazard_label(codes).pictograms == pictograms


def test_the_order_of_codes_does_not_matter() -> None:
    for codes in itertools.permutations(["H272", "H302", "H318", "H410"]):
        assert hazard_label(codes) == hazard_label(["H272", "H302", "H318", "H410"])


def test_a_code_whose_category_decides_is_named_unless_another_settles_the_word() -> None:
    assert hazard_label(["H272"]).open_codes == ("H272",)
    assert hazard_label(["H272"]).signal_word == "Danger"
    assert hazard_label(["H272", "H318"]).open_codes == ()


@pytest.mark.parametrize("substance", load_substances(), ids=lambda item: item.name)
def test_every_statement_of_a_substance_stands_on_its_label(substance) -> None:  # type: ignore[no-untyped-def]
    assert set(hazard_label(substance.hazards()).codes) == set(substance.hazards())
