"""How well misread readings are found: one is planted in the expected record of every substance, and looked for."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Sequence

import msgspec

from spotplate.datasets import Substance
from spotplate.engine.expected import expected_readings, expected_records
from spotplate.engine.identification import Colleagues, Identification, identify
from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.record import ReadValue, Record
from spotplate.kb import Interval, KnowledgeBase, ReadingKind

SEED = 40
_OFF = (8.0, 60.0)  # [K] by how much a melting range or boiling point is planted wrong; a density by this many per cent


class Planted(msgspec.Struct, frozen=True):
    """One record with one reading planted wrong, and what came of it; `reading` is None for the clean record."""

    substance: str
    reading: str | None
    verdict: VerdictKind
    wrong: bool
    accused: tuple[str, ...]
    first_suspect: str | None


class TrialScore(msgspec.Struct, frozen=True):
    """
    Counts of records.

    `planted` have one misreading each: in `wrong` the verdict is conclusive and not defensible; in `accused` some reading
    is called misread, in `found` the first suspect is the planted one. `contradictory` and `contradictory_found` count
    the same among contradictory records. Of `clean` records `clean_accused` have a reading called misread.
    """

    planted: int
    wrong: int
    accused: int
    found: int
    contradictory: int
    contradictory_found: int
    clean: int
    clean_accused: int
    clean_wrong: int


def plant_misreadings(
    substances: Sequence[Substance],
    colleagues: Iterable[Colleagues],
    knowledge: KnowledgeBase,
    *,
    seed: int = SEED,
    progress: Callable[[], None] = lambda: None,
) -> Iterator[Planted]:
    """
    Every substance's likeliest full record, clean and with each reading in turn planted wrong.

    `colleagues` gives those to ask for second opinions, one for each substance; `progress` is called after each substance.
    """
    for substance, asked in zip(substances, colleagues, strict=True):
        record = next(expected_records(substance, knowledge))
        honest = expected_readings(substance, knowledge)
        draw = random.Random(f"{seed} {substance.name}")
        yield _judged(substance, None, record, asked, knowledge)
        for reading, value in record.readings.items():
            wrong = misread_value(knowledge.readings[reading], value, honest[reading], draw)
            if wrong is None:
                continue
            planted = msgspec.structs.replace(record, readings={**record.readings, reading: wrong})
            yield _judged(substance, reading, planted, asked, knowledge)
        progress()


def trial_score(planted: Iterable[Planted]) -> TrialScore:
    """The counts of a trial."""
    found = list(planted)
    wrong = [item for item in found if item.reading is not None]
    clean = [item for item in found if item.reading is None]
    contradictory = [item for item in wrong if item.verdict is VerdictKind.CONTRADICTORY]
    return TrialScore(
        planted=len(wrong),
        wrong=sum(item.wrong for item in wrong),
        accused=sum(bool(item.accused) for item in wrong),
        found=sum(item.first_suspect == item.reading for item in wrong),
        contradictory=len(contradictory),
        contradictory_found=sum(item.first_suspect == item.reading for item in contradictory),
        clean=len(clean),
        clean_accused=sum(bool(item.accused) for item in clean),
        clean_wrong=sum(item.wrong for item in clean),
    )


def _judged(
    substance: Substance, reading: str | None, record: Record, colleagues: Colleagues, knowledge: KnowledgeBase
) -> Planted:
    result = identify(record, knowledge, advise=False, colleagues=colleagues)
    conclusive = result.verdict.kind is VerdictKind.CONCLUSIVE
    return Planted(
        substance=substance.name,
        reading=reading,
        verdict=result.verdict.kind,
        wrong=conclusive and result.verdict.class_ not in substance.defensible_classes(),
        accused=_accused(result),
        first_suspect=next((item.reading for item in result.suspects if item.explained_by is None), None),
    )


def _accused(result: Identification) -> tuple[str, ...]:
    """Readings that are called misread, and not explained by a subtype; of a contradictory record the first suspects."""
    return tuple(item.reading for item in result.suspects if item.explained_by is None)


def misread_value(kind: ReadingKind, value: ReadValue, honest: Sequence[ReadValue], draw: random.Random) -> ReadValue | None:
    """A value that is not honest for the substance: another word, or a number that is off; None where every word is honest."""
    if not isinstance(value, Interval):
        words = [word for word in kind.words() if word not in honest]
        return draw.choice(words) if words else None
    off = draw.uniform(*_OFF) * draw.choice((-1, 1))
    if kind.id == "density":
        return Interval(value.low * (1 + off / 100), value.low * (1 + off / 100), value.unit)
    low = value.low - abs(off) if value.excluded else value.low + off  # more than the apparatus reaches: it can only be lower
    return Interval(low, low, value.unit)
