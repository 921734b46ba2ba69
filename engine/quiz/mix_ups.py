"""Which mix-up a wrong guess shows."""

from __future__ import annotations

from spotplate.kb import KnowledgeBase
from spotplate.kb.quiz import MixUp, QuizKnowledge

from .question import Option, Question


def recognise(question: Question, chosen: Option, quiz: QuizKnowledge, knowledge: KnowledgeBase) -> MixUp | None:
    """The mix-up that a wrong guess most likely shows, the one whose sign says most; None where no sign holds."""
    return quiz.mix_ups.get(chosen.mix_up)
