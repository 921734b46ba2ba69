"""What must hold of reasoning whatever the record, checked with hypothesis."""

from __future__ import annotations

import random

import msgspec
import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.engine import identify, make_record
from spotplate.engine.reasoning import chain, rank
from spotplate.engine.record import Record
from spotplate.kb import Interval, KnowledgeBase, load_knowledge, with_rules

KNOWLEDGE = load_knowledge()
settings.register_profile("spotplate", deadline=None, max_examples=60)
settings.load_profile("spotplate")


def values(name: str) -> st.SearchStrategy[str | Interval]:
    kind = KNOWLEDGE.readings[name]
    if kind.number is None:
        return st.sampled_from(kind.words())
    span = (100.0, 4000.0) if kind.number.unit == "°C" else (100.0, 20000.0)
    unit = kind.number.unit
    return st.tuples(st.floats(*span), st.floats(0, 50)).map(lambda ends: Interval(ends[0], ends[0] + ends[1], unit))


@st.composite
def records(draw: st.DrawFn) -> Record:
    names = draw(st.lists(st.sampled_from(sorted(KNOWLEDGE.readings)), unique=True, max_size=14))
    return Record({name: draw(values(name)) for name in names})


def outcome(record: Record, knowledge: KnowledgeBase = KNOWLEDGE) -> object:
    result = identify(record, knowledge, advise=False)
    ranking = {item.class_: (round(item.probability, 12), round(item.decibans, 9)) for item in result.ranking}
    return ranking, result.verdict.kind, result.verdict.class_, {fact.fact: set(fact.rules) for fact in result.facts}


@given(records(), st.randoms(use_true_random=False))
def test_order_of_readings_never_matters(record: Record, shuffler: random.Random) -> None:
    names = list(record.readings)
    shuffler.shuffle(names)
    assert outcome(Record({name: record.readings[name] for name in names})) == outcome(record)


@given(records(), st.randoms(use_true_random=False))
def test_order_of_rules_never_matters(record: Record, shuffler: random.Random) -> None:
    rules = list(KNOWLEDGE.rules)
    shuffler.shuffle(rules)
    shuffled = msgspec.structs.replace(KNOWLEDGE, rules=tuple(rules))
    shuffled.__dict__.clear()
    assert outcome(record, shuffled) == outcome(record)


@given(records(), st.data())
def test_removing_a_reading_equals_never_having_made_it(record: Record, data: st.DataObject) -> None:
    if not record.readings:
        return
    name = data.draw(st.sampled_from(sorted(record.readings)))
    never = Record({other: value for other, value in record.readings.items() if other != name})
    assert outcome(record.without(name)) == outcome(never)


@given(records(), st.sampled_from(sorted(KNOWLEDGE.readings)), st.sampled_from(["unclear", "?", "", "not tested"]))
def test_unclear_and_absent_change_nothing(record: Record, name: str, word: str) -> None:
    written = {other: str(value) for other, value in record.readings.items() if other != name}
    assert outcome(make_record(written | {name: word})) == outcome(make_record(written))


@given(records())
def test_probabilities_sum_to_one(record: Record) -> None:
    assert sum(item.probability for item in identify(record, advise=False).ranking) == pytest.approx(1)


@given(records())
def test_every_fact_keeps_firings_and_every_firing_its_grounds(record: Record) -> None:
    chained = chain(record.readings, KNOWLEDGE)
    for fact, firings in chained.facts.items():
        assert firings
        assert all(fact in firing.rule.adds for firing in firings)
    for firing in chained.firings:
        assert set(firing.readings) <= set(record.readings)
        assert set(firing.facts) <= set(chained.facts)
        assert firing.readings or firing.facts


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


def test_rule_base_written_out_and_read_back_is_the_same() -> None:
    text = yaml.safe_dump([without_blanks(msgspec.to_builtins(rule)) for rule in KNOWLEDGE.rules], allow_unicode=True)
    again = with_rules(KNOWLEDGE, text, "again.yaml", replace=True)
    assert again.rules == KNOWLEDGE.rules


def without_blanks(value: object) -> object:
    """A rule as people write it: no empty keys and no place."""
    if isinstance(value, dict):
        return {key: without_blanks(item) for key, item in value.items() if key != "place" and item not in (None, [], (), "", {})}
    if isinstance(value, list | tuple):
        return [without_blanks(item) for item in value]
    return value
