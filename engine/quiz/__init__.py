"""Self-quiz: questions made from the reference table and the rules, replies to guesses, certainty, and spaced practice."""

from .marking import mark
from .material import Material, Secrecy, set_material, table_material
from .question import Kind, Level, Marked, Outcome, Question, Reply
from .quiz import Quiz, Wanted, make_quiz, question_of, token

__all__ = [
    "Kind",
    "Level",
    "Marked",
    "Material",
    "Outcome",
    "Question",
    "Quiz",
    "Reply",
    "Secrecy",
    "Wanted",
    "make_quiz",
    "mark",
    "question_of",
    "set_material",
    "table_material",
    "token",
]
