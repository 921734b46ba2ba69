"""Putting quizzes together, naming questions, and marking guesses at a class."""

from __future__ import annotations

import re

import msgspec
import pytest

from spotplate.datasets import load_substances
from spotplate.engine import VerdictKind, expected_readings, identify, load_knowledge, make_record
from spotplate.engine.quiz import (
    Kind,
    Level,
    Material,
    Outcome,
    Question,
    Secrecy,
    Wanted,
    make_quiz,
    mark,
    question_of,
    set_material,
    table_material,
    token,
)
from spotplate.engine.quiz.asking import asking, classify
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.question import Item, Option
from spotplate.engine.sets import UnknownsSet, Vial
from spotplate.kb import FaultyInputError

KNOWLEDGE = load_knowledge()
SUBSTANCES = {item.name: item for item in load_substances()}
VIALS = ("sucrose", "graphite", "marble", "paraffin wax", "citric acid monohydrate", "copper", "sand", "sodium chloride")


@pytest.fixture(scope="module")
def material() -> Material:
    return table_material()


def the_set(*, assessment: bool = False) -> Material:
    tests = tuple(name for name, test in KNOWLEDGE.tests.items() if not test.teacher)
    return set_material(UnknownsSet("an evening class", tuple(map(Vial, "ABCDEFGH", VIALS)), tests), assessment=assessment)


# --- quizzes ---------------------------------------------------------------------------------------


def test_the_same_seed_gives_the_same_quiz(material: Material) -> None:
    again = Material(KNOWLEDGE, material.quiz, material.reference, material.names, material.tests)
    assert make_quiz(Wanted(8, 3), material) == make_quiz(Wanted(8, 3), again)
    assert make_quiz(Wanted(8, 3), material).questions != make_quiz(Wanted(8, 4), material).questions


def test_a_longer_quiz_of_a_seed_begins_like_the_shorter_one(material: Material) -> None:
    assert make_quiz(Wanted(9, 5), material).questions[:4] == make_quiz(Wanted(4, 5), material).questions


def test_no_item_is_asked_twice_and_kinds_are_mixed(material: Material) -> None:
    questions = make_quiz(Wanted(30, 1), material).questions
    assert len({question.item.key for question in questions}) == 30
    assert len({question.kind for question in questions}) == len(Kind)


@pytest.mark.parametrize("kind", list(Kind))
def test_every_kind_can_be_asked_for_alone(kind: Kind, material: Material) -> None:
    quiz = make_quiz(Wanted(3, 2, kinds=(kind,)), material)
    assert [question.kind for question in quiz.questions] == [kind] * 3
    assert not quiz.notes


@pytest.mark.parametrize("level", list(Level))
def test_the_level_can_be_set(level: Level, material: Material) -> None:
    quiz = make_quiz(Wanted(6, 7, level=level), material)
    assert {question.difficulty.level for question in quiz.questions} == {level}


def test_due_items_come_first_in_their_order_and_unknown_ones_are_passed_over(material: Material) -> None:
    due = ("mix-up/shiny-so-metal", "classify/no such topic", "named/ionic")
    questions = make_quiz(Wanted(5, 1, due=due), material).questions
    assert [question.item.key for question in questions[:2]] == [due[0], due[2]]
    assert len(questions) == 5


def test_weak_items_come_up_more_often(material: Material) -> None:
    weak = "named/metallic, alloy"

    def asked(wanted: Wanted) -> int:
        return sum(
            weak in {each.item.key for each in make_quiz(msgspec.structs.replace(wanted, seed=seed), material).questions}
            for seed in range(60)
        )

    plain = Wanted(5, kinds=(Kind.NAMED,))
    assert asked(msgspec.structs.replace(plain, weak=(weak,))) > 1.5 * asked(plain)


def test_a_quiz_that_runs_out_of_questions_says_so(material: Material) -> None:
    quiz = make_quiz(Wanted(200, 1, kinds=(Kind.PUBLISHED,)), material)
    assert 0 < len(quiz.questions) < 200
    assert "Only" in quiz.notes[-1]


# --- names of questions ----------------------------------------------------------------------------


def test_a_token_poses_the_question_again_and_tells_nothing(material: Material) -> None:
    for question in make_quiz(Wanted(20, 9), material).questions:
        name = token(question, material)
        assert question_of(name, material) == question
        assert len(name) < 20
        assert not any(word in name for word in (question.substance, question.item.topic) if word)


def test_every_item_has_a_token_of_its_own(material: Material) -> None:
    items = [item for kind in Kind for item in asking(kind).items(material)]
    assert len({item.key for item in items}) == len(items)
    questions = [Question(item, 1, "", {}, (), difficulty({})) for item in items]
    assert len({token(question, material) for question in questions}) == len(items)


def test_a_token_of_other_material_is_refused(material: Material) -> None:
    name = token(make_quiz(Wanted(1, 1), the_set()).questions[0], the_set())
    with pytest.raises(FaultyInputError, match="other material"):
        question_of(name, material)


@pytest.mark.parametrize("text", ["", "nonsense", "12345678-1-zzzz", "12345678-99999-0000", "\x00", "a" * 5000])
def test_what_is_no_token_is_refused(text: str, material: Material) -> None:
    with pytest.raises(FaultyInputError, match="no token"):
        question_of(text, material)


def test_a_token_that_names_no_question_is_refused(material: Material) -> None:
    with pytest.raises(FaultyInputError, match="there is no question"):
        question_of(f"00000000-1-{material.mark}", material)


# --- classification questions ------------------------------------------------------------------------


@pytest.fixture(scope="module")
def posed(material: Material) -> list[Question]:
    found = [classify.pose(item, draw, material) for item in classify.items(material) for draw in range(6)]
    return [question for question in found if question]


def test_readings_shown_are_honest_and_do_not_mislead(posed: list[Question]) -> None:
    assert len(posed) > 150
    for question in posed:
        expected = expected_readings(SUBSTANCES[question.substance], KNOWLEDGE)
        for name, value in question.readings.items():
            assert value in map(str, expected[name]), (question.substance, name, value)
        verdict = identify(make_record(question.readings), advise=False).verdict
        right = [option.means for option in question.options if option.right]
        if verdict.kind is VerdictKind.CONCLUSIVE:
            assert verdict.class_ in question.truth
            assert tuple(right) == tuple(name for name in KNOWLEDGE.classes if name in question.truth)
        else:
            assert right == [classify.UNDECIDED]
            assert set(question.truth) & set(verdict.open_between)


def test_some_questions_are_to_be_left_open_and_most_are_not(posed: list[Question]) -> None:
    left_open = sum(question.options[-1].right for question in posed) / len(posed)
    assert 0.05 < left_open < 0.4


def test_every_class_and_level_is_asked(posed: list[Question]) -> None:
    assert {question.truth[0] for question in posed} == set(KNOWLEDGE.classes)
    assert {question.difficulty.level for question in posed} == set(Level)


def test_difficulty_grows_with_what_makes_it_hard() -> None:
    assert difficulty({"a": 0.0, "b": 0.1}).level is Level.EASY
    assert difficulty({"a": 1.0, "b": 0.9}).level is Level.HARD
    assert difficulty({"a": 1.0, "b": 0.2}).parts == ("a",)
    assert difficulty({}).number == 0.0


# --- marking ---------------------------------------------------------------------------------------


def of_class(question: Question, name: str) -> int:
    return [option.means for option in question.options].index(name)


def on(substance: str, *, shown: tuple[str, ...] | None = None) -> Question:
    """A question that shows some readings of a substance (all when not said)."""
    row = SUBSTANCES[substance]
    expected = expected_readings(row, KNOWLEDGE)
    readings = {name: str(values[0]) for name, values in expected.items() if shown is None or name in shown}
    open_ = identify(make_record(readings), advise=False).verdict.kind is not VerdictKind.CONCLUSIVE
    truth = row.defensible_classes()
    options = classify.class_options(KNOWLEDGE, () if open_ else truth, undecided=open_)
    item = Item(Kind.CLASSIFY, row.class_, row.class_, row.subtype)
    return Question(item, 0, "", readings, options, difficulty({}), substance=substance, truth=truth, subtype=row.subtype)


def test_a_right_guess_without_enough_readings_is_told_so(material: Material) -> None:
    question = on("sodium chloride", shown=("state", "colour", "lustre", "in water"))
    marked = mark(question, of_class(question, "ionic"), material)
    assert marked.outcome is Outcome.UNSUPPORTED
    assert "not suffice" in marked.reply.opening
    # Ions carry the current in the solution or the melt, and those of sodium colour a flame; molecules of a school do neither.
    assert any(name in marked.reply.decisive for name in ("solution conductivity", "melt conductivity", "flame colour"))


def test_saying_that_the_readings_do_not_decide_is_right_where_they_do_not(material: Material) -> None:
    question = on("sodium chloride", shown=("state", "colour", "lustre", "in water"))
    assert mark(question, of_class(question, classify.UNDECIDED), material).outcome is Outcome.RIGHT
    full = on("sodium chloride")
    assert mark(full, of_class(full, classify.UNDECIDED), material).outcome is Outcome.WRONG


def test_a_defensible_guess_is_accepted_and_explained(material: Material) -> None:
    """Glycine crystals are made of zwitterions: molecules that are held together like ions (general chemistry; memory)."""
    question = on("glycine")
    marked = mark(question, of_class(question, "ionic"), material)
    assert marked.outcome in (Outcome.DEFENSIBLE, Outcome.UNSUPPORTED)
    assert not marked.reply.against
    assert "charge" in marked.reply.particles


@pytest.mark.parametrize(
    ("substance", "guess", "against", "mix_ups"),
    # What a chemistry teacher would answer to these guesses; common practice.
    [
        ("sucrose", "ionic", "solution conductivity", ("dissolves-so-ionic",)),
        ("citric acid monohydrate", "ionic", "solution conductivity", ("solution-conducts-so-ionic", "acid-is-ionic")),
        ("graphite", "metallic", "deformation", ("graphite-conducts-so-metal",)),
        ("iodine", "metallic", "dry conductivity", ("shiny-so-metal",)),
        ("tin", "polar molecular", "dry conductivity", ("all-metals-melt-high", "melts-low-so-molecular")),
        ("sand", "polar molecular", "in the burner flame", ("network-is-molecular",)),
    ],
)
def test_well_known_wrong_guesses_get_the_answer_a_teacher_would_give(
    substance: str, guess: str, against: str, mix_ups: tuple[str, ...], material: Material
) -> None:
    question = on(substance)
    marked = mark(question, of_class(question, guess), material)
    assert marked.outcome is Outcome.WRONG
    named = [item.reading for item in marked.reply.against]
    assert against in named, named
    assert marked.reply.mix_up is not None
    assert marked.reply.mix_up.id in mix_ups


def test_a_choice_that_is_not_there_is_refused(material: Material) -> None:
    question = on("sand")
    with pytest.raises(IndexError):
        mark(question, 17, material)


# --- a set as the source -----------------------------------------------------------------------------


@pytest.mark.parametrize("assessment", [False, True])
def test_a_quiz_on_a_set_tells_no_name_of_it(assessment: bool) -> None:
    material = the_set(assessment=assessment)
    assert material.secrecy is (Secrecy.NOTHING if assessment else Secrecy.CLASSES)
    names = {name for item in material.substances.values() for name in item.names()} - {"salt", "common salt"}
    pattern = re.compile(rf"\b(?:{'|'.join(map(re.escape, names))})\b", re.IGNORECASE)
    for seed in range(4):
        for question in make_quiz(Wanted(15, seed), material).questions:
            told = [question.says, *question.readings.values(), *(option.says for option in question.options)]
            for place in range(len(question.options)):
                reply = mark(question, place, material).reply
                told += [reply.opening, reply.particles, reply.contrast, reply.decisive, *reply.expected]
                told += [item.because for item in reply.against]
                if reply.mix_up:
                    told += [reply.mix_up.says, reply.mix_up.reply]
            for text in told:
                assert not pattern.search(text), (question.item.key, text)


def test_a_quiz_on_a_set_uses_only_its_tests() -> None:
    material = the_set()
    for seed in range(4):
        for question in make_quiz(Wanted(15, seed), material).questions:
            for reading in question.readings:
                assert KNOWLEDGE.test_of[reading].id in material.tests


# --- mix-ups where a set is the source --------------------------------------------------------------


def of_table(secrecy: Secrecy) -> Material:
    return msgspec.structs.replace(table_material(), secrecy=secrecy)


def told_mix_up(substance: str, guess: str, material: Material) -> str:
    question = on(substance)
    shown = mark(question, of_class(question, guess), material).reply.mix_up
    return shown.id if shown else ""


def test_a_mix_up_whose_reply_names_a_substance_is_told_only_where_names_may_be_said() -> None:
    assert told_mix_up("graphite", "metallic", of_table(Secrecy.NAMES)) == "graphite-conducts-so-metal"
    assert told_mix_up("graphite", "metallic", of_table(Secrecy.CLASSES)) == ""
    assert told_mix_up("iodine", "metallic", of_table(Secrecy.CLASSES)) == "shiny-so-metal"  # names none


def predicted(substance: str, reading: str, wrong: str) -> Question:
    row = SUBSTANCES[substance]
    honest = tuple(map(str, expected_readings(row, KNOWLEDGE)[reading]))
    options = (*(Option(value, value, True) for value in honest), Option(wrong, wrong, False))
    item = Item(Kind.PREDICT, reading)
    return Question(item, 0, "", {}, options, difficulty({}), truth=row.defensible_classes(), subtype=row.subtype, asked=reading)


def test_of_a_set_that_is_assessed_no_mix_up_is_told_that_goes_by_what_the_substance_is() -> None:
    """Neither where a class is guessed nor where a value, a reading or a test is."""
    by_value = predicted("sodium chloride", "dry conductivity", "bright glow")
    place = len(by_value.options) - 1
    shown = mark(by_value, place, of_table(Secrecy.NAMES)).reply.mix_up
    assert shown is not None
    assert shown.id == "ionic-solid-conducts-dry"
    assert mark(by_value, place, of_table(Secrecy.NOTHING)).reply.mix_up is None
    assert told_mix_up("sodium chloride", "polar molecular", of_table(Secrecy.NAMES))
    assert told_mix_up("sodium chloride", "polar molecular", of_table(Secrecy.NOTHING)) == ""
    material = the_set(assessment=True)
    for question in make_quiz(Wanted(30, 2), material).questions:
        for place in range(len(question.options)):
            shown = mark(question, place, material).reply.mix_up
            signs = material.quiz.mix_ups[shown.id].signs if shown else ()
            assert not any(sign.truth or sign.subtypes for sign in signs), question.item.key


SPOKEN_AT_THE_BENCH = {"salt", "water", "hydrogen", "carbon dioxide"}  # kinds of substances, solvents, gases that are tested for


@pytest.mark.parametrize("secrecy", [Secrecy.CLASSES, Secrecy.NOTHING])
def test_follow_up_questions_of_a_set_name_no_substance_of_the_table(secrecy: Secrecy) -> None:
    material = of_table(secrecy)
    names = {name.casefold() for row in SUBSTANCES.values() for name in row.names()} - SPOKEN_AT_THE_BENCH
    pattern = re.compile(rf"\b(?:{'|'.join(map(re.escape, names))})\b", re.IGNORECASE)
    items = asking(Kind.MIX_UP).items(material)
    assert bool(items) == (secrecy is Secrecy.CLASSES)
    for item in items:
        question = asking(Kind.MIX_UP).pose(item, 1, material)
        assert question is not None
        for text in (
            question.says,
            question.because,
            *(text for option in question.options for text in (option.says, option.why)),
        ):
            assert not pattern.search(text), (item.topic, text)
            assert not re.search(r"\b(?:NaCl|CaF2|SiO2|KI)\b", text), (item.topic, text)


def test_a_mix_up_is_told_without_a_follow_up_where_that_would_name_a_substance() -> None:
    """Shiny crystals that are no metal: the follow-up speaks of none by name; that on low-melting metals names graphite."""
    material = of_table(Secrecy.CLASSES)
    offered = {item.key for item in asking(Kind.MIX_UP).items(material)}
    for substance, guess, follow_up in (("iodine", "metallic", "mix-up/shiny-so-metal"), ("tin", "polar molecular", "")):
        question = on(substance)
        shown = mark(question, of_class(question, guess), material).reply.mix_up
        assert shown is not None
        assert shown.follow_up == follow_up
        assert not follow_up or follow_up in offered


def test_a_book_that_does_not_part_molecular_substances_accepts_both_and_the_reply_names_the_finer_class(
    material: Material,
) -> None:
    item = next(item for item in asking(Kind.PUBLISHED).items(material) if item.topic == "openstax-solid-oxygen")
    question = asking(Kind.PUBLISHED).pose(item, 0, material)
    assert question is not None
    wide = mark(question, of_class(question, "polar molecular"), material)
    assert wide.outcome is Outcome.RIGHT
    assert "counts as nonpolar molecular" in wide.reply.opening
    assert "More exactly" not in mark(question, of_class(question, "nonpolar molecular"), material).reply.opening
