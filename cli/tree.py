"""`spotplate tree`: the decision tree that cross-checks the rules, and how it does on substances it has not seen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import msgspec
import typer

from spotplate.engine.second_opinion import Tree, load_tree
from spotplate.engine.second_opinion.cross_check import fork_in_words
from spotplate.engine.second_opinion.tree import class_of, shares_of

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Bar, Block, Heading, Item, Paragraph, Table, show
from .views.words import count, percent

_MOST_NAMES = 4


def tree(
    forks: Annotated[bool, typer.Option("--forks", help="Every fork and leaf of the tree, as an indented key.")] = False,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Show the decision tree that cross-checks the rules: how it was grown, and how it does on substances left out."""
    grown = load_tree()
    if as_json:
        print_json(msgspec.to_builtins(grown))
        return
    show(_report_page(grown) + (_fork_page(grown) if forks else []), plain=plain)


def _report_page(grown: Tree) -> list[Block]:
    settings, report = grown.settings, grown.report
    leaves = sum(not node.reading for node in grown.nodes)
    tried: list[tuple[str | Bar, ...]] = [
        (str(item.depth), f"{item.leaf:g}", Bar(item.right), *_shares(item.right, item.error), f"{item.leaves:.0f}")
        for item in report.tried
    ]
    confusion = [(name, *(str(row[other]) for other in grown.classes)) for name, row in report.confusion.items()]
    return [
        Heading(
            f"A tree of {leaves} leaves, at most {settings.depth} forks deep, each leaf of {settings.leaf:g} substances or more"
        ),
        Paragraph(
            f"Grown with scikit-learn {settings.scikit_learn} from seed {settings.seed} on a training table with checksum "
            f"{settings.training_checksum}: every honest full record of each substance, and {settings.partial_records} partial "
            "ones."
        ),
        Paragraph(
            f"On substances left out of its training it is right on {100 * report.right_full:.1f} % of the full records and "
            f"{100 * report.right_partial:.1f} % of the partial ones, all leaves counted, also those too mixed to speak."
        ),
        Heading("True class (rows) and class of the tree (columns), likeliest full record of each substance left out"),
        Table(("true class", *grown.classes), tuple(confusion)),
        Heading("Depths and leaf sizes tried, ten folds of whole substances"),
        Table(("depth", "leaf", "", "right", "standard error", "leaves"), tuple(tried)),
        Paragraph("The smallest tree within one standard error of the best is taken (Breiman and others, 1984)."),
    ]


def _shares(*shares: float) -> list[str]:
    return [f"{100 * share:.1f} %" for share in shares]


def _fork_page(grown: Tree) -> list[Block]:
    return [Heading("The tree as a key"), *_told(grown, 0, 0, "start")]


def _told(grown: Tree, place: int, depth: int, after: str) -> Iterator[Block]:
    node = grown.nodes[place]
    first = class_of(node, grown)
    share = percent(max(shares_of(node)))
    if not node.reading:
        whole = sum(map(len, node.substances.values()))
        names = node.substances.get(first, ())
        told = f", such as {', '.join(names[:_MOST_NAMES])}" if names else ""
        yield Item(f"{after}:", f"{first} {share}, {count(whole, 'substance')}{told}", indent=2 * depth)
        return
    yield Item(f"{after}:", f"{fork_in_words(node)}? ({first} {share})", indent=2 * depth)
    # Where a reading was not made, the way goes on with one of the two answers.
    answers = {node.yes: ["yes"], node.no: ["no"]} if node.yes != node.no else {node.yes: ["yes"]}
    answers.setdefault(node.untested, []).append("not tested")
    for then, words in answers.items():
        yield from _told(grown, then, depth + 1, " or ".join(words))
