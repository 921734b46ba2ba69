"""The follow-up question of a mix-up: does it come up again on a new case?"""

from __future__ import annotations

import random

from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.material import Material
from spotplate.engine.quiz.mix_ups import follow_up_may_be_asked
from spotplate.engine.quiz.practice import follow_up_item
from spotplate.engine.quiz.question import Item, Option, Question
from spotplate.engine.reasoning import cited


def items(material: Material) -> tuple[Item, ...]:
    """One item for each mix-up of the knowledge base; of a set, only where question and reply name nothing secret."""
    return tuple(
        follow_up_item(name) for name, mix_up in material.quiz.mix_ups.items() if follow_up_may_be_asked(mix_up, material)
    )


def pose(item: Item, draw: int, material: Material) -> Question | None:
    """The follow-up question as it is written, with its answers in another order each time."""
    mix_up = material.quiz.mix_ups[item.topic]
    options = [Option(answer.says, "", answer.right, answer.why) for answer in mix_up.follow_up.answers]
    random.Random(f"{item.key} {draw}").shuffle(options)
    return Question(
        item=item,
        draw=draw,
        says=mix_up.follow_up.asks,
        readings={},
        options=tuple(options),
        difficulty=difficulty({"every wrong answer sounds plausible": 0.5}),
        because=mix_up.reply,
        sources=(cited(mix_up.source, material.knowledge),),
    )
