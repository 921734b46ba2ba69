"""Which test is worth doing next: a partial record that leaves the class open, and tests to choose from."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Iterator, Sequence

import msgspec

from spotplate.engine.bench import NextTest, can_be_done, next_tests
from spotplate.engine.bench.next_test import allows
from spotplate.engine.bench.not_made import was_made
from spotplate.engine.bench.outlook import entropy
from spotplate.engine.identification import Identification, identify
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Item, Kind, Option, Question
from spotplate.engine.quiz.wording import (
    NO_MEANING,
    capitalised,
    group,
    listed,
    lowered,
    may_be_said,
    phrase,
    plain_form,
    sentence,
)
from spotplate.engine.reasoning import VerdictKind, chain, rank
from spotplate.engine.record import ReadValue, Record
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.resemblance import prior_of_table, resemblance
from spotplate.kb import BenchTest

ASKS = "Which test is worth doing next: the one that tells most about the class for the time it takes?"
_TRIES = 60  # partial records that a draw looks at, at most
_SEARCHES = 3  # searches for the next test among them, at most; each takes a tenth of a second
_NEARLY = 0.8  # [-] of the best test's gain per minute, from which another test is as good an answer
_LITTLE = 0.35  # [-] of the same, up to which a test is a wrong answer
_LITTLE_TOLD = 0.5  # [-] of what the best one tells per minute by how often classes show a value, up to which the same
_RIVAL = 0.65  # [-] of what another test tells per minute in this way, that a right answer tells at least
_LEAST_TOLD = 0.15  # [bit] that a right answer tells of the class by how often classes show a value, at least
_ALIKE_ENOUGH = 5  # substances of a class that read like the record, from which they stand for the class
_SAME = 0.7  # [-] share of every open class that shows the same, from which a test is said to tell little
_SLOWER = 2.0  # times as many minutes, from which the time is what speaks against a test
_FEWEST, _KNOWN = 3, 0.4  # substances of a class that must be known in a reading, and their share [-], so that one can say
# what the class shows
_MOST = 0.55  # [-] share of them that shows a value, from which it is what the class usually shows
_BOTH, _SOME = 0.75, 0.25  # [-] two values that are both usual: their share together, and that of each, at least
_NEVER_OPEN = ({"metallic", "polar molecular"}, {"metallic", "nonpolar molecular"})  # hardly ever the question after a look
_OPTIONS = (4, 5)


def items(material: Material) -> tuple[Item, ...]:
    """Pairs of classes to be parted; with the reference table, also finer kinds that mislead."""
    held = {row.class_ for row in material.rows_met}
    known = tuple(material.knowledge.classes)
    pairs = [
        f"{first} or {second}"
        for first, second in itertools.combinations(known, 2)
        if {first, second} & held and {first, second} not in _NEVER_OPEN
    ]
    found = [Item(Kind.NEXT_TEST, pair) for pair in pairs]
    if material.secrecy is Secrecy.NAMES:
        kinds = {row.subtype: row.class_ for row in reversed(material.rows_met) if row.subtype}
        found += [Item(Kind.NEXT_TEST, kind, class_, kind) for kind, class_ in sorted(kinds.items())]
    return tuple(found)


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """A partial record on which the topic is open, with the best test, and tests that are no good."""
    chance = random.Random(f"{item.key} {draw}")
    searches = 0
    for row, record in itertools.islice(_records(item, material, chance), _TRIES):
        result = identify(record, material.knowledge, advise=False)
        if result.verdict.kind is not VerdictKind.INCONCLUSIVE or row.class_ not in result.verdict.open_between:
            continue
        posing = _Posing(item, draw, row, result, material)
        if not posing.is_promising():
            continue
        if question := posing.question(chance):
            return question
        searches += 1
        if searches == _SEARCHES:
            break
    return None


def _records(item: Item, material: Material, chance: random.Random) -> Iterator[tuple[ReferenceRow, Record]]:
    """Partial records of substances that the item is about; those of a pair leave both of its classes among the likeliest."""
    pair = set(item.topic.split(" or ")) & material.knowledge.classes.keys()
    rows = [row for row in material.rows_met if (row.class_ in pair if pair else row.subtype == item.topic)]
    if not rows or "look" not in material.tests:
        return
    use = material.knowledge.second_opinion.candidates.school_use
    weights = [use[row.school_use] for row in rows]
    for _ in range(8 * _TRIES):
        row = chance.choices(rows, weights)[0]
        record = _partial(row, material, chance)
        ranking = rank(chain(record.readings, material.knowledge).firings, material.knowledge)
        if pair <= {ranked.class_ for ranked in ranking[: len(pair) + 1]}:
            yield row, record


def _partial(row: ReferenceRow, material: Material, chance: random.Random) -> Record:
    """What a substance shows when it is looked at and in up to three tests more, quick ones oftener, and water half the time."""
    tests = [material.knowledge.tests[name] for name in material.tests]
    record = Record(_shown(row, material.knowledge.tests["look"], chance))
    water_first = chance.random() < 0.5
    for _ in range(chance.choice((0, 1, 1, 2, 2, 3))):
        ready = [
            test
            for test in tests
            if can_be_done(test, record) and not was_made(test, record) and _shown(row, test, random.Random(0))
        ]
        if not ready:
            break
        test = chance.choices(ready, [(0.5 if each.teacher else 1.0) / each.minutes for each in ready])[0]
        if water_first and not any(reading in record.readings for reading in ("in water", "foam")):
            test = next((each for each in ready if each.id == "water test"), test)
        record = Record({**record.readings, **_shown(row, test, chance)})
    return record


def _shown(row: ReferenceRow, test: BenchTest, chance: random.Random) -> dict[str, ReadValue]:
    return {kind.id: chance.choice(row.words[kind.id]) for kind in test.readings if kind.id in row.words}


class _Showing(msgspec.Struct, frozen=True):
    """
    What the open classes mostly show in a reading.

    `classes` maps a usual value, or two that are about as common, to the classes that show it; `share` tells of each class
    how much of it does [-].
    """

    reading: str
    classes: dict[tuple[str, ...], list[str]]
    share: dict[str, float]

    @property
    def parts(self) -> bool:
        return len(self.classes) > 1


class _Way(msgspec.Struct, frozen=True):
    """A test, and the one that it opens the way to, or empty."""

    test: str
    opens: str = ""


class _Posing:
    """One record, and what can be asked about it."""

    def __init__(self, item: Item, draw: int, row: ReferenceRow, result: Identification, material: Material) -> None:
        self.item = item
        self.draw = draw
        self.row = row
        self.result = result
        self.record = result.record
        self.material = material
        self.knowledge = material.knowledge
        self.open = result.verdict.open_between
        self._alike: dict[str, tuple[ReferenceRow, ...]] = {}
        self._told: dict[str, float] = {}
        self.like_this: set[str] = set()
        self.names_classes = material.secrecy is not Secrecy.NOTHING

    def is_promising(self) -> bool:
        """Whether some test would do as the right answer, were it proposed; the search for the next test takes far longer."""
        left = [test for test in map(self.knowledge.tests.__getitem__, self.material.tests) if not was_made(test, self.record)]
        ready = [test for test in left if can_be_done(test, self.record)]
        opened = [
            _Way(test.id, other.id)
            for test, other in itertools.product(ready, left)
            if {kind.id for kind in test.readings} & {need.reading for need in other.needs} and other not in ready
        ]
        return any(
            (told := self.worth(way)) is not None and not self.rivalled(told) and self.on_topic(way)
            for way in (*(_Way(test.id) for test in ready), *opened)
        )

    def question(self, chance: random.Random) -> Question | None:
        proposed = self.proposed()
        best = proposed[0] if proposed else None
        if best is None or best.per_minute <= 0 or (told := self.worth(best)) is None or self.rivalled(told):
            return None
        right = [best] + [
            each
            for each in proposed[1:]
            if each.per_minute >= _NEARLY * best.per_minute and (self.worth(each) or 0.0) >= _NEARLY * told
        ]
        sayings = [(each, why) for each in right[:2] if (why := self.why_right(each))]
        if not sayings or sayings[0][0] is not best or not self.on_topic(best):
            return None
        wrong = self.wrong(proposed, best, told, chance)
        answers = [Option(self.says(each.test), each.test, True, why) for each, why in sayings]
        options = (*answers, *_mixed(wrong, chance.choice(_OPTIONS) - len(answers), chance))
        if len(options) < _OPTIONS[0]:
            return None
        options = tuple(chance.sample(options, len(options)))
        secret = self.material.secrecy is not Secrecy.NAMES
        return Question(
            item=self.item,
            draw=self.draw,
            says=ASKS,
            readings={name: str(value) for name, value in self.record.readings.items()},
            options=options,
            difficulty=difficulty(self.hard(proposed)),
            substance="" if secret else self.row.name,
            truth=self.row.classes if self.names_classes else (),
            subtype="" if secret else self.row.subtype,
            because=self.because(best),
            decisive=self.decisive(best),
        )

    def on_topic(self, best: NextTest | _Way) -> bool:
        """Whether the best test parts the pair of classes that the item is about, where it is about a pair."""
        pair = set(self.item.topic.split(" or ")) & self.knowledge.classes.keys()
        showing = self.decides(best)
        return showing is not None and (
            not pair or (pair <= showing.share.keys() and not any(pair <= set(names) for names in showing.classes.values()))
        )

    # --- what the tests are worth ------------------------------------------------------------------

    def proposed(self) -> tuple[NextTest, ...]:
        """Every test of the material that is worth doing, best first; none whose result is a number, which no class shows."""
        reference, knowledge = self.material.reference, self.knowledge
        alike = resemblance(self.record, prior_of_table(reference, knowledge), reference, knowledge)
        left_out = {
            test.id
            for test in knowledge.tests.values()
            if test.id not in self.material.tests or was_made(test, self.record) or not any(kind.values for kind in test.readings)
        }
        every = len(knowledge.tests)
        return next_tests(self.record, self.result.ranking, alike, reference, knowledge, left_out=left_out, most=every)

    def worth(self, proposed: NextTest | _Way) -> float | None:
        """What a test tells per minute by how often the open classes show each value [bit/min]; None where that is little."""
        tests = [self.knowledge.tests[name] for name in (proposed.test, proposed.opens) if name]
        told = [self.told(test) for test in tests]
        if max(told) < _LEAST_TOLD:
            return None
        return sum(told) / sum(test.minutes for test in tests)

    def rivalled(self, told: float) -> bool:
        """Whether a test without the teacher's leave tells clearly more by how often classes show a value [bit/min]."""
        return any(
            self.told(test) / test.minutes > told / _RIVAL
            for test in map(self.knowledge.tests.__getitem__, self.material.tests)
            if can_be_done(test, self.record) and not was_made(test, self.record) and not test.teacher
        )

    def told(self, test: BenchTest) -> float:
        """How much less open the class would be, by the substances of the open classes that read like this [bit]."""
        if test.id not in self._told:
            self._told[test.id] = self.reckoned(test)
        return self._told[test.id]

    def reckoned(self, test: BenchTest) -> float:
        """The same, worked out."""
        now = {each.class_: each.probability for each in self.result.ranking if each.class_ in self.open}
        whole = sum(now.values())
        outcomes: dict[tuple[str, ...], dict[str, float]] = {}
        for class_, chance in now.items():
            known = [combined for row in self.alike(class_) if (combined := _outcomes(row, test, self.record))]
            for combined in known or [{("",): 1.0}]:
                for values, share in combined.items():
                    of = outcomes.setdefault(values, {})
                    of[class_] = of.get(class_, 0.0) + chance / whole * share / (len(known) or 1)
        after = sum(sum(of.values()) * entropy(of.values()) for of in outcomes.values())
        return entropy(now.values()) - after

    def alike(self, class_: str) -> tuple[ReferenceRow, ...]:
        """Reference substances of a class that read like the record; where these are too few, those of the same state."""
        if class_ not in self._alike:
            rows = [row for row in self.material.reference.rows if row.class_ == class_]
            state = str(self.record.readings["state"])
            read = self.record.readings.items()
            fitting = [row for row in rows if all(value in row.words.get(name, (value,)) for name, value in read)]
            if len(fitting) >= _ALIKE_ENOUGH:
                self.like_this.add(class_)
            else:
                fitting = [row for row in rows if state in row.words.get("state", ())]
            self._alike[class_] = tuple(fitting)
        return self._alike[class_]

    def showing(self, reading: str, *, opened: bool = False) -> _Showing | None:
        """
        What the open classes mostly show in a reading; None where one of them has no usual value.

        A test that another one opens the way to cannot be done with every class; those are left out.
        """
        classes: dict[tuple[str, ...], list[str]] = {}
        share: dict[str, float] = {}
        for class_ in self.open:
            known = [row.words[reading] for row in self.alike(class_) if reading in row.words]
            if len(known) < max(_FEWEST, _KNOWN * len(self.alike(class_))):
                if opened:
                    continue
                return None
            usual = _usual(known)
            if not usual:
                return None
            share[class_] = sum(usual.values())
            classes.setdefault(tuple(usual), []).append(class_)
        return _Showing(reading, classes, share) if classes else None

    # --- the answers -------------------------------------------------------------------------------

    def says(self, name: str) -> str:
        test = self.knowledge.tests[name]
        asks = ", with the teacher’s leave" if test.teacher else ""
        return f"{test.does} ({test.minutes:g} min{asks})"

    def most_telling(self, test: BenchTest, *, opened: bool = False) -> _Showing | None:
        """The reading of a test in which the open classes differ most clearly."""
        shown = [self.showing(kind.id, opened=opened) for kind in test.readings if kind.values]
        found = [each for each in shown if each and each.parts]
        return max(found, key=lambda each: (len(each.classes), min(each.share.values())), default=None)

    def why_right(self, proposed: NextTest) -> str:
        """What the test parts, and what each class would show; empty where that cannot be said in a sentence."""
        showing = self.decides(proposed)
        if showing is None:
            return ""
        if self.knowledge.test_of[showing.reading].id == proposed.test:
            return self.told_in_words(showing)
        then = lowered(self.knowledge.tests[proposed.opens].does)
        return f"It opens the way to another test: {then}. Where that can be done, {lowered(self.told_in_words(showing))}"

    def decides(self, proposed: NextTest | _Way) -> _Showing | None:
        """What parts the open classes: a reading of the test itself, or else of the test that it opens the way to."""
        own = self.most_telling(self.knowledge.tests[proposed.test])
        if own or not proposed.opens:
            return own
        return self.most_telling(self.knowledge.tests[proposed.opens], opened=True)

    def told_in_words(self, showing: _Showing) -> str:
        if self.names_classes:
            return sentence("; ".join(self.clauses(showing)))
        said = [" or ".join(_does(showing.reading, words)) for words in showing.classes]
        others = "".join(f", of others mostly {does}" for does in said[1:])
        return f"The classes that are still open differ in “{showing.reading}”: substances of some mostly {said[0]}{others}."

    def clauses(self, showing: _Showing) -> list[str]:
        """`nearly all metals like this stick to a magnet`, for each value."""
        state = str(self.record.readings["state"])
        found = []
        for words, names in showing.classes.items():
            does = _does(showing.reading, words)
            who = []
            for kept, like in ((True, " like this"), (False, "")):
                of = [name for name in names if (name in self.like_this) is kept]
                many = "of" if len(does) > 1 else _how_many(min((showing.share[name] for name in of), default=1.0))
                who += [f"{many} {listed([group(name, state) for name in of])}{like}"] if of else []
            found.append(f"{listed(who)}{', some' if len(does) > 1 else ''} {' and some '.join(does)}")
        return found

    def wrong(self, proposed: Sequence[NextTest], best: NextTest, told: float, chance: random.Random) -> dict[str, list[Option]]:
        """Answers that are wrong, by what is wrong with them."""
        found: dict[str, list[Option]] = {"little": [], "not yet": [], "done": []}
        rates = {each.test: each.per_minute for each in proposed}
        for name in chance.sample(self.material.tests, len(self.material.tests)):
            test = self.knowledge.tests[name]
            if was_made(test, self.record):
                why, kind = self.why_done(test), "done"
            elif not can_be_done(test, self.record):
                why, kind = self.why_not_yet(test) if name not in rates else "", "not yet"
            elif name in rates and not 0 < rates[name] <= _LITTLE * best.per_minute:
                continue
            else:
                why, kind = self.why_little(test, best, told), "little"
            if why and not any(option.why == why for option in found[kind]):
                found[kind].append(Option(self.says(name), name, False, why))
        return found

    def why_little(self, test: BenchTest, best: NextTest, told: float) -> str:
        """Why a test that can be done tells little for its time; empty where that is not clear."""
        if self.told(test) / test.minutes > _LITTLE_TOLD * told or not all(kind.values for kind in test.readings):
            return ""
        showings = [self.showing(kind.id) for kind in test.readings if kind.id not in self.record.readings]
        if all(each and not each.parts and min(each.share.values()) >= _SAME for each in showings):
            return self.same_in_words([each for each in showings if each])
        quicker = self.knowledge.tests[best.test]
        takes = sum(self.knowledge.tests[name].minutes for name in (best.test, best.opens) if name)
        if self.most_telling(test) and test.minutes >= _SLOWER * takes:
            asks = " and the teacher’s leave" if test.teacher else ""
            return (
                f"It may tell something, but it takes {test.minutes:g} minutes{asks}; to “{lowered(quicker.does)}” takes "
                f"{quicker.minutes:g} and tells more for its time."
            )
        return ""

    def same_in_words(self, showings: Sequence[_Showing]) -> str:
        if self.names_classes:
            said = "; ".join(self.clauses(each)[0] for each in showings)
        else:
            values = [" or ".join(_does(each.reading, *each.classes)) for each in showings]
            said = f"most substances of every class that is still open {listed(values)}"
        return f"{capitalised(said)}, so it would tell little."

    def why_done(self, test: BenchTest) -> str:
        seen = [phrase(kind.id, value) for kind in test.readings if (value := self.record.readings.get(kind.id))]
        return f"It was done already and showed that it {listed(seen)}; doing it again tells nothing new."

    def why_not_yet(self, test: BenchTest) -> str:
        """Why a test cannot be done, or not yet."""
        need = next(need for need in test.needs if not allows(need, self.record.readings))
        reading = need.reading or ""
        value = self.record.readings.get(reading)
        if value is not None:
            return _FORBIDS.get((test.id, reading), _FORBIDS[reading]).format(
                phrase=phrase(reading, value), wanted=listed([f"a {word}" for word in need.is_], "or")
            )
        before = self.knowledge.test_of[reading]
        if not can_be_done(before, self.record):
            return self.why_not_yet(before)
        return _TOO_SOON.get((test.id, reading), _TOO_SOON.get(reading, ""))

    def because(self, best: NextTest) -> str:
        """What the values in which the classes differ tell of the particles."""
        showing = self.decides(best)
        return " ".join(self.particles(showing)) if showing else ""

    def particles(self, showing: _Showing) -> Iterator[str]:
        before = chain(self.record.readings, self.knowledge).facts
        for word in dict.fromkeys(word for words in showing.classes for word in words):
            after = chain({**self.record.readings, showing.reading: word}, self.knowledge).facts
            new = [self.knowledge.facts[name] for name in after if name not in before and name not in NO_MEANING]
            new.sort(key=lambda fact: fact.subtype is not None)
            said = next((fact.says for fact in new if may_be_said(fact.says, self.material, supposed=True)), None)
            if said:
                yield f"If it {phrase(showing.reading, word)}, {lowered(said)}"

    def decisive(self, best: NextTest) -> str:
        test = self.knowledge.tests[best.test]
        asks = " Ask the teacher first." if test.teacher else ""
        hammer = any("hammer" in item for item in test.apparatus)
        cautions = [self.knowledge.cautions[key] for key in test.cautions if key != "splinters" or hammer]
        care = next(
            (f" {each.says}" for each in cautions if not each.always and may_be_said(each.says, self.material, supposed=True)), ""
        )
        return f"{test.does}; that takes {_minutes(test.minutes)}.{asks}{care}"

    def hard(self, proposed: Sequence[NextTest]) -> dict[str, float]:
        rates = [each.per_minute for each in proposed if each.per_minute < _NEARLY * proposed[0].per_minute]
        many = len(self.record.readings)
        return {
            "the second best test is close": max(0.0, max(rates, default=0.0) / proposed[0].per_minute - _LITTLE)
            / (_NEARLY - _LITTLE),
            f"{len(self.open)} classes are open": (len(self.open) - 2) / 3,
            f"there are already {many} readings to take in": min(1.0, max(0, many - 2) / 5),
            "the substance is no plain example of its class": float(self.knowledge.is_awkward(self.row.subtype)),
        }


def _outcomes(row: ReferenceRow, test: BenchTest, record: Record) -> dict[tuple[str, ...], float]:
    """Everything that a substance may honestly show in a test, with its chance [-]; nothing where it is not known."""
    known = [row.words[kind.id] for kind in test.readings if kind.id in row.words and kind.id not in record.readings]
    chance = 1 / math.prod(len(words) for words in known)
    return dict.fromkeys(itertools.product(*known), chance) if known else {}


def _mixed(wrong: dict[str, list[Option]], many: int, chance: random.Random) -> list[Option]:
    """Some wrong answers of each sort: mostly tests that tell little, at most two that cannot be done, one that is done."""
    found = {kind: chance.sample(options, len(options)) for kind, options in wrong.items()}
    ordered = [*found["little"][:1], *found["not yet"][:1]]
    rest = [*found["little"][1:], *found["not yet"][1:2], *found["done"][:1]]
    return (ordered + chance.sample(rest, len(rest)))[:many]


def _usual(known: Sequence[Sequence[str]]) -> dict[str, float]:
    """The value that most substances show, or two that are both common, with their shares [-]; nothing where there are none."""
    often = dict.fromkeys((word for words in known for word in words), 0.0)
    for words in known:
        for word in words:
            often[word] += 1 / len(words) / len(known)
    ordered = sorted(often, key=lambda word: (-often[word], word))[:2]
    if often[ordered[0]] >= _MOST:
        return {ordered[0]: often[ordered[0]]}
    both = {word: often[word] for word in sorted(ordered)}
    return both if sum(both.values()) >= _BOTH and min(both.values()) >= _SOME else {}


def _does(reading: str, words: Sequence[str]) -> list[str]:
    return [plain_form(phrase(reading, word)) for word in words]


def _how_many(share: float) -> str:
    return "nearly all" if share >= 0.9 else "most" if share >= 0.6 else "many"


def _minutes(minutes: float) -> str:
    return f"{minutes:g} minute{'' if minutes == 1 else 's'}"


# Why what was read rules a test out: by the reading that the test needs first, or by test and reading.
_FORBIDS: dict[str | tuple[str, str], str] = {
    "state": "It {phrase}, and this test is made on {wanted} only.",
    "in water": "It {phrase}, so there is no solution to test.",
    ("dilute acid test", "in water"): "It {phrase} alone, and what does that may react violently with acid.",
    ("density", "in water"): "It {phrase}, so its volume cannot be found from the water that it displaces.",
    "in the warm bath": "It {phrase} already, so it is not heated further.",
    "on the hot plate": "It {phrase} already, so it is not heated further.",
    "in the burner flame": "It {phrase}, so there is no melt to test.",
}
# Why a test comes too soon: by the reading that is still missing.
_TOO_SOON: dict[str | tuple[str, str], str] = {
    "in water": "Nothing has been shaken with water yet, so there is no solution to test.",
    ("dilute acid test", "in water"): "Water comes first: what reacts with water may react violently with acid.",
    ("density", "in water"): "Water comes first: what dissolves in it or reacts with it needs another way to find its volume.",
    "in the warm bath": "Gentle heat comes first: it has not been warmed in the bath yet.",
    "on the hot plate": "Gentle heat comes first: it has not been tried on the hot plate yet.",
    "in the burner flame": "It comes too soon: whether it melts in the burner flame is not known yet.",
}
