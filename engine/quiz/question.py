"""What a question, a guess at it and the reply are made of."""

from __future__ import annotations

import enum

import msgspec


class Kind(enum.StrEnum):
    """What a question asks for."""

    CLASSIFY = "classify"
    NAMED = "named"
    NEXT_TEST = "next test"
    MISREAD = "misread"
    PREDICT = "predict"
    EXPLAIN = "explain"
    TELL_APART = "tell apart"
    EXCEPTION = "exception"
    MIX_UP = "mix-up"
    PUBLISHED = "published"


OF_CLASSES = (Kind.CLASSIFY, Kind.NAMED, Kind.PUBLISHED)  # what is guessed is a class, and the reply is worked out from it


class Level(enum.StrEnum):
    EASY = "easy"
    MEDIUM = "medium"
    HARD = "hard"


class Item(msgspec.Struct, frozen=True):
    """
    What is practised: a kind of question on a topic, posed with another substance or other readings each time.

    `topic` is a finer kind, a class, a rule of thumb, a mix-up … `class_`, `subtype` and `mix_up` tell under which weakness
    a wrong answer is counted; empty where it is under none.
    """

    kind: Kind
    topic: str
    class_: str = ""
    subtype: str = ""
    mix_up: str = ""

    @property
    def key(self) -> str:
        """The name under which progress is kept."""
        return f"{self.kind}/{self.topic}"


class Option(msgspec.Struct, frozen=True):
    """
    An answer to choose from.

    `means` is the same for the engine: a class, a bench test, a reading, a value, or empty. `why` says why it is right or
    wrong, where that needs no further reasoning. `mix_up` names the mix-up that choosing it shows by itself.
    """

    says: str
    means: str
    right: bool
    why: str = ""
    mix_up: str = ""


class Difficulty(msgspec.Struct, frozen=True):
    """How hard a question is, from 0 to 1 [-], in a word, and what that comes from, in words."""

    number: float
    level: Level
    parts: tuple[str, ...]


class Question(msgspec.Struct, frozen=True):
    """
    A question, with what is known of its answer.

    `says` is what is asked, `readings` what was seen at the bench, written as on a record. Everything else but the
    wording of `options` and `difficulty` gives the answer away. `substance` is the reference substance behind it, or
    empty; `truth` its defensible classes, the first one foremost; `asked` the reading that a prediction is asked of.
    `because` is the particle-level reason for the right answer, `decisive` the single test that settles it, in words.
    """

    item: Item
    draw: int
    says: str
    readings: dict[str, str]
    options: tuple[Option, ...]
    difficulty: Difficulty
    substance: str = ""
    truth: tuple[str, ...] = ()
    subtype: str = ""
    asked: str = ""
    because: str = ""
    decisive: str = ""
    sources: tuple[str, ...] = ()

    @property
    def kind(self) -> Kind:
        return self.item.kind


class Outcome(enum.StrEnum):
    """
    What an answer is worth. `DEFENSIBLE`: not the foremost answer, but one that chemists defend. `UNSUPPORTED`: the right class,
    though the readings do not suffice for it. Only `WRONG` counts as wrong.
    """

    RIGHT = "right"
    DEFENSIBLE = "defensible"
    UNSUPPORTED = "right, but not supported"
    WRONG = "wrong"


class Objection(msgspec.Struct, frozen=True):
    """A reading that speaks against a guess: what was seen, what the guess would have shown, and the particle-level reason."""

    reading: str
    seen: str
    would_show: str
    because: str


class ShownMixUp(msgspec.Struct, frozen=True):
    """The mix-up that a guess shows, the reply, its source, and the item that tests the cure (empty: none may be asked)."""

    id: str
    says: str
    reply: str
    source: str
    follow_up: str


class Reply(msgspec.Struct, frozen=True):
    """
    The answer to a guess, part by part; a part is empty where there is nothing to say.

    `opening` says in a sentence or two whether it was right. `against` are the readings that contradict a wrong guess,
    in order of weight; `expected` what would have been seen had it been right, reading by reading. `particles` is
    the particle-level reason, `contrast` says why the truth and not the guess, `decisive` names the test that settles it.
    """

    opening: str
    against: tuple[Objection, ...] = ()
    expected: tuple[str, ...] = ()
    particles: str = ""
    contrast: str = ""
    decisive: str = ""
    mix_up: ShownMixUp | None = None
    sources: tuple[str, ...] = ()


class Marked(msgspec.Struct, frozen=True):
    """A guess at a question, marked: the outcome, what was chosen, every right answer, and the reply."""

    outcome: Outcome
    chosen: str
    right: tuple[str, ...]
    reply: Reply
