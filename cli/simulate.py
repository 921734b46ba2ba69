"""`spotplate simulate`: a simulated student works through the reference table, with and without the proposed tests."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import msgspec
import typer

from spotplate.datasets import load_substances
from spotplate.engine.bench.trial import SEED, Comparison, Order, OrderScore, compare, order_score, work_through
from spotplate.engine.reference_report import Outcome
from spotplate.kb import load_knowledge

from .json_shape import print_json
from .options import AsJson, Plain
from .progress import progress_bar
from .views.page import Bar, Block, Heading, Paragraph, Table, show


def simulate(
    every: Annotated[int, typer.Option("--every", min=1, help="Take only every Nth substance, to be quicker.")] = 1,
    seed: Annotated[int, typer.Option("--seed", help="Of the misreadings and of the random order.")] = SEED,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Let a simulated student, who misreads now and then, work through every reference substance.

    Once with the tests as proposed, once in a fixed textbook order, once in random order; each until the verdict is
    conclusive or no test is left. What judges the records has never seen the substance. Takes some minutes.
    """
    knowledge, substances = load_knowledge(), load_substances()
    with progress_bar(len(substances[::every]), "substances") as step:
        worked = work_through(substances, knowledge, every=every, seed=seed, progress=step)
    orders = [order_score(worked, order, order.value) for order in Order]
    classes = [order_score([item for item in worked if item.class_ == name], Order.PROPOSED, name) for name in knowledge.classes]
    compared = [compare(worked, order) for order in Order if order is not Order.PROPOSED]
    if as_json:
        print_json(
            {
                "orders": [msgspec.to_builtins(score) for score in orders],
                "classes": [msgspec.to_builtins(score) for score in classes],
                "compared": [{**msgspec.to_builtins(item), "saved": item.saved} for item in compared],
                "worked": msgspec.to_builtins(worked),
            }
        )
        return
    show(_page(orders, classes, compared), plain=plain)


def _page(orders: Sequence[OrderScore], classes: Sequence[OrderScore], compared: Sequence[Comparison]) -> list[Block]:
    page: list[Block] = [
        Heading(f"A simulated student on {orders[0].substances} substances, tests as proposed"),
        _score_table("class", [*classes, msgspec.structs.replace(orders[0], name="all")]),
        Paragraph(
            "right and wrong: conclusive verdicts. tests, min: mean number of tests done until the verdict was conclusive or "
            "no further test was proposed or could be done, and the minutes they take. The bar shows the share that is right."
        ),
        Heading("The same student in other orders"),
        _score_table("order", orders),
        Paragraph("To right: means over the substances that the order settles rightly."),
    ]
    page += [Paragraph(_compared(item)) for item in compared]
    return page


def _compared(item: Comparison) -> str:
    (our_tests, their_tests), (ours, theirs) = item.tests, item.minutes
    fewer = "fewer" if item.saved >= 0 else "more"
    return (
        f"On the {item.substances} substances that both settle rightly, the proposed tests take {ours:.1f} min "
        f"({our_tests:.1f} tests) and the {item.other} {theirs:.1f} min ({their_tests:.1f} tests): "
        f"{abs(100 * item.saved):.0f} % {fewer} minutes."
    )


def _score_table(first: str, scores: Sequence[OrderScore]) -> Table:
    rows: list[tuple[str | Bar, ...]] = []
    for score in scores:
        shares = {outcome: score.outcomes[outcome.value] / max(1, score.substances) for outcome in Outcome}
        rows.append(
            (
                score.name,
                str(score.substances),
                Bar(shares[Outcome.RIGHT]),
                *(f"{100 * shares[outcome]:.1f} %" for outcome in Outcome),
                f"{score.tests:.1f}",
                f"{score.minutes:.1f}",
                f"{score.tests_to_right:.1f}",
                f"{score.minutes_to_right:.1f}",
            )
        )
    names = [outcome.value for outcome in Outcome]
    return Table((first, "n", "", *names, "tests", "min", "tests to right", "min to right"), tuple(rows))
