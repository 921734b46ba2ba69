"""One module for each kind of question: which items it can ask, and how it poses one of them."""

from __future__ import annotations

import importlib
from typing import Protocol

from spotplate.engine.quiz.material import Material
from spotplate.engine.quiz.question import Item, Kind, Question

__all__ = ["Asking", "asking"]


class Asking(Protocol):
    """What every module of this folder can do."""

    def items(self, material: Material) -> tuple[Item, ...]:
        """Every item that can be asked of this material."""

    def pose(self, item: Item, draw: int, material: Material) -> Question | None:
        """The question that a draw gives, always the same; None where it gives no good one."""


def asking(kind: Kind) -> Asking:
    """The module for a kind of question; only what is asked is imported."""
    module: Asking = importlib.import_module(f".{kind.replace(' ', '_').replace('-', '_')}", __package__)
    return module
