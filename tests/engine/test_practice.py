"""Spaced practice follows the rule that the module states, and weaknesses are counted and ordered fairly."""

from __future__ import annotations

import datetime
from collections.abc import Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spotplate.engine.quiz.practice import Answered, due_items, schedule, weaknesses
from spotplate.engine.quiz.question import Item, Kind, Outcome

START = datetime.datetime(2030, 1, 7, 10, 0, tzinfo=datetime.UTC)
DAY = datetime.timedelta(days=1)
SALT = Item(Kind.CLASSIFY, "ionic, hydrate", "ionic", "hydrate")
METAL = Item(Kind.NAMED, "metallic", "metallic")
MIX_UP = "dissolves-so-ionic"
FOLLOW_UP = Item(Kind.MIX_UP, MIX_UP, mix_up=MIX_UP)
RIGHT, WRONG, UNSUPPORTED = Outcome.RIGHT, Outcome.WRONG, Outcome.UNSUPPORTED


def answer(days: float, outcome: Outcome = RIGHT, item: Item = SALT, *, mix_up: str = "", sure: float | None = None) -> Answered:
    """An answer so many days after the start."""
    return Answered("me", START + days * DAY, item, outcome, mix_up, sure)


def intervals(answers: Sequence[Answered], item: Item = SALT) -> list[int]:
    """The interval of an item after each of the answers [d]."""
    return [schedule(answers[: number + 1])[item.key].interval_days for number in range(len(answers))]


# --- the schedule ----------------------------------------------------------------------------------


def test_right_answers_double_the_interval_up_to_64_days() -> None:
    days = [0, 1, 3, 7, 15, 31, 63, 127, 191]  # each on the day when it is due
    answers = [answer(day) for day in days]
    assert intervals(answers) == [1, 2, 4, 8, 16, 32, 64, 64, 64]
    assert schedule(answers)[SALT.key].due == START + (191 + 64) * DAY


def test_a_wrong_answer_is_due_at_once_and_begins_anew() -> None:
    answers = [answer(0), answer(1), answer(3), answer(7, WRONG), answer(7.01), answer(8.01)]
    assert intervals(answers) == [1, 2, 4, 0, 1, 2]
    assert schedule(answers[:4])[SALT.key].due == START + 7 * DAY


@pytest.mark.parametrize(
    "weaker",
    [
        {"outcome": UNSUPPORTED},
        {"outcome": UNSUPPORTED, "sure": 0.95},
        {"outcome": RIGHT, "sure": 0.59},
        {"outcome": Outcome.DEFENSIBLE, "sure": 0.2},
    ],
)
def test_a_right_answer_that_may_be_luck_keeps_the_interval(weaker: dict[str, object]) -> None:
    answers = [answer(0), answer(1), answer(3, **weaker), answer(5)]  # type: ignore[arg-type]
    assert intervals(answers) == [1, 2, 2, 4]
    assert intervals([answer(0, **weaker)]) == [1]  # type: ignore[arg-type]


@pytest.mark.parametrize("sure", [0.6, 0.8, 1.0])
@pytest.mark.parametrize("outcome", [RIGHT, Outcome.DEFENSIBLE])
def test_a_right_answer_with_certainty_doubles_it(sure: float, outcome: Outcome) -> None:
    assert intervals([answer(0), answer(1, outcome, sure=sure)]) == [1, 2]


def test_an_item_asked_before_it_is_due_keeps_its_interval() -> None:
    """Else ten questions in one evening would send it away for two months."""
    assert intervals([answer(0), answer(1), *(answer(1 + number / 1000) for number in range(1, 10))]) == [1] + [2] * 10


def test_practice_at_the_same_hour_every_day_finds_what_is_due() -> None:
    ten_minutes_early = START + DAY - datetime.timedelta(minutes=10)
    assert due_items([answer(0)], ten_minutes_early) == (SALT,)
    assert due_items([answer(0)], START + DAY / 2) == ()
    again = Answered("me", ten_minutes_early, SALT, RIGHT)
    assert intervals([answer(0), again]) == [1, 2]


def test_what_was_never_answered_is_not_in_the_schedule() -> None:
    assert schedule([]) == {}
    assert due_items([], START) == ()


@given(st.permutations([answer(day, outcome) for day, outcome in enumerate([RIGHT, RIGHT, WRONG, RIGHT, UNSUPPORTED, RIGHT])]))
def test_the_order_in_which_answers_are_kept_does_not_matter(answers: list[Answered]) -> None:
    """Two quizzes at once write in any order."""
    assert schedule(answers) == schedule(sorted(answers, key=lambda each: each.at))


ANSWERS = st.lists(
    st.builds(
        answer,
        st.floats(0, 400),
        st.sampled_from(Outcome),
        st.sampled_from([SALT, METAL, FOLLOW_UP]),
        mix_up=st.sampled_from(["", MIX_UP]),
        sure=st.none() | st.floats(0, 1),
    ),
    max_size=25,
)


@given(ANSWERS, st.floats(0, 500))
def test_whatever_was_answered_intervals_are_those_of_the_rule(answers: list[Answered], days: float) -> None:
    now = START + days * DAY
    plan = schedule(answers)
    for key, due in plan.items():
        own = [each for each in answers if each.item.key == key]
        assert due.interval_days in (0, 1, 2, 4, 8, 16, 32, 64)
        assert (due.answered, due.right) == (len(own), sum(each.outcome is not WRONG for each in own))
        assert due.interval_days <= 2 ** max(due.right - 1, 0)
    asked = due_items(answers, now)
    assert len({item.key for item in asked}) == len(asked)
    assert {item.key for item in asked} == {key for key, due in plan.items() if due.due <= now + datetime.timedelta(hours=2)}


# --- mix-ups ---------------------------------------------------------------------------------------


def test_a_mix_up_shown_makes_its_follow_up_due_at_once() -> None:
    answers = [answer(0, WRONG, METAL, mix_up=MIX_UP)]
    due = schedule(answers)[f"mix-up/{MIX_UP}"]
    assert (due.item, due.due, due.interval_days, due.answered, due.right) == (FOLLOW_UP, START, 0, 0, 0)


def test_the_follow_up_stays_due_until_it_is_answered_rightly() -> None:
    answers = [answer(0, WRONG, mix_up=MIX_UP), answer(0.1, WRONG, FOLLOW_UP), answer(0.2, RIGHT, FOLLOW_UP)]
    now = START + 0.3 * DAY
    assert FOLLOW_UP in due_items(answers[:1], now)
    assert FOLLOW_UP in due_items(answers[:2], now)
    assert FOLLOW_UP not in due_items(answers, now)
    assert FOLLOW_UP in due_items(answers, now + DAY)
    assert intervals([*answers, answer(1.2, RIGHT, FOLLOW_UP)], FOLLOW_UP)[-1] == 2


def test_a_mix_up_that_comes_back_is_due_at_once_again() -> None:
    answers = [
        answer(0, WRONG, mix_up=MIX_UP),
        answer(0.1, RIGHT, FOLLOW_UP),
        answer(1.1, RIGHT, FOLLOW_UP),
        answer(2, WRONG, METAL, mix_up=MIX_UP),
    ]
    due = schedule(answers)[FOLLOW_UP.key]
    assert (due.due, due.interval_days, due.answered, due.right) == (START + 2 * DAY, 0, 2, 2)


# --- what comes first ------------------------------------------------------------------------------


def test_mix_ups_come_first_then_wrong_answers_then_the_longest_overdue_for_its_interval() -> None:
    often, seldom = Item(Kind.PREDICT, "often"), Item(Kind.PREDICT, "seldom")
    wrong_first, wrong_later = Item(Kind.EXPLAIN, "first"), Item(Kind.EXPLAIN, "later")
    answers = [
        answer(0, item=seldom), answer(1, item=seldom), answer(3, item=seldom),  # every 4 days, due on day 7
        answer(5, item=often),  # every day, due on day 6
        answer(8, WRONG, wrong_later), answer(7, WRONG, wrong_first),
        answer(2, WRONG, SALT, mix_up="older"), answer(2.5, RIGHT, SALT),
        answer(9, WRONG, METAL, mix_up="newer"),
    ]  # fmt: skip
    now = START + 9.5 * DAY  # `often` has waited 3.5 of its intervals, `seldom` 2.5 days of 4
    topics = [item.topic for item in due_items(answers, now)]
    assert topics == ["newer", "older", "first", "later", METAL.topic, SALT.topic, "often", "seldom"]


# --- what is weak ----------------------------------------------------------------------------------


def test_weaknesses_are_counted_by_class_finer_kind_mix_up_and_kind() -> None:
    found = weaknesses([answer(0), answer(1, WRONG, mix_up=MIX_UP), answer(2, item=METAL), answer(3, item=FOLLOW_UP)])
    assert [(each.name, each.right, each.answered) for each in found.classes] == [("ionic", 1, 2), ("metallic", 1, 1)]
    assert [(each.name, each.right, each.answered) for each in found.exceptions] == [("hydrate", 1, 2)]
    assert [(each.name, each.right, each.answered) for each in found.mix_ups] == [(MIX_UP, 1, 2)]
    assert {(each.name, each.right, each.answered) for each in found.kinds} == {
        ("classify", 1, 2), ("named", 1, 1), ("mix-up", 1, 1),
    }  # fmt: skip
    assert found.classes[0].last == START + DAY
    assert found.classes[0].share == 0.5


def test_a_wrong_answer_to_the_follow_up_counts_once_against_its_mix_up() -> None:
    (weak,) = weaknesses([answer(0, WRONG, FOLLOW_UP, mix_up=MIX_UP)]).mix_ups
    assert (weak.right, weak.answered) == (0, 1)


def test_few_answers_do_not_make_the_weakest() -> None:
    """One wrong answer alone (1/3 by the rule of succession) says less than two right ones of ten (3/12)."""
    once = answer(0, WRONG, METAL)
    often = [answer(number, RIGHT if number < 2 else WRONG) for number in range(10)]
    found = weaknesses([once, *often]).classes
    assert [each.name for each in found] == ["ionic", "metallic"]
    assert [each.estimate for each in found] == pytest.approx([3 / 12, 1 / 3])


def test_a_defensible_or_unsupported_answer_is_no_weakness() -> None:
    (weak,) = weaknesses([answer(0, Outcome.DEFENSIBLE), answer(1, UNSUPPORTED)]).classes
    assert (weak.right, weak.answered) == (2, 2)
