"""Predictions: what is called right is what the handbook leads one to expect, and nothing else is."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from spotplate.datasets import load_substances
from spotplate.engine.expected import expected_readings
from spotplate.engine.quiz.asking import predict
from spotplate.engine.quiz.material import Material, Secrecy, table_material
from spotplate.engine.quiz.question import Question
from spotplate.kb import load_knowledge
from spotplate.kb.quiz import load_quiz

KNOWLEDGE = load_knowledge()
SUBSTANCES = {item.name: item for item in load_substances()}
EXPECTED = {name: expected_readings(item, KNOWLEDGE) for name, item in SUBSTANCES.items()}


@pytest.fixture(scope="module")
def material() -> Material:
    return table_material()


@pytest.fixture(scope="module")
def questions(material: Material) -> list[Question]:
    posed = [predict.pose(item, draw, material) for item in predict.items(material) for draw in range(3)]
    return [question for question in posed if question]


def faults_of_english(text: str) -> list[str]:
    """What nobody should read aloud."""
    signs = {
        "None": r"\bNone\b",
        "a doubled word": r"\b(\w+) \1\b",
        "an article": r"\ba [aeio]\w|\ban [^aeiouh\d\W]\w",
        "a gap": r"  | [,.;:?]|\.\.|\{|\}",
        "no capital": r"^[a-z]|[.?!] [a-z]",
    }
    found = [name for name, sign in signs.items() if re.search(sign, text)]
    return found + ([] if text.endswith((".", "?", ")")) else ["no end"])


def test_every_item_poses_a_question(material: Material) -> None:
    for item in predict.items(material):
        assert any(predict.pose(item, draw, material) for draw in range(3)), item


def test_what_is_right_of_a_named_substance_is_all_that_it_may_honestly_show(questions: list[Question]) -> None:
    named = [question for question in questions if question.substance]
    for question in named:
        honest = set(EXPECTED[question.substance][question.asked])
        assert {option.means for option in question.options if option.right} == honest, question.says
        assert not honest & {option.means for option in question.options if not option.right}, question.says
    assert len(named) > 800


def test_what_most_of_a_class_show_is_shown_by_three_of_four_and_wrong_values_by_hardly_any(questions: list[Question]) -> None:
    of_class = [question for question in questions if not question.substance]
    for question in of_class:
        known = [
            EXPECTED[name][question.asked]
            for name, item in SUBSTANCES.items()
            if item.class_ == question.truth[0] and question.asked in EXPECTED[name]
        ]
        for option in question.options:
            share = sum(option.means in values for values in known) / len(known)
            assert share >= 0.75 if option.right else share <= 0.1, (question.says, option.says)
    assert {question.truth[0] for question in of_class} == set(KNOWLEDGE.classes)


def test_nothing_is_said_of_most_of_a_class_that_is_known_of_a_few_odd_ones(questions: list[Question]) -> None:
    """Hardly any nonpolar substance gives a liquid for litmus; those that do react with the water."""
    assert not [
        q for q in questions if q.item.topic in ("nonpolar molecular: solution acidity", "metallic: solution conductivity")
    ]
    assert not [o for q in questions for o in q.options if q.asked == "solution acidity" and "Most nonpolar" in o.why]


def test_what_is_said_of_most_of_a_class_is_true_of_more_than_half(questions: list[Question]) -> None:
    """Also within the reasons of wrong values."""
    checked = 0
    for question in questions:
        for option in question.options:
            told = re.search(r"Most (.+?) substances show it", option.why)
            for class_ in re.split(r", | and ", told.group(1)) if told else ():
                known = [
                    EXPECTED[name][question.asked]
                    for name, item in SUBSTANCES.items()
                    if item.class_ == class_ and question.asked in EXPECTED[name]
                ]
                assert sum(option.means in values for values in known) > len(known) / 2, (question.says, option.why)
                checked += 1
    assert checked > 100


# What chemists know and the classes do not tell: substance, reading, what it shows.
@pytest.mark.parametrize(
    ("topic", "name", "right"),
    [
        ("dry conductivity: covalent network, graphite", "graphite", {"bright glow"}),
        ("solution conductivity: polar molecular, sugar", "sucrose", {"no glow"}),
        ("in water: ionic, insoluble salt", "barium sulfate", {"does not dissolve"}),
        ("lustre: nonpolar molecular, halogen", "iodine", {"metallic"}),
        ("on the hot plate: metallic, low-melting metal", "tin", {"melts"}),
        ("in the warm bath: ionic, hydrate melting in its water", "sodium ethanoate trihydrate", {"melts"}),
    ],
)
def test_exceptions_are_asked_of_and_answered_rightly(topic: str, name: str, right: set[str], material: Material) -> None:
    item = next(item for item in predict.items(material) if item.topic == topic)
    posed = [predict.pose(item, draw, material) for draw in range(80)]
    found = [question for question in posed if question and question.substance == name]
    assert found
    assert {option.means for question in found for option in question.options if option.right} == right


def test_options_are_three_to_six_different_ones(questions: list[Question]) -> None:
    for question in questions:
        assert 3 <= len(question.options) <= 6
        assert len({option.says for option in question.options}) == len(question.options)


def test_whys_are_whole_sentences(questions: list[Question]) -> None:
    for question in questions:
        for text in (question.says, question.because, *(option.why for option in question.options)):
            assert not faults_of_english(text), (faults_of_english(text), text)


def test_a_reason_names_the_same_kind_of_particle_as_its_class(questions: list[Question]) -> None:
    """No reason speaks of molecules in a salt, or of ions in a sugar."""
    for question in questions:
        if question.subtype in ("sugar", "hydrocarbon", "fat or wax"):
            assert not re.search(r"\bthe ions\b|\bmetal", question.because, re.IGNORECASE), question.because
        if question.subtype in ("ordinary metal", "alloy"):
            assert not re.search(r"\bmolecules hold|network", question.because), question.because
        if question.truth[0] == "ionic" and question.subtype in ("", "carbonate", "insoluble salt"):
            assert not re.search(r"\bthe molecules\b", question.because, re.IGNORECASE), question.because


def test_the_same_draw_gives_the_same_question_and_others_give_others(material: Material) -> None:
    item = next(item for item in predict.items(material) if item.topic == "in water: ionic")
    assert predict.pose(item, 3, material) == predict.pose(item, 3, table_material())
    assert len({predict.pose(item, draw, material).substance for draw in range(20)}) > 3  # type: ignore[union-attr]


def test_where_names_are_secret_only_classes_of_the_set_and_readings_of_its_tests_are_asked_of(material: Material) -> None:
    names = ("sodium chloride", "copper", "sucrose")
    secret = Material(
        KNOWLEDGE, load_quiz(), material.reference, names, ("look", "dry conductivity test", "water test"), Secrecy.CLASSES
    )
    found = predict.items(secret)
    assert {item.class_ for item in found} == {"ionic", "metallic", "polar molecular"}
    for item in found:
        question = predict.pose(item, 1, secret)
        assert question is not None
        assert question.substance == ""
        assert question.asked in ("lustre", "dry conductivity", "in water")
        told = f"{question.says} {question.because} {[option.why for option in question.options]}".casefold()
        assert not [name for name in names if re.search(rf"\b{name}\b", told)]


def test_every_class_and_every_difficulty_is_covered(questions: list[Question]) -> None:
    by_class = Counter(question.truth[0] for question in questions)
    assert set(by_class) == set(KNOWLEDGE.classes)
    assert len({question.difficulty.level for question in questions}) == 3


def test_names_in_the_reasons_are_those_of_the_reference_table() -> None:
    """A misspelt name would silence its reason."""
    for seen in load_quiz().seen.values():
        for value in seen.values:
            for reason in value.because:
                assert set(reason.names) <= set(SUBSTANCES), reason
                for name in reason.names:
                    item = SUBSTANCES[name]
                    assert item.class_ in reason.of, (name, reason)
                    assert value.is_ in EXPECTED[name].get(seen.id, ()), (name, seen.id, value.is_)


def test_no_reason_is_silenced_by_one_before_it() -> None:
    """Each reason speaks for some substance, else it is forgotten or misplaced."""
    for seen in load_quiz().seen.values():
        for value in seen.values:
            showing = [item for name, item in SUBSTANCES.items() if value.is_ in EXPECTED[name].get(seen.id, ())]
            used = set()
            for item in showing:
                fitting = (reason for reason in value.because if reason.speaks_for(item.class_, item.subtype, item.name))
                used.add(next(fitting, None))
            silent = [reason.says for reason in value.because if reason not in used and (reason.subtypes or reason.names)]
            assert not silent, (seen.id, value.is_, silent)
