"""Mix-ups as written: complete replies, follow-ups that test the cure, signs that speak of known things."""

from __future__ import annotations

import re
from collections.abc import Callable

import msgspec
import pytest

from spotplate.engine.quiz.question import Kind
from spotplate.kb import Condition, When, load_knowledge
from spotplate.kb.quiz import MixUp, MixUpExample, QuizKnowledge, Sign, load_quiz, quiz_faults
from spotplate.kb.quiz.loading import CLASS_QUESTIONS, TEST_QUESTIONS
from spotplate.kb.schema import Source

KNOWLEDGE = load_knowledge()
QUIZ = load_quiz()
MIX_UPS = list(QUIZ.mix_ups.values())
each_mix_up = pytest.mark.parametrize("mix_up", MIX_UPS, ids=lambda mix_up: mix_up.id)

# Reasons and options elsewhere point to these, and progress is kept under them.
CITED = """
dissolves-so-ionic solution-conducts-so-ionic like-dissolves-like covalent-bonds-break-on-melting ions-form-on-dissolving
high-boiling-so-strong-covalent-bonds all-metals-melt-high graphite-conducts-so-metal not-tested-means-no shiny-so-metal
insoluble-so-not-ionic ionic-solid-conducts-dry electrons-carry-current-in-solution molecules-in-ionic-crystal
network-is-molecular metals-conduct-by-ions water-breaks-covalent-bonds insoluble-means-nonpolar
hydrogen-bonds-are-inside-molecules stronger-bonds-inside-so-higher-melting chars-means-melts hydrate-melts-so-molecular
acid-is-ionic weak-means-insoluble faint-glow-means-few-dissolved sublimes-so-bonds-break
bubbles-of-boiling-water-are-hydrogen-and-oxygen brittle-so-not-metal melts-low-so-molecular polar-bonds-so-polar-molecule
dissolving-is-melting all-network-solids-insulate all-covalent-network-hard metal-powder-dull-so-not-metal
flame-colour-so-ionic burns-so-molecular density-so-class dispersion-forces-only-in-nonpolar macromolecule-so-network
soap-feels-waxy-so-nonpolar one-test-is-proof same-test-tells-all
"""


def sentences(text: str) -> list[str]:
    return [part for part in re.split(r"(?<=[.!?])\s+", text) if part]


def every_text(mix_up: MixUp) -> list[str]:
    answers = mix_up.follow_up.answers
    return [mix_up.says, mix_up.reply, mix_up.follow_up.asks, *(text for a in answers for text in (a.says, a.why))]


def test_no_cited_mix_up_has_gone() -> None:
    assert set(CITED.split()) <= set(QUIZ.mix_ups)


def test_every_rule_of_thumb_is_the_thought_of_some_mix_up_or_named_here() -> None:
    used = {sign.thumb for mix_up in MIX_UPS for sign in mix_up.signs}
    assert set(KNOWLEDGE.rules_of_thumb) - used == set()


@each_mix_up
def test_the_thought_is_one_whole_sentence(mix_up: MixUp) -> None:
    assert len(sentences(mix_up.says)) == 1
    assert mix_up.says.endswith(".")
    assert mix_up.says[0].isupper()


@each_mix_up
def test_the_reply_has_two_or_three_whole_sentences(mix_up: MixUp) -> None:
    said = sentences(mix_up.reply)
    assert 2 <= len(said) <= 3
    assert all(sentence[0].isupper() and sentence.endswith(".") for sentence in said)


@each_mix_up
def test_the_reply_speaks_of_particles(mix_up: MixUp) -> None:
    assert re.search(r"\b(ions?|molecules?|electrons?|atoms?|particles)\b", mix_up.reply)


@each_mix_up
def test_texts_read_well(mix_up: MixUp) -> None:
    for text in every_text(mix_up):
        assert "None" not in text
        assert "  " not in text
        assert "like dissolves like" not in text or (mix_up.id == "like-dissolves-like" and text == mix_up.says)
        assert not re.search(r"\ba (?:a|e|i|o)[a-z]", text), text
        assert not re.search(r"\ban (?:[bcdfgjklmnpqrstvwxyz]|one\b|uni)", text), text
        assert not re.search(r"\b(\w+) \1\b", text), text
        assert text.count("(") == text.count(")")


@each_mix_up
def test_the_follow_up_asks_and_has_one_right_answer(mix_up: MixUp) -> None:
    asked = mix_up.follow_up
    assert asked.asks.endswith("?")
    assert 3 <= len(asked.answers) <= 4
    assert [answer.right for answer in asked.answers].count(True) == 1


@each_mix_up
def test_each_answer_of_a_follow_up_is_its_own_and_says_why(mix_up: MixUp) -> None:
    answers = mix_up.follow_up.answers
    assert len({answer.says.casefold() for answer in answers}) == len(answers)
    assert len({answer.why.casefold() for answer in answers}) == len(answers)
    for answer in answers:
        assert answer.says.endswith(".")
        assert 1 <= len(sentences(answer.why)) <= 2
        assert answer.why.endswith(".")
        assert answer.why != answer.says


@each_mix_up
def test_the_right_answer_does_not_stand_out_by_its_length(mix_up: MixUp) -> None:
    """Who always takes the longest answer must not pass; a cheap check for one far longer than every other."""
    answers = mix_up.follow_up.answers
    longest_wrong = max(len(answer.says) for answer in answers if not answer.right)
    right = next(len(answer.says) for answer in answers if answer.right)
    assert right <= 2.6 * longest_wrong


def test_no_two_follow_ups_ask_the_same_and_no_two_replies_are_alike() -> None:
    assert len({mix_up.follow_up.asks for mix_up in MIX_UPS}) == len(MIX_UPS)
    assert len({mix_up.reply for mix_up in MIX_UPS}) == len(MIX_UPS)
    assert len({mix_up.says for mix_up in MIX_UPS}) == len(MIX_UPS)


@each_mix_up
def test_the_source_resolves_and_a_book_is_cited_with_its_place(mix_up: MixUp) -> None:
    assert mix_up.source.key in KNOWLEDGE.sources
    assert mix_up.source.key == "common practice" or re.match(r"section \d+\.\d", mix_up.source.where)


def test_right_answers_stand_first_in_the_file_so_that_none_is_marked_by_mistake() -> None:
    assert all(mix_up.follow_up.answers[0].right for mix_up in MIX_UPS)


def test_most_mix_ups_can_be_recognised_and_the_thirty_asked_for_are_exceeded() -> None:
    assert sum(bool(mix_up.signs) for mix_up in MIX_UPS) >= 36


def test_signs_speak_of_kinds_of_question_that_there_are() -> None:
    kinds = {kind.value for kind in Kind}
    assert {*CLASS_QUESTIONS, *TEST_QUESTIONS, "misread", "predict"} <= kinds


# --- what the loader refuses ------------------------------------------------------------------------

SHINY = QUIZ.mix_ups["shiny-so-metal"]


def with_sign(**fields: object) -> MixUp:
    return msgspec.structs.replace(SHINY, signs=(Sign(**fields),))  # type: ignore[arg-type]


def with_example(**fields: object) -> MixUp:
    return msgspec.structs.replace(SHINY, examples=(MixUpExample(**fields),))  # type: ignore[arg-type]


def two_right(mix_up: MixUp) -> MixUp:
    answers = tuple(msgspec.structs.replace(answer, right=True) for answer in mix_up.follow_up.answers)
    return msgspec.structs.replace(mix_up, follow_up=msgspec.structs.replace(mix_up.follow_up, answers=answers))


@pytest.mark.parametrize(
    ("faulty", "says"),
    [
        (lambda: with_sign(questions=("classify",), guess=("metalic",)), "did you mean 'metallic'"),
        (lambda: with_sign(questions=("next test",), guess=("lustre",)), "'lustre' is not a bench test"),
        (lambda: with_sign(questions=("misread",), guess=("look",)), "'look' is not a reading"),
        (
            lambda: with_sign(questions=("predict",), asked=("lustre",), guess=("malleable",)),
            "'malleable' is not a value of lustre",
        ),
        (lambda: with_sign(questions=("predict",), guess=()), "predict needs it"),
        (lambda: with_sign(questions=("classify",), asked=("lustre",)), "asked belongs to predict"),
        (lambda: with_sign(questions=("predict",), asked=("lustre",), right=("bright",)), "'bright' is not a value of lustre"),
        (lambda: with_sign(questions=("misread",), right=("dull",)), "right belongs to asked"),
        (lambda: with_sign(questions=("explain",)), "'explain' is not a kind of question"),
        (lambda: with_sign(questions=()), "name the kinds of question"),
        (lambda: with_sign(questions=("misread",), thumb="shiny-so-metal"), "jumps to a class"),
        (lambda: with_sign(questions=("classify",), thumb="shiny-so-mettle"), "did you mean 'shiny-so-metal'"),
        (lambda: with_sign(questions=("classify",), truth=("ionik",)), "did you mean 'ionic'"),
        (lambda: with_sign(questions=("classify",), other_than=("halogens",)), "did you mean 'halogen'"),
        (lambda: with_sign(questions=("classify",), not_made=("luster",)), "did you mean 'lustre'"),
        (
            lambda: with_sign(
                questions=("classify",), not_made=("lustre",), when=When(all=(Condition(reading="lustre", is_=("dull",)),))
            ),
            "cannot both be shown and not be made",
        ),
        (
            lambda: with_sign(questions=("classify",), when=When(all=(Condition(fact="mobile electrons"),))),
            "goes by readings alone",
        ),
        (lambda: with_example(question="classify", guess="dull"), "'dull' is not a class"),
        (lambda: with_example(question="classify", guess="metallic", readings={"lustre": "bright"}), "'bright' is not a value"),
        (lambda: with_example(question="classify", guess="metallic", truth="nonpolar"), "did you mean 'nonpolar molecular'"),
        (lambda: with_example(question="classify", guess="metallic", subtype="halogens"), "did you mean 'halogen'"),
        (lambda: msgspec.structs.replace(SHINY, examples=()), "signs need examples"),
        (lambda: msgspec.structs.replace(SHINY, source=Source("hearsay")), "'hearsay' is not a source"),
        (lambda: two_right(SHINY), "exactly one answer must be right"),
    ],
)
def test_the_loader_refuses_what_it_does_not_know(faulty: Callable[[], MixUp], says: str) -> None:
    mix_up = faulty()
    quiz = QuizKnowledge({mix_up.id: mix_up}, {}, {}, {}, "")
    assert any(says in str(fault) for fault in quiz_faults(quiz, KNOWLEDGE))


def test_the_shipped_mix_ups_are_without_fault() -> None:
    assert list(quiz_faults(QUIZ, KNOWLEDGE)) == []
