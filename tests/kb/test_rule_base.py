"""The shipped knowledge base: complete, sourced, consistent, and its snapshot up to date."""

from __future__ import annotations

import itertools
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
import yaml

from spotplate import kb
from spotplate.datasets import Substance
from spotplate.engine import check_rules, make_record
from spotplate.kb import load_knowledge
from spotplate.kb.loading import SNAPSHOT, make_snapshot
from spotplate.kb.quiz import load_quiz

KNOWLEDGE = load_knowledge()
FOLDER = Path(kb.__file__).parent
TEXTS = {path.name: path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.yaml")}


def test_the_rule_base_is_sound() -> None:
    """Every example fires or is silent as it says; nothing is unused, underivable or unable to fire."""
    assert check_rules(KNOWLEDGE) == ()


def test_snapshot_is_what_the_yaml_says() -> None:
    remedy = "run engine/scripts/make_data.py snapshot"
    assert (FOLDER / SNAPSHOT).read_bytes() == make_snapshot(), remedy


def test_there_is_enough_of_everything() -> None:
    assert len(KNOWLEDGE.classes) == 5
    assert len(KNOWLEDGE.tests) >= 14
    assert len(KNOWLEDGE.rules) >= 60
    assert len({fact for rule in KNOWLEDGE.rules for fact in rule.adds}) >= 15


@pytest.mark.parametrize("rule", KNOWLEDGE.rules, ids=lambda rule: rule.id)
def test_rule_has_reason_source_and_examples(rule: kb.Rule) -> None:
    assert rule.because.endswith(".")
    assert len(rule.because.split()) >= 5
    assert rule.source.key in KNOWLEDGE.sources
    assert rule.fires_on
    assert rule.silent_on
    assert all(exception.because.endswith(".") for exception in rule.exceptions)


@pytest.mark.parametrize("test", KNOWLEDGE.tests.values(), ids=lambda test: test.id)
def test_bench_test_tells_how_and_how_safely(test: kb.BenchTest) -> None:
    assert test.procedure.endswith(".")
    assert test.apparatus
    assert test.minutes > 0
    assert "eyes" in test.cautions
    for kind in test.readings:
        assert kind.asks.endswith("?")
        assert 0 < kind.misread.rate < 0.5
        assert all(value.looks.endswith(".") for value in kind.values)


def test_heating_acid_and_solvents_carry_their_cautions() -> None:
    """Common practice: these are the tests that can hurt."""
    for name, caution in (
        ("hot plate test", "heating"),
        ("burner test", "heating"),
        ("dilute acid test", "acid"),
        ("dilute acid test", "poisonous gases"),
        ("non-polar solvent test", "flammable solvent"),
        ("smell", "wafting"),
        ("water test", "water reaction"),
    ):
        assert caution in KNOWLEDGE.tests[name].cautions
    for name in ("burner test", "non-polar solvent test", "smell", "burning test", "melt conductivity test"):
        assert KNOWLEDGE.tests[name].teacher


def test_every_reading_can_be_expected_of_some_handbook_value() -> None:
    assert {entry.reading for entry in KNOWLEDGE.expected} == set(KNOWLEDGE.readings)


# --- rules -------------------------------------------------------------------------------------------


def test_no_slogan_stands_in_any_text_of_any_entry() -> None:
    """
    Neither in what is shown nor in what a rule cites; a comment may warn against it.

    Among the mix-ups it is what one of them says, and so quoted once to be replied to.
    """
    for name, text in TEXTS.items():
        said = " ".join(scalars(yaml.compose(text, Loader=yaml.BaseLoader))).casefold()
        assert said.count("like dissolves like") == (1 if name == "mix_ups.yaml" else 0), name
    assert "like dissolves like" in load_quiz().mix_ups["like-dissolves-like"].says


def scalars(node: yaml.Node | None) -> Iterator[str]:
    """Every text of a YAML tree, keys included, on one line each."""
    if isinstance(node, yaml.ScalarNode):
        yield " ".join(node.value.split())
    elif isinstance(node, yaml.SequenceNode):
        for item in node.value:
            yield from scalars(item)
    elif isinstance(node, yaml.MappingNode):
        for key, value in node.value:
            yield from scalars(key)
            yield from scalars(value)


def test_water_and_solvent_rules_name_their_forces() -> None:
    """Common practice: solubility is explained by London dispersion, dipole–dipole, ion–dipole forces or hydrogen bonds."""
    facts = " ".join(fact.says for fact in KNOWLEDGE.facts.values())
    for force in ("London dispersion", "dipole–dipole", "ion–dipole", "hydrogen bond"):
        assert force in facts


def test_every_exception_is_a_subtype_that_is_defined() -> None:
    for rule in KNOWLEDGE.rules:
        for exception in rule.exceptions:
            assert exception.subtype in KNOWLEDGE.subtypes, rule.id


def test_finer_kinds_unlike_their_class_are_awkward_and_no_finer_kind_is_not() -> None:
    """Table salt and sugar are the very pattern of their classes; graphite and soaps are not (common practice)."""
    assert [KNOWLEDGE.is_awkward(name) for name in ("", "sugar", "graphite", "amphiphile")] == [False, False, True, True]


def test_a_rule_concludes_or_reports_a_conflict_but_not_both() -> None:
    for rule in KNOWLEDGE.rules:
        assert rule.adds or rule.weighs or rule.conflict, rule.id
        assert not (rule.conflict and (rule.adds or rule.weighs)), rule.id
        if rule.conflict:
            assert rule.conflict.endswith((".", "?")), rule.id


def test_no_id_is_used_twice_and_each_can_be_cited() -> None:
    ids = [rule.id for rule in KNOWLEDGE.rules]
    assert len(ids) == len(set(ids))
    assert all(re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name) for name in ids)


def test_every_rule_stands_where_it_says() -> None:
    for rule in KNOWLEDGE.rules:
        assert rule.place is not None
        line = TEXTS[rule.place.file.rpartition("/")[2]].splitlines()[rule.place.line - 1]
        assert line.strip() == f"- id: {rule.id}"


def test_every_fact_is_derived_by_some_rule() -> None:
    assert set(KNOWLEDGE.facts) == {fact for rule in KNOWLEDGE.rules for fact in rule.adds}


@pytest.mark.parametrize("name", KNOWLEDGE.classes)
def test_every_class_has_evidence_for_and_against_from_several_causes(name: str) -> None:
    """Else no verdict on it could ever rest on more than one kind of evidence."""
    need = KNOWLEDGE.verdict.conclusive.causes
    weighing = [rule.weighs for rule in KNOWLEDGE.rules if rule.weighs]
    assert len({weighs.cause for weighs in weighing if name in weighs.for_}) >= need
    assert len({weighs.cause for weighs in weighing if name in weighs.against}) >= need


def test_every_cause_is_named_by_some_rule() -> None:
    assert set(KNOWLEDGE.causes) == {rule.weighs.cause for rule in KNOWLEDGE.rules if rule.weighs}


def test_words_of_weight_are_decibans_as_designed() -> None:
    assert KNOWLEDGE.verdict.words == {"hint": 3, "supporting": 6, "strong": 10, "decisive": 20}


# --- readings ----------------------------------------------------------------------------------------


def test_every_reading_that_a_rule_uses_has_an_expected_reading() -> None:
    used = {condition.reading for rule in KNOWLEDGE.rules for condition in rule.conditions() if condition.reading}
    assert used <= {entry.reading for entry in KNOWLEDGE.expected}


def test_every_reading_is_used_by_some_rule_or_only_tells_substances_apart() -> None:
    used = {condition.reading for rule in KNOWLEDGE.rules for condition in rule.conditions() if condition.reading}
    assert set(KNOWLEDGE.readings) - used <= {"boiling point", "density"}


def test_every_reading_is_expected_once() -> None:
    names = [entry.reading for entry in KNOWLEDGE.expected]
    assert len(names) == len(set(names))


def test_every_expected_reading_reads_columns_of_the_reference_table() -> None:
    columns = set(Substance.__struct_fields__)
    named = {
        {"class": "class_"}.get(column, column)
        for entry in KNOWLEDGE.expected
        for column in (*entry.only_if, *(way.column for way in entry.ways if way.column))
    }
    assert named <= columns


def test_every_synonym_of_a_reading_and_of_a_value_resolves() -> None:
    for kind in KNOWLEDGE.readings.values():
        words = [(word, value.is_) for value in kind.values for word in (value.is_, *value.also)] or [("10", "")]
        for spelling in (kind.id, *kind.also):
            for word, meant in words:
                found = make_record({spelling: word}).readings[kind.id]
                assert found == meant or not kind.values


@pytest.mark.parametrize("answer", ["yes", "no"])
def test_yes_and_no_mean_opposite_things_wherever_they_are_accepted(answer: str) -> None:
    """They never mean the same value of one reading, and always a value that is in its list."""
    for kind in KNOWLEDGE.readings.values():
        by_word = {word: value.is_ for value in kind.values for word in value.also}
        if answer in by_word:
            other = by_word.get("no" if answer == "yes" else "yes")
            assert by_word[answer] in kind.words()
            assert other != by_word[answer]


def test_what_a_test_needs_comes_from_another_test_and_can_be_met() -> None:
    for test in KNOWLEDGE.tests.values():
        own = {kind.id for kind in test.readings}
        for need in test.needs:
            assert need.reading is not None
            assert need.reading not in own
            assert set(need.is_) <= set(KNOWLEDGE.readings[need.reading].words())


def test_needs_never_run_in_a_ring() -> None:
    left = dict(KNOWLEDGE.tests)
    while left:
        ready = [
            name
            for name, test in left.items()
            if all(KNOWLEDGE.test_of[need.reading or ""].id not in left for need in test.needs)
        ]
        assert ready, sorted(left)
        for name in ready:
            del left[name]


def test_every_test_is_cautioned_and_every_caution_and_source_is_used() -> None:
    assert all(test.cautions for test in KNOWLEDGE.tests.values())
    assert {key for test in KNOWLEDGE.tests.values() for key in test.cautions} == set(KNOWLEDGE.cautions)
    cited = {rule.source.key for rule in KNOWLEDGE.rules} | {test.source.key for test in KNOWLEDGE.tests.values()}
    cited |= {kind.misread.from_ for kind in KNOWLEDGE.readings.values()}
    texts = " ".join(TEXTS.values())
    assert {key for key in KNOWLEDGE.sources if key not in cited and texts.count(key) < 2} == set()


def test_tests_of_liquids_from_water_need_something_in_the_water() -> None:
    """Common practice: no solution test on something that did not dissolve."""
    for name in ("litmus test", "solution conductivity test"):
        (need,) = (need for need in KNOWLEDGE.tests[name].needs if need.reading == "in water")
        assert "does not dissolve" not in need.is_
        assert "dissolves" in need.is_


def test_solubility_terms_run_without_gap_or_overlap() -> None:
    terms = sorted(KNOWLEDGE.solubility, key=lambda term: term.from_)
    assert terms[0].from_ == 0
    for lower, upper in itertools.pairwise(terms):
        assert lower.below == upper.from_
    assert terms[-1].below is None
