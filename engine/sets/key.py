"""The identification key of an unknowns set: which test to do first, and where each reading leads."""

from __future__ import annotations

import math
from collections.abc import Iterator

import msgspec

from spotplate.engine.reference_readings import Number
from spotplate.engine.resemblance import number_unit
from spotplate.kb import Interval, KnowledgeBase, load_knowledge, to_si

from .checking import reachable_tests, set_rows
from .key_search import Answer, KeySearch, Place
from .unknowns_set import UnknownsSet

MOST_PLACES = 20_000  # places of the search, after which it is given up
_DECIMALS = {"°C": 0}  # of numbers in a key; two for densities


class KeyBranch(msgspec.Struct, frozen=True):
    """
    An answer of a step, or several that lead to one end: what is read, the vials that may give it, and where it leads.

    Either `goes_to` is the number of the next step, or the key ends here with these vials: one, or several that no
    further test tells apart.
    """

    answers: tuple[str, ...]
    vials: tuple[str, ...]
    goes_to: int | None = None

    @property
    def reads(self) -> str:
        """What is read, in words."""
        return ", or ".join(self.answers)


class KeyStep(msgspec.Struct, frozen=True):
    """
    One numbered step: a reading of a test. `new_test` is false when the test was done in the step before.

    `came_from` is the number of the step that leads here, None for the first. `not_known` names vials of which the reading
    is not known, so that they stand in every branch.
    """

    number: int
    test: str
    reading: str
    new_test: bool
    came_from: int | None
    branches: tuple[KeyBranch, ...]
    not_known: tuple[str, ...] = ()


class Key(msgspec.Struct, frozen=True):
    """
    An identification key for the vials of one set.

    It names the vial as surely as the tests allow, and of such keys it is the one with the fewest tests on average (of equal
    ones, the fewest minutes). Every vial counts as likely as another, every honest reading of a vial as another, and no
    reading is misread.

    `vials` are the labels. `tests` is the mean number of tests until the key ends [tests], `minutes` the time that they take on
    average [min], `left_over` the mean number of vials besides the right one that are left where it ends [vials],
    `most_tests` the number of tests on the longest way. `information` is what the key tells of which vial it is [bit],
    `outcomes` the largest number of different outcomes that one test can have, `bound` the least mean number of tests that
    information theory allows for that much [tests]. `proved` tells whether no key is better in this sense; else the search
    was given up, and this is the best found.
    """

    vials: tuple[str, ...]
    steps: tuple[KeyStep, ...]
    tests: float
    minutes: float
    left_over: float
    most_tests: int
    information: float
    outcomes: int
    bound: float
    proved: bool


def make_key(unknowns_set: UnknownsSet, knowledge: KnowledgeBase | None = None, *, most_places: int = MOST_PLACES) -> Key:
    """
    The identification key of a set that is shortest on average.

    Parameters
    ----------
    unknowns_set : UnknownsSet
        The vials, and the tests that the key may use; all bench tests where it names none
    knowledge : KnowledgeBase, optional
        The shipped knowledge base when not given
    most_places : int
        Places of the search after which it is given up, and the key is no longer proved to be the shortest

    Returns
    -------
    Key
        With its length and the bound of information theory

    Notes
    -----
    A key is a code for its vials, with the outcomes of tests as its letters. By Shannon's noiseless coding theorem [1]_ the mean
    length of a code with an alphabet of m letters is at least the information it carries divided by log2(m). The alphabet is
    that of the test with the most different outcomes, so the bound is one that real tests, which all have fewer outcomes on
    most ways and wait for one another, seldom reach.

    References
    ----------
    .. [1] C. E. Shannon, A Mathematical Theory of Communication, Bell System Technical Journal 27 (1948) 379-423; in the form
       used here: T. M. Cover and J. A. Thomas, Elements of Information Theory, 2nd edition, Wiley (2006), theorem 5.3.1.
    """
    knowledge = knowledge or load_knowledge()
    rows = set_rows(unknowns_set, knowledge)
    tests, _ = reachable_tests(unknowns_set.tests or tuple(knowledge.tests), knowledge)
    search = KeySearch(rows, tests, knowledge, most_places=most_places)
    (left_over, mean_tests, minutes), start = search.shortest()
    labels = tuple(vial.label for vial in unknowns_set.vials)
    outcomes = search.most_outcomes()
    told = math.log2(len(rows)) - _still_open(start)
    return Key(
        vials=labels,
        steps=_steps(start, labels, search),
        tests=float(mean_tests),
        minutes=float(minutes),
        left_over=float(left_over),
        most_tests=_most_tests(start),
        information=told,
        outcomes=outcomes,
        bound=told / math.log2(outcomes) if outcomes > 1 else 0.0,
        proved=search.complete,
    )


def _still_open(place: Place) -> float:
    """What is still open where the key ends, on average [bit]."""
    if place.answers:
        return sum(_still_open(answer.then) for answer in place.answers)
    whole = sum(place.chances)
    return -sum(chance * math.log2(chance / whole) for chance in place.chances)


def _most_tests(place: Place) -> int:
    return place.new_test + max((_most_tests(answer.then) for answer in place.answers), default=0)


def _steps(start: Place, labels: tuple[str, ...], search: KeySearch) -> tuple[KeyStep, ...]:
    """All steps by their numbers, each before those that it leads to."""
    order = list(_in_order(start))
    number_of = {id(place): number for number, place in enumerate(order, 1)}
    came_from = {id(answer.then): number_of[id(place)] for place in order for answer in place.answers}
    return tuple(
        KeyStep(
            number=number_of[id(place)],
            test=place.test,
            reading=place.reading,
            new_test=place.new_test,
            came_from=came_from.get(id(place)),
            branches=_branches(place, labels, number_of, search.knowledge),
            not_known=tuple(labels[at] for at in place.vials if not search.known(at, place.reading)),
        )
        for place in order
    )


def _in_order(place: Place) -> Iterator[Place]:
    if place.answers:
        yield place
        for answer in place.answers:
            yield from _in_order(answer.then)


def _branches(
    place: Place, labels: tuple[str, ...], number_of: dict[int, int], knowledge: KnowledgeBase
) -> tuple[KeyBranch, ...]:
    """The answers of a step; those that end with the same vials are told as one."""
    found: list[KeyBranch] = []
    for answer in place.answers:
        reads = _reads(answer, place.reading, knowledge)
        vials = tuple(labels[at] for at in answer.then.vials)
        branch = KeyBranch((reads,), vials, number_of.get(id(answer.then)))
        same = next((other for other in found if branch.goes_to is None is other.goes_to and other.vials == vials), None)
        if same:
            found[found.index(same)] = msgspec.structs.replace(same, answers=(*same.answers, reads))
        else:
            found.append(branch)
    return tuple(found)


def _reads(answer: Answer, reading: str, knowledge: KnowledgeBase) -> str:
    if answer.numbers:
        return _range(answer.numbers, number_unit(reading, knowledge))
    return answer.word or "anything"


def _range(numbers: tuple[Number, ...], unit: str) -> str:
    """Handbook values in words: `about 801 °C`, `about 114 to 122 °C`, `> 360 °C`."""
    intervals = [number.interval(unit) for number in numbers]
    low, high = min(each.low for each in intervals), max(each.high for each in intervals)
    if math.isinf(high):
        return str(Interval(low, high, unit, excluded=all(each.excluded for each in intervals)))
    ends = dict.fromkeys(_shown(end, unit) for end in (low, high))
    return f"about {' to '.join(ends)} {unit}"


def _shown(value: float, unit: str) -> str:
    """A handbook value as precisely as the bench measures it."""
    in_unit = (value - to_si(0.0, unit)) / (to_si(1.0, unit) - to_si(0.0, unit))
    return f"{in_unit:.{_DECIMALS.get(unit, 2)}f}"
