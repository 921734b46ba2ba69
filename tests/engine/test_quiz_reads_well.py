"""Replies read aloud: whole sentences, nothing said twice, nothing empty, in every kind of question and from every source."""

from __future__ import annotations

import itertools
import random
import re
from collections import Counter
from collections.abc import Iterator

import pytest

from spotplate.engine import load_knowledge
from spotplate.engine.quiz.asking import asking
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Secrecy, set_material, table_material
from spotplate.engine.quiz.question import OF_CLASSES, Kind, Marked, Outcome, Question
from spotplate.engine.sets import UnknownsSet, Vial

VIALS = ("sucrose", "graphite", "marble", "paraffin wax", "citric acid monohydrate", "copper", "sand", "sodium chloride")
A_SET = UnknownsSet("an evening class", tuple(map(Vial, "ABCDEFGH", VIALS)), tuple(load_knowledge().tests))
SOURCES = {
    "the table": table_material(),
    "a set": set_material(A_SET),
    "an assessed set": set_material(A_SET, assessment=True),
}
REPLIES = {"the table": 50, "a set": 15, "an assessed set": 15}  # of each kind, at least
NOT_ASKED_OF_A_SET = {Kind.NAMED, Kind.EXCEPTION, Kind.PUBLISHED}

SOUNDS_LIKE_A_CONSONANT = r"(?:one|uni|use|usu|eu)"
WRONG_ARTICLE = re.compile(
    rf"\ba (?!{SOUNDS_LIKE_A_CONSONANT})[aeiou]|\ban (?:[^aeiouhAEIOUHMNSFLRX8\W]|{SOUNDS_LIKE_A_CONSONANT})"
)
DOUBLED_SIGNS = re.compile(r"  |[.,;:] ?[.,;:](?!\.)|\( | \)|\(\)|“”|\s[,.;:!?](?!\d)")
DOUBLED_WORD = re.compile(r"\b(\w+) \1\b", re.IGNORECASE)
SENTENCE_END = re.compile(r"(?<=[a-z0-9)”%][.?!]) (?=[A-Z“])")


def replies(source: str, kind: Kind) -> Iterator[tuple[Question, Marked]]:
    """Every guess at questions drawn by a fixed seed, item by item."""
    material = SOURCES[source]
    chance = random.Random(f"{source} {kind}")
    items = list(asking(kind).items(material))
    chance.shuffle(items)
    told = 0
    for item in itertools.chain.from_iterable(itertools.repeat(items, 8)):
        question = asking(kind).pose(item, chance.randrange(0x10000), material)
        for place in range(len(question.options)) if question else ():
            told += 1
            yield question, mark(question, place, material)
        if told >= REPLIES[source]:
            return


DRAWN: dict[tuple[str, Kind], tuple[tuple[Question, Marked], ...]] = {}


def drawn(source: str, kind: Kind) -> tuple[tuple[Question, Marked], ...]:
    if (source, kind) not in DRAWN:
        DRAWN[source, kind] = tuple(replies(source, kind))
    return DRAWN[source, kind]


def paragraphs(marked: Marked) -> dict[str, str]:
    """Part of a reply → its text, as far as it is made of sentences; what is empty is not shown."""
    reply = marked.reply
    parts = {
        "opening": reply.opening,
        "particles": reply.particles,
        "contrast": reply.contrast,
        "decisive": reply.decisive,
        "mix-up": reply.mix_up.reply if reply.mix_up else "",
        **{f"against {item.reading}": item.because for item in reply.against},
    }
    return {name: text for name, text in parts.items() if text}


def everything(question: Question, marked: Marked) -> list[str]:
    reply = marked.reply
    of_lists = [text for item in reply.against for text in (item.reading, item.seen, item.would_show) if text]
    mix_up = [reply.mix_up.says, reply.mix_up.source] if reply.mix_up else []
    return [
        question.says,
        *(option.says for option in question.options),
        *paragraphs(marked).values(),
        *of_lists,
        *reply.expected,
        *mix_up,
    ]


CASES = [(source, kind) for source in SOURCES for kind in Kind if source == "the table" or kind not in NOT_ASKED_OF_A_SET]


@pytest.mark.parametrize("kind", list(Kind))
def test_enough_replies_are_read(kind: Kind) -> None:
    assert len(drawn("the table", kind)) >= 50
    assert {marked.outcome for _, marked in drawn("the table", kind)} >= {Outcome.RIGHT, Outcome.WRONG}


@pytest.mark.parametrize(("source", "kind"), CASES)
def test_every_paragraph_is_made_of_whole_sentences(source: str, kind: Kind) -> None:
    for question, marked in drawn(source, kind):
        assert marked.reply.opening, question.item.key
        for name, text in paragraphs(marked).items():
            first = text.lstrip("“(")
            assert first[0].isupper() or first[0].isdigit() or name == "decisive", (question.item.key, name, text)
            assert text.rstrip("”)")[-1] in ".?!", (question.item.key, name, text)


@pytest.mark.parametrize(("source", "kind"), CASES)
def test_no_sentence_is_said_twice_in_a_reply(source: str, kind: Kind) -> None:
    """Nor is what was just chosen, or is right, repeated as if it were a reason."""
    for question, marked in drawn(source, kind):
        said = [sentence for text in paragraphs(marked).values() for sentence in SENTENCE_END.split(text)]
        # How a test is repeated, and what stands in brackets behind a reason, may come again; a sentence may not.
        said = [re.sub(r" \([^()]*\)\.$", ".", sentence) for sentence in said]
        twice = [sentence for sentence, times in Counter(said).items() if times > 1 and not sentence.startswith("This rests on")]
        assert not twice, (question.item.key, twice)
        readings = [item.reading for item in marked.reply.against]
        assert len(set(readings)) == len(readings), question.item.key
        assert not set(readings) & {says.partition(": ")[0] for says in marked.reply.expected}, question.item.key
        assert len(set(marked.reply.sources)) == len(marked.reply.sources), question.item.key


@pytest.mark.parametrize(("source", "kind"), CASES)
def test_words_articles_quotes_and_signs_are_right(source: str, kind: Kind) -> None:
    for question, marked in drawn(source, kind):
        for text in everything(question, marked):
            assert text.strip() == text != "", (question.item.key, text)
            assert not re.search(r"\bNone\b|\bnan\b|[{}\[\]<]|_", re.sub(r"\w*\[[^\]]*\]\w*", "", text)), (
                question.item.key,
                text,
            )
            assert not WRONG_ARTICLE.search(text), (question.item.key, text)
            assert not DOUBLED_SIGNS.search(text), (question.item.key, text)
            doubled = DOUBLED_WORD.search(text)
            assert not doubled or doubled[1] == "that", (question.item.key, text)
            assert text.count("“") == text.count("”"), (question.item.key, text)
            assert text.count("(") == text.count(")"), (question.item.key, text)


@pytest.mark.parametrize("source", list(SOURCES))
def test_what_a_guess_would_have_shown_is_not_what_was_seen(source: str) -> None:
    for kind in set(OF_CLASSES) - (set() if source == "the table" else NOT_ASKED_OF_A_SET):
        for question, marked in drawn(source, kind):
            for item in marked.reply.against:
                assert f"“{item.seen}”" not in item.would_show, (question.item.key, item)
                # Both sides of a band at once would say no more than that it is another number.
                assert " less or " not in item.would_show, (question.item.key, item)
                assert not re.search(r"less than .* or more|less than .* or (?!less)\d", item.would_show), (
                    question.item.key,
                    item,
                )


def test_reasons_that_name_another_reading_say_so_in_a_whole_sentence() -> None:
    for question, marked in drawn("the table", Kind.CLASSIFY):
        for item in marked.reply.against:
            beside = re.search(r"This rests on (.+), too\.$", item.because)
            for reading, value in re.findall(r"“(.+?): (.+?)”", beside[1]) if beside else ():
                assert question.readings[reading] == value
                assert reading != item.reading


@pytest.mark.parametrize("kind", [kind for kind in Kind if kind not in NOT_ASKED_OF_A_SET])
def test_an_assessed_set_keeps_silent_where_a_class_is_guessed(kind: Kind) -> None:
    assert SOURCES["an assessed set"].secrecy is Secrecy.NOTHING
    for question, marked in drawn("an assessed set", kind):
        if kind in OF_CLASSES:
            assert marked.right == (), question.item.key
            assert set(paragraphs(marked)) == {"opening"}, question.item.key
