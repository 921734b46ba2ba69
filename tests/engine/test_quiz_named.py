"""Questions for the class of a named substance, held against the reference table itself."""

from __future__ import annotations

from collections import Counter

import msgspec
import pytest

from spotplate.datasets import load_substances
from spotplate.engine.quiz.asking import named
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Secrecy, table_material
from spotplate.engine.quiz.question import Kind, Outcome, Question

MATERIAL = table_material()
ITEMS = named.items(MATERIAL)
SUBSTANCES = {row.name: row for row in load_substances()}
CLASSES = {"ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network"}
DRAWS = range(6)


def posed(item, draw: int) -> Question:  # type: ignore[no-untyped-def]
    question = named.pose(item, draw, MATERIAL)
    assert question is not None
    return question


QUESTIONS = [posed(item, draw) for item in ITEMS for draw in DRAWS]


def test_every_class_and_every_finer_kind_of_the_table_is_an_item_of_its_own() -> None:
    kinds = {(row.class_, row.subtype) for row in SUBSTANCES.values()}
    assert {(item.class_, item.subtype) for item in ITEMS} == kinds
    assert len({item.key for item in ITEMS}) == len(ITEMS) == len(kinds)
    assert all(item.kind is Kind.NAMED for item in ITEMS)


def test_exactly_the_defensible_classes_are_right() -> None:
    for question in QUESTIONS:
        row = SUBSTANCES[question.substance]
        defended = {row.class_, row.also_defensible} - {""}
        assert {option.means for option in question.options} == CLASSES
        assert {option.means for option in question.options if option.right} == defended, row.name
        assert question.truth[0] == row.class_
        assert set(question.truth) == defended
        assert (row.class_, row.subtype) == (question.item.class_, question.item.subtype)
        assert not question.readings


def test_guesses_are_marked_by_the_table() -> None:
    for question in QUESTIONS[:: len(DRAWS)]:
        row = SUBSTANCES[question.substance]
        for place, option in enumerate(question.options):
            outcome = mark(question, place, MATERIAL).outcome
            expected = {row.class_: Outcome.RIGHT, row.also_defensible: Outcome.DEFENSIBLE}.get(option.means, Outcome.WRONG)
            assert outcome is expected, (row.name, option.means)


def test_the_question_names_the_substance_and_its_formula_without_brackets_within_brackets() -> None:
    for question in QUESTIONS:
        row = SUBSTANCES[question.substance]
        assert question.says.startswith(f"To which bonding class does {row.name}")
        assert question.says.endswith(" belong?")
        assert row.formula in question.says
        assert "((" not in question.says
        assert "))" not in question.says
        assert ") (" not in question.says


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("sodium chloride", "sodium chloride (NaCl)"),
        ("calcium hydroxide", "calcium hydroxide, Ca(OH)2,"),
        ("brass", "brass"),  # an alloy has no formula
    ],
)
def test_how_a_substance_is_named(name: str, says: str) -> None:
    assert named.with_formula(SUBSTANCES[name]) == says


def test_what_no_school_has_is_asked_only_where_nothing_else_is_of_that_kind() -> None:
    for question in QUESTIONS:
        row = SUBSTANCES[question.substance]
        of_kind = [other for other in SUBSTANCES.values() if (other.class_, other.subtype) == (row.class_, row.subtype)]
        if row.school_use == "not in school":
            assert all(other.school_use == "not in school" for other in of_kind)


def test_the_reason_says_whole_sentences_of_this_very_substance() -> None:
    for question in QUESTIONS:
        row = SUBSTANCES[question.substance]
        assert question.because[0].isupper()
        assert question.because.endswith(".")
        assert "None" not in question.because + question.says
        assert "  " not in question.because + question.says
        sentences = question.because.split(". ")
        assert len(sentences) == len(set(sentences)) >= 2
        assert row.exception.removeprefix("It ") in question.because  # what is awkward of it, where anything is


def test_the_same_draw_gives_the_same_question_and_draws_differ() -> None:
    for item in ITEMS:
        assert posed(item, 3) == posed(item, 3)
    plain = next(item for item in ITEMS if item.class_ == "ionic" and not item.subtype)
    assert len({posed(plain, draw).substance for draw in range(20)}) > 3


def test_questions_are_of_every_difficulty_and_say_what_makes_them_hard() -> None:
    levels = Counter(question.difficulty.level for question in QUESTIONS)
    assert len(levels) == 3
    by_name = {question.substance: question.difficulty for question in QUESTIONS}
    awkward = [entry for entry in by_name.values() if "an awkward substance" in entry.parts]
    plain = [entry for entry in by_name.values() if not entry.parts]
    assert min(entry.number for entry in awkward) > max(entry.number for entry in plain)


@pytest.mark.parametrize("secrecy", [Secrecy.CLASSES, Secrecy.NOTHING])
def test_nothing_is_asked_by_name_where_names_are_secret(secrecy: Secrecy) -> None:
    assert named.items(msgspec.structs.replace(MATERIAL, secrecy=secrecy)) == ()
