"""A quiz in a terminal of its own, and the same quiz as the engine makes it, so that right and wrong answers are known."""

from __future__ import annotations

import contextlib
import functools
import json
import string
import subprocess
from pathlib import Path
from typing import Any

from bench_terminal import BenchTerminal
from running import PROGRAM, environment_with, run_once

from spotplate.engine.files.progress import ProgressFile
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import table_material
from spotplate.engine.quiz.practice import Answered
from spotplate.engine.quiz.question import Kind, Outcome, Question
from spotplate.engine.quiz.quiz import Wanted, make_quiz

PROMPT = r"(?:^|\n)(?:Your answer: |How sure are you, in %\? \(Enter to leave it out\) |A question to see whether that is cured\? \(Enter = yes\) )$"


class QuizTerminal(BenchTerminal):
    """`spotplate quiz` in a terminal, with its last prompt in `asked`."""

    command = "quiz"
    prompt = PROMPT

    @property
    def asked(self) -> str:
        return self.said.replace("\r\n", "\n").split("\n")[-1].rstrip()


@functools.cache
def questions(seed: int, number: int, *kinds: Kind) -> tuple[Question, ...]:
    """The questions that `spotplate quiz` asks with this seed."""
    return make_quiz(Wanted(number, seed, kinds), table_material()).questions


def right(question: Question) -> str:
    """The letter of the foremost right answer."""
    for place, sign in enumerate(string.ascii_letters[: len(question.options)]):
        if mark(question, place, table_material()).outcome is Outcome.RIGHT:
            return sign
    raise LookupError(question.item.key)


def wrong(question: Question) -> str:
    """The letter of an answer that no chemist defends, and that shows no mix-up."""
    return _wrong(question, shows_mix_up=False)


def mixed_up(question: Question) -> str:
    """The letter of a wrong answer that shows a mix-up."""
    return _wrong(question, shows_mix_up=True)


def _wrong(question: Question, *, shows_mix_up: bool) -> str:
    for place, sign in enumerate(string.ascii_letters[: len(question.options)]):
        marked = mark(question, place, table_material())
        if marked.outcome is Outcome.WRONG and (marked.reply.mix_up is not None) == shows_mix_up:
            return sign
    raise LookupError(question.item.key)


@functools.cache
def plain_quiz() -> tuple[int, tuple[Question, ...]]:
    """The seed and the questions of a quiz of three in which a right answer is simply right, and a wrong one no mix-up."""
    for seed in range(1, 50):
        asked = questions(seed, 3, Kind.CLASSIFY)
        with contextlib.suppress(LookupError):
            for question in asked:
                right(question)
                wrong(question)
            return seed, asked
    raise LookupError("every quiz is awkward")


@functools.cache
def quiz_with_a_mix_up() -> tuple[int, tuple[Question, ...]]:
    """The seed and the questions of a short quiz whose first question has an answer that shows a mix-up."""
    for seed in range(1, 50):
        asked = questions(seed, 2, Kind.CLASSIFY)
        with contextlib.suppress(LookupError):
            mixed_up(asked[0])
            wrong(asked[1])
            return seed, asked
    raise LookupError("no quiz shows a mix-up")


def kept(path: Path, learner: str = "me") -> tuple[Answered, ...]:
    """The answers in a progress file."""
    return ProgressFile(path).answers(learner)


def piped(
    *arguments: str | Path, lines: tuple[str, ...] = (), columns: int = 80, **environment: str
) -> subprocess.CompletedProcess[str]:
    """A quiz whose lines come from a pipe."""
    return subprocess.run(
        [*PROGRAM, "quiz", *map(str, arguments)],
        input="".join(f"{line}\n" for line in lines),
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment_with(COLUMNS=str(columns), **environment),
        timeout=120,
        check=False,
    )


def token_of(place: int, *quiz: str) -> str:
    """The token of the question at this place of a quiz asked for as JSON."""
    return str(json.loads(run_once("quiz", "--json", *quiz).stdout)["questions"][place]["token"])


def marked(*arguments: str) -> dict[str, Any]:
    """What `spotplate mark` says as JSON."""
    data = json.loads(run_once("mark", "--json", *arguments).stdout)
    assert isinstance(data, dict)
    return data
