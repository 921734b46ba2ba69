"""Rules of thumb: they fire where they say, name known things, and each is right on some substances and wrong on others."""

from __future__ import annotations

import pytest

from spotplate.datasets import load_substances
from spotplate.engine import make_record
from spotplate.engine.reasoning import readings_that_meet
from spotplate.engine.sets.checking import likeliest_readings
from spotplate.kb import FaultyInputError, load_knowledge
from spotplate.kb.loading import _from_yaml, _shipped_texts

KNOWLEDGE = load_knowledge()
THUMBS = list(KNOWLEDGE.rules_of_thumb.values())


def meets(thumb_id: str, readings: dict[str, str]) -> bool:
    record = make_record(readings, KNOWLEDGE)
    return readings_that_meet(KNOWLEDGE.rules_of_thumb[thumb_id].when, record.readings, KNOWLEDGE) is not None


@pytest.mark.parametrize("thumb", THUMBS, ids=lambda thumb: thumb.id)
def test_it_fires_on_its_examples_and_on_no_counterexample(thumb) -> None:  # type: ignore[no-untyped-def]
    assert thumb.fires_on
    assert thumb.silent_on
    assert all(meets(thumb.id, example) for example in thumb.fires_on)
    assert not any(meets(thumb.id, example) for example in thumb.silent_on)


@pytest.mark.parametrize("thumb", THUMBS, ids=lambda thumb: thumb.id)
def test_it_never_fires_without_a_reading(thumb) -> None:  # type: ignore[no-untyped-def]
    assert readings_that_meet(thumb.when, {}, KNOWLEDGE) is None


@pytest.mark.parametrize("thumb", THUMBS, ids=lambda thumb: thumb.id)
def test_it_holds_for_some_reference_substances_and_fails_for_others(thumb) -> None:  # type: ignore[no-untyped-def]
    """One that always holds would be no rule of thumb but a rule, and one that never holds nobody would follow."""
    right = wrong = 0
    for substance in load_substances():
        readings = likeliest_readings(substance.name, tuple(KNOWLEDGE.tests), KNOWLEDGE)
        if readings_that_meet(thumb.when, readings, KNOWLEDGE) is not None:
            if set(thumb.jumps_to) & set(substance.defensible_classes()):
                right += 1
            else:
                wrong += 1
    assert right >= 1
    assert wrong >= 1


@pytest.mark.parametrize("thumb", THUMBS, ids=lambda thumb: thumb.id)
def test_it_is_a_sentence_with_a_reason_at_particle_level_and_a_source(thumb) -> None:  # type: ignore[no-untyped-def]
    assert thumb.says.endswith(".")
    assert ", so " in thumb.says
    assert thumb.because.endswith(".")
    assert any(word in thumb.because for word in ("ion", "molecule", "electron", "atom", "particle", "bond"))
    assert "like dissolves like" not in thumb.because
    assert thumb.source.key in KNOWLEDGE.sources


@pytest.mark.parametrize(
    ("found", "put", "says"),
    [
        ("jumps_to: [ionic]", "jumps_to: [ionik]", "did you mean 'ionic'"),
        ("jumps_to: [ionic]", "jumps_to: []", "it jumps to no class"),
        ("{reading: lustre, is: [metallic]}", "{reading: lustre, is: [metalic]}", "did you mean 'metallic'"),
        ("{reading: lustre, is: [metallic]}", "{fact: mobile electrons}", "goes by readings alone"),
        ("source: {key: common practice}", "source: {key: hearsay}", "'hearsay' is not a source"),
        ("id: shiny-so-metal", "id: magnet-so-metal", "is defined a second time"),
        ("fires_on: [{lustre: metallic}]", "fires_on: [{lustre: golden}]", "'golden' is not a value of 'lustre'"),
    ],
)
def test_the_loader_refuses_what_it_does_not_know(found: str, put: str, says: str) -> None:
    texts = _shipped_texts()
    assert found in texts["rules_of_thumb.yaml"]
    texts["rules_of_thumb.yaml"] = texts["rules_of_thumb.yaml"].replace(found, put, 1)
    with pytest.raises(FaultyInputError, match=says):
        _from_yaml(texts)
