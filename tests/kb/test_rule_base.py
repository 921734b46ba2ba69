"""The shipped knowledge base: complete, sourced, consistent, and its snapshot up to date."""

from __future__ import annotations

from pathlib import Path

import pytest

from spotplate import kb
from spotplate.engine import check_rules
from spotplate.kb import load_knowledge
from spotplate.kb.loading import SNAPSHOT, make_snapshot

KNOWLEDGE = load_knowledge()
FOLDER = Path(kb.__file__).parent
TEXTS = {path.name: path.read_text(encoding="utf-8") for path in FOLDER.rglob("*.yaml")}


def test_the_rule_base_is_sound() -> None:
    """Every example fires or is silent as it says; nothing is unused, underivable or unable to fire."""
    assert check_rules(KNOWLEDGE) == ()


def test_snapshot_is_what_the_yaml_says() -> None:
    remedy = "run kb/scripts/make_snapshot.py"
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
        ("non-polar solvent test", "flammable solvent"),
        ("smell", "wafting"),
        ("water test", "water reaction"),
    ):
        assert caution in KNOWLEDGE.tests[name].cautions
    for name in ("burner test", "non-polar solvent test", "smell", "burning test", "melt conductivity test"):
        assert KNOWLEDGE.tests[name].teacher


def test_forces_are_named_and_no_slogan_is_used() -> None:
    for name, text in TEXTS.items():
        said = [line for line in text.casefold().splitlines() if not line.lstrip().startswith("#")]
        assert not any("like dissolves like" in line for line in said), name


def test_every_reading_can_be_expected_of_some_handbook_value() -> None:
    assert {entry.reading for entry in KNOWLEDGE.expected} == set(KNOWLEDGE.readings)
