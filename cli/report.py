"""`spotplate report`: how well the rules do on the reference table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

import typer

from spotplate.datasets import load_substances
from spotplate.engine.reference_report import Assessed, ClassScore, CrossChecked, Outcome, assess_reference, scores
from spotplate.kb import load_knowledge

from .json_shape import print_json
from .options import AsJson, Plain
from .progress import progress_bar
from .views.page import Bar, Block, Heading, Item, Paragraph, Table, show
from .views.words import listed, percent


def report(
    misses: Annotated[
        bool, typer.Option("--misses/--no-misses", help="List every substance that is not settled rightly.")
    ] = True,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Run every reference substance's full expected readings through the engine and count what comes out.

    The first five columns are on the likeliest full record of each substance. The last counts substances
    on which any honest reading of a boundary value leads to a conclusive verdict that is wrong. The decision tree
    and the reference readings that give second opinions have never seen the substance.
    """
    knowledge = load_knowledge()
    substances = load_substances()
    with progress_bar(len(substances), "substances") as step:
        assessed = assess_reference(substances, knowledge, progress=step)
    table = scores(assessed, knowledge)
    if as_json:
        print_json(
            {
                "scores": [_score_data(score) for score in table],
                "cross_check": {outcome.value: len(items) for outcome, items in _by_agreement(assessed).items()},
                "misses": [_miss_data(item) for item in _misses(assessed)],
            }
        )
        return
    page = _score_page(table)
    page += _agreement_page(assessed, told=misses)
    if misses:
        page += _miss_page(_misses(assessed))
    show(page, plain=plain)


def _misses(assessed: Sequence[Assessed]) -> list[Assessed]:
    found = [item for item in assessed if item.worst is not Outcome.RIGHT]
    order = list(Outcome)
    return sorted(found, key=lambda item: -order.index(item.worst))


def _score_page(table: Sequence[ClassScore]) -> list[Block]:
    rows: list[tuple[str | Bar, ...]] = []
    for score in table:
        counts = [score.first, *(score.outcomes[outcome.value] for outcome in Outcome), score.ever_wrong]
        shares = [percent_of(count, score.substances) for count in counts]
        rows.append((score.name, str(score.substances), Bar(score.outcomes[Outcome.RIGHT.value] / score.substances), *shares))
    columns = ("class", "n", "", "first", *(outcome.value for outcome in Outcome), "ever wrong")
    fair = percent_of(table[-1].open_defensible, table[-1].substances)
    return [
        Heading("Full expected readings of every reference substance, judged by the rules"),
        Table(columns, tuple(rows)),
        Paragraph(
            "The bar, where there is room, shows the share that is right. first: a defensible class ranks first. right and "
            "wrong: conclusive verdicts; a substance with two defensible classes is right on either. ever wrong: wrong on any "
            f"honest reading of a boundary value. Of all substances, {fair} are inconclusive between defensible classes only."
        ),
    ]


def _by_agreement(assessed: Sequence[Assessed]) -> dict[CrossChecked, list[Assessed]]:
    return {outcome: [item for item in assessed if item.cross_checked is outcome] for outcome in CrossChecked}


def _agreement_page(assessed: Sequence[Assessed], *, told: bool) -> list[Block]:
    """Where rules and tree agree and where they do not, and who is right then."""
    groups = _by_agreement(assessed)
    rows: list[tuple[str | Bar, ...]] = [
        (outcome.value, str(len(items)), Bar(len(items) / len(assessed)), percent_of(len(items), len(assessed)))
        for outcome, items in groups.items()
    ]
    page: list[Block] = [
        Heading("First class of the rules beside the decision tree, grown without the substance"),
        Table(("rules and tree", "n", "", "share"), tuple(rows)),
    ]
    if not told:
        return page
    for outcome in (CrossChecked.BOTH_WRONG, CrossChecked.TREE_RIGHT, CrossChecked.NEITHER_RIGHT, CrossChecked.RULES_RIGHT):
        page.append(Heading(f"{outcome.value.capitalize()}: {len(groups[outcome])}"))
        for item in groups[outcome]:
            classes = listed(item.substance.defensible_classes(), "or")
            said = item.of_rules if outcome is CrossChecked.BOTH_WRONG else f"rules {item.of_rules}, tree {item.of_tree}"
            page.append(Item("-", f"{item.substance.name} ({classes}): {said}. {item.substance.exception}", indent=2))
    return page


def percent_of(part: int, whole: int) -> str:
    """A share as counted: "93.1 %", and plainly 0 or 100 when it is."""
    return f"{100 * part / whole:.1f} %"


def _miss_page(missed: Sequence[Assessed]) -> list[Block]:
    page: list[Block] = [Heading(f"{len(missed)} substances not settled rightly on every honest record")]
    for item in missed:
        page.append(Item(f"{item.worst.value}:", _told(item), indent=2))
    return page


def _told(item: Assessed) -> str:
    first, second = item.found.ranking[:2]
    substance = item.substance
    classes = listed(substance.defensible_classes(), "or")
    ranks = f"{first.class_} {percent(first.probability)}, {second.class_} {percent(second.probability)}"
    told = f"{substance.name} ({classes}) ranks as {ranks}."
    reason = substance.exception or (item.found.verdict.reasons[0] if item.found.verdict.reasons else "")
    return f"{told} {reason}"


def _score_data(score: ClassScore) -> dict[str, Any]:
    return {
        "class": score.name,
        "substances": score.substances,
        "first": score.first,
        **score.outcomes,
        "open_defensible": score.open_defensible,
        "ever_wrong": score.ever_wrong,
    }


def _miss_data(item: Assessed) -> dict[str, Any]:
    return {
        "substance": item.substance.name,
        "class": item.substance.class_,
        "also_defensible": item.substance.also_defensible,
        "worst": item.worst.value,
        "ranking": {ranked.class_: ranked.probability for ranked in item.found.ranking},
        "reason": item.substance.exception,
    }
