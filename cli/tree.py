"""`spotplate tree`: the decision tree that cross-checks the rules, and how it does on substances it has not seen."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated

import msgspec
import typer

from spotplate.engine.second_opinion import Tree, load_tree
from spotplate.engine.second_opinion.cross_check import fork_in_words
from spotplate.engine.second_opinion.tree import Node, class_of, shares_of

from .json_shape import print_json
from .options import AsJson, Plain
from .views.page import Bar, Block, Heading, Item, Paragraph, Table, show
from .views.words import count, percent

_MOST_NAMES = 4


def tree(
    forks: Annotated[bool, typer.Option("--forks", help="Every fork and leaf of the tree, as a numbered key.")] = False,
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
        Heading(f"A tree of {leaves} leaves, at most {settings.depth} forks deep"),
        Paragraph(
            "All records of a substance together weigh as one substance, and may end in several leaves. The records in each "
            f"leaf weigh as much as {settings.leaf:g} substances or more."
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
        Heading("Depths and least weights of a leaf [substances] tried, ten folds of whole substances"),
        Table(("depth", "least weight", "", "right", "standard error", "leaves"), tuple(tried)),
        Paragraph("The smallest tree within one standard error of the best is taken (Breiman and others, 1984)."),
    ]


def _shares(*shares: float) -> list[str]:
    return [f"{100 * share:.1f} %" for share in shares]


def _fork_page(grown: Tree) -> list[Block]:
    """The tree as a key with numbered forks, which reads the same with and without indentation."""
    page: list[Block] = [
        Heading("The tree as a key"),
        Paragraph(
            "Start at 1 and go on as the answer says. In parentheses: the fork one comes from, and the share of the commonest "
            "class among the training records that came by."
        ),
    ]
    numbers = {place: number for number, place in enumerate(_forks(grown, 0), 1)}
    came_from: dict[int, int] = {}
    for place, number in numbers.items():
        fork = grown.nodes[place]
        origin = f"from {came_from[place]}; " if place in came_from else ""
        page.append(Item(f"{number}.", f"{fork_in_words(fork)}? ({origin}{_commonest(fork, grown)})"))
        for then, words in _answers(fork).items():
            came_from[then] = number
            goes_on = f"go to {numbers[then]}." if then in numbers else f"{_leaf(grown.nodes[then], grown)}."
            page.append(Item(f"{' or '.join(words)}:", goes_on, indent=4))
    return page


def _forks(grown: Tree, place: int) -> Iterator[int]:
    """Places of all forks from `place` on, each before those that it leads to."""
    if grown.nodes[place].reading:
        yield place
        for then in _answers(grown.nodes[place]):
            yield from _forks(grown, then)


def _answers(fork: Node) -> dict[int, list[str]]:
    """Node that comes next → the answers that lead there; a reading that was not made goes on with one of them."""
    answers = {fork.yes: ["yes"], fork.no: ["no"]} if fork.yes != fork.no else {fork.yes: ["yes"]}
    answers.setdefault(fork.untested, []).append("not tested")
    return answers


def _leaf(leaf: Node, grown: Tree) -> str:
    whole = sum(map(len, leaf.substances.values()))
    names = leaf.substances.get(class_of(leaf, grown), ())
    examples = f", such as {', '.join(names[:_MOST_NAMES])}" if names else ""
    return f"{_commonest(leaf, grown)}, {count(whole, 'substance')}{examples}"


def _commonest(node: Node, grown: Tree) -> str:
    return f"{class_of(node, grown)} {percent(max(shares_of(node)))}"
