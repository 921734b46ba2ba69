"""Loading what the quiz knows: mix-ups, particle-level reasons and published questions, checked against the knowledge base."""

from __future__ import annotations

import functools
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import TypeVar

from spotplate.kb.errors import Fault, FaultyInputError, not_accepted
from spotplate.kb.loading import condition_faults, load_knowledge, value_faults
from spotplate.kb.schema import KnowledgeBase
from spotplate.kb.strict_yaml import compose, read_into

from .schema import MixUp, MixUpExample, ParticleReason, PublishedQuestion, QuizKnowledge, SeenReading, Sign

_FILES = ("mix_ups", "particle_reasons", "published", "what_is_seen")
_FOLDER = Path(__file__).parent
# What is guessed at each kind of question that signs may speak of; the other kinds name a mix-up with each option.
CLASS_QUESTIONS = ("classify", "named", "published")
TEST_QUESTIONS = ("next test", "tell apart")
Entry = TypeVar("Entry", MixUp, ParticleReason, PublishedQuestion, SeenReading)


@functools.cache
def load_quiz() -> QuizKnowledge:
    """
    What the quiz knows; kept apart from the knowledge base, which every identification reads.

    Raises
    ------
    FaultyInputError
        If an entry speaks of what the knowledge base does not know, or is incomplete
    """
    texts = {name: (_FOLDER / f"{name}.yaml").read_text(encoding="utf-8") for name in _FILES}
    phrases = (_FOLDER / "phrases.yaml").read_text(encoding="utf-8")  # read where needed; questions depend on it all the same
    faults: list[Fault] = []
    quiz = QuizKnowledge(
        _read(MixUp, "mix_ups", texts, faults),
        _read(ParticleReason, "particle_reasons", texts, faults),
        _read(PublishedQuestion, "published", texts, faults),
        _read(SeenReading, "what_is_seen", texts, faults),
        f"{zlib.crc32((''.join(texts.values()) + phrases).encode()):08x}",
    )
    faults += quiz_faults(quiz, load_knowledge())
    if faults:
        raise FaultyInputError(faults)
    return quiz


def _read(kind: type[Entry], name: str, texts: dict[str, str], faults: list[Fault]) -> dict[str, Entry]:
    node = compose(texts[name], f"shipped:quiz/{name}.yaml")
    assert node is not None, name
    found: dict[str, Entry] = {}
    entries: tuple[Entry, ...] = read_into(tuple[kind, ...], node, f"kb/quiz/{name}.yaml")  # type: ignore[valid-type]
    for entry in entries:
        if entry.id in found:
            faults.append(Fault(f"kb/quiz/{name}.yaml", f"the id {entry.id!r} is used a second time."))
        found[entry.id] = entry
    return found


def quiz_faults(quiz: QuizKnowledge, base: KnowledgeBase) -> Iterable[Fault]:
    """Names that nothing defines, and questions without a right or a wrong answer."""
    for mix_up in quiz.mix_ups.values():
        yield from _mix_up_faults(mix_up, base, f"kb/quiz/mix_ups.yaml, {mix_up.id!r}")
    for reason in quiz.reasons.values():
        where = f"kb/quiz/particle_reasons.yaml, {reason.id!r}"
        yield from _unknown(reason.of, base.classes, "a class", where)
        yield from _unknown((*reason.subtypes, *reason.other_than), base.subtypes, "a subtype", where)
        yield from _unknown([reason.source.key], base.sources, "a source", where)
        yield from _unknown([wrong.mix_up for wrong in reason.wrong if wrong.mix_up], quiz.mix_ups, "a mix-up", where)
        for reading, values in reason.readings.items():
            for value in values:
                yield from value_faults(reading, value, base, where)
        if not reason.wrong:
            yield Fault(where, "there is no wrong reason to choose.")
        if reason.asks.count("{substance}") != 1:
            yield Fault(where, "asks must name {substance} once.")
    for question in quiz.published.values():
        where = f"kb/quiz/published.yaml, {question.id!r}"
        yield from _unknown(question.classes, base.classes, "a class", where)
        yield from _unknown([question.source.key], base.sources, "a source", where)
        for reading, value in question.readings.items():
            yield from value_faults(reading, value, base, where)
        if bool(question.readings) == bool(question.substance):
            yield Fault(where, "give either readings or substance.")

    for seen in quiz.seen.values():
        yield from _seen_faults(seen, base, f"kb/quiz/what_is_seen.yaml, {seen.id!r}")


def _seen_faults(seen: SeenReading, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    if faults := _unknown([seen.id], base.readings, "a reading", where):
        yield from faults
        return
    yield from _unknown([seen.source.key], base.sources, "a source", where)
    words = base.readings[seen.id].words()
    if seen.asks and (lacking := [word for word in words if word not in (value.is_ for value in seen.values)]):
        yield Fault(where, f"predictions of it are asked, so nothing may be left out; missing: {', '.join(lacking)}.")
    for value in seen.values:
        at = f"{where}, {value.is_!r}"
        yield from _unknown((value.is_, *value.beside), words, "a value", at)
        if seen.asks and not value.would:
            yield Fault(at, "say what it would fit (would), since predictions of this reading are asked.")
        for reason in value.because:
            yield from _unknown(reason.of, base.classes, "a class", at)
            yield from _unknown(filter(None, (*reason.subtypes, *reason.other_than)), base.subtypes, "a subtype", at)


def _mix_up_faults(mix_up: MixUp, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    yield from _unknown([mix_up.source.key], base.sources, "a source", where)
    if [answer.right for answer in mix_up.follow_up.answers].count(True) != 1:
        yield Fault(f"{where}, follow_up", "exactly one answer must be right.")
    if bool(mix_up.signs) != bool(mix_up.examples):
        yield Fault(where, "signs need examples, and examples need signs.")
    for sign in mix_up.signs:
        yield from _sign_faults(sign, base, f"{where}, signs")
    for example in mix_up.examples:
        yield from _example_faults(example, base, f"{where}, examples")


def _sign_faults(sign: Sign, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    yield from _unknown([sign.thumb] if sign.thumb else [], base.rules_of_thumb, "a rule of thumb", where)
    yield from _unknown((*sign.not_made, *sign.asked), base.readings, "a reading", where)
    yield from _unknown(sign.truth, base.classes, "a class", where)
    yield from _unknown((*sign.subtypes, *sign.other_than), base.subtypes, "a subtype", where)
    yield from _guess_faults(sign.questions, sign.guess, sign.asked, base, where)
    yield from _right_faults(sign.right, sign.asked, base, where)
    if sign.thumb and set(sign.questions) - set(CLASS_QUESTIONS):
        yield Fault(where, "a rule of thumb jumps to a class, which these questions do not ask for.")
    for condition in (*sign.when.all, *sign.when.any, *sign.when.none):
        yield from condition_faults(condition, base, where)
        if condition.fact:
            yield Fault(where, f"{condition.fact!r} is a fact; a sign goes by readings alone.")
        if condition.reading in sign.not_made:
            yield Fault(where, f"{condition.reading!r} cannot both be shown and not be made.")


def _example_faults(example: MixUpExample, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    yield from _unknown([example.truth] if example.truth else [], base.classes, "a class", where)
    yield from _unknown([example.subtype] if example.subtype else [], base.subtypes, "a subtype", where)
    asked = (example.asked,) if example.asked else ()
    yield from _unknown(asked, base.readings, "a reading", where)
    yield from _guess_faults((example.question,), (example.guess,), asked, base, where)
    yield from _right_faults((example.right,) if example.right else (), asked, base, where)
    for reading, value in example.readings.items():
        yield from value_faults(reading, value, base, where)


def _guess_faults(
    questions: tuple[str, ...], guesses: tuple[str, ...], asked: tuple[str, ...], base: KnowledgeBase, where: str
) -> Iterable[Fault]:
    """Guesses that cannot be made at questions of these kinds."""
    if not questions:
        yield Fault(where, "name the kinds of question.")
    if bool(asked) != ("predict" in questions):
        yield Fault(where, "asked belongs to predict, and predict needs it.")
    for question in questions:
        if question in CLASS_QUESTIONS:
            yield from _unknown(guesses, base.classes, "a class", where)
        elif question in TEST_QUESTIONS:
            yield from _unknown(guesses, base.tests, "a bench test", where)
        elif question == "misread":
            yield from _unknown(guesses, base.readings, "a reading", where)
        elif question == "predict":
            yield from _unknown(guesses, _values(asked, base), f"a value of {' or '.join(asked)}", where)
        else:
            kinds = (*CLASS_QUESTIONS, *TEST_QUESTIONS, "misread", "predict")
            yield Fault(where, not_accepted(question, "a kind of question whose guesses show mix-ups", kinds))


def _right_faults(right: tuple[str, ...], asked: tuple[str, ...], base: KnowledgeBase, where: str) -> Iterable[Fault]:
    if right and not asked:
        yield Fault(where, "right belongs to asked: it is what the substance shows of that reading.")
    elif right:
        yield from _unknown(right, _values(asked, base), f"a value of {' or '.join(asked)}", where)


def _values(readings: tuple[str, ...], base: KnowledgeBase) -> list[str]:
    return [word for reading in readings if reading in base.readings for word in base.readings[reading].words()]


def _unknown(names: Iterable[str], known: Iterable[str], kind: str, where: str) -> list[Fault]:
    known = tuple(known)
    return [Fault(where, not_accepted(name, kind, known)) for name in names if name not in known]
