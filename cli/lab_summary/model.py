"""What a lab summary holds, before any form of it is written."""

from __future__ import annotations

import enum

import msgspec

PROGRAM = "Program:"  # stands before every sentence of the argument that the program wrote
OWN_WORDS = "In your own words:"


class SummaryKind(enum.Enum):
    """
    What the page tells.

    WITH_SENTENCES fills in claim, evidence, reasoning and contrast, and marks each sentence as the program's.
    ASSESSMENT holds the record alone, so that all of these are the student's: it is the page without the program's
    sentences, and as nothing else in it may give the answer away, there is no third kind.
    """

    WITH_SENTENCES = "with the program's sentences"
    ASSESSMENT = "assessment"


class ReadingLine(msgspec.Struct, frozen=True):
    """One reading: its value in words, what that looks like, and a remark such as on a unit that was assumed."""

    name: str
    value: str
    looks: str
    remark: str = ""


class ReadingGroup(msgspec.Struct, frozen=True):
    """The readings of one bench test."""

    test: str
    lines: tuple[ReadingLine, ...]


class Waiting(msgspec.Struct, frozen=True):
    """A bench test of which nothing is known, and what it needs first."""

    test: str
    needs: str


class NotTested(msgspec.Struct, frozen=True):
    """
    Everything of which nothing is known.

    `ruled_out` could not be tested, since what was read does not allow it; `waiting` needs a reading that was not made;
    in the way of `not_made`, tests and readings by name, stood nothing.
    """

    ruled_out: tuple[Waiting, ...]
    waiting: tuple[Waiting, ...]
    not_made: tuple[str, ...]


class CautionLine(msgspec.Struct, frozen=True):
    """A caution, and the tests it is for; none where it holds for all the work."""

    says: str
    tests: tuple[str, ...] = ()


class Statement(msgspec.Struct, frozen=True):
    """A sentence or two that the program wrote; `source` is a number of the list of sources, 0 where none is cited."""

    says: str
    source: int = 0


class Section(msgspec.Struct, frozen=True):
    """A part of the argument: the question it answers, the program's sentences, and lines for the student's own [-]."""

    title: str
    asks: str
    program: tuple[Statement, ...] = ()
    lines: int = 0


class Likelihood(msgspec.Struct, frozen=True):
    """A row of the ranking, in words; `share` [-] is the probability for drawing a bar."""

    class_: str
    probability: str
    decibans: str
    share: float


class LabSummary(msgspec.Struct, frozen=True):
    """
    The summary of one vial.

    `vial`, `notes` and `date` are text from people; every form escapes all text alike. `ranking` and `sources`
    are empty in an assessment, and its `sections` hold no sentence of the program.
    """

    kind: SummaryKind
    vial: str
    date: str
    guide: str
    readings: tuple[ReadingGroup, ...]
    notes: str
    not_tested: NotTested
    ranking: tuple[Likelihood, ...]
    ranked_by: str
    sections: tuple[Section, ...]
    sources: tuple[str, ...]
    cautions: tuple[CautionLine, ...]
    version: str
    checksum: str

    @property
    def title(self) -> str:
        """Heading of the vial."""
        return f"Vial {self.vial}" if self.vial else "Vial not named in the record"
