"""Recognising a mix-up: on its own examples, on real substances with honest readings, and never in what is defensible."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterator

import msgspec
import pytest

from spotplate.engine.quiz.mix_ups import recognise
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Level, Option, Question
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import Condition, load_knowledge
from spotplate.kb.quiz import Answer, FollowUp, MixUp, MixUpExample, QuizKnowledge, Sign, load_quiz
from spotplate.kb.schema import Source

KNOWLEDGE = load_knowledge()
QUIZ = load_quiz()
ROWS = load_reference().rows
RECOGNISABLE = [mix_up for mix_up in QUIZ.mix_ups.values() if mix_up.signs]
EXAMPLES = [(mix_up, example) for mix_up in RECOGNISABLE for example in mix_up.examples]
SIGNS = [(mix_up, place) for mix_up in RECOGNISABLE for place in range(len(mix_up.signs))]
CLASS_KINDS = ("classify", "named", "published")


def question(
    kind: str,
    readings: dict[str, str] | None = None,
    *,
    truth: tuple[str, ...] = (),
    subtype: str = "",
    asked: str = "",
    right: tuple[str, ...] = (),
) -> Question:
    options = tuple(Option(value, value, True) for value in right)
    easy = Difficulty(0.0, Level.EASY, ())
    return Question(Item(Kind(kind), "anything"), 0, "", readings or {}, options, easy, truth=truth, subtype=subtype, asked=asked)


def shown_by(asked: Question, guess: str, quiz: QuizKnowledge = QUIZ) -> str | None:
    """The id of the mix-up that a wrong guess shows."""
    found = recognise(asked, Option(guess, guess, False), quiz, KNOWLEDGE)
    return found.id if found else None


def question_of(example: MixUpExample) -> Question:
    truth = (example.truth,) if example.truth else ()
    right = (example.right,) if example.right else ()
    return question(example.question, example.readings, truth=truth, subtype=example.subtype, asked=example.asked, right=right)


def invented(mix_up_id: str, *signs: Sign) -> MixUp:
    answers = (Answer("Yes.", "It is so.", True), Answer("No.", "It is not so."))
    return MixUp(mix_up_id, "It is so.", "It is not.", Source("judgement"), FollowUp("Is it?", answers), signs)


def quiz_of(*mix_ups: MixUp) -> QuizKnowledge:
    return QuizKnowledge({mix_up.id: mix_up for mix_up in mix_ups}, {}, {}, {}, "")


# --- its own examples, and no other's ---------------------------------------------------------------


@pytest.mark.parametrize(("mix_up", "example"), EXAMPLES, ids=lambda part: getattr(part, "id", getattr(part, "question", "")))
def test_a_mix_up_is_recognised_on_its_examples(mix_up: MixUp, example: MixUpExample) -> None:
    assert shown_by(question_of(example), example.guess) == mix_up.id


def test_no_mix_up_is_recognised_on_the_example_of_another() -> None:
    for (own, example), other in itertools.product(EXAMPLES, RECOGNISABLE):
        if other is not own:
            assert shown_by(question_of(example), example.guess) != other.id


@pytest.mark.parametrize(("mix_up", "example"), EXAMPLES, ids=lambda part: getattr(part, "id", getattr(part, "question", "")))
def test_no_example_takes_a_right_guess_for_a_mix_up(mix_up: MixUp, example: MixUpExample) -> None:
    asked = question_of(example)
    assert recognise(asked, Option(example.guess, example.guess, True), QUIZ, KNOWLEDGE) is None


def test_every_sign_has_an_example() -> None:
    for mix_up in RECOGNISABLE:
        for sign in mix_up.signs:
            alone = quiz_of(msgspec.structs.replace(mix_up, signs=(sign,)))
            assert any(shown_by(question_of(example), example.guess, alone) for example in mix_up.examples), (mix_up.id, sign)


# --- real substances, honest readings ---------------------------------------------------------------


def honest(row: ReferenceRow, reading: str) -> tuple[str, ...]:
    """What a careful student may write of this reading."""
    number = row.numbers.get(reading)
    if number is None:
        return row.words.get(reading, ())
    return (str(number.interval(KNOWLEDGE.readings[reading].number.unit)),)  # type: ignore[union-attr]


def some_that(row: ReferenceRow, condition: Condition, meets: bool) -> str | None:
    """An honest value that meets the condition, or one that does not; a number as it is, for `recognise` to judge."""
    values = honest(row, condition.reading or "")
    return next((value for value in values if not condition.is_ or (value in condition.is_) == meets), None)


def honest_readings(sign: Sign, row: ReferenceRow) -> Iterator[dict[str, str]]:
    """The fewest honest readings of a substance that meet the conditions of a sign, one set for each way to meet them."""
    whens = [sign.when, *([KNOWLEDGE.rules_of_thumb[sign.thumb].when] if sign.thumb else [])]
    for chosen in itertools.product(*(when.any for when in whens if when.any)):
        wanted = [(condition, True) for when in whens for condition in when.all] + [(condition, True) for condition in chosen]
        wanted += [(condition, False) for when in whens for condition in when.none]
        found = {condition.reading or "": some_that(row, condition, meets) for condition, meets in wanted}
        if None not in found.values():
            yield {reading: value for reading, value in found.items() if value is not None}


def guesses(sign: Sign, kind: str, row: ReferenceRow) -> Iterator[tuple[str, str, tuple[str, ...]]]:
    """Wrong guesses that a sign speaks of: the guess, the reading asked for, and what would have been right."""
    for guess in sign.guess or tuple(KNOWLEDGE.tests):
        if kind == "predict":
            yield from ((guess, asked, row.words[asked]) for asked in sign.asked if guess not in row.words.get(asked, (guess,)))
        elif kind not in CLASS_KINDS or guess not in row.classes:
            yield guess, "", ()


@functools.cache
def recognised_of(mix_up_id: str, place: int) -> dict[str, set[str]]:
    """Name of a substance → the kinds of question in which honest readings and a wrong guess show the mix-up."""
    sign = QUIZ.mix_ups[mix_up_id].signs[place]
    found: dict[str, set[str]] = {}
    for row, kind in itertools.product(ROWS, sign.questions):
        for readings in honest_readings(sign, row):
            for guess, asked, right in guesses(sign, kind, row):
                posed = question(kind, readings, truth=row.classes, subtype=row.subtype, asked=asked, right=right)
                if shown_by(posed, guess) == mix_up_id:
                    found.setdefault(row.name, set()).add(kind)
    return found


@pytest.mark.parametrize(("mix_up", "place"), SIGNS, ids=lambda part: str(getattr(part, "id", part)))
def test_some_substance_with_honest_readings_shows_every_sign_in_every_kind_of_question(mix_up: MixUp, place: int) -> None:
    kinds = set().union(*recognised_of(mix_up.id, place).values())
    assert kinds == set(mix_up.signs[place].questions)


@pytest.mark.parametrize("row", ROWS[::3], ids=lambda row: row.name)
def test_no_defensible_class_is_ever_taken_for_a_mix_up(row: ReferenceRow) -> None:
    """Not even where a question does not count it as right."""
    readings = {reading: words[0] for reading, words in row.words.items()}
    for kind, class_ in itertools.product(CLASS_KINDS, row.classes):
        shown = {} if kind == "named" else readings
        assert shown_by(question(kind, shown, truth=row.classes, subtype=row.subtype), class_) is None


def test_no_honest_value_that_a_question_counts_as_right_is_taken_for_a_mix_up() -> None:
    for row in ROWS[::5]:
        for asked, values in row.words.items():
            posed = question("predict", truth=row.classes, subtype=row.subtype, asked=asked, right=values)
            for value in values:
                assert recognise(posed, Option(value, value, True), QUIZ, KNOWLEDGE) is None


@pytest.mark.parametrize(
    ("name", "guess", "shown"),  # what a teacher would say of these, before looking at the signs
    [
        ("graphite", "metallic", "graphite-conducts-so-metal"),
        ("iodine", "metallic", "shiny-so-metal"),
        ("barium sulfate", "covalent network", "insoluble-so-not-ionic"),
        ("sucrose", "ionic", "dissolves-so-ionic"),
        ("citric acid monohydrate", "ionic", "acid-is-ionic"),
        ("silicon", "metallic", "all-network-solids-insulate"),
        ("tin", "polar molecular", "all-metals-melt-high"),
        ("sodium thiosulfate pentahydrate", "polar molecular", "hydrate-melts-so-molecular"),
        ("low-density polythene", "covalent network", "macromolecule-so-network"),
        ("sodium stearate", "nonpolar molecular", "soap-feels-waxy-so-nonpolar"),
        ("copper", "ionic", "ionic-solid-conducts-dry"),
        ("naphthalene", "covalent network", "covalent-bonds-break-on-melting"),
        ("iron powder", "ionic", "metal-powder-dull-so-not-metal"),
        ("sodium hydrogensulfate", "polar molecular", "acidic-so-molecular"),
        ("mercury", "nonpolar molecular", "liquid-so-molecular"),
    ],
)
def test_full_honest_records_show_the_mix_up_that_a_teacher_expects(name: str, guess: str, shown: str) -> None:
    row = next(row for row in ROWS if row.name == name)
    left_out = ("burning", "flame colour", "smell", "mark on paper", "magnet")  # not made in most lessons
    readings = {reading: words[0] for reading, words in row.words.items() if reading not in left_out}
    assert shown_by(question("classify", readings, truth=row.classes, subtype=row.subtype), guess) == shown


# --- which one, when several hold -------------------------------------------------------------------

IS_IONIC = Sign(questions=("classify",), guess=("metallic",))


def test_the_sign_that_asks_for_most_goes_first() -> None:
    plain = invented("plain", IS_IONIC)
    special = invented("special", msgspec.structs.replace(IS_IONIC, truth=("ionic",)))
    asked = question("classify", truth=("ionic",))
    assert shown_by(asked, "metallic", quiz_of(plain, special)) == "special"
    assert shown_by(asked, "metallic", quiz_of(special, plain)) == "special"
    assert shown_by(question("classify", truth=("polar molecular",)), "metallic", quiz_of(special, plain)) == "plain"


def test_among_equals_the_first_of_the_file_goes_first() -> None:
    first, second = invented("first", IS_IONIC), invented("second", IS_IONIC)
    assert shown_by(question("classify", truth=("ionic",)), "metallic", quiz_of(first, second)) == "first"
    assert shown_by(question("classify", truth=("ionic",)), "metallic", quiz_of(second, first)) == "second"


def test_the_mix_up_that_an_option_names_goes_before_every_sign() -> None:
    asked = question("classify", {"lustre": "metallic"}, truth=("covalent network",))
    named = Option("a metal", "metallic", False, mix_up="one-test-is-proof")
    assert shown_by(asked, "metallic") == "shiny-so-metal"
    found = recognise(asked, named, QUIZ, KNOWLEDGE)
    assert found is not None
    assert found.id == "one-test-is-proof"


def test_a_right_option_shows_no_mix_up_even_if_it_names_one() -> None:
    asked = question("explain")
    assert recognise(asked, Option("so", "", True, mix_up="one-test-is-proof"), QUIZ, KNOWLEDGE) is None


def test_a_wrong_option_without_a_sign_shows_no_mix_up() -> None:
    assert shown_by(question("explain"), "") is None
    assert shown_by(question("classify", truth=("ionic",)), "metallic") is None


# --- readings that are shown, unclear, or not made --------------------------------------------------

UNTRIED = {"state": "solid", "dry conductivity": "no glow", "in water": "dissolves"}


def test_not_made_holds_only_while_the_reading_is_absent() -> None:
    def of(readings: dict[str, str]) -> str | None:
        return shown_by(question("classify", readings, truth=("ionic",)), "polar molecular")

    assert of(UNTRIED) == "not-tested-means-no"
    assert of({**UNTRIED, "solution conductivity": "not tested"}) == "not-tested-means-no"
    assert of({**UNTRIED, "solution conductivity": "bright glow"}) == "does-not-conduct-so-no-ions"
    assert of({**UNTRIED, "solution conductivity": "unclear"}) == "does-not-conduct-so-no-ions"


def test_readings_count_in_every_spelling_that_a_record_takes() -> None:
    assert shown_by(question("classify", {"luster": "shiny"}, truth=("covalent network",)), "metallic") == "shiny-so-metal"


def test_an_absent_reading_meets_no_condition() -> None:
    assert shown_by(question("classify", {}, truth=("covalent network",)), "metallic") is None
    dull_and_cold = question("classify", {"state": "solid", "lustre": "unclear"}, truth=("metallic",))
    assert shown_by(dull_and_cold, "ionic") is None


@pytest.mark.parametrize(
    ("boils", "shown"),
    [("197 °C", "high-boiling-so-strong-covalent-bonds"), ("470 K", "high-boiling-so-strong-covalent-bonds"), ("78 °C", None)],
)
def test_a_measured_number_meets_a_condition_in_any_unit(boils: str, shown: str | None) -> None:
    asked = question("classify", {"state": "liquid", "boiling point": boils}, truth=("polar molecular",))
    assert shown_by(asked, "covalent network") == shown


# --- what the substance really is -------------------------------------------------------------------


def test_the_foremost_class_decides_and_not_a_second_defensible_one() -> None:
    readings = {"state": "solid", "in water": "does not dissolve"}
    salt = question("classify", readings, truth=("ionic", "covalent network"))
    network = question("classify", readings, truth=("covalent network", "ionic"))
    assert shown_by(salt, "polar molecular") == "insoluble-so-not-ionic"
    assert shown_by(network, "polar molecular") is None


def test_a_finer_kind_that_is_excluded_hides_the_sign() -> None:
    readings = {"state": "solid", "in water": "dissolves"}
    sugar = question("classify", readings, truth=("polar molecular",), subtype="sugar")
    acid = question("classify", readings, truth=("polar molecular",), subtype="molecular acid")
    assert shown_by(sugar, "ionic") == "dissolves-so-ionic"
    assert shown_by(acid, "ionic") is None


def test_a_predicted_value_that_reads_like_a_class_is_none() -> None:
    asked = question("predict", truth=("metallic",), asked="lustre", right=("dull",))
    assert shown_by(asked, "metallic") == "metal-powder-dull-so-not-metal"


def test_what_would_have_been_right_decides_between_charring_and_melting() -> None:
    def of(guess: str, right: str) -> str | None:
        truth = ("polar molecular",)
        return shown_by(question("predict", truth=truth, asked="on the hot plate", right=(right,)), guess)

    assert of("melts", "chars") == "chars-means-melts"
    assert of("breaks down", "sublimes") == "sublimes-so-bonds-break"
    assert of("no change", "melts") == "covalent-bonds-break-on-melting"
    assert of("melts", "sublimes") is None


def test_a_guess_shows_a_mix_up_in_one_kind_of_question_and_none_in_another() -> None:
    """Whoever finds a flame colour worth a try has concluded nothing from one."""
    assert shown_by(question("tell apart"), "flame colour test") == "same-test-tells-all"
    assert shown_by(question("next test"), "flame colour test") is None


def test_recognising_changes_nothing_and_always_says_the_same() -> None:
    for mix_up, example in EXAMPLES[::7]:
        asked = question_of(example)
        before = dict(asked.readings)
        assert {shown_by(asked, example.guess) for _ in range(3)} == {mix_up.id}
        assert asked.readings == before
