"""Explanations built from firings: reading → particle-level reason → class, for and against, and the contrast."""

from __future__ import annotations

from collections.abc import Sequence

import msgspec

from spotplate.engine.record import Record
from spotplate.kb import KnowledgeBase, Source

from .chaining import Chained, Firing
from .weighing import Ranked, Weight


class Step(msgspec.Struct, frozen=True):
    """One step of a reason: the readings and facts used, and why the rule says what it says."""

    rule: str
    readings: tuple[str, ...]
    facts: tuple[str, ...]
    because: str
    adds: tuple[str, ...]
    source: str


class Reason(msgspec.Struct, frozen=True):
    """
    One weight for or against a class, in words.

    `steps` lead from readings to the facts that `because` rests on; `decibans` [dB] is negative for evidence against;
    `counted` is false for a further sign of a cause that is counted once already.
    """

    rule: str
    class_: str
    cause: str
    word: str
    decibans: float
    counted: bool
    because: str
    readings: tuple[str, ...]
    facts: tuple[str, ...]
    steps: tuple[Step, ...]
    exceptions: tuple[str, ...]
    source: str


class Difference(msgspec.Struct, frozen=True):
    """What one cause contributes to the lead of the first class over the second [decibans], and the strongest reason."""

    cause: str
    decibans: float
    because: str


class Contrast(msgspec.Struct, frozen=True):
    """Why the first class and not the runner-up: causes that part them, and causes that speak the other way."""

    first: str
    second: str
    lead: float
    parted_by: tuple[Difference, ...]
    other_way: tuple[Difference, ...]


def reasons(ranked: Ranked, chained: Chained, knowledge: KnowledgeBase) -> tuple[Reason, ...]:
    """The reasons for and against one class: counted ones first, each by order of weight."""
    ordered = sorted(ranked.weights, key=lambda weight: (not weight.counted, -abs(weight.decibans)))
    return tuple(_reason(weight, chained, knowledge) for weight in ordered)


def _reason(weight: Weight, chained: Chained, knowledge: KnowledgeBase) -> Reason:
    steps = _steps(weight.firing, chained, knowledge)
    used = {name: None for step in steps for name in step.readings} | dict.fromkeys(weight.firing.readings)
    rule = weight.firing.rule
    return Reason(
        rule=rule.id,
        class_=weight.class_,
        cause=weight.cause,
        word=weight.word,
        decibans=weight.decibans,
        counted=weight.counted,
        because=rule.because,
        readings=tuple(used),
        facts=weight.firing.facts,
        steps=steps,
        exceptions=tuple(f"{exception.subtype}: {exception.because}" for exception in rule.exceptions),
        source=cited(rule.source, knowledge),
    )


def _steps(firing: Firing, chained: Chained, knowledge: KnowledgeBase) -> tuple[Step, ...]:
    """Every firing on the way from the readings to `firing`, what it rests on first, each once."""
    found: dict[str, Step] = {}
    entered: set[str] = set()
    waiting = list(reversed(_supports(firing, chained)))
    while waiting:
        support = waiting[-1]
        rule = support.rule
        if rule.id not in entered:
            entered.add(rule.id)
            waiting += [deeper for deeper in reversed(_supports(support, chained)) if deeper.rule.id not in entered]
            continue
        waiting.pop()
        if rule.id not in found:
            source = cited(rule.source, knowledge)
            found[rule.id] = Step(rule.id, support.readings, support.facts, rule.because, rule.adds, source)
    return tuple(found.values())


def _supports(firing: Firing, chained: Chained) -> list[Firing]:
    return [support for fact in firing.facts for support in chained.facts[fact]]


def contrast(ranking: Sequence[Ranked]) -> Contrast:
    """Why the first class of the ranking and not the second."""
    first, second = ranking[:2]
    ours, theirs = first.by_cause(), second.by_cause()
    differences = []
    for cause in {**ours, **theirs}:
        lead = ours.get(cause, 0.0) - theirs.get(cause, 0.0)
        strongest = _strongest(first, second, cause, lead)
        if lead and strongest:
            differences.append(Difference(cause, lead, strongest.firing.rule.because))
    differences.sort(key=lambda item: -abs(item.decibans))
    return Contrast(
        first.class_,
        second.class_,
        first.decibans - second.decibans,
        tuple(item for item in differences if item.decibans > 0),
        tuple(item for item in differences if item.decibans < 0),
    )


def _strongest(first: Ranked, second: Ranked, cause: str, lead: float) -> Weight | None:
    """The counted weight of `cause` that does most for the side which the cause favours."""
    ours = [weight for weight in first.weights if weight.counted and weight.cause == cause and weight.decibans * lead > 0]
    theirs = [weight for weight in second.weights if weight.counted and weight.cause == cause and weight.decibans * lead < 0]
    return max(ours + theirs, key=lambda weight: abs(weight.decibans), default=None)


def cited(source: Source, knowledge: KnowledgeBase) -> str:
    """A rule's source as a citation; honest about having none."""
    if source.key in ("common practice", "judgement"):
        return source.key
    cites = knowledge.sources[source.key].cites
    return f"{cites}, {source.where}" if source.where else cites


def told(record: Record, names: Sequence[str]) -> str:
    """Readings in words: `dry conductivity: no glow; in water: dissolves`."""
    return "; ".join(f"{name}: {record.readings[name]}" for name in names if name in record.readings)
