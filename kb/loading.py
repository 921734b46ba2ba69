"""Loading the knowledge base: the shipped one, a teacher's rules in its place, or a teacher's rules beside it."""

from __future__ import annotations

import functools
import zlib
from collections.abc import Callable, Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import msgspec
import yaml

from .errors import Fault, FaultyInputError, not_accepted, shown
from .quantity import QuantityError, parse_quantity
from .schema import (
    BenchTest,
    BondingClass,
    Calibration,
    Cause,
    Caution,
    Condition,
    ExpectedReading,
    Fact,
    HazardLevel,
    KnowledgeBase,
    KnownSource,
    NeverPlanned,
    PreparationRules,
    ReadingKind,
    Rule,
    RuleFile,
    RuleOfThumb,
    SecondOpinion,
    SetPlanning,
    SolubilityTerm,
    Subtype,
    VerdictRules,
)
from .strict_yaml import compose, read_into

Item = TypeVar("Item")
# Beside this file in a wheel, a plain and an editable install alike; importlib.resources finds the same
# files, but takes longer to import than all rules take to read.
FOLDER = Path(__file__).parent
SNAPSHOT = "snapshot.json"
_PARTS: dict[str, Any] = {"rules": Rule, "facts": Fact, "causes": Cause, "sources": KnownSource}
_TABLES: dict[str, Any] = {
    "classes.yaml": tuple[BondingClass, ...],
    "subtypes.yaml": tuple[Subtype, ...],
    "causes.yaml": tuple[Cause, ...],
    "facts.yaml": tuple[Fact, ...],
    "cautions.yaml": tuple[Caution, ...],
    "sources.yaml": tuple[KnownSource, ...],
    "solubility.yaml": tuple[SolubilityTerm, ...],
    "preparation.yaml": PreparationRules,
    "expected_readings.yaml": tuple[ExpectedReading, ...],
    "verdict.yaml": VerdictRules,
    "calibration.yaml": Calibration,
    "second_opinion.yaml": SecondOpinion,
    "rules_of_thumb.yaml": tuple[RuleOfThumb, ...],
    "set_planning.yaml": SetPlanning,
}


def _shipped_texts() -> dict[str, str]:
    """Name → text of every shipped YAML file, in a fixed order."""
    names = list(_TABLES)
    for folder in ("bench_tests", "rules"):
        names += sorted(f"{folder}/{path.name}" for path in (FOLDER / folder).glob("*.yaml"))
    return {name: (FOLDER / name).read_text(encoding="utf-8") for name in names}


def _read_shipped(kind: Any, name: str, text: str) -> Any:
    node = compose(text, f"shipped:{name}")
    assert node is not None, name
    return read_into(kind, node, f"kb/{name}")


@functools.cache
def load_knowledge() -> KnowledgeBase:
    """The shipped knowledge base; from its snapshot where that is of the same YAML, else from the YAML itself."""
    texts = _shipped_texts()
    return _from_snapshot(_change_mark(texts)) or _from_yaml(texts)


class _Snapshot(msgspec.Struct, frozen=True):
    change_mark: str
    base: KnowledgeBase


def _change_mark(texts: Mapping[str, str]) -> str:
    """CRC-32 of the YAML: enough to notice a change, and quicker to import than the checksum that results carry."""
    mark = 0
    for text in texts.values():
        mark = zlib.crc32(text.encode(), mark)
    return f"{mark:08x}"


def _from_snapshot(change_mark: str) -> KnowledgeBase | None:
    """
    The knowledge base as it was last read from the YAML, or None when the YAML has changed since.

    Reading and checking the YAML takes longer than everything else in an identification.
    """
    snapshot = FOLDER / SNAPSHOT
    if not snapshot.is_file():
        return None
    try:
        kept = msgspec.json.decode(snapshot.read_bytes(), type=_Snapshot)
    except msgspec.DecodeError:  # of an older shape
        return None
    return kept.base if kept.change_mark == change_mark else None


def make_snapshot() -> bytes:
    """What `snapshot.json` must hold for the YAML as it stands; `engine/scripts/make_data.py` writes it."""
    texts = _shipped_texts()
    return msgspec.json.encode(_Snapshot(_change_mark(texts), _from_yaml(texts))) + b"\n"


def _from_yaml(texts: Mapping[str, str]) -> KnowledgeBase:
    tables = {name: _read_shipped(kind, name, texts[name]) for name, kind in _TABLES.items()}
    tests: list[BenchTest] = []
    rules: list[Rule] = []
    for name, text in texts.items():
        if name.startswith("bench_tests/"):
            tests += _read_shipped(tuple[BenchTest, ...], name, text)
        elif name.startswith("rules/"):
            rules += _read_shipped(tuple[Rule, ...], name, text)
    faults: list[Fault] = []
    base = KnowledgeBase(
        classes=_table(tables["classes.yaml"], lambda item: item.id, "class", faults),
        subtypes=_table(tables["subtypes.yaml"], lambda item: item.id, "subtype", faults),
        tests=_table(tests, lambda item: item.id, "bench test", faults),
        facts=_table(tables["facts.yaml"], lambda item: item.id, "fact", faults),
        causes=_table(tables["causes.yaml"], lambda item: item.id, "cause", faults),
        cautions=_table(tables["cautions.yaml"], lambda item: item.key, "caution", faults),
        sources=_table(tables["sources.yaml"], lambda item: item.key, "source", faults),
        solubility=tables["solubility.yaml"],
        preparation=tables["preparation.yaml"],
        expected=tables["expected_readings.yaml"],
        verdict=tables["verdict.yaml"],
        calibration=tables["calibration.yaml"],
        second_opinion=tables["second_opinion.yaml"],
        rules_of_thumb=_table(tables["rules_of_thumb.yaml"], lambda item: item.id, "rule of thumb", faults),
        set_planning=tables["set_planning.yaml"],
        rules=tuple(rules),
        checksum=_checksum(texts.values()),
    )
    readings = [kind for test in tests for kind in test.readings]
    _table(readings, lambda item: item.id, "reading", faults)
    _raise(faults + list(_tables_faults(base)) + list(rule_faults(base, rules)))
    return base


def with_rules(base: KnowledgeBase, text: str, file: str, *, replace: bool) -> KnowledgeBase:
    """
    `base` with the rules of a teacher's file, in place of its rules or beside them.

    The file is a list of rules, or a mapping with `rules` and, where they go beyond the shipped
    ones, `facts`, `causes` and `sources`. Raises `FaultyInputError` with every fault in it.
    """
    node = compose(text, file)
    if node is None:
        raise FaultyInputError([Fault(file, "the file is empty; a list of rules is accepted.")])
    faults: list[Fault] = []
    brought = _brought(node, file, faults)
    if not (brought.rules or faults):
        raise FaultyInputError([Fault(file, "there is no rule in the file.")])
    rules = brought.rules if replace else base.rules + brought.rules
    changed = _changed(
        base,
        facts=base.facts | _table(brought.facts, lambda item: item.id, "fact", faults, file, base.facts),
        causes=base.causes | _table(brought.causes, lambda item: item.id, "cause", faults, file, base.causes),
        sources=base.sources | _table(brought.sources, lambda item: item.key, "source", faults, file, base.sources),
        rules=rules,
        checksum=_checksum([base.checksum, "replace" if replace else "add", text]),
    )
    for fact in brought.facts:
        if fact.subtype:
            faults += _unknown([fact.subtype], base.subtypes, "a subtype", f"{file}, fact {shown(fact.id)}")
    _raise(faults + list(rule_faults(changed, rules)))
    return changed


def _brought(node: yaml.Node, file: str, faults: list[Fault]) -> RuleFile:
    """
    What a teacher's file holds; entries with faults are left out and their faults noted.

    Reading goes on after a faulty entry, so that one wrong key does not hide the wrong names of all other rules.
    """
    if isinstance(node, yaml.SequenceNode):
        return RuleFile(rules=_readable(Rule, node, file, "rules", faults))
    parts: dict[str, tuple[Any, ...]] = {}
    others = []
    for pair in getattr(node, "value", ()):
        kind = _PARTS.get(getattr(pair[0], "value", "") if isinstance(node, yaml.MappingNode) else "")
        if kind and isinstance(pair[1], yaml.SequenceNode) and pair[0].value not in parts:
            parts[pair[0].value] = _readable(kind, pair[1], file, pair[0].value, faults)
        else:
            others.append(pair)
    if others or not parts:
        # What is no list of a known kind is a fault of the file itself, told by the reader.
        try:
            read_into(RuleFile, node, file)
        except FaultyInputError as error:
            faults += [fault for fault in error.faults if fault not in faults]
    return RuleFile(
        rules=parts.get("rules", ()),
        facts=parts.get("facts", ()),
        causes=parts.get("causes", ()),
        sources=parts.get("sources", ()),
    )


def _readable(kind: type[Item], node: yaml.SequenceNode, file: str, path: str, faults: list[Fault]) -> tuple[Item, ...]:
    items = []
    for index, entry in enumerate(node.value, 1):
        try:
            items.append(read_into(kind, entry, file, f"{path}[{index}]"))
        except FaultyInputError as error:
            faults += error.faults
    return tuple(items)


def _changed(base: KnowledgeBase, **changes: Any) -> KnowledgeBase:
    """A copy of `base` with some tables changed, without what was worked out from the old ones."""
    return KnowledgeBase(**{name: changes.get(name, getattr(base, name)) for name in base.__struct_fields__})


def _checksum(texts: Iterable[str]) -> str:
    import hashlib  # not needed where the snapshot fits, and slow to import

    digest = hashlib.sha256()
    for text in texts:
        digest.update(text.encode())
    return digest.hexdigest()[:16]


def _raise(faults: Sequence[Fault]) -> None:
    if faults:
        raise FaultyInputError(faults)


def _table(
    items: Iterable[Item],
    key: Callable[[Item], str],
    kind: str,
    faults: list[Fault],
    file: str = "kb",
    taken: Iterable[str] = (),
) -> dict[str, Item]:
    table: dict[str, Item] = {}
    for item in items:
        if key(item) in table or key(item) in taken:
            faults.append(Fault(file, f"the {kind} {key(item)!r} is defined a second time."))
        table[key(item)] = item
    return table


def _tables_faults(base: KnowledgeBase) -> Iterable[Fault]:
    """Names in the tables that nothing defines, and spellings that mean two things."""
    for subtype in base.subtypes.values():
        yield from _unknown(subtype.of, base.classes, "a class", f"kb/subtypes.yaml, {subtype.id!r}")
    for fact in base.facts.values():
        if fact.subtype:
            yield from _unknown([fact.subtype], base.subtypes, "a subtype", f"kb/facts.yaml, {fact.id!r}")
    spellings: dict[str, str] = {}
    for test in base.tests.values():
        where = f"kb/bench_tests, {test.id!r}"
        yield from _unknown(test.cautions, base.cautions, "a caution", where)
        yield from _unknown([test.source.key], base.sources, "a source", where)
        for condition in test.needs:
            yield from condition_faults(condition, base, where)
        for kind in test.readings:
            yield from _reading_faults(kind, base, f"{where}, {kind.id!r}", spellings)
    for term in base.solubility:
        yield from _unknown([term.reading], base.readings["in water"].words(), "a value", f"kb/solubility.yaml, {term.term!r}")
    yield from _preparation_faults(base)
    yield from _unknown(base.second_opinion.candidates.differs_more, base.readings, "a reading", "kb/second_opinion.yaml")
    for fit in base.second_opinion.numbers:
        yield from _unknown(
            [fit.reading], [kind.id for kind in base.readings.values() if kind.number], "a number", "kb/second_opinion.yaml"
        )
    for thumb in base.rules_of_thumb.values():
        yield from _thumb_faults(thumb, base)
    yield from _planning_faults(base.set_planning, base)
    for expected in base.expected:
        where = f"kb/expected_readings.yaml, {expected.reading!r}"
        yield from _unknown([expected.reading], base.readings, "a reading", where)
        if expected.reading in base.readings:
            words = base.readings[expected.reading].words()
            for way in expected.ways:
                given = [
                    word for words_given in (*way.words.values(), *way.shows.values(), way.otherwise) for word in words_given
                ]
                yield from _unknown(given + [band.gives for band in way.bands], words, "a value", where)


def _preparation_faults(base: KnowledgeBase) -> Iterable[Fault]:
    """Names that nothing defines, and tests that are told of twice or not at all."""
    where, rules = "kb/preparation.yaml", base.preparation
    faults: list[Fault] = []
    takes = _table(rules.takes, lambda item: item.test, "test", faults, where)
    reagents = _table(rules.reagents, lambda item: item.id, "reagent", faults, where)
    _table(rules.residues, lambda item: item.id, "kind of residue", faults, where)
    yield from faults
    yield from (Fault(where, f"takes does not tell of {name!r}.") for name in base.tests if name not in takes)
    for item in rules.takes:
        yield from _unknown([item.test], base.tests, "a bench test", where)
        yield from _unknown([*item.uses, *item.uses_once], reagents, "a reagent", f"{where}, {item.test!r}")
    for reagent in rules.reagents:
        made = [way.source.key for way in (reagent.dilution, reagent.solution) if way]
        yield from _unknown(made, base.sources, "a source", f"{where}, {reagent.id!r}")
    for residue in rules.residues:
        there = f"{where}, {residue.id!r}"
        yield from _unknown(residue.tests, base.tests, "a bench test", there)
        yield from _unknown(residue.no_formula, base.classes, "a class", there)
        yield from _unknown(residue.readings, base.readings, "a reading", there)
        for reading, words in residue.readings.items():
            if reading in base.readings:
                yield from _unknown(words, base.readings[reading].words(), f"a value of {reading!r}", there)
    if [residue.for_all_others for residue in rules.residues].count(True) != 1:
        yield Fault(where, "residues needs one kind without conditions, for all others.")


def _thumb_faults(thumb: RuleOfThumb, base: KnowledgeBase) -> Iterable[Fault]:
    where = f"kb/rules_of_thumb.yaml, {thumb.id!r}"
    if not thumb.conditions():
        yield Fault(f"{where}, when", "there is no condition.")
    for condition in thumb.conditions():
        yield from condition_faults(condition, base, where)
        if condition.fact:
            yield Fault(where, f"{condition.fact!r} is a fact; a rule of thumb goes by readings alone.")
    yield from _unknown(thumb.jumps_to, base.classes, "a class", f"{where}, jumps_to")
    if not thumb.jumps_to:
        yield Fault(where, "it jumps to no class.")
    yield from _unknown(thumb.true_of or (), base.subtypes, "a subtype", f"{where}, true_of")
    yield from _unknown([thumb.source.key], base.sources, "a source", where)
    for part in ("fires_on", "silent_on"):
        for record in getattr(thumb, part):
            for reading, value in record.items():
                yield from value_faults(reading, value, base, f"{where}, {part}")


def _planning_faults(planning: SetPlanning, base: KnowledgeBase) -> Iterable[Fault]:
    where = "kb/set_planning.yaml"
    yield from _unknown(planning.plain, base.subtypes, "a subtype", f"{where}, plain")
    if [level.level for level in planning.levels] != list(range(len(planning.levels))) or not planning.levels:
        yield Fault(f"{where}, levels", "the levels must count up from 0.")
    placed: dict[str, str] = {}
    parts: tuple[HazardLevel | NeverPlanned, ...] = (*planning.levels, *planning.never)
    for part in parts:
        for code in part.statements:
            if not (len(code) == 4 and code[0] == "H" and code[1:].isdecimal()):
                yield Fault(f"{where}, {part.id!r}", f"{shown(code)} is no code of a hazard statement, such as H302.")
            if placed.setdefault(code, part.id) != part.id:
                yield Fault(f"{where}, {part.id!r}", f"{code} already has its place under {placed[code]!r}.")
    if min(planning.portion.solid_g, planning.portion.liquid_mL) <= 0:
        yield Fault(f"{where}, portion", "a portion must be more than nothing.")


def _reading_faults(kind: ReadingKind, base: KnowledgeBase, where: str, spellings: dict[str, str]) -> Iterable[Fault]:
    yield from _unknown([kind.misread.from_], base.sources, "a source", where)
    for spelling in (kind.id, *kind.also):
        if spellings.setdefault(spelling.casefold(), kind.id) != kind.id:
            yield Fault(where, f"the spelling {spelling!r} already means {spellings[spelling.casefold()]!r}.")
    if bool(kind.values) == bool(kind.number):
        yield Fault(where, "give either values or number.")
    meanings: dict[str, str] = {}
    for value in kind.values:
        for spelling in (value.is_, *value.also):
            if meanings.setdefault(spelling.casefold(), value.is_) != value.is_:
                yield Fault(where, f"the spelling {spelling!r} means two values.")


def rule_faults(base: KnowledgeBase, rules: Iterable[Rule]) -> Iterable[Fault]:
    """Names in rules that nothing defines, and parts that do not go together."""
    seen: dict[str, Rule] = {}
    for rule in rules:
        where = f"{rule.place or 'rules'}, rule {shown(rule.id)}"
        if rule.id in seen:
            yield Fault(where, f"the id {shown(rule.id)} is already used ({seen[rule.id].place}).")
        seen[rule.id] = rule
        if not (rule.adds or rule.weighs or rule.conflict):
            yield Fault(where, "the rule does nothing; give adds, weighs or conflict.")
        if not rule.conditions():
            yield Fault(f"{where}, when", "there is no condition.")
        for part in ("all", "any", "none"):
            for index, condition in enumerate(getattr(rule.when, part), 1):
                yield from condition_faults(condition, base, f"{where}, when.{part}[{index}]")
        yield from _unknown(rule.adds, base.facts, "a fact", f"{where}, adds")
        if rule.weighs:
            yield from _unknown([rule.weighs.cause], base.causes, "a cause", f"{where}, weighs.cause")
            yield from _unknown(rule.weighs.for_, base.classes, "a class", f"{where}, weighs.for")
            yield from _unknown(rule.weighs.against, base.classes, "a class", f"{where}, weighs.against")
            if both := sorted(set(rule.weighs.for_) & set(rule.weighs.against)):
                yield Fault(f"{where}, weighs", f"{both[0]!r} stands both under for and under against.")
            if not (rule.weighs.for_ or rule.weighs.against):
                yield Fault(f"{where}, weighs", "no class is weighed.")
        for exception in rule.exceptions:
            yield from _unknown([exception.subtype], base.subtypes, "a subtype", f"{where}, exceptions")
        yield from _unknown([rule.source.key], base.sources, "a source", f"{where}, source.key")
        for part in ("fires_on", "silent_on"):
            for index, record in enumerate(getattr(rule, part), 1):
                for reading, value in record.items():
                    yield from value_faults(reading, value, base, f"{where}, {part}[{index}]")


def condition_faults(condition: Condition, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    """What is wrong with one condition."""
    bounds = [bound for bound in (condition.above, condition.below, condition.at_least, condition.at_most) if bound is not None]
    if (condition.reading is None) == (condition.fact is None):
        yield Fault(where, "give either reading or fact.")
    elif condition.fact is not None:
        yield from _unknown([condition.fact], base.facts, "a fact", where)
        if condition.is_ or bounds:
            yield Fault(where, "a fact takes neither values nor bounds.")
    elif condition.reading not in base.readings:
        yield from _unknown([condition.reading or ""], base.readings, "a reading", where)
    elif base.readings[condition.reading].number:
        if condition.is_ or not bounds:
            yield Fault(where, f"{condition.reading!r} is a number; give above, below, at_least or at_most.")
        for bound in bounds:
            faults = list(value_faults(condition.reading, bound, base, where))
            if not faults and _is_range(bound, base.readings[condition.reading]):
                faults = [Fault(where, f"the bound {shown(bound)} is a range; a single number with its unit is accepted.")]
            yield from faults
    else:
        if bounds or not condition.is_:
            yield Fault(where, f"{condition.reading!r} has a list of values; give them under is.")
        yield from _unknown(condition.is_, base.readings[condition.reading].words(), f"a value of {condition.reading!r}", where)


def _is_range(bound: str, kind: ReadingKind) -> bool:
    assert kind.number is not None
    found = parse_quantity(bound, kind.number.unit)
    return found.low != found.high


def value_faults(reading: str, value: str, base: KnowledgeBase, where: str) -> Iterable[Fault]:
    """What is wrong with one reading written in a rule, where only the spellings of the knowledge base count."""
    kind = base.readings.get(reading)
    if kind is None:
        yield from _unknown([reading], base.readings, "a reading", where)
    elif kind.number:
        try:
            parse_quantity(value, kind.number.unit)
        except QuantityError as error:
            yield Fault(where, str(error))
    else:
        yield from _unknown([value], kind.words(), f"a value of {reading!r}", where)


def _unknown(names: Iterable[str], known: Iterable[str], kind: str, where: str) -> Iterable[Fault]:
    known = tuple(known)
    return [Fault(where, not_accepted(name, kind, known)) for name in names if name not in known]
