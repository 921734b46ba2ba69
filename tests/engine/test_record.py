"""Records as people write them."""

from __future__ import annotations

import pytest

from spotplate.engine import FaultyInputError, Interval, load_knowledge, make_record


@pytest.mark.parametrize(
    ("written", "reading", "value"),
    [
        ({"conducts dry": "no"}, "dry conductivity", "no glow"),
        ({"Dry Conductivity": "NO GLOW"}, "dry conductivity", "no glow"),
        ({"dry_conductivity": "conducts"}, "dry conductivity", "bright glow"),
        ({"solubility in water": "insoluble"}, "in water", "does not dissolve"),
        ({"water": "slightly soluble"}, "in water", "partly dissolves"),
        ({"luster": "shiny"}, "lustre", "metallic"),
        ({"litmus": "basic"}, "solution acidity", "alkaline"),
        ({"colour": "blue"}, "colour", "coloured"),
        ({"color": "white"}, "colour", "white or colourless"),
        ({"marks paper": "yes"}, "mark on paper", "grey mark"),
        ({"smell": "no"}, "smell", "no smell"),
    ],
)
def test_everyday_spellings_are_understood(written: dict[str, str], reading: str, value: str) -> None:
    assert make_record(written).readings == {reading: value}


def test_every_spelling_of_every_reading_and_value_is_accepted() -> None:
    for kind in load_knowledge().readings.values():
        for spelling in (kind.id, *kind.also):
            for value in kind.values:
                for word in (value.is_, *value.also):
                    assert make_record({spelling: word}).readings == {kind.id: value.is_}


@pytest.mark.parametrize("word", ["", "  ", "not tested", "-", "n/a", "Untested"])
def test_not_tested_is_absent(word: str) -> None:
    assert make_record({"lustre": word}).readings == {}


@pytest.mark.parametrize("word", ["unclear", "?", "not sure"])
def test_unclear_is_kept_apart(word: str) -> None:
    record = make_record({"lustre": word})
    assert record.readings == {}
    assert record.unclear == ("lustre",)


def test_a_number_without_a_unit_is_read_in_the_default_unit_and_noted() -> None:
    record = make_record({"mp": "121-123", "density": "1.27 g/mL"})
    assert record.assumed_units == ("melting range",)
    assert record.readings["melting range"] == Interval(394.15, 396.15, "°C")


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ({"dry conductivty": "no"}, "did you mean 'dry conductivity'"),
        ({"lustre": "metalic"}, "did you mean 'metallic'"),
        ({"lustre": "shinny"}, "did you mean 'metallic'"),
        ({"melting range": "warm"}, "not a number"),
        ({"melting range": "120 bar"}, "not a unit of this reading"),
        ({"melting range": "-500 °C"}, "lies outside"),
        ({"density": "1e9"}, "lies outside"),
        ({"melting range": "123-121 °C"}, "runs downwards"),
        ({"melting range": "> 100-120 °C"}, "one or the other"),
        ({"mp": "80 °C", "melting point": "81 °C"}, "given twice"),
        ({"fizz": "yes"}, "is not a reading"),
    ],
)
def test_faults_name_what_is_accepted(written: dict[str, str], says: str) -> None:
    with pytest.raises(FaultyInputError) as caught:
        make_record(written)
    assert says in str(caught.value)


def test_all_faults_are_told_at_once() -> None:
    with pytest.raises(FaultyInputError) as caught:
        make_record({"lustre": "metalic", "fizz": "yes", "state": "solid", "melting range": "x"})
    assert len(caught.value.faults) == 3
