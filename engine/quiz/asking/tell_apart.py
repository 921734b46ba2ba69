"""Which test tells these two substances apart? Which single test tells these two classes apart most surely?"""

from __future__ import annotations

import random
import re
from collections.abc import Mapping, Sequence
from itertools import combinations

import msgspec

from spotplate.engine.bench.outlook import divergence
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.look_alikes import Kind as SubstanceKind
from spotplate.engine.quiz.look_alikes import LookAlikes, look_alikes
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Item, Kind, Option, Question
from spotplate.engine.quiz.seen import reason_of, reason_of_class, told_together
from spotplate.engine.quiz.wording import capitalised, listed, lowered, phrase, plain_form
from spotplate.engine.reasoning import cited
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.resemblance import alike, number_unit
from spotplate.engine.sets.telling_apart import parting_readings
from spotplate.kb import BenchTest

_FEWEST_OPTIONS, _MOST_WRONG, _MOST_RIGHT = 3, 3, 2
_WITHOUT_REASON = 0.25  # [-] how often a test is chosen of whose readings no reason is told, beside one with reasons
_BY_DEGREES = 0.2  # [-] how often a test is chosen in which the two differ by degrees only, beside one with plain differences
_SENTENCE_END = re.compile(r"(?<=\.) ")
_DEGREE = re.compile(r"\b(partly|faintly|withstands)\b")
_FEW = 6  # tests that part a pair, from which on finding one is no longer hard

# Values that two substances may share while a careful eye still tells them apart: another gas, smell, course or temperature.
_NOT_REALLY_ALIKE = {
    "smell": ("smell",),
    "in water": ("reacts",),
    "gas in dilute acid": ("hydrogen", "other gas"),
    "in the warm bath": ("breaks down",),
    "on the hot plate": ("breaks down",),
    "on the cold glass": ("crystals or film",),
    "in the burner flame": ("breaks down", "burns"),
    "burning": ("brilliant light", "smoulders"),
}
_AT_ITS_OWN_TEMPERATURE = {"melts": "melting range", "sublimes": "melting range", "boils": "boiling point"}
_NOT_TO_BE_DONE = {
    "solution conductivity test": "Neither of them dissolves in water, so there is no solution to try.",
    "litmus test": "Neither of them dissolves in water, so there is no solution to touch.",
    "melt conductivity test": "Neither of them melts in the burner flame, so there is no melt to try.",
}
_NOT = "does not "
_FLAMES = {"clean flame", "sooty flame"}
_NO_CHANGE = "no change"
_FLOATS, _SINKS = 970.0, 1030.0  # kg/m3, below and above which a substance surely floats on water, or sinks in it
_NUMBERS = {"melting range": "melts", "boiling point": "boils", "density": "has a density"}


def items(material: Material) -> tuple[Item, ...]:
    """
    One item for each two classes, and one for each two kinds of substances that look alike.

    Of named substances nothing is asked where names are secret.
    """
    of_classes = tuple(Item(Kind.TELL_APART, topic, first) for topic, (first, _) in _pairs_of_classes(material).items())
    if material.secrecy is not Secrecy.NAMES:
        return of_classes
    return (*of_classes, *(_item(kinds, material) for kinds in _look_alikes(material)))


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """A pair of the item's kinds, and tests to choose from: some part it, the others cannot."""
    chance = random.Random(f"{item.key} {draw}")
    classes = _pairs_of_classes(material).get(item.topic)
    if classes:
        return _of_classes(item, draw, classes, chance, material)
    if material.secrecy is not Secrecy.NAMES:
        return None
    pairs = next((pairs for kinds, pairs in _look_alikes(material).items() if _topic(kinds) == item.topic), ())
    return _of_substances(item, draw, chance.choice(pairs), chance, material) if pairs else None


class _Shown(msgspec.Struct, frozen=True):
    """A test that parts two, what they show in it in a sentence, and the particle-level reason, or empty."""

    test: BenchTest
    says: str
    because: str
    source: str = ""


# --- two named substances ------------------------------------------------------------------------------


def _look_alikes(material: Material) -> dict[tuple[SubstanceKind, SubstanceKind], list[LookAlikes]]:
    """Pairs of kinds → pairs of substances of these kinds that can be asked of."""

    def make() -> dict[tuple[SubstanceKind, SubstanceKind], list[LookAlikes]]:
        found = look_alikes(material.substances, material.reference, material.knowledge)
        askable = {kinds: [pair for pair in pairs if _is_askable(pair, material)] for kinds, pairs in found.items()}
        return {kinds: pairs for kinds, pairs in askable.items() if pairs}

    return material.once("look-alikes", make)


def _is_askable(pair: LookAlikes, material: Material) -> bool:
    """Whether some test parts the two for a reason that can be told, and enough tests cannot part them."""
    if not any(test.because for test in _parting_tests(pair, material)):
        return False
    return len(_useless_tests(pair, material)) >= _FEWEST_OPTIONS - 1


def _topic(kinds: tuple[SubstanceKind, SubstanceKind]) -> str:
    return " or ".join(dict.fromkeys(", ".join(filter(None, kind)) for kind in kinds))


def _item(kinds: tuple[SubstanceKind, SubstanceKind], material: Material) -> Item:
    """A wrong answer counts under the kind that is less like its class."""
    class_, subtype = max(kinds, key=lambda kind: material.knowledge.is_awkward(kind[1]))
    return Item(Kind.TELL_APART, _topic(kinds), class_, subtype)


def _parting_tests(pair: LookAlikes, material: Material) -> list[_Shown]:
    """Every test on which the two never read alike."""
    knowledge = material.knowledge
    found = []
    tests = [
        name for name in material.tests if name != _NOT_A_TEST_OF_ITS_OWN
    ]  # how look-alikes look is a matter of grains and dust
    for name, readings in parting_readings(pair.first, pair.second, tests, knowledge).items():
        told = [
            _told_apart(pair, reading, material)
            for reading in readings
            if not _is_a_film(pair, reading) and not _is_a_matter_of_soot(pair, reading)
        ]
        if not told:
            continue
        says, because, reading = max(told, key=lambda each: bool(each[1]))
        seen = material.quiz.seen.get(reading)
        found.append(_Shown(knowledge.tests[name], says, because, cited(seen.source, knowledge) if seen else ""))
    return found


def _is_a_film(pair: LookAlikes, reading: str) -> bool:
    """Whether a metal takes on a film of oxide in it, which is written down like a substance that breaks down."""
    return any(row.class_ == "metallic" and "breaks down" in row.words.get(reading, ()) for row in (pair.first, pair.second))


def _is_a_matter_of_soot(pair: LookAlikes, reading: str) -> bool:
    """Whether both burn with a flame; how much soot it gives depends on the portion and on the air as well."""
    return all(set(row.words.get(reading, ())) & _FLAMES for row in (pair.first, pair.second))


def _told_apart(pair: LookAlikes, reading: str, material: Material) -> tuple[str, str, str]:
    """What the two show in a reading, and why."""
    first, second = (_shows(row, reading, material) for row in (pair.first, pair.second))
    says = f"{capitalised(pair.first.name)} {first}, while {pair.second.name} {second}."
    because = " ".join(
        f"{capitalised(row.name)}: {lowered(reason)}"
        for row in (pair.first, pair.second)
        if (reason := _reason_in(row, reading, material))
    )
    return says, because, reading


def _reason_in(row: ReferenceRow, reading: str, material: Material) -> str:
    """The reason for what is seen first; none where nothing may be seen just as well, which it would contradict."""
    values = row.words.get(reading, ())
    if not values or (len(values) > 1 and _NO_CHANGE in values):
        return ""
    return reason_of(row, reading, values[0], material.quiz)


def _shows(row: ReferenceRow, reading: str, material: Material) -> str:
    if reading in row.words:
        said = [phrase(reading, value) for value in row.words[reading]]
        if len(said) > 1 and any(" but " in words for words in said):
            return f"either {', or '.join(said)}"
        return told_together(said, "or")
    unit = number_unit(reading, material.knowledge)
    number = row.numbers[reading]
    value, amount = str(number.interval(unit)), _rounded(number.interval(unit).low, unit)
    if reading == "density":
        return f"has a density of about {amount}"
    return f"{_NUMBERS[reading]} {'only above' if value.startswith('>') else 'near'} {amount}"


def _rounded(value: float, unit: str) -> str:
    """A number [SI] as one says it: whole degrees, a tenth of a gram."""
    if unit == "°C":
        return f"{value - 273.15:.0f} °C"
    return f"{value / 1000:.1f} g/cm³"


def _useless_tests(pair: LookAlikes, material: Material) -> dict[str, str]:
    """Test → why it cannot tell the two apart: both certainly read alike, or it can be done on neither of them."""
    found = {}
    for name in material.tests:
        test = material.knowledge.tests[name]
        if name in _NOT_TO_BE_DONE and all(_cannot_be_done(test, row) for row in (pair.first, pair.second)):
            found[name] = _NOT_TO_BE_DONE[name]
        elif all(_certainly_alike(pair, kind.id, material) for kind in test.readings):
            found[name] = f"{_both(pair, test)}, so it does not tell them apart."
    return found


def _both(pair: LookAlikes, test: BenchTest) -> str:
    """What both substances show in a test: “Both break under the hammer”, “Neither burns”."""
    said = [phrase(kind.id, pair.first.words[kind.id][0]) for kind in test.readings if kind.id != "state"]
    neither = told_together([_without_not(words) for words in said if words.startswith(_NOT)], "or")
    both = told_together([plain_form(words) for words in said if not words.startswith(_NOT)], "and")
    if not neither:
        return f"Both {both}"
    return f"Neither {neither}, and both {both}" if both else f"Neither {neither}"


def _without_not(words: str) -> str:
    """`does not stick to a magnet` → `sticks to a magnet`."""
    verb, _, rest = words.removeprefix(_NOT).partition(" ")
    return f"{verb}s {rest}".strip()


def _cannot_be_done(test: BenchTest, row: ReferenceRow) -> bool:
    """Whether nothing that the substance may show meets what the test needs first, of what comes last before it."""
    if not test.needs or not (reading := test.needs[-1].reading):
        return False
    return reading in row.words and not set(row.words[reading]) & set(test.needs[-1].is_)


def _certainly_alike(pair: LookAlikes, reading: str, material: Material) -> bool:
    """Whether the two can show but one value, the same one, and no careful eye sees a difference in it."""
    ours, theirs = pair.first.words.get(reading, ()), pair.second.words.get(reading, ())
    if len(ours) != 1 or ours != theirs:
        return False
    value = ours[0]
    if value in _NOT_REALLY_ALIKE.get(reading, ()):
        return False
    if reading == "colour":
        return _same(pair, "colour", material)
    if reading == "flame colour":
        return _same(pair, "flame_colour", material)
    if reading == "in water" and value == "does not dissolve" and not _both_sink_or_float(pair):
        return False
    number = _AT_ITS_OWN_TEMPERATURE.get(value)
    return number is None or _same_number(pair, number, material)


def _same(pair: LookAlikes, column: str, material: Material) -> bool:
    first, second = (material.substances[row.name] for row in (pair.first, pair.second))
    return bool(getattr(first, column) == getattr(second, column))


def _both_sink_or_float(pair: LookAlikes) -> bool:
    """Whether both lie below the water or both on it, as far as that is known."""
    densities = [row.numbers["density"].value for row in (pair.first, pair.second) if "density" in row.numbers]
    return all(each < _FLOATS for each in densities) or all(each > _SINKS for each in densities)


def _same_number(pair: LookAlikes, reading: str, material: Material) -> bool:
    if not all(reading in row.numbers for row in (pair.first, pair.second)):
        return False
    return alike(reading, pair.first, pair.second, material.knowledge) == 1


def _of_substances(item: Item, draw: int, pair: LookAlikes, chance: random.Random, material: Material) -> Question | None:
    parting, useless = _parting_tests(pair, material), _useless_tests(pair, material)
    right = _some_right(parting, chance)
    wrong = chance.sample(sorted(useless), min(_MOST_WRONG, len(useless)))
    first, second = pair.first, pair.second
    awkward = any(material.knowledge.is_awkward(row.subtype) for row in (first, second))
    hard = difficulty(
        {
            "few tests tell the two apart": max(0.0, 1 - (len(parting) - 1) / _FEW),
            "the two are alike in most readings": max(0.0, 2 * pair.close - 1),
            "the two are of one class": float(first.class_ == second.class_),
            "one of them is of an awkward kind": float(awkward),
        }
    )
    careful = any(row.school_use != "students" for row in (first, second))
    question = _question(item, draw, right, {name: useless[name] for name in wrong}, chance, material, careful)
    says = f"Which of these tests tells {first.name} and {second.name} apart?"
    return msgspec.structs.replace(question, says=says, difficulty=hard, subtype=item.subtype)


def _some_right(parting: Sequence[_Shown], chance: random.Random) -> list[_Shown]:
    """A test with its reason, and now and then another that would do as well."""
    reasoned = [test for test in parting if test.because]
    chosen = chance.choices(reasoned, [_BY_DEGREES if _DEGREE.search(test.says) else 1.0 for test in reasoned])
    said = set(_SENTENCE_END.split(chosen[0].because))  # a reason that holds in two tests is not told twice
    left = [test for test in parting if test not in chosen and not said & set(_SENTENCE_END.split(test.because))]
    if left and chance.random() < 1 / _MOST_RIGHT:
        chosen += chance.choices(left, [1.0 if test.because else _WITHOUT_REASON for test in left])
    return chosen


# --- two classes ---------------------------------------------------------------------------------------

_NEARLY_AS_GOOD, _MUCH_WORSE = 0.85, 0.3  # [-] of what the best test tells
_TELLS_LITTLE = 0.15  # bit
_SAME_IN_MOST = 0.6  # [-] share of both classes that show the same value, so that the test is said to tell little
_CANNOT = "it cannot be made"
_MANY = 0.3  # [-] share of a class from which on "many" of it show something
_NOT_A_TEST_OF_ITS_OWN = "look"  # everybody looks first


def _pairs_of_classes(material: Material) -> dict[str, tuple[str, str]]:
    """Topic → two classes. Of a set that is assessed not even the classes are told, so any two are asked of."""

    def make() -> dict[str, tuple[str, str]]:
        pairs = combinations(material.classes_told, 2)
        found = {f"a solid that is {first} or {second}": (first, second) for first, second in pairs}
        return {topic: pair for topic, pair in found.items() if _can_be_asked(pair, material)}

    return material.once("pairs of classes", make)


def _can_be_asked(classes: tuple[str, str], material: Material) -> bool:
    best, useless = _best_tests(classes, material), _poor_tests(classes, material)
    return bool(best) and len(best[:_MOST_RIGHT]) + len(useless) >= _FEWEST_OPTIONS


def _chances(class_: str, reading: str, material: Material) -> Mapping[str, float]:
    """Value → how often solids of a class show it [-]; that the test cannot be made counts as a value of its own."""
    return material.once(("solids that show", class_, reading), lambda: _counted(class_, reading, material))


def _counted(class_: str, reading: str, material: Material) -> dict[str, float]:
    counts = dict.fromkeys((*material.knowledge.readings[reading].words(), _CANNOT), 0.0)
    for row in material.reference.rows:
        if row.class_ != class_ or row.words["state"] != ("solid",):
            continue
        values: tuple[str, ...] = row.words.get(reading, ())
        if not values and _cannot_be_done(material.knowledge.test_of[reading], row):
            values = (_CANNOT,)
        for value in values:
            counts[value] += 1 / len(values)
    whole = sum(counts.values())
    return {value: count / whole for value, count in counts.items()} if whole else counts


def _told(classes: tuple[str, str], material: Material) -> dict[str, tuple[float, str]]:
    """Test → what it tells of the two classes [bit], and the reading that tells most."""
    found: dict[str, tuple[float, str]] = {}
    for name in material.tests:
        readings = [kind.id for kind in material.knowledge.tests[name].readings if kind.values]
        if readings and name != _NOT_A_TEST_OF_ITS_OWN:
            found[name] = max((divergence(*(_chances(each, kind, material) for each in classes)), kind) for kind in readings)
    return found


def _best_tests(classes: tuple[str, str], material: Material) -> list[_Shown]:
    """
    The test that tells most of the two classes, and those that tell nearly as much; the first one has a reason.

    One that many of a class cannot undergo, and in which the others show nothing of their own, is left out.
    """
    told = {name: each for name, each in _told(classes, material).items() if min(_marks(classes, each[1], material)[1]) >= _MANY}
    most = max(bits for bits, _ in told.values()) if told else 0.0
    if most <= _TELLS_LITTLE:
        return []
    good = sorted((name for name in told if told[name][0] >= _NEARLY_AS_GOOD * most), key=lambda name: -told[name][0])
    if any(told[name][1] not in material.quiz.seen for name in good):
        return []  # one of them would be right without a reason that could be given
    shown = [_shown_by_classes(classes, name, told[name][1], material) for name in good]
    return sorted(shown, key=lambda test: not test.because)  # the order is kept otherwise


def _poor_tests(classes: tuple[str, str], material: Material) -> dict[str, str]:
    """Test → why it tells little of the two classes: most of both show the same."""
    told = _told(classes, material)
    most = max(bits for bits, _ in told.values()) if told else 0.0
    found = {}
    for name, (bits, _) in told.items():
        kinds = material.knowledge.tests[name].readings
        both = next(filter(None, (_shown_by_both(classes, kind.id, material) for kind in kinds if kind.values)), "")
        if both and bits <= min(_TELLS_LITTLE, _MUCH_WORSE * most):
            found[name] = f"Most {classes[0]} and most {classes[1]} solids {both}, so it tells little."
    return found


def _shown_by_both(classes: tuple[str, str], reading: str, material: Material) -> str:
    """What most solids of both classes do; empty where there is nothing."""
    chances = [_chances(each, reading, material) for each in classes]
    common = max(material.knowledge.readings[reading].words(), key=lambda value: min(each[value] for each in chances))
    return plain_form(phrase(reading, common)) if min(each[common] for each in chances) >= _SAME_IN_MOST else ""


def _shown_by_classes(classes: tuple[str, str], test: str, reading: str, material: Material) -> _Shown:
    """What the classes show that parts them, and why."""
    marks, shares = _marks(classes, reading, material)
    said = [
        f"{_how_many(share)} {class_} solids {plain_form(phrase(reading, mark))}"
        for share, class_, mark in zip(shares, classes, marks, strict=True)
    ]
    because = " ".join(
        f"{capitalised(class_)} substances: {lowered(reason)}"
        for class_, mark in zip(classes, marks, strict=True)
        if (reason := reason_of_class(class_, reading, mark, material.quiz))
    )
    source = cited(material.quiz.seen[reading].source, material.knowledge)
    says = f"{capitalised(said[0])}, while {said[1]}."
    return _Shown(material.knowledge.tests[test], says, because, source)


def _marks(classes: tuple[str, str], reading: str, material: Material) -> tuple[list[str], list[float]]:
    """The value that each of two classes shows most beyond the other, and how often it does [-]."""
    chances = [_chances(each, reading, material) for each in classes]
    words = material.knowledge.readings[reading].words()
    marks = [max(words, key=lambda value: own[value] - other[value]) for own, other in (chances, chances[::-1])]
    return marks, [chances[place][marks[place]] for place in (0, 1)]


def _how_many(share: float) -> str:
    """A share [-] in a word."""
    return "nearly all" if share >= 0.9 else "most" if share >= 0.55 else "many" if share >= _MANY else "some"


def _of_classes(item: Item, draw: int, classes: tuple[str, str], chance: random.Random, material: Material) -> Question:
    best, poor = _best_tests(classes, material), _poor_tests(classes, material)
    wrong = chance.sample(sorted(poor), min(_MOST_WRONG, len(poor)))
    one = len(best) == 1 or (chance.random() < 1 / _MOST_RIGHT and len(wrong) >= _FEWEST_OPTIONS - 1)
    right = best[:1] if one else sorted(chance.sample(best, _MOST_RIGHT), key=best.index)
    most = max(bits for bits, _ in _told(classes, material).values())
    question = _question(item, draw, right, {name: poor[name] for name in wrong}, chance, material)
    says = (
        f"You have looked at a solid, and it may be {listed(classes, 'or')}. "
        "Which of these tests tells most surely which of the two it is?"
    )
    hard = difficulty(
        {"no test parts the two surely": 1 - most, "several tests tell about as much": min(1.0, (len(best) - 1) / 3)}
    )
    return msgspec.structs.replace(question, says=says, difficulty=hard)


# --- both ------------------------------------------------------------------------------------------------


def _question(
    item: Item,
    draw: int,
    right: Sequence[_Shown],
    wrong: Mapping[str, str],
    chance: random.Random,
    material: Material,
    careful: bool = False,
) -> Question:
    """The options and the reply; what is asked is put in by the caller. `careful`: no test is made without the teacher."""
    tests = material.knowledge.tests
    one = len(right) == 1  # of several right answers each brings its own reason
    options = [
        Option(test.test.does, test.test.id, True, test.says if one else f"{test.says} {test.because}".strip()) for test in right
    ]
    options += [Option(tests[name].does, name, False, why) for name, why in wrong.items()]
    settle = [f"{test.test.does}{', if your teacher agrees' if test.test.teacher or careful else ''}" for test in right]
    return Question(
        item=item,
        draw=draw,
        says="",
        readings={},
        options=tuple(chance.sample(options, len(options))),
        difficulty=difficulty({}),
        because=right[0].because if one else "",
        decisive=f"{'; or '.join([settle[0], *map(lowered, settle[1:])])}.",
        sources=tuple(dict.fromkeys(test.source for test in right if test.source)),
    )
