"""Marking a guess: what it is worth, and the reply to it."""

from __future__ import annotations

import msgspec

from spotplate.engine.identification import Identification
from spotplate.engine.reasoning import Reason, cited
from spotplate.kb.quiz import MixUp

from .asking.classify import UNDECIDED
from .material import Material
from .mix_ups import follow_up_may_be_asked, may_be_told, recognise
from .practice import follow_up_item
from .question import OF_CLASSES, Kind, Marked, Option, Outcome, Question, Reply, ShownMixUp
from .reply import case_of, decisive_test, kept_secret, parting_reasons, reply_to_class, special, what_is_asked_of, with_readings
from .wording import capitalised, listed, substance_of, with_article

_MOST_REASONS = 2


def mark(question: Question, place: int, material: Material) -> Marked:
    """
    Mark the choice of the option at `place`, counted from 0.

    Raises
    ------
    IndexError
        If the question has no such option
    """
    chosen = question.options[place]
    outcome = _outcome(question, chosen)
    if question.kind in OF_CLASSES:
        reply = _reply_to_class(question, chosen, outcome, material)
    else:
        reply = _reply_to_option(question, chosen, outcome)
    mix_up = recognise(question, chosen, material.quiz, material.knowledge) if outcome is Outcome.WRONG else None
    if mix_up and may_be_told(mix_up, material):
        reply = msgspec.structs.replace(reply, mix_up=shown_mix_up(mix_up, material))
    right = tuple(option.says for option in question.options if option.right)
    return Marked(outcome, chosen.says, right, kept_secret(reply, material))


def _outcome(question: Question, chosen: Option) -> Outcome:
    if question.kind in OF_CLASSES and chosen.means in question.truth:
        if not chosen.right:
            return Outcome.UNSUPPORTED
        # A textbook that does not part the molecular classes accepts either.
        return Outcome.RIGHT if chosen.means == question.truth[0] or question.kind is Kind.PUBLISHED else Outcome.DEFENSIBLE
    return Outcome.RIGHT if chosen.right else Outcome.WRONG


def shown_mix_up(mix_up: MixUp, material: Material) -> ShownMixUp:
    """A mix-up as a reply tells of it; without a follow-up question where that would name what is to be kept secret."""
    source = cited(mix_up.source, material.knowledge)
    follow_up = follow_up_item(mix_up.id).key if follow_up_may_be_asked(mix_up, material) else ""
    return ShownMixUp(mix_up.id, mix_up.says, " ".join(mix_up.reply.split()), source, follow_up)


# --- questions whose options say themselves why they are right or wrong ---------------------------------


def _reply_to_option(question: Question, chosen: Option, outcome: Outcome) -> Reply:
    opening = f"{'Right' if outcome is Outcome.RIGHT else 'No'}. {chosen.why}".strip()
    right = tuple(option for option in question.options if option.right)
    contrast = ""
    if outcome is Outcome.WRONG:
        contrast = " ".join(dict.fromkeys(option.why for option in right if option.why and option.why != question.because))
    told = question.because in (chosen.why, contrast)
    cured = question.kind is Kind.MIX_UP and outcome is Outcome.RIGHT  # who has just read the reply need not read it again
    particles = "" if told or cured else question.because
    return Reply(opening, particles=particles, contrast=contrast, decisive=question.decisive, sources=question.sources)


# --- questions that ask for a class ------------------------------------------------------------------


def _reply_to_class(question: Question, chosen: Option, outcome: Outcome, material: Material) -> Reply:
    if chosen.means == UNDECIDED:
        return _readings_decide(question, material) if outcome is Outcome.WRONG else _left_open(question, material)
    if outcome is Outcome.WRONG and not (question.readings or question.substance):
        # A textbook asks of a substance that the reference table does not have.
        says = f"No. It is {substance_of(listed(question.truth, 'or'))}, not {with_article(chosen.means)} one."
        return Reply(says, particles=question.because, sources=question.sources)
    if outcome is Outcome.WRONG:
        return reply_to_class(question, chosen.means, material)
    if outcome is Outcome.UNSUPPORTED:
        return _unsupported(question, chosen.means, material)
    return _borne_out(question, chosen.means, outcome, material)


def _borne_out(question: Question, guess: str, outcome: Outcome, material: Material) -> Reply:
    """A right class: why; for one that is defended beside another, both."""
    what = what_is_asked_of(question, material)
    if outcome is Outcome.DEFENSIBLE:
        other = listed(tuple(name for name in question.truth if name != guess), "or")
        opening = f"Accepted. {capitalised(what)} is mostly put down as {other}, but {guess} can be defended."
        if question.readings and case_of(question, guess, material).truth != guess:
            opening += f" The readings shown fit {other} better."
    elif question.kind is Kind.PUBLISHED and len(question.truth) > 1:
        # What the book's wide answer allows need not be true of the substance: it calls oxygen molecular, and no more.
        opening = f"Right. What the book teaches allows {listed(question.truth, 'or')}."
        if not question.readings and guess != question.truth[0]:
            opening = (
                f"Accepted, since the book does not part molecular substances. More exactly, it counts as {question.truth[0]}."
            )
    else:
        also = [name for name in question.truth if name != guess]
        opening = f"Right. {capitalised(what)} is {substance_of(guess)}."
        if also:
            opening += f" {capitalised(listed(also, 'or'))} would be accepted, too."
    return Reply(
        opening,
        particles=question.because or special(question, material),
        contrast=_reasons_for(question, guess, material),
        sources=question.sources,
    )


def _reasons_for(question: Question, class_: str, material: Material) -> str:
    """The strongest reasons for a class that the readings shown give, with these readings."""
    if not question.readings:
        return ""
    case = case_of(question, class_, material)
    return " ".join(with_readings(item, case) for item in _strongest(case.found, class_))


def _strongest(found: Identification, class_: str) -> list[Reason]:
    return [item for item in found.reasons[class_] if item.counted and item.decibans > 0][:_MOST_REASONS]


def _unsupported(question: Question, guess: str, material: Material) -> Reply:
    """The right class where the readings do not suffice for it."""
    left_open = _left_open(question, material)
    reasons = " ".join(case_of(question, guess, material).found.verdict.reasons)
    opening = (
        f"Right, but not supported. {capitalised(what_is_asked_of(question, material))} is indeed {substance_of(guess)}, "
        f"yet these readings do not suffice to say so. {reasons}"
    )
    return msgspec.structs.replace(left_open, opening=opening)


def _left_open(question: Question, material: Material) -> Reply:
    """Readings that do not decide: what they leave open, what it is, and the test that would settle it."""
    found = case_of(question, question.truth[0], material).found
    reasons = " ".join(found.verdict.reasons)
    what = what_is_asked_of(question, material)
    rival = next(name for name in found.verdict.open_between if name not in question.truth)
    return Reply(
        opening=f"Right. {reasons} {capitalised(what)} is {substance_of(question.truth[0])}, which takes a further test to tell.",
        particles=question.because or special(question, material),
        decisive=decisive_test(case_of(question, rival, material), question, material),
    )


def _readings_decide(question: Question, material: Material) -> Reply:
    """Readings that decide, though the learner thought they do not: what speaks for the class, and against the runner-up."""
    ranking = case_of(question, question.truth[0], material).found.ranking
    class_, runner_up = ranking[0].class_, ranking[1].class_
    case = case_of(question, runner_up, material)
    own = _strongest(case.found, class_)
    parting = parting_reasons(case, [item.because for item in own], material) if len(own) < _MOST_REASONS else ""
    return Reply(
        opening=f"No. They do decide: different kinds of evidence point to {substance_of(class_)}.",
        contrast=" ".join(filter(None, (*(with_readings(item, case) for item in own), parting))),
        particles=question.because or special(question, material),
        sources=tuple(dict.fromkeys(item.source for item in own)),
    )
