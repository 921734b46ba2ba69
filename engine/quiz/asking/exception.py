"""Which substance shows that a rule of thumb does not always hold?"""

from __future__ import annotations

import enum
import itertools
import random
import re
from collections.abc import Iterator, Mapping, Sequence

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.expected import needs_met, only_makeable
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material, Secrecy
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Option, Question
from spotplate.engine.quiz.seen import reason_of
from spotplate.engine.quiz.wording import capitalised, listed, quoted, substance_of
from spotplate.engine.reasoning import cited, readings_that_meet
from spotplate.engine.record import ReadValue
from spotplate.kb import Condition, KnowledgeBase, RuleOfThumb, When

from .named import SELDOM_MET

_ASKS = "Which of these substances shows that this does not always hold?"
_ASKS_TURNED = "For which of these substances does that lead to the right answer?"
_OPTIONS = 4
_TURNED = 0.3  # [-] share of the draws that ask where the rule leads to the right class instead
_FEW = 5  # substances that break a rule, up to which one has to know them
# By which words a sentence on what is special of a substance is known to speak of a reading for which no reason is kept.
_SPEAKS_OF = {
    "state": r"liquid|gas",
    "smell": r"smell",
    "colour": r"colour|white|black|golden",
    "lustre": r"shin|lustre|look",
    "mark on paper": r"paper|layers",
    "burning": r"burn",
    "flame colour": r"flame",
    "in the warm bath": r"warm|heat|melt|sublim",
    "on the hot plate": r"heat|melt|sublim|char",
    "on the cold glass": r"heat|water (comes|leaves)|sublim",
}
_WORD = 4  # letters; longer words that two names share would tell the options apart too easily
_Words = Mapping[str, tuple[str, ...]]


class Bearing(enum.Enum):
    """What a rule of thumb is to a substance, whatever honest readings it gives."""

    MISLEADS = "its readings invite the rule, and none of its classes is one that the rule jumps to"
    HOLDS = "its readings invite the rule, and all of its classes are among those that the rule jumps to"
    SILENT = "its readings never invite the rule"


class Candidate(msgspec.Struct, frozen=True):
    """A substance, what the rule is to it, and the readings that tell: reading → honest values."""

    substance: Substance
    bearing: Bearing
    shows: dict[str, tuple[str, ...]]


def items(material: Material) -> tuple[Item, ...]:
    """One item for each rule of thumb that some substance breaks; none where names are secret."""
    if material.secrecy is not Secrecy.NAMES:
        return ()
    return tuple(
        Item(Kind.EXCEPTION, thumb.id, mix_up=thumb.id if thumb.id in material.quiz.mix_ups else "")
        for thumb in material.knowledge.rules_of_thumb.values()
        if _can_be_tested(thumb, material) and any(each.bearing is Bearing.MISLEADS for each in candidates(thumb, material))
    )


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """Four substances, one of which breaks the rule; or, now and then, one of which follows it."""
    thumb = material.knowledge.rules_of_thumb[item.topic]
    chance = random.Random(f"{item.key} {draw}")
    found = candidates(thumb, material)
    turned = chance.random() < _TURNED and any(each.bearing is Bearing.HOLDS for each in found)
    chosen = _choose(found, Bearing.HOLDS if turned else Bearing.MISLEADS, thumb, chance)
    if len(chosen) < _OPTIONS:
        return None
    right, *others = chosen
    options = [_option(each, each is right, material) for each in chosen]
    chance.shuffle(options)
    return Question(
        item=item,
        draw=draw,
        says=f"People say: “{thumb.says}” {_ASKS_TURNED if turned else _ASKS}",
        readings={},
        options=tuple(options),
        difficulty=_difficulty(right, others, found),
        substance=right.substance.name,
        truth=right.substance.defensible_classes(),
        subtype=right.substance.subtype,
        because=" ".join(thumb.because.split()),
        sources=(cited(thumb.source, material.knowledge),),
    )


# --- what a rule is to a substance -------------------------------------------------------------------


def candidates(thumb: RuleOfThumb, material: Material) -> tuple[Candidate, ...]:
    """Every substance of which it is certain what the rule is to it; those that no school has only where no other breaks it."""
    found = material.once(("candidates", thumb.id), lambda: tuple(_candidates(thumb, material)))
    met = tuple(each for each in found if each.substance.school_use != "not in school")
    return met if any(each.bearing is Bearing.MISLEADS for each in met) else found


def _candidates(thumb: RuleOfThumb, material: Material) -> Iterator[Candidate]:
    for substance in material.substances.values():
        words = material.rows[substance.name].words
        bearing = bearing_of(thumb, substance, words, material.knowledge)
        if bearing is Bearing.SILENT:
            yield Candidate(substance, bearing, _keep_silent(thumb.when, words))
        elif bearing:
            yield Candidate(substance, bearing, _invite(thumb.when, words))


def bearing_of(thumb: RuleOfThumb, substance: Substance, words: _Words, knowledge: KnowledgeBase) -> Bearing | None:
    """What a rule is to a substance with these honest words for its readings; None where that is not certain."""
    records = list(_honest_records(thumb, words, knowledge))
    if all(readings_that_meet(thumb.when, readings, knowledge) is not None for readings in records):
        classes, jumps_to = set(substance.defensible_classes()), set(thumb.jumps_to)
        if not classes & jumps_to:
            return Bearing.MISLEADS
        # A rule may name more than a class; and where one of two classes is not meant, chemists may call it either way.
        wholly = thumb.true_of is None or substance.subtype in thumb.true_of
        return Bearing.HOLDS if classes <= jumps_to and wholly else None
    return Bearing.SILENT if all(_fails(thumb.when, readings, knowledge) for readings in records) else None


def _honest_records(thumb: RuleOfThumb, words: _Words, knowledge: KnowledgeBase) -> Iterator[dict[str, ReadValue]]:
    """Every combination of honest readings that the rule goes by, with those that must come first."""
    names = [condition.reading for condition in thumb.conditions() if condition.reading]
    for name in names:  # grows while it is walked
        names += [need.reading for need in knowledge.test_of[name].needs if need.reading and need.reading not in names]
    known = {name: words[name] for name in dict.fromkeys(names) if name in words}
    for values in itertools.product(*known.values()):
        yield only_makeable(dict(zip(known, values, strict=True)), knowledge)


def _fails(when: When, readings: Mapping[str, ReadValue], knowledge: KnowledgeBase) -> bool:
    """Whether readings that were made show that the rule is not invited; what is merely not known shows nothing."""
    if any(_seen(condition, readings) is False for condition in when.all):
        return True
    if any(_seen(condition, readings) is True for condition in when.none):
        return True
    seen = [_seen(condition, readings) for condition in when.any]
    cannot = [not needs_met(condition.reading or "", readings, knowledge) for condition in when.any]
    return False in seen and all(each is False or ruled_out for each, ruled_out in zip(seen, cannot, strict=True))


def _seen(condition: Condition, readings: Mapping[str, ReadValue]) -> bool | None:
    """Whether a condition on a reading holds; None where it was not made."""
    value = readings.get(condition.reading or "")
    return None if value is None else value in condition.is_


def _can_be_tested(thumb: RuleOfThumb, material: Material) -> bool:
    tests = {material.knowledge.test_of[condition.reading or ""].id for condition in thumb.conditions()}
    return tests <= set(material.tests)


# --- telling which readings it was -------------------------------------------------------------------


def _invite(when: When, words: _Words) -> dict[str, tuple[str, ...]]:
    """The readings that invite a rule, of which the state goes without saying beside others."""
    meets = [item.reading for item in when.any if item.reading and set(words.get(item.reading, ())) & set(item.is_)]
    names = [item.reading for item in (*when.all, *when.none) if item.reading] + meets
    return _told([name for name in names if name in words], words)


def _keep_silent(when: When, words: _Words) -> dict[str, tuple[str, ...]]:
    """The readings by which a rule is never invited."""
    known = [
        [(item.reading, set(item.is_)) for item in part if item.reading in words] for part in (when.all, when.any, when.none)
    ]
    required, options, barred = ([(name, accepted) for name, accepted in part if name] for part in known)
    names = [name for name, accepted in required if not set(words[name]) & accepted]
    names += [name for name, accepted in barred if set(words[name]) <= accepted]
    return _told(names or [name for name, _ in options], words)


def _told(names: Sequence[str], words: _Words) -> dict[str, tuple[str, ...]]:
    told = [name for name in dict.fromkeys(names) if name != "state"] or list(names)
    return {name: words[name] for name in told}


# --- the options -------------------------------------------------------------------------------------


def _choose(found: Sequence[Candidate], wanted: Bearing, thumb: RuleOfThumb, chance: random.Random) -> list[Candidate]:
    """
    The right substance first, then three wrong ones, no two with a word in common.

    Those that invite the rule as well are the more plausible; of the others, those of another class than the rule jumps to.
    """
    pool = [each for each in found if each.bearing is wanted]
    chosen = [chance.choices(pool, [1.0 - SELDOM_MET[each.substance.school_use] / 2 for each in pool])[0]] if pool else []
    invited = [each for each in found if each.bearing not in (wanted, Bearing.SILENT)]
    silent = [each for each in found if each.bearing is Bearing.SILENT]
    near = [each for each in silent if not set(each.substance.defensible_classes()) & set(thumb.jumps_to)]
    sources = [*[invited] * chance.choice((1, 2, 2, 3)), *[near] * _OPTIONS, *[silent] * _OPTIONS]
    for source in sources:
        apart = [each for each in source if not any(_alike(each, other) for other in chosen)]
        if chosen and apart and len(chosen) < _OPTIONS:
            chosen.append(chance.choice(apart))
    return chosen


def _alike(first: Candidate, second: Candidate) -> bool:
    one, other = (
        {word for word in each.substance.name.split() if len(word) >= _WORD} | {each.substance.name} for each in (first, second)
    )
    return bool(one & other)


def _option(candidate: Candidate, right: bool, material: Material) -> Option:
    name = candidate.substance.name
    shows = "; ".join(f"{reading}: {quoted(values)}" for reading, values in candidate.shows.items())
    class_ = listed(tuple(map(substance_of, candidate.substance.defensible_classes())), "or")
    if candidate.bearing is Bearing.SILENT:
        why = f"{capitalised(name)} shows something else ({shows}), so the rule says nothing of it."
    elif candidate.bearing is Bearing.HOLDS:
        why = f"{capitalised(name)} shows this ({shows}) and is {class_}, so here the rule leads to the right class."
    else:
        why = f"{capitalised(name)} shows this ({shows}), yet it is {class_}. {_reason(candidate, material)}"
    return Option(name, "", right, why)


def _reason(candidate: Candidate, material: Material) -> str:
    """Why a substance shows what invites a rule that fails on it, or else what its particles are."""
    substance, row = candidate.substance, material.rows[candidate.substance.name]
    known = [reason_of(row, name, value, material.quiz) for name, values in candidate.shows.items() for value in values]
    if reasons := list(dict.fromkeys(filter(None, known))):
        return " ".join(reasons)
    kind = material.knowledge.subtypes[substance.subtype].because if substance.subtype else ""
    special = substance.exception or kind
    if any(re.search(_SPEAKS_OF[name], special) for name in candidate.shows if name in _SPEAKS_OF):
        return special
    model = " ".join(material.knowledge.classes[substance.class_].model.split())
    return model[: model.index(". ") + 1]


def _difficulty(right: Candidate, others: Sequence[Candidate], found: Sequence[Candidate]) -> Difficulty:
    broken_by = sum(each.bearing is Bearing.MISLEADS for each in found)
    invited = sum(each.bearing is not Bearing.SILENT for each in others)
    return difficulty(
        {
            "other options show the same readings": invited / len(others),
            "few substances break this rule": float(broken_by <= _FEW),
            "seldom met at school": SELDOM_MET[right.substance.school_use],
        }
    )
