"""What must hold of reasoning whatever the record, checked with hypothesis."""

from __future__ import annotations

import functools
import random
from collections.abc import Sequence
from typing import Any

import msgspec
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.engine import FaultyInputError, Identification, identify, make_record
from spotplate.engine.reasoning import chain, contrast, rank
from spotplate.engine.reasoning.chaining import Firing
from spotplate.engine.record import Record
from spotplate.kb import Interval, KnowledgeBase, Rule, load_knowledge, to_si, with_rules

KNOWLEDGE = load_knowledge()
whatever_the_record = settings(deadline=None, max_examples=60)


@st.composite
def values(draw: st.DrawFn, name: str) -> str | Interval:
    """A word of the reading's list, or a number, a range or an open range within what the reading accepts."""
    kind = KNOWLEDGE.readings[name]
    if kind.number is None:
        return draw(st.sampled_from(kind.words()))
    unit = kind.number.unit
    low, high = sorted(to_si(draw(st.floats(kind.number.least, min(kind.number.most, 2000.0))), unit) for _ in range(2))
    shape = draw(st.sampled_from(["number", "range", "more than", "less than"]))
    return {
        "number": Interval(low, low, unit),
        "range": Interval(low, high, unit),
        "more than": Interval(low, float("inf"), unit),
        "less than": Interval(float("-inf"), high, unit),
    }[shape]


@st.composite
def records(draw: st.DrawFn, least: int = 0) -> Record:
    names = draw(st.lists(st.sampled_from(sorted(KNOWLEDGE.readings)), unique=True, min_size=least, max_size=14))
    return Record({name: draw(values(name)) for name in names})


def shuffled_rules(shuffler: random.Random) -> KnowledgeBase:
    """The shipped knowledge with its rules in another order, and nothing worked out from the old order."""
    rules = list(KNOWLEDGE.rules)
    shuffler.shuffle(rules)
    changed = msgspec.structs.replace(KNOWLEDGE, rules=tuple(rules))
    changed.__dict__.clear()
    return changed


def outcome(record: Record, knowledge: KnowledgeBase = KNOWLEDGE) -> dict[str, Any]:
    """Ranking, verdict and firings, in a form in which two results can be compared exactly."""
    result = identify(record, knowledge, advise=False)
    return {
        "ranking": [(item.class_, item.probability, item.decibans) for item in result.ranking],
        "verdict": (result.verdict.kind, result.verdict.class_, result.verdict.open_between),
        "facts": {fact.fact: set(fact.rules) for fact in result.facts},
        "firings": firings(record, knowledge),
        "rests on": set(result.rests_on),
        "lead": result.contrast.lead,
    }


def firings(record: Record, knowledge: KnowledgeBase) -> set[tuple[str, frozenset[str], frozenset[str]]]:
    fired = chain(record.readings, knowledge).firings
    return {(firing.rule.id, frozenset(firing.readings), frozenset(firing.facts)) for firing in fired}


# --- order, and what is not there ------------------------------------------------------------------


@whatever_the_record
@given(records(), st.randoms(use_true_random=False))
def test_order_of_readings_never_matters(record: Record, shuffler: random.Random) -> None:
    names = list(record.readings)
    shuffler.shuffle(names)
    assert outcome(Record({name: record.readings[name] for name in names})) == outcome(record)


@whatever_the_record
@given(records(), st.randoms(use_true_random=False))
def test_order_of_rules_never_matters(record: Record, shuffler: random.Random) -> None:
    assert outcome(record, shuffled_rules(shuffler)) == outcome(record)


@whatever_the_record
@given(records(least=1), st.data())
def test_removing_a_reading_equals_never_having_made_it(record: Record, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(record.readings)))
    never = Record({other: value for other, value in record.readings.items() if other != name})
    assert outcome(record.without(name)) == outcome(never)


@whatever_the_record
@given(records(), st.data())
def test_making_a_reading_and_taking_it_back_changes_nothing(record: Record, data: st.DataObject) -> None:
    name = data.draw(st.sampled_from(sorted(set(KNOWLEDGE.readings) - set(record.readings))))
    more = Record(record.readings | {name: data.draw(values(name))})
    identify(more, advise=False)
    assert outcome(more.without(name)) == outcome(record)


@whatever_the_record
@given(records(), st.sampled_from(sorted(KNOWLEDGE.readings)), st.sampled_from(["unclear", "?", "", "not tested"]))
def test_unclear_and_absent_change_nothing(record: Record, name: str, word: str) -> None:
    kept = record.without(name)
    unclear = make_record({name: word}).unclear
    assert unclear == ((name,) if word in ("unclear", "?") else ())
    assert outcome(Record(kept.readings, unclear=unclear)) == outcome(kept)


@whatever_the_record
@given(records())
def test_reasoning_twice_gives_the_same(record: Record) -> None:
    assert outcome(record) == outcome(record)


# --- weights and probabilities ---------------------------------------------------------------------


@whatever_the_record
@given(records(), st.none() | st.lists(st.floats(0.001, 1.0), min_size=5, max_size=5))
def test_probabilities_sum_to_one_and_run_downwards(record: Record, prior: list[float] | None) -> None:
    given_prior = None if prior is None else dict(zip(KNOWLEDGE.classes, prior, strict=True))
    found = [item.probability for item in identify(record, prior=given_prior, advise=False).ranking]
    assert sum(found) == pytest.approx(1)
    assert found == sorted(found, reverse=True)
    assert {item.class_ for item in identify(record, advise=False).ranking} == set(KNOWLEDGE.classes)


@whatever_the_record
@given(records())
def test_odds_are_ten_to_the_decibans_over_ten(record: Record) -> None:
    """Good (1950): a weight of evidence in decibans is ten times the base-10 logarithm of the factor on the odds."""
    ranking = identify(record, advise=False).ranking
    first = ranking[0]
    for item in ranking[1:]:
        odds = 10 ** (KNOWLEDGE.calibration.constant * (first.decibans - item.decibans) / 10)
        assert first.probability == pytest.approx(odds * item.probability)


@whatever_the_record
@given(records())
def test_within_a_cause_only_the_strongest_for_and_against_count(record: Record) -> None:
    for item in rank(chain(record.readings, KNOWLEDGE).firings, KNOWLEDGE):
        for cause in {weight.cause for weight in item.weights}:
            for sign in (1, -1):
                side = [w for w in item.weights if w.cause == cause and w.decibans * sign > 0]
                counted = [w for w in side if w.counted]
                assert len(counted) == bool(side)
                if side:
                    assert abs(counted[0].decibans) == max(abs(w.decibans) for w in side)
        assert item.decibans == pytest.approx(sum(w.decibans for w in item.weights if w.counted))


def of_cause(fired: Sequence[Firing], cause: str) -> list[Firing]:
    return [firing for firing in fired if firing.rule.weighs and firing.rule.weighs.cause == cause]


@whatever_the_record
@given(records(), st.sampled_from(sorted(KNOWLEDGE.causes)), st.data())
def test_more_signs_of_one_cause_never_exceed_its_strongest(record: Record, cause: str, data: st.DataObject) -> None:
    fired = of_cause(chain(record.readings, KNOWLEDGE).firings, cause)
    some = [firing for firing in fired if data.draw(st.booleans())]
    words = KNOWLEDGE.verdict.words
    for item in rank([*some, *fired, *some], KNOWLEDGE):
        pro = [words[f.rule.weighs.for_[item.class_]] for f in fired if f.rule.weighs and item.class_ in f.rule.weighs.for_]
        con = [words[f.rule.weighs.against[item.class_]] for f in fired if f.rule.weighs and item.class_ in f.rule.weighs.against]
        assert item.decibans == max(pro, default=0) - max(con, default=0)


@whatever_the_record
@given(records())
def test_weights_of_different_causes_add(record: Record) -> None:
    fired = chain(record.readings, KNOWLEDGE).firings
    apart = [{item.class_: item.decibans for item in rank(of_cause(fired, cause), KNOWLEDGE)} for cause in KNOWLEDGE.causes]
    for item in rank(fired, KNOWLEDGE):
        assert item.decibans == pytest.approx(sum(sums[item.class_] for sums in apart))


# --- facts and reasons -----------------------------------------------------------------------------


@whatever_the_record
@given(records())
def test_every_fact_keeps_firings_and_every_firing_its_grounds(record: Record) -> None:
    chained = chain(record.readings, KNOWLEDGE)
    for fact, by in chained.facts.items():
        assert by
        assert all(fact in firing.rule.adds for firing in by)
        assert len({firing.rule.id for firing in by}) == len(by)
    for firing in chained.firings:
        assert set(firing.readings) <= set(record.readings)
        assert set(firing.facts) <= set(chained.facts)
        assert firing.readings or firing.facts
        assert all(firing in chained.facts[fact] for fact in firing.rule.adds)


def reasons_are_grounded(result: Identification) -> None:
    made = set(result.record.readings)
    facts = {fact.fact for fact in result.facts}
    for reason in (reason for reasons in result.reasons.values() for reason in reasons):
        assert reason.readings
        assert set(reason.readings) <= made
        assert set(reason.facts) <= facts
        shown: set[str] = set()
        for step in reason.steps:
            assert set(step.readings) <= made
            assert set(step.facts) <= shown, "a step rests on a fact that no earlier step has shown"
            shown |= set(step.adds)
        assert set(reason.facts) <= shown


@whatever_the_record
@given(records())
def test_every_reason_leads_back_to_readings_of_the_record_step_by_step(record: Record) -> None:
    reasons_are_grounded(identify(record, advise=False))


@whatever_the_record
@given(records())
def test_reasons_of_a_class_add_up_to_its_weight(record: Record) -> None:
    result = identify(record, advise=False)
    for item in result.ranking:
        counted = [reason.decibans for reason in result.reasons[item.class_] if reason.counted]
        assert sum(counted) == pytest.approx(item.decibans)


@whatever_the_record
@given(records())
def test_contrast_adds_up_to_the_lead(record: Record) -> None:
    ranking = rank(chain(record.readings, KNOWLEDGE).firings, KNOWLEDGE)
    found = contrast(ranking)
    assert sum(part.decibans for part in (*found.parted_by, *found.other_way)) == pytest.approx(found.lead)
    assert found.lead == pytest.approx(ranking[0].decibans - ranking[1].decibans)
    assert all(part.decibans > 0 for part in found.parted_by)
    assert all(part.decibans < 0 for part in found.other_way)


# --- writing the rule base out and reading it back -------------------------------------------------


def written(rules: Sequence[Rule]) -> str:
    """Rules as YAML, with the keys that people write."""
    return yaml.safe_dump([without_blanks(msgspec.to_builtins(rule)) for rule in rules], allow_unicode=True)


def without_blanks(value: object) -> object:
    """A rule as people write it: no empty keys and no place."""
    if isinstance(value, dict):
        return {key: without_blanks(item) for key, item in value.items() if key != "place" and item not in (None, [], (), "", {})}
    if isinstance(value, list | tuple):
        return [without_blanks(item) for item in value]
    return value


def test_rule_base_written_out_and_read_back_is_the_same() -> None:
    again = read_back()
    assert again.rules == KNOWLEDGE.rules
    assert (again.facts, again.causes, again.sources) == (KNOWLEDGE.facts, KNOWLEDGE.causes, KNOWLEDGE.sources)
    assert all(rule.place and rule.place.file == "again.yaml" for rule in again.rules)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("metallic: strong", "metallic: hint"),
        ("- bright glow", "- faint glow"),
        ("key: common practice", "key: judgement"),
        ("because: ", "because: Say what you will, "),
    ],
)
def test_a_rule_base_changed_on_the_way_is_not_the_same(old: str, new: str) -> None:
    """The comparison above can fail: one word changed anywhere is seen."""
    text = written(KNOWLEDGE.rules)
    assert old in text
    again = with_rules(KNOWLEDGE, text.replace(old, new, 1), "again.yaml", replace=True)
    assert again.rules != KNOWLEDGE.rules


@functools.cache
def read_back() -> KnowledgeBase:
    return with_rules(KNOWLEDGE, written(KNOWLEDGE.rules), "again.yaml", replace=True)


@whatever_the_record
@given(records())
def test_rule_base_read_back_reasons_alike(record: Record) -> None:
    assert outcome(record, read_back()) == outcome(record)


def test_adding_the_shipped_rules_to_themselves_is_refused() -> None:
    with pytest.raises(FaultyInputError) as caught:
        with_rules(KNOWLEDGE, written(KNOWLEDGE.rules), "again.yaml", replace=False)
    assert len(caught.value.faults) == len(KNOWLEDGE.rules)


# --- order must not decide which of two equal things is named ---------------------------------------


def counted(record: Record, knowledge: KnowledgeBase) -> set[tuple[str, str]]:
    found = identify(record, knowledge, advise=False).reasons
    return {(name, reason.rule) for name, reasons in found.items() for reason in reasons if reason.counted}


def test_order_of_rules_never_matters_to_which_sign_is_counted() -> None:
    backwards = msgspec.structs.replace(KNOWLEDGE, rules=KNOWLEDGE.rules[::-1])
    backwards.__dict__.clear()
    record = make_record({"in water": "dissolves", "in non-polar solvent": "dissolves"})
    assert counted(record, backwards) == counted(record, KNOWLEDGE)


def test_order_of_readings_never_matters_to_the_words_of_the_verdict() -> None:
    text = (
        "- {id: both, because: Since., when: {all: [{reading: lustre, is: metallic}, {reading: dry conductivity, is: bright glow}]}, "
        "weighs: {cause: charge carriers, for: {metallic: decisive}}, source: {key: judgement}}\n"
    )
    knowledge = with_rules(KNOWLEDGE, text, "teacher.yaml", replace=True)
    one = Record({"lustre": "metallic", "dry conductivity": "bright glow"})
    other = Record({"dry conductivity": "bright glow", "lustre": "metallic"})
    assert identify(one, knowledge).verdict == identify(other, knowledge).verdict
