"""Screens of an identification: one vial in full, or many vials a row each."""

from __future__ import annotations

from collections.abc import Sequence

from spotplate.engine import Identification, Record, VerdictKind
from spotplate.engine.reasoning import Reason
from spotplate.kb import KnowledgeBase

from .page import Bar, Block, Heading, Item, Paragraph, Table
from .words import listed, percent, signed

_STYLE = {VerdictKind.CONCLUSIVE: "good", VerdictKind.INCONCLUSIVE: "open", VerdictKind.CONTRADICTORY: "bad"}
_MOST_AGAINST = 3
_WHO_DECIDES = "The supplier's safety data sheet, local rules and the responsible teacher decide."


def identification_page(result: Identification, knowledge: KnowledgeBase, *, full: bool = False) -> list[Block]:
    """One vial: verdict, ranking, reasons, contrast, what would change it, tests and cautions still to come."""
    page = _verdict(result)
    page += _ranking(result)
    page += _reasons(result, full=full)
    page += _contrast(result, full=full)
    page += _rests_on(result)
    page += _next_tests(result, knowledge)
    page += _record_notes(result.record)
    page.append(Paragraph("An unlabelled chemical that nobody prepared as an exercise is not a case for this program.", "quiet"))
    return page


def summary_page(results: Sequence[Identification]) -> list[Block]:
    """Many vials, one row each."""
    rows = [
        (
            result.record.vial,
            f"{result.verdict.kind.value}{f': {result.verdict.class_}' if result.verdict.class_ else ''}",
            f"{result.ranking[0].class_} {percent(result.ranking[0].probability)}",
            str(len(result.record.readings)),
            result.next_tests[0].test if result.next_tests else "",
        )
        for result in results
    ]
    any_test = any(result.next_tests for result in results)
    settled = sum(result.verdict.kind is VerdictKind.CONCLUSIVE for result in results)
    return [
        Heading(f"{len(results)} vials, {settled} settled"),
        Table(("vial", "verdict", "first", "readings", "do next"), tuple(rows)),
        *([Paragraph(f"Before a test read its cautions: spotplate tests 'NAME'. {_WHO_DECIDES}")] if any_test else []),
        Paragraph("For the reasons on one vial add --vial LABEL; for all of them --details.", "quiet"),
    ]


def _verdict(result: Identification) -> list[Block]:
    verdict = result.verdict
    name = f"Vial {result.record.vial}: " if result.record.vial else ""
    answer = f", {verdict.class_}" if verdict.class_ else ""
    page: list[Block] = [Heading(f"{name}{verdict.kind.value}{answer}", _STYLE[verdict.kind])]
    page += [Paragraph(reason) for reason in verdict.reasons]
    kinds = [fact.subtype for fact in result.facts if fact.subtype]
    if kinds:
        page.append(Paragraph(f"The readings point to this finer kind: {listed(list(dict.fromkeys(kinds)))}."))
    return page


def _ranking(result: Identification) -> list[Block]:
    rows = [(item.class_, Bar(item.probability), percent(item.probability), signed(item.decibans)) for item in result.ranking]
    return [Table(("class", "", "probability", "decibans"), tuple(rows))]


def _reasons(result: Identification, *, full: bool) -> list[Block]:
    """Why the first class; with `full`, every class and every further sign too."""
    page: list[Block] = []
    for item in result.ranking if full else result.ranking[:1]:
        page.append(Heading(f"For and against {item.class_}"))
        reasons = result.reasons[item.class_]
        if not reasons:
            page.append(Paragraph("No reading speaks for or against it.", indent=2))
        for reason in reasons:
            if reason.counted or full:
                page += _reason(reason, result, full=full)
        further = [reason for reason in reasons if not reason.counted]
        if further and not full:
            seen = listed(list(dict.fromkeys(reason.rule for reason in further)))
            page.append(Paragraph(f"Same cause, counted once: {seen}. --full tells them all.", "quiet", 2))
    return page


def _reason(reason: Reason, result: Identification, *, full: bool) -> list[Block]:
    counted = "" if reason.counted else ", same cause, counted once"
    side = "for" if reason.decibans > 0 else "against"
    page: list[Block] = [
        Item(f"{side} {signed(reason.decibans)}", f"{reason.because} ({reason.word}; {reason.cause}{counted})", "quiet", 2)
    ]
    steps = [step for step in reason.steps if step.rule != reason.rule]
    if full:
        page += [Paragraph(f"since {_told(step.readings, result)}{step.because} ({step.source})", "quiet", 4) for step in steps]
    page.append(Paragraph(f"seen: {_seen(reason, result)}", "quiet", 4))
    page.append(Paragraph(f"source: {reason.source}; rule {reason.rule}", "quiet", 4))
    if full:
        page += [Paragraph(f"but: {exception}", "quiet", 4) for exception in reason.exceptions]
    return page


def _told(readings: Sequence[str], result: Identification) -> str:
    told = "; ".join(f"{name}: {result.record.readings[name]}" for name in readings)
    return f"[{told}] " if told else ""


def _seen(reason: Reason, result: Identification) -> str:
    return "; ".join(f"{name}: {result.record.readings[name]}" for name in reason.readings) or "nothing read"


def _contrast(result: Identification, *, full: bool) -> list[Block]:
    contrast = result.contrast
    if not contrast.parted_by:
        return []
    page: list[Block] = [Heading(f"Why {contrast.first} and not {contrast.second}")]
    page += [
        Item(signed(difference.decibans), f"{difference.because} ({difference.cause})", "quiet", 2)
        for difference in contrast.parted_by[: None if full else _MOST_AGAINST]
    ]
    if contrast.other_way:
        page.append(Paragraph(f"The other way speak, for {contrast.second}:", indent=2))
        page += [
            Item(signed(difference.decibans), f"{difference.because} ({difference.cause})", "quiet", 4)
            for difference in contrast.other_way[: None if full else _MOST_AGAINST]
        ]
    return page


def _rests_on(result: Identification) -> list[Block]:
    page: list[Block] = [Heading("What would change this")]
    for dependence in result.rests_on:
        told = f"{dependence.reading}: {result.record.readings[dependence.reading]}"
        then = f"{dependence.first_without} would be first with {percent(dependence.probability_without)}"
        page.append(Item("-", f"Without “{told}” {then}.", indent=2))
    if not result.rests_on and result.record.readings:
        page.append(Paragraph("Leaving out any single reading changes next to nothing.", indent=2))
    if result.next_tests:
        page.append(Paragraph("A reading from one of the tests below could.", indent=2))
    elif not result.record.readings:
        page.append(Paragraph("Any reading: none has been made yet.", indent=2))
    return page


def _next_tests(result: Identification, knowledge: KnowledgeBase) -> list[Block]:
    if not result.next_tests:
        return []
    page: list[Block] = [Heading("Tests that would help most")]
    for number, proposed in enumerate(result.next_tests, 1):
        test = knowledge.tests[proposed.test]
        agreed = " The teacher must agree first." if test.teacher else ""
        why = f"{test.does}: tells {listed(proposed.parts, 'from')}, takes {test.minutes:g} min."
        page.append(Item(f"{number}. {test.id}:", why + agreed, indent=2))
    page.append(Heading("Cautions for these tests", "caution"))
    page += [Item("-", caution, indent=2) for caution in result.cautions]
    page.append(Paragraph(_WHO_DECIDES, indent=2))
    return page


def _record_notes(record: Record) -> list[Block]:
    page: list[Block] = []
    if record.unclear:
        page.append(Paragraph(f"Unclear, so counted neither way: {listed(record.unclear)}."))
    for name in record.assumed_units:
        page.append(Paragraph(f"{name} was written without a unit and read as {record.readings[name]}."))
    return [Heading("About the record"), *page] if page else []
