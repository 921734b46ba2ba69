"""
Questions of open textbooks on types of solids: the engine answers them, and they can be posed and marked.

The classes expected here were written down from the books, not from `kb/quiz/published.yaml`.

Sources
-------
OpenStax, Chemistry 2e, chapter 10, exercises of section 10.5 (answers to the odd ones are printed in the book), and section
2.6. B. Averill and P. Eldredge, General Chemistry, section 12.5. CK-12, Chemistry – Intermediate, lesson 13.3.
"""

from __future__ import annotations

import msgspec
import pytest

from spotplate.engine import VerdictKind, identify, make_record
from spotplate.engine.lookup import meaning_of
from spotplate.engine.quiz.asking import published
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Secrecy, table_material
from spotplate.engine.quiz.question import Outcome, Question
from spotplate.kb.quiz import load_quiz

IONIC, METALLIC, NETWORK = {"ionic"}, {"metallic"}, {"covalent network"}
MOLECULAR = {"polar molecular", "nonpolar molecular"}  # the books do not part them
ENTRIES = load_quiz().published
MATERIAL = table_material()
CONCLUSIVE, OPEN = VerdictKind.CONCLUSIVE, VerdictKind.INCONCLUSIVE

# What the book says of an unknown; whether the engine concludes from it, by what a careful chemist would say.
BY_READINGS = [
    # exercise 71, answer printed: X ionic, Y metallic, Z covalent network
    ("openstax-unknown-x", IONIC, CONCLUSIVE),
    ("openstax-unknown-y", METALLIC, CONCLUSIVE),
    ("openstax-unknown-z", NETWORK, CONCLUSIVE),
    # exercise 73, answer printed: metallic; but graphite shines and conducts, too
    ("openstax-shiny-975", METALLIC, OPEN),
    # exercise 70 X and Y, no answer printed; the table of section 10.5: malleable and conducting; low melting point, not conducting
    ("openstax-lustrous-1500", METALLIC, CONCLUSIVE),
    ("openstax-soft-yellow", MOLECULAR, OPEN),
    # exercise 72 A to D, no answers printed; the same table
    ("openstax-malleable-1135", METALLIC, CONCLUSIVE),
    ("openstax-brittle-2072", IONIC, CONCLUSIVE),
    ("openstax-very-hard-3440", NETWORK, CONCLUSIVE),
    ("openstax-soft-185", MOLECULAR, OPEN),
    # exercise 74, no answer printed: hard, not conducting, melts at 1200 °C fits two rows of the table
    ("openstax-hard-1200", NETWORK | IONIC, OPEN),
    # CK-12, A: melts low, conducts neither as a solid nor as a liquid; C: brittle, conducts only as a liquid
    ("ck12-melts-at-125", MOLECULAR, OPEN),
    ("ck12-brittle-1720", IONIC, CONCLUSIVE),
]

# Substance as the book writes it, and its printed answer.
BY_NAME = [
    ("openstax-solid-oxygen", "O2", MOLECULAR),  # exercise 65
    ("openstax-calcium-chloride", "CaCl2", IONIC),  # exercise 69 (a) to (i)
    ("openstax-silicon-carbide", "SiC", NETWORK),
    ("openstax-solid-nitrogen", "N2", MOLECULAR),
    ("openstax-iron", "Fe", METALLIC),
    ("openstax-graphite", "C", NETWORK),
    ("openstax-butane", "C4H10", MOLECULAR),
    ("openstax-hydrogen-chloride", "HCl", MOLECULAR),
    ("openstax-ammonium-nitrate", "NH4NO3", IONIC),
    ("openstax-potassium-phosphate", "K3PO4", IONIC),
    ("openstax-potassium-chloride", "KCl", IONIC),  # section 2.6, six chlorides: ionic
    ("openstax-tetrachloromethane", "CCl4", MOLECULAR),  # the same: covalent
    ("openstax-ammonium-carbonate", "(NH4)2CO3", IONIC),  # section 2.6, six compounds and their ions
    ("openstax-potassium-iodide", "KI", IONIC),  # section 2.6, worked example
    ("openstax-calcium-fluoride", "CaF2", IONIC),  # section 2.6, exercise behind it
    ("averill-germanium", "Ge", NETWORK),  # worked example: C6(CH3)6 melts lowest, then Zn and RbI, Ge highest
    ("averill-rubidium-iodide", "RbI", IONIC),
    ("averill-hexamethylbenzene", "C6(CH3)6", MOLECULAR),
    ("averill-zinc", "Zn", METALLIC),
    ("averill-fullerene", "C60", MOLECULAR),  # exercise behind it, from memory
    ("averill-gallium-arsenide", "GaAs", NETWORK),
]
NOT_IN_THE_TABLE = {"openstax-potassium-phosphate", "averill-rubidium-iodide", "averill-hexamethylbenzene"}
ACCEPTED = {key: classes for key, classes, _ in BY_READINGS} | {key: classes for key, _, classes in BY_NAME}


def posed(key: str, draw: int = 0) -> Question:
    item = next(item for item in published.items(MATERIAL) if item.topic == key)
    question = published.pose(item, draw, MATERIAL)
    assert question is not None
    return question


def test_every_published_question_is_checked_here_and_there_are_enough() -> None:
    assert set(ACCEPTED) == set(ENTRIES)
    assert len(ENTRIES) >= 20


@pytest.mark.parametrize(("key", "classes", "verdict"), BY_READINGS)
def test_the_engine_answers_what_the_book_answers(key: str, classes: set[str], verdict: VerdictKind) -> None:
    found = identify(make_record(ENTRIES[key].readings), advise=False)
    assert found.ranking[0].class_ in classes
    assert found.verdict.kind is verdict
    if verdict is CONCLUSIVE:
        assert found.verdict.class_ in classes
    else:  # what the engine leaves open holds the book's answer
        assert classes & set(found.verdict.open_between)


@pytest.mark.parametrize(("key", "written", "classes"), BY_NAME)
def test_the_reference_table_agrees_with_the_book(key: str, written: str, classes: set[str]) -> None:
    entry = ENTRIES[key]
    row = meaning_of(entry.substance).substance
    if key in NOT_IN_THE_TABLE:
        assert row is None
        return
    assert row is not None
    assert row.name == entry.substance
    assert row.formula == written
    assert row.class_ in classes
    assert set(row.defensible_classes()) <= classes
    assert entry.classes[0] == row.class_  # the foremost of what the book accepts


@pytest.mark.parametrize("key", ENTRIES)
def test_every_class_that_the_book_accepts_is_marked_right_and_every_other_wrong(key: str) -> None:
    question = posed(key)
    assert {option.means for option in question.options} == set(MATERIAL.knowledge.classes)
    for place, option in enumerate(question.options):
        marked = mark(question, place, MATERIAL)
        assert marked.outcome is (Outcome.RIGHT if option.means in ACCEPTED[key] else Outcome.WRONG), option.says


@pytest.mark.parametrize("key", ENTRIES)
def test_no_reply_calls_a_substance_what_only_the_books_wide_answer_allows(key: str) -> None:
    """Oxygen is not polar, though a book that parts no molecular solids cannot say so."""
    question = posed(key)
    if len(ACCEPTED[key]) == 1:
        return
    for place, option in enumerate(question.options):
        if option.right:
            assert "is a" not in mark(question, place, MATERIAL).reply.opening


@pytest.mark.parametrize("key", ENTRIES)
def test_a_question_is_asked_in_whole_sentences_with_its_source(key: str) -> None:
    entry, question = ENTRIES[key], posed(key)
    assert question.readings == dict(entry.readings)
    assert question.says.endswith("?")
    assert question.because.endswith(".")
    assert set(question.truth) == ACCEPTED[key]
    for text in (question.says, question.because):
        assert "None" not in text
        assert "  " not in text
    (source,) = question.sources
    assert source.startswith(MATERIAL.knowledge.sources[entry.source.key].cites)
    assert entry.source.where in source
    assert "exercise" in source or "worked example" in source or "problem" in source


def test_questions_are_of_several_difficulties() -> None:
    assert len({posed(key).difficulty.level for key in ENTRIES}) == 3


def test_the_same_question_comes_at_every_draw() -> None:
    first, second = posed("openstax-graphite", 1), posed("openstax-graphite", 2)
    assert (first.says, first.options) == (second.says, second.options)


def test_an_unknowns_set_has_none_of_them() -> None:
    assert published.items(msgspec.structs.replace(MATERIAL, secrecy=Secrecy.CLASSES)) == ()
