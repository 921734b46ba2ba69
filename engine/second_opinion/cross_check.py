"""The cross-check: what the decision tree says beside the rules, and where the two part company."""

from __future__ import annotations

import enum
import math
from collections.abc import Callable, Sequence

import msgspec

from spotplate.engine.bench import Frequencies, Parting, parting_of_classes
from spotplate.engine.reasoning import Ranked
from spotplate.engine.record import Record
from spotplate.kb import Interval, KnowledgeBase, to_si

from .tree import Node, Taken, Tree, as_number, class_of, walk

_UNSEEN = 1e-3  # [-] share taken for a class of which nothing came by, so that falls can be compared


class Agreement(enum.StrEnum):
    """The tree says the same as the rules, says nothing (its leaf is too mixed or too small), or says otherwise."""

    AGREES = "agrees"
    SILENT = "silent"
    DISAGREES = "disagrees"


class PathStep(msgspec.Struct, frozen=True):
    """One fork on the way: the reading asked for, its value (empty when it was not made), and the step as a sentence."""

    reading: str
    tested: bool
    value: str
    says: str


class PartsCompany(msgspec.Struct, frozen=True):
    """
    Where the tree leaves the class of the rules, and what would settle it.

    `reading` is that of the fork; `says` tells how the make-up changes there. `settled_by` is the test to do,
    None when every test that could tell has been made: then the reading is worth repeating.
    """

    reading: str
    tested: bool
    says: str
    settled_by: Parting | None


class CrossCheck(msgspec.Struct, frozen=True):
    """
    What the tree says of a record.

    `share` [-] is the share of `class_` among the reference substances of the leaf, `makeup` their number in each
    class and `examples` those of `class_`. `parts_company` is set when the tree disagrees.
    """

    agreement: Agreement
    class_: str
    share: float
    makeup: dict[str, int]
    examples: tuple[str, ...]
    path: tuple[PathStep, ...]
    parts_company: PartsCompany | None


def cross_check(
    record: Record, ranking: Sequence[Ranked], tree: Tree, frequencies: Callable[[], Frequencies], knowledge: KnowledgeBase
) -> CrossCheck:
    """The tree's answer on a record beside the first class of the rules' ranking; `frequencies` is asked only if they differ."""
    way = walk(record.readings, tree)
    leaf = way[-1].then if way else tree.nodes[0]
    class_ = class_of(leaf, tree)
    makeup = {name: len(names) for name, names in leaf.substances.items()}
    whole = sum(makeup.values())
    share = makeup.get(class_, 0) / whole if whole else 0.0
    need = knowledge.second_opinion.tree
    agreement = Agreement.AGREES if class_ == ranking[0].class_ else Agreement.DISAGREES
    if not record.readings or whole < need.substances or share < need.purity:
        agreement = Agreement.SILENT
    parts = None
    if agreement is Agreement.DISAGREES:
        parts = _parts_company(record, way, ranking[0].class_, class_, tree, frequencies(), knowledge)
    return CrossCheck(
        agreement=agreement,
        class_=class_,
        share=share,
        makeup=makeup,
        examples=leaf.substances.get(class_, ()),
        path=tuple(_path_step(taken) for taken in way),
        parts_company=parts,
    )


def _path_step(taken: Taken) -> PathStep:
    tested = taken.value is not None
    return PathStep(taken.fork.reading, tested, str(taken.value) if tested else "", _said(taken))


def _said(taken: Taken) -> str:
    """A step of the way as a sentence."""
    fork, value = taken.fork, taken.value
    if value is None:
        return f"{fork.reading}: not tested, so the tree goes on without it."
    if isinstance(value, Interval) and fork.above is not None:
        side = "above" if as_number(value) > fork.above else "not above"
        return f"{fork.reading}: {value}, {side} {_shown(fork.above, value.unit)}."
    if fork.is_ is None or value == fork.is_:
        return f"{fork.reading}: {value}."
    return f"{fork.reading}: {value}, so not “{fork.is_}”."


def fork_in_words(fork: Node) -> str:
    """What a fork asks: "lustre is metallic", "melting range is above 90 °C", "density was measured"."""
    if fork.is_ is not None:
        return f"{fork.reading} is “{fork.is_}”"
    if fork.above is not None:
        return f"{fork.reading} is above {_shown(fork.above, 'g/cm3' if fork.reading == 'density' else '°C')}"
    return f"{fork.reading} was measured"


def _shown(number: float, unit: str) -> str:
    """A number in SI in the unit that the reading was written in."""
    zero, one = to_si(0.0, unit), to_si(1.0, unit)
    return f"{(number - zero) / (one - zero):.4g} {unit}"


def _parts_company(
    record: Record,
    way: Sequence[Taken],
    of_rules: str,
    of_tree: str,
    tree: Tree,
    frequencies: Frequencies,
    knowledge: KnowledgeBase,
) -> PartsCompany:
    """The fork after which the class of the rules loses most against that of the tree."""
    places = tree.classes.index(of_rules), tree.classes.index(of_tree)
    turn = max(way, key=lambda taken: _odds(taken.then, *places[::-1]) - _odds(taken.fork, *places[::-1]))
    reading = turn.fork.reading
    before, after = (_percent(node, places[0]) for node in (turn.fork, turn.then))
    says = f"{_said(turn)} Before this, {before} of the reference records that came by were {of_rules}; after it, {after}."
    return PartsCompany(
        reading=reading,
        tested=turn.value is not None,
        says=says,
        settled_by=parting_of_classes(record, of_rules, of_tree, frequencies, knowledge),
    )


def _odds(node: Node, of: int, against: int) -> float:
    """Logarithm of the odds of one class against another at a node."""
    whole = sum(node.shares)
    return math.log((node.shares[of] / whole + _UNSEEN) / (node.shares[against] / whole + _UNSEEN))


def _percent(node: Node, place: int) -> str:
    return f"{100 * node.shares[place] / sum(node.shares):.0f} %"
