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


# --- more on the fixpoint --------------------------------------------------------------------------


def solid(name: str, adds: str) -> str:
    return rule(name, "{all: [{reading: state, is: [solid]}]}", adds)


def test_any_needs_one_of_its_conditions_and_all_needs_every_one() -> None:
    either = "{any: [{reading: state, is: [solid]}, {reading: lustre, is: [dull]}]}"
    knowledge = teacher(rule("one", either, "a"))
    assert facts(knowledge, state="solid") == {"a"}
    assert facts(knowledge, lustre="dull") == {"a"}
    assert facts(knowledge, state="gas", lustre="glassy") == set()
    knowledge = teacher(rule("one", either.replace("any", "all"), "a"))
    assert facts(knowledge, state="solid") == set()
    assert facts(knowledge, state="solid", lustre="dull") == {"a"}


def test_all_any_and_none_must_each_hold() -> None:
    when = (
        "{all: [{reading: state, is: [solid]}], any: [{reading: lustre, is: [dull]}, {reading: smell, is: [smell]}], "
        "none: [{reading: colour, is: [black]}]}"
    )
    knowledge = teacher(rule("one", when, "a"))
    assert facts(knowledge, state="solid", lustre="dull", colour="coloured") == {"a"}
    assert facts(knowledge, state="gas", lustre="dull", colour="coloured") == set()
    assert facts(knowledge, state="solid", lustre="glassy", colour="coloured") == set()
    assert facts(knowledge, state="solid", lustre="dull", colour="black") == set()


def test_facts_that_support_one_another_do_not_support_themselves() -> None:
    """A ring of rules adds nothing until a reading enters it, and then ends."""
    ring = rule("one", "{all: [{fact: a}]}", "b") + rule("two", "{all: [{fact: b}]}", "a")
    assert facts(teacher(ring), state="solid") == set()
    knowledge = teacher(ring + solid("way-in", "a"))
    assert facts(knowledge, state="solid") == {"a", "b"}
    assert [firing.rule.id for firing in chain({"state": "solid"}, knowledge).facts["a"]] == ["two", "way-in"]


def test_a_rule_lists_every_condition_of_any_that_was_met() -> None:
    """Also one that is met by a fact derived only later in the same layer."""
    when = "{any: [{fact: a}, {fact: b}, {reading: lustre, is: [dull]}]}"
    knowledge = teacher(rule("last", when, "c") + rule("middle", "{all: [{fact: a}]}", "b") + solid("first", "a"))
    (firing,) = chain({"state": "solid", "lustre": "dull"}, knowledge).facts["c"]
    assert firing.facts == ("a", "b")
    assert firing.readings == ("lustre",)


def test_taking_one_of_two_supports_away_keeps_all_that_follows() -> None:
    text = (
        solid("one", "a") + rule("two", "{all: [{reading: lustre, is: [dull]}]}", "a") + rule("next", "{all: [{fact: a}]}", "b")
    )
    knowledge = teacher(text)
    assert facts(knowledge, state="solid", lustre="dull") == {"a", "b"}
    assert facts(knowledge, lustre="dull") == {"a", "b"}
    assert facts(knowledge, lustre="glassy") == set()


# --- more on layers --------------------------------------------------------------------------------


def test_layers_stand_upon_layers() -> None:
    """c waits for b, which waits for a: when a holds, b does not, so c does."""
    text = rule("third", "{all: [{reading: state, is: [solid]}], none: [{fact: b}]}", "c")
    text += rule("second", "{all: [{reading: state, is: [solid]}], none: [{fact: a}]}", "b")
    knowledge = teacher(text + rule("first", "{all: [{reading: lustre, is: [dull]}]}", "a"))
    assert facts(knowledge, state="solid", lustre="dull") == {"a", "c"}
    assert facts(knowledge, state="solid") == {"b"}


def test_a_fact_denied_by_way_of_another_waits_too() -> None:
    """b rests on a by plain support; whoever asks that b be absent must wait for a."""
    text = rule("late", "{all: [{reading: state, is: [solid]}], none: [{fact: b}]}", "c") + rule(
        "middle", "{all: [{fact: a}]}", "b"
    )
    knowledge = teacher(text + rule("early", "{all: [{reading: lustre, is: [dull]}]}", "a"))
    assert facts(knowledge, state="solid", lustre="dull") == {"a", "b"}
    assert facts(knowledge, state="solid", lustre="glassy") == {"c"}


@pytest.mark.parametrize(
    ("rules", "named", "spared"),
    [
        # a rule that denies what it adds
        (rule("snake", "{all: [{reading: state, is: [solid]}], none: [{fact: a}]}", "a"), ["snake"], []),
        # two that deny one another
        (
            rule("hen", "{all: [{reading: state, is: [solid]}], none: [{fact: b}]}", "a")
            + rule("egg", "{all: [{reading: state, is: [solid]}], none: [{fact: a}]}", "b"),
            ["hen", "egg"],
            [],
        ),
        # three, one denial among them; a rule beside the loop is not named
        (
            rule("one", "{all: [{reading: state, is: [solid]}], none: [{fact: c}]}", "a")
            + rule("two", "{all: [{fact: a}]}", "b")
            + rule("three", "{all: [{fact: b}]}", "c")
            + rule("beside", "{all: [{reading: state, is: [gas]}]}", "c"),
            ["one", "two", "three"],
            ["beside"],
        ),
    ],
)
def test_every_loop_through_negation_is_refused(rules: str, named: list[str], spared: list[str]) -> None:
    with pytest.raises(FaultyInputError) as caught:
        chain({}, teacher(rules))
    assert all(repr(name) in str(caught.value) for name in named)
    assert not any(repr(name) in str(caught.value) for name in spared)


# --- more on numbers -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("bounds", "written", "fires"),
    [
        # both ends
        ("at_least: 100 °C, at_most: 110 °C", "100-110 °C", True),
        ("above: 100 °C, below: 110 °C", "100-110 °C", False),
        ("above: 99 °C, below: 111 °C", "100-110 °C", True),
        ("at_least: 100 °C, at_most: 110 °C", "99-110 °C", False),
        ("at_least: 100 °C, at_most: 110 °C", "> 100 °C", False),
        # open ends: more than 300 °C may be anything above it
        ("at_least: 300 °C", "> 300 °C", True),
        ("at_least: 301 °C", "> 300 °C", False),
        ("at_most: 300 °C", "> 300 °C", False),
        ("below: 1000 °C", "> 300 °C", False),
        ("at_most: 50 °C", "< 50 °C", True),
        ("below: 50 °C", "< 50 °C", True),
        ("below: 49 °C", "< 50 °C", False),
        ("above: -200 °C", "< 50 °C", False),
        # units, on either side
        ("at_least: 373.15 K", "100 °C", True),
        ("at_least: 212 °F", "100 °C", True),
        ("at_least: 212.5 °F", "100 °C", False),
        # below zero
        ("below: -10 °C", "-20 to -18 °C", True),
        ("below: -19 °C", "-20 to -18 °C", False),
        ("above: -21 °C", "−20 °C", True),
    ],
)  # fmt: skip
def test_bounds_and_open_ends(bounds: str, written: str, fires: bool) -> None:
    knowledge = teacher(rule("one", f"{{all: [{{reading: melting range, {bounds}}}]}}", "a"))
    assert (facts(knowledge, melting_range=written) == {"a"}) is fires


@pytest.mark.parametrize(
    ("bounds", "written", "fires"),
    [
        ("above: 100 °C", "100 °C", True),
        ("at_least: 100 °C", "100 °C", False),
        ("at_least: 100 °C", "99.9 °C", True),
        ("below: 100 °C", "100 °C", True),
        ("at_most: 100 °C", "100 °C", False),
        ("below: 100 °C", "> 300 °C", True),
        ("above: 400 °C", "> 300 °C", False),  # it may be above 400 °C or not
        ("above: 100 °C, below: 200 °C", "50 °C", True),
        ("above: 100 °C, below: 200 °C", "250 °C", True),
        ("above: 100 °C, below: 200 °C", "150 °C", False),
        ("above: 100 °C, below: 200 °C", "190-210 °C", False),
    ],
)
def test_none_over_bounds_holds_only_for_what_is_surely_outside(bounds: str, written: str, fires: bool) -> None:
    knowledge = teacher(
        rule("one", f"{{all: [{{reading: state, is: [solid]}}], none: [{{reading: melting range, {bounds}}}]}}", "a")
    )
    assert (facts(knowledge, state="solid", melting_range=written) == {"a"}) is fires


def test_none_over_a_number_that_was_not_measured_does_not_hold() -> None:
    text = rule("one", "{all: [{reading: state, is: [solid]}], none: [{reading: melting range, above: 100 °C}]}", "a")
    assert facts(teacher(text), state="solid") == set()
    assert facts(teacher(text), state="solid", melting_range="unclear") == set()


# --- known faults ----------------------------------------------------------------------------------


def test_at_least_three_hundred_is_not_surely_above_three_hundred() -> None:
    assert facts(teacher(rule("one", "{all: [{reading: melting range, above: 300 °C}]}", "a")), melting_range="≥ 300 °C") == set()


def test_none_takes_the_narrower_of_two_lower_bounds() -> None:
    text = "{all: [{reading: state, is: [solid]}], none: [{reading: melting range, above: 100 °C, at_least: 200 °C}]}"
    assert facts(teacher(rule("one", text, "a")), state="solid", melting_range="150 °C") == {"a"}


def test_more_than_three_hundred_is_surely_not_at_most_three_hundred() -> None:
    text = "{all: [{reading: state, is: [solid]}], none: [{reading: melting range, at_most: 300 °C}]}"
    assert facts(teacher(rule("one", text, "a")), state="solid", melting_range="> 300 °C") == {"a"}


def test_a_fact_named_twice_is_supported_once() -> None:
    assert len(chain({"state": "solid"}, teacher(solid("one", "a, a"))).facts["a"]) == 1


def test_a_long_chain_of_rules_can_be_explained() -> None:
    length = 1200
    defined = ", ".join(f'{{id: f{number}, says: "F."}}' for number in range(length + 1))
    text = f"facts: [{defined}]\nrules:\n" + solid("start", "f0")
    text += "".join(rule(f"r{number}", f"{{all: [{{fact: f{number}}}]}}", f"f{number + 1}") for number in range(length))
    text += (
        f'  - {{id: end, because: "Since.", when: {{all: [{{fact: f{length}}}]}}, source: {{key: judgement}}, '
        "weighs: {cause: charge carriers, for: {metallic: strong}}}\n"
    )
    knowledge = with_rules(load_knowledge(), text, "teacher.yaml", replace=True)
    (reason,) = identify(make_record({"state": "solid"}), knowledge, advise=False).reasons["metallic"]
    assert reason.readings == ("state",)
