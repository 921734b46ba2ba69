"""A quiz in a real terminal: lines only, at every width, with and without colour, broken off and gone on with."""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("needs a POSIX terminal", allow_module_level=True)

from bench_terminal import in_one_line
from quiz_terminal import QuizTerminal, kept, plain_quiz, right, wrong

from spotplate.cli.quiz_dialogue import held_back

SEED, ASKED = plain_quiz()
QUIZ = ("--seed", str(SEED), "--questions", "3", "--kind", "classify")
SURE = "How sure are you, in %? (Enter to leave it out)"


@pytest.mark.parametrize("form", ["without colour", "with colour", "plain"])
@pytest.mark.parametrize("columns", [60, 80, 120])
def test_a_whole_quiz_stays_within_the_terminal_and_draws_nothing_over(progress: Path, columns: int, form: str) -> None:
    options = ("--plain",) if form == "plain" else ()
    with QuizTerminal(*QUIZ, *options, "--progress", progress, columns=columns, colour=form == "with colour") as quiz:
        for number, (question, answer) in enumerate(zip(ASKED, (wrong, right, wrong), strict=True), 1):
            assert quiz.asked == "Your answer:"
            quiz.answer("help")
            quiz.answer(answer(question))
            assert quiz.asked == SURE
            shown = quiz.answer("60") if number < 3 else quiz.last_answer("60")
            assert f"\n{'Right' if answer is right else 'Wrong'}\n" in shown
        assert "Score: 1 of 3 right" in shown
        assert quiz.exit_code == 0
        # Green and red for right and wrong, and the words beside them in any case.
        assert ("\x1b[1;32m" in quiz.said, "\x1b[1;31m" in quiz.said) == (form == "with colour",) * 2
    assert [answer.right for answer in kept(progress)] == [False, True, False]


def test_an_answer_is_kept_before_its_reply_is_shown(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress) as quiz:
        for number, question in enumerate(ASKED[:2], 1):
            quiz.answers(right(question), "90")
            assert len(kept(progress)) == number
        quiz.child.kill(signal.SIGKILL)
    assert len(kept(progress)) == 2


def test_ctrl_c_at_a_question_keeps_every_answer(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress, columns=60) as quiz:
        quiz.answers(right(ASKED[0]), "90")
        shown = quiz.press("c")
        assert "Stopped. Every answer is kept for the learner “me”." in in_one_line(shown)
        assert "Traceback" not in shown
        assert quiz.exit_code == 130
    assert len(kept(progress)) == 1


def test_ctrl_c_at_the_certainty_keeps_the_answer_without_it(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress) as quiz:
        quiz.answers(right(ASKED[0]), "90", wrong(ASKED[1]))
        assert quiz.asked == SURE
        quiz.press("c")
        assert quiz.exit_code == 130
    assert [(answer.right, answer.sure) for answer in kept(progress)] == [(True, 0.9), (False, None)]


def test_ctrl_c_before_any_answer_says_nothing_of_keeping(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress) as quiz:
        shown = quiz.press("c")
        assert shown.rstrip().endswith("Stopped.")
        assert quiz.exit_code == 130
    assert not progress.exists()


@pytest.fixture
def heeded_ctrl_c() -> Iterator[None]:
    """Ctrl-C as Python heeds it, even where the tests run in the background of a script, which ignores it."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


@pytest.mark.usefixtures("heeded_ctrl_c")
def test_ctrl_c_waits_until_an_answer_is_kept_and_a_second_one_does_not_wait() -> None:
    done: list[str] = []

    def keep(presses: int) -> None:
        with held_back():
            for _ in range(presses):
                os.kill(os.getpid(), signal.SIGINT)
            done.append(f"kept in spite of {presses}")

    for presses in (1, 2):
        with pytest.raises(KeyboardInterrupt):
            keep(presses)
    assert done == ["kept in spite of 1"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_ctrl_d_ends_the_quiz_with_the_score(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress) as quiz:
        quiz.answers(right(ASKED[0]), "")
        shown = quiz.press("d")
        assert "Score: 1 of 1 right" in shown
        assert quiz.exit_code == 0


def test_what_is_not_understood_is_asked_again_within_the_width(progress: Path) -> None:
    with QuizTerminal(*QUIZ, "--progress", progress, columns=60) as quiz:
        assert "did you mean a) ionic?" in in_one_line(quiz.answer("ionik"))
        assert "a to f and 1 to 6" in in_one_line(quiz.answer("z"))
        assert "Please answer, or type “skip” or “help”." in quiz.answer("")
        assert "a to f and 1 to 6" in in_one_line(quiz.answer("\x1b[A"))  # an arrow key
        assert "a to f and 1 to 6" in in_one_line(quiz.answer_bytes(b"\xff"))
        assert quiz.asked == "Your answer:"
        quiz.answer("a")
        assert "is no percentage" in in_one_line(quiz.answer("quite"))
        assert quiz.asked == SURE
    assert not kept(progress)


def test_trouble_with_progress_is_told_within_the_width(progress: Path) -> None:
    (progress.parent / f".{progress.name}.lock").mkdir()
    with QuizTerminal(*QUIZ, "--progress", progress, columns=60) as quiz:
        quiz.answers(right(ASKED[0]), "")
        said = in_one_line(quiz.said)
        assert said.count("The quiz goes on.") == 1
        quiz.answers(right(ASKED[1]), "")
        assert in_one_line(quiz.said).count("The quiz goes on.") == 1
        assert "2 answers of this quiz could not be kept." in in_one_line(quiz.last_answer("stop"))
