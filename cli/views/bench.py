"""Screens of a bench session: cautions, tests, questions, what an answer moved, and the rack."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from spotplate.engine import Identification, Record, VerdictKind
from spotplate.engine.bench import NextTest
from spotplate.engine.bench.changes import Changes
from spotplate.engine.bench.session import Question, Standing
from spotplate.engine.reasoning import Verdict
from spotplate.kb import BenchTest, KnowledgeBase

from .identification import why
from .page import Bar, Block, Heading, Item, Paragraph, Table
from .words import UNPREPARED, WHO_DECIDES, count, listed, percent

_MOST_FACTS = 3
_EVEN = 0.01  # [-] probabilities that differ by less are told as equal


def cautions_page(knowledge: KnowledgeBase) -> list[Block]:
    """Before the first test."""
    return [
        Heading("Before the first test", "caution"),
        *(Item("-", caution.says, indent=2) for caution in knowledge.cautions.values() if caution.always),
        Item("-", WHO_DECIDES, indent=2),
    ]


def not_a_case_page() -> list[Block]:
    return [
        Heading("This is not a case for spotplate", "bad"),
        Paragraph(UNPREPARED),
        Paragraph(
            "Leave the vessel closed, do not smell it or try any test on it, put it where nobody can knock it over, and tell the "
            "teacher or whoever is responsible for the chemicals."
        ),
    ]


def vial_page(label: str, record: Record, result: Identification | None) -> list[Block]:
    """Where a vial stands; without a result, as in an assessment, only what was read."""
    made = count(len(record.readings), "reading")
    unclear = f", {len(record.unclear)} unclear" if record.unclear else ""
    page: list[Block] = [Heading(f"Vial {label}: {made}{unclear}")]
    if result and record.readings:
        page.append(Paragraph(f"So far {_leading(result)}."))
    return page


def proposal_page(proposals: Sequence[NextTest], knowledge: KnowledgeBase) -> list[Block]:
    """The test worth doing next, why, and those that come after it."""
    first, *others = proposals
    page: list[Block] = [Heading(f"Next: {first.test}"), Paragraph(why(first, knowledge))]
    if others:
        page.append(Paragraph(f"After that: {listed([item.test for item in others], 'or')}.", "quiet"))
    return page


def test_page(test: BenchTest, knowledge: KnowledgeBase) -> list[Block]:
    """How a test is done, and its cautions."""
    page: list[Block] = [
        Heading(test.does),
        Paragraph(f"You need: {listed(test.apparatus)}."),
        Paragraph(test.procedure),
        Heading("Cautions", "caution"),
        *(Item("-", knowledge.cautions[key].says, indent=2) for key in test.cautions),
    ]
    if test.teacher:
        page.append(Item("-", "Only with the responsible teacher's agreement.", "caution", 2))
    return page


def question_page(question: Question) -> list[Block]:
    """What to look for, with every answer and what it looks like."""
    kind = question.reading
    page: list[Block] = [Heading(f"{kind.id}: {kind.asks}")]
    page += [Item(f"{at}", f"{value.is_}: {value.looks}", indent=2) for at, value in enumerate(kind.values, 1)]
    if kind.number:
        unit = kind.number.unit
        told = (
            f"A number or a range with its unit, {kind.number.least:g} to {kind.number.most:g} {unit}; {unit} when none is given."
        )
        beyond = " “> 300” for more than the apparatus reaches." if unit == "°C" else ""
        page.append(Paragraph(told + beyond, indent=2))
    page.append(Paragraph("Or: unclear (?), not tested (-), back, help.", "quiet", 2))
    return page


def moved_page(told: Changes) -> list[Block]:
    """How an answer moved the ranking, and what it tells of the particles."""
    changed = [item for item in told.moved if percent(item.before) != percent(item.after)]
    page: list[Block] = []
    if changed:
        told_of = [f"{item.class_} {percent(item.before)} → {percent(item.after)}" for item in changed]
        page.append(Paragraph(f"{'; '.join(told_of)}."))
    else:
        page.append(Paragraph("The ranking stays as it was."))
    if told.facts_new:
        page.append(Paragraph("That fits this:", "quiet"))
    for says in told.facts_new[:_MOST_FACTS]:
        page.append(Item("+", says, indent=2))
    return page


def taken_back_page(reading: str, value: str, told: Changes) -> list[Block]:
    """Which conclusions fell with a reading that was taken back, and what stands without it."""
    page: list[Block] = [Heading(f"Taken back: “{reading}: {value}”")]
    gone = [Item("-", says, indent=2) for says in told.facts_gone]
    reasons = [
        Item("-", f"{'for' if reason.decibans > 0 else 'against'} {told.first_before}: {reason.because}", indent=2)
        for reason in told.reasons_gone
    ]
    if gone:
        page += [Paragraph("No longer follows about the particles:"), *gone]
    if reasons:
        page += [Paragraph("These reasons fall with it:"), *reasons]
    if told.facts_new or told.reasons_new:
        page.append(Paragraph("These hold now, without it:"))
        page += [Item("+", says, indent=2) for says in told.facts_new]
        page += [
            Item("+", f"{'for' if reason.decibans > 0 else 'against'} {told.first_after}: {reason.because}", indent=2)
            for reason in told.reasons_new
        ]
    if len(page) == 1:
        page.append(Paragraph("No conclusion rested on it."))
    page += moved_page(told)[:1]
    if (told.verdict_before.kind, told.verdict_before.class_) != (told.verdict_after.kind, told.verdict_after.class_):
        page += _verdict_line(told.verdict_after)
    return page


def standing_verdict_page(result: Identification) -> list[Block]:
    """The verdict when nothing further is proposed."""
    page = _verdict_line(result.verdict)
    page += [Paragraph(reason) for reason in result.verdict.reasons]
    return page


def doubts_page(result: Identification) -> list[Block]:
    """Readings that are worth repeating."""
    page: list[Block] = []
    for item in result.suspects:
        if item.explained_by is None:
            told = f"{item.reading}: {result.record.readings[item.reading]}"
            doubt = f"probability of a misreading {percent(item.probability)}"
            page.append(Paragraph(f"The reading “{told}” does not go with the rest ({doubt}). {item.repeat}"))
            page.append(Paragraph(f"To make it again, type: back {item.reading}", indent=2))
    return page


def standings_page(standings: Sequence[Standing], proposals: Sequence[NextTest]) -> list[Block]:
    """Every test by number, and whether it can be done now."""
    worth = {item.test: f"worth doing, {at}." for at, item in enumerate(proposals, 1)}
    page: list[Block] = [Heading("Bench tests")]
    for at, standing in enumerate(standings, 1):
        test = standing.test
        notes = [f"{test.minutes:g} min"]
        if test.teacher:
            notes.append("teacher must agree")
        notes += [part for part in (standing.why, worth.get(test.id, "")) if part]
        page.append(Item(f"{at}", f"{test.id} ({'; '.join(notes).rstrip('.')})", indent=2))
    return page


def rack_page(records: Mapping[str, Record], results: Mapping[str, Identification], at: str) -> list[Block]:
    """Every vial: what is read, and, unless results are held back, what is settled."""
    rows = []
    for label, record in records.items():
        cells = [f"{label} (at hand)" if label == at else label, str(len(record.readings)), str(len(record.unclear))]
        if label in results:
            result = results[label]
            settled = result.verdict.kind is VerdictKind.CONCLUSIVE
            cells += [
                "yes" if settled else "no" if record.readings else "not begun",
                *((result.ranking[0].class_, percent(result.ranking[0].probability)) if record.readings else ("", "")),
                result.next_tests[0].test if result.next_tests else "",
            ]
        rows.append(tuple(cells))
    columns = ("vial", "readings", "unclear", *(("settled", "first", "probability", "next test") if results else ()))
    settled_in_all = sum(result.verdict.kind is VerdictKind.CONCLUSIVE for result in results.values())
    return [
        Heading(f"Rack: {count(len(records), 'vial')}" + (f", {settled_in_all} settled" if results else "")),
        Table(columns, tuple(rows)),
    ]


def help_page(commands: Sequence[tuple[str, str]]) -> list[Block]:
    return [Heading("What you can type"), *(Item(f"{name}:", does, indent=2) for name, does in commands)]


def ranking_page(result: Identification) -> list[Block]:
    rows = tuple((item.class_, Bar(item.probability), percent(item.probability)) for item in result.ranking)
    return [*standing_verdict_page(result), Table(("class", "", "probability"), rows)]


def _leading(result: Identification) -> str:
    first, last = result.ranking[0], result.ranking[-1]
    if first.probability - last.probability < _EVEN:
        return "nothing tells the classes apart"
    named = [item for item in result.ranking if item.probability >= first.probability / 10]
    return ", ".join(f"{item.class_} {percent(item.probability)}" for item in named)


def _verdict_line(verdict: Verdict) -> list[Block]:
    if verdict.kind is VerdictKind.CONCLUSIVE:
        return [Heading(f"Settled: {verdict.class_}", "good")]
    if verdict.kind is VerdictKind.CONTRADICTORY:
        return [Heading("Contradictory: these readings cannot all be right", "bad")]
    return [Heading(f"Open between {listed(list(verdict.open_between), 'and')}", "open")]
