"""Misread readings: what is planted is named with its causes and its remedy, and honest records accuse nobody."""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping

import msgspec
import pytest

from spotplate.datasets import load_substances
from spotplate.engine import (
    Identification,
    Record,
    VerdictKind,
    expected_readings,
    expected_records,
    find_substance,
    identify,
    make_record,
)
from spotplate.engine.identification import Colleagues
from spotplate.engine.reference_readings import load_reference
from spotplate.engine.resemblance import prior_of_table, resemblance
from spotplate.engine.second_opinion import Suspect, Tree, load_tree, misreading_trial
from spotplate.engine.second_opinion.misread import predicted
from spotplate.engine.second_opinion.misreading_trial import Planted, TrialScore, plant_misreadings, trial_score
from spotplate.engine.second_opinion.tree_training import trees_left_out
from spotplate.kb import Interval, load_knowledge

KNOWLEDGE = load_knowledge()
SUBSTANCES = load_substances()
REFERENCE = load_reference()
HANGING = KNOWLEDGE.second_opinion.misread.hanging
DOUBTFUL = KNOWLEDGE.second_opinion.misread.doubtful

# What a careful student sees: common practice, written by hand and not taken from our tables.
SALT = {
    "state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no glow",
    "in water": "dissolves", "solution conductivity": "bright glow", "solution acidity": "neutral",
    "on the hot plate": "no change", "flame colour": "yellow", "in non-polar solvent": "does not dissolve",
}  # fmt: skip
IRON = {
    "state": "solid", "colour": "grey", "lustre": "metallic", "deformation": "malleable", "magnet": "attracted",
    "dry conductivity": "bright glow", "in water": "does not dissolve", "in non-polar solvent": "does not dissolve",
    "gas in dilute acid": "hydrogen", "density": "7.87 g/cm3", "mark on paper": "no mark", "foam": "no foam",
}  # fmt: skip
SUGAR = {
    "state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle", "smell": "no smell",
    "dry conductivity": "no glow", "in water": "dissolves", "solution conductivity": "no glow", "solution acidity": "neutral",
    "foam": "no foam", "in non-polar solvent": "does not dissolve", "on the hot plate": "chars", "on the cold glass": "water drops",
    "burning": "clean flame", "flame colour": "no colour", "gas in dilute acid": "no gas", "melting range": "178-181 °C",
    "density": "1.58 g/cm3",
}  # fmt: skip
COPPER = {
    "state": "solid", "colour": "coppery", "lustre": "metallic", "deformation": "malleable", "dry conductivity": "bright glow",
    "in water": "does not dissolve", "in non-polar solvent": "does not dissolve", "gas in dilute acid": "no gas",
}  # fmt: skip
CANDLE = {
    "state": "solid", "colour": "white", "lustre": "waxy", "deformation": "waxy", "hardness": "soft", "dry conductivity": "no glow",
    "in water": "does not dissolve", "in non-polar solvent": "dissolves", "in the warm bath": "melts", "burning": "sooty flame",
}  # fmt: skip
QUARTZ = {
    "state": "solid", "colour": "colourless", "lustre": "glassy", "deformation": "brittle", "hardness": "hard",
    "dry conductivity": "no glow", "in water": "does not dissolve", "in non-polar solvent": "does not dissolve",
    "in the burner flame": "no change", "solid in dilute acid": "stays",
}  # fmt: skip
GRAPHITE = {
    "state": "solid", "colour": "grey", "lustre": "metallic", "deformation": "brittle", "hardness": "soft",
    "mark on paper": "grey mark", "magnet": "not attracted", "smell": "no smell", "density": "2.2 g/cm3",
    "dry conductivity": "bright glow", "in water": "does not dissolve", "foam": "no foam",
    "in non-polar solvent": "does not dissolve", "gas in dilute acid": "no gas", "solid in dilute acid": "stays",
    "in the warm bath": "no change", "on the hot plate": "no change", "in the burner flame": "no change",
    "burning": "does not burn", "flame colour": "no colour",
}  # fmt: skip

# (honest record, its class, reading, what was written by mistake, a word that one of the causes must hold)
PLANTED: list[tuple[str, Mapping[str, str], str, str, str, str]] = [
    ("salt in a dish with solvent", SALT, "ionic", "in non-polar solvent", "dissolves", "water"),
    ("lacquered iron", IRON, "metallic", "dry conductivity", "no glow", "lacquer"),
    ("sugar in tap water", SUGAR, "polar molecular", "solution conductivity", "bright glow", "tap water"),
    ("copper with blue water", COPPER, "metallic", "in water", "dissolves", ""),
    ("touching probes in candle wax", CANDLE, "nonpolar molecular", "dry conductivity", "bright glow", "probes touching"),
    ("fine quartz stirred up", QUARTZ, "covalent network", "in non-polar solvent", "dissolves", ""),
]
EACH_PLANTED = pytest.mark.parametrize(
    ("honest", "class_", "reading", "wrong", "cause"), [case[1:] for case in PLANTED], ids=[case[0] for case in PLANTED]
)


def accused(result: Identification) -> list[Suspect]:
    """Readings that are called misread, and not excused by a subtype."""
    return [item for item in result.suspects if item.explained_by is None]


def full_record(name: str, **changes: str) -> Record:
    record = next(expected_records(find_substance(name), KNOWLEDGE))
    changed = make_record({reading.replace("_", " "): value for reading, value in changes.items()}).readings
    return msgspec.structs.replace(record, readings={**record.readings, **changed})


# --- planted errors --------------------------------------------------------------------------------


@EACH_PLANTED
def test_the_honest_record_accuses_nobody(honest: Mapping[str, str], class_: str, reading: str, wrong: str, cause: str) -> None:
    result = identify(make_record(honest))
    assert result.ranking[0].class_ == class_
    assert accused(result) == []
    assert result.verdict.kind is not VerdictKind.CONTRADICTORY


@EACH_PLANTED
def test_a_planted_error_is_called_misread(honest: Mapping[str, str], class_: str, reading: str, wrong: str, cause: str) -> None:
    first = identify(make_record({**honest, reading: wrong})).suspects[0]
    assert first.reading == reading
    assert first.explained_by is None
    assert HANGING <= first.probability <= 1


@EACH_PLANTED
def test_a_planted_error_comes_with_causes_remedy_and_what_was_to_be_expected(
    honest: Mapping[str, str], class_: str, reading: str, wrong: str, cause: str
) -> None:
    first = identify(make_record({**honest, reading: wrong})).suspects[0]
    kind = KNOWLEDGE.readings[reading]
    assert any(cause in text for text in first.causes)
    assert first.causes[0] in next(value.mistaken for value in kind.values if value.is_ == wrong)
    assert set(kind.misread.causes) <= set(first.causes)
    assert first.repeat == kind.misread.repeat
    assert first.predicted[0].value == honest[reading]
    assert first.predicted[0].probability > 0.9
    assert {item.value for item in first.predicted} == set(kind.words())
    assert sum(item.probability for item in first.predicted) == pytest.approx(1)
    assert [item.probability for item in first.predicted] == sorted((item.probability for item in first.predicted), reverse=True)


@EACH_PLANTED
def test_without_the_planted_error_the_verdict_is_that_of_the_rest(
    honest: Mapping[str, str], class_: str, reading: str, wrong: str, cause: str
) -> None:
    first = identify(make_record({**honest, reading: wrong})).suspects[0]
    rest = identify(make_record({name: value for name, value in honest.items() if name != reading}))
    assert first.verdict_without.class_ == class_ == first.first_without
    assert first.verdict_without.kind is VerdictKind.CONCLUSIVE
    assert first.probability_without == pytest.approx(rest.ranking[0].probability)


@EACH_PLANTED
def test_a_planted_error_never_settles_on_a_wrong_class(
    honest: Mapping[str, str], class_: str, reading: str, wrong: str, cause: str
) -> None:
    assert identify(make_record({**honest, reading: wrong})).verdict.class_ in (class_, None)


def test_a_conclusion_that_hangs_on_a_doubtful_reading_is_withdrawn_and_says_so() -> None:
    """Sugar in tap water looks like a salt by the rules alone."""
    result = identify(make_record({**SUGAR, "solution conductivity": "bright glow"}))
    assert result.ranking[0].class_ == "ionic"
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "solution conductivity" in " ".join(result.verdict.reasons)
    assert {"ionic", "polar molecular"} <= set(result.verdict.open_between)


def test_a_number_out_of_place_is_suspected_where_the_rules_refuse_it_too() -> None:
    """No liquid but a metal is as dense as 7 g/cm3 (common practice)."""
    result = identify(full_record("water", density="7 g/cm3"))
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    first = result.suspects[0]
    assert first.reading == "density"
    assert first.causes
    assert first.repeat
    assert first.predicted == ()
    assert first.verdict_without.class_ == "polar molecular"


def test_one_absurd_number_in_the_full_record_of_a_familiar_substance_is_doubted() -> None:
    """Naphthalene has 1.02 g/cm3 (CRC Handbook, 95th edition), and no carbon compound comes near 8.9 (common practice)."""
    assert [item.reading for item in accused(identify(full_record("naphthalene", density="8.9 g/cm3")))] == ["density"]


def test_a_melting_range_that_the_warm_bath_gives_the_lie_is_the_first_suspect() -> None:
    """Naphthalene melts at 80.3 °C (CRC Handbook, 95th edition), below the 90 °C of the bath."""
    result = identify(full_record("naphthalene", melting_range="180 °C"))
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    assert result.suspects[0].reading == "melting range"
    assert result.suspects[0].verdict_without.class_ == "nonpolar molecular"


# --- honest records --------------------------------------------------------------------------------


def test_graphite_accuses_nobody_though_it_conducts_and_is_no_metal() -> None:
    for result in (identify(make_record(GRAPHITE)), identify(full_record("graphite"))):
        assert result.suspects == ()
        assert result.ranking[0].class_ == "covalent network"


def test_graphite_accuses_nobody_when_the_table_has_never_heard_of_it() -> None:
    reference = REFERENCE
    for name in ("graphite", "graphite powder", "pencil lead"):
        reference = reference.without(name)
    assert len(reference.rows) == len(REFERENCE.rows) - 3
    result = identify(make_record(GRAPHITE), colleagues=Colleagues(load_tree(), reference))
    assert accused(result) == []
    assert result.verdict.class_ == "covalent network"


@pytest.fixture(scope="module")
def clean() -> dict[str, Identification]:
    """What is found on the likeliest full record of every substance."""
    return {item.name: identify(next(expected_records(item, KNOWLEDGE)), advise=False) for item in SUBSTANCES}


def test_clean_records_of_the_whole_table_are_hardly_ever_accused(clean: Mapping[str, Identification]) -> None:
    wrongly = [name for name, result in clean.items() if accused(result)]
    assert len(clean) == 389
    assert len(wrongly) / len(clean) < 0.03, wrongly


@pytest.fixture(scope="module")
def never_seen() -> dict[str, Identification]:
    """The same when the reference table lacks the substance."""
    tree = load_tree()
    return {
        item.name: identify(
            next(expected_records(item, KNOWLEDGE)), advise=False, colleagues=Colleagues(tree, REFERENCE.without(item.name))
        )
        for item in SUBSTANCES
    }


def test_clean_records_of_substances_never_seen_are_seldom_accused(never_seen: Mapping[str, Identification]) -> None:
    wrongly = [name for name, result in never_seen.items() if accused(result)]
    assert len(wrongly) / len(never_seen) < 0.05, wrongly
    third = [name for name in list(never_seen)[::3] if name in wrongly]
    assert len(third) / len(never_seen) * 3 < 0.03, third


def test_clean_records_of_substances_never_seen_are_accused_in_less_than_three_of_a_hundred(
    never_seen: Mapping[str, Identification],
) -> None:
    wrongly = [name for name, result in never_seen.items() if accused(result)]
    assert len(wrongly) / len(never_seen) < 0.03, wrongly


@pytest.mark.parametrize("name", ["sodium carbonate decahydrate", "potassium hydrogentartrate"])
def test_an_odd_reading_of_a_substance_never_seen_is_not_called_misread(
    never_seen: Mapping[str, Identification], name: str
) -> None:
    """Soda gives carbon dioxide with acid, cream of tartar a lilac flame (common practice)."""
    assert accused(never_seen[name]) == []


def test_a_table_without_a_substance_lacks_that_one_only_and_leaves_the_shipped_one_alone() -> None:
    less = REFERENCE.without("graphite")
    assert {row.name for row in REFERENCE.rows} - {row.name for row in less.rows} == {"graphite"}
    assert len(less.rows) == len(REFERENCE.rows) - 1
    assert "graphite" in {row.name for row in load_reference().rows}


# --- contradictory records -------------------------------------------------------------------------

CONFLICTS: list[dict[str, str]] = [  # no substance reads so
    {"state": "liquid", "melting range": "121-123 °C"},
    {"state": "solid", "melting range": "-20 °C"},
    {"in water": "does not dissolve", "solution conductivity": "bright glow"},
    {"in the warm bath": "melts", "on the hot plate": "no change"},
    {"on the hot plate": "melts", "in the burner flame": "no change"},
    {"on the hot plate": "no change", "melting range": "80 °C"},
    {"state": "gas", "boiling point": "100 °C"},
    {"deformation": "malleable", "dry conductivity": "bright glow", "on the hot plate": "chars"},
    {**SALT, "melting range": "80 °C"},
    {**SUGAR, "in the warm bath": "melts", "melting range": "185 °C"},
    {**COPPER, "on the hot plate": "chars"},
    {**QUARTZ, "solution conductivity": "bright glow"},
    # foam is the oddest reading here, but without it the rest still contradicts itself
    {"state": "liquid", "colour": "black", "lustre": "metallic", "in water": "dissolves", "dry conductivity": "bright glow",
     "boiling point": "33 °C", "foam": "lasting foam"},
]  # fmt: skip


@pytest.mark.parametrize("written", CONFLICTS)
def test_the_first_suspect_of_a_contradiction_is_a_reading_without_which_there_is_none(written: dict[str, str]) -> None:
    record = make_record(written)
    result = identify(record)
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    first = result.suspects[0]
    assert identify(record.without(first.reading)).verdict.kind is not VerdictKind.CONTRADICTORY
    assert first.verdict_without.kind is not VerdictKind.CONTRADICTORY
    assert first.explained_by is None
    assert first.causes
    assert first.repeat


def test_the_first_suspect_of_a_contradiction_resolves_it_even_beside_a_second_odd_reading() -> None:
    record = make_record({"state": "liquid", "melting range": "121 °C", "burning": "brilliant light"})
    result = identify(record)
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    assert identify(record.without("state")).verdict.kind is not VerdictKind.CONTRADICTORY
    first = result.suspects[0].reading
    assert identify(record.without(first)).verdict.kind is not VerdictKind.CONTRADICTORY


@pytest.mark.parametrize(
    "written",
    [
        {"state": "liquid", "melting range": "121-123 °C"},
        {"state": "gas", "boiling point": "100 °C"},
        {"in water": "does not dissolve", "solution conductivity": "bright glow"},
    ],
)
def test_of_two_readings_that_exclude_each_other_one_is_probably_misread(written: dict[str, str]) -> None:
    """At least one of the two is wrong, so their probabilities of a misreading add up to about 1 or more."""
    result = identify(make_record(written))
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    assert {item.reading for item in result.suspects} == set(written)
    assert sum(item.probability for item in result.suspects) > 0.95


def test_no_honest_full_record_is_called_contradictory(clean: Mapping[str, Identification]) -> None:
    assert [name for name, result in clean.items() if result.verdict.kind is VerdictKind.CONTRADICTORY] == []


# --- excuses by a subtype --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("honest", "reading", "wrong"),
    [
        (COPPER | {"density": "8.96 g/cm3"}, "gas in dilute acid", "carbon dioxide"),
        (SALT, "mark on paper", "grey mark"),
        (SALT, "foam", "lasting foam"),
    ],
    ids=["copper fizzes", "salt marks paper", "salt foams"],
)
def test_a_misreading_is_no_witness_in_its_own_defence(honest: Mapping[str, str], reading: str, wrong: str) -> None:
    record = make_record({**honest, reading: wrong})
    result = identify(record)
    found = next(item for item in result.suspects if item.reading == reading)
    assert found.probability >= DOUBTFUL
    assert found.explained_by is None


def test_agar_with_one_reading_99_percent_misread_is_not_settled_as_ionic() -> None:
    result = identify(full_record("agar", gas_in_dilute_acid="carbon dioxide"))
    assert next(item for item in result.suspects if item.reading == "gas in dilute acid").probability > 0.99
    assert result.verdict.class_ in ("polar molecular", None)


# --- what was to be expected -----------------------------------------------------------------------


@pytest.mark.parametrize(("honest", "reading"), [(case[1], case[3]) for case in PLANTED], ids=[case[0] for case in PLANTED])
def test_what_is_expected_of_a_reading_rests_on_the_other_readings_alone(honest: Mapping[str, str], reading: str) -> None:
    """Whatever was written, right or wrong, the expectation is the same; and it is that of the record without it."""
    prior = prior_of_table(REFERENCE, KNOWLEDGE)
    told = []
    for word in KNOWLEDGE.readings[reading].words():
        record = make_record({**honest, reading: word})
        found = resemblance(record, prior, REFERENCE, KNOWLEDGE)
        told.append({item.value: item.probability for item in predicted(record, reading, found, REFERENCE, KNOWLEDGE)})
    for other in told[1:]:
        assert other == pytest.approx(told[0], abs=1e-9)
    rest = resemblance(make_record(honest).without(reading), prior, REFERENCE, KNOWLEDGE)
    shows = dict.fromkeys(told[0], 0.0)
    for row, chance in zip(REFERENCE.rows, rest.substances, strict=True):
        for word in row.words.get(reading, ()):
            shows[word] += chance
    assert max(shows, key=lambda word: shows[word]) == max(told[0], key=lambda word: told[0][word]) == honest[reading]


# --- probabilities ---------------------------------------------------------------------------------


def test_probabilities_lie_between_none_and_certain_whatever_the_record() -> None:
    """Hundreds of records of any readings, contradictory ones included."""
    draw = random.Random(9)
    prior = prior_of_table(REFERENCE, KNOWLEDGE)
    words = {kind.id: kind.words() for kind in KNOWLEDGE.readings.values() if kind.values}
    for _ in range(500):
        chosen: dict[str, str | Interval] = {
            name: draw.choice(words[name]) for name in draw.sample(sorted(words), draw.randint(0, 22))
        }
        chosen["density"] = Interval(*sorted(draw.uniform(500, 20000) for _ in range(2)), "g/cm3")
        found = resemblance(Record(chosen), prior, REFERENCE, KNOWLEDGE)
        assert set(found.misread) == set(chosen)
        assert all(-1e-12 <= chance <= 1 + 1e-12 for chance in found.misread.values())


def test_suspects_come_likeliest_first_and_from_the_threshold_on() -> None:
    counted = 0
    for substance, (reading, wrong) in itertools.product(
        SUBSTANCES[::12],
        [("magnet", "attracted"), ("lustre", "metallic"), ("dry conductivity", "bright glow"), ("smell", "smell")],
    ):
        record = next(expected_records(substance, KNOWLEDGE))
        if reading not in record.readings:
            continue
        result = identify(msgspec.structs.replace(record, readings={**record.readings, reading: wrong}), advise=False)
        chances = [item.probability for item in result.suspects]
        assert all(0 <= chance <= 1 for chance in chances)
        if result.verdict.kind is not VerdictKind.CONTRADICTORY:
            assert chances == sorted(chances, reverse=True)
            for item in result.suspects:  # a conclusion may hang on a reading that is less doubtful
                assert item.probability >= DOUBTFUL or (
                    item.probability >= HANGING and item.first_without != result.ranking[0].class_
                )
            counted += len(chances)
    assert counted > 20


def test_more_readings_that_go_against_it_make_a_reading_more_doubtful() -> None:
    record = make_record({**IRON, "dry conductivity": "no glow"})
    prior = prior_of_table(REFERENCE, KNOWLEDGE)
    chances = []
    for names in (["dry conductivity"], ["dry conductivity", "lustre", "magnet"], list(record.readings)):
        part = Record({name: record.readings[name] for name in names})
        chances.append(resemblance(part, prior, REFERENCE, KNOWLEDGE).misread["dry conductivity"])
    assert chances == sorted(chances)
    assert chances[0] < 0.1 < 0.9 < chances[-1]


# --- a trial ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def trees() -> tuple[Tree, ...]:
    return trees_left_out(SUBSTANCES, KNOWLEDGE, load_tree().settings)


@pytest.fixture(scope="module")
def trial(trees: tuple[Tree, ...]) -> list[Planted]:
    """Every sixteenth substance with each reading planted wrong in turn; neither tree nor table has seen the substance."""
    places = range(0, len(SUBSTANCES), 16)
    asked = [Colleagues(trees[place], REFERENCE.without(SUBSTANCES[place].name)) for place in places]
    return list(plant_misreadings([SUBSTANCES[place] for place in places], asked, KNOWLEDGE))


def test_a_tree_left_out_has_not_seen_its_substance(trees: tuple[Tree, ...]) -> None:
    assert len(trees) == len(SUBSTANCES)
    for substance, tree in zip(SUBSTANCES, trees, strict=True):
        assert not any(substance.name in names for node in tree.nodes for names in node.substances.values())


def test_few_planted_errors_lead_to_a_wrong_conclusion(trial: list[Planted]) -> None:
    score = trial_score(trial)
    assert score.planted > 400
    assert score.wrong / score.planted < 0.05, f"{score.wrong} of {score.planted}"


def test_the_first_suspect_of_a_contradiction_is_mostly_the_planted_error(trial: list[Planted]) -> None:
    score = trial_score(trial)
    assert score.contradictory > 30
    assert score.contradictory_found / score.contradictory >= 0.7, f"{score.contradictory_found} of {score.contradictory}"


def test_who_is_accused_is_mostly_guilty(trial: list[Planted]) -> None:
    """Readings are called misread from a probability of 0.9 on, and the substance is new: eight in ten is what that promises."""
    first = [item for item in trial if item.reading is not None and item.accused]
    guilty = sum(item.reading in item.accused for item in first)
    assert len(first) > 50
    assert guilty / len(first) >= 0.8, f"{guilty} of {len(first)}"


def test_clean_records_of_the_trial_are_left_in_peace(trial: list[Planted]) -> None:
    score = trial_score(trial)
    assert score.clean == len(SUBSTANCES[::16])
    assert score.clean_accused <= 1
    assert score.clean_wrong <= 1


def test_every_reading_of_a_substance_is_planted_once_beside_the_clean_record(trial: list[Planted]) -> None:
    substance = SUBSTANCES[0]
    planted = [item.reading for item in trial if item.substance == substance.name]
    honest = expected_readings(substance, KNOWLEDGE)
    record = next(expected_records(substance, KNOWLEDGE))
    can_be_wrong = [name for name in record.readings if set(KNOWLEDGE.readings[name].words()) != set(honest[name])]
    assert planted == [None, *can_be_wrong]


def test_each_planted_record_differs_from_the_clean_one_in_one_dishonest_reading(monkeypatch: pytest.MonkeyPatch) -> None:
    """A word that is honest for the substance would be no error; a number is off by at least 8 K, a density by 8 %."""
    judged: list[Record] = []

    def watched(record: Record, *rest: object, **named: object) -> Identification:
        judged.append(record)
        return identify(record, advise=False)

    monkeypatch.setattr(misreading_trial, "identify", watched)
    asked = Colleagues(load_tree(), REFERENCE)
    for substance in SUBSTANCES[::40]:
        judged.clear()
        list(plant_misreadings([substance], [asked], KNOWLEDGE))
        clean, *planted = (record.readings for record in judged)
        honest = expected_readings(substance, KNOWLEDGE)
        assert len(planted) > 5
        for readings in planted:
            (changed,) = [name for name in clean if readings[name] != clean[name]]
            was, wrong = clean[changed], readings[changed]
            assert readings.keys() == clean.keys()
            assert wrong not in honest[changed]
            if isinstance(was, Interval) and isinstance(wrong, Interval):
                least = 0.08 * was.low if changed == "density" else 8
                assert abs(wrong.low - was.low) >= least - 1e-9


def test_the_score_of_a_trial_counts_by_hand() -> None:
    settled, open_, refused = VerdictKind.CONCLUSIVE, VerdictKind.INCONCLUSIVE, VerdictKind.CONTRADICTORY
    score = trial_score(
        [
            Planted("a", None, settled, False, (), None),
            Planted("a", None, settled, True, ("smell",), "smell"),
            Planted("a", "lustre", settled, True, (), None),
            Planted("a", "lustre", open_, False, ("lustre",), "lustre"),
            Planted("b", "smell", refused, False, ("foam", "smell"), "foam"),
            Planted("b", "state", refused, False, (), "state"),
        ]
    )
    assert score == TrialScore(
        planted=4, wrong=1, accused=2, found=2, contradictory=2, contradictory_found=1, clean=2, clean_accused=1, clean_wrong=1
    )
