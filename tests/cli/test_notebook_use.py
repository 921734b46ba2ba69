"""The few lines that a notebook or a course script needs, from `spotplate.engine` alone."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from running import RACK, VIAL

from spotplate.engine import (
    FaultyInputError,
    SpotplateError,
    VerdictKind,
    find_substance,
    identify,
    load_knowledge,
    make_record,
    read_records,
)


def test_a_record_is_identified_in_three_lines(capfd: pytest.CaptureFixture[str]) -> None:
    record = make_record({"lustre": "metallic", "deformation": "malleable", "dry conductivity": "bright glow"})
    result = identify(record)
    assert result.verdict.kind is VerdictKind.CONCLUSIVE
    assert result.verdict.class_ == "metallic"
    assert capfd.readouterr() == ("", "")  # the engine returns, it never prints


def test_the_verdict_reads_as_a_word() -> None:
    result = identify(make_record({"state": "solid"}))
    assert f"{result.verdict.kind}" == "inconclusive"
    assert result.verdict.class_ is None


def test_reasons_can_be_walked_class_by_class() -> None:
    result = identify(
        make_record({"dry conductivity": "no glow", "in water": "dissolves", "solution conductivity": "bright glow"})
    )
    assert result.ranking[0].class_ == "ionic"
    assert set(result.reasons) == {item.class_ for item in result.ranking}
    for item in result.ranking:
        counted = sum(reason.decibans for reason in result.reasons[item.class_] if reason.counted)
        assert counted == pytest.approx(item.decibans)
    assert all(reason.because.endswith(".") for reason in result.reasons["ionic"])


def test_files_are_read_with_the_shipped_knowledge() -> None:
    knowledge = load_knowledge()
    (record,) = read_records(Path(VIAL), knowledge)
    assert record.vial == "C"
    assert identify(record, knowledge).verdict.class_ == "ionic"
    rack = {record.vial: identify(record).verdict for record in read_records(Path(RACK), knowledge)}
    assert len(rack) == 7
    assert rack["G"].kind is VerdictKind.INCONCLUSIVE


def test_a_reading_is_taken_back_without_touching_the_record() -> None:
    record = make_record({"lustre": "metallic", "dry conductivity": "bright glow"})
    assert "lustre" not in record.without("lustre").readings
    assert "lustre" in record.readings


def test_a_prior_of_the_unknowns_set_moves_the_ranking() -> None:
    record = make_record({"state": "solid"})
    classes = [item.class_ for item in identify(record).ranking]
    prior = {name: 0.8 if name == "metallic" else 0.05 for name in classes}
    first = identify(record, prior=prior).ranking[0]
    assert first.class_ == "metallic"
    assert first.probability == pytest.approx(0.8, abs=0.01)


def test_advice_can_be_left_out() -> None:
    record = make_record({"state": "solid"})
    assert identify(record).next_tests
    assert identify(record, advise=False).next_tests == ()
    assert identify(record, advise=False).ranking == identify(record).ranking


def test_a_substance_is_looked_up() -> None:
    assert find_substance("washing soda").name == "sodium carbonate decahydrate"


def test_what_is_wrong_is_one_kind_of_error_with_every_fault_in_it() -> None:
    with pytest.raises(FaultyInputError, match="did you mean 'lustre'") as caught:
        make_record({"luster": "dull", "lustr": "dull", "state": "sollid"})
    assert isinstance(caught.value, SpotplateError)
    assert isinstance(caught.value, ValueError)
    assert len(caught.value.faults) >= 2
    assert re.search("did you mean 'solid'", str(caught.value))
