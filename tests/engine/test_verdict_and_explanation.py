"""Verdicts and explanations on records whose answer chemistry knows (common practice of the trade)."""

from __future__ import annotations

import pytest

from spotplate.engine import Identification, VerdictKind, identify, make_record

SALT = {
    "state": "solid", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no", "in water": "yes",
    "solution conductivity": "yes", "litmus": "neutral", "on the hot plate": "no", "flame colour": "yellow",
}  # fmt: skip


def found(**changes: str) -> Identification:
    return identify(make_record({**SALT, **{name.replace("_", " "): value for name, value in changes.items()}}))


def test_a_salt_is_settled() -> None:
    result = found()
    assert result.verdict.kind is VerdictKind.CONCLUSIVE
    assert result.verdict.class_ == "ionic"
    assert result.next_tests == ()


def test_no_reading_at_all_is_inconclusive_and_says_so() -> None:
    result = identify(make_record({}))
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "No reading" in result.verdict.reasons[0]
    assert {round(item.probability, 6) for item in result.ranking} == {0.2}
    assert result.next_tests


def test_one_kind_of_evidence_that_one_reading_carries_is_no_conclusion() -> None:
    """A carbonate's gas alone, however telling, could be one misreading."""
    result = identify(make_record({"dry conductivity": "no", "melt conductivity": "yes"}))
    assert result.ranking[0].class_ == "ionic"
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "misreading" in result.verdict.reasons[0]


@pytest.mark.parametrize(
    "written",
    [  # each pair is impossible for any substance
        {"state": "liquid", "melting range": "121-123 °C"},
        {"in water": "insoluble", "solution conductivity": "bright glow"},
        {"in the warm bath": "melts", "on the hot plate": "no change"},
        {"on the hot plate": "no change", "melting range": "80 °C"},
        {"state": "gas", "boiling point": "100 °C"},
        {"deformation": "malleable", "dry conductivity": "yes", "on the hot plate": "chars"},
    ],
)
def test_readings_that_exclude_one_another_are_contradictory(written: dict[str, str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    assert result.verdict.class_ is None
    assert result.verdict.reasons


def test_two_strong_signs_of_different_classes_are_never_a_conclusion() -> None:
    """Bends like a metal and dissolves like sugar: whichever is misread, nothing is settled."""
    result = identify(make_record({"deformation": "malleable", "dry conductivity": "yes", "in water": "yes",
                                   "solution conductivity": "no", "on the hot plate": "chars"}))  # fmt: skip
    assert result.verdict.kind is VerdictKind.CONTRADICTORY


def test_contrast_adds_up_to_the_lead() -> None:
    for result in (found(), found(litmus="acid"), found(lustre="metallic")):
        parts = (*result.contrast.parted_by, *result.contrast.other_way)
        assert sum(part.decibans for part in parts) == pytest.approx(result.contrast.lead)
        assert result.contrast.lead == pytest.approx(result.ranking[0].decibans - result.ranking[1].decibans)
        assert all(part.decibans > 0 for part in result.contrast.parted_by)
        assert all(part.decibans < 0 for part in result.contrast.other_way)


def test_every_reason_leads_back_to_readings_of_the_record() -> None:
    result = found()
    for reasons in result.reasons.values():
        for reason in reasons:
            assert reason.readings
            assert set(reason.readings) <= set(result.record.readings)
            assert reason.because.endswith(".")
            assert reason.source


def test_reasons_stand_in_order_of_weight() -> None:
    for reasons in found().reasons.values():
        counted = [abs(reason.decibans) for reason in reasons if reason.counted]
        assert counted == sorted(counted, reverse=True)


def test_the_path_of_a_reason_starts_at_readings_and_ends_at_its_facts() -> None:
    reason = next(reason for reason in found().reasons["ionic"] if reason.rule == "ions-in-the-crystal")
    added = {fact for step in reason.steps for fact in step.adds}
    assert set(reason.facts) <= added
    assert reason.steps[0].readings


def test_what_the_answer_rests_on_is_named() -> None:
    result = identify(make_record({"dry conductivity": "no", "solution conductivity": "yes", "in water": "yes"}))
    assert "solution conductivity" in {dependence.reading for dependence in result.rests_on}


def test_an_open_question_names_the_test_that_parts_the_classes() -> None:
    """A bright solution that may be a salt's or an acid's: litmus is the classical next step (common practice)."""
    result = identify(
        make_record({"state": "solid", "dry conductivity": "no", "in water": "yes", "solution conductivity": "yes"})
    )
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert result.next_tests[0].test == "litmus test"
    assert result.cautions


def test_a_test_whose_needs_are_unmet_is_not_proposed() -> None:
    result = identify(make_record({"state": "gas"}))
    proposed = {test.test for test in result.next_tests}
    assert proposed
    assert not proposed & {"press and tap", "scratch", "hot plate test", "melting range test", "dry conductivity test"}


def test_graphite_is_called_by_its_name_and_not_contradictory() -> None:
    result = identify(
        make_record({"state": "solid", "dry conductivity": "yes", "mark on paper": "yes", "deformation": "brittle"})
    )
    assert result.verdict.kind is not VerdictKind.CONTRADICTORY
    assert "graphite" in {fact.subtype for fact in result.facts}


def test_lead_marks_paper_too_and_stays_a_metal() -> None:
    result = identify(make_record({"state": "solid", "dry conductivity": "yes", "mark on paper": "yes", "deformation": "malleable",
                                   "lustre": "metallic"}))  # fmt: skip
    assert result.verdict.class_ == "metallic"
