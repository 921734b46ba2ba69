"""The identification key in numbered lines, and as a tree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from spotplate.cli.views.words import listed
from spotplate.engine.sets import Key, KeyBranch, KeyStep
from spotplate.engine.sets.key_drawing import step_in_words

from .model import Table, Tree, Twig


def key_lines(key: Key, names: Mapping[str, str]) -> Iterator[Table]:
    """Every step with its answers; `names` maps the labels to their substances."""
    rows = []
    for step in key.steps:
        asked = step_in_words(step)
        for place, branch in enumerate(step.branches):
            leads = f"go to {branch.goes_to}" if branch.goes_to is not None else _end(branch, names)
            rows.append((str(step.number) if not place else "", asked if not place else "", branch.reads, leads))
    yield Table("The key, step by step", ("step", "look at", "read as", "leads to"), tuple(rows), widths=(0.4, 1.6, 1.5, 2.0))


def key_tree(key: Key, names: Mapping[str, str]) -> Tree:
    """The same as a drawing."""
    steps = {step.number: step for step in key.steps}
    first = key.steps[0]
    twigs = [Twig(0, (), True, "", f"{first.number} {step_in_words(first)}", False), *_below(first, steps, names, ())]
    return Tree("The key as a tree: a step and, below it, its answers with what follows.", tuple(twigs))


def _below(step: KeyStep, steps: Mapping[int, KeyStep], names: Mapping[str, str], goes_on: Sequence[bool]) -> Iterator[Twig]:
    for place, branch in enumerate(step.branches):
        last = place == len(step.branches) - 1
        following = steps[branch.goes_to] if branch.goes_to is not None else None
        says = f"{following.number} {step_in_words(following)}" if following else _end(branch, names)
        yield Twig(len(goes_on) + 1, tuple(goes_on), last, branch.reads, says, following is None)
        if following:
            yield from _below(following, steps, names, (*goes_on, not last))


def _end(branch: KeyBranch, names: Mapping[str, str]) -> str:
    return listed([f"{label} {names[label]}" for label in branch.vials], "or")
