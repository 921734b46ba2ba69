"""What the teacher gets of a quiz: the key of every paper, and why each answer is right or wrong."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from spotplate.cli.quiz_answers import letter
from spotplate.cli.views.words import WHO_DECIDES, count, listed
from spotplate.engine.quiz.question import Marked, Objection, Outcome, Question
from spotplate.engine.quiz.scoring import certainty_points
from spotplate.engine.quiz.versions import PaperVersion

from .model import SEEN, Block, Bullets, Heading, Sheet, Table, Text
from .question_paper import BRIER
from .teacher import SECRET

KEEP_SEED = "Keep the seed to yourself: whoever has it and the program has the answers."
_AGAINST = 2  # readings told against a wrong class
_FEW_WORDS = 40  # signs
_TENTHS = 10  # steps of the table of certainties
_JUDGED = re.compile(r"(?:No|Right|Right, but not supported|Accepted)\. ")
_SHORT = {
    Outcome.RIGHT: "right",
    Outcome.DEFENSIBLE: "also counts",
    Outcome.UNSUPPORTED: "counts, but the readings do not suffice",
    Outcome.WRONG: "wrong",
}


class AnswerContents(msgspec.Struct, frozen=True):
    """
    All that the answer sheet is made from.

    `marked` holds, question by question in the order of the quiz, each of its options marked; `labels` maps a substance to its
    vials, where the questions come from an unknowns set; `source` says in words what they come from, `again` is the command
    that asks them on the screen, `notes` say where a wish was not met.
    """

    title: str
    date: str
    questions: tuple[Question, ...]
    marked: tuple[tuple[Marked, ...], ...]
    versions: tuple[PaperVersion, ...]
    source: str
    seed: int
    again: str
    notes: tuple[str, ...]
    labels: Mapping[str, str]


def answer_sheet(contents: AnswerContents, foot: str) -> Sheet:
    """The key for all papers, how to score, and the answers one by one."""
    return Sheet(contents.title, "Answers to the quiz", tuple(_blocks(contents)), foot)


def _blocks(contents: AnswerContents) -> Iterator[Block]:
    yield Text(SECRET, warning=True)
    if contents.date:
        yield Text(contents.date)
    yield Text(f"{count(len(contents.questions), 'question')} {contents.source}, drawn with seed {contents.seed}. {KEEP_SEED}")
    if contents.again:
        yield Text(f"The same on the screen: {contents.again}")
    for note in contents.notes:
        yield Text(note, warning=True)
    yield from _key(contents)
    yield from _scoring(contents)
    yield Heading("The answers one by one", new_page=True)
    if len(contents.versions) > 1:
        papers = " / ".join(version.letter for version in contents.versions)
        yield Text(f"In the order of paper {contents.versions[0].letter}. Letters stand in the order of the papers {papers}.")
    for place in contents.versions[0].questions:
        yield from _answer(place, contents)
    yield Heading("Where this comes from")
    yield Text(
        "Questions and answers follow from the values of the reference table, most of which are from memory, and from the rule "
        f"base. Work through the quiz yourself before the lesson. {WHO_DECIDES}"
    )


# --- the key ----------------------------------------------------------------------------------------


def letter_of(option: int, place: int, version: PaperVersion) -> str:
    """The letter that an option of the quiz's question at `place` has on a paper."""
    return letter(version.options[place].index(option))


def name_of(place: int, version: PaperVersion) -> str:
    """The number that the quiz's question at `place` has on a paper: B3, or 3 where there is one paper for all."""
    return f"{version.letter}{version.questions.index(place) + 1}"


def _key(contents: AnswerContents) -> Iterator[Block]:
    papers = contents.versions
    yield Heading("Key")
    cells = [[_key_letters(place, version, contents) for place in version.questions] for version in papers]
    yield Table(
        "Letters that count as right",
        ("question", *(f"paper {version.letter}" if version.letter else "answer" for version in papers)),
        tuple((str(number), *row) for number, row in enumerate(zip(*cells, strict=True), 1)),
        widths=(0.8, *[1.0] * len(papers)) if len(papers) > 1 else (0.8, 5.0),
    )


def _key_letters(place: int, version: PaperVersion, contents: AnswerContents) -> str:
    found: dict[Outcome, list[str]] = {}
    for option, marked in enumerate(contents.marked[place]):
        found.setdefault(marked.outcome, []).append(letter_of(option, place, version))
    right = sorted(found.get(Outcome.RIGHT, []))
    also = sorted(found.get(Outcome.DEFENSIBLE, []) + found.get(Outcome.UNSUPPORTED, []))
    parts = [listed(right, "or")] if right else []
    if also:
        parts.append(f"also {listed(also, 'or')}" if right else listed(also, "or"))
    return ", ".join(parts)


def _scoring(contents: AnswerContents) -> Iterator[Block]:
    yield Heading("Marks")
    many = len(contents.questions)
    yield Bullets(
        (
            f"One mark for each letter of the key, {count(many, 'mark')} in all. Where the key has several letters, any one of "
            "them counts. “Also” marks an answer that chemists defend, or one that is right though the readings do not "
            "suffice for it; the answer tells which.",
            "No tick, or two ticks where one is asked for, counts as wrong.",
            f"Certainty, where it was given: {BRIER}, with the outcome 1 for a right answer and 0 for a wrong one (Brier score). "
            "Give the mean over the answers that told it beside the plain marks. Whoever says what they really believe gets the "
            "most in the long run; 50 % earns 0.75 either way.",
        )
    )
    sure = [tenth / _TENTHS for tenth in range(_TENTHS + 1)]
    yield Table(
        "What a certainty earns",
        ("certainty", *(f"{100 * each:.0f} %" for each in sure)),
        (
            ("right", *(f"{certainty_points(each, right=True):.2f}" for each in sure)),
            ("wrong", *(f"{certainty_points(each, right=False):.2f}" for each in sure)),
        ),
        widths=(1.5, *[1.0] * len(sure)),
    )


# --- one question -----------------------------------------------------------------------------------


def _answer(place: int, contents: AnswerContents) -> Iterator[Block]:
    question, marked = contents.questions[place], contents.marked[place]
    names = ", ".join(name_of(place, version) for version in contents.versions)
    yield Heading(f"Question {names} ({question.kind.value}, {question.difficulty.level.value})", 3)
    yield Text(question.says)
    if question.readings:
        yield Text(f"{SEEN}: {', '.join(f'{name} “{value}”' for name, value in question.readings.items())}.")
    yield Table(
        "Each answer",
        ("letter", "answer", "counts as", "why"),
        tuple(_option(place, option, contents) for option in contents.versions[0].options[place]),
        widths=(0.5 + 0.2 * len(contents.versions), 2.8 if _long(question) else 1.7, 1.0, 4.6),
    )
    yield Bullets(tuple(_behind(question, marked, contents)))


def _long(question: Question) -> bool:
    """Whether an option is longer than a few words, so that its column must be wider."""
    return any(len(option.says) > _FEW_WORDS for option in question.options)


def _option(place: int, option: int, contents: AnswerContents) -> tuple[str, str, str, str]:
    question, marked = contents.questions[place], contents.marked[place][option]
    on_papers = " / ".join(letter_of(option, place, version) for version in contents.versions)
    return on_papers, question.options[option].says, _SHORT[marked.outcome], _why(question, option, marked)


def _why(question: Question, option: int, marked: Marked) -> str:
    """The reply in short form, each sentence once; the word before the first sentence stands in a column of its own."""
    reply = marked.reply
    judged = _JUDGED.match(reply.opening)
    opening = reply.opening[judged.end() :] if judged else reply.opening
    parts = [opening]
    if (why := question.options[option].why) not in opening:
        parts.append(why)
    if marked.outcome is not Outcome.WRONG:
        parts.append(reply.contrast)
    if reply.against:
        parts.append(f"Against it: {'; '.join(map(_objection, reply.against[:_AGAINST]))}.")
    if reply.mix_up is not None:
        parts.append(f"Mix-up: “{reply.mix_up.says}”")
    return " ".join(dict.fromkeys(filter(None, parts)))


def _objection(item: Objection) -> str:
    would = f", where {item.would_show} would be expected" if item.would_show else ""
    return f"{item.reading} “{item.seen}”{would}"


def _behind(question: Question, marked: Sequence[Marked], contents: AnswerContents) -> Iterator[str]:
    """What holds for the question as a whole."""
    because = question.because or _particles(marked)
    if because and not any(because in option.why for option in question.options):
        yield f"Between the particles: {because}"
    yield from _reasons(marked)
    yield from _mix_ups(marked)
    yield from _decisive(question, marked)
    if question.substance and not names_substance(question):
        vials = contents.labels.get(question.substance, "")
        yield f"Behind it: {question.substance}{f' ({vials})' if vials else ''}."
    if question.difficulty.parts:
        yield f"Adds to the difficulty: {'; '.join(question.difficulty.parts)}."
    if sources := _sources(question, marked):
        yield f"{'Source' if len(sources) == 1 else 'Sources'}: {'; '.join(sources)}."


def _particles(marked: Sequence[Marked]) -> str:
    """The fullest account: replies leave out what they told already."""
    return max((each.reply.particles for each in marked), key=len)


def _reasons(marked: Sequence[Marked]) -> Iterator[str]:
    """Why the readings above speak against wrong answers, each reason once."""
    told: dict[str, dict[str, None]] = {}
    for each in marked:
        for item in each.reply.against[:_AGAINST]:
            if item.because:
                told.setdefault(item.reading, {})[item.because] = None
    for reading, reasons in told.items():
        yield f"Why “{reading}” counts: {' '.join(reasons)}"


def _mix_ups(marked: Sequence[Marked]) -> Iterator[str]:
    """The reply to each mix-up that a wrong answer shows."""
    shown = {each.reply.mix_up.says: each.reply.mix_up.reply for each in marked if each.reply.mix_up is not None}
    for says, reply in shown.items():
        yield f"To the mix-up “{says}”: {reply}"


def names_substance(question: Question) -> bool:
    """Whether the question itself names the substance behind it, as it is asked or in an option."""
    told = " ".join([question.says, *(option.says for option in question.options)])
    return question.substance.casefold() in told.casefold()


def _decisive(question: Question, marked: Sequence[Marked]) -> Iterator[str]:
    """The tests that settle it; where they differ, each with the wrong answers that it decides against."""
    against: dict[str, list[str]] = {}
    for each in marked:
        if each.reply.decisive:
            against.setdefault(each.reply.decisive, []).extend([each.chosen] if each.outcome is Outcome.WRONG else [])
    if question.decisive:
        yield f"The test that decides: {question.decisive}"
        return
    for test, answers in against.items():
        whom = f" against {listed(answers, 'or')}" if len(against) > 1 and answers else ""
        yield f"The test that decides{whom}: {test}"


def _sources(question: Question, marked: Sequence[Marked]) -> tuple[str, ...]:
    mix_ups = [each.reply.mix_up.source for each in marked if each.reply.mix_up is not None]
    of_replies = [source for each in marked for source in each.reply.sources]
    return tuple(dict.fromkeys((*question.sources, *of_replies, *mix_ups)))
