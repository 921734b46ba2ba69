"""Screens of a quiz: a question, the reply to a guess, and the score."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.cli.quiz_answers import letter
from spotplate.engine.quiz.practice import Answered, Weakness
from spotplate.engine.quiz.question import Kind, Marked, Objection, Outcome, Question, Reply
from spotplate.engine.quiz.scoring import CERTAINTY_RULE, certainty_score, plain_score

from .page import Block, Heading, Item, Paragraph
from .words import count, listed

KINDS = {
    Kind.CLASSIFY: "the class from readings",
    Kind.NAMED: "the class of a named substance",
    Kind.NEXT_TEST: "the next test",
    Kind.MISREAD: "the misread reading",
    Kind.PREDICT: "what would be seen",
    Kind.EXPLAIN: "why that is seen",
    Kind.TELL_APART: "telling two apart",
    Kind.EXCEPTION: "an exception",
    Kind.MIX_UP: "a usual mix-up",
    Kind.PUBLISHED: "from an open textbook",
}
_OUTCOMES = {
    Outcome.RIGHT: ("Right", "good"),
    Outcome.DEFENSIBLE: ("Accepted", "good"),
    Outcome.UNSUPPORTED: ("Right, but not supported", "open"),
    Outcome.WRONG: ("Wrong", "bad"),
}
_SETTLES = "The test that settles it"
_DECISIVE = {Kind.NEXT_TEST: "How it is done", Kind.MISREAD: "How to make sure"}
_OPENINGS = ("Right, but not supported.", "Right.", "Accepted.", "No.")  # said by the heading already


def opening_page(seed: int, notes: Sequence[str], number: int, *, due: int, kept: str) -> list[Block]:
    """Before the first question: the seed, what is due, which wishes could not be met, and what is `kept`."""
    page: list[Block] = [Heading(f"A quiz of {count(number, 'question')}")]
    if due:
        comes = "comes" if due == 1 else "come"
        page.append(Paragraph(f"Seed {seed}; {count(due, 'question')} that you are due to practise {comes} first."))
    else:
        page.append(Paragraph(f"Seed {seed}: the same seed gives the same quiz."))
    page += [Paragraph(note) for note in notes]
    page.append(Paragraph(kept))
    page.append(Paragraph("Answer by letter, number or words; “help” tells what else you can type.", "quiet"))
    return page


def question_page(question: Question, title: str) -> list[Block]:
    """A question with its readings and options; `title` says which one it is."""
    page: list[Block] = [
        Heading(f"{title}: {KINDS[question.kind]}"),
        Paragraph(f"Difficulty: {question.difficulty.level}.", "quiet"),
        Paragraph(question.says),
    ]
    page += [Paragraph(f"{reading}: {seen}", indent=4) for reading, seen in question.readings.items()]
    if question.readings:
        page.append(Paragraph(""))
    page += [Item(f"{letter(place)})", option.says, indent=2) for place, option in enumerate(question.options)]
    return page


def told_difficulty(question: Question) -> tuple[str, ...]:
    """What adds to the difficulty, for after the answer: before it, “most of its class show something else” would be a hint."""
    return question.difficulty.parts


def reply_page(marked: Marked, question: Question | None = None) -> list[Block]:
    """The reply to a guess, part by part; with the question, right answers are told with their letters."""
    reply = marked.reply
    heading, style = _OUTCOMES[marked.outcome]
    page: list[Block] = [Heading(heading, style)]
    said = next((word for word in _OPENINGS if reply.opening.startswith(word)), "")
    if opening := reply.opening.removeprefix(said).strip():
        page.append(Paragraph(opening))
    if marked.outcome is Outcome.WRONG and not any(says in opening for says in marked.right):
        page.append(Paragraph(f"Right answer{'' if len(marked.right) == 1 else 's'}: {_right(marked.right, question)}"))
    page += _against(reply.against, marked.chosen)
    if reply.expected:
        page.append(Heading(f"Had it been {_quoted(marked.chosen)}, you would rather have seen"))
        page += [Item("-", says, indent=2) for says in reply.expected]
    for heading, says in (
        ("Between the particles", _particles(marked)),
        ("Why the right answer, and not yours" if marked.outcome is Outcome.WRONG else "What speaks for it", reply.contrast),
        (_DECISIVE.get(question.kind, _SETTLES) if question else _SETTLES, reply.decisive),
    ):
        if says:
            page += [Heading(heading), Paragraph(says)]
    page += [Paragraph(f"source: {source}", "quiet") for source in reply.sources]
    if question and (parts := told_difficulty(question)):
        page.append(Paragraph(f"Adds to the difficulty: {'; '.join(parts)}.", "quiet"))
    page += _mix_up(reply)
    return page


def help_page(words: Sequence[tuple[str, str]]) -> list[Block]:
    return [
        Heading("What you can type"),
        Item("a, 1, ionic:", "an answer: its letter, its number, or words with which it alone begins", indent=2),
        Item("80, 80 %:", "how sure you are, where that is asked", indent=2),
        *(Item(f"{word}:", does, indent=2) for word, does in words),
    ]


def _against(objections: Sequence[Objection], chosen: str) -> list[Block]:
    if not objections:
        return []
    page: list[Block] = [Heading(f"What speaks against {_quoted(chosen)}, the weightiest first")]
    for at, objection in enumerate(objections, 1):
        page.append(Item(f"{at}.", f"{objection.reading}: {objection.seen}", indent=2))
        if objection.would_show:
            page.append(Paragraph(f"would have shown: {objection.would_show}", indent=5))
        if objection.because:
            page.append(Paragraph(objection.because, indent=5))
    return page


def _particles(marked: Marked) -> str:
    """The particle-level reason, unless it is the right answer itself, or the reply to the mix-up, and so told beside it."""
    reply = marked.reply
    told = [*marked.right, reply.mix_up.reply if reply.mix_up else ""]
    return "" if reply.particles.rstrip(".") in [says.rstrip(".") for says in told] else reply.particles


def _mix_up(reply: Reply) -> list[Block]:
    if reply.mix_up is None:
        return []
    return [
        Heading(f"This usually is the mix-up: {_quoted(reply.mix_up.says)}"),
        Paragraph(reply.mix_up.reply),
        Paragraph(f"source: {reply.mix_up.source}", "quiet"),
    ]


def _right(right: Sequence[str], question: Question | None) -> str:
    letters = {option.says: f"{letter(place)}) " for place, option in enumerate(question.options)} if question else {}
    told = " or ".join(f"{letters.get(says, '')}{says.rstrip('.')}" for says in right)
    return f"{told}."


def _quoted(says: str) -> str:
    return f"“{says}”"


# --- the score -------------------------------------------------------------------------------------


class Standing(msgspec.Struct, frozen=True):
    """
    Where a learner stands beyond one quiz, as far as it may be told.

    `weak` are the weakest points; `due` counts items that are due now, within a day, within a week, and later; None
    where nothing is kept. `kept` says what is kept and where, or that nothing is.
    """

    weak: tuple[tuple[str, Weakness], ...] = ()
    due: tuple[int, int, int, int] | None = None
    kept: str = ""


class Beside(msgspec.Struct, frozen=True):
    """What the plain score does not tell: how many answers were to follow-up questions, and how many were skipped."""

    follow_ups: int = 0
    skipped: int = 0


def score_page(
    answers: Sequence[Answered], beside: Beside, mix_ups: Mapping[str, str], standing: Standing | None = None
) -> list[Block]:
    """The score so far, or with `standing` at the end; `mix_ups` tells what those that can show say."""
    plain = plain_score(answers)
    if not plain.answered:
        page: list[Block] = [Heading("No question was answered" if standing else "No question is answered yet")]
    else:
        page = [Heading(f"Score: {plain.right} of {plain.answered} right")]
    if beside.follow_ups:
        page.append(Paragraph(f"{count(beside.follow_ups, 'follow-up question')} among them."))
    if beside.skipped:
        page.append(Paragraph(f"Skipped: {beside.skipped}."))
    page += _outcomes(answers) + _certainty(answers)
    if standing is not None:
        page += _shown_mix_ups(answers, mix_ups) + _weak_points(standing.weak) + _when_due(standing.due)
        if standing.kept:
            page.append(Paragraph(standing.kept, "quiet"))
    return page


def _outcomes(answers: Sequence[Answered]) -> list[Block]:
    """Right answers with a reservation, and follow-up questions, counted in words."""
    told = [
        (Outcome.DEFENSIBLE, "accepted as defensible"),
        (Outcome.UNSUPPORTED, "right, though the readings do not suffice"),
    ]
    counted = [(sum(answer.outcome is outcome for answer in answers), says) for outcome, says in told]
    parts = [f"{number} {says}" for number, says in counted if number]
    return [Paragraph(f"Of the right ones: {'; '.join(parts)}.")] if parts else []


def _certainty(answers: Sequence[Answered]) -> list[Block]:
    score = certainty_score(answers)
    if score is None:
        return []
    told = count(score.answered, "answer") + " with a certainty"
    rule = CERTAINTY_RULE.removeprefix("Certainty score: ")
    return [
        Heading(f"Certainty score: {score.score:.2f} of 1"),
        Paragraph(f"{told}: you said {100 * score.said:.0f} % on average, and {100 * score.right:.0f} % were right."),
        Paragraph(f"{rule[0].upper()}{rule[1:]}", "quiet"),
    ]


def _shown_mix_ups(answers: Sequence[Answered], mix_ups: Mapping[str, str]) -> list[Block]:
    shown = Counter(answer.mix_up for answer in answers if answer.mix_up)
    if not shown:
        return []
    page: list[Block] = [Heading("Mix-ups that showed")]
    for name, times in shown.most_common():
        again = f" ({times} times)" if times > 1 else ""
        page.append(Item("-", f"{_quoted(mix_ups.get(name, name))}{again}", indent=2))
    return page


def _weak_points(weak: Sequence[tuple[str, Weakness]]) -> list[Block]:
    if not weak:
        return []
    page: list[Block] = [Heading("Worth practising")]
    page += [Item("-", f"{what}: {found.right} of {found.answered} right", indent=2) for what, found in weak]
    return page


def _when_due(due: tuple[int, int, int, int] | None) -> list[Block]:
    if due is None or not any(due):
        return []
    times = ("now", "within a day", "within a week", "later")
    told = [f"{number} {when}" for number, when in zip(due, times, strict=True) if number]
    return [Heading("When it comes again"), Paragraph(f"Due to practise: {listed(told)}.")]
