"""Candidate substances: what each reading does to them, what an impure or misplaced number does, sets, and "none of these"."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Sequence

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.datasets import load_substances
from spotplate.engine import FaultyInputError, Identification, Record, expected_records, find_substance, identify, make_record
from spotplate.engine.identification import Colleagues
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.engine.resemblance import prior_of_set, prior_of_table, resemblance
from spotplate.engine.second_opinion import Candidate, load_tree
from spotplate.engine.second_opinion.candidates import parting_of_substances
from spotplate.kb import Interval, load_knowledge, to_si

KNOWLEDGE = load_knowledge()
REFERENCE = load_reference()
ROWS = {row.name: row for row in REFERENCE.rows}
PLACES = {row.name: place for place, row in enumerate(REFERENCE.rows)}
PRIOR = prior_of_table(REFERENCE, KNOWLEDGE)
SETTINGS = KNOWLEDGE.second_opinion.candidates
whatever_the_record = settings(deadline=None, max_examples=80)


@st.composite
def values(draw: st.DrawFn, name: str) -> str | Interval:
    kind = KNOWLEDGE.readings[name]
    if kind.number is None:
        return draw(st.sampled_from(kind.words()))
    least, most = {"density": (0.3, 20)}.get(name, (-50, 700))
    low, high = sorted(to_si(draw(st.floats(least, most)), kind.number.unit) for _ in range(2))
    ends = draw(st.sampled_from([(low, low), (low, high), (low, low + 2), (low, math.inf), (-math.inf, high)]))
    return Interval(*ends, kind.number.unit)


@st.composite
def records(draw: st.DrawFn, most: int = 12) -> Record:
    names = draw(st.lists(st.sampled_from(sorted(KNOWLEDGE.readings)), unique=True, max_size=most))
    return Record({name: draw(values(name)) for name in names})


def probability(record: Record, name: str) -> float:
    return resemblance(record, PRIOR, REFERENCE, KNOWLEDGE).substances[PLACES[name]]


def honest(row: ReferenceRow) -> list[tuple[str, str | Interval]]:
    """Every reading that a substance predicts: each of its honest words, and its handbook numbers."""
    found: list[tuple[str, str | Interval]] = [(reading, word) for reading, words in row.words.items() for word in words]
    for reading, number in row.numbers.items():
        kind = KNOWLEDGE.readings[reading].number
        assert kind is not None
        found.append((reading, number.interval(kind.unit)))
    return found


def of(result: Identification, name: str) -> Candidate:
    return next(item for item in result.candidates.best if item.name == name)


def named(result: Identification) -> list[str]:
    return [item.name for item in result.candidates.best]


# --- what must hold whatever the record ------------------------------------------------------------


@whatever_the_record
@given(records(), st.sampled_from(sorted(ROWS)), st.data())
def test_a_reading_that_a_candidate_predicts_never_makes_it_less_probable(record: Record, name: str, data: st.DataObject) -> None:
    reading, value = data.draw(st.sampled_from(honest(ROWS[name])))
    before = record.without(reading)
    after = Record({**before.readings, reading: value})
    assert probability(after, name) >= probability(before, name) - 1e-9


@pytest.mark.parametrize("name", ["sodium chloride", "iron", "benzoic acid", "ethanol", "quartz", "naphthalene"])
def test_every_predicted_reading_in_turn_makes_a_substance_more_probable_or_leaves_it(name: str) -> None:
    for order in range(3):
        predicted = honest(ROWS[name])
        random.Random(order).shuffle(predicted)
        readings: dict[str, str | Interval] = {}
        last = probability(Record(readings), name)
        for reading, value in predicted:
            if reading in readings:
                continue
            readings[reading] = value
            now = probability(Record(readings), name)
            assert now >= last - 1e-9, (reading, value)
            last = now
        assert last > 0.2


@whatever_the_record
@given(records())
def test_all_rows_and_none_of_these_share_out_the_whole_probability(record: Record) -> None:
    found = resemblance(record, PRIOR, REFERENCE, KNOWLEDGE)
    assert len(found.substances) == len(found.others) == len(load_substances()) == 389
    assert all(chance >= 0 for chance in (*found.substances, *found.others))
    assert sum(found.substances) + found.none_of_these == pytest.approx(1, abs=1e-9)
    told = identify(record, advise=False).candidates
    assert sum(item.probability for item in told.best) + told.others + told.none_of_these == pytest.approx(1, abs=1e-9)
    assert 0 <= told.none_of_these <= 1
    assert 0 <= told.others <= 1


@whatever_the_record
@given(records())
def test_candidates_come_best_first_few_and_likely_enough(record: Record) -> None:
    best = identify(record, advise=False).candidates.best
    chances = [item.probability for item in best]
    assert chances == sorted(chances, reverse=True)
    assert len(best) <= SETTINGS.listed
    assert all(chance >= SETTINGS.listed_from for chance in chances)
    for item in best:
        told = [*item.fits, *(misfit.reading for misfit in item.misfits), *item.unknown]
        assert sorted(told) == sorted(record.readings)
        known = {*ROWS[item.name].words, *ROWS[item.name].numbers}
        assert not set(item.unknown) & known
        for misfit in item.misfits:
            assert record.readings[misfit.reading] not in ROWS[item.name].words.get(misfit.reading, ())


@whatever_the_record
@given(records(), st.randoms(use_true_random=False))
def test_order_of_readings_does_not_matter(record: Record, shuffler: random.Random) -> None:
    names = list(record.readings)
    shuffler.shuffle(names)
    first = resemblance(record, PRIOR, REFERENCE, KNOWLEDGE)
    second = resemblance(Record({name: record.readings[name] for name in names}), PRIOR, REFERENCE, KNOWLEDGE)
    assert second.substances == pytest.approx(first.substances, abs=1e-12)
    assert second.others == pytest.approx(first.others, abs=1e-12)
    assert second.misread == pytest.approx(first.misread, abs=1e-9)


# --- melting ranges --------------------------------------------------------------------------------

# Melting points: CRC Handbook, 95th edition (2014), as pure substances, from memory: benzoic acid 122.4, acetanilide 114.3,
# salicylic acid 159, naphthalene 80.3, urea 133, vanillin 81.5, adipic acid 152 °C. The ranges are those of impure samples.
IMPURE = [
    ("benzoic acid", "115-120 °C", "partly dissolves"),
    ("benzoic acid", "117-121 °C", "partly dissolves"),
    ("acetanilide", "108-112 °C", "partly dissolves"),
    ("salicylic acid", "153-157 °C", "partly dissolves"),
    ("naphthalene", "74-78 °C", "does not dissolve"),
    ("urea", "126-130 °C", "dissolves"),
    ("vanillin", "75-79 °C", "partly dissolves"),
    ("adipic acid", "145-149 °C", "partly dissolves"),
]


@pytest.mark.parametrize(("name", "melting", "in_water"), IMPURE)
def test_a_range_lowered_and_broadened_by_impurity_still_brings_the_substance_up(name: str, melting: str, in_water: str) -> None:
    result = identify(make_record({"state": "solid", "in water": in_water, "melting range": melting}))
    assert name in named(result)


@pytest.mark.parametrize(
    ("name", "melting"),  # ten degrees above the melting points quoted above
    [
        ("benzoic acid", "131-132.4 °C"),
        ("acetanilide", "123-124.3 °C"),
        ("salicylic acid", "168-169 °C"),
        ("naphthalene", "89-90.3 °C"),
    ],
)
def test_a_range_ten_degrees_above_its_melting_point_does_not_fit_a_substance(name: str, melting: str) -> None:
    """Nothing raises a melting point: the substance is told as a misfit and loses against "none of these"."""
    result = identify(make_record({"melting range": melting}), among=[name])
    assert [misfit.reading for misfit in of(result, name).misfits] == ["melting range"]
    assert result.candidates.none_of_these > 0.5
    as_low = identify(
        make_record({"melting range": "60-70 °C"} if name == "naphthalene" else {"melting range": "100-112 °C"}), among=[name]
    )
    assert of(as_low, name).probability > of(result, name).probability


def test_a_lowering_gets_less_probable_the_larger_it_is_and_a_raising_far_sooner() -> None:
    """Benzoic acid, 122.4 °C."""
    lowered = [probability(make_record({"melting range": f"{at} °C"}), "benzoic acid") for at in (122, 118, 110, 95)]
    raised = [probability(make_record({"melting range": f"{at} °C"}), "benzoic acid") for at in (122, 126, 134)]
    assert lowered == sorted(lowered, reverse=True)
    assert raised == sorted(raised, reverse=True)
    assert raised[2] < lowered[2]


def test_a_broad_range_forgives_a_lowering_more_than_a_sharp_one() -> None:
    """Impurity lowers and broadens: a sharp range of 112 °C is no benzoic acid, one from 104 to 112 °C may be."""
    sharp = probability(make_record({"melting range": "111.5-112 °C"}), "benzoic acid")
    broad = probability(make_record({"melting range": "104-112 °C"}), "benzoic acid")
    assert broad > sharp


@pytest.mark.parametrize(
    ("name", "melting"), [("magnesium oxide", 2825), ("tungsten", 3414), ("iron", 1538)]
)  # CRC Handbook, [°C]
def test_801_degrees_does_not_fit_what_melts_far_higher(name: str, melting: float) -> None:
    """801 °C is the melting point of table salt (CRC Handbook), and the record accepts it."""
    known = find_substance(name).melting_point_K
    assert known is not None
    assert known - 273.15 == pytest.approx(melting, abs=50)
    result = identify(make_record({"melting range": "801 °C"}), among=[name, "sodium chloride"])
    assert result.candidates.best[0].name == "sodium chloride"
    assert "melting range" not in of(result, name).fits


def test_a_range_of_354_to_356_degrees_does_not_fit_table_salt() -> None:
    """Potassium chlorate melts at 357 °C (CRC Handbook)."""
    result = identify(make_record({"melting range": "354-356 °C"}), among=["potassium chlorate", "sodium chloride"])
    assert "melting range" not in of(result, "sodium chloride").fits


# --- other numbers ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "reading", "measured"),
    [
        ("ethanol", "boiling point", "60-80 °C"),
        ("methanol", "boiling point", "60-80 °C"),
        ("sodium chloride", "density", "2.0-3.5 g/cm3"),
    ],
)
def test_a_handbook_value_inside_the_measured_range_fits(name: str, reading: str, measured: str) -> None:
    """Ethanol boils at 78.3 °C, methanol at 64.6 °C; rock salt has 2.17 g/cm3 (CRC Handbook)."""
    assert reading in of(identify(make_record({reading: measured}), among=[name]), name).fits


@pytest.mark.parametrize(
    ("name", "reading", "near", "far"),  # true values from the CRC Handbook: 78.3 °C, 100.0 °C, 7.87 and 2.17 g/cm3
    [
        ("ethanol", "boiling point", "77-79 °C", "95 °C"),
        ("water", "boiling point", "99 °C", "85 °C"),
        ("iron", "density", "7.8 g/cm3", "9.5 g/cm3"),
        ("sodium chloride", "density", "2.15 g/cm3", "3.2 g/cm3"),
    ],
)
def test_a_number_near_the_handbook_fits_and_one_far_from_it_does_not(name: str, reading: str, near: str, far: str) -> None:
    assert reading in of(identify(make_record({reading: near}), among=[name]), name).fits
    result = identify(make_record({reading: far}), among=[name])
    assert reading in [misfit.reading for misfit in of(result, name).misfits]


@pytest.mark.parametrize(("measured", "fits"), [("> 300 °C", False), ("> 100 °C", True), ("< 100 °C", False), ("< 150 °C", True)])
def test_an_open_range_fits_what_lies_in_it(measured: str, fits: bool) -> None:
    """Benzoic acid melts at 122.4 °C (CRC Handbook)."""
    found = of(identify(make_record({"melting range": measured}), among=["benzoic acid"]), "benzoic acid")
    assert ("melting range" in found.fits) == fits


# --- an unknowns set -------------------------------------------------------------------------------

SET = ["sodium chloride", "sodium chloride", "sodium chloride", "sucrose", "paraffin wax", "iron", "quartz", "benzoic acid"]


def test_a_set_lists_only_what_belongs_to_it() -> None:
    for written in ({}, {"state": "solid"}, {"in water": "dissolves"}, {"colour": "white", "dry conductivity": "no glow"}):
        result = identify(make_record(written), among=SET)
        assert set(named(result)) <= set(SET)
        assert result.candidates.set_size == len(SET)


def test_a_set_is_the_prior_of_its_substances_vial_by_vial() -> None:
    found = resemblance(Record({}), prior_of_set(SET, REFERENCE, KNOWLEDGE), REFERENCE, KNOWLEDGE)
    belongs = 1 - SETTINGS.outside_set
    assert found.substances[PLACES["sodium chloride"]] == pytest.approx(belongs * 3 / 8)
    assert found.substances[PLACES["sucrose"]] == pytest.approx(belongs / 8)
    assert found.substances[PLACES["copper"]] == 0
    assert found.none_of_these == pytest.approx(SETTINGS.outside_set)


def test_a_set_is_the_prior_of_the_classes() -> None:
    """Three salts of eight vials, one metal, one network, and so on; a little is kept for every class."""
    ranking = {item.class_: item.probability for item in identify(make_record({}), among=SET).ranking}
    assert sum(ranking.values()) == pytest.approx(1)
    kept = SETTINGS.outside_set / 5
    assert ranking["ionic"] == pytest.approx(kept + (1 - SETTINGS.outside_set) * 3 / 8)
    assert ranking["metallic"] == pytest.approx(kept + (1 - SETTINGS.outside_set) / 8)
    only_salts = {item.class_: item.probability for item in identify(make_record({}), among=["sodium chloride"]).ranking}
    assert only_salts["metallic"] == pytest.approx(kept)


def test_within_a_set_the_readings_decide() -> None:
    cases = {
        "sodium chloride": {"in water": "dissolves", "solution conductivity": "bright glow"},
        "sucrose": {"in water": "dissolves", "on the hot plate": "chars"},
        "paraffin wax": {"lustre": "waxy", "in non-polar solvent": "dissolves"},
        "iron": {"magnet": "attracted"},
        "quartz": {"hardness": "hard", "in water": "does not dissolve"},
        "benzoic acid": {"melting range": "121-122 °C"},
    }
    for name, written in cases.items():
        assert named(identify(make_record(written), among=SET))[0] == name
        assert named(identify(make_record(written), among=list(reversed(SET))))[0] == name


def test_a_set_parts_what_the_whole_table_cannot() -> None:
    """A white solid that dissolves and conducts is one of many; in a set with one salt it is that one."""
    record = make_record({"state": "solid", "colour": "white", "in water": "dissolves", "solution conductivity": "bright glow"})
    alone = identify(record).candidates.best
    inside = identify(record, among=SET).candidates.best
    assert not alone or alone[0].probability < 0.2
    assert inside[0].name == "sodium chloride"
    assert inside[0].probability > 0.9


def test_a_vial_of_what_is_not_in_the_set_is_told_as_none_of_these() -> None:
    copper = next(expected_records(find_substance("copper"), KNOWLEDGE))
    assert identify(copper).candidates.none_of_these < 0.1
    assert identify(copper, among=["sodium chloride", "sucrose", "iron"]).candidates.none_of_these > 0.9


def test_an_unknown_name_in_a_set_is_one_clear_error() -> None:
    with pytest.raises(FaultyInputError) as caught:
        identify(make_record({"state": "solid"}), among=["sucrose", "sodium cloride", "iron"])
    assert len(caught.value.faults) == 1
    assert "among" in str(caught.value)
    assert "'sodium cloride'" in str(caught.value)
    assert "did you mean 'sodium chloride'?" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_an_unknown_name_of_two_vials_is_told_once() -> None:
    with pytest.raises(FaultyInputError) as caught:
        identify(make_record({"state": "solid"}), among=["sucrose", "sodium cloride", "sodium cloride"])
    assert len(caught.value.faults) == 1


def test_an_unknown_name_in_a_set_is_an_error_beside_a_prior_too() -> None:
    with pytest.raises(FaultyInputError):
        identify(
            make_record({"state": "solid"}), among=["sucrose", "sodium cloride"], prior={"ionic": 0.5, "polar molecular": 0.5}
        )


def test_a_prior_for_the_classes_alone_moves_the_candidates() -> None:
    record = make_record({"state": "solid", "colour": "white"})
    salts = identify(record, prior={"ionic": 1.0}).candidates
    assert {item.class_ for item in salts.best} <= {"ionic"}
    assert (
        resemblance(record, prior_of_table(REFERENCE, KNOWLEDGE, {"ionic": 1.0}), REFERENCE, KNOWLEDGE).substances[
            PLACES["sucrose"]
        ]
        == 0
    )


# --- near-equal melting points ---------------------------------------------------------------------

# Pairs whose melting points lie within 1.6 °C of each other in the table, and that dissolve alike; a range that suits both.
NEAR = [
    ("urea", "magnesium stearate", {}, "130-132.5 °C"),
    ("maleic acid", "aspirin", {}, "134-136 °C"),
    ("naphthalene", "ethanamide", {"colour": "white"}, "78.5-80.2 °C"),
    ("naphthalene", "vanillin", {}, "79.5-81 °C"),
    ("paracetamol", "tartaric acid", {}, "167-169 °C"),
    ("xylitol", "sorbitol", {"in water": "dissolves"}, "95-96.5 °C"),
    ("camphor", "calcium stearate", {"in water": "does not dissolve"}, "177-179.5 °C"),
    ("acetanilide", "iodine", {}, "112.5-114.3 °C"),
    ("tin", "tin powder", {"in water": "does not dissolve"}, "230.5-232 °C"),
    ("adipic acid", "citric acid (anhydrous)", {"in water": "dissolves"}, "150.5-153 °C"),
]


@pytest.mark.parametrize(("first", "second", "beside", "melting"), NEAR)
def test_two_substances_that_melt_alike_are_both_listed_and_a_way_to_part_them_is_named(
    first: str, second: str, beside: dict[str, str], melting: str
) -> None:
    numbers = [ROWS[name].numbers["melting range"].value for name in (first, second)]
    assert abs(numbers[0] - numbers[1]) <= 1.6
    record = make_record({"state": "solid", **beside, "melting range": melting})
    result = identify(record)
    assert {first, second} <= set(named(result))
    pair = identify(record, among=[first, second])
    assert set(named(pair)) == {first, second}
    parting = pair.candidates.parting
    assert parting is not None
    assert {parting.first, parting.second} == {first, second}
    assert parting.minutes > 0
    if parting.test:
        assert parting.reading not in record.readings
        assert parting.reading in {kind.id for kind in KNOWLEDGE.tests[parting.test].readings}
        assert _shown_by(parting.first, parting.reading, parting.first_shows)
        assert _shown_by(parting.second, parting.reading, parting.second_shows)
        words = [set(ROWS[name].words.get(parting.reading, ())) for name in (parting.first, parting.second)]
        assert not words[0] & words[1]
    else:
        assert parting.first in parting.how


def _shown_by(name: str, reading: str, told: str) -> bool:
    """Whether what a parting says that a substance shows is what the reference table holds of it."""
    row = ROWS[name]
    if reading in row.words:
        return all(word in told for word in row.words[reading])
    kind = KNOWLEDGE.readings[reading].number
    assert kind is not None
    return told.split()[-1] == kind.unit and to_si(float(told.split()[-2]), kind.unit) == pytest.approx(
        row.numbers[reading].value, rel=2e-3
    )


def test_the_test_that_parts_two_substances_does_part_them() -> None:
    """Each outcome of the proposed test leaves the substance that shows it clearly ahead."""
    record = make_record({"state": "solid", "melting range": "134-136 °C"})
    parting = identify(record, among=["maleic acid", "aspirin"]).candidates.parting
    assert parting is not None
    for name in (parting.first, parting.second):
        readings = {**record.readings, parting.reading: ROWS[name].words[parting.reading][0]}
        best = identify(Record(readings), among=["maleic acid", "aspirin"]).candidates.best
        assert best[0].name == name
        assert best[0].probability > 0.8


def test_where_every_bench_test_reads_alike_the_mixed_melting_range_is_proposed() -> None:
    """A table of two substances that differ in nothing but the name and a tenth of a degree."""
    urea = next(row for row in REFERENCE.compact if row.name == "urea")
    number = urea.numbers["melting range"]
    near = msgspec.structs.replace(number, value=number.value + 0.1)
    twin = msgspec.structs.replace(urea, name="twin of urea", numbers={**urea.numbers, "melting range": near})
    reference = msgspec.structs.replace(REFERENCE, compact=(urea, twin))
    reference.__dict__.clear()
    result = identify(
        make_record({"state": "solid", "melting range": "131-132.5 °C"}),
        colleagues=Colleagues(load_tree(), reference),
        advise=False,
    )
    assert set(named(result)) == {"urea", "twin of urea"}
    parting = result.candidates.parting
    assert parting is not None
    assert (parting.test, parting.reading) == ("", "")
    assert "mixture" in parting.how
    assert parting.first in parting.how
    assert parting.minutes == KNOWLEDGE.test_of["melting range"].minutes


@pytest.mark.parametrize(
    ("first", "second", "reading"),
    [
        ("ethanol", "propan-2-ol", "boiling point"),  # 78.2 and 82.2 °C, close for a bench thermometer
        ("starch", "cellulose", "on the hot plate"),  # starch may char at once or break down before
        ("aluminium", "duralumin", "hardness"),  # the alloy is the harder one, but not by much
    ],
)
def test_a_test_in_which_two_substances_may_read_alike_is_named_as_not_sure(first: str, second: str, reading: str) -> None:
    parting = parting_of_substances(Record({}), ROWS[first], ROWS[second], KNOWLEDGE)
    assert parting is not None
    assert (parting.reading, parting.sure) == (reading, False)
    assert _shown_by(first, reading, parting.first_shows)
    assert _shown_by(second, reading, parting.second_shows)
    assert parting.first_shows != parting.second_shows


def test_no_test_parts_what_reads_alike_in_all_of_them() -> None:
    """Oxygen and nitrogen burn neither, smell neither and barely dissolve; the glowing splint is no test of this bench."""
    assert parting_of_substances(Record({}), ROWS["oxygen"], ROWS["nitrogen"], KNOWLEDGE) is None


def test_a_parting_is_called_sure_only_where_no_honest_reading_is_common_to_both() -> None:
    rows = list(ROWS.values())[::7]
    for first, second in itertools.combinations(rows, 2):
        parting = parting_of_substances(Record({}), first, second, KNOWLEDGE)
        if parting and parting.reading in first.words:
            common = set(first.words[parting.reading]) & set(second.words[parting.reading])
            assert parting.sure is not bool(common), (first.name, second.name)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("paraffin wax", "candle stearin"),
        ("paraffin wax", "beeswax"),
        ("stearic acid", "candle stearin"),
        ("tin", "lead-free solder"),
    ],
)
def test_a_mixed_melting_range_is_not_proposed_for_what_melts_over_a_range_anyway(first: str, second: str) -> None:
    """Waxes, plastics and alloys are mixtures already; only a sharp melting point can be seen to be lowered and broadened."""
    one, other = ROWS[first], ROWS[second]
    made = {reading: values[0] for row in (one, other) for reading, values in row.words.items()}
    for record in (Record({}), Record(dict(made))):
        for pair in ((one, other), (other, one)):
            parting = parting_of_substances(record, *pair, KNOWLEDGE)
            assert parting is None or not parting.how


def test_a_mixed_melting_range_is_still_proposed_for_two_pure_substances() -> None:
    acids = ROWS["stearic acid"], ROWS["palmitic acid"]
    made: dict[str, str | Interval] = {reading: values[0] for row in acids for reading, values in row.words.items()}
    parting = parting_of_substances(Record(made), *acids, KNOWLEDGE)
    assert parting is not None
    assert "mixture" in parting.how
    assert parting.sure


@pytest.mark.parametrize(
    ("name", "mixture"),
    [
        ("paraffin wax", True), ("lard", True), ("brass", True), ("polypropylene", True), ("soda-lime glass", True),
        ("naphthalene", False), ("tristearin", False), ("iron", False), ("copper(II) sulfate pentahydrate", False),
    ],
)  # fmt: skip
def test_mixtures_are_told_from_pure_substances(name: str, mixture: bool) -> None:
    assert ROWS[name].mixture is mixture


@pytest.mark.parametrize("name", ["urea", "benzoic acid", "sodium chloride", "copper", "heptane"])
def test_a_parting_is_never_by_a_reading_already_made(name: str) -> None:
    full = next(expected_records(find_substance(name), KNOWLEDGE))
    made: dict[str, str | Interval] = {}
    for reading, value in full.readings.items():
        made[reading] = value
        parting = identify(Record(dict(made)), advise=False).candidates.parting
        assert parting is None or parting.reading not in made


# --- none of these ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written",
    [
        # black magnetic liquid with a metallic shine that foams: a ferrofluid, perhaps
        {"state": "liquid", "colour": "black", "lustre": "metallic", "magnet": "attracted", "foam": "lasting foam", "smell": "smell"},
        # coloured waxy solid that is pulled by a magnet and dissolves in everything
        {"state": "solid", "colour": "coloured", "lustre": "waxy", "magnet": "attracted", "in water": "dissolves",
         "in non-polar solvent": "dissolves", "hardness": "hard", "flame colour": "lilac"},
        # white powder, lighter than any solid but foams and gels, that gives hydrogen and melts in the hand
        {"state": "solid", "density": "0.2 g/cm3", "gas in dilute acid": "hydrogen", "melting range": "31-32 °C", "colour": "white",
         "lustre": "dull", "solution acidity": "neutral", "in water": "partly dissolves", "foam": "lasting foam"},
    ],
)  # fmt: skip
def test_none_of_these_wins_on_what_is_unlike_anything(written: dict[str, str]) -> None:
    told = identify(make_record(written)).candidates
    assert told.none_of_these > 1 / 3
    assert all(item.probability < told.none_of_these for item in told.best)
    assert all(item.misfits for item in told.best)
    assert told.fit_all == 0


@pytest.mark.parametrize(
    "name", ["sodium chloride", "sucrose", "iron", "naphthalene", "ethanol", "quartz", "sulfur", "benzoic acid"]
)
def test_none_of_these_yields_to_a_full_honest_record(name: str) -> None:
    result = identify(next(expected_records(find_substance(name), KNOWLEDGE)))
    assert result.candidates.none_of_these < 0.2 < result.candidates.best[0].probability
    assert result.candidates.best[0].name == name
    assert result.candidates.best[0].misfits == ()


def test_every_substance_is_among_the_best_five_of_its_own_full_record_or_tied_with_them() -> None:
    for substance in load_substances():
        found = resemblance(next(expected_records(substance, KNOWLEDGE)), PRIOR, REFERENCE, KNOWLEDGE)
        own = found.substances[PLACES[substance.name]]
        better = sum(chance > own * (1 + 1e-9) for chance in found.substances)
        assert better < 5, substance.name


def test_a_substance_left_out_of_the_table_mostly_ends_as_none_of_these_of_its_own_class() -> None:
    right = 0
    sample: Sequence[str] = [item.name for item in load_substances()[::8]]
    for name in sample:
        reference = REFERENCE.without(name)
        result = identify(
            next(expected_records(find_substance(name), KNOWLEDGE)), colleagues=Colleagues(load_tree(), reference), advise=False
        )
        assert name not in named(result)
        right += result.candidates.none_like in find_substance(name).defensible_classes()
    assert right / len(sample) > 0.8, f"{right} of {len(sample)}"


# --- familiar records ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "written"),
    [
        ("iron", {"state": "solid", "lustre": "metallic", "deformation": "malleable", "magnet": "attracted",
                  "gas in dilute acid": "hydrogen", "on the hot plate": "no change"}),
        # as in the table of familiar bench records of test_verdict.py
        ("copper", {"state": "solid", "colour": "coppery", "lustre": "metallic", "deformation": "malleable",
                    "dry conductivity": "bright glow", "in water": "does not dissolve", "on the hot plate": "no change",
                    "gas in dilute acid": "no gas"}),
    ],
)  # fmt: skip
def test_a_familiar_metal_that_did_not_change_on_the_hot_plate_is_still_listed(name: str, written: dict[str, str]) -> None:
    assert name in named(identify(make_record(written)))


def test_the_same_metals_are_listed_when_the_hot_plate_is_left_out() -> None:
    iron = {
        "state": "solid",
        "lustre": "metallic",
        "deformation": "malleable",
        "magnet": "attracted",
        "gas in dilute acid": "hydrogen",
    }
    assert named(identify(make_record(iron)))[0] in ("iron", "carbon steel")
    assert "copper" in named(identify(make_record({"state": "solid", "colour": "coppery", "deformation": "malleable"})))


# --- what is kept between calls --------------------------------------------------------------------


def test_changed_settings_are_not_answered_from_what_was_kept_for_others() -> None:
    record = make_record({"melting range": "140.5 °C"})
    identify(record)
    wide = tuple(msgspec.structs.replace(how, above=50.0) for how in KNOWLEDGE.second_opinion.numbers)
    changed = msgspec.structs.replace(KNOWLEDGE, second_opinion=msgspec.structs.replace(KNOWLEDGE.second_opinion, numbers=wide))
    changed.__dict__.clear()
    untouched = msgspec.structs.replace(REFERENCE)
    untouched.__dict__.clear()
    expected = identify(record, changed, colleagues=Colleagues(load_tree(), untouched)).candidates.none_of_these
    assert identify(record, changed).candidates.none_of_these == pytest.approx(expected)


def test_the_same_record_gives_the_same_answer_twice() -> None:
    record = make_record({"state": "solid", "melting range": "121-123 °C", "in water": "partly dissolves"})
    assert identify(record).candidates == identify(record).candidates
