"""Which reading was written down wrongly: a record of a reference substance with one reading planted wrong."""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping

from spotplate.engine.expected import needs_met, only_makeable
from spotplate.engine.identification import identify
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Item, Kind, Option, Question
from spotplate.engine.quiz.wording import NO_MEANING, expected, lowered, may_be_said, phrase, plain_form, sentence
from spotplate.engine.reasoning import Chained, Ranked, Reason, chain, rank, reasons
from spotplate.engine.record import ReadValue, Record
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.resemblance import Resemblance, prior_of_table, resemblance
from spotplate.engine.second_opinion.misread import Predicted, predicted
from spotplate.kb import KnowledgeBase, ReadingKind

ASKS = "One of these readings was written down wrongly. Which?"
_TRIES = 60  # plantings that a draw tries, at most
_READINGS = (6, 9)
_OPTIONS = (4, 5, 6)
_FIRST = 0.85  # [-] probability of a misreading that the planted reading has at least
_NEXT = 0.15  # [-] the same that every other reading has at most
_EXPECTED = 0.7  # [-] probability of the value that the rest lead one to expect, at least
_PLAUSIBLE = 0.3  # [-] the same for a right reading that is offered as an answer
_SWING = 5.0  # [decibans] by which the class leads the more without the planted reading, at least
_LEADS = 0.6  # [-] probability of the class without the planted reading, at least
# Readings of which it can hardly ever be told from the rest that they are wrong, at most once in eight draws.
_HARDLY_TOLD = {
    "colour": ("ionic", "metallic", "covalent network"),
    "lustre": ("covalent network",),
    "hardness": ("polar molecular", "covalent network"),
    "solution conductivity": ("metallic", "polar molecular", "nonpolar molecular", "covalent network"),
    "melt conductivity": ("covalent network",),
    "in water": ("ionic", "polar molecular"),
    "solution acidity": ("metallic", "covalent network"),
    "in non-polar solvent": ("nonpolar molecular",),
    "solid in dilute acid": ("metallic", "nonpolar molecular", "covalent network"),
    "on the hot plate": ("polar molecular",),
    "on the cold glass": ("polar molecular",),
    "in the burner flame": ("covalent network",),
    "flame colour": ("metallic",),
}
# What a cause speaks of that is at work with metals only.
_OF_METALS = (
    "a soft metal",
    "of metal bent",
    "another metal",
    "a metal touched",
    "a metal in",
    "a metal was kept",
    "and a metal",
)
_CERTAIN = 0.85  # [-] probability from which the rest are said to leave little doubt
_NEVER = frozenset({"state"})  # planted wrong, it would have ruled out the tests that follow


def items(material: Material) -> tuple[Item, ...]:
    """Every reading that can be planted wrong, with each class whose substances are to be recognised in spite of it."""
    rows = material.rows_met
    found: dict[str, Item] = {}
    for kind in _kinds(material):
        for class_ in material.knowledge.classes:
            if class_ in _HARDLY_TOLD.get(kind.id, ()):
                continue
            against = _against(kind, class_, material.knowledge)
            if any(against.intersection(_wrong_values(kind, row)) for row in rows if row.class_ == class_):
                item = _item(kind.id, class_, material.secrecy)
                found[item.key] = item
    return tuple(found.values())


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """A record with the reading of the item planted wrong, where that can be told from the rest."""
    chance = random.Random(f"{item.key} {draw}")
    for row, record, reading in _plantings(item, material, chance):
        planting = _Planting(row, record, reading, material)
        if planting.is_fair():
            return _question(item, draw, planting, chance)
    return None


def _item(reading: str, class_: str, secrecy: Secrecy) -> Item:
    if secrecy is Secrecy.NOTHING:
        return Item(Kind.MISREAD, reading)
    return Item(Kind.MISREAD, f"{reading} ({class_})", class_)


def _kinds(material: Material) -> Iterator[ReadingKind]:
    for name in material.tests:
        for kind in material.knowledge.tests[name].readings:
            if kind.values and kind.id not in _NEVER:
                yield kind


def _wrong_values(kind: ReadingKind, row: ReferenceRow) -> list[str]:
    honest = row.words.get(kind.id)
    return [word for word in kind.words() if word not in honest] if honest else []


def _against(kind: ReadingKind, class_: str, knowledge: KnowledgeBase) -> set[str]:
    """The values of a reading that the rules hold against a class; only these can be told to be wrong."""
    kept: dict[str, dict[str, set[str]]] = knowledge.__dict__.setdefault("held against", {})
    if kind.id not in kept:
        needs = {need.reading or "": need.is_[0] for need in knowledge.test_of[kind.id].needs}
        kept[kind.id] = {name: set() for name in knowledge.classes}
        for word in kind.words():
            conflicting = kind.id in _in_conflicts(word, knowledge)
            ranking = rank(chain({**needs, kind.id: word}, knowledge).firings, knowledge)
            for each in ranking:
                if conflicting or ranking[0].decibans - each.decibans >= _SWING:
                    kept[kind.id][each.class_].add(word)
    return kept[kind.id][class_]


def _in_conflicts(word: str, knowledge: KnowledgeBase) -> set[str]:
    """The readings of which a rule says that this value cannot stand beside others."""
    rules = [rule for rule in knowledge.rules if rule.conflict]
    return {each.reading for rule in rules for each in rule.conditions() if each.reading and word in each.is_}


def _plantings(item: Item, material: Material, chance: random.Random) -> Iterator[tuple[ReferenceRow, Record, str]]:
    """Records of six to nine readings with one planted wrong, on which every test could have been done."""
    reading = item.topic.partition(" (")[0]
    kind = material.knowledge.readings[reading]
    values = {
        row.name: _against(kind, row.class_, material.knowledge).intersection(_wrong_values(kind, row))
        for row in material.rows_met
    }
    rows = [row for row in material.rows_met if item.class_ in ("", row.class_) and values[row.name]]
    if not rows:
        return
    use = material.knowledge.second_opinion.candidates.school_use
    weights = [use[row.school_use] for row in rows]
    shown = [each.id for name in material.tests for each in material.knowledge.tests[name].readings if each.values]
    for _ in range(_TRIES):
        row = chance.choices(rows, weights)[0]
        honest = {name: chance.choice(row.words[name]) for name in shown if name in row.words}
        if reading not in only_makeable(dict(honest), material.knowledge):
            continue
        wrong = sorted(values[row.name])
        readings = only_makeable({**honest, reading: chance.choice(wrong)}, material.knowledge)
        if reading in readings and (kept := _some(readings, reading, material, chance)):
            yield row, Record(kept), reading


def _some(
    readings: Mapping[str, ReadValue], reading: str, material: Material, chance: random.Random
) -> dict[str, ReadValue] | None:
    """Six to nine of the readings, the planted one among them, each with what its test needs first."""
    knowledge = material.knowledge
    many = chance.randint(*_READINGS)
    kept = dict.fromkeys(("state", *_needed(reading, material)))
    for name in (reading, *chance.sample(list(readings), len(readings))):
        if len(kept) < many and len({*kept, name, *_needed(name, material)}) <= many:
            kept |= dict.fromkeys((*_needed(name, material), name))
    # As on a record: in the order of the bench tests, each after what it needs first.
    place = {name: at for at, name in enumerate(knowledge.readings)}
    ordered = sorted(
        kept,
        key=lambda name: (
            max(place[each] for each in (name, *_needed(name, material))),
            len(_needed(name, material)),
            place[name],
        ),
    )
    found = {name: readings[name] for name in ordered if name in readings}
    whole = reading in found and all(needs_met(name, found, knowledge) for name in found)
    return found if whole and len(found) >= _READINGS[0] else None


def _needed(reading: str, material: Material) -> list[str]:
    """Every reading that must come before, step by step."""
    before = [need.reading or "" for need in material.knowledge.test_of[reading].needs]
    return [*(earlier for name in before for earlier in _needed(name, material)), *before]


class _Planting:
    """A record with one reading planted wrong, and what speaks for and against each of its readings."""

    def __init__(self, row: ReferenceRow, record: Record, reading: str, material: Material) -> None:
        self.row = row
        self.record = record
        self.reading = reading
        self.material = material
        self.knowledge = material.knowledge
        self.rest = record.without(reading)
        self.names_class = material.secrecy is not Secrecy.NOTHING

    def is_fair(self) -> bool:
        """Whether the planted reading, and it alone, does not go with the rest: by the table, by the rules, by the engine."""
        first = self.ranked(self.rest)[0]
        if first.class_ not in self.row.classes or first.probability < _LEADS or not self.speaks_against():
            return False
        misread = self.found.misread
        others = [chance for name, chance in misread.items() if name != self.reading]
        if misread[self.reading] < _FIRST or max(others) > _NEXT or not self.stands_out():
            return False
        best = self.expected[0]
        if best.probability < _EXPECTED or best.value not in self.row.words[self.reading]:
            return False
        suspects = identify(self.record, self.knowledge, advise=False).suspects
        if any(suspect.explained_by for suspect in suspects if suspect.reading == self.reading):
            return False
        # The engine keeps quiet below its own threshold; where it speaks, it must name the planted reading.
        return all(suspect.reading == self.reading or suspect.probability <= _NEXT for suspect in suspects)

    def speaks_against(self) -> bool:
        """Whether the rules hold the planted reading against the class, or against the other readings."""
        return bool(self.conflict()) or self.lead(self.rest) - self.lead(self.record) >= _SWING

    def stands_out(self) -> bool:
        """Whether leaving out the planted reading brings the class forward, and leaving out another does far less."""
        swings = self.swings()
        own = swings.pop(self.reading)
        return max(swings.values()) <= max(own, _SWING) / 2

    def swings(self) -> dict[str, float]:
        """For each reading, by how much more the class of the substance leads without it [decibans]."""
        now = self.lead(self.record)
        return {name: self.lead(self.record.without(name)) - now for name in self.record.readings}

    def lead(self, record: Record) -> float:
        ranking = self.ranked(record)
        own = max(each.decibans for each in ranking if each.class_ in self.row.classes)
        return own - max(each.decibans for each in ranking if each.class_ not in self.row.classes)

    def ranked(self, record: Record) -> tuple[Ranked, ...]:
        return rank(self.chained(record).firings, self.knowledge)

    def chained(self, record: Record) -> Chained:
        return chain(record.readings, self.knowledge)

    @property
    def found(self) -> Resemblance:
        return self.resembling(self.record)

    def resembling(self, record: Record) -> Resemblance:
        reference = self.material.reference
        return resemblance(record, prior_of_table(reference, self.knowledge), reference, self.knowledge)

    @property
    def expected(self) -> tuple[Predicted, ...]:
        """What the rest lead one to expect of the planted reading, likeliest first."""
        return predicted(self.record, self.reading, self.found, self.material.reference, self.knowledge)

    def fitting(self) -> dict[str, tuple[float, bool]]:
        """For each right reading, how probable the others make it [-], and whether they make no other value likelier."""
        found = self.resembling(self.rest)
        told = {}
        for name, value in self.rest.readings.items():
            chances = predicted(self.rest, name, found, self.material.reference, self.knowledge)
            told[name] = next(each.probability for each in chances if each.value == value), chances[0].value == value
        return told

    # --- in words ----------------------------------------------------------------------------------

    def why_planted(self) -> str:
        best = self.expected[0]
        value = self.record.readings[self.reading]
        said = (
            f"By the other readings one would expect it {expected(phrase(self.reading, best.value))}, "
            f"with a probability of {100 * min(best.probability, 0.99):.0f} %; that it {phrase(self.reading, value)} does not "
            "go with them."
        )
        cause = self.cause()
        return f"{said} One way to come by it wrongly: {cause}." if cause else said

    def cause(self) -> str:
        """How one may have come to write the planted value; only what can happen with this substance."""
        kind = self.knowledge.readings[self.reading]
        value = self.record.readings[self.reading]
        mistaken = next(word.mistaken for word in kind.values if word.is_ == value)
        for cause in (*mistaken, *kind.misread.causes):
            if may_be_said(cause, self.material) and _can_happen(cause, self.row):
                return cause
        return ""

    def why_right(self, reading: str, probability: float, likeliest: bool) -> str:
        said = phrase(reading, self.record.readings[reading])
        if probability >= _CERTAIN:
            opening = f"The other readings, without the wrong one, leave little doubt that it {said}."
        elif likeliest:
            opening = f"The other readings, without the wrong one, make one expect that it {said}."
        else:
            opening = f"It goes well enough with the others: some substances that read like this {plain_form(said)}."
        return f"{opening} {self.supports(reading)}".strip()

    def supports(self, reading: str) -> str:
        """Why a right reading speaks for the class, where it does and that may be said."""
        for reason in self.reasons(self.rest):
            if reason.decibans > 0 and reading in reason.readings and self.may_be_said(reason.because):
                return sentence(reason.because)
        return ""

    def reasons(self, record: Record) -> tuple[Reason, ...]:
        own = next(each for each in self.ranked(record) if each.class_ == self.row.class_)
        return reasons(own, self.chained(record), self.knowledge)

    def may_be_said(self, text: str) -> bool:
        return may_be_said(text, self.material)

    def because(self) -> str:
        """Why the planted value cannot stand beside the others, in particle language."""
        said = [self.who(), *self.conflict(), *self.meanings()]
        against = [
            reason.because
            for reason in self.reasons(self.record)
            if reason.decibans < 0 and self.reading in reason.readings and self.may_be_said(reason.because)
        ]
        told = list(dict.fromkeys(sentence(each) for each in (*said, *against[:1]) if each))
        return " ".join(told) or "By all the other readings the particles behave otherwise than this one would have it."

    def who(self) -> str:
        if self.material.secrecy is Secrecy.NAMES:
            return f"It is {self.row.name}, and the other readings speak for its class: {self.row.class_}"
        return f"The other readings speak for the class {self.row.class_}" if self.names_class else ""

    def conflict(self) -> list[str]:
        """What cannot both be true, whatever the substance."""
        firings = [firing for firing in self.chained(self.record).firings if firing.rule.conflict]
        return [
            text for firing in firings for text in (firing.rule.conflict or "", firing.rule.because) if self.may_be_said(text)
        ]

    def meanings(self) -> list[str]:
        """What the value that was written down would mean, and what the expected one does."""
        found = []
        written = str(self.record.readings[self.reading])
        for value, adds in ((self.expected[0].value, ""), (written, ", as was written down")):
            # What is not so may be told even where the class is kept secret.
            if says := self.meaning(value, supposed=bool(adds)):
                found.append(f"If it {phrase(self.reading, value)}{adds}, {lowered(says)}")
        return found

    def meaning(self, value: str, *, supposed: bool) -> str:
        """The first fact about the particles that a value adds to those of the other readings, and that may be said."""
        before = self.chained(self.rest).facts
        after = chain({**self.rest.readings, self.reading: value}, self.knowledge).facts
        new = [self.knowledge.facts[name] for name in after if name not in before and name not in NO_MEANING]
        new.sort(key=lambda fact: fact.subtype is not None)
        return next((fact.says for fact in new if may_be_said(fact.says, self.material, supposed=supposed)), "")

    def repeat(self) -> str:
        test = self.knowledge.test_of[self.reading]
        text = self.knowledge.readings[self.reading].misread.repeat
        if not text or not may_be_said(text, self.material, supposed=True):  # it speaks of any substance
            text = f"{test.does} once more, with a fresh portion."
        asks = " Ask the teacher first." if test.teacher and "teacher" not in text else ""
        return f"Repeat “{self.reading}”. {text}{asks}"

    def hard(self) -> dict[str, float]:
        misread = self.found.misread
        swings = self.swings()
        own = swings.pop(self.reading)
        many = len(self.record.readings)
        return {
            "another reading looks odd as well": min(1.0, max(0.0, 2 * max(swings.values()) / max(own, _SWING))),
            f"there are {many} readings to compare": (many - _READINGS[0]) / (_READINGS[1] - _READINGS[0]),
            "the substance is no plain example of its class": float(self.knowledge.is_awkward(self.row.subtype)),
            "the rest leave some doubt": min(1.0, (1 - misread[self.reading]) / (1 - _FIRST)),
        }


def _question(item: Item, draw: int, planting: _Planting, chance: random.Random) -> Question | None:
    record, material = planting.record, planting.material
    swings = planting.swings()
    fitting = {name: told for name, told in planting.fitting().items() if told[0] >= _PLAUSIBLE and name not in _NEVER}
    # Those that look odd come first: they speak against the class, or are not what the others make one to expect.
    odd = sorted(fitting, key=lambda name: (-swings[name], fitting[name][0]))
    many = chance.choice(_OPTIONS) - 1
    offered = [*odd[:2], *chance.sample(odd[2:], len(odd) - 2)][:many] if len(odd) >= _OPTIONS[0] - 1 else []
    if not offered:
        return None
    whys = {name: planting.why_right(name, *fitting[name]) for name in offered} | {planting.reading: planting.why_planted()}
    options = [Option(f"{name}: {record.readings[name]}", name, name == planting.reading, why) for name, why in whys.items()]
    names = material.secrecy is Secrecy.NAMES
    return Question(
        item=item,
        draw=draw,
        says=ASKS,
        readings={name: str(value) for name, value in record.readings.items()},
        options=tuple(chance.sample(options, len(options))),
        difficulty=difficulty(planting.hard()),
        substance=planting.row.name if names else "",
        truth=planting.row.classes if planting.names_class else (),
        subtype=planting.row.subtype if names else "",
        because=planting.because(),
        decisive=planting.repeat(),
    )


def _can_happen(cause: str, row: ReferenceRow) -> bool:
    """Whether a cause of misreading can be at work with a substance; some speak of crystal water, of metals or of liquids."""
    if "hydrate" in cause or "crystal water" in cause:
        return row.subtype.startswith("hydrate")
    if "oxide, oil or lacquer" in cause and row.words.get("solid in dilute acid") == ("stays",):
        return False  # noble metals carry no film of oxide
    if any(words in cause for words in _OF_METALS):
        return row.class_ == "metallic"
    return "warm liquid" not in cause or row.words.get("state") == ("liquid",)
