"""What changes between two identifications of one vial: after an answer, and after a reading is taken back."""

from __future__ import annotations

import msgspec

from spotplate.engine.identification import Identification
from spotplate.engine.reasoning import Reason, Verdict


class Moved(msgspec.Struct, frozen=True):
    """A class whose probability [-] changed."""

    class_: str
    before: float
    after: float


class Changes(msgspec.Struct, frozen=True):
    """
    What the later identification says otherwise than the earlier.

    `facts_gone` and `facts_new` are statements about particles; `reasons_gone` and `reasons_new` are reasons, for or
    against the class that leads on the side where they stand. `moved` lists every class, in the order of the later ranking.
    """

    verdict_before: Verdict
    verdict_after: Verdict
    first_before: str
    first_after: str
    moved: tuple[Moved, ...]
    facts_gone: tuple[str, ...]
    facts_new: tuple[str, ...]
    reasons_gone: tuple[Reason, ...]
    reasons_new: tuple[Reason, ...]


def changes(before: Identification, after: Identification) -> Changes:
    """What an answer, or taking one back, has changed."""
    earlier = {item.class_: item.probability for item in before.ranking}
    facts = [{fact.fact: fact.says for fact in result.facts} for result in (before, after)]
    first_before, first_after = before.ranking[0].class_, after.ranking[0].class_
    return Changes(
        verdict_before=before.verdict,
        verdict_after=after.verdict,
        first_before=first_before,
        first_after=first_after,
        moved=tuple(Moved(item.class_, earlier[item.class_], item.probability) for item in after.ranking),
        facts_gone=tuple(says for name, says in facts[0].items() if name not in facts[1]),
        facts_new=tuple(says for name, says in facts[1].items() if name not in facts[0]),
        reasons_gone=_only_in(before, after, first_before),
        reasons_new=_only_in(after, before, first_after),
    )


def _only_in(one: Identification, other: Identification, class_: str) -> tuple[Reason, ...]:
    known = {reason.rule for reason in other.reasons[class_]}
    return tuple(reason for reason in one.reasons[class_] if reason.rule not in known)
