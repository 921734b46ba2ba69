"""
What students get of a quiz: the question paper, made from what is asked and what may be ticked, and nothing else.

Nothing in this module ever sees which option is right. That is what keeps the answers out of the paper, its source and its name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from spotplate.cli.quiz_answers import letter
from spotplate.cli.views.words import WHO_DECIDES

from .model import Block, Choice, FillIn, Sheet, Text

BRIER = "1 − (certainty − outcome)²"
SCORED = (
    f"It earns {BRIER}, where the outcome is 1 for a right answer and 0 for a wrong one (80\N{NO-BREAK SPACE}% is 0.8), so that "
    "saying what you really believe pays best."
)
NO_BENCH_WORK = f"This is done at the desk. No test named here is tried out for it. {WHO_DECIDES}"
_LINES = 2  # lines to write a reason on


class Posed(msgspec.Struct, frozen=True):
    """All of a question that a paper is made from; `level` tells in a word how hard it is."""

    says: str
    readings: tuple[tuple[str, str], ...]
    options: tuple[str, ...]
    level: str


class Paper(msgspec.Struct, frozen=True):
    """One paper: its title, its date, its version (a letter, or empty when there is one for all), and its questions in order."""

    title: str
    date: str
    letter: str
    questions: tuple[Posed, ...]


def question_paper(paper: Paper, version: str) -> Sheet:
    """The paper as a sheet."""
    subtitle = f"Quiz, paper {paper.letter}" if paper.letter else "Quiz"
    return Sheet(paper.title, subtitle, tuple(_blocks(paper)), f"spotplate {version}")


def letters(options: Sequence[str]) -> tuple[tuple[str, str], ...]:
    """Each option with the letter that stands before it."""
    return tuple((letter(place), option) for place, option in enumerate(options))


def _blocks(paper: Paper) -> Iterator[Block]:
    yield FillIn((("Name", ""), ("Group", ""), ("Date", paper.date)))
    yield Text(
        "Tick one answer to each question, unless it says otherwise. If you like, write down how sure you are that it is right, "
        f"from 0 to 100\N{NO-BREAK SPACE}%. {SCORED}"
    )
    yield Text(NO_BENCH_WORK)
    for number, posed in enumerate(paper.questions, 1):
        yield Choice(f"{paper.letter}{number}", posed.level, posed.says, posed.readings, letters(posed.options), _LINES)
