"""Which test is proposed next: only what can be done, may change something, and is worth its minutes."""

from __future__ import annotations

import functools
import math
import random
from collections.abc import Collection, Iterator, Sequence

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.distance import jensenshannon
from scipy.stats import entropy as scipy_entropy

from spotplate.datasets import load_substances
from spotplate.engine import Identification, Record, VerdictKind, expected_records, find_substance, identify, make_record
from spotplate.engine.bench import NextTest, can_be_done, next_test
from spotplate.engine.bench.outlook import Outlook, divergence, entropy
from spotplate.engine.reasoning import chain, rank
from spotplate.engine.record import ReadValue
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.engine.resemblance import likelihoods, prior_of_table, resemblance
from spotplate.engine.sampled_records import partial_records
from spotplate.kb import BenchTest, Condition, KnowledgeBase, Rule, Source, load_knowledge
from spotplate.kb.schema import Weighs, When, Word

KNOWLEDGE = load_knowledge()
REFERENCE = load_reference()
ROWS = {row.name: row for row in REFERENCE.rows}
BARE = {"state": "solid", "colour": "white", "lustre": "glassy"}


@functools.cache
def sampled() -> tuple[Identification, ...]:
    """What is said of a few records as students bring them, of substances all over the table."""
    found = []
    for substance in load_substances()[::8]:
        draw = random.Random(f"next test {substance.name}")
        found.append(identify(next(partial_records(substance, KNOWLEDGE, draw)), KNOWLEDGE))
    return tuple(found)


def proposed() -> Iterator[tuple[Record, NextTest]]:
    for result in sampled():
        for test in result.next_tests:
            yield result.record, test


def record_of(**readings: str) -> Record:
    return make_record({name.replace("_", " "): value for name, value in readings.items()}, KNOWLEDGE)


def with_rules_only(rules: Sequence[Rule], tests: dict[str, BenchTest] | None = None) -> KnowledgeBase:
    """The shipped knowledge with other rules, or other tests, and nothing worked out from the old ones."""
    changed = msgspec.structs.replace(KNOWLEDGE, rules=tuple(rules), tests=tests or KNOWLEDGE.tests)
    changed.__dict__.clear()
    return changed


def rule(name: str, reading: str, value: str, word: Word, cause: str = "charge carriers") -> Rule:
    """A rule for ionic on one reading."""
    when = When(all=(Condition(reading=reading, is_=(value,)),))
    return Rule(name, "invented", when, Source("judgement"), weighs=Weighs(cause, for_={"ionic": word}))


def pending(test: BenchTest, record: Record) -> list[str]:
    return [kind.id for kind in test.readings if kind.id not in record.readings and kind.id not in record.unclear]


# --- what is never proposed ------------------------------------------------------------------------


def test_the_sample_holds_enough_proposals_to_judge_by() -> None:
    assert sum(1 for _ in proposed()) > 50
    assert sum(bool(test.opens) for _, test in proposed()) >= 1
    assert sum(test.teacher for _, test in proposed()) >= 3


def test_every_proposed_test_can_be_done_now_and_its_reading_is_still_to_be_made() -> None:
    for record, test in proposed():
        known = KNOWLEDGE.tests[test.test]
        assert can_be_done(known, record)
        assert pending(known, record)[0] == test.reading
        assert (test.minutes, test.teacher) == (known.minutes, known.teacher)


def test_the_readings_that_a_test_needs_have_been_made_and_allow_it() -> None:
    """The same said without the engine's own helper."""
    for record, test in proposed():
        for need in KNOWLEDGE.tests[test.test].needs:
            assert record.readings[need.reading or ""] in need.is_


@settings(deadline=None, max_examples=40)
@given(st.data())
def test_what_was_made_tried_or_left_out_is_never_proposed(data: st.DataObject) -> None:
    """On records that no honest substance shows, too."""
    kinds = [kind for kind in KNOWLEDGE.readings.values() if kind.values]
    chosen = data.draw(st.lists(st.sampled_from(kinds), unique=True, max_size=8))
    readings: dict[str, ReadValue] = {kind.id: data.draw(st.sampled_from(kind.words())) for kind in chosen}
    names = sorted(set(KNOWLEDGE.readings) - set(readings))
    unclear = data.draw(st.lists(st.sampled_from(names), unique=True, max_size=8))
    left_out = data.draw(st.lists(st.sampled_from(sorted(KNOWLEDGE.tests)), unique=True, max_size=10))
    record = Record(readings, unclear=tuple(unclear))
    for test in identify(record, KNOWLEDGE, left_out=left_out).next_tests:
        assert test.test not in left_out
        assert test.reading not in readings
        assert test.reading not in unclear
        assert can_be_done(KNOWLEDGE.tests[test.test], record)
        assert test.gain > 0


@pytest.mark.parametrize("result", sampled()[::6], ids=lambda result: result.record.vial)
def test_leaving_out_what_is_proposed_ends_with_nothing_and_names_no_test_twice(result: Identification) -> None:
    left_out: list[str] = []
    while tests := identify(result.record, KNOWLEDGE, left_out=left_out).next_tests:
        names = [test.test for test in tests]
        assert len(set(names)) == len(names)
        assert not set(names) & set(left_out)
        left_out.append(names[0])
    assert len(left_out) < len(KNOWLEDGE.tests)


def test_a_test_with_an_unclear_reading_before_it_is_not_proposed() -> None:
    """Unclear is neither dissolved nor not dissolved, so there is no solution to try."""
    tests = identify(record_of(**BARE, in_water="unclear"), KNOWLEDGE).next_tests
    assert not {"solution conductivity test", "litmus test"} & {test.test for test in tests}
    assert all(test.reading != "in water" for test in tests)


def test_a_test_that_no_rule_listens_to_is_not_proposed() -> None:
    """Graphite is told from a metal by its mark on paper; take the rules on it away, and rubbing is of no use."""
    record = record_of(state="solid", colour="black", lustre="metallic", dry_conductivity="bright glow", deformation="brittle")
    deaf = [rule for rule in KNOWLEDGE.rules if not any(condition.reading == "mark on paper" for condition in rule.conditions())]
    assert len(deaf) < len(KNOWLEDGE.rules)
    assert "paper streak" in {test.test for test in identify(record, KNOWLEDGE).next_tests}
    assert "paper streak" not in {test.test for test in identify(record, with_rules_only(deaf)).next_tests}


def decibans(record: Record, values: dict[str, ReadValue]) -> dict[str, float]:
    return {item.class_: item.decibans for item in rank(chain({**record.readings, **values}, KNOWLEDGE).firings, KNOWLEDGE)}


def possible_values(test: BenchTest, record: Record) -> Iterator[dict[str, ReadValue]]:
    """Single readings that a test may give: every word, and the handbook number of every substance."""
    for reading in pending(test, record):
        kind = KNOWLEDGE.readings[reading]
        yield from ({reading: word} for word in kind.words())
        if kind.number:
            numbers = {row.numbers[reading] for row in REFERENCE.rows if reading in row.numbers}
            yield from ({reading: number.interval(kind.number.unit)} for number in numbers)


def test_some_outcome_of_every_proposed_test_moves_the_ranking() -> None:
    for record, test in proposed():
        if not test.opens:
            now = decibans(record, {})
            outcomes = possible_values(KNOWLEDGE.tests[test.test], record)
            assert any(decibans(record, values) != now for values in outcomes), (record, test)


def test_nothing_is_proposed_for_a_class_that_no_test_left_could_settle() -> None:
    """One hint of 3 decibans is all there is to win, and a conclusion takes a lead of 10."""
    knowledge = with_rules_only([rule("brittle", "deformation", "brittle", "hint")])
    assert identify(record_of(state="solid"), knowledge).next_tests == ()
    enough = with_rules_only(
        [
            rule("brittle", "deformation", "brittle", "strong", "surface and deformation"),
            rule("glow", "solution conductivity", "bright glow", "strong"),
        ]
    )
    assert "press and tap" in {test.test for test in identify(record_of(state="solid"), enough).next_tests}


def test_what_a_test_out_of_reach_could_tell_does_not_keep_another_in_play() -> None:
    """What chars on the hot plate is not melted in the flame, so its melt will settle nothing, and a hint alone neither."""
    knowledge = with_rules_only(
        [
            rule("brittle", "deformation", "brittle", "hint", "surface and deformation"),
            rule("melt", "melt conductivity", "bright glow", "decisive"),
        ]
    )
    warmed = {"state": "solid", "in_the_warm_bath": "no change"}
    within = identify(record_of(**warmed, on_the_hot_plate="no change"), knowledge)
    beyond = identify(record_of(**warmed, on_the_hot_plate="chars"), knowledge)
    assert "press and tap" in {test.test for test in within.next_tests}
    assert beyond.next_tests == ()


def test_after_a_conclusion_a_test_is_proposed_only_where_what_the_record_resembles_is_of_other_classes() -> None:
    """Where four fifths of it are of the class concluded, nothing is left to confirm."""
    settled = [result for result in sampled() if result.verdict.kind is VerdictKind.CONCLUSIVE]
    assert len(settled) > 5
    borne_out = [result for result in settled if share_alike(result) >= 0.8]
    assert len(borne_out) > 5
    assert all(result.next_tests == () for result in borne_out)


def share_alike(result: Identification) -> float:
    """The share of the first class among the reference substances that a record resembles [-]."""
    alike = resemblance(result.record, prior_of_table(REFERENCE, KNOWLEDGE), REFERENCE, KNOWLEDGE)
    parts = zip(REFERENCE.classes, alike.substances, alike.others, strict=True)
    return sum(own + other for name, own, other in parts if name == result.ranking[0].class_)


def test_a_class_settled_by_the_rules_but_doubted_by_the_tree_brings_no_bonus_to_idle_tests() -> None:
    """
    The rules have settled phosphorus trichloride and the tree objects.

    Settling the class a second time is worth nothing, so a look at the lustre of a liquid, which tells next to nothing,
    must not come out as worth more than a bit.
    """
    record = make_record(
        {
            "state": "liquid", "colour": "white or colourless", "smell": "smell", "density": "1.574 g/cm3",
            "dry conductivity": "no glow", "in water": "reacts", "foam": "no foam", "solution conductivity": "bright glow",
            "solution acidity": "acidic", "in non-polar solvent": "dissolves", "gas in dilute acid": "other gas",
            "solid in dilute acid": "goes into solution", "in the warm bath": "boils", "burning": "does not burn",
        }
    )  # fmt: skip
    result = identify(record, KNOWLEDGE)
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert all(test.gain < 0.5 for test in result.next_tests)


# --- what a proposal says --------------------------------------------------------------------------


def test_the_gain_is_never_negative_and_never_more_than_there_is_to_know() -> None:
    """Five classes are log2(5) bit; settling them rightly is worth 2 bit more, once."""
    for _, test in proposed():
        assert 0 < test.gain <= 2.33 + 2


def test_tests_come_in_the_order_of_what_they_tell_per_minute() -> None:
    """What tells something, but would rather settle it wrongly, comes after all others."""
    compared = 0
    for result in sampled():
        rates = [test.per_minute for test in result.next_tests]
        assert rates == sorted(rates, reverse=True)
        compared += len(rates) > 1
    assert compared > 10


def test_the_most_telling_test_is_first_whatever_the_order_of_the_knowledge_base() -> None:
    backwards = dict(reversed(KNOWLEDGE.tests.items()))
    knowledge = with_rules_only(KNOWLEDGE.rules, backwards)
    for result in sampled()[::5]:
        ours = [(test.test, pytest.approx(test.gain)) for test in result.next_tests]
        theirs = identify(result.record, knowledge).next_tests
        assert [(test.test, test.gain) for test in theirs] == ours


@pytest.mark.parametrize("held_back", [0, 1])
def test_of_two_tests_that_tell_as_much_per_minute_the_one_without_the_teacher_comes_first(
    held_back: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(next_test, "_COMPANIONS", 1)  # each test for itself
    record = record_of(**BARE)
    pair = [test for test in identify(record, KNOWLEDGE).next_tests if not test.opens][:2]
    tests = dict(KNOWLEDGE.tests)
    for place, test in enumerate(pair):  # both tell one bit in ten minutes' time, and only one is for the teacher
        changed = {"minutes": 10 * test.gain, "teacher": place == held_back, "cautions": ("eyes",)}
        tests[test.test] = msgspec.structs.replace(tests[test.test], **changed)
    found = [test.test for test in identify(record, with_rules_only(KNOWLEDGE.rules, tests)).next_tests]
    gentle, held = pair[1 - held_back].test, pair[held_back].test
    assert gentle in found
    assert held not in found or found.index(gentle) < found.index(held)


def test_the_teachers_agreement_changes_the_place_of_a_test_and_not_what_it_tells() -> None:
    record = record_of(**BARE)
    first = identify(record, KNOWLEDGE).next_tests[0]
    tests = {**KNOWLEDGE.tests, first.test: msgspec.structs.replace(KNOWLEDGE.tests[first.test], teacher=True)}
    held = {test.test: test for test in identify(record, with_rules_only(KNOWLEDGE.rules, tests)).next_tests}
    if first.test in held:
        assert held[first.test].gain == pytest.approx(first.gain)
        assert held[first.test].teacher


def test_parts_are_two_different_classes() -> None:
    for _, test in proposed():
        first, second = test.parts
        assert first != second
        assert {first, second} <= set(KNOWLEDGE.classes)


def test_conductivity_of_a_solid_of_which_nothing_else_is_known_tells_a_metal_from_something_else() -> None:
    left_out = set(KNOWLEDGE.tests) - {"dry conductivity test"}
    (test,) = identify(record_of(state="solid"), KNOWLEDGE, left_out=left_out).next_tests
    assert "metallic" in test.parts


def test_what_a_test_opens_the_way_to_cannot_be_done_now_and_can_be_after_one_of_its_outcomes() -> None:
    opening = [(record, test) for record, test in proposed() if test.opens]
    for record, test in opening:
        opened = KNOWLEDGE.tests[test.opens]
        assert not can_be_done(opened, record)
        after = (
            msgspec.structs.replace(record, readings={**record.readings, **values})
            for values in possible_values(KNOWLEDGE.tests[test.test], record)
        )
        assert any(can_be_done(opened, later) for later in after)
        assert pending(opened, record)


def test_a_test_that_no_rule_listens_to_is_proposed_for_the_sake_of_those_it_opens() -> None:
    """With rules on the solution alone, shaking with water is worth its time as long as the solution can be tried."""
    knowledge = with_rules_only(
        [
            rule("glow", "solution conductivity", "bright glow", "strong"),
            rule("litmus", "solution acidity", "alkaline", "strong", "make-up of the particles"),
        ]
    )
    record = record_of(state="solid")
    assert {test.test for test in identify(record, knowledge).next_tests} == {"water test"}
    without = ("solution conductivity test", "litmus test")
    assert identify(record, knowledge, left_out=without).next_tests == ()


def test_what_did_not_dissolve_opens_no_way_to_the_solution() -> None:
    found = identify(record_of(**BARE, in_water="does not dissolve"), KNOWLEDGE)
    assert found.next_tests
    assert not {test.opens for test in found.next_tests} & {"solution conductivity test", "litmus test"}


# --- within a set ----------------------------------------------------------------------------------


def full_record_without(name: str, tests: Collection[str]) -> Record:
    """The likeliest full record of a substance without what some tests yield."""
    row = find_substance(name)
    assert row is not None
    record = next(expected_records(row, KNOWLEDGE))
    kept = {reading: value for reading, value in record.readings.items() if KNOWLEDGE.test_of[reading].id not in tests}
    return Record(kept)


# (substances of a set, the tests that may part them by what any textbook says)
PAIRS = [
    (("sodium chloride", "potassium chloride"), {"flame colour test", "density", "scratch"}),
    (("iron", "aluminium"), {"magnet", "density", "scratch", "hot plate test", "burner test"}),
    (("potassium nitrate", "sodium nitrate"), {"flame colour test", "melting range test", "density", "hot plate test"}),
]


@pytest.mark.parametrize(("pair", "parting"), PAIRS, ids=["chlorides", "metals", "nitrates"])
def test_once_the_class_is_settled_the_test_that_parts_the_two_substances_of_a_set_is_proposed(
    pair: tuple[str, str], parting: set[str]
) -> None:
    record = full_record_without(pair[0], parting)
    result = identify(record, KNOWLEDGE, among=pair)
    assert result.verdict.kind is VerdictKind.CONCLUSIVE
    assert result.next_tests
    assert result.next_tests[0].test in parting
    assert set(result.next_tests[0].parts) == set(pair)


@pytest.mark.parametrize(("pair", "parting"), PAIRS, ids=["chlorides", "metals", "nitrates"])
def test_nothing_is_proposed_once_one_substance_of_the_set_stands_out(pair: tuple[str, str], parting: set[str]) -> None:
    result = identify(full_record_without(pair[0], ()), KNOWLEDGE, among=pair)
    assert result.candidates.best[0].name == pair[0]
    assert result.next_tests == ()


def same_class_pairs() -> list[tuple[ReferenceRow, ReferenceRow]]:
    draw = random.Random(7)
    found = []
    for name in KNOWLEDGE.classes:
        rows = [row for row in REFERENCE.rows if row.class_ == name and row.school_use == "students"]
        found += [tuple(draw.sample(rows, 2)) for _ in range(4)]
    return found  # type: ignore[return-value]


def differ_in(test: BenchTest, first: ReferenceRow, second: ReferenceRow) -> bool:
    """Whether two substances may show different things in a test, or only one is known to show anything."""
    return any(
        first.words.get(kind.id) != second.words.get(kind.id) or first.numbers.get(kind.id) != second.numbers.get(kind.id)
        for kind in test.readings
    )


@pytest.mark.parametrize(("first", "second"), same_class_pairs(), ids=lambda row: row.name)
def test_within_a_set_of_one_class_no_test_is_proposed_on_which_the_two_read_alike(
    first: ReferenceRow, second: ReferenceRow
) -> None:
    substance = find_substance(first.name)
    assert substance is not None
    record = next(partial_records(substance, KNOWLEDGE, random.Random(first.name)))
    result = identify(record, KNOWLEDGE, among=[first.name, second.name])
    if result.verdict.kind is not VerdictKind.CONCLUSIVE:
        return
    for test in result.next_tests:
        concerned = [KNOWLEDGE.tests[name] for name in (test.test, test.opens) if name]
        assert any(differ_in(each, first, second) for each in concerned), test
        assert set(test.parts) == {first.name, second.name}


def test_a_set_with_an_open_class_still_names_classes() -> None:
    result = identify(record_of(state="solid"), KNOWLEDGE, among=["sodium chloride", "sucrose", "copper"])
    assert result.next_tests
    for test in result.next_tests:
        assert set(test.parts) <= set(KNOWLEDGE.classes)


# --- order of readings -----------------------------------------------------------------------------


def told(tests: Sequence[NextTest]) -> dict[str, tuple[object, ...]]:
    return {test.test: (test.reading, pytest.approx(test.gain), test.opens, set(test.parts)) for test in tests}


@settings(deadline=None, max_examples=25)
@given(st.sampled_from(load_substances()), st.integers(0, 1000), st.randoms(use_true_random=False))
def test_the_order_of_readings_never_matters(substance: object, seed: int, shuffler: random.Random) -> None:
    record = next(partial_records(substance, KNOWLEDGE, random.Random(seed)))  # type: ignore[arg-type]
    names = list(record.readings)
    shuffler.shuffle(names)
    other = Record({name: record.readings[name] for name in names})
    ours, theirs = identify(record, KNOWLEDGE).next_tests, identify(other, KNOWLEDGE).next_tests
    assert {test.test: (test.reading, test.gain, test.opens, set(test.parts)) for test in theirs} == told(ours)


# --- the model behind it ---------------------------------------------------------------------------


@pytest.mark.parametrize("reading", [kind.id for kind in KNOWLEDGE.readings.values() if kind.values])
def test_every_substance_shows_some_word_of_a_reading(reading: str) -> None:
    """The chances of all words sum to 1, for each row of the table and for its like outside it."""
    found = likelihoods(reading, REFERENCE, KNOWLEDGE)
    assert set(found) == set(KNOWLEDGE.readings[reading].words())
    for place in (0, 1):
        columns = list(zip(*(both[place] for both in found.values()), strict=True))
        assert len(columns) == len(REFERENCE.compact)
        for chances in columns:
            assert sum(chances) == pytest.approx(1)
            assert min(chances) > 0


def test_an_honest_word_is_likelier_than_one_that_is_not_and_honest_words_are_alike() -> None:
    for reading in REFERENCE.readings:
        found = {word: own for word, (own, _) in likelihoods(reading, REFERENCE, KNOWLEDGE).items()}
        for place, row in enumerate(REFERENCE.rows[::10]):
            if reading in row.words:
                honest = [found[word][place * 10] for word in row.words[reading]]
                others = [own[place * 10] for word, own in found.items() if word not in row.words[reading]]
                assert max(honest) == pytest.approx(min(honest))
                assert all(min(honest) > other for other in others)


def test_a_misreading_is_as_probable_as_the_bench_test_says() -> None:
    """A substance with one honest word shows another one at the rate of the reading."""
    for reading in REFERENCE.readings:
        found = {word: own for word, (own, _) in likelihoods(reading, REFERENCE, KNOWLEDGE).items()}
        place, row = next((at, row) for at, row in enumerate(REFERENCE.rows) if len(row.words.get(reading, ())) == 1)
        wrong = sum(own[place] for word, own in found.items() if word != row.words[reading][0])
        assert wrong == pytest.approx(KNOWLEDGE.readings[reading].misread.rate, rel=0.1)


def outlook_on(record: Record) -> Outlook:
    alike = resemblance(record, prior_of_table(REFERENCE, KNOWLEDGE), REFERENCE, KNOWLEDGE)
    return Outlook(alike, REFERENCE, KNOWLEDGE)


RECORDS = [Record({}), record_of(state="solid"), record_of(**BARE), record_of(state="liquid", colour="colourless")]


@pytest.mark.parametrize("record", RECORDS, ids=["nothing", "solid", "white solid", "liquid"])
@pytest.mark.parametrize("share", [1.0, 0.125])
def test_the_chances_of_all_outcomes_sum_to_what_went_in(record: Record, share: float) -> None:
    outlook = outlook_on(record)
    before = [share * weight for weight in outlook.now]
    reckoned = 0
    for test in KNOWLEDGE.tests.values():
        outcomes = outlook.outcomes(test, before, tuple(record.readings))
        if outcomes:
            reckoned += 1
            assert sum(outcome.chance for outcome in outcomes) == pytest.approx(sum(before))
            assert all(set(outcome.values) == set(pending(test, record)) for outcome in outcomes)
    assert reckoned >= len(KNOWLEDGE.tests) - 3


@pytest.mark.parametrize("record", RECORDS, ids=["nothing", "solid", "white solid", "liquid"])
def test_what_goes_in_sums_to_one_over_classes_and_is_the_resemblance_over_substances(record: Record) -> None:
    outlook = outlook_on(record)
    alike = resemblance(record, prior_of_table(REFERENCE, KNOWLEDGE), REFERENCE, KNOWLEDGE)
    assert sum(outlook.of_classes(outlook.now).values()) == pytest.approx(1)
    assert outlook.of_substances(outlook.now) == pytest.approx(dict(zip(REFERENCE.names, alike.substances, strict=True)))


def test_an_outcome_makes_the_substances_that_show_it_more_probable() -> None:
    """After a bright glow of the dry solid it is likelier a metal, and after none less likely."""
    outlook = outlook_on(record_of(state="solid"))
    outcomes = outlook.outcomes(KNOWLEDGE.tests["dry conductivity test"], outlook.now, ("state",))
    share = {
        outcome.values["dry conductivity"]: outlook.of_classes(outcome.weights)["metallic"] / outcome.chance
        for outcome in outcomes
    }
    assert share["no glow"] < outlook.of_classes(outlook.now)["metallic"] < share["bright glow"]


def test_a_measured_number_makes_the_substance_that_has_it_more_probable() -> None:
    """Sodium chloride is 2.17 g/cm3 by every handbook, sucrose 1.59; a set of the two is parted by it."""
    record = record_of(**BARE)
    result = identify(record, KNOWLEDGE, among=["sodium chloride", "sucrose"])
    prior = {row.name: 1.0 if row.name in ("sodium chloride", "sucrose") else 0.0 for row in REFERENCE.rows}
    outlook = outlook_on(record)
    before = [weight * prior[name] for name, weight in weighed_names(outlook)]
    outcomes = outlook.outcomes(KNOWLEDGE.tests["density"], before, tuple(record.readings))
    assert len(outcomes) == 2
    light = min(outcomes, key=lambda outcome: outcome.values["density"].low)  # type: ignore[union-attr]
    shares = outlook.of_substances(light.weights)
    assert shares["sucrose"] > shares["sodium chloride"]
    assert result.next_tests


def weighed_names(outlook: Outlook) -> list[tuple[str, float]]:
    """Every weight with the name of its substance: the row itself, then its like outside the table."""
    names = [name for name in outlook.of_substances(outlook.now) for _ in range(2)]
    return list(zip(names, outlook.now, strict=True))


chances = st.lists(st.floats(0, 1), min_size=1, max_size=8).filter(lambda found: sum(found) > 1e-6)


@given(chances)
def test_entropy_is_shannons_whatever_the_chances_sum_to(found: list[float]) -> None:
    assert entropy(found) == pytest.approx(scipy_entropy(found, base=2), abs=1e-9)


def test_entropy_of_nothing_is_nothing() -> None:
    assert entropy([]) == 0
    assert entropy([0.0, 0.0]) == 0
    assert entropy([0.25] * 4) == pytest.approx(2)


@given(st.data(), st.integers(2, 8))
def test_divergence_is_that_of_jensen_and_shannon(data: st.DataObject, size: int) -> None:
    column = st.lists(st.floats(0, 1), min_size=size, max_size=size).filter(lambda found: sum(found) > 1e-6)
    first, second = ([chance / sum(found) for chance in found] for found in (data.draw(column), data.draw(column)))
    distance = float(jensenshannon(first, second, base=2))
    expected = 0.0 if math.isnan(distance) else distance**2  # SciPy's root of what rounding left a hair below nothing
    assert divergence(dict(enumerate(first)), dict(enumerate(second))) == pytest.approx(expected, abs=1e-7)


def test_divergence_is_one_bit_for_what_never_reads_alike_and_none_for_what_always_does() -> None:
    assert divergence({0: 1.0}, {1: 1.0}) == pytest.approx(1)
    assert divergence({0: 0.3, 1: 0.7}, {0: 0.3, 1: 0.7}) == 0


def test_a_ranking_is_not_changed_by_looking_ahead() -> None:
    """Proposals are made from copies: the same record gives the same ranking with and without them."""

    def ranking(result: Identification) -> list[tuple[str, float]]:
        return [(item.class_, item.probability) for item in result.ranking]

    for result in sampled()[::10]:
        assert ranking(identify(result.record, KNOWLEDGE, advise=False)) == ranking(result)
