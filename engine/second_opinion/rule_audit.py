"""An audit of the rules against data: the weight that the reference table measures beside the word that a rule uses."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.expected import expected_records, needs_met
from spotplate.engine.reasoning import chain
from spotplate.engine.record import Record
from spotplate.kb import Condition, KnowledgeBase, Rule, Word

SMOOTHING = 0.5  # substances added to those that fire a rule and to those that do not, in every class
_NO_WORD = "none"
_Counts = dict[str, dict[str, float]]  # rule → class → number of substances


class Audited(msgspec.Struct, frozen=True):
    """
    One weight of one rule beside the reference table.

    `decibans` is the weight of the rule's word and `measured` the log-likelihood ratio in the table, both signed [decibans].
    `fires_in` is on how many substances of the class the rule fires and `fires_beside` on how many of the classes
    compared with, of the `of` and `of_beside` whose readings allow it to be judged. `words_apart` [words] is the distance on
    the scale none, hint, supporting, strong, decisive, through none to the other side. `kept` is the written reason for
    keeping a word that is more than one away.
    """

    rule: str
    class_: str
    side: Literal["for", "against"]
    word: str
    decibans: float
    measured: float
    measured_word: str
    fires_in: float
    of: float
    fires_beside: float
    of_beside: float
    words_apart: int
    kept: str


def audit_rules(substances: Iterable[Substance], knowledge: KnowledgeBase) -> tuple[Audited, ...]:
    """
    Every weight of every rule, measured on the full records of the reference table.

    The measured weight of a class is 10 log10 of how often the rule fires in it over how often it fires in the classes that
    the rule leaves alone (each class alike); when it leaves none alone, over how often in all other classes. Only
    substances count of which the readings that the rule asks for are known, since not known is not "no"; a
    substance with several honest records counts in parts. One half of a substance is added to those that fire and
    to those that do not (the Krichevsky–Trofimov estimate), so that few substances never measure as certainty.
    """
    fired, judged = _fired(substances, knowledge)
    found = []
    for rule in knowledge.rules:
        if rule.weighs is not None:
            counts = fired[rule.id], judged[rule.id]
            found += [_audited(rule, name, "for", word, *counts, knowledge) for name, word in rule.weighs.for_.items()]
            found += [_audited(rule, name, "against", word, *counts, knowledge) for name, word in rule.weighs.against.items()]
    return tuple(found)


def _fired(substances: Iterable[Substance], knowledge: KnowledgeBase) -> tuple[_Counts, _Counts]:
    """Rule → class → number of substances on whose full records it fires, and number of those on which it can be judged."""
    fired: _Counts = {rule.id: dict.fromkeys(knowledge.classes, 0.0) for rule in knowledge.rules}
    judged: _Counts = {rule.id: dict.fromkeys(knowledge.classes, 0.0) for rule in knowledge.rules}
    adding: dict[str, list[Rule]] = {}
    for rule in knowledge.rules:
        for fact in rule.adds:
            adding.setdefault(fact, []).append(rule)
    for substance in substances:
        records = list(expected_records(substance, knowledge))
        for record in records:
            for firing in chain(record.readings, knowledge).firings:
                fired[firing.rule.id][substance.class_] += 1 / len(records)
            for rule_id in _judged_rules(record, adding, knowledge):
                judged[rule_id][substance.class_] += 1 / len(records)
    return fired, judged


def _judged_rules(record: Record, adding: Mapping[str, Sequence[Rule]], knowledge: KnowledgeBase) -> set[str]:
    """
    The rules of which a full record tells whether they fire.

    Every reading asked for must be known, through facts as well; one whose test cannot be done on the substance counts
    as known, since it is part of what the substance is like. A fact can be judged as soon as one of the rules that add it
    can; of alternatives, one is enough; that a fact is absent can always be told.
    """
    found: dict[str, bool] = {}

    def judged(rule: Rule) -> bool:
        if rule.id not in found:
            found[rule.id] = False  # a rule that leads back to itself is judged by its other conditions
            needed = [*rule.when.all, *(condition for condition in rule.when.none if condition.reading)]
            any_of = not rule.when.any or any(map(told, rule.when.any))
            found[rule.id] = any_of and all(map(told, needed))
        return found[rule.id]

    def told(condition: Condition) -> bool:
        if condition.reading is None:
            return any(map(judged, adding.get(condition.fact or "", ())))
        return condition.reading in record.readings or not needs_met(condition.reading, record.readings, knowledge)

    return {rule.id for rule in knowledge.rules if judged(rule)}


def _audited(
    rule: Rule,
    class_: str,
    side: Literal["for", "against"],
    word: Word,
    fired: Mapping[str, float],
    judged: Mapping[str, float],
    knowledge: KnowledgeBase,
) -> Audited:
    assert rule.weighs is not None
    left_alone = [name for name in knowledge.classes if name not in (*rule.weighs.for_, *rule.weighs.against)]
    beside = left_alone or [name for name in knowledge.classes if name != class_]
    share = _share(fired[class_], judged[class_])
    other = sum(_share(fired[name], judged[name]) for name in beside) / len(beside)
    measured = 10 * math.log10(share / other)
    sign = 1 if side == "for" else -1
    decibans = sign * knowledge.verdict.words[word]
    measured_word = nearest_word(sign * measured, knowledge)
    return Audited(
        rule=rule.id,
        class_=class_,
        side=side,
        word=word,
        decibans=decibans,
        measured=measured,
        measured_word=measured_word,
        fires_in=fired[class_],
        of=judged[class_],
        fires_beside=sum(fired[name] for name in beside),
        of_beside=sum(judged[name] for name in beside),
        words_apart=_words_apart(word, measured_word, knowledge),
        kept=rule.weighs.kept,
    )


def _share(fires: float, of: float) -> float:
    return (fires + SMOOTHING) / (of + 2 * SMOOTHING)


def nearest_word(decibans: float, knowledge: KnowledgeBase) -> str:
    """The word nearest to a weight on the rule's own side; "none" near nothing, "none" too when it lies on the other side."""
    scale: dict[str, float] = {_NO_WORD: 0.0, **dict(knowledge.verdict.words.items())}
    return min(scale, key=lambda word: abs(scale[word] - decibans))


def _words_apart(word: str, measured: str, knowledge: KnowledgeBase) -> int:
    scale = [_NO_WORD, *sorted(knowledge.verdict.words, key=lambda name: knowledge.verdict.words[name])]
    return scale.index(word) - scale.index(measured)


def far_off(audited: Sequence[Audited]) -> list[Audited]:
    """The weights more than one word away from what the table measures, the farthest first."""
    return sorted((item for item in audited if abs(item.words_apart) > 1), key=lambda item: -abs(item.words_apart))
