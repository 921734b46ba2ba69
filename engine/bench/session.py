"""A bench session: which question comes next, what an answer changes, and what the session remembers.

Nothing is printed, asked or written here: the command asks and writes, and tells the session what came of it.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

import msgspec

from spotplate.engine.identification import Identification, identify
from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.record import Record
from spotplate.kb import BenchTest, Fault, FaultyInputError, KnowledgeBase, ReadingKind, nearest, not_accepted, shown

from .memory import Memory, VialMemory
from .next_test import NextTest, can_be_done
from .not_made import was_made


class Question(msgspec.Struct, frozen=True):
    """The next reading to make, of the test under way."""

    test: BenchTest
    reading: ReadingKind


class Standing(msgspec.Struct, frozen=True):
    """How a test stands for the vial at hand: `done`, `ready`, or not to be done yet or at all, for the reason in `why`."""

    test: BenchTest
    done: bool
    ready: bool
    why: str = ""


def tests_without(missing: Sequence[str], knowledge: KnowledgeBase) -> tuple[str, ...]:
    """
    The bench tests that cannot be done without some apparatus; a test may also be named itself.

    Raises
    ------
    FaultyInputError
        If a name is neither part of any apparatus nor a test
    """
    found: dict[str, None] = {}
    faults = []
    for name in missing:
        wanted = " ".join(name.casefold().split())
        tests = [test.id for test in knowledge.tests.values() if test.id == wanted]
        part = re.compile(rf"\b{re.escape(wanted)}\b")
        tests = tests or [
            test.id for test in knowledge.tests.values() if any(part.search(item.casefold()) for item in test.apparatus)
        ]
        if wanted and tests:
            found |= dict.fromkeys(tests)
        else:
            items = {item: None for test in knowledge.tests.values() for item in test.apparatus}
            faults.append(
                Fault("option --missing", not_accepted(name, "apparatus or a bench test", [*items, *knowledge.tests], most=99))
            )
    if faults:
        raise FaultyInputError(faults)
    return tuple(found)


class Session:
    """The state of a session; `records` holds every vial of the rack by its label."""

    def __init__(self, records: Mapping[str, Record], memory: Memory, knowledge: KnowledgeBase) -> None:
        self.records = dict(records)
        self.knowledge = knowledge
        self.memory = memory
        self._results: dict[str, tuple[object, Identification]] = {}
        if memory.vial not in self.records:
            self.memory = msgspec.structs.replace(memory, vial=next(iter(self.records)))

    # --- where the session stands ---

    @property
    def vial(self) -> str:
        return self.memory.vial

    @property
    def record(self) -> Record:
        return self.records[self.vial]

    @property
    def of_vial(self) -> VialMemory:
        return self.memory.of(self.vial)

    def result(self, vial: str | None = None) -> Identification:
        """What `identify` says of a vial's record, with the tests that could still be done in this session."""
        name = self.vial if vial is None else vial
        record, left_out = self.records[name], self._left_out(name)
        asked = record, left_out, self.memory.among
        if name not in self._results or self._results[name][0] != asked:
            found = identify(record, self.knowledge, among=self.memory.among, left_out=left_out)
            self._results[name] = asked, found
        return self._results[name][1]

    def question(self) -> Question | None:
        """The next reading of the test under way; None when a test is to be chosen."""
        test = self.knowledge.tests.get(self.of_vial.doing)
        if test is None or not can_be_done(test, self.record):
            return None
        pending = self.pending(test)
        return Question(test, pending[0]) if pending else None

    def proposals(self) -> Sequence[NextTest]:
        """The tests worth doing next, best first; none in an assessment, where nothing is given away."""
        return () if self.memory.assessment else self.result().next_tests

    def settled(self) -> bool:
        return self.result().verdict.kind is VerdictKind.CONCLUSIVE

    def pending(self, test: BenchTest) -> list[ReadingKind]:
        """The readings of a test that were neither made nor tried nor passed over."""
        tried = {*self.record.readings, *self.record.unclear, *self.of_vial.passed}
        return [kind for kind in test.readings if kind.id not in tried]

    def standings(self) -> list[Standing]:
        """Every bench test, in the order of the knowledge base, and whether it can be done now."""
        return [self._standing(test) for test in self.knowledge.tests.values()]

    def _standing(self, test: BenchTest) -> Standing:
        if not self.pending(test) and was_made(test, self.record):
            return Standing(test, done=True, ready=False, why="done")
        if test.id in self.memory.missing:
            return Standing(test, done=False, ready=False, why="apparatus not on this bench")
        if can_be_done(test, self.record):
            return Standing(test, done=False, ready=True, why=self._put_aside(test))
        return Standing(test, done=False, ready=False, why=self._wanting(test))

    def _put_aside(self, test: BenchTest) -> str:
        if test.id in self.of_vial.refused:
            return "the teacher did not agree"
        if test.id in self.of_vial.left_out:
            return "put aside"
        passed = [kind.id for kind in test.readings if kind.id in self.of_vial.passed]
        return f"not tested: {', '.join(passed)}" if passed else ""

    def _wanting(self, test: BenchTest) -> str:
        for need in test.needs:
            reading = need.reading or ""
            found = self.record.readings.get(reading)
            if found is None:
                return f"needs “{reading}” first"
            if found not in need.is_:
                return f"not after “{reading}: {found}”"
        return ""

    def _left_out(self, vial: str) -> tuple[str, ...]:
        record, kept = self.records[vial], self.memory.of(vial)
        tried = {*record.readings, *record.unclear, *kept.passed}
        tried_out = [test.id for test in self.knowledge.tests.values() if all(kind.id in tried for kind in test.readings)]
        return tuple(dict.fromkeys((*self.memory.missing, *kept.left_out, *kept.refused, *tried_out)))

    # --- what changes it ---

    def switch(self, vial: str) -> None:
        """Take another vial of the rack in hand."""
        if vial not in self.records:
            near = nearest(vial, self.records)
            meant = f"; did you mean {near!r}?" if near else "."
            raise FaultyInputError([Fault("", f"there is no vial {shown(vial)}{meant} Vials: {', '.join(self.records)}.")])
        self.memory = msgspec.structs.replace(self.memory, vial=vial)

    def confirm_prepared(self) -> None:
        """The vial at hand was prepared as an exercise."""
        self._keep(prepared=True)

    def begin(self, test: str) -> None:
        """Begin a test, also one that was left out or whose readings were passed over."""
        again = {kind.id for kind in self.knowledge.tests[test].readings}
        kept = self.of_vial
        self._keep(
            doing=test,
            left_out=_without(kept.left_out, test),
            refused=_without(kept.refused, test),
            passed=tuple(name for name in kept.passed if name not in again),
        )

    def leave(self) -> None:
        """Put the test under way aside; it is not proposed again until it is chosen."""
        if self.of_vial.doing:
            self._keep(doing="", left_out=(*_without(self.of_vial.left_out, self.of_vial.doing), self.of_vial.doing))

    def decline(self, test: str) -> None:
        """Leave a test out, since the teacher has not agreed to it; another one under way stays so."""
        kept = self.of_vial
        self._keep(doing="" if kept.doing == test else kept.doing, refused=(*_without(kept.refused, test), test))

    def agree(self, test: str) -> None:
        """The teacher has agreed to a test on this vial."""
        self._keep(agreed=(*_without(self.of_vial.agreed, test), test), refused=_without(self.of_vial.refused, test))

    def pass_over(self, reading: str) -> None:
        """A reading of the test under way is not made."""
        self._keep(passed=(*_without(self.of_vial.passed, reading), reading), order=(*self._steps_but(reading), reading))

    def answered(self, reading: str) -> None:
        """A reading has been made, or tried without a clear result; the record holds it already."""
        self._keep(order=(*self._steps_but(reading), reading), passed=_without(self.of_vial.passed, reading))

    def taken_back(self, reading: str) -> None:
        """
        A reading was taken back, or is to be made after all; the record no longer holds it.

        Its test is under way again, unless it is one that the teacher has not agreed to on this vial.
        """
        kept = self.of_vial
        test = self.knowledge.test_of[reading]
        self._keep(
            doing="" if test.teacher and test.id not in kept.agreed else test.id,
            order=tuple(self._steps_but(reading)),
            passed=_without(kept.passed, reading),
            left_out=_without(kept.left_out, test.id),
        )

    def order(self) -> list[str]:
        """The readings of the record, the latest last; those of a file edited by hand come first, in its order."""
        made = {*self.record.readings, *self.record.unclear}
        return [name for name in self._steps() if name in made]

    def last(self) -> str | None:
        """The latest step: a reading made, tried or passed over."""
        steps = self._steps()
        return steps[-1] if steps else None

    def _steps(self) -> list[str]:
        """Every reading made, tried or passed over, the latest last."""
        taken = dict.fromkeys((*self.record.readings, *self.record.unclear, *self.of_vial.passed))
        known = [name for name in self.of_vial.order if name in taken]
        return [*(name for name in taken if name not in known), *known]

    def _steps_but(self, reading: str) -> list[str]:
        return [name for name in self._steps() if name != reading]

    def resting_on(self, reading: str) -> list[str]:
        """The readings made whose tests could be done only since `reading` was read as it was."""
        tests = (test for test in self.knowledge.tests.values() if any(need.reading == reading for need in test.needs))
        made = {*self.record.readings, *self.record.unclear}
        return [kind.id for test in tests for kind in test.readings if kind.id in made]

    def _keep(self, **changes: object) -> None:
        self.memory = self.memory.with_vial(self.vial, msgspec.structs.replace(self.of_vial, **changes))


def _without(names: Sequence[str], name: str) -> tuple[str, ...]:
    return tuple(other for other in names if other != name)
