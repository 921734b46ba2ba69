"""Questions for the particle-level reason: right for their substance, the same for the same draw, silent about a set's names."""

from __future__ import annotations

import re

import msgspec
import pytest

from spotplate.engine.quiz.asking.explain import explained_by, holds_for, items, pose
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Material, Secrecy, set_material, table_material
from spotplate.engine.quiz.question import Item, Kind, Level, Outcome, Question
from spotplate.engine.sets import UnknownsSet, Vial
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
TABLE = table_material(KNOWLEDGE)
ITEMS = items(TABLE)
EVERY = pytest.mark.parametrize("item", ITEMS, ids=lambda item: item.topic)
DRAWS = range(6)
# Words of general chemistry which are names as well; that they are said tells nothing of a set.
EVERYDAY = {"water", "hydrogen", "oxygen", "carbon dioxide"}


def question(item: Item, draw: int, material: Material = TABLE) -> Question:
    posed = pose(item, draw, material)
    assert posed is not None
    return posed


def set_of(*names: str, tests: tuple[str, ...] = tuple(KNOWLEDGE.tests), assessment: bool = False) -> Material:
    vials = tuple(Vial(chr(ord("A") + place), name) for place, name in enumerate(names))
    return set_material(UnknownsSet("a set", vials, tests), assessment=assessment, knowledge=KNOWLEDGE)


def everything_said(asked: Question) -> str:
    said = [
        asked.says,
        asked.because,
        *asked.difficulty.parts,
        *(text for option in asked.options for text in (option.says, option.why)),
    ]
    return " | ".join(said)


# --- items --------------------------------------------------------------------------------------


def test_every_reason_can_be_posed_of_the_reference_table() -> None:
    assert {item.topic for item in ITEMS} == set(TABLE.quiz.reasons)
    assert all(item.kind is Kind.EXPLAIN for item in ITEMS)


def test_an_item_counts_under_a_class_or_finer_kind_only_where_there_is_one() -> None:
    by_topic = {item.topic: item for item in ITEMS}
    assert (by_topic["layers-conduct-and-mark-paper"].class_, by_topic["layers-conduct-and-mark-paper"].subtype) == (
        "covalent network",
        "graphite",
    )
    assert (by_topic["metal-conducts-dry"].class_, by_topic["metal-conducts-dry"].subtype) == ("metallic", "")
    assert (by_topic["molecules-part-on-melting"].class_, by_topic["molecules-part-on-melting"].subtype) == ("", "")


# --- questions ----------------------------------------------------------------------------------


@EVERY
def test_the_substance_is_one_that_the_reason_holds_for(item: Item) -> None:
    reason = TABLE.quiz.reasons[item.topic]
    for draw in DRAWS:
        asked = question(item, draw)
        row = TABLE.rows[asked.substance]
        assert holds_for(reason, row)
        assert row.school_use != "not in school"
        assert asked.truth == row.classes
        assert asked.subtype == row.subtype
        assert asked.substance in asked.says


@EVERY
def test_the_readings_shown_are_honest_ones_of_the_substance(item: Item) -> None:
    reason = TABLE.quiz.reasons[item.topic]
    for draw in DRAWS:
        asked = question(item, draw)
        assert set(asked.readings) == set(reason.readings)
        for reading, value in asked.readings.items():
            assert value in TABLE.rows[asked.substance].words[reading]


@EVERY
def test_one_option_is_right_and_each_says_why(item: Item) -> None:
    asked = question(item, 0)
    assert 4 <= len(asked.options) <= 6
    assert [option.right for option in asked.options].count(True) == 1
    assert all(option.why.endswith(".") for option in asked.options)
    assert len({option.says for option in asked.options}) == len(asked.options)
    assert next(option.says for option in asked.options if option.right) == asked.because
    assert asked.sources


@EVERY
def test_the_same_draw_gives_the_same_question(item: Item) -> None:
    assert question(item, 4) == question(item, 4, table_material(KNOWLEDGE))


def test_other_draws_ask_of_other_substances_in_another_order() -> None:
    item = next(item for item in ITEMS if item.topic == "salt-conducts-only-dissolved")
    asked = [question(item, draw) for draw in range(40)]
    assert len({each.substance for each in asked}) > 10
    assert {[option.right for option in each.options].index(True) for each in asked} == {0, 1, 2, 3}
    assert len({option.says for each in asked for option in each.options}) == 5  # one right and four wrong reasons


@EVERY
def test_the_wording_is_sound(item: Item) -> None:
    for draw in DRAWS:
        said = everything_said(question(item, draw))
        assert "None" not in said
        assert "{" not in said
        assert not re.search(
            r"\b[Aa] (ionic|unknown|atom|ion|electron|acid|oxide|OH)\b|\b[Aa]n (metal|polar|nonpolar|covalent)", said
        )


def test_a_quiz_finds_easy_and_hard_ones_among_them() -> None:
    levels = [question(item, draw).difficulty.level for item in ITEMS for draw in DRAWS]
    assert all(levels.count(level) >= len(levels) / 6 for level in Level)


def test_an_awkward_substance_with_unusual_readings_is_harder_than_a_plain_one() -> None:
    topics = {item.topic: item for item in ITEMS}
    hard = [question(topics["ions-that-leave-as-gas"], draw).difficulty.number for draw in DRAWS]
    easy = [question(topics["metal-bends"], draw).difficulty.number for draw in DRAWS]
    assert min(hard) > min(easy)
    assert "the substance is awkward" in question(topics["ions-that-leave-as-gas"], 0).difficulty.parts


@EVERY
def test_a_right_choice_is_marked_right_and_a_wrong_one_gets_the_reason_told_once(item: Item) -> None:
    asked = question(item, 1)
    for place, option in enumerate(asked.options):
        marked = mark(asked, place, TABLE)
        assert marked.outcome is (Outcome.RIGHT if option.right else Outcome.WRONG)
        parts = [marked.reply.opening, marked.reply.particles, marked.reply.contrast]
        assert sum(asked.because in part for part in parts) == 1
        if option.mix_up:
            assert marked.reply.mix_up is not None
            assert marked.reply.mix_up.id == option.mix_up


# --- of a set -----------------------------------------------------------------------------------


@EVERY
def test_no_name_leaks_when_an_unknown_of_a_set_is_asked_of(item: Item) -> None:
    reason = TABLE.quiz.reasons[item.topic]
    fitting = explained_by(reason, TABLE)[:8]
    material = set_of(*fitting)
    assert material.secrecy is Secrecy.CLASSES
    if reason.needs_name:
        assert pose(item, 0, material) is None
        return
    names = {name for substance in TABLE.substances.values() for name in substance.names()} - EVERYDAY
    for draw in DRAWS:
        asked = question(item, draw, material)
        assert asked.substance in fitting
        assert asked.says.count("an unknown of the set") == 1
        leaks = [name for name in names if re.search(rf"\b{re.escape(name)}\b", everything_said(asked), re.IGNORECASE)]
        assert leaks == []


def test_many_reasons_can_be_asked_of_unknowns() -> None:
    material = set_of("sodium chloride", "copper", "sucrose", "paraffin wax", "graphite", "calcium carbonate")
    assert {"salt-conducts-only-dissolved", "metal-bends", "sugar-chars", "wax-melts-low", "layers-conduct-and-mark-paper"} <= {
        item.topic for item in items(material)
    }


def test_only_readings_of_the_tests_that_the_set_is_made_with_are_shown() -> None:
    without_current = tuple(name for name in KNOWLEDGE.tests if name != "dry conductivity test")
    topics = {item.topic for item in items(set_of("copper", "marble", tests=without_current))}
    assert "carbonate-fizzes" in topics
    assert "metal-bends" not in topics


def test_a_set_used_for_an_assessment_is_not_explained() -> None:
    assert items(set_of("sodium chloride", "copper", assessment=True)) == ()


def test_a_substance_that_no_school_uses_is_asked_of_only_where_there_is_no_other() -> None:
    reason = TABLE.quiz.reasons["liquid-that-conducts-as-a-metal"]
    assert explained_by(reason, TABLE) == ("gallium-indium-tin alloy",)
    assert explained_by(reason, msgspec.structs.replace(TABLE, names=("mercury", "copper"))) == ("mercury",)
