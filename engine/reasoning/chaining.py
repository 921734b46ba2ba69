"""Forward chaining: from readings to facts, to a fixpoint, keeping every firing that supports a fact.

Rules are sorted into layers so that a rule which asks that a fact be absent runs only after every rule
that could add it. Within a layer rules only ever add, so the order of rules and readings cannot matter.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence

import msgspec

from spotplate.engine.record import ReadValue
from spotplate.kb import Condition, Fault, FaultyInputError, Interval, KnowledgeBase, Rule, When, parse_quantity

Readings = Mapping[str, ReadValue]
Holds = Callable[[ReadValue], bool]


class Firing(msgspec.Struct, frozen=True):
    """A rule that fired, with the readings and facts that satisfied it."""

    rule: Rule
    readings: tuple[str, ...]
    facts: tuple[str, ...]


class Chained(msgspec.Struct, frozen=True):
    """All firings in the order of the rule base, and for each fact the firings that support it."""

    firings: tuple[Firing, ...]
    facts: dict[str, tuple[Firing, ...]]


class _Test(msgspec.Struct, frozen=True):
    """A condition made ready to run: a fact's name, or a reading and what must hold, or must not, of its value."""

    fact: str | None
    reading: str
    holds: Holds
    fails: Holds


class _ReadyRule(msgspec.Struct, frozen=True):
    rule: Rule
    all: tuple[_Test, ...]
    any: tuple[_Test, ...]
    none: tuple[_Test, ...]


class ReadyRules(msgspec.Struct, frozen=True):
    """A rule base made ready to run: layers of rules that add facts, then the rules that only conclude."""

    layers: tuple[tuple[_ReadyRule, ...], ...]
    concluding: tuple[_ReadyRule, ...]
    order: dict[str, int]


def chain(readings: Readings, knowledge: KnowledgeBase) -> Chained:
    """Everything that follows from `readings` by the rules of `knowledge`."""
    ready = ready_rules(knowledge)
    facts: dict[str, list[Firing]] = {}
    firings: list[Firing] = []
    for layer in ready.layers:
        _run_to_fixpoint(layer, readings, facts, firings)
    firings += [firing for rule in ready.concluding if (firing := _fire(rule, readings, facts))]
    firings.sort(key=lambda firing: ready.order[firing.rule.id])
    supported = {fact: tuple(sorted(by, key=lambda firing: ready.order[firing.rule.id])) for fact, by in facts.items()}
    return Chained(tuple(firings), {fact: supported[fact] for fact in knowledge.facts if fact in supported})


def _run_to_fixpoint(
    layer: Sequence[_ReadyRule], readings: Readings, facts: dict[str, list[Firing]], firings: list[Firing]
) -> None:
    waiting = list(layer)
    fired: list[_ReadyRule] = []
    while True:
        before = len(facts)
        still_waiting = []
        for rule in waiting:
            firing = _fire(rule, readings, facts)
            if firing is None:
                still_waiting.append(rule)
                continue
            fired.append(rule)
            for fact in dict.fromkeys(rule.rule.adds):
                facts.setdefault(fact, [])
        waiting = still_waiting
        if len(facts) == before:
            break
    # Only now is every fact of the layer known, so each firing lists all that supports it.
    for rule in fired:
        firing = _fire(rule, readings, facts)
        assert firing is not None
        firings.append(firing)
        for fact in dict.fromkeys(rule.rule.adds):
            facts[fact].append(firing)


def _fire(rule: _ReadyRule, readings: Readings, facts: Collection[str]) -> Firing | None:
    for test in rule.all:
        if not _holds(test, readings, facts):
            return None
    met = [test for test in rule.any if _holds(test, readings, facts)]
    if rule.any and not met:
        return None
    for test in rule.none:
        if not _fails(test, readings, facts):
            return None
    used = (*rule.all, *met)
    seen = [test.reading for test in (*used, *rule.none) if test.reading]
    return Firing(
        rule.rule,
        tuple(name for name in readings if name in seen) if seen else (),
        tuple(dict.fromkeys(test.fact for test in used if test.fact)),
    )


def readings_that_meet(when: When, readings: Readings, knowledge: KnowledgeBase) -> tuple[str, ...] | None:
    """The readings by which conditions over readings alone are met, or None where they are not."""
    tests = [tuple(_ready_test(condition, knowledge) for condition in part) for part in (when.all, when.any, when.none)]
    required, options, barred = tests
    met = [test for test in options if _holds(test, readings, ())]
    if not all(_holds(test, readings, ()) for test in required) or (options and not met):
        return None
    if not all(_fails(test, readings, ()) for test in barred):
        return None
    used = {test.reading for test in (*required, *met, *barred)}
    return tuple(name for name in readings if name in used)


def _holds(test: _Test, readings: Readings, facts: Collection[str]) -> bool:
    if test.fact is not None:
        return test.fact in facts
    value = readings.get(test.reading)
    return value is not None and test.holds(value)


def _fails(test: _Test, readings: Readings, facts: Collection[str]) -> bool:
    """Whether the condition is known not to hold; a reading that was not made is never known not to hold."""
    if test.fact is not None:
        return test.fact not in facts
    value = readings.get(test.reading)
    return value is not None and test.fails(value)


# --- making rules ready ----------------------------------------------------------------------------


def ready_rules(knowledge: KnowledgeBase) -> ReadyRules:
    """The rules of `knowledge`, layered and ready to run; worked out once a knowledge base."""
    ready: ReadyRules | None = knowledge.__dict__.get("ready_rules")
    if ready is None:
        ready = _make_ready(knowledge)
        knowledge.__dict__["ready_rules"] = ready
    return ready


def _make_ready(knowledge: KnowledgeBase) -> ReadyRules:
    layer_of = layers_of_facts(knowledge.rules)
    layers: dict[int, list[_ReadyRule]] = {}
    concluding = []
    for rule in knowledge.rules:
        ready = _ReadyRule(
            rule,
            *(tuple(_ready_test(c, knowledge) for c in part) for part in (rule.when.all, rule.when.any, rule.when.none)),
        )
        if rule.adds:
            layers.setdefault(max(layer_of[fact] for fact in rule.adds), []).append(ready)
        else:
            concluding.append(ready)
    ordered = tuple(tuple(layers[number]) for number in sorted(layers))
    return ReadyRules(ordered, tuple(concluding), {rule.id: number for number, rule in enumerate(knowledge.rules)})


def layers_of_facts(rules: Iterable[Rule]) -> dict[str, int]:
    """
    Layer number of every fact that some rule adds or asks for.

    Raises `FaultyInputError`, naming the rules in the loop, when a fact depends on its own absence.
    """
    adding = [rule for rule in rules if rule.adds]
    layer = {fact: 0 for rule in adding for fact in (*rule.adds, *_asked(rule.conditions()))}
    links = [(rule.adds, _asked((*rule.when.all, *rule.when.any)), _asked(rule.when.none)) for rule in adding]
    # A rule that rests on readings alone and adds one fact never moves anything.
    links = [(adds, present, absent) for adds, present, absent in links if present or absent or len(adds) > 1]
    for _ in range(len(layer) + 1):
        changed = False
        for adds, present, absent in links:
            # All facts of one rule share a layer, so that the rule runs once.
            needed = max([layer[fact] for fact in (*present, *adds)] + [layer[fact] + 1 for fact in absent])
            for fact in adds:
                if layer[fact] < needed:
                    layer[fact], changed = needed, True
        if not changed:
            return layer
    loop = _negative_loop(adding)
    names = ", ".join(repr(rule.id) for rule in loop)
    says = f"these rules form a loop in which a fact depends on its own absence: {names}."
    raise FaultyInputError([Fault(str(loop[0].place or "rules"), says)])


def _negative_loop(adding: Sequence[Rule]) -> list[Rule]:
    """The shortest loop of rules in which one asks that a fact be absent which rests on what it adds itself."""
    loops = []
    for start in adding:
        absent = set(_asked(start.when.none))
        ways: list[list[Rule]] = [[start]]
        reached: set[str] = set(start.adds)
        while ways:
            way = ways.pop(0)
            if absent & set(way[-1].adds):
                loops.append(way)
                break
            for rule in adding:
                if set(way[-1].adds) & set(_asked(rule.conditions())) and not set(rule.adds) <= reached:
                    reached |= set(rule.adds)
                    ways.append([*way, rule])
    return min(loops, key=len)


def _asked(conditions: Iterable[Condition]) -> list[str]:
    return [condition.fact for condition in conditions if condition.fact]


def _ready_test(condition: Condition, knowledge: KnowledgeBase) -> _Test:
    if condition.fact:
        return _Test(condition.fact, "", _never, _never)
    assert condition.reading is not None
    number = knowledge.readings[condition.reading].number
    if number is None:
        accepted = frozenset(condition.is_)
        return _Test(None, condition.reading, accepted.__contains__, lambda value: value not in accepted)

    def bound(text: str | None, otherwise: float) -> float:
        return otherwise if text is None else parse_quantity(text, number.unit).low

    infinite = float("inf")
    above, at_least = bound(condition.above, -infinite), bound(condition.at_least, -infinite)
    below, at_most = bound(condition.below, infinite), bound(condition.at_most, infinite)

    def inside(value: ReadValue) -> bool:
        """Whether the whole measured range lies within the bounds."""
        assert isinstance(value, Interval)
        return (
            (condition.above is None or value.low > above or (value.low == above and value.excluded))
            and value.low >= at_least
            and (condition.below is None or value.high < below or (value.high == below and value.excluded))
            and value.high <= at_most
        )

    def outside(value: ReadValue) -> bool:
        """Whether the whole measured range lies beyond the bounds."""
        assert isinstance(value, Interval)
        too_low = value.high <= above or value.high < at_least or (value.high == at_least and value.excluded)
        too_high = value.low >= below or value.low > at_most or (value.low == at_most and value.excluded)
        return too_low or too_high

    return _Test(None, condition.reading, inside, outside)


def _never(_: ReadValue) -> bool:
    return False
