"""What an answer changes, and what falls when it is taken back: exactly what does not follow without it."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from spotplate.engine import Identification, Record, VerdictKind, identify, make_record
from spotplate.engine.bench.changes import Changes, changes
from spotplate.engine.reasoning import chain, rank
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
SALT = {
    "state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no",
    "in water": "dissolves", "solution conductivity": "bright glow", "solution acidity": "neutral",
    "on the hot plate": "no change", "flame colour": "lilac",
}  # fmt: skip


def judged(record: Record) -> Identification:
    return identify(record, KNOWLEDGE, advise=False)


def record_of(readings: dict[str, str]) -> Record:
    return make_record(readings, KNOWLEDGE)


def taken_back(readings: dict[str, str], reading: str) -> Changes:
    """Against a record in which the reading was never made, rather than one it was taken out of."""
    without = {name: value for name, value in readings.items() if name != reading}
    return changes(judged(record_of(readings)), judged(record_of(without)))


@st.composite
def records(draw: st.DrawFn) -> Record:
    kinds = [kind for kind in KNOWLEDGE.readings.values() if kind.values]
    chosen = draw(st.lists(st.sampled_from(kinds), unique=True, min_size=1, max_size=12))
    return Record({kind.id: draw(st.sampled_from(kind.words())) for kind in chosen})


def follows(record: Record) -> tuple[set[str], dict[str, set[str]], str]:
    """Facts, the rules that weigh each class, and the first class, straight from the rules."""
    chained = chain(record.readings, KNOWLEDGE)
    weighing: dict[str, set[str]] = {name: set() for name in KNOWLEDGE.classes}
    for firing in chained.firings:
        if firing.rule.weighs:
            for name in (*firing.rule.weighs.for_, *firing.rule.weighs.against):
                weighing[name].add(firing.rule.id)
    return set(chained.facts), weighing, rank(chained.firings, KNOWLEDGE)[0].class_


@settings(deadline=None, max_examples=60)
@given(records(), st.data())
def test_what_falls_with_a_reading_is_exactly_what_does_not_follow_without_it(record: Record, data: st.DataObject) -> None:
    reading = data.draw(st.sampled_from(sorted(record.readings)))
    never = Record({name: value for name, value in record.readings.items() if name != reading})
    told = changes(judged(record), judged(never))
    facts, weighing, first = follows(record)
    facts_never, weighing_never, first_never = follows(never)
    assert set(told.facts_gone) == {KNOWLEDGE.facts[name].says for name in facts - facts_never}
    assert set(told.facts_new) == {KNOWLEDGE.facts[name].says for name in facts_never - facts}
    assert (told.first_before, told.first_after) == (first, first_never)
    assert {reason.rule for reason in told.reasons_gone} == weighing[first] - weighing_never[first]
    assert {reason.rule for reason in told.reasons_new} == weighing_never[first_never] - weighing[first_never]
    assert all(reason.class_ == first for reason in told.reasons_gone)
    assert all(reason.class_ == first_never for reason in told.reasons_new)


@settings(deadline=None, max_examples=30)
@given(records(), st.data())
def test_an_answer_brings_what_taking_it_back_removes(record: Record, data: st.DataObject) -> None:
    reading = data.draw(st.sampled_from(sorted(record.readings)))
    with_it, without = judged(record), judged(record.without(reading))
    back, forth = changes(with_it, without), changes(without, with_it)
    assert back.facts_gone == forth.facts_new
    assert back.facts_new == forth.facts_gone
    assert back.reasons_gone == forth.reasons_new
    assert back.reasons_new == forth.reasons_gone
    assert (back.verdict_before, back.verdict_after) == (forth.verdict_after, forth.verdict_before)


@settings(deadline=None, max_examples=30)
@given(records(), st.data())
def test_every_class_is_told_with_its_probability_before_and_after_in_the_order_of_the_later_ranking(
    record: Record, data: st.DataObject
) -> None:
    reading = data.draw(st.sampled_from(sorted(record.readings)))
    before, after = judged(record), judged(record.without(reading))
    moved = changes(before, after).moved
    assert [item.class_ for item in moved] == [item.class_ for item in after.ranking]
    assert {item.class_: item.before for item in moved} == {item.class_: item.probability for item in before.ranking}
    assert {item.class_: item.after for item in moved} == {item.class_: item.probability for item in after.ranking}
    assert sum(item.before for item in moved) == pytest.approx(1)


@settings(deadline=None, max_examples=20)
@given(records())
def test_nothing_changes_between_a_record_and_itself(record: Record) -> None:
    told = changes(judged(record), judged(record))
    assert told.facts_gone == told.facts_new == ()
    assert told.reasons_gone == told.reasons_new == ()
    assert all(item.before == item.after for item in told.moved)


def test_what_rests_on_the_solution_falls_with_the_solution() -> None:
    """Ions that water sets free were seen by the glow of the solution alone, once litmus says nothing of them."""
    readings = {name: value for name, value in SALT.items() if name in ("dry conductivity", "in water", "solution conductivity")}
    told = taken_back(readings, "solution conductivity")
    assert any("ions" in says.casefold() for says in told.facts_gone)
    assert told.reasons_gone
    before, after = (next(getattr(item, side) for item in told.moved if item.class_ == "ionic") for side in ("before", "after"))
    assert before > after


def test_a_conclusion_that_hangs_on_a_reading_is_told_to_be_open_without_it() -> None:
    told = taken_back(SALT, "solution conductivity")
    assert told.verdict_before.kind is VerdictKind.CONCLUSIVE
    assert told.verdict_before.class_ == "ionic"
    told = taken_back(
        {name: SALT[name] for name in SALT if name not in ("flame colour", "on the hot plate")}, "solution conductivity"
    )
    assert told.verdict_after.kind is VerdictKind.INCONCLUSIVE


def test_a_fact_with_another_support_does_not_fall() -> None:
    """Iodine is smelt, and it sublimes on warming: either alone tells that its molecules escape as vapour."""
    iodine = {"state": "solid", "smell": "smell", "in the warm bath": "sublimes"}
    says = KNOWLEDGE.facts["molecules escape as vapour"].says
    assert says not in taken_back(iodine, "smell").facts_gone
    assert says not in taken_back(iodine, "in the warm bath").facts_gone
    assert says in taken_back({"state": "solid", "smell": "smell"}, "smell").facts_gone


def test_taking_back_an_unclear_reading_changes_nothing() -> None:
    with_it = judged(record_of({**SALT, "smell": "unclear"}))
    told = changes(with_it, judged(record_of(SALT)))
    assert told.facts_gone == told.facts_new == ()
    assert told.reasons_gone == told.reasons_new == ()
    assert told.verdict_before == told.verdict_after
