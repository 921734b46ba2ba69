"""
What students get: their sheet, made from the letters and the tests alone.

Nothing in this module ever sees a substance. That is what keeps the key out of the sheet, its source and its name.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import msgspec

from spotplate.cli.lab_summary.of_record import FOR_ALL_WORK, NEVER_NO
from spotplate.cli.views.words import UNPREPARED, WHO_DECIDES, listed
from spotplate.kb import BenchTest, Condition, KnowledgeBase, ReadingKind

from .model import Argument, Block, Bullets, FillIn, Heading, Procedure, Sheet, Table, Text

COLUMNS = 8  # vials beside one another in a table that people write into, on upright paper
_ARGUMENT = (
    ("Claim", "What is in this vial: which kind of bonding holds it together, and which substance may it be?", 1),
    ("Evidence", "Which readings speak for that? Does one speak against it?", 2),
    ("Reasoning", "How do its particles, and the forces between them, explain these readings?", 3),
)


class Handout(msgspec.Struct, frozen=True):
    """All that a student's sheet is made from."""

    title: str
    labels: tuple[str, ...]
    tests: tuple[str, ...]
    group: int
    groups: int
    date: str


def student_sheet(handout: Handout, knowledge: KnowledgeBase, version: str) -> Sheet:
    """The sheet of one group: tests and cautions, an empty table of readings, boxes for the argument."""
    tests = in_working_order(handout.tests, knowledge)
    return Sheet(
        handout.title,
        f"Unknowns, group {handout.group}" if handout.groups > 1 else "Unknowns",
        tuple(_blocks(handout, tests, knowledge)),
        f"spotplate {version}",
    )


def in_working_order(names: Sequence[str], knowledge: KnowledgeBase) -> list[BenchTest]:
    """The tests in the order of the knowledge base, but each behind those that yield what it needs first."""
    waiting = [knowledge.tests[name] for name in knowledge.tests if name in names]
    ordered: list[BenchTest] = []
    while waiting:
        lacking = {kind.id for test in waiting for kind in test.readings}
        ready = next((test for test in waiting if not any(need.reading in lacking for need in test.needs)), waiting[0])
        waiting.remove(ready)
        ordered.append(ready)
    return ordered


def _blocks(handout: Handout, tests: Sequence[BenchTest], knowledge: KnowledgeBase) -> Iterator[Block]:
    vials = f"vial {handout.labels[0]}" if len(handout.labels) == 1 else f"the vials {listed(handout.labels)}"
    group = str(handout.group) if handout.groups > 1 else ""
    yield FillIn((("Names", ""), ("Group", group), ("Date", handout.date)))
    yield Text(
        f"You have {vials}. Each holds one substance. Find out by tests what holds it together, and defend your answer. Take a "
        f"fresh, small portion for each test, and close the vial again: what is in it has to last for all tests."
    )
    yield Heading("Cautions")
    yield Bullets(tuple(_general_cautions(tests, knowledge)), columns=2)
    yield Heading("Tests")
    yield Text("In this order where you can: some tests need the reading or the liquid of another one first.")
    for test in tests:
        yield _procedure(test, knowledge)
    yield Heading("Readings")
    yield Text(
        f"Write the words, or their number. Write “unclear” when you tried and could not tell, and leave empty what you did not "
        f"test. {NEVER_NO}"
    )
    yield from _tables(handout.labels, tests)
    yield Heading("Claim, evidence, reasoning", new_page=True)
    for label in handout.labels:
        yield Argument(f"Vial {label}", _ARGUMENT)


def _general_cautions(tests: Sequence[BenchTest], knowledge: KnowledgeBase) -> Iterator[str]:
    """Those that hold for all the work; the others stand with their tests."""
    named = {key for test in tests for key in test.cautions}
    for key, caution in knowledge.cautions.items():
        if key in FOR_ALL_WORK and (caution.always or key in named):
            yield caution.says
    yield "Heed the hazard statements on the label of each vial."
    yield WHO_DECIDES
    yield UNPREPARED


def _procedure(test: BenchTest, knowledge: KnowledgeBase) -> Procedure:
    facts = [f"{listed(test.apparatus)}; {test.minutes:g} min"]
    if test.needs:
        facts.append(f"needs {listed([_need(need) for need in test.needs])}")
    if "teacher does it" in test.cautions:
        facts.append("shown by the teacher")
    elif test.teacher:
        facts.append("only with the teacher's leave")
    return Procedure(
        test.id,
        test.does,
        f"{'; '.join(facts)}.",
        test.procedure.strip(),
        tuple(knowledge.cautions[key].says for key in test.cautions if key not in FOR_ALL_WORK),
        tuple((kind.id, kind.asks, _words(kind)) for kind in test.readings),
    )


def _need(need: Condition) -> str:
    return f"“{need.reading}” read as {listed(need.is_, 'or')}" if need.is_ else f"“{need.reading}”"


def _words(kind: ReadingKind) -> tuple[tuple[str, str], ...]:
    """Each accepted word with its number and what it looks like; of a number, its unit."""
    if kind.number:
        return ((f"number or range in {kind.number.unit}", ""),)
    return tuple((f"{number}\N{NO-BREAK SPACE}{value.is_}", value.looks.strip()) for number, value in enumerate(kind.values, 1))


def _tables(labels: Sequence[str], tests: Sequence[BenchTest]) -> Iterator[Table]:
    """Readings down, vials across, no more vials than have room to write."""
    for part in shared_out(labels, COLUMNS):
        rows = [
            (f"{kind.id}: {'; '.join(word for word, _ in _words(kind))}", *[""] * len(part))
            for test in tests
            for kind in test.readings
        ]
        told = f"Vial {part[0]}" if len(part) == 1 else f"Vials {part[0]} to {part[-1]}"
        yield Table(
            f"{told}: what you read",
            ("reading and its accepted words", *part),
            tuple(rows),
            to_fill=True,
            widths=(3.2, *[1.0] * len(part)),
        )


def shared_out(labels: Sequence[str], most: int) -> list[tuple[str, ...]]:
    """`labels` in as few parts of at most `most` as do, of nearly equal length."""
    parts = -(-len(labels) // most)
    whole, over = divmod(len(labels), parts)
    found, place = [], 0
    for number in range(parts):
        size = whole + (number < over)
        found.append(tuple(labels[place : place + size]))
        place += size
    return found
