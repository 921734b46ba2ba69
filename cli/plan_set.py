"""`spotplate plan-set`: the best unknowns set from a cupboard, with the proof that there is none better."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer

from spotplate.datasets import load_hazard_statements
from spotplate.engine.files import check_free
from spotplate.engine.files.cupboards import read_cupboard
from spotplate.engine.files.sets import write_set
from spotplate.engine.record import find_test
from spotplate.engine.sets import Amount, Cupboard, Plan, Progress, Wishes
from spotplate.engine.sets import plan_set as plan
from spotplate.engine.sets.wishes import ANY_KIND
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted, printable, shown

from .exit_codes import NOT_SETTLED
from .json_shape import plain_data, print_json
from .options import AsJson, Plain
from .progress import progress_share
from .records import set_names
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import WHO_DECIDES, count, listed

_MOST_NAMED = 8  # substances left out for one reason; the JSON tells all
ORDER = (
    "What counts, in this order: all wishes are met; the kit takes the fewest minutes; the vials have the least hazard (the sum "
    "of their levels); they teach the most (the number of different classes and of different finer kinds among them)."
)


def plan_set(
    table: Annotated[
        Path,
        typer.Argument(metavar="CUPBOARD", help="CSV with a column for the substance, one bottle a row.", show_default=False),
    ],
    vials: Annotated[int, typer.Option("--vials", help="Number of vials, 1 to 26.")] = 8,
    of_class: Annotated[
        list[str] | None,
        typer.Option("--of-class", metavar="CLASS=N", help="At least N vials of a class. May be repeated.", show_default=False),
    ] = None,
    tests: Annotated[
        list[str] | None,
        typer.Option("--tests", metavar="'TEST; TEST'", help="The only tests that the room can do.", show_default=False),
    ] = None,
    without_test: Annotated[
        list[str] | None,
        typer.Option(
            "--without-test", metavar="TEST", help="A test that the room cannot do. May be repeated.", show_default=False
        ),
    ] = None,
    minutes: Annotated[
        float | None,
        typer.Option("--minutes", help="Longest kit: every test of it once, on one vial.", show_default=False),
    ] = None,
    hazard: Annotated[
        str | None,
        typer.Option("--hazard", metavar="LEVEL", help="Highest level of a vial: none, low, moderate, serious or severe."),
    ] = None,
    groups: Annotated[int, typer.Option("--groups", help="Number of groups that each get a portion of every vial.")] = 1,
    awkward: Annotated[
        list[str] | None,
        typer.Option(
            "--awkward",
            metavar="[KIND=]N",
            help="Exactly N awkward vials, or at least N of a finer kind (graphite=1). May be repeated.",
            show_default=False,
        ),
    ] = None,
    require: Annotated[
        list[str] | None,
        typer.Option("--require", metavar="'NAME; NAME'", help="Substances that must be in the set.", show_default=False),
    ] = None,
    forbid: Annotated[
        list[str] | None,
        typer.Option("--forbid", metavar="'NAME; NAME'", help="Substances that must not be in the set.", show_default=False),
    ] = None,
    told_apart_by: Annotated[
        int, typer.Option("--told-apart-by", help="Number of tests by which any two vials are told apart, 1 to 3.")
    ] = 2,
    seed: Annotated[int, typer.Option("--seed", help="Chooses among equally good sets, and which vial gets which letter.")] = 1,
    seconds: Annotated[float, typer.Option("--seconds", min=0, help="Time limit of the search.")] = 20,
    output: Annotated[
        Path | None, typer.Option("--output", metavar="FILE", help="Write the set into this YAML file. It holds the key.")
    ] = None,
    over: Annotated[bool, typer.Option("--over", help="Write over the file if it is there.")] = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Plan the best unknowns set from a cupboard: which vials, and the smallest kit of tests that tells them apart.

    The answer is for the teacher: it names the substances. Exit code 0 when the set is proved to be the best, 1 when there is
    none (it says which wishes clash and what helps) or the time ran out before the proof, 2 on bad input.
    """
    _check_output(output, over=over)
    if math.isnan(seconds):
        raise FaultyInputError([Fault("option --seconds", "a number of seconds is accepted.")])
    knowledge = load_knowledge()
    cupboard = read_cupboard(table)
    wishes = Wishes(
        vials=vials,
        of_class=_counts(
            of_class or [], "--of-class", {word: item.id for item in knowledge.classes.values() for word in (item.id, *item.also)}
        ),
        tests=_tests(tests, without_test or [], knowledge),
        minutes=minutes,
        hazard=_level(hazard, knowledge),
        groups=groups,
        awkward=_counts(awkward or [], "--awkward", {name: name for name in (ANY_KIND, *knowledge.subtypes)}),
        require=tuple(set_names(require or [], "--require")),
        forbid=tuple(set_names(forbid or [], "--forbid")),
        told_apart_by=told_apart_by,
        seed=seed,
    )
    with progress_share() as tell:
        found = plan(
            cupboard.substances(),
            wishes,
            knowledge,
            amounts=amounts_in(cupboard),
            progress=lambda progress: tell(*_progress_in_words(progress)),
            seconds=seconds,
        )
    if output is not None and found.set is not None:
        write_set(found.set, output, knowledge, over=over, where="option --output")
    if as_json:
        print_json(_data(found, cupboard, knowledge))
    else:
        show(_page(found, cupboard, output, knowledge), plain=plain)
    if not (found.set and found.proved):
        raise typer.Exit(NOT_SETTLED)


# --- options ---------------------------------------------------------------------------------------


def _check_output(output: Path | None, *, over: bool) -> None:
    """Refuse before the work what could not be written after it."""
    if over and output is None:
        raise FaultyInputError([Fault("option --over", "there is no file to write over; name it with --output.")])
    if output is not None and not over:
        check_free(output, where="option --output", remedy="give another name, or write over it with --over")


def _counts(given: Sequence[str], option: str, names: dict[str, str]) -> dict[str, int]:
    """`NAME=N` as name → number; a bare number is that of any kind, where there is such a thing."""
    found: dict[str, int] = {}
    faults = []
    for part in [part.strip() for text in given for part in text.split(";") if part.strip()]:
        name, _, number = part.rpartition("=")
        name = " ".join(name.casefold().split()) or (ANY_KIND if ANY_KIND in names and "=" not in part else "")
        if not re.fullmatch(r"\d{1,4}", number.strip()) or not name:
            faults.append(
                Fault(f"option {option}", f"{shown(part)} is no count; write a name and a number, such as {_example(names)}.")
            )
        elif name not in names:
            faults.append(
                Fault(f"option {option}", not_accepted(name, "accepted here", list(dict.fromkeys(names.values())), most=50))
            )
        elif names[name] in found:
            faults.append(Fault(f"option {option}", f"{shown(names[name])} is counted twice."))
        else:
            found[names[name]] = int(number)
    if faults:
        raise FaultyInputError(faults)
    return found


def _example(names: dict[str, str]) -> str:
    return "graphite=1" if ANY_KIND in names else "ionic=2"


def _tests(only: Sequence[str] | None, without: Sequence[str], knowledge: KnowledgeBase) -> tuple[str, ...]:
    """The tests of the room; empty when it can do all."""
    kept = _found_tests(only or [], "--tests", knowledge) or list(knowledge.tests)
    dropped = _found_tests(without, "--without-test", knowledge)
    left = tuple(name for name in knowledge.tests if name in kept and name not in dropped)
    if not left:
        raise FaultyInputError([Fault("option --without-test", "no test is left.")])
    return () if len(left) == len(knowledge.tests) else left


def _found_tests(given: Sequence[str], option: str, knowledge: KnowledgeBase) -> list[str]:
    found, faults = [], []
    for name in [part.strip() for text in given for part in text.split(";") if part.strip()]:
        test = find_test(name, knowledge)
        if test is None:
            faults.append(Fault(f"option {option}", not_accepted(name, "a bench test", list(knowledge.tests), most=50)))
        else:
            found.append(test.id)
    if faults:
        raise FaultyInputError(faults)
    return found


def _level(given: str | None, knowledge: KnowledgeBase) -> int | None:
    if given is None:
        return None
    levels = {level.id: level.level for level in knowledge.set_planning.levels}
    levels |= {str(level): level for level in levels.values()}
    wanted = given.strip().casefold()
    if wanted not in levels:
        raise FaultyInputError([Fault("option --hazard", not_accepted(given, "a level of hazard", list(levels)))])
    return levels[wanted]


def amounts_in(cupboard: Cupboard) -> dict[str, Amount | None]:
    """Substance → how much of it all rows together hold; None where one of them does not tell, or they do not add up."""
    found: dict[str, Amount | None] = {}
    for name in cupboard.substances():
        amounts = [item.quantity for item in cupboard.of(name)]
        units = {amount.unit for amount in amounts if amount}
        known = [amount.value for amount in amounts if amount]
        found[name] = Amount(sum(known), units.pop()) if len(units) == 1 and len(known) == len(amounts) else None
    return found


def _progress_in_words(progress: Progress) -> tuple[float, str]:
    """How much of the way is behind, and a line on it."""
    if progress.best is None:
        return 0.0, f"seeking {progress.seeks} …"
    kit = f"kit of {progress.least_minutes:g} to {progress.best.minutes:g} min"
    words = f"seeking {progress.seeks}: {kit}, {progress.kits_tried} tried"
    return progress.least_minutes / max(progress.best.minutes, 1.0), words


# --- page ------------------------------------------------------------------------------------------


def _page(found: Plan, cupboard: Cupboard, output: Path | None, knowledge: KnowledgeBase) -> list[Block]:
    page = _planned(found, knowledge) if found.set else _not_planned(found)
    page += _about_cupboard(found, cupboard)
    if output is not None and found.set:
        page += [Heading("Written"), Paragraph(f"The set with its key is in {printable(str(output))}.", indent=2)]
    page += [Paragraph(""), Paragraph(WHO_DECIDES, "caution")]
    return page


def _planned(found: Plan, knowledge: KnowledgeBase) -> list[Block]:
    assert found.worth is not None
    style = "good" if found.proved else "open"
    proof = "proved to be the best" if found.proved else "not proved to be the best"
    page: list[Block] = [
        Heading(f"{count(len(found.vials), 'vial')}, any two told apart by at least {_tests_told(found)}: {proof}", style),
        Paragraph(ORDER),
    ]
    page += [Item("-", text, indent=2) for text in _proof(found)]
    page += _kit(found, knowledge)
    page += _vials(found, knowledge)
    return page


def _tests_told(found: Plan) -> str:
    return count(found.wishes.told_apart_by, "test")


def _proof(found: Plan) -> list[str]:
    assert found.worth is not None
    assert found.bound is not None
    worth, bound = found.worth, found.bound
    shortest = worth.minutes == bound.minutes
    told = [
        f"Kit of {worth.minutes:g} min: "
        + (f"no shorter one does ({count(found.kits_tried, 'kit')} tried, the others ruled out by these)." if shortest else
           f"the time ran out; a shorter one would take at least {bound.minutes:g} min.")
    ]  # fmt: skip
    if not shortest:
        return [*told, f"Hazard {worth.hazard} and spread {worth.spread}: not proved, since a shorter kit goes before them."]
    least = worth.hazard == bound.hazard
    told.append(
        f"Hazard {worth.hazard}: "
        + ("no set with so short a kit has less." if least else f"the time ran out; no such set has less than {bound.hazard}.")
    )
    if not least:
        return [*told, f"Spread {worth.spread}: not proved, since less hazard goes before it."]
    widest = worth.spread == bound.spread
    told.append(
        f"Spread {worth.spread}: "
        + ("no such set teaches more." if widest else f"the time ran out; no such set has more than {bound.spread}.")
    )
    return told


def _kit(found: Plan, knowledge: KnowledgeBase) -> list[Block]:
    assert found.worth is not None
    rows = [
        (
            test.id,
            f"{test.minutes:g}",
            listed([kind.id for kind in test.readings]),
            "must agree" if test.teacher else "",
        )
        for test in (knowledge.tests[name] for name in found.kit)
    ]
    rows.append(("all of them", f"{found.worth.minutes:g}", "", ""))
    whole = found.worth.minutes * len(found.vials)
    return [
        Heading("Smallest kit"),
        Table(("test", "minutes a vial", "readings", "teacher"), tuple(rows)),
        Paragraph(f"A group that does every test on every vial, one after another, takes {whole:g} min.", "quiet"),
    ]


def _vials(found: Plan, knowledge: KnowledgeBase) -> list[Block]:
    levels = knowledge.set_planning.levels
    rows = tuple(
        (
            vial.label,
            vial.substance,
            vial.class_,
            f"{vial.subtype}{' (awkward)' if vial.awkward else ''}",
            f"{vial.hazard} {levels[vial.hazard].id}{': ' + ', '.join(vial.statements) if vial.statements else ''}",
        )
        for vial in found.vials
    )
    page: list[Block] = [
        Heading("Vials, for the teacher only"),
        Table(("vial", "substance", "class", "finer kind", "hazard"), rows),
    ]
    statements = load_hazard_statements()
    codes = sorted({code for vial in found.vials for code in vial.statements})
    page += [Item(f"{code}:", statements.get(code, "see the safety data sheet"), indent=2) for code in codes]
    unfit = [f"{vial.label} ({vial.substance}, {vial.school_use})" for vial in found.vials if vial.school_use != "students"]
    if unfit:
        page.append(
            Paragraph(
                f"Required by name, although the reference table does not hold it fit for students: {listed(unfit)}.", "caution"
            )
        )
    return page


def _not_planned(found: Plan) -> list[Block]:
    if not found.conflict:
        return [
            Heading("No set found in the time given", "open"),
            Paragraph("Whether there is one is open. Give more time with --seconds, or wish for fewer vials."),
        ]
    page: list[Block] = [
        Heading("No set meets these wishes", "bad"),
        Paragraph(
            "These cannot be met together, and every one of them is needed for the clash:"
            if found.proved
            else "The clash lies among these; the time ran out before it was narrowed down:"
        ),
    ]
    page += [Item("-", wish, indent=2) for wish in found.conflict]
    page.append(Heading("What helps"))
    page += [Item("-", relaxation.says, indent=2) for relaxation in found.relaxations]
    if found.relaxations:
        page.append(Paragraph("Each of these alone is enough; the smallest change comes first.", "quiet"))
    else:
        page.append(Paragraph("No small change was found that helps.", indent=2))
    return page


def _about_cupboard(found: Plan, cupboard: Cupboard) -> list[Block]:
    page: list[Block] = [Heading("About the cupboard")]
    by_reason: dict[str, list[str]] = {}
    for item in found.left_out:
        by_reason.setdefault(item.why, []).append(item.substance)
    considered = len(cupboard.substances()) - len(found.left_out)
    page.append(
        Paragraph(f"{count(considered, 'substance')} of {len(cupboard.substances())} could be chosen. Left out:", indent=2)
    )
    for why, names in sorted(by_reason.items(), key=lambda pair: -len(pair[1])):
        more = len(names) - _MOST_NAMED
        named = names[:_MOST_NAMED] + ([f"{count(more, 'other')}"] if more > 0 else [])
        page.append(Item("-", f"{listed(named)}: {why}.", indent=4))
    if unmatched := cupboard.unmatched():
        lines = listed(
            [f"line {item.line}" for item in unmatched[:_MOST_NAMED]] + (["more"] if len(unmatched) > _MOST_NAMED else [])
        )
        page.append(Paragraph(f"Not told what they are, so not considered: {lines}. 'spotplate cupboard' tells why.", indent=2))
    amounts = amounts_in(cupboard)
    open_ = [vial.substance for vial in found.vials if amounts.get(vial.substance) is None]
    if open_:
        portions = f"{count(found.wishes.groups, 'portion')}"
        page.append(
            Paragraph(f"See that there is enough for {portions} of {listed(open_)}: the cupboard does not tell.", indent=2)
        )
    if found.useless_tests:
        page.append(Paragraph(f"Cannot be done without a test that comes first: {listed(found.useless_tests)}.", indent=2))
    return page


# --- data ------------------------------------------------------------------------------------------


def _data(found: Plan, cupboard: Cupboard, knowledge: KnowledgeBase) -> dict[str, Any]:
    from importlib.metadata import version  # slow to import, and needed for JSON only

    data = plain_data(found)
    levels = knowledge.set_planning.levels
    return {
        "spotplate": version("spotplate"),
        "knowledge_checksum": knowledge.checksum,
        "proved": found.proved,
        "order": ORDER,
        **{key: value for key, value in data.items() if key not in ("set", "kit", "vials")},
        "name": found.set.name if found.set else None,
        "kit": [
            {"test": name, "minutes": knowledge.tests[name].minutes, "teacher": knowledge.tests[name].teacher}
            for name in found.kit
        ],
        "vials": [{**vial, "hazard_level": levels[vial["hazard"]].id} for vial in data["vials"]],
        "unmatched_lines": [item.line for item in cupboard.unmatched()],
        "amounts": {name: msgspec.to_builtins(amount) for name, amount in amounts_in(cupboard).items()},
    }
