"""Loading `phrases.yaml`: what each reading says of a substance, as part of a sentence."""

from __future__ import annotations

import functools
from pathlib import Path

from spotplate.kb.errors import Fault, FaultyInputError, not_accepted
from spotplate.kb.loading import load_knowledge, value_faults
from spotplate.kb.strict_yaml import compose, read_into

Phrases = dict[str, dict[str, str]]


@functools.cache
def load_phrases() -> Phrases:
    """
    Reading → value → the rest of a sentence that begins with "It".

    Raises
    ------
    FaultyInputError
        If a phrase is of what is no reading or value, or a shipped value has none
    """
    where = "kb/quiz/phrases.yaml"
    node = compose((Path(__file__).parent / "phrases.yaml").read_text(encoding="utf-8"), where)
    assert node is not None
    phrases = read_into(Phrases, node, where)
    knowledge = load_knowledge()
    faults: list[Fault] = []
    for reading, words in phrases.items():
        if reading not in knowledge.readings:
            faults.append(Fault(where, not_accepted(reading, "a reading", tuple(knowledge.readings))))
        else:
            faults += [fault for word in words for fault in value_faults(reading, word, knowledge, where)]
    for kind in knowledge.readings.values():
        faults += [
            Fault(where, f"{kind.id!r} has no phrase for {word!r}.")
            for word in kind.words()
            if word not in phrases.get(kind.id, {})
        ]
    if faults:
        raise FaultyInputError(faults)
    return phrases
