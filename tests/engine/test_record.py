"""Records as people write them."""

from __future__ import annotations

import pytest

from spotplate.engine import FaultyInputError, Interval, Record, load_knowledge, make_record, records_from_text
from spotplate.engine.record import NOT_TESTED, UNCLEAR


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


# --- spellings -------------------------------------------------------------------------------------


@pytest.mark.parametrize("spelling", ["dry conductivity", "  Dry   Conductivity ", "DRY_CONDUCTIVITY", "dry\tconductivity"])
@pytest.mark.parametrize("value", ["no glow", " No  Glow ", "NO_GLOW", "no"])
def test_case_spaces_and_underscores_do_not_matter(spelling: str, value: str) -> None:
    assert make_record({spelling: value}).readings == {"dry conductivity": "no glow"}


def test_no_spelling_means_two_readings_and_no_word_two_values() -> None:
    spelt = [word.casefold() for kind in load_knowledge().readings.values() for word in {kind.id, *kind.also}]
    assert len(spelt) == len(set(spelt))
    for kind in load_knowledge().readings.values():
        words = [word.casefold() for value in kind.values for word in {value.is_, *value.also}]
        assert len(words) == len(set(words)), kind.id


def test_no_accepted_word_of_a_reading_also_means_unclear_or_not_tested() -> None:
    for kind in load_knowledge().readings.values():
        words = {word.casefold() for value in kind.values for word in (value.is_, *value.also)}
        assert not words & {*NOT_TESTED, *UNCLEAR}, kind.id


# --- yes and no ------------------------------------------------------------------------------------


@pytest.mark.parametrize("no", ["no", "No", "NO", "'no'", '"no"'])
def test_no_is_an_answer_in_yaml_quoted_or_not(no: str) -> None:
    (record,) = records_from_text(
        f"readings:\n  dry conductivity: {no}\n  smell: {no}\n  foam: {no}\n", "r.yaml", load_knowledge()
    )
    assert record.readings == {"dry conductivity": "no glow", "smell": "no smell", "foam": "no foam"}


@pytest.mark.parametrize("yes", ["yes", "Yes", "YES", "'yes'"])
def test_yes_is_an_answer_in_yaml_quoted_or_not(yes: str) -> None:
    (record,) = records_from_text(f"readings:\n  solution conductivity: {yes}\n  in water: {yes}\n", "r.yaml", load_knowledge())
    assert record.readings == {"solution conductivity": "bright glow", "in water": "dissolves"}


@pytest.mark.parametrize("word", ["off", "on", "true", "null", "1e3", "0o17", "12:30"])
def test_no_word_is_turned_into_something_else_on_the_way_from_yaml(word: str) -> None:
    """YAML 1.1 reads these as truth values, nothing, or numbers; a vial may be labelled so."""
    (record,) = records_from_text(f"vial: {word}\nreadings: {{state: solid}}\n", "r.yaml", load_knowledge())
    assert record.vial == word


def test_yes_where_it_makes_no_sense_is_refused() -> None:
    with pytest.raises(FaultyInputError, match="Accepted: solid, liquid, gas"):
        make_record({"state": "yes"})


# --- not tested, unclear, taken back -----------------------------------------------------------------


@pytest.mark.parametrize("word", ["", "not tested", "-", "—"])
def test_a_number_may_be_left_out_too(word: str) -> None:
    assert make_record({"melting range": word}) == Record({})


@pytest.mark.parametrize("word", ["unclear", "Unclear", "UNSURE", "not  sure"])
def test_a_number_may_be_unclear_too(word: str) -> None:
    record = make_record({"mp": word})
    assert (record.readings, record.unclear, record.assumed_units) == ({}, ("melting range",), ())


def test_unclear_is_not_no() -> None:
    assert make_record({"smell": "unclear"}).readings != make_record({"smell": "no"}).readings


def test_a_reading_is_given_twice_even_when_one_is_left_out() -> None:
    """Whoever writes two columns for one reading should hear of it."""
    with pytest.raises(FaultyInputError, match="given twice"):
        make_record({"mp": "80 °C", "melting point": ""})


def test_without_takes_one_reading_and_nothing_else() -> None:
    record = make_record({"lustre": "dull", "smell": "no", "colour": "?"}, vial="Q", notes="sticky")
    less = record.without("smell")
    assert less == make_record({"lustre": "dull", "colour": "?"}, vial="Q", notes="sticky")
    assert record.readings == {"lustre": "dull", "smell": "no smell"}
    assert record.without("density") == record


# --- numbers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reading", "written", "low", "high"),  # [K] or [kg/m3]
    [
        ("melting range", "121-123", 394.15, 396.15),
        ("melting range", "394.15 K", 394.15, 394.15),
        ("melting range", "32 °F", 273.15, 273.15),
        ("boiling point", "> 250 °C", 523.15, float("inf")),
        ("boiling point", "-33", 240.15, 240.15),
        ("density", "1", 1000, 1000),
        ("density", "789 kg/m3", 789, 789),
        ("density", "13.5-13.6 g/mL", 13500, 13600),
    ],
)
def test_numbers_are_kept_in_si(reading: str, written: str, low: float, high: float) -> None:
    value = make_record({reading: written}).readings[reading]
    assert isinstance(value, Interval)
    assert [value.low, value.high] == pytest.approx([low, high])


@pytest.mark.parametrize(
    "written",
    [
        {"melting range": "-273.16 °C"},  # below absolute zero
        {"melting range": "-0.01 K"},
        {"melting range": "-459.7 °F"},
        {"melting range": "-300 to 20 °C"},
        {"melting range": "20-99999 °C"},
        {"boiling point": "> 9999 °C"},
        {"density": "0"},
        {"density": "-1 g/cm3"},
        {"density": "1000 g/cm3"},  # nobody owns neutron stars
    ],
)
def test_numbers_that_nothing_on_earth_has_are_refused(written: dict[str, str]) -> None:
    with pytest.raises(FaultyInputError, match="lies outside"):
        make_record(written)


def test_absolute_zero_itself_is_in_range_in_every_unit() -> None:
    for written in ("-273.15 °C", "0 K", "-459.67 °F"):
        assert "melting range" in make_record({"melting range": written}).readings


@pytest.mark.parametrize(
    ("written", "assumed"),
    [
        ({"mp": "80"}, True),
        ({"mp": "121-123"}, True),
        ({"mp": "> 300"}, True),
        ({"mp": "80 °C"}, False),
        ({"mp": "353 K"}, False),
        ({"density": "1.3"}, True),
        ({"density": "1.3 g/mL"}, False),
        ({"density": "1.3 g/cm3"}, False),
        ({"density": "1300 kg/m³"}, False),
    ],
)  # fmt: skip
def test_only_a_bare_number_is_said_to_have_an_assumed_unit(written: dict[str, str], assumed: bool) -> None:
    assert bool(make_record(written).assumed_units) is assumed


# --- labels and messages -----------------------------------------------------------------------------


def test_labels_and_notes_lose_what_could_drive_a_terminal() -> None:
    record = make_record({}, vial="A\x1b[31m\n7", notes="first\r\nsecond\u202e")
    assert record.vial.isprintable()
    assert record.notes.isprintable()
    assert "7" in record.vial


def test_the_place_of_a_fault_is_the_place_given_for_its_reading() -> None:
    with pytest.raises(FaultyInputError) as caught:
        make_record({"lustre": "x", "smell": "y"}, where="sheet", places={"smell": "sheet, line 4"})
    assert [fault.where for fault in caught.value.faults] == ["sheet", "sheet, line 4"]


def test_an_en_dash_is_not_tested_as_the_other_dashes_are() -> None:
    assert make_record({"lustre": "–"}) == Record({})


# --- air pressure ----------------------------------------------------------------------------------


@pytest.mark.parametrize("spelling", ["pressure", "airpressure", "air-pressure", "atmosferic pressure"])
def test_a_near_spelling_of_the_air_pressure_is_told_it(spelling: str) -> None:
    with pytest.raises(FaultyInputError, match="did you mean 'air pressure'"):
        make_record({"boiling point": "78 °C", spelling: "98 kPa"})


@pytest.mark.parametrize(("written", "assumed"), [("98.2", True), ("98.2 kPa", False), ("760 mmHg", False), ("", False)])
def test_an_air_pressure_without_a_unit_is_noted_as_such(written: str, assumed: bool) -> None:
    record = make_record({"boiling point": "78 °C", "air pressure": written})
    assert ("air pressure" in record.assumed_units) is assumed
