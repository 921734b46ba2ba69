"""Screens of an identification: one vial in full, or many vials a row each."""

from __future__ import annotations

from collections.abc import Sequence

from spotplate.engine import Identification, Record, VerdictKind
from spotplate.engine.bench import NextTest, Parting
from spotplate.engine.reasoning import Reason
from spotplate.engine.second_opinion import Agreement, CrossCheck, Suspect
from spotplate.kb import KnowledgeBase

from .page import Bar, Block, Heading, Item, Paragraph, Table
from .words import UNPREPARED, WHO_DECIDES, count, listed, percent, signed

_STYLE = {VerdictKind.CONCLUSIVE: "good", VerdictKind.INCONCLUSIVE: "open", VerdictKind.CONTRADICTORY: "bad"}
_MOST_AGAINST = 3
_MOST_CAUSES = 3
_MOST_EXAMPLES = 5
_RULED_OUT = 0.001  # [-] a candidate below this, shown as "< 0.1 %", need not be argued against


def identification_page(result: Identification, knowledge: KnowledgeBase, *, full: bool = False) -> list[Block]:
    """One vial: verdict, ranking, reasons, contrast, what would change it, tests and cautions still to come."""
    page = _verdict(result, knowledge)
    page += _ranking(result, knowledge)
    page += _suspects(result, knowledge, full=full)
    page += _reasons(result, full=full)
    page += _contrast(result, full=full)
    page += _rests_on(result)
    page += _cross_check(result.cross_check, result.ranking[0].class_, knowledge, full=full) if result.record.readings else []
    page += _candidates(result, full=full) if result.record.readings else []
    page += _next_tests(result, knowledge)
    page += _record_notes(result.record)
    page.append(Paragraph(UNPREPARED, "quiet"))
    return page


def summary_page(results: Sequence[Identification], knowledge: KnowledgeBase) -> list[Block]:
    """Many vials, one row each."""
    doubted = [next((item.reading for item in result.suspects if not item.explained_by), "") for result in results]
    any_doubt = any(doubted)
    rows = [
        (
            result.record.vial,
            f"{result.verdict.kind.value}{f': {result.verdict.class_}' if result.verdict.class_ else ''}",
            f"{result.ranking[0].class_} {percent(result.ranking[0].probability)}",
            str(len(result.record.readings)),
            result.next_tests[0].test if result.next_tests else "",
            *([doubt] if any_doubt else []),
        )
        for result, doubt in zip(results, doubted, strict=True)
    ]
    any_test = any(result.next_tests for result in results)
    settled = sum(result.verdict.kind is VerdictKind.CONCLUSIVE for result in results)
    return [
        Heading(f"{len(results)} vials, {settled} settled"),
        Table(("vial", "verdict", "first", "readings", "do next", *(["repeat"] if any_doubt else [])), tuple(rows)),
        *_prior(results[0], knowledge),
        *([Paragraph(f"Before a test read its cautions: spotplate tests 'NAME'. {WHO_DECIDES}")] if any_test else []),
        Paragraph("For the reasons on one vial add --vial LABEL; for all of them --details.", "quiet"),
    ]


def _verdict(result: Identification, knowledge: KnowledgeBase) -> list[Block]:
    verdict = result.verdict
    name = f"Vial {result.record.vial}: " if result.record.vial else ""
    answer = f", {verdict.class_}" if verdict.class_ else ""
    page: list[Block] = [Heading(f"{name}{verdict.kind.value}{answer}", _STYLE[verdict.kind])]
    page += [Paragraph(reason) for reason in verdict.reasons]
    if kinds := finer_kinds(result, knowledge):
        page.append(Paragraph(f"The readings point to this finer kind: {listed(kinds)}."))
    return page


def finer_kinds(result: Identification, knowledge: KnowledgeBase) -> list[str]:
    """The subtypes of the first class that the readings point to."""
    first = result.ranking[0].class_
    kinds = [fact.subtype for fact in result.facts if fact.subtype and first in knowledge.subtypes[fact.subtype].of]
    return list(dict.fromkeys(kinds))


def _ranking(result: Identification, knowledge: KnowledgeBase) -> list[Block]:
    rows = [(item.class_, Bar(item.probability), percent(item.probability), signed(item.decibans)) for item in result.ranking]
    return [Table(("class", "", "probability", "decibans"), tuple(rows)), *_prior(result, knowledge)]


def _prior(result: Identification, knowledge: KnowledgeBase) -> list[Block]:
    """That the unknowns set was the prior, where one was given; else a class may lead without decibans, unexplained."""
    if not (vials := result.candidates.set_size):
        return []
    kept = percent(knowledge.second_opinion.candidates.outside_set)
    says = (
        f"The prior is the make-up of the unknowns set ({count(vials, 'vial')}): before any reading, classes and substances "
        f"are as probable as they are common in it, with {kept} kept for what does not belong to it."
    )
    return [Paragraph(says, "quiet")]


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


def _suspects(result: Identification, knowledge: KnowledgeBase, *, full: bool) -> list[Block]:
    """Readings that were probably misread, and unusual ones that a finer kind explains."""
    page: list[Block] = []
    for suspect in result.suspects:
        told = f"{suspect.reading}: {result.record.readings[suspect.reading]}"
        if suspect.explained_by:
            page.append(
                Item(
                    "-", f"“{told}” is unusual, but it is what {suspect.explained_by} shows; it is not called misread.", indent=2
                )
            )
        else:
            page += _suspect(suspect, told, knowledge, full=full)
    return [Heading("Readings that do not go with the rest", "caution"), *page] if page else []


def _suspect(suspect: Suspect, told: str, knowledge: KnowledgeBase, *, full: bool) -> list[Block]:
    page: list[Block] = [Item("-", f"“{told}” was misread with a probability of {percent(suspect.probability)}.", indent=2)]
    if suspect.predicted:
        likeliest = suspect.predicted[0]
        page.append(
            Paragraph(f"The other readings lead one to expect “{likeliest.value}” ({percent(likeliest.probability)}).", indent=4)
        )
    causes = suspect.causes if full else suspect.causes[:_MOST_CAUSES]
    page.append(Paragraph(f"Possible causes: {'; '.join(causes)}.", indent=4))
    page.append(Paragraph(f"To repeat it: {suspect.repeat}", indent=4))
    verdict = suspect.verdict_without
    answer = f", {verdict.class_}" if verdict.class_ else ""
    ranks = f"{suspect.first_without} first with {percent(suspect.probability_without)}"
    page.append(Paragraph(f"Without it the verdict would be {verdict.kind.value}{answer} ({ranks}).", indent=4))
    if (test := knowledge.test_of[suspect.reading]).teacher:
        page.append(Paragraph(f"For the {test.id} the teacher must agree first.", indent=4))
    return page


def _cross_check(second: CrossCheck, of_rules: str, knowledge: KnowledgeBase, *, full: bool) -> list[Block]:
    """What the decision tree says beside the rules."""
    makeup = sorted(second.makeup.items(), key=lambda item: -item[1])
    whole = sum(second.makeup.values())
    told = listed([f"{count} {name}" for name, count in makeup])
    names = second.examples if full else second.examples[:_MOST_EXAMPLES]
    examples = ", ".join(names) + (" and others" if len(names) < len(second.examples) else "")
    own = second.makeup.get(second.class_, 0)
    if second.agreement is Agreement.SILENT:
        need = knowledge.second_opinion.tree
        few = whole < need.substances
        why = "too few to tell" if few else "too mixed to tell"
        page: list[Block] = [
            Heading("Second opinion: the decision tree is silent"),
            Paragraph(f"Such a record leads to {count(whole, 'reference substance')}, {told}: {why}.", indent=2),
        ]
    else:
        agrees = second.agreement is Agreement.AGREES
        says = f"agrees: {second.class_}" if agrees else f"disagrees: {second.class_}, not {of_rules}"
        page = [
            Heading(f"Second opinion: the decision tree {says}", "good" if agrees else "bad"),
            Paragraph(f"{own} of {whole} reference substances that got here are {second.class_}: {examples}.", indent=2),
        ]
    if parts := second.parts_company:
        page.append(Paragraph(f"Rules and tree part company at {parts.says}", indent=2))
        page.append(Paragraph(settling(parts.settled_by, parts.reading), indent=2))
    tested = list(dict.fromkeys(f"{step.reading}: {step.value}" for step in second.path if step.tested))
    untested = list(dict.fromkeys(step.reading for step in second.path if not step.tested))
    if full:
        page += [Item(f"{number}.", step.says, "quiet", 2) for number, step in enumerate(second.path, 1)]
    elif second.agreement is not Agreement.SILENT:
        missing = f" It also asked for {listed(untested)}, not tested." if untested else ""
        page.append(Paragraph(f"It went by {'; '.join(tested) or 'nothing that was read'}.{missing}", "quiet", 2))
    return page


def settling(test: Parting | None, reading: str) -> str:
    """What would settle a difference between rules and tree."""
    if test is None:
        return f"Every test that could settle it has been made; repeat the reading “{reading}”."
    return (
        f"What would settle it: {test.test} ({test.reading}: {test.first} mostly shows “{test.first_shows}”, "
        f"{test.second} “{test.second_shows}”)."
    )


def _candidates(result: Identification, *, full: bool) -> list[Block]:
    """The reference substances that the record fits, and honestly none of these."""
    found = result.candidates
    made = len(result.record.readings)
    rows: list[tuple[str | Bar, ...]] = [
        (item.name, Bar(item.probability), percent(item.probability), f"{len(item.fits)} of {made - len(item.unknown)}")
        for item in found.best
    ]
    rows.append(("all others of the set" if found.set_size else "all others", Bar(found.others), percent(found.others), ""))
    rows.append(("none of these", Bar(found.none_of_these), percent(found.none_of_these), ""))
    page: list[Block] = [Heading("Candidate substances"), Table(("candidate", "", "probability", "fits"), tuple(rows))]
    page += _other_class(result)
    for item in found.best if full else ():
        unknown = f" The table does not tell: {', '.join(item.unknown)}." if item.unknown else ""
        page.append(Item("-", f"{item.name} fits in {', '.join(item.fits) or 'nothing'}.{unknown}", "quiet", 2))
    would_show: dict[tuple[str, str, str], list[str]] = {}
    # Members of a set are listed however improbable they are; what they would show matters only while they are not ruled out.
    for item in found.best if full else [*found.best[:1], *(item for item in found.best[1:] if item.probability >= _RULED_OUT)]:
        for misfit in item.misfits:
            would_show.setdefault((misfit.reading, misfit.expected, misfit.seen), []).append(item.name)
    for (reading, expected, seen), names in would_show.items():
        page.append(Item("-", f"{listed(names)} would show “{reading}: {expected}”, and not “{seen}”.", indent=2))
    first = found.best[0].class_ if found.best else result.ranking[0].class_
    fitting = count(found.fit_all, "substance") if found.fit_all else "no substance"
    fits = "fit every reading known of them" if found.fit_all > 1 else "fits every reading known of it"
    fit = f"{fitting} of the whole table {fits}."
    page.append(
        Paragraph(
            f"The reference table holds {count(found.in_table, f'{first} substance')}; {fit} If it is none of these, "
            f"then something like the {found.none_like} ones.",
            "quiet",
        )
    )
    if parting := found.parting:
        if parting.how:
            page.append(Paragraph(f"To part {parting.first} from {parting.second}, take a mixed melting range. {parting.how}"))
        else:
            shows = f"{parting.first}: {parting.first_shows}; {parting.second}: {parting.second_shows}"
            test = parting.test if parting.test == parting.reading else f"{parting.test}, {parting.reading}"
            pair = f"{parting.first} from {parting.second}"
            unsure = f"No test of this bench parts {pair} surely; the best one left is"
            page.append(Paragraph(f"{f'To part {pair}:' if parting.sure else unsure} {test} ({shows})."))
    elif len(found.best) > 1:
        page.append(Paragraph(f"No test of this bench parts {found.best[0].name} from {found.best[1].name}."))
    return page


def why(proposed: NextTest, knowledge: KnowledgeBase) -> str:
    """One sentence on why a test is worth doing next."""
    test = knowledge.tests[proposed.test]
    apart = listed(proposed.parts, "from")
    if proposed.opens:
        further = f" ({knowledge.tests[proposed.opens].minutes:g} min more)"
        return f"{test.does}: opens the way to the {proposed.opens}{further}, which tells {apart}; takes {test.minutes:g} min."
    return f"{test.does}: tells {apart}; takes {test.minutes:g} min."


def _other_class(result: Identification) -> list[Block]:
    """Why the first candidate may be of another class than the first one of the rules."""
    if not result.candidates.best:
        return []
    first, item = result.ranking[0], result.candidates.best[0]
    own = next(ranked for ranked in result.ranking if ranked.class_ == item.class_)
    if own.probability >= first.probability:
        return []
    if item.also_defensible == first.class_:
        says = f"The first candidate, {item.name}, stands under {item.class_} in the table; {first.class_}, which the rules put "
        return [Paragraph(f"{says}first, is defensible too.")]
    shows = ""
    if against := _readings_behind(result, item.class_, item.fits, sign=-1):
        shows = f", and {item.name} shows what the rules hold against {item.class_} ({against})"
    elif speaks := _readings_behind(result, first.class_, item.fits, sign=1):
        shows = f", and {item.name}, too, shows what the rules hold for {first.class_} ({speaks})"
    says = (
        f"By the rules {first.class_} is first, but the first candidate, {item.name}, is {item.class_}: the rules weigh kinds "
        f"of evidence, each once; candidates only compare one substance at a time with the table{shows}."
    )
    return [Paragraph(says)]


def _readings_behind(result: Identification, class_: str, among: Sequence[str], *, sign: int) -> str:
    """Readings behind the counted evidence for a class (or, with a negative sign, against it), those of `among` only."""
    reasons = [reason for reason in result.reasons[class_] if reason.counted and reason.decibans * sign > 0]
    names = dict.fromkeys(name for reason in reasons for name in reason.readings if name in among)
    return "; ".join(f"{name}: {result.record.readings[name]}" for name in names)


def _next_tests(result: Identification, knowledge: KnowledgeBase) -> list[Block]:
    if not result.next_tests:
        return []
    settled = result.verdict.kind is VerdictKind.CONCLUSIVE and not result.candidates.set_size
    page: list[Block] = [Heading("Tests that would confirm it" if settled else "Tests that would help most")]
    if settled:
        page.append(Paragraph("Reference substances that the record resembles are of other classes, too.", indent=2))
    for number, proposed in enumerate(result.next_tests, 1):
        test = knowledge.tests[proposed.test]
        agreed = " The teacher must agree first." if test.teacher else ""
        page.append(Item(f"{number}. {test.id}:", why(proposed, knowledge) + agreed, indent=2))
    page.append(Heading("Cautions for these tests", "caution"))
    page += [Item("-", caution, indent=2) for caution in result.cautions]
    page.append(Paragraph(WHO_DECIDES, indent=2))
    return page


def _record_notes(record: Record) -> list[Block]:
    page: list[Block] = []
    if record.unclear:
        page.append(Paragraph(f"Unclear, so counted neither way: {listed(record.unclear)}."))
    if record.air_pressure is not None:
        used = "The boiling point is compared as it would be at 101.325 kPa" if "boiling point" in record.readings else ""
        page.append(Paragraph(f"{used or 'No boiling point was taken'}; air pressure: {record.air_pressure}."))
    for name in record.assumed_units:
        read_as = record.readings.get(name, record.air_pressure)  # the air pressure is no reading of the substance
        page.append(Paragraph(f"{name} was written without a unit and read as {read_as}."))
    return [Heading("About the record"), *page] if page else []
