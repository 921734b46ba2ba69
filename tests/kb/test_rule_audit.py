"""The words of the rules beside what the reference table measures: each that lies far off has its written reason."""

from __future__ import annotations

import pytest

from spotplate.datasets import load_substances
from spotplate.engine.second_opinion.rule_audit import Audited, audit_rules, far_off
from spotplate.kb import load_knowledge


@pytest.fixture(scope="module")
def far() -> list[Audited]:
    return far_off(audit_rules(load_substances(), load_knowledge()))


def test_every_weight_far_from_the_table_has_a_written_reason(far: list[Audited]) -> None:
    """More than one word away from what the table measures: mended, or kept with a sentence that says why."""
    bare = [f"{item.rule}: {item.word} {item.side} {item.class_}, measured {item.measured:+.1f}" for item in far if not item.kept]
    assert not bare


def test_no_reason_is_left_where_the_table_agrees(far: list[Audited]) -> None:
    """A reason that outlives the disagreement would mislead the next reader."""
    needed = {item.rule for item in far}
    needless = [rule.id for rule in load_knowledge().rules if rule.weighs and rule.weighs.kept and rule.id not in needed]
    assert not needless


def test_reasons_are_whole_sentences(far: list[Audited]) -> None:
    """They are read by teachers, beside the measured weight."""
    for item in far:
        assert item.kept[:1].isupper(), item.rule
        assert item.kept.endswith("."), item.rule
