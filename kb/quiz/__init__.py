"""What the quiz knows beyond the knowledge base: mix-ups, particle-level reasons, published questions, readings in words.

Kept apart, since every identification reads the knowledge base and none of them reads this.
"""

from .loading import load_quiz, quiz_faults
from .schema import (
    Answer,
    FollowUp,
    MixUp,
    MixUpExample,
    ParticleReason,
    PublishedQuestion,
    QuizKnowledge,
    SeenReading,
    SeenReason,
    SeenValue,
    Sign,
    WrongReason,
)

__all__ = [
    "Answer",
    "FollowUp",
    "MixUp",
    "MixUpExample",
    "ParticleReason",
    "PublishedQuestion",
    "QuizKnowledge",
    "SeenReading",
    "SeenReason",
    "SeenValue",
    "Sign",
    "WrongReason",
    "load_quiz",
    "quiz_faults",
]
