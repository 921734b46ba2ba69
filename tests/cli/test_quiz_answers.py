"""What is typed at a quiz: letters, numbers, words, slips, and percentages."""

from __future__ import annotations

import pytest

from spotplate.cli.quiz_answers import certainty_of, place_of
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.question import Item, Kind, Option, Question
from spotplate.kb import FaultyInputError


def question(*options: str) -> Question:
    """A question with these options, the first of them right."""
    offered = tuple(Option(says, says, place == 0) for place, says in enumerate(options))
    return Question(Item(Kind.EXPLAIN, "test"), 1, "Which?", {}, offered, difficulty({}))


CLASSES = question("ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network")
SENTENCES = question(
    "The ions are free to move.",
    "The ions are held in their places.",
    "Electrons flow through “holes”.",
    "melts",
    "melts and boils",
)


@pytest.mark.parametrize(
    ("typed", "place"),
    [
        # letters
        ("a", 0), ("E", 4), (" b ", 1), ("c)", 2), ("(d)", 3), ("d.", 3), ("e:", 4),
        # numbers
        ("1", 0), ("5", 4), ("3)", 2), ("2.", 1), ("٢", 1),
        # words and their beginnings
        ("ionic", 0), ("IONIC", 0), ("metal", 1), ("polar molecular", 2), ("polar", 2), ("nonpolar  molecular", 3), ("co", 4),
        ("“ionic”", 0), ("'metallic'", 1),
    ],
)  # fmt: skip
def test_a_letter_a_number_or_a_unique_beginning_is_an_answer(typed: str, place: int) -> None:
    assert place_of(typed, CLASSES) == place


@pytest.mark.parametrize(("typed", "place"), [("the ions are f", 0), ("electrons", 2), ("melts", 3), ("melts a", 4)])
def test_an_option_whose_words_begin_another_is_meant_when_it_is_typed_whole(typed: str, place: int) -> None:
    assert place_of(typed, SENTENCES) == place


def told(typed: str, of: Question = CLASSES) -> str:
    with pytest.raises(FaultyInputError) as error:
        place_of(typed, of)
    return str(error.value)


@pytest.mark.parametrize(
    "typed", ["f", "z", "m", "0", "6", "9" * 5000, "²", "1.5", "-1", "%", "1a", "a b", "é", "\x1b[A", "x" * 100_000]
)
def test_what_is_no_answer_is_refused_with_what_is_accepted(typed: str) -> None:
    says = told(typed)
    assert "a to e and 1 to 5" in says
    assert says.isprintable()
    assert len(says) < 250


def test_a_slip_gets_the_nearest_option() -> None:
    assert "did you mean a) ionic?" in told("ionik")
    assert "did you mean d) nonpolar molecular?" in told("non-polar molecular")
    assert "did you mean b) The ions are held in their places?" in told("the ions are hled", SENTENCES)


def test_words_that_begin_several_options_are_not_guessed() -> None:
    says = told("the ions", SENTENCES)
    assert "a) The ions are free to move or b) The ions are held in their places" in says


@pytest.mark.parametrize(
    ("typed", "share"),
    [
        ("", None), ("   ", None), ("0", 0.0), ("100", 1.0), ("80", 0.8), ("80%", 0.8), ("80 %", 0.8), ("80 percent", 0.8),
        ("62.5", 0.625), ("62,5 %", 0.625), ("007", 0.07), ("1", 0.01),
    ],
)  # fmt: skip
def test_a_percentage_is_read_as_people_write_it(typed: str, share: float | None) -> None:
    assert certainty_of(typed) == share


@pytest.mark.parametrize(
    "typed", ["101", "100.1", "-5", "sure", "nan", "inf", "1e1", "8 0", "80 % sure", "9" * 5000, "0.8", "½", "\x07"]
)
def test_what_is_no_percentage_from_0_to_100_is_refused(typed: str) -> None:
    with pytest.raises(FaultyInputError) as error:
        certainty_of(typed)
    assert str(error.value).isprintable()
    assert len(str(error.value)) < 200


def test_a_share_is_not_taken_for_a_percentage() -> None:
    with pytest.raises(FaultyInputError, match="write 80"):
        certainty_of("0.8")
