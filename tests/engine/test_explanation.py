"""Explanations: from readings by particle-level steps to classes, the contrast, and what the answer rests on."""

from __future__ import annotations

import pytest

from spotplate.engine import Identification, identify, make_record
from spotplate.kb import load_knowledge, with_rules

# Common practice: what a careful student sees.
RECORDS: dict[str, dict[str, str]] = {
    "table salt": {
        "state": "solid", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no", "in water": "yes",
        "solution conductivity": "yes", "litmus": "neutral", "on the hot plate": "no", "flame colour": "yellow",
    },
    "citric acid": {
        "state": "solid", "dry conductivity": "no", "in water": "yes", "solution conductivity": "weak", "litmus": "acid",
        "on the hot plate": "chars",
    },
    "tin": {
        "state": "solid", "lustre": "metallic", "deformation": "malleable", "dry conductivity": "yes", "in water": "insoluble",
        "on the hot plate": "melts",
    },
    "graphite": {
        "state": "solid", "lustre": "metallic", "deformation": "brittle", "dry conductivity": "yes", "mark on paper": "yes",
        "in water": "insoluble", "in the burner flame": "no change",
    },
    "a doubtful record": {"lustre": "metallic", "in water": "dissolves", "smell": "yes", "litmus": "?"},
}  # fmt: skip
ALL = pytest.mark.parametrize("name", RECORDS)


def explained(name: str) -> Identification:
    return identify(make_record(RECORDS[name]))


# --- reasons ---------------------------------------------------------------------------------------


@ALL
def test_every_reason_leads_back_to_readings_really_in_the_record(name: str) -> None:
    result = explained(name)
    facts = {fact.fact for fact in result.facts}
    for reason in (reason for reasons in result.reasons.values() for reason in reasons):
        assert reason.readings
        assert set(reason.readings) <= set(result.record.readings)
        assert set(reason.facts) <= facts
        assert reason.because.endswith(".")
        assert reason.source


@ALL
def test_each_step_rests_on_readings_or_on_facts_of_earlier_steps(name: str) -> None:
    for reason in (reason for reasons in explained(name).reasons.values() for reason in reasons):
        known: set[str] = set()
        for step in reason.steps:
            assert step.readings or step.facts
            assert set(step.facts) <= known
            known |= set(step.adds)
        assert set(reason.facts) <= known
        if reason.steps:
            assert reason.steps[0].readings


@ALL
def test_an_unclear_reading_is_never_a_reason(name: str) -> None:
    result = explained(name)
    used = {reading for reasons in result.reasons.values() for reason in reasons for reading in reason.readings}
    assert not used & set(result.record.unclear)


@ALL
def test_counted_reasons_come_first_in_order_of_weight(name: str) -> None:
    for reasons in explained(name).reasons.values():
        flags = [reason.counted for reason in reasons]
        assert flags == sorted(flags, reverse=True)
        counted = [abs(reason.decibans) for reason in reasons if reason.counted]
        assert counted == sorted(counted, reverse=True)


@ALL
def test_counted_reasons_add_up_to_the_weight_of_the_class(name: str) -> None:
    result = explained(name)
    for item in result.ranking:
        assert sum(reason.decibans for reason in result.reasons[item.class_] if reason.counted) == pytest.approx(item.decibans)


def test_signs_of_one_cause_are_counted_once_and_the_rest_are_kept() -> None:
    """A carbonate's gas and its place in acid speak of one thing: both are shown, one counts."""
    weighs = "weighs: {cause: reaction with acid, for: {ionic: %s}}, source: {key: judgement}}\n"
    text = (
        "- {id: weak, because: Since., when: {all: [{reading: solid in dilute acid, is: goes into solution}]}, " + weighs % "hint"
        + "- {id: firm, because: Since., when: {all: [{reading: gas in dilute acid, is: carbon dioxide}]}, " + weighs % "strong"
    )  # fmt: skip
    knowledge = with_rules(load_knowledge(), text, "teacher.yaml", replace=True)
    result = identify(make_record({"gas in dilute acid": "co2", "solid in dilute acid": "yes"}), knowledge)
    assert [(reason.rule, reason.counted) for reason in result.reasons["ionic"]] == [("firm", True), ("weak", False)]
    assert result.ranking[0].decibans == 10


def test_the_words_of_a_reason_are_those_of_its_rule() -> None:
    knowledge = load_knowledge()
    rules = {rule.id: rule for rule in knowledge.rules}
    for reasons in explained("citric acid").reasons.values():
        for reason in reasons:
            weighs = rules[reason.rule].weighs
            assert weighs is not None
            side = weighs.for_ if reason.decibans > 0 else weighs.against
            assert side[reason.class_] == reason.word
            assert reason.cause == weighs.cause
            assert abs(reason.decibans) == knowledge.verdict.words[reason.word]


def test_why_citric_acid_is_no_salt_is_told_by_its_litmus() -> None:
    """Common practice: a solution that conducts and is acidic may be an acid's; litmus tells."""
    result = explained("citric acid")
    assert result.ranking[0].class_ == "polar molecular"
    used = {reading for reason in result.reasons["polar molecular"] for reading in reason.readings if reason.decibans > 0}
    assert "solution acidity" in used


# --- contrast --------------------------------------------------------------------------------------


@ALL
def test_contrast_adds_up_to_the_lead(name: str) -> None:
    result = explained(name)
    parts = (*result.contrast.parted_by, *result.contrast.other_way)
    assert sum(part.decibans for part in parts) == pytest.approx(result.contrast.lead)
    assert result.contrast.lead == pytest.approx(result.ranking[0].decibans - result.ranking[1].decibans)
    assert (result.contrast.first, result.contrast.second) == tuple(item.class_ for item in result.ranking[:2])
    assert all(part.decibans > 0 for part in result.contrast.parted_by)
    assert all(part.decibans < 0 for part in result.contrast.other_way)


@ALL
def test_contrast_names_each_cause_once_and_a_reason_of_that_cause(name: str) -> None:
    result = explained(name)
    parts = (*result.contrast.parted_by, *result.contrast.other_way)
    assert len({part.cause for part in parts}) == len(parts)
    for part in parts:
        told = {
            reason.because
            for class_ in (result.contrast.first, result.contrast.second)
            for reason in result.reasons[class_]
            if reason.cause == part.cause and reason.counted
        }
        assert part.because in told


def test_what_speaks_the_other_way_is_not_hidden() -> None:
    """Graphite shines and conducts as a metal does, and is told to."""
    other = explained("graphite").contrast.other_way + explained("graphite").contrast.parted_by
    assert other
    shiny = identify(make_record(RECORDS["table salt"] | {"lustre": "metallic"}))
    assert shiny.ranking[0].class_ == "ionic"
    assert any(reason.decibans < 0 and "lustre" in reason.readings for reason in shiny.reasons["ionic"])


# --- what the answer rests on -----------------------------------------------------------------------


def test_what_the_answer_rests_on_is_named() -> None:
    result = identify(make_record({"dry conductivity": "no", "solution conductivity": "yes", "in water": "yes"}))
    assert "solution conductivity" in {dependence.reading for dependence in result.rests_on}


@ALL
def test_what_it_rests_on_is_what_leaving_it_out_would_do(name: str) -> None:
    result = explained(name)
    for dependence in result.rests_on:
        without = identify(result.record.without(dependence.reading), advise=False)
        assert without.ranking[0].class_ == dependence.first_without
        assert without.ranking[0].probability == pytest.approx(dependence.probability_without)
    for reading in set(result.record.readings) - {dependence.reading for dependence in result.rests_on}:
        first = result.ranking[0].class_
        assert identify(result.record.without(reading), advise=False).ranking[0].class_ == first


def test_a_salt_known_from_many_sides_rests_on_no_single_reading() -> None:
    assert explained("table salt").rests_on == ()


# --- facts -----------------------------------------------------------------------------------------


@ALL
def test_every_fact_is_said_in_particle_language_with_the_rules_behind_it(name: str) -> None:
    knowledge = load_knowledge()
    rules = {rule.id: rule for rule in knowledge.rules}
    for fact in explained(name).facts:
        assert fact.says == knowledge.facts[fact.fact].says
        assert fact.rules
        assert all(fact.fact in rules[rule].adds for rule in fact.rules)


def test_the_path_of_a_reason_starts_at_readings_and_ends_at_its_facts() -> None:
    reason = next(reason for reason in explained("table salt").reasons["ionic"] if reason.rule == "ions-in-the-crystal")
    added = {fact for step in reason.steps for fact in step.adds}
    assert set(reason.facts) <= added
    assert reason.steps[0].readings
