"""The shape of what the quiz knows beyond the knowledge base: `kb/quiz/`. The YAML files explain the fields."""

from __future__ import annotations

import msgspec

from spotplate.kb.schema import ReadingValues, Source, When


class Answer(msgspec.Struct, frozen=True):
    """One of the answers that a question written in YAML offers; `why` says why it is right or wrong."""

    says: str
    why: str
    right: bool = False


class FollowUp(msgspec.Struct, frozen=True):
    """A question that tests whether a mix-up is cured."""

    asks: str
    answers: tuple[Answer, ...]


class Sign(msgspec.Struct, frozen=True):
    """
    One way to recognise a mix-up from a question and the guess at it; everything that is given must hold.

    `questions` are kinds of question; `guess` what was chosen: a class, a bench test, a reading, or a value. `when` holds
    conditions on the readings shown, `not_made` readings that are not among them. `asked` is the reading that a
    prediction was asked of. `truth` and `subtypes` tell what the substance really is; none of `other_than`, it must not be.
    `thumb` is a rule of thumb: its readings are shown, and the guess is a class that it jumps to.
    """

    questions: tuple[str, ...]
    guess: tuple[str, ...] = ()
    thumb: str = ""
    when: When = When()
    not_made: tuple[str, ...] = ()
    asked: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    truth: tuple[str, ...] = ()
    subtypes: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()


class MixUpExample(msgspec.Struct, frozen=True):
    """A guess at a question on which a mix-up is recognised; the fields are those of `Sign`, with one value each."""

    question: str
    guess: str
    readings: ReadingValues = {}
    asked: str = ""
    right: str = ""
    truth: str = ""
    subtype: str = ""


class MixUp(msgspec.Struct, frozen=True):
    """A way of thinking that leads to wrong guesses: how to recognise it, what to reply, and a question that tests the cure."""

    id: str
    says: str
    reply: str
    source: Source
    follow_up: FollowUp
    signs: tuple[Sign, ...] = ()
    examples: tuple[MixUpExample, ...] = ()


class WrongReason(msgspec.Struct, frozen=True):
    """A reason that sounds right and is not: why, and the mix-up that shows in it (an id, or empty)."""

    says: str
    why: str
    mix_up: str = ""


class ParticleReason(msgspec.Struct, frozen=True):
    """
    Something seen at the bench that a particle-level reason explains, and wrong reasons that people give.

    It can be asked of every substance whose foremost class is one of `of` (and, where given, of one of `subtypes`, of none of
    `other_than`, among `substances`, not among `except_for`) that always shows one of the values of each of `readings`.
    `asks` names it: {substance}. `needs_name` where the readings alone do not tell which reason is right, so that it is
    never asked of an unknown. `why` says what more there is to the right reason.
    """

    id: str
    of: tuple[str, ...]
    readings: dict[str, tuple[str, ...]]
    asks: str
    right: str
    wrong: tuple[WrongReason, ...]
    source: Source
    why: str
    subtypes: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()
    substances: tuple[str, ...] = ()
    except_for: tuple[str, ...] = ()
    needs_name: bool = False


class PublishedQuestion(msgspec.Struct, frozen=True):
    """A question of an open textbook, in our own words: readings or a name, and the classes that its answer allows."""

    id: str
    asks: str
    classes: tuple[str, ...]
    because: str
    source: Source
    readings: ReadingValues = {}
    substance: str = ""


class SeenReason(msgspec.Struct, frozen=True):
    """Why substances of some classes show a value; `names` limits it to these substances, an empty subtype is that of none."""

    of: tuple[str, ...]
    says: str
    subtypes: tuple[str, ...] = ()
    other_than: tuple[str, ...] = ()
    names: tuple[str, ...] = ()

    def speaks_for(self, class_: str, subtype: str, name: str) -> bool:
        """Whether it is the reason of a substance of this name and kind."""
        return (
            class_ in self.of
            and (not self.subtypes or subtype in self.subtypes)
            and subtype not in self.other_than
            and (not self.names or name in self.names)
        )


class SeenValue(msgspec.Struct, frozen=True, rename={"is_": "is"}):
    """Why substances show a value of a reading, and what it would fit where they do not show it."""

    is_: str
    option: str = ""
    would: str = ""
    beside: tuple[str, ...] = ()
    because: tuple[SeenReason, ...] = ()


class SeenReading(msgspec.Struct, frozen=True, rename={"id": "reading"}):
    """Reasons for the values of a reading; `asks` follows the name of a substance or class, empty where nothing is asked."""

    id: str
    values: tuple[SeenValue, ...]
    source: Source
    asks: str = ""


class QuizKnowledge(msgspec.Struct, frozen=True, dict=True):
    """What the quiz knows, checked against the knowledge base."""

    mix_ups: dict[str, MixUp]
    reasons: dict[str, ParticleReason]
    published: dict[str, PublishedQuestion]
    seen: dict[str, SeenReading]
    checksum: str
