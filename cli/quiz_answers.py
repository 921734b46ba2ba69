"""What a learner types at a quiz: an answer by letter, number or words, and how sure they are."""

from __future__ import annotations

import re
import string

from spotplate.engine.quiz.question import Question
from spotplate.kb import Fault, FaultyInputError, nearest, shown

_LEAST_BEGINNING = 2  # letters; a single one that stands before no option is a slip, not the beginning of an answer
_LETTER = re.compile(r"\(?([a-z])[.):]?")
_CERTAINTY = re.compile(r"(\d{1,3})(?:[.,](\d{1,6}))? ?(?:%|percent|per cent)?")
_QUOTES = "“”\"'"


def letter(place: int) -> str:
    """The letter before the option at `place`, counted from 0."""
    return string.ascii_lowercase[place]


def place_of(text: str, question: Question) -> int:
    """
    The place, counted from 0, of the option that `text` means: its letter, its number, or words with which it alone begins.

    Raises
    ------
    FaultyInputError
        If it means none of them, or several
    """
    typed = _folded(text)
    options = [_folded(option.says) for option in question.options]
    if typed in options:
        return options.index(typed)
    if typed.rstrip(".):").isdecimal():
        number = int(typed.rstrip(".):")) if len(typed) < 10 else 0
        if 1 <= number <= len(options):
            return number - 1
        raise _fault(f"{shown(text)} is not among the answers; {_all_signs(question)} are.")
    if found := _LETTER.fullmatch(typed):
        place = string.ascii_lowercase.index(found[1])
        if place < len(options):
            return place
        raise _fault(f"{shown(text)} is not among the answers; {_all_signs(question)} are.")
    meant = [place for place, says in enumerate(options) if says.startswith(typed)] if len(typed) >= _LEAST_BEGINNING else []
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise _fault(
            f"{shown(text)} may mean {' or '.join(_told(question, place) for place in meant)}; write more, or its letter."
        )
    raise _fault(f"{shown(text)} is not among the answers{_near(typed, options, question)} {_all_signs(question)} are accepted.")


def certainty_of(text: str) -> float | None:
    """
    How sure somebody is, from 0 to 1 [-], from a percentage as they write it; None for an empty text.

    Raises
    ------
    FaultyInputError
        If it is no percentage from 0 to 100
    """
    typed = _folded(text)
    if not typed:
        return None
    found = _CERTAINTY.fullmatch(typed)
    if found is None:
        raise _fault(f"{shown(text)} is no percentage; a number from 0 to 100 is accepted.")
    percentage = float(f"{found[1]}.{found[2] or 0}")
    if percentage > 100:
        raise _fault(f"{shown(text)} is more than 100; a number from 0 to 100 is accepted.")
    if 0 < percentage < 1:
        raise _fault(f"{shown(text)} would be less than 1 %; write 80 if you are right four times in five.")
    return percentage / 100


def _near(typed: str, options: list[str], question: Question) -> str:
    """The option whose beginning is spelt most like what was typed."""
    beginnings = {says[: len(typed)]: place for place, says in reversed(list(enumerate(options)))}
    found = nearest(typed, beginnings) or nearest(typed, options)
    if not found:
        return ";"
    place = beginnings.get(found, options.index(found) if found in options else 0)
    return f"; did you mean {_told(question, place)}?"


def _told(question: Question, place: int) -> str:
    return f"{letter(place)}) {question.options[place].says.rstrip('.')}"


def _all_signs(question: Question) -> str:
    return f"a to {letter(len(question.options) - 1)} and 1 to {len(question.options)}"


def _fault(says: str) -> FaultyInputError:
    return FaultyInputError([Fault("", says)])


def _folded(text: str) -> str:
    return " ".join(text.casefold().split()).strip(_QUOTES).strip()
