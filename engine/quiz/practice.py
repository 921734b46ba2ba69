"""
Spaced practice: what an answer says of an item, when it is due again, and what is weak.

Nothing is kept but the answers; the schedule is worked out from them anew each time, by this rule:

- An item that was answered rightly comes again after 1 day, and then each time after double the time: 2, 4, 8, 16, 32 and
  64 days, never later.
- It comes again after the same time as before, at least 1 day, where the right answer says less than that it is known:
  the readings did not suffice for it, the learner was less than 60 % sure, or the item was not due yet.
- A wrong answer makes it due at once, and the next right one begins anew with 1 day.
- A mix-up that a guess shows makes its follow-up question due at once, until that is answered rightly; from then on
  the follow-up is spaced as any other item.
- What falls due within 2 hours counts as due, so that practice at the same hour every day finds it.

Doubling intervals are a convention of spaced practice (S. Leitner, So lernt man lernen, 1972, with boxes of growing size); that
spacing helps was reviewed by N. J. Cepeda et al., Psychological Bulletin 132 (2006) 354-380.
"""

from __future__ import annotations

import datetime
from collections.abc import Iterable

import msgspec

from .question import Item, Kind, Outcome

FIRST_INTERVAL = 1  # [d]
LONGEST_INTERVAL = 64  # [d]
SURE_ENOUGH = 0.6  # [-] below it a right answer may have been a guess
_GRACE = datetime.timedelta(hours=2)
_DAY = datetime.timedelta(days=1)


class Answered(msgspec.Struct, frozen=True):
    """
    An answer as it is kept: who gave it, when (UTC), to which item, and what it was worth.

    `mix_up` is the one that the guess showed, or empty; `sure` how sure the learner was, from 0 to 1 [-], None where that was
    not told; `difficulty` that of the question, from 0 to 1 [-].
    """

    learner: str
    at: datetime.datetime
    item: Item
    outcome: Outcome
    mix_up: str = ""
    sure: float | None = None
    difficulty: float = 0.0

    @property
    def right(self) -> bool:
        """Whether it counts as right; only `WRONG` does not."""
        return self.outcome is not Outcome.WRONG


class Due(msgspec.Struct, frozen=True):
    """
    When an item comes again.

    `interval_days` is the time since it was answered last [d], 0 where it is due at once. `answered` and `right` count
    answers to the item itself, so both are 0 for a follow-up question of a mix-up that has only been shown.
    """

    item: Item
    due: datetime.datetime
    interval_days: int
    answered: int
    right: int

    def is_due(self, now: datetime.datetime) -> bool:
        """Whether it is due, or nearly."""
        return self.due - now <= _GRACE


def schedule(answers: Iterable[Answered]) -> dict[str, Due]:
    """
    Key → when that item comes again, for every item that these answers of one learner bear on; the soonest first.

    Answers count in the order of their times, whatever order they are given in.
    """
    found: dict[str, Due] = {}
    for answer in sorted(answers, key=lambda each: each.at):
        found[answer.item.key] = _after(answer, found.get(answer.item.key))
        if answer.mix_up:
            follow_up = follow_up_item(answer.mix_up)
            found[follow_up.key] = _at_once(found.get(follow_up.key), follow_up, answer.at)
    return dict(sorted(found.items(), key=lambda each: (each[1].due, each[0])))


def follow_up_item(mix_up: str) -> Item:
    """The item whose question tests whether a mix-up is cured."""
    return Item(Kind.MIX_UP, mix_up, mix_up=mix_up)


def _after(answer: Answered, before: Due | None) -> Due:
    """When an item comes again after an answer to it."""
    last = before.interval_days if before else 0
    interval = _next_interval(answer, last, was_due=before is None or before.is_due(answer.at)) if answer.right else 0
    answered, right = (before.answered, before.right) if before else (0, 0)
    return Due(answer.item, answer.at + interval * _DAY, interval, answered + 1, right + answer.right)


def _next_interval(answer: Answered, last: int, *, was_due: bool) -> int:
    """Days after a right answer [d]; `last` are those before it [d]."""
    unsure = answer.sure is not None and answer.sure < SURE_ENOUGH
    if unsure or not was_due or answer.outcome is Outcome.UNSUPPORTED:
        return max(last, FIRST_INTERVAL)
    return min(2 * last, LONGEST_INTERVAL) if last else FIRST_INTERVAL


def _at_once(before: Due | None, item: Item, at: datetime.datetime) -> Due:
    """A follow-up question whose mix-up was just shown."""
    if before is None:
        return Due(item, at, 0, 0, 0)
    return Due(before.item, at, 0, before.answered, before.right)


def due_items(answers: Iterable[Answered], now: datetime.datetime) -> tuple[Item, ...]:
    """
    What one learner is to practise now, most pressing first.

    First the follow-up questions of mix-ups, the one shown last foremost; then what was answered wrongly, in the order of
    its waiting; then the rest by how long it has been overdue as a share of its interval.
    """

    def rank(due: Due) -> tuple[int, float]:
        waiting = (now - due.due) / _DAY
        if due.interval_days:
            return 2, -waiting / due.interval_days
        return (0, waiting) if due.item.kind is Kind.MIX_UP else (1, -waiting)

    pressing = [due for due in schedule(answers).values() if due.is_due(now)]
    return tuple(due.item for due in sorted(pressing, key=lambda due: (*rank(due), due.item.key)))


# --- what is weak ----------------------------------------------------------------------------------


class Weakness(msgspec.Struct, frozen=True):
    """
    How one learner does on a class, a finer kind, a mix-up or a kind of question.

    `share` is `right` divided by `answered` [-]. `estimate` is (right + 1) / (answered + 2) [-], Laplace's rule of succession,
    by which things are ordered: one wrong answer says less than ten.
    """

    name: str
    answered: int
    right: int
    last: datetime.datetime

    @property
    def share(self) -> float:
        return self.right / self.answered

    @property
    def estimate(self) -> float:
        return (self.right + 1) / (self.answered + 2)


class Weaknesses(msgspec.Struct, frozen=True):
    """What one learner finds hard, the weakest first in each: classes, finer kinds, mix-ups, kinds of question."""

    classes: tuple[Weakness, ...]
    exceptions: tuple[Weakness, ...]
    mix_ups: tuple[Weakness, ...]
    kinds: tuple[Weakness, ...]


def weaknesses(answers: Iterable[Answered]) -> Weaknesses:
    """
    How one learner does, by what the questions were about.

    A mix-up is answered wrongly wherever it shows, whatever the question, and rightly by a right answer to an item about it.
    """
    found = list(answers)
    return Weaknesses(
        _weakest([(answer.item.class_, answer.right, answer.at) for answer in found]),
        _weakest([(answer.item.subtype, answer.right, answer.at) for answer in found]),
        _weakest(
            [
                (mix_up, answer.right and answer.mix_up != mix_up, answer.at)
                for answer in found
                for mix_up in {answer.mix_up, answer.item.mix_up}
            ]
        ),
        _weakest([(answer.item.kind.value, answer.right, answer.at) for answer in found]),
    )


def _weakest(told: Iterable[tuple[str, bool, datetime.datetime]]) -> tuple[Weakness, ...]:
    """Counted by name, an empty one left out, the weakest first."""
    found: dict[str, Weakness] = {}
    for name, right, at in told:
        if name:
            before = found.get(name)
            found[name] = (
                Weakness(name, before.answered + 1, before.right + right, max(before.last, at))
                if before
                else Weakness(name, 1, int(right), at)
            )
    return tuple(sorted(found.values(), key=lambda weak: (weak.estimate, -weak.answered, weak.name)))
