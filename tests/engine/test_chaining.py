"""Forward chaining: fixpoint, justifications, negation, layers, numeric ranges."""

from __future__ import annotations

import pytest

from spotplate.engine import FaultyInputError, identify, make_record
from spotplate.engine.reasoning import chain
from spotplate.kb import KnowledgeBase, load_knowledge, with_rules

HEAD = """
facts:
  - {id: a, says: "A."}
  - {id: b, says: "B."}
  - {id: c, says: "C."}
rules:
"""


def teacher(rules: str) -> KnowledgeBase:
    return with_rules(load_knowledge(), HEAD + rules, "teacher.yaml", replace=True)


def rule(name: str, when: str, adds: str) -> str:
    return f'  - {{id: {name}, because: "Since.", when: {when}, adds: [{adds}], source: {{key: common practice}}}}\n'


def facts(knowledge: KnowledgeBase, **written: str) -> set[str]:
    readings = make_record({name.replace("_", " "): value for name, value in written.items()}, knowledge).readings
    return set(chain(readings, knowledge).facts)


def test_facts_chain_to_a_fixpoint_whatever_the_order_of_rules() -> None:
    backwards = rule("two", "{all: [{fact: b}]}", "c") + rule("one", "{all: [{fact: a}]}", "b")
    knowledge = teacher(backwards + rule("zero", "{all: [{reading: state, is: [solid]}]}", "a"))
    assert facts(knowledge, state="solid") == {"a", "b", "c"}
    assert facts(knowledge, state="liquid") == set()


def test_a_fact_keeps_every_firing_that_supports_it() -> None:
    text = rule("one", "{all: [{reading: state, is: [solid]}]}", "a") + rule("two", "{all: [{reading: lustre, is: [dull]}]}", "a")
    knowledge = teacher(text)
    readings = make_record({"state": "solid", "lustre": "dull"}, knowledge).readings
    assert [firing.rule.id for firing in chain(readings, knowledge).facts["a"]] == ["one", "two"]
    del readings["state"]
    assert [firing.rule.id for firing in chain(readings, knowledge).facts["a"]] == ["two"]


def test_none_holds_for_a_reading_only_if_it_was_made() -> None:
    knowledge = teacher(rule("one", "{all: [{reading: state, is: [solid]}], none: [{reading: lustre, is: [metallic]}]}", "a"))
    assert facts(knowledge, state="solid", lustre="dull") == {"a"}
    assert facts(knowledge, state="solid", lustre="metallic") == set()
    assert facts(knowledge, state="solid") == set()


def test_none_over_a_fact_waits_for_every_rule_that_could_add_it() -> None:
    text = rule("late", "{all: [{reading: state, is: [solid]}], none: [{fact: a}]}", "b")
    knowledge = teacher(text + rule("early", "{all: [{reading: lustre, is: [metallic]}]}", "a"))
    assert facts(knowledge, state="solid") == {"b"}
    assert facts(knowledge, state="solid", lustre="metallic") == {"a"}


def test_loop_through_negation_is_refused_naming_its_rules() -> None:
    text = rule("hen", "{none: [{fact: b}], all: [{reading: state, is: [solid]}]}", "a") + rule("egg", "{all: [{fact: a}]}", "b")
    knowledge = teacher(text + rule("bystander", "{all: [{fact: b}]}", "c"))
    with pytest.raises(FaultyInputError, match="'hen', 'egg'") as caught:
        chain({}, knowledge)
    assert "bystander" not in str(caught.value)


@pytest.mark.parametrize(
    ("bound", "written", "fires"),
    [
        ("above: 100 °C", "101 °C", True),
        ("above: 100 °C", "100 °C", False),
        ("at_least: 100 °C", "100 °C", True),
        ("below: 100 °C", "98-99 °C", True),
        ("below: 100 °C", "99-101 °C", False),  # straddles: neither below nor above
        ("above: 100 °C", "99-101 °C", False),
        ("at_most: 100 °C", "95-100 °C", True),
        ("above: 250 °C", "> 300 °C", True),
        ("above: 350 °C", "> 300 °C", False),
        ("above: 300 °C", "> 300 °C", True),
        ("below: 100 °C", "< 50 °C", True),
        ("below: 100 °C", "350 K", True),  # 76.85 °C
        ("above: 100 °C", "230 °F", True),  # 110 °C
    ],
)
def test_numeric_bounds_hold_only_when_the_whole_range_meets_them(bound: str, written: str, fires: bool) -> None:
    knowledge = teacher(rule("one", f"{{all: [{{reading: melting range, {bound}}}]}}", "a"))
    assert (facts(knowledge, melting_range=written) == {"a"}) is fires


@pytest.mark.parametrize(("written", "fires"), [("50 °C", True), ("150 °C", False), ("90-110 °C", False)])
def test_none_over_a_number_needs_the_whole_range_outside(written: str, fires: bool) -> None:
    text = rule("one", "{all: [{reading: state, is: [solid]}], none: [{reading: melting range, above: 100 °C}]}", "a")
    assert (facts(teacher(text), state="solid", melting_range=written) == {"a"}) is fires


def test_taking_a_reading_back_leaves_exactly_what_the_rest_supports() -> None:
    """Common practice: without the litmus test, a bright solution no longer shows ions that were there before."""
    record = make_record({"in water": "yes", "solution conductivity": "yes", "litmus": "neutral"})
    with_litmus = {fact.fact for fact in identify(record).facts}
    without = {fact.fact for fact in identify(record.without("solution acidity")).facts}
    assert "ions set free by water" in with_litmus - without
    assert "many ions in the solution" in without
