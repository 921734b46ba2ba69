"""A learner's progress as a page and as JSON data."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import msgspec

from spotplate.engine.files.progress import ProgressFile
from spotplate.engine.quiz.practice import Answered, Due, Weakness, due_items, schedule, weaknesses
from spotplate.engine.quiz.question import Item as QuizItem
from spotplate.engine.quiz.question import Kind
from spotplate.engine.quiz.scoring import CERTAINTY_RULE, SaidAndRight, calibration_table, certainty_score, plain_score
from spotplate.kb import load_knowledge, printable, shown
from spotplate.kb.quiz import load_quiz

from .page import Bar, Block, Heading, Item, Paragraph, Table
from .words import count, listed

_MOST_DUE = 5  # items that are named
_MOST_ROWS = 8  # of a table of weaknesses; --json has all
_DAY = datetime.timedelta(days=1)
_AHEAD = {"within 1 day": 1, "within 7 days": 7}  # [d]
_ORDER = (
    "Weakest first, by (right + 1) ÷ (answered + 2), so that one wrong answer weighs less than ten. An answer that is "
    "defensible, or right without enough support, counts as right."
)
_SAME = 0.05  # [-] a certainty so near the share that was right is called just as sure
_FEW = 10  # answers of which little can be said


# --- page ------------------------------------------------------------------------------------------


def progress_page(
    path: Path, learner: str, others: Sequence[str], answers: Sequence[Answered], now: datetime.datetime
) -> list[Block]:
    """What is due, the scores, and what is weak."""
    score = plain_score(answers)
    page: list[Block] = [Heading(f"Progress of “{learner}”: {count(score.answered, 'answer')}, {score.right} right")]
    if answers:
        page += [*_due_part(answers, now), *_score_part(answers), *_weak_part(answers)]
    else:
        page.append(Paragraph(f"No answers of “{learner}” are kept yet."))
    page += [Heading("Where it is kept"), Paragraph(f"{printable(str(path))}, on this machine alone.", indent=2)]
    if others:
        page.append(Paragraph(f"Others with answers in it: {listed([shown(name, 100) for name in others])}.", indent=2))
    return page


def _due_part(answers: Sequence[Answered], now: datetime.datetime) -> list[Block]:
    plan, pressing = schedule(answers), due_items(answers, now)
    page: list[Block] = [Heading(f"Due now: {count(len(pressing), 'item')}", "open" if pressing else "good")]
    page += [Item(f"{place}.", _due_words(item, plan[item.key]), indent=2) for place, item in enumerate(pressing[:_MOST_DUE], 1)]
    if len(pressing) > _MOST_DUE:
        page.append(Paragraph(f"and {len(pressing) - _MOST_DUE} more.", indent=2))
    later = [due for due in plan.values() if not due.is_due(now)]
    rows, before = [("now", len(pressing))], 0
    for words, days in _AHEAD.items():
        until = sum(due.is_due(now + days * _DAY) for due in later)
        rows.append((words, until - before))
        before = until
    rows.append(("later", len(later) - before))
    page.append(Table(("due", "items", ""), tuple((words, str(number), Bar(number / len(plan))) for words, number in rows)))
    if later:
        page.append(Paragraph(f"Next: {_item_words(later[0].item)}, {_until(later[0].due - now)}.", indent=2))
    return page


def _due_words(item: QuizItem, due: Due) -> str:
    """An item and why it is due."""
    if due.interval_days:
        why = f"not asked for {count(due.interval_days, 'day')} or more"
    elif item.kind is Kind.MIX_UP:
        why = "shown by a guess, and its question not answered rightly since"
    else:
        why = "answered wrongly"
    return f"{_item_words(item)} ({why})"


def _item_words(item: QuizItem) -> str:
    """An item by its kind and topic; by what is asked or said, where the topic is but the short name of that."""
    if says := _said_by_topic(item):
        return f"{item.kind.value} “{says.rstrip('.')}”"
    return f"{item.kind.value}: {item.topic}"


def _said_by_topic(item: QuizItem) -> str:
    """What a topic stands for, empty where it says so itself, or where this version no longer knows it."""
    match item.kind:
        case Kind.MIX_UP:
            return _mix_up_words(item.topic)
        case Kind.EXPLAIN:
            reason = load_quiz().reasons.get(item.topic)
            return reason.asks.format(substance="…") if reason else ""
        case Kind.PUBLISHED:
            published = load_quiz().published.get(item.topic)
            return published.asks if published else ""
        case Kind.EXCEPTION:
            thumb = load_knowledge().rules_of_thumb.get(item.topic)
            return thumb.says if thumb else ""
        case _:
            return ""


def _mix_up_words(mix_up: str) -> str:
    """The thought itself; its short name where this version no longer knows it."""
    known = load_quiz().mix_ups.get(mix_up)
    return known.says if known else mix_up


def _until(wait: datetime.timedelta) -> str:
    hours = round(wait / datetime.timedelta(hours=1))
    return f"in {count(hours, 'hour')}" if hours < 36 else f"in {count(round(wait / _DAY), 'day')}"


def _score_part(answers: Sequence[Answered]) -> list[Block]:
    plain, certain = plain_score(answers), certainty_score(answers)
    rows = [("plain", str(plain.answered), _percent(plain.share or 0), Bar(plain.share or 0))]
    if certain:
        rows.append(("certainty", str(certain.answered), f"{certain.score:.2f}", Bar(certain.score)))
    page: list[Block] = [Heading("Scores"), Table(("score", "answers", "", " "), tuple(rows))]
    if not certain:
        page.append(Paragraph("No certainty was stated yet.", indent=2))
        return page
    difference = certain.said - certain.right
    found = (
        "just as sure as right" if abs(difference) <= _SAME else "surer than right" if difference > 0 else "less sure than right"
    )
    page += [
        Paragraph(f"{CERTAINTY_RULE} Always saying 50 % earns 0.75.", indent=2),
        Paragraph(
            f"On average you said {_percent(certain.said)} and were right in {_percent(certain.right)}: {found}."
            + (" These are few answers to go by." if certain.answered < _FEW else ""),
            indent=2,
        ),
        Heading("How sure you said you were, and how often you were right"),
        Table(("said", "answers", "right in", ""), tuple(map(_said_row, calibration_table(answers)))),
    ]
    return page


def _said_row(row: SaidAndRight) -> tuple[str, str, str, Bar]:
    return f"{100 * row.low:.0f}–{100 * row.high:.0f} %", str(row.answered), _percent(row.share), Bar(row.share)


def _weak_part(answers: Sequence[Answered]) -> list[Block]:
    weak = weaknesses(answers)
    page: list[Block] = []
    for heading, found in (("Classes", weak.classes), ("Exceptions", weak.exceptions), ("Kinds of question", weak.kinds)):
        if found:
            page += [
                Heading(heading),
                Table(("", "right", " ", "last"), tuple(map(_weak_row, found[:_MOST_ROWS]))),
                *_more(found),
            ]
    if weak.mix_ups:
        rows = tuple(map(_mix_up_row, weak.mix_ups[:_MOST_ROWS]))
        page += [Heading("Mix-ups"), Table(("avoided", "", "last", "mix-up"), rows), *_more(weak.mix_ups)]
    return [*page, Paragraph(_ORDER)] if page else []


def _weak_row(weak: Weakness) -> tuple[str, str, Bar, str]:
    return weak.name, f"{weak.right} of {weak.answered}", Bar(weak.share), _day(weak.last)


def _mix_up_row(weak: Weakness) -> tuple[str, Bar, str, str]:
    """The thought, which is long, stands last, where it may go over several lines."""
    return f"{weak.right} of {weak.answered}", Bar(weak.share), _day(weak.last), _mix_up_words(weak.name)


def _more(found: Sequence[Weakness]) -> list[Block]:
    left = len(found) - _MOST_ROWS
    return [Paragraph(f"and {left} more; --json tells all.", indent=2)] if left > 0 else []


def _day(at: datetime.datetime) -> str:
    return at.astimezone().date().isoformat()


def _percent(share: float) -> str:
    """A share that was counted, so that all of three is 100 %."""
    return f"{100 * share:.0f} %"


# --- data ------------------------------------------------------------------------------------------


def progress_data(file: ProgressFile, learner: str, answers: Sequence[Answered], now: datetime.datetime) -> dict[str, Any]:
    """Everything that the page tells, as JSON data; README documents the fields."""
    from importlib.metadata import version  # slow to import, and needed for JSON only

    plan, weak = schedule(answers), weaknesses(answers)
    pressing = [plan[item.key] for item in due_items(answers, now)]
    certain, plain = certainty_score(answers), plain_score(answers)
    return {
        "spotplate": version("spotplate"),
        "file": str(file.path),
        "learner": learner,
        "learners": list(file.learners()),
        "score": {"answered": plain.answered, "right": plain.right, "share": plain.share},
        "certainty": {**msgspec.to_builtins(certain), "rule": CERTAINTY_RULE} if certain else None,
        "calibration": [{**msgspec.to_builtins(row), "share": row.share} for row in calibration_table(answers)],
        "due": [_due_data(due) for due in pressing],
        "later": [_due_data(due) for due in plan.values() if not due.is_due(now)],
        "weak": {
            "classes": [_weak_data(each) for each in weak.classes],
            "exceptions": [_weak_data(each) for each in weak.exceptions],
            "mix_ups": [{**_weak_data(each), "says": _mix_up_words(each.name)} for each in weak.mix_ups],
            "kinds": [_weak_data(each) for each in weak.kinds],
        },
        "set_aside": [{"path": str(each.path), "why": each.why} for each in file.set_aside],
    }


def _weak_data(weak: Weakness) -> dict[str, Any]:
    return {**msgspec.to_builtins(weak), "share": weak.share, "estimate": weak.estimate}


def _due_data(due: Due) -> dict[str, Any]:
    return {
        "item": due.item.key,
        "kind": due.item.kind.value,
        "topic": due.item.topic,
        "due": due.due.isoformat(),
        "interval_days": due.interval_days,
        "answered": due.answered,
        "right": due.right,
    }
