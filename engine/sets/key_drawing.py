"""An identification key as a numbered text, as a tree of text, and as places and lines for a drawing."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import msgspec

from .key import Key, KeyBranch, KeyStep


class DrawnNode(msgspec.Struct, frozen=True):
    """
    A box of the drawing: a step with its number, or the end of a way, where `vials` are left and `step` is None.

    `along` is its place across the drawing, in ends of ways, and `depth` how many steps lie before it [-].
    """

    along: float
    depth: int
    text: str
    step: int | None
    vials: tuple[str, ...]


class DrawnLine(msgspec.Struct, frozen=True):
    """A line from one box to another, by their places in the list of boxes, and the reading that stands at it."""

    from_node: int
    to_node: int
    reads: str


class KeyDrawing(msgspec.Struct, frozen=True):
    """Boxes and lines; `ends` is the number of ends of ways beside one another, `depth` the largest number of steps."""

    nodes: tuple[DrawnNode, ...]
    lines: tuple[DrawnLine, ...]
    ends: int
    depth: int


def key_in_words(key: Key, names: Mapping[str, str] | None = None) -> tuple[str, ...]:
    """
    The key as numbered lines, as they read best on paper and in a screen reader.

    Parameters
    ----------
    key : Key
        The key
    names : mapping, optional
        Label → what to call the vial; "vial A" when not given

    Returns
    -------
    tuple of str
        A line for each step, followed by one for each of its branches, set in by three blanks
    """
    if not key.steps:
        return (f"There is nothing to do: {_called(key.vials, names)}.",)
    lines = []
    for step in key.steps:
        lines.append(f"{step.number}. {step_in_words(step)}:")
        lines += [f"   {branch.reads} … {_leads(branch, names)}" for branch in step.branches]
    return tuple(lines)


def step_in_words(step: KeyStep) -> str:
    """What to do and to look for: `water test, in water`; a test that was just done is not named again."""
    asks = _asks(step)
    origin = f" (from {step.came_from})" if step.came_from and step.came_from != step.number - 1 else ""
    unknown = f" (not known of {_called(step.not_known, None)}, so in every branch)" if step.not_known else ""
    return f"{asks}{origin}{unknown}"


def _leads(branch: KeyBranch, names: Mapping[str, str] | None) -> str:
    return f"go to {branch.goes_to}" if branch.goes_to else _called(branch.vials, names)


def _called(vials: Sequence[str], names: Mapping[str, str] | None) -> str:
    called = [names.get(vial, vial) if names else vial for vial in vials]
    listed = called[0] if len(called) == 1 else f"{', '.join(called[:-1])} or {called[-1]}"
    return listed if names else f"vial {listed}"


def key_as_tree(key: Key, names: Mapping[str, str] | None = None, *, unicode: bool = True) -> tuple[str, ...]:
    """The key as a tree of text: each answer hangs under its step, with the way that it leads."""
    if not key.steps:
        return (_called(key.vials, names),)
    fork, last, passing, blank = ("├─ ", "└─ ", "│  ", "   ") if unicode else ("+- ", "`- ", "|  ", "   ")
    steps = {step.number: step for step in key.steps}
    lines = [f"1. {_asks(steps[1])}?"]

    def grow(step: KeyStep, margin: str) -> None:
        for branch in step.branches:
            ends = branch is step.branches[-1]
            if branch.goes_to is None:
                lines.append(f"{margin}{last if ends else fork}{branch.reads}: {_called(branch.vials, names)}")
                continue
            then = steps[branch.goes_to]
            lines.append(f"{margin}{last if ends else fork}{branch.reads}: {then.number}. {_asks(then)}?")
            grow(then, margin + (blank if ends else passing))

    grow(steps[1], "")
    return tuple(lines)


def _asks(step: KeyStep) -> str:
    """The test and its reading; the reading alone where the test was just done, or has no other name."""
    told = not step.new_test or step.test in (step.reading, f"{step.reading} test")
    return step.reading if told else f"{step.test}, {step.reading}"


def key_drawing(key: Key, names: Mapping[str, str] | None = None) -> KeyDrawing:
    """Where the boxes of a drawing stand, with no lines crossing: ends of ways beside one another, each step over its own."""
    steps = {step.number: step for step in key.steps}
    nodes: list[DrawnNode] = []
    lines: list[DrawnLine] = []
    ends = 0

    def end(vials: tuple[str, ...], depth: int) -> int:
        nonlocal ends
        nodes.append(DrawnNode(float(ends), depth, _called(vials, names), None, vials))
        ends += 1
        return len(nodes) - 1

    def put(number: int, depth: int) -> int:
        step = steps[number]
        below = [
            end(branch.vials, depth + 1) if branch.goes_to is None else put(branch.goes_to, depth + 1) for branch in step.branches
        ]
        along = (nodes[below[0]].along + nodes[below[-1]].along) / 2
        vials = tuple(vial for vial in key.vials if any(vial in branch.vials for branch in step.branches))
        nodes.append(DrawnNode(along, depth, _asks(step), number, vials))
        lines.extend(DrawnLine(len(nodes) - 1, place, branch.reads) for place, branch in zip(below, step.branches, strict=True))
        return len(nodes) - 1

    if steps:
        put(1, 0)
    else:
        end(key.vials, 0)
    return KeyDrawing(tuple(nodes), tuple(lines), ends, max(node.depth for node in nodes))
