"""Which mix-up a wrong guess shows, and whether it may be told."""

from __future__ import annotations

from collections.abc import Iterator

from spotplate.engine.reasoning import readings_that_meet
from spotplate.engine.record import Record, make_record
from spotplate.kb import KnowledgeBase
from spotplate.kb.quiz import MixUp, QuizKnowledge, Sign

from .material import Material, Secrecy
from .question import OF_CLASSES, Kind, Option, Question
from .wording import may_be_said


def recognise(question: Question, chosen: Option, quiz: QuizKnowledge, knowledge: KnowledgeBase) -> MixUp | None:
    """
    The mix-up that a wrong guess most likely shows, or None where no sign holds, and always for a right guess.

    One that the option itself names goes first, then the one whose sign asks for most; among equals the first of the file.
    """
    if chosen.right:
        return None
    if chosen.mix_up:
        return quiz.mix_ups.get(chosen.mix_up)
    found = [(_conditions(sign), mix_up) for mix_up, sign in _holding(question, chosen.means, quiz, knowledge)]
    return max(found, key=lambda pair: pair[0])[1] if found else None


def may_be_told(mix_up: MixUp, material: Material) -> bool:
    """
    Whether naming a mix-up gives nothing away that the material keeps secret.

    Most are recognised by what the substance is; of a set that is assessed, none of these is told.
    """
    if material.secrecy is Secrecy.NOTHING and any(_goes_by_the_substance(sign) for sign in mix_up.signs):
        return False
    return may_be_said(f"{mix_up.says} {mix_up.reply}", material)


def follow_up_may_be_asked(mix_up: MixUp, material: Material) -> bool:
    """Whether the question that tests the cure, and the reply to it, give nothing away that the material keeps secret."""
    answers = (text for answer in mix_up.follow_up.answers for text in (answer.says, answer.why))
    return may_be_told(mix_up, material) and may_be_said(" ".join((mix_up.follow_up.asks, *answers)), material)


def _goes_by_the_substance(sign: Sign) -> bool:
    return bool(sign.truth or sign.subtypes or sign.other_than or sign.right)


def _holding(question: Question, guess: str, quiz: QuizKnowledge, knowledge: KnowledgeBase) -> Iterator[tuple[MixUp, Sign]]:
    # Elsewhere a guess may read like a class and be none: a metallic lustre.
    if question.kind in OF_CLASSES and guess in question.truth:
        return
    record = make_record(question.readings, knowledge)
    if question.kind is Kind.NEXT_TEST and any(kind.id in record.readings for kind in knowledge.tests[guess].readings):
        return  # who asks for a test that was made has overlooked it, and expects nothing wrong of it
    for mix_up in quiz.mix_ups.values():
        for sign in mix_up.signs:
            if _fits_question(sign, question) and _fits_guess(sign, guess, knowledge) and _shown(sign, record, knowledge):
                yield mix_up, sign


def _fits_question(sign: Sign, question: Question) -> bool:
    """Whether the kind of question, what it asks of, and what the substance really is are those of the sign."""
    return (
        question.kind in sign.questions
        and (not sign.asked or question.asked in sign.asked)
        and (not sign.right or any(option.right and option.means in sign.right for option in question.options))
        # The foremost class: of a borderline substance, what the reply says of the second one may be beside the point.
        and (not sign.truth or question.truth[:1] in [(class_,) for class_ in sign.truth])
        and (not sign.subtypes or question.subtype in sign.subtypes)
        and question.subtype not in sign.other_than
    )


def _fits_guess(sign: Sign, guess: str, knowledge: KnowledgeBase) -> bool:
    jumps_to = knowledge.rules_of_thumb[sign.thumb].jumps_to if sign.thumb else ()
    return (not sign.guess or guess in sign.guess) and (not sign.thumb or guess in jumps_to)


def _shown(sign: Sign, record: Record, knowledge: KnowledgeBase) -> bool:
    """Whether the readings meet the conditions of the sign, those of its rule of thumb included."""
    if any(reading in record.readings or reading in record.unclear for reading in sign.not_made):
        return False
    whens = [sign.when, *([knowledge.rules_of_thumb[sign.thumb].when] if sign.thumb else [])]
    return all(readings_that_meet(when, record.readings, knowledge) is not None for when in whens)


def _conditions(sign: Sign) -> int:
    """How many conditions a sign has [-]; a rule of thumb is one thought, so one condition, and so is a list of values."""
    over_readings = len(sign.when.all) + bool(sign.when.any) + len(sign.when.none)
    others = (sign.guess, sign.thumb, sign.not_made, sign.asked, sign.right)
    of_the_substance = (sign.truth, sign.subtypes, sign.other_than)
    return over_readings + sum(bool(part) for part in (*others, *of_the_substance))
