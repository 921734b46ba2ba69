"""Checking a rule base: every fault at once, each with its place.

Loading already refuses unknown names. This page finds what only shows when the rules are taken together:
facts never derived or never used, rules that can never fire, classes that no rule speaks for, loops
through negation, and examples that a rule does not keep.
"""

from __future__ import annotations

import itertools
import operator
from collections.abc import Callable, Iterable, Iterator, Sequence

from spotplate.kb import Condition, Fault, FaultyInputError, KnowledgeBase, Rule, load_knowledge, parse_quantity, shown

from .reasoning import chain, layers_of_facts
from .record import make_record


def check_rules(knowledge: KnowledgeBase) -> tuple[Fault, ...]:
    """Every fault of the rules of `knowledge` taken together; none when the rule base is sound."""
    faults = list(_loops(knowledge.rules))
    faults += _facts_never_derived(knowledge)
    faults += _facts_never_used(knowledge)
    faults += _facts_not_mentioned(knowledge)
    faults += _rules_that_cannot_fire(knowledge)
    faults += _classes_without_rules(knowledge)
    if not any("loop" in fault.says for fault in faults):
        faults += _broken_examples(knowledge)
    return tuple(faults)


def _where(rule: Rule) -> str:
    return f"{rule.place or 'rules'}, rule {shown(rule.id)}"


def _file(knowledge: KnowledgeBase) -> str:
    """The file that faults of the rules as a whole belong to: that of the last rule, which is the teacher's if there is one."""
    place = knowledge.rules[-1].place
    return place.file if place else "rules"


def _loops(rules: Sequence[Rule]) -> Sequence[Fault]:
    try:
        layers_of_facts(rules)
    except FaultyInputError as error:
        return error.faults
    return ()


def _asked(rule: Rule) -> set[str]:
    return {condition.fact for condition in rule.conditions() if condition.fact}


def _facts_never_derived(knowledge: KnowledgeBase) -> Iterator[Fault]:
    derived = {fact for rule in knowledge.rules for fact in rule.adds}
    for rule in knowledge.rules:
        for fact in sorted(_asked(rule) - derived):
            yield Fault(_where(rule), f"the fact {fact!r} is never derived: no rule adds it.")


def _facts_never_used(knowledge: KnowledgeBase) -> Iterator[Fault]:
    used = {fact for rule in knowledge.rules for fact in _asked(rule)}
    for rule in knowledge.rules:
        for fact in rule.adds:
            if fact not in used and not knowledge.facts[fact].subtype:
                yield Fault(_where(rule), f"the fact {fact!r} is never used: no rule asks for it.")


def _facts_not_mentioned(knowledge: KnowledgeBase) -> Iterator[Fault]:
    """Facts defined and forgotten; a teacher's own rules need not speak of all shipped facts."""
    shipped = load_knowledge()
    mentioned = {fact for rule in knowledge.rules for fact in (*rule.adds, *_asked(rule))}
    own = knowledge.facts if knowledge.rules == shipped.rules else set(knowledge.facts) - set(shipped.facts)
    for fact in own:
        if fact not in mentioned:
            yield Fault(_file(knowledge), f"the fact {fact!r} is defined, but no rule adds it or asks for it.")


def _rules_that_cannot_fire(knowledge: KnowledgeBase) -> Iterator[Fault]:
    possible = _possible_facts(knowledge.rules)
    derived = {fact for rule in knowledge.rules for fact in rule.adds}
    for rule in knowledge.rules:
        if clash := _clash(rule, knowledge):
            yield Fault(_where(rule), f"the rule can never fire: {clash}")
        elif missing := _impossible(rule, possible, derived):
            yield Fault(_where(rule), f"the rule can never fire: it needs {missing!r}, which only rules that need it add.")


def _possible_facts(rules: Iterable[Rule]) -> set[str]:
    """Facts that some chain of rules can reach when every reading goes their way."""
    possible: set[str] = set()
    while True:
        reached = {fact for rule in rules if _may_fire(rule, possible) for fact in rule.adds}
        if reached <= possible:
            return possible
        possible |= reached


def _may_fire(rule: Rule, possible: set[str]) -> bool:
    all_facts = [c.fact for c in rule.when.all if c.fact]
    any_met = not rule.when.any or any(c.fact is None or c.fact in possible for c in rule.when.any)
    return any_met and all(fact in possible for fact in all_facts)


def _impossible(rule: Rule, possible: set[str], derived: set[str]) -> str | None:
    needed = [c.fact for c in rule.when.all if c.fact]
    if rule.when.any and not any(c.fact is None or c.fact in possible for c in rule.when.any):
        needed += [c.fact for c in rule.when.any if c.fact]
    return next((fact for fact in needed if fact in derived and fact not in possible), None)


def _clash(rule: Rule, knowledge: KnowledgeBase) -> str | None:
    """Why the conditions of one rule exclude one another, or None."""
    both = {c.fact for c in rule.when.all if c.fact} & {c.fact for c in rule.when.none if c.fact}
    if both:
        return f"the fact {min(both)!r} is asked for and asked to be absent."
    if clash := _clash_of(rule.when.all, rule.when.none, knowledge):
        return clash
    if rule.when.any:
        clashes = [_clash_of((*rule.when.all, option), rule.when.none, knowledge) for option in rule.when.any]
        if all(clashes):
            return clashes[0]
    return None


def _clash_of(wanted: Sequence[Condition], barred: Sequence[Condition], knowledge: KnowledgeBase) -> str | None:
    for reading in dict.fromkeys(c.reading for c in (*wanted, *barred) if c.reading):
        asked = [c for c in wanted if c.reading == reading]
        refused = [c for c in barred if c.reading == reading]
        if number := knowledge.readings[reading].number:
            if not _some_number(asked, (), number.unit):
                return f"no number meets all bounds on {reading!r}."
            if not _some_number(asked, refused, number.unit):
                return f"'none' refuses every number that the bounds on {reading!r} allow."
            continue
        left = set(knowledge.readings[reading].words())
        for condition in asked:
            left &= set(condition.is_)
        for condition in refused:
            left -= set(condition.is_)
        if not left:
            return f"no value of {reading!r} meets all its conditions."
    return None


def _some_number(asked: Sequence[Condition], refused: Sequence[Condition], unit: str) -> bool:
    """Whether some number meets every bound in `asked` and no condition in `refused`.

    Between two neighbouring bounds nothing changes, so one number in each gap and every bound itself are enough to try.
    """
    bounds = sorted({bound for c in (*asked, *refused) for _, bound in _bounds(c, unit)})
    if not bounds:
        return True
    tried = [bounds[0] - 1, *bounds, *((low + high) / 2 for low, high in itertools.pairwise(bounds)), bounds[-1] + 1]
    return any(all(_meets(value, c, unit) for c in asked) and not any(_meets(value, c, unit) for c in refused) for value in tried)


def _bounds(condition: Condition, unit: str) -> list[tuple[Callable[[float, float], bool], float]]:
    """The comparisons that a condition asks for, each with its number in SI."""
    texts = (
        (operator.gt, condition.above),
        (operator.ge, condition.at_least),
        (operator.lt, condition.below),
        (operator.le, condition.at_most),
    )
    return [(compare, parse_quantity(text, unit).low) for compare, text in texts if text is not None]


def _meets(value: float, condition: Condition, unit: str) -> bool:
    return all(compare(value, bound) for compare, bound in _bounds(condition, unit))


def _classes_without_rules(knowledge: KnowledgeBase) -> Iterator[Fault]:
    spoken_for = {name for rule in knowledge.rules if rule.weighs for name in rule.weighs.for_}
    for name in knowledge.classes:
        if name not in spoken_for:
            yield Fault(_file(knowledge), f"no rule speaks for the class {name!r}.")


def _broken_examples(knowledge: KnowledgeBase) -> Iterator[Fault]:
    for rule in knowledge.rules:
        if not rule.fires_on:
            yield Fault(_where(rule), "there is no example on which the rule must fire (fires_on).")
        if not rule.silent_on:
            yield Fault(_where(rule), "there is no example on which the rule must not fire (silent_on).")
        for part, must_fire in (("fires_on", True), ("silent_on", False)):
            for index, example in enumerate(getattr(rule, part), 1):
                fired = _fires(rule, example, knowledge)
                if fired is not must_fire:
                    says = "the rule does not fire on this example." if must_fire else "the rule fires on this example."
                    yield Fault(f"{_where(rule)}, {part}[{index}]", says)


def _fires(rule: Rule, example: dict[str, str], knowledge: KnowledgeBase) -> bool:
    readings = make_record(example, knowledge).readings
    return any(firing.rule.id == rule.id for firing in chain(readings, knowledge).firings)
