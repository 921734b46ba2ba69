"""The part of a lab summary that follows from the record alone: readings, what was not tested, cautions."""

from __future__ import annotations

from collections.abc import Collection

from spotplate.cli.views.words import listed
from spotplate.engine import Record
from spotplate.engine.bench import NotMade, UnmetNeed, not_made_tests, was_made
from spotplate.kb import BenchTest, KnowledgeBase, ReadingKind

from .model import CautionLine, NotTested, ReadingGroup, ReadingLine, Waiting

NEVER_NO = "Nothing is known of what was not tested; it never counts as no."
RULED_OUT = "Could not be tested, since what the test needs first was not met:"
WAITING = "Not made, and another reading has to come first:"
NOT_MADE = "Not made:"
_ALWAYS = "waste"  # residues are left whatever was done
# Cautions that hold for all the work, whichever test names them. The others are told with their tests: that only the
# teacher does it must not be read as being about every test.
FOR_ALL_WORK = ("eyes", "gloves", "no tasting", "small amounts", "waste")


def readings_by_test(record: Record, knowledge: KnowledgeBase) -> tuple[ReadingGroup, ...]:
    """Every reading that was made or tried, under its bench test, in the order of the knowledge base."""
    groups = [
        ReadingGroup(
            test.id,
            tuple(_line(kind, record) for kind in test.readings if kind.id in record.readings or kind.id in record.unclear),
        )
        for test in knowledge.tests.values()
        if was_made(test, record)
    ]
    if record.air_pressure is not None:
        looks = "A boiling point rises and falls with it; handbooks give it at 101.325 kPa."
        line = ReadingLine("air pressure", str(record.air_pressure), looks)
        groups.append(ReadingGroup("air pressure", (line,)))
    return tuple(groups)


def _line(kind: ReadingKind, record: Record) -> ReadingLine:
    if kind.id not in record.readings:
        return ReadingLine(kind.id, "unclear", "Tried, but it could not be told; it counts neither way.")
    value = record.readings[kind.id]
    looks = next((word.looks for word in kind.values if word.is_ == value), kind.asks)
    assumed = kind.number is not None and kind.id in record.assumed_units
    remark = f"Written without a unit; {kind.number.unit} was taken." if assumed and kind.number else ""
    return ReadingLine(kind.id, str(value), looks.strip(), remark)


def not_tested(record: Record, knowledge: KnowledgeBase) -> NotTested:
    """Tests that were ruled out, tests that wait for a reading, and tests and readings that were just not made."""
    missing = not_made_tests(record, knowledge)
    left_out = [
        f"{listed(names)} ({test.id})"
        for test in knowledge.tests.values()
        if was_made(test, record) and (names := _left_out(test, record))
    ]
    return NotTested(
        ruled_out=tuple(Waiting(item.test, _needs(item, knowledge)) for item in missing if not item.possible),
        waiting=tuple(Waiting(item.test, _needs(item, knowledge)) for item in missing if item.possible and item.unmet),
        not_made=(*(item.test for item in missing if not item.unmet), *left_out),
    )


def _left_out(test: BenchTest, record: Record) -> list[str]:
    return [kind.id for kind in test.readings if kind.id not in record.readings and kind.id not in record.unclear]


def _needs(item: NotMade, knowledge: KnowledgeBase) -> str:
    """What the test would have needed; only what rules it out, where something does."""
    return "; ".join(_need(need, knowledge) for need in item.unmet if need.forbids or item.possible)


def _need(need: UnmetNeed, knowledge: KnowledgeBase) -> str:
    if not need.forbids:
        return f"needs “{need.reading}” first, which was {'unclear' if need.unclear else 'not read'}"
    wanted = f"needs “{need.reading}” to be {listed([f'“{word}”' for word in need.accepted], 'or')}"
    if need.found:
        return f"{wanted}, and it was read as “{need.found}”"
    return f"{wanted}, and the {knowledge.test_of[need.reading].id} could not be made either"


def cautions_for(record: Record, proposed: Collection[str], knowledge: KnowledgeBase) -> tuple[CautionLine, ...]:
    """The usual cautions for the tests that were made and those that are `proposed`, and what to do with residues."""
    tests = [test for test in knowledge.tests.values() if was_made(test, record) or test.id in proposed]
    lines = []
    for key, caution in knowledge.cautions.items():
        named = tuple(test.id for test in tests if key in test.cautions)
        if named or key == _ALWAYS:
            lines.append(CautionLine(caution.says, () if key in FOR_ALL_WORK else named))
    return tuple(lines)
