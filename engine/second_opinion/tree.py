"""The decision tree that cross-checks the rules: a few lines that walk it, without scikit-learn."""

from __future__ import annotations

import functools
import math
from collections.abc import Sequence

import msgspec

from spotplate.datasets import tree_data
from spotplate.engine.record import Readings, ReadValue
from spotplate.kb import Interval


class Node(msgspec.Struct, frozen=True, omit_defaults=True):
    """
    A fork or a leaf.

    A fork asks whether a reading is a word (`is_`), whether a number lies above `above` [SI], or, with neither, whether
    the reading was made at all; `yes`, `no` and `untested` are the places of the nodes to go on to. A leaf asks for no
    reading. `shares` holds the weight of each class among the training records that came by [-], in the order of
    the tree's classes; `substances` of a leaf names the reference substances of each class that got here, with a
    tenth of their records at least.
    """

    shares: tuple[float, ...]
    reading: str = ""
    is_: str | None = None
    above: float | None = None
    yes: int = 0
    no: int = 0
    untested: int = 0
    substances: dict[str, tuple[str, ...]] = {}


class Settings(msgspec.Struct, frozen=True):
    """
    How the tree was grown: depth and leaf size [substances] by cross-validation, from this seed.

    `training_checksum` is the CRC-32 of the training table: features, labels and weights of every record.
    """

    seed: int
    depth: int
    leaf: float
    partial_records: int
    training_checksum: str
    scikit_learn: str


class Tried(msgspec.Struct, frozen=True):
    """One depth and leaf size in the cross-validation: share right [-] on substances left out, its standard error [-]."""

    depth: int
    leaf: float
    right: float
    error: float
    leaves: float


class TreeReport(msgspec.Struct, frozen=True):
    """
    How the tree does on substances left out of its training: shares right [-] and counts of full records.

    `confusion` maps the true class to how many full records (likeliest one of each substance) the tree gives each class.
    """

    tried: tuple[Tried, ...]
    right_full: float
    right_partial: float
    confusion: dict[str, dict[str, int]]


class Tree(msgspec.Struct, frozen=True):
    """The tree as plain data; the first node is the root."""

    classes: tuple[str, ...]
    settings: Settings
    report: TreeReport
    nodes: tuple[Node, ...]


class Taken(msgspec.Struct, frozen=True):
    """One step of the way down: the fork, what was read there (None when nothing), and the node that came next."""

    fork: Node
    value: ReadValue | None
    then: Node


@functools.cache
def load_tree() -> Tree:
    """The shipped tree."""
    return msgspec.json.decode(tree_data(), type=Tree)


def walk(readings: Readings, tree: Tree) -> tuple[Taken, ...]:
    """The way of a record from the root to its leaf."""
    node = tree.nodes[0]
    taken = []
    while node.reading:
        value = readings.get(node.reading)
        then = tree.nodes[_next(node, value)]
        taken.append(Taken(node, value, then))
        node = then
    return tuple(taken)


def leaf_of(readings: Readings, tree: Tree) -> Node:
    """Where a record ends."""
    way = walk(readings, tree)
    return way[-1].then if way else tree.nodes[0]


def class_of(node: Node, tree: Tree) -> str:
    """The commonest class among what came by a node; of equals the first in the tree's order."""
    return tree.classes[max(range(len(node.shares)), key=node.shares.__getitem__)]


def _next(fork: Node, value: ReadValue | None) -> int:
    if value is None:
        return fork.untested
    if isinstance(value, Interval):
        holds = fork.above is None or as_number(value) > fork.above
    else:
        holds = fork.is_ is None or value == fork.is_
    return fork.yes if holds else fork.no


def as_number(value: Interval) -> int:
    """
    A measured number as the tree sees it: its middle in whole SI units, of an open range one beyond its end.

    Whole numbers, since scikit-learn keeps numbers in single precision.
    """
    if math.isinf(value.high):
        return round(value.low) + 1
    if math.isinf(value.low):
        return round(value.high) - 1
    return round((value.low + value.high) / 2)


def shares_of(node: Node) -> Sequence[float]:
    """The weights of the classes at a node, summing to 1 [-]."""
    whole = sum(node.shares)
    return [share / whole for share in node.shares]
