"""Which bonding class do these readings show? Or do they not decide?"""

from __future__ import annotations

import random
from collections.abc import Collection

from spotplate.datasets import Substance
from spotplate.engine.expected import expected_readings, only_makeable
from spotplate.engine.identification import Identification, identify
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Option, Question
from spotplate.engine.reasoning import Chained, Ranked, VerdictKind, chain, judge, rank
from spotplate.engine.record import Readings, ReadValue, Record
from spotplate.kb import KnowledgeBase

UNDECIDED = "open"  # what the option means that says the readings do not decide
_ASKED = "These readings were made on an unknown. Which bonding class do they show?"
_MEANT_OPEN = 0.25  # [-] share of the draws whose readings shall not decide
_FIRST = "look"  # everybody looks before doing anything else
_MORE = 4  # tests beyond those that decide, at most
_FEWEST, _AT_A_GLANCE, _MOST = 4, 8, 14  # readings
_FAR = 30.0  # [decibans] of lead over the runner-up, from which on it is not close at all
_USED = {"students": 1.0, "teacher only": 0.4}  # how often a substance is drawn, by who handles it at school


def items(material: Material) -> tuple[Item, ...]:
    """
    One item for each finer kind in a class, and one for each class as a whole.

    The latter also stands for what was practised on an unknowns set, whose finer kinds are not kept. A set has none of them,
    where every substance is of a finer kind.
    """
    if material.secrecy is Secrecy.NOTHING:
        return ()  # whoever may guess until it is called right knows the class
    kinds = {(item.class_, item.subtype): None for item in material.substances.values()}
    if material.secrecy is Secrecy.NAMES:
        kinds |= {(item.class_, ""): None for item in material.substances.values()}
    return tuple(Item(Kind.CLASSIFY, ", ".join(filter(None, kind)), *kind) for kind in kinds)


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """Readings of one of the item's substances that do not mislead: they decide rightly, or leave the right class open."""
    chance = random.Random(f"{item.key} {draw}")
    substance = _drawn(item, material, chance)
    if substance is None:
        return None
    meant_open = chance.random() < _MEANT_OPEN
    record = _record(substance, material, chance, one_short=meant_open)
    if not _FEWEST <= len(record.readings) <= _MOST:
        return None
    found = identify(record, material.knowledge, advise=False)
    if is_open(found) != meant_open or not _is_fair(found, substance):
        return None
    truth = substance.defensible_classes()
    return Question(
        item=item,
        draw=draw,
        says=_ASKED,
        readings={name: str(value) for name, value in found.record.readings.items()},
        options=class_options(material.knowledge, () if is_open(found) else truth, undecided=is_open(found)),
        difficulty=_difficulty(found, substance, material.knowledge),
        substance=substance.name,
        truth=truth,
        subtype=substance.subtype,
    )


def class_options(knowledge: KnowledgeBase, right: tuple[str, ...], *, undecided: bool | None = None) -> tuple[Option, ...]:
    """The five classes, always in the same order; with `undecided`, also the option that the readings do not decide."""
    options = [Option(name, name, name in right) for name in knowledge.classes]
    if undecided is not None:
        options.append(Option("the readings do not decide", UNDECIDED, undecided))
    return tuple(options)


def is_open(found: Identification) -> bool:
    """Whether the readings leave the class open."""
    return found.verdict.kind is not VerdictKind.CONCLUSIVE


def _drawn(item: Item, material: Material, chance: random.Random) -> Substance | None:
    """A substance of the item, those that schools use more often."""
    of_class = [each for each in material.substances.values() if each.class_ == item.class_]
    own = [each for each in of_class if each.subtype == item.subtype] or ([] if item.subtype else of_class)
    own = [each for each in own if each.school_use in _USED] or own  # nobody need meet asbestos, not even on paper
    return chance.choices(own, [_USED.get(each.school_use, 1.0) for each in own])[0] if own else None


def _record(substance: Substance, material: Material, chance: random.Random, *, one_short: bool) -> Record:
    """
    The readings of a student who made just the tests that decide, and up to two more; or all of them but one.

    From everything the bench can show, tests are left out one by one, in any order, as long as the rest decides. So
    whatever is shown is of use.
    """
    knowledge = material.knowledge
    expected = expected_readings(substance, knowledge)
    chosen = only_makeable({name: chance.choice(values) for name, values in expected.items()}, knowledge)
    tests = [name for name in material.tests if any(knowledge.test_of[reading].id == name for reading in chosen)]

    def shown(kept: Collection[str]) -> dict[str, ReadValue]:
        return only_makeable({name: value for name, value in chosen.items() if knowledge.test_of[name].id in kept}, knowledge)

    kept = list(tests)
    decides = _decides(shown(kept), knowledge)
    for name in chance.sample(tests, len(tests)):
        fewer = [test for test in kept if test != name]
        readings = shown(fewer)
        # Where all readings together do not decide, only so many are kept as can be read at a glance.
        spare = _decides(readings, knowledge) if decides else len(readings) >= _AT_A_GLANCE
        if name != _FIRST and len(readings) >= _FEWEST and spare:
            kept = fewer
    if one_short and len(kept) > 1:
        kept.remove(chance.choice([name for name in kept if name != _FIRST]))
    else:
        others = [test for test in tests if test not in kept]
        kept += chance.sample(others, min(len(others), chance.randint(0, _MORE)))
    return Record(shown(kept))


def _decides(readings: Readings, knowledge: KnowledgeBase) -> bool:
    """Whether the rules alone conclude; the second opinions are asked only once, at the end."""

    def ranked(some: Readings) -> tuple[tuple[Ranked, ...], Chained]:
        chained = chain(some, knowledge)
        return rank(chained.firings, knowledge), chained

    ranking, chained = ranked(readings)
    need = knowledge.verdict.conclusive
    if ranking[0].probability < need.probability:  # seen at once, and spares the rest
        return False
    without = {name: ranked({other: value for other, value in readings.items() if other != name})[0] for name in readings}
    return judge(ranking, chained.firings, knowledge, without).kind is VerdictKind.CONCLUSIVE


def _is_fair(found: Identification, substance: Substance) -> bool:
    """
    Whether the readings decide for the class that the substance foremost is of, or leave it open beside a wrong one.

    Readings that decide for the second class of a borderline substance would be explained by what it rather is not.
    """
    foremost, *others = substance.defensible_classes()
    verdict = found.verdict
    if verdict.kind is VerdictKind.CONCLUSIVE:
        return verdict.class_ == foremost
    wrong = set(verdict.open_between) - {foremost, *others}
    return verdict.kind is VerdictKind.INCONCLUSIVE and foremost in verdict.open_between and bool(wrong)


def _difficulty(found: Identification, substance: Substance, knowledge: KnowledgeBase) -> Difficulty:
    ahead = found.ranking[0].decibans - found.ranking[1].decibans
    many = len(found.record.readings)
    return difficulty(
        {
            "the runner-up is close": max(0.0, 1 - ahead / _FAR),
            f"only {many} readings": max(0.0, (_AT_A_GLANCE - many) / (_AT_A_GLANCE - _FEWEST)),
            "an awkward substance": float(knowledge.is_awkward(substance.subtype)),
        }
    )
