"""What questions are drawn from: the whole reference table, or an unknowns set whose key stays hidden."""

from __future__ import annotations

import enum
import functools
import zlib
from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, TypeVar

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.engine.reference_readings import ReferenceReadings, ReferenceRow, load_reference
from spotplate.kb import KnowledgeBase, load_knowledge
from spotplate.kb.quiz import QuizKnowledge, load_quiz

if TYPE_CHECKING:  # a quiz on the table needs nothing of the planning of sets, which that package brings along
    from spotplate.engine.sets.unknowns_set import UnknownsSet

Found = TypeVar("Found")


class Secrecy(enum.StrEnum):
    """
    What questions and replies may tell of the substances.

    `NAMES`: everything. `CLASSES`: never a name or a letter of the set, only classes, once answered. `NOTHING`: not even
    the class, since the set is used for an assessment.
    """

    NAMES = "names"
    CLASSES = "classes"
    NOTHING = "nothing"


class Material(msgspec.Struct, frozen=True, dict=True):
    """The substances and bench tests that questions are made of, and what may be told of them."""

    knowledge: KnowledgeBase
    quiz: QuizKnowledge
    reference: ReferenceReadings
    names: tuple[str, ...]
    tests: tuple[str, ...]
    secrecy: Secrecy = Secrecy.NAMES

    @functools.cached_property
    def substances(self) -> dict[str, Substance]:
        """Name → handbook row, of every substance that questions are drawn from."""
        chosen = set(self.names)
        return {item.name: item for item in load_substances() if item.name in chosen}

    @functools.cached_property
    def rows(self) -> dict[str, ReferenceRow]:
        """Name → expected readings, of every substance of the reference table."""
        return {row.name: row for row in self.reference.rows}

    @functools.cached_property
    def rows_met(self) -> tuple[ReferenceRow, ...]:
        """Those that questions are drawn from; of these, what schools do not use only where there is nothing else."""
        rows = tuple(self.rows[name] for name in self.names)
        return tuple(row for row in rows if row.school_use != "not in school") or rows

    @functools.cached_property
    def classes_told(self) -> tuple[str, ...]:
        """The classes that may be named: those of its substances, or all where not even these may be told."""
        own = {item.class_ for item in self.substances.values()}
        return tuple(name for name in self.knowledge.classes if name in own or self.secrecy is Secrecy.NOTHING)

    def once(self, name: Hashable, make: Callable[[], Found]) -> Found:
        """What `make` gives, worked out once for this material and kept under a name of its own."""
        kept: dict[Hashable, Found] = self.__dict__.setdefault("kept", {})
        if name not in kept:
            kept[name] = make()
        return kept[name]

    @functools.cached_property
    def mark(self) -> str:
        """Four signs that tell whether a question was made of the same material."""
        told = "\n".join((self.knowledge.checksum, self.reference.made_from, *self.names, *self.tests, self.secrecy))
        return f"{zlib.crc32((told + self.quiz.checksum).encode()) & 0xFFFF:04x}"


def table_material(knowledge: KnowledgeBase | None = None) -> Material:
    """Everything that schools use of the reference table, and every bench test."""
    knowledge = knowledge or load_knowledge()
    reference = load_reference()
    return Material(knowledge, load_quiz(), reference, reference.names, tuple(knowledge.tests))


def set_material(unknowns_set: UnknownsSet, *, assessment: bool = False, knowledge: KnowledgeBase | None = None) -> Material:
    """The substances and tests of an unknowns set, in an order that tells nothing of its letters."""
    knowledge = knowledge or load_knowledge()
    names = tuple(sorted({vial.substance for vial in unknowns_set.vials}))
    secrecy = Secrecy.NOTHING if assessment else Secrecy.CLASSES
    return Material(knowledge, load_quiz(), load_reference(), names, unknowns_set.tests, secrecy)
