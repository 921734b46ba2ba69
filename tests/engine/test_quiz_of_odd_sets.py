"""Whatever a quiz is made of, each of its questions can be answered rightly and wrongly, and every answer is replied to."""

from __future__ import annotations

from collections.abc import Iterator

import pytest

from spotplate.datasets import load_substances
from spotplate.engine.quiz import Kind, Material, Outcome, Question, Secrecy, mark, set_material, table_material
from spotplate.engine.quiz.asking import asking
from spotplate.engine.sets import UnknownsSet, Vial
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
EVERY_TEST = tuple(KNOWLEDGE.tests)
METALS = tuple(item.name for item in load_substances() if item.class_ == "metallic")[::3]
SHORT_KIT = (
    "look", "press and tap", "dry conductivity test", "water test", "solution conductivity test", "litmus test",
    "dilute acid test", "warm bath test", "hot plate test",
)  # fmt: skip
SETS = {
    "one plain vial": (("sodium chloride",), EVERY_TEST),
    "one odd vial": (("graphite",), EVERY_TEST),
    "a liquid metal": (("mercury",), EVERY_TEST),
    "a gas": (("oxygen",), EVERY_TEST),
    "metals only": (METALS, EVERY_TEST),
    "a short kit": (("sucrose", "paraffin wax", "copper"), SHORT_KIT),
    "two tests": (("sucrose", "sand", "copper", "paraffin wax", "sodium chloride"), ("look", "water test")),
    "nothing is looked at": (("sucrose", "sand", "copper"), ("water test", "hot plate test")),
    "looking alone": (("sucrose", "sand", "copper"), ("look",)),
}
SLOW = (Kind.NEXT_TEST, Kind.MISREAD)


def material_of(name: str, *, assessment: bool) -> Material:
    names, tests = SETS[name]
    return set_material(
        UnknownsSet("odd", tuple(Vial(f"V{at}", each) for at, each in enumerate(names)), tests), assessment=assessment
    )


def posed(material: Material, kinds: tuple[Kind, ...] = tuple(Kind), draws: int = 2) -> Iterator[Question]:
    for kind in kinds:
        for item in asking(kind).items(material)[:: 7 if kind in SLOW else 1]:
            yield from filter(None, (asking(kind).pose(item, draw, material) for draw in range(1 if kind in SLOW else draws)))


def check(question: Question, material: Material) -> None:
    says = [option.says.casefold() for option in question.options]
    assert 3 <= len(says) <= 6, question.item
    assert len(set(says)) == len(says), question.item
    assert {option.right for option in question.options} == {True, False}, question.item
    assert 0 <= question.difficulty.number <= 1, question.item
    outcomes = []
    for place, option in enumerate(question.options):
        marked = mark(question, place, material)
        outcomes.append(marked.outcome)
        assert marked.reply.opening, (question.item, option.says)
        assert not (option.right and marked.outcome is Outcome.WRONG), (question.item, option.says)
    assert {Outcome.RIGHT, Outcome.WRONG} <= set(outcomes), question.item


@pytest.mark.parametrize("assessment", [False, True])
@pytest.mark.parametrize("name", SETS)
def test_a_quiz_of_an_odd_set_can_be_answered(name: str, assessment: bool) -> None:
    material = material_of(name, assessment=assessment)
    asked = 0
    for question in posed(material):
        check(question, material)
        assert all(KNOWLEDGE.test_of[reading].id in material.tests for reading in question.readings), question.item
        asked += question.kind is not Kind.MIX_UP
    assert asked, "nothing is asked of the set itself"


def test_every_prediction_from_the_table_can_be_answered_rightly_and_wrongly() -> None:
    material = table_material()
    for question in posed(material, (Kind.PREDICT,), draws=6):
        check(question, material)


def test_of_a_set_that_is_assessed_predictions_do_not_tell_its_classes() -> None:
    tests = EVERY_TEST
    few, others = (
        Material(KNOWLEDGE, table_material().quiz, table_material().reference, names, tests, Secrecy.NOTHING)
        for names in (("copper",), ("diamond", "iodine"))
    )
    assert asking(Kind.PREDICT).items(few) == asking(Kind.PREDICT).items(others)
