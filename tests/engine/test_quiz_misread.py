"""Questions on a misread reading: it is wrong, all others are honest, the rest give it away, and the whys say so truly."""

from __future__ import annotations

import functools
import re
from collections.abc import Callable

import pytest

from spotplate.datasets import load_substances
from spotplate.engine import Record, expected_readings, identify
from spotplate.engine.quiz.asking import misread
from spotplate.engine.quiz.material import Material, set_material, table_material
from spotplate.engine.quiz.question import Question
from spotplate.engine.resemblance import prior_of_table, resemblance
from spotplate.engine.sets.unknowns_set import UnknownsSet, Vial
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
TABLE = table_material()
SUBSTANCES = {item.name: item for item in load_substances()}
NAMES = ("sodium chloride", "sucrose", "graphite powder", "copper", "quartz", "paraffin wax", "iron", "citric acid monohydrate")
SET = UnknownsSet(
    "invented",
    tuple(Vial(letter, name) for letter, name in zip("ABCDEFGH", NAMES, strict=True)),
    tuple(test for test in KNOWLEDGE.tests if test not in ("burner test", "melt conductivity test", "dilute acid test")),
)


def posed(material: Material, draws: int, every: int = 1) -> tuple[Question, ...]:
    return tuple(
        q for item in misread.items(material)[::every] for draw in range(draws) if (q := misread.pose(item, draw, material))
    )


@functools.cache
def of_table() -> tuple[Question, ...]:
    return posed(TABLE, draws=1, every=2)


@functools.cache
def of_set() -> tuple[Question, ...]:
    return posed(set_material(SET), draws=1)


@functools.cache
def of_assessment() -> tuple[Question, ...]:
    return posed(set_material(SET, assessment=True), draws=2)


ALL = [of_table, of_set, of_assessment]


def planted(question: Question) -> str:
    [right] = [option for option in question.options if option.right]
    return right.means


def texts(question: Question) -> list[str]:
    return [*(option.why for option in question.options), question.because, question.decisive]


def test_there_are_many_questions_and_a_manageable_number_of_items() -> None:
    assert 40 <= len(misread.items(TABLE)) <= 150
    assert len(of_table()) > 0.3 * len(misread.items(TABLE))
    assert len(of_set()) >= 5
    assert len(of_assessment()) >= 3


def test_only_the_planted_reading_is_not_an_honest_one_of_the_substance() -> None:
    for question in of_table():
        honest = expected_readings(SUBSTANCES[question.substance], KNOWLEDGE)
        wrong = [name for name, value in question.readings.items() if value not in honest[name]]
        assert wrong == [planted(question)], question
        assert question.item.topic.startswith(planted(question))
        assert question.item.class_ == question.truth[0] == SUBSTANCES[question.substance].class_


@pytest.mark.parametrize("questions", ALL)
def test_every_reading_could_have_been_made_and_none_is_a_number(questions: Callable[[], tuple[Question, ...]]) -> None:
    for question in questions():
        assert 6 <= len(question.readings) <= 9
        earlier: dict[str, str] = {}
        for name, value in question.readings.items():
            test = KNOWLEDGE.test_of[name]
            assert value in KNOWLEDGE.readings[name].words()
            assert all(earlier.get(need.reading or "") in need.is_ for need in test.needs), (name, question.readings)
            earlier[name] = value


def test_the_planted_reading_is_the_first_suspect_by_far() -> None:
    prior = prior_of_table(TABLE.reference, KNOWLEDGE)
    accused = 0
    for question in of_table():
        record = Record(dict(question.readings))
        chances = resemblance(record, prior, TABLE.reference, KNOWLEDGE).misread
        own = chances.pop(planted(question))
        assert own >= 0.8
        assert max(chances.values()) <= 0.2
        suspects = identify(record, KNOWLEDGE, advise=False).suspects
        accused += bool(suspects)
        assert not suspects or suspects[0].reading == planted(question)
    assert accused > len(of_table()) / 3


def test_without_the_planted_reading_the_class_ranks_first_rightly() -> None:
    for question in of_table():
        record = Record(dict(question.readings)).without(planted(question))
        assert identify(record, KNOWLEDGE, advise=False).ranking[0].class_ in question.truth


@pytest.mark.parametrize("questions", ALL)
def test_four_to_six_readings_are_offered_as_they_are_shown(questions: Callable[[], tuple[Question, ...]]) -> None:
    for question in questions():
        means = [option.means for option in question.options]
        assert 4 <= len(means) <= 6
        assert len(set(means)) == len(means)
        assert "state" not in means
        assert all(option.says == f"{option.means}: {question.readings[option.means]}" for option in question.options)
        assert [option.right for option in question.options].count(True) == 1


@pytest.mark.parametrize("questions", ALL)
def test_every_text_is_made_of_whole_sentences(questions: Callable[[], tuple[Question, ...]]) -> None:
    for question in questions():
        for text in texts(question):
            assert text.endswith("."), (text, question)
            assert text[0].isupper(), text
            assert not re.search(r"None|\.\.|\{|\}|  | ,|\ba [aeio]|\ban [^aeiou]|to do not|\blondon\b", text), text
            sentences = re.split(r"(?<=\.) ", text)
            assert len(set(sentences)) == len(sentences), text


def test_the_why_of_the_planted_reading_tells_what_was_expected_and_that_is_honest() -> None:
    lamp = {"to leave the lamp dark": "no glow", "to make the lamp glow faintly": "faint glow"}
    lamp["to make the lamp glow brightly"] = "bright glow"
    checked = 0
    for question in of_table():
        name = planted(question)
        if name.endswith("conductivity"):
            why = next(option.why for option in question.options if option.right)
            [value] = [value for words, value in lamp.items() if f"expect it {words}" in why]
            assert value in expected_readings(SUBSTANCES[question.substance], KNOWLEDGE)[name]
            checked += 1
    assert checked >= 2


def test_no_certainty_is_claimed() -> None:
    for question in of_table():
        why = next(option.why for option in question.options if option.right)
        found = re.search(r"a probability of (\d+) %", why)
        assert found
        assert 70 <= int(found[1]) <= 99


def test_nothing_of_a_set_is_named_and_only_its_tests_are_used() -> None:
    names = [name for name in SUBSTANCES if name not in ("water", "hydrogen", "carbon dioxide")]
    pattern = re.compile(rf"\b({'|'.join(map(re.escape, names))})\b", re.IGNORECASE)
    for question in (*of_set(), *of_assessment()):
        assert not pattern.search(" ".join((question.says, *texts(question)))), question
        assert {KNOWLEDGE.test_of[reading].id for reading in question.readings} <= set(SET.tests)
        assert not question.substance


def test_with_an_assessment_not_even_the_class_is_told() -> None:
    classes = re.compile(r"\b(ionic|metals?|metallic|molecul\w+|networks?|salts?)\b", re.IGNORECASE)
    for question in of_assessment():
        # What the planted value would mean is not so, and may be told; how to repeat a reading is the same for every substance.
        said = re.sub(
            r"metallic (?=lustre)|taken for metallic|If it [^.]*, as was written down, [^.]*\.",
            "",
            " ".join(texts(question)[:-1]),
        )
        assert not classes.search(said), said
        assert question.truth == ()
        assert question.item.class_ == ""


def test_the_same_draw_gives_the_same_question() -> None:
    for question in of_table()[::9]:
        assert misread.pose(question.item, question.draw, table_material()) == question


def test_a_substance_for_the_table_is_named_in_the_reason() -> None:
    assert all(f"It is {question.substance}," in question.because for question in of_table())


def test_a_substance_without_a_finer_kind_is_not_called_unlike_its_class() -> None:
    """Table salt is the very pattern of its class, and caesium chloride no less."""
    plain = [question for question in of_table() if question.substance and not SUBSTANCES[question.substance].subtype]
    assert plain
    assert not [question.substance for question in plain if any("plain example" in part for part in question.difficulty.parts)]
