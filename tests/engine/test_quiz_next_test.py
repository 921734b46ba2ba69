"""Questions on the next test: the right one tells most of the class for its time, and what is said of each test is true."""

from __future__ import annotations

import collections
import functools
import itertools
import random
import re
from collections.abc import Callable

import pytest
from scipy.stats import entropy

from spotplate.datasets import load_substances
from spotplate.engine import VerdictKind, identify, make_record
from spotplate.engine.quiz.asking import next_test
from spotplate.engine.quiz.material import Material, Secrecy, set_material, table_material
from spotplate.engine.quiz.question import Question
from spotplate.engine.sets.unknowns_set import UnknownsSet, Vial
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
TABLE = table_material()
ROWS = TABLE.reference.rows
NAMES = ("sodium chloride", "sucrose", "graphite powder", "copper", "quartz", "paraffin wax", "calcium carbonate")
SET = UnknownsSet(
    "invented",
    tuple(Vial(letter, name) for letter, name in zip("ABCDEFG", NAMES, strict=True)),
    ("look", "press and tap", "dry conductivity test", "water test", "solution conductivity test", "warm bath test", "magnet"),
)


def posed(material: Material, draws: int) -> tuple[Question, ...]:
    """Questions on every pair of classes and on every other finer kind."""
    items = next_test.items(material)
    chosen = [item for item in items if not item.subtype] + [item for item in items if item.subtype][::2]
    return tuple(q for item in chosen for draw in range(draws) if (q := next_test.pose(item, draw, material)))


@functools.cache
def of_table() -> tuple[Question, ...]:
    return posed(TABLE, draws=1)


@functools.cache
def of_set(*, assessment: bool) -> tuple[Question, ...]:
    return posed(set_material(SET, assessment=assessment), draws=2)


def texts(question: Question) -> list[str]:
    return [*(option.why for option in question.options), question.because, question.decisive]


def told(question: Question, tests: tuple[str, ...]) -> float:
    """Bits of the open classes that a test tells, or one after another: by the honest words of substances of the same kind."""
    record = make_record(question.readings, KNOWLEDGE)
    result = identify(record, KNOWLEDGE, advise=False)
    prior = {each.class_: each.probability for each in result.ranking if each.class_ in result.verdict.open_between}
    kinds = [kind.id for name in tests for kind in KNOWLEDGE.tests[name].readings if kind.id not in record.readings]
    joint: collections.Counter[tuple[object, str]] = collections.Counter()
    for class_, weight in prior.items():
        of_class = [row for row in ROWS if row.class_ == class_ and row.words["state"] == (question.readings["state"],)]
        fitting = [row for row in of_class if all(v in row.words.get(n, (v,)) for n, v in record.readings.items())]
        rows = fitting if len(fitting) >= 5 else of_class
        for row in rows:
            words = list(itertools.product(*(row.words.get(kind, ("not to be made",)) for kind in kinds)))
            for each in words:
                joint[each, class_] += weight / len(rows) / len(words)
    values = {value for value, _ in joint}
    before = entropy(list(prior.values()), base=2)
    after = sum(
        sum(weights) * entropy(weights, base=2) for value in values if sum(weights := [joint[value, name] for name in prior]) > 0
    ) / sum(prior.values())
    return float(before - after)


def test_most_items_can_be_asked_at_the_first_draw_and_their_number_is_small() -> None:
    assert 20 <= len(next_test.items(TABLE)) <= 150
    assert len(of_table()) > 0.3 * len(next_test.items(TABLE))
    assert len({item.key for item in next_test.items(TABLE)}) == len(next_test.items(TABLE))


def test_a_question_offers_four_or_five_tests_each_once_and_tells_of_every_one_why() -> None:
    for question in (*of_table(), *of_set(assessment=False)):
        means = [option.means for option in question.options]
        assert len(means) in (4, 5)
        assert len(set(means)) == len(means)
        assert set(means) <= KNOWLEDGE.tests.keys()
        assert any(option.right for option in question.options)
        assert not all(option.right for option in question.options)
        assert all(option.why for option in question.options)


def test_the_record_begins_with_looking_leaves_the_class_open_and_does_not_mislead() -> None:
    for question in of_table():
        result = identify(make_record(question.readings, KNOWLEDGE), KNOWLEDGE, advise=False)
        assert next(iter(question.readings)) == "state"
        assert result.verdict.kind is VerdictKind.INCONCLUSIVE
        assert question.truth[0] in result.verdict.open_between
        row = TABLE.rows[question.substance]
        assert all(value in row.words[reading] for reading, value in question.readings.items())


def test_a_pair_of_classes_is_open_in_the_questions_about_it() -> None:
    for question in of_table():
        pair = set(question.item.topic.split(" or ")) & KNOWLEDGE.classes.keys()
        result = identify(make_record(question.readings, KNOWLEDGE), KNOWLEDGE, advise=False)
        assert pair <= set(result.verdict.open_between)


def test_the_engine_would_propose_a_right_answer_among_the_tests_with_words() -> None:
    numbers = {test.id for test in KNOWLEDGE.tests.values() if not any(kind.values for kind in test.readings)}
    for question in of_table()[::4]:
        done = {KNOWLEDGE.test_of[reading].id for reading in question.readings}
        record = make_record(question.readings, KNOWLEDGE)
        best = identify(record, KNOWLEDGE, left_out=numbers | done).next_tests[0]
        assert best.test in {option.means for option in question.options if option.right}


def test_a_right_answer_tells_more_per_minute_than_any_wrong_one_that_can_be_done() -> None:
    compared = 0
    for question in of_table():
        record = make_record(question.readings, KNOWLEDGE)

        def can_be_done(name: str, record: object = record) -> bool:
            readings = record.readings  # type: ignore[attr-defined]
            test = KNOWLEDGE.tests[name]
            made = any(kind.id in readings for kind in test.readings)
            return not made and all(readings.get(need.reading) in need.is_ for need in test.needs)

        def rate(name: str, question: Question = question) -> float:
            # A test may be worth doing for the one that it makes possible.
            opened = (
                [
                    other.id
                    for other in KNOWLEDGE.tests.values()
                    if any(need.reading in [kind.id for kind in KNOWLEDGE.tests[name].readings] for need in other.needs)
                ]
                if name == "water test"
                else []
            )
            ways = [(name,), *((name, other) for other in opened)]
            return max(told(question, way) / sum(KNOWLEDGE.tests[each].minutes for each in way) for way in ways)

        right = max(rate(option.means) for option in question.options if option.right)
        for option in question.options:
            if not option.right and can_be_done(option.means):
                compared += 1
                assert told(question, (option.means,)) / KNOWLEDGE.tests[option.means].minutes < right, question
    assert compared > 25


def test_what_is_said_to_be_done_was_done_and_what_cannot_be_done_lacks_what_it_needs() -> None:
    seen = collections.Counter[str]()
    for question in of_table():
        for option in question.options:
            test = KNOWLEDGE.tests[option.means]
            made = any(kind.id in question.readings for kind in test.readings)
            met = all(question.readings.get(need.reading or "") in need.is_ for need in test.needs)
            assert option.why.startswith("It was done already") is made
            if option.right:
                assert met
                assert not made
            elif not made and not met:
                seen["cannot"] += 1
                assert not option.why.endswith("tell little.")
            elif not made:
                seen["little"] += 1
                assert "tell little" in option.why or "minutes" in option.why
    assert min(seen["cannot"], seen["little"]) > 15


def test_what_is_said_of_nearly_all_metals_holds_of_nine_in_ten() -> None:
    lamp = "Nearly all metals like this make the lamp glow brightly without water"
    found = [question for question in of_table() if any(option.why.startswith(lamp) for option in question.options)]
    assert found
    for question in found:
        alike = [
            row
            for row in ROWS
            if row.class_ == "metallic" and all(v in row.words.get(n, (v,)) for n, v in question.readings.items())
        ]
        known = [row.words["dry conductivity"] for row in alike if "dry conductivity" in row.words]
        assert sum("bright glow" in words for words in known) >= 0.9 * len(known)


@pytest.mark.parametrize("questions", [of_table, lambda: of_set(assessment=False), lambda: of_set(assessment=True)])
def test_every_text_is_made_of_whole_sentences(questions: Callable[[], tuple[Question, ...]]) -> None:
    for question in questions():
        for text in texts(question):
            assert text.endswith("."), text
            assert text[0].isupper(), text
            assert "  " not in text
            assert not re.search(r"None|\.\.|\{|\}| ,|\ba [aeio]|\ban [^aeiou]|\bones? none\b", text), text


def test_nothing_of_a_set_is_named_and_only_its_tests_are_asked() -> None:
    names = [item.name for item in load_substances() if item.name not in ("water", "hydrogen", "carbon dioxide")]
    pattern = re.compile(rf"\b({'|'.join(map(re.escape, names))})\b", re.IGNORECASE)
    for assessment in (False, True):
        assert of_set(assessment=assessment)
        for question in of_set(assessment=assessment):
            assert not pattern.search(" ".join((question.says, *texts(question), *(o.says for o in question.options))))
            assert {option.means for option in question.options} <= set(SET.tests)
            assert {KNOWLEDGE.test_of[reading].id for reading in question.readings} <= set(SET.tests)
            assert not question.substance


def test_with_an_assessment_not_even_a_class_is_told() -> None:
    classes = re.compile(r"\b(ionic|metals?|metallic|molecular|network)\b", re.IGNORECASE)
    for question in of_set(assessment=True):
        said = " ".join(option.why for option in question.options)
        assert not classes.search(said.replace("metallic lustre", "")), said
        assert question.truth == ()


def test_the_same_draw_gives_the_same_question_and_another_one_another() -> None:
    item = next_test.items(TABLE)[0]
    again = [next_test.pose(item, draw, TABLE) for draw in (0, 0, 1, 2, 3)]
    random.seed(1)
    assert again[0] == again[1] == next_test.pose(item, 0, table_material())
    assert len({str(question) for question in again}) > 1


def test_a_set_without_a_look_has_no_such_questions() -> None:
    blind = set_material(UnknownsSet("invented", SET.vials, ("water test", "magnet")))
    assert blind.secrecy is Secrecy.CLASSES
    assert all(next_test.pose(item, 0, blind) is None for item in next_test.items(blind)[:3])
