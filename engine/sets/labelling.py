"""What a label tells of hazards: signal word, pictograms in words, hazard statements."""

from __future__ import annotations

from collections.abc import Collection, Iterable

import msgspec

from spotplate.datasets import HazardStatement, load_label_elements

SIGNAL_WORDS = ("Danger", "Warning")  # the stronger one first; with it, the weaker one is left out
PICTOGRAMS = (
    "flame", "flame over circle", "gas cylinder", "corrosion", "skull and crossbones", "exclamation mark", "health hazard",
    "environment",
)  # fmt: skip
_EXCLAMATION = "exclamation mark"
_CORROSION = frozenset({"H290", "H314", "H318"})
_SKULL = frozenset({"H300", "H301", "H310", "H311", "H330", "H331"})
# United Nations, GHS, 1.4.10.5.3.1, from memory: with one of the first, the second need no exclamation mark of their own.
_PRECEDENCE: tuple[tuple[frozenset[str], frozenset[str]], ...] = (
    (_SKULL, frozenset({"H302", "H312", "H332"})),
    (_CORROSION, frozenset({"H315", "H319"})),
    (frozenset({"H334"}), frozenset({"H315", "H317", "H319"})),
)


class HazardLabel(msgspec.Struct, frozen=True):
    """
    What a label tells of hazards; all of it empty where there are none.

    `open_codes` are those whose category, which the reference table does not tell, decides between two signal words;
    the stronger one stands on the label.
    """

    signal_word: str = ""
    pictograms: tuple[str, ...] = ()
    statements: tuple[HazardStatement, ...] = ()
    open_codes: tuple[str, ...] = ()

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes of its statements."""
        return tuple(statement.code for statement in self.statements)


def hazard_label(codes: Iterable[str]) -> HazardLabel:
    """
    The label for these hazard codes, the same whatever their order.

    Examples
    --------
    >>> label = hazard_label(["H319", "H302"])
    >>> label.signal_word, label.pictograms
    ('Warning', ('exclamation mark',))
    """
    table = load_label_elements()
    wanted = frozenset(codes)
    statements = tuple(statement for code, statement in table.items() if code in wanted)
    words = {word for statement in statements for word in statement.signal_words[:1]}
    return HazardLabel(
        next((word for word in SIGNAL_WORDS if word in words), ""),
        _pictograms(statements, wanted),
        statements,
        _open(statements),
    )


def _pictograms(statements: Iterable[HazardStatement], codes: Collection[str]) -> tuple[str, ...]:
    spared = {code for causes, others in _PRECEDENCE if causes.intersection(codes) for code in others}
    shown = {
        statement.pictogram for statement in statements if not (statement.pictogram == _EXCLAMATION and statement.code in spared)
    }
    return tuple(name for name in PICTOGRAMS if name in shown)


def _open(statements: Iterable[HazardStatement]) -> tuple[str, ...]:
    """Codes with two signal words, unless another code settles for the stronger one."""
    settled = any(statement.signal_words == SIGNAL_WORDS[:1] for statement in statements)
    return () if settled else tuple(statement.code for statement in statements if len(statement.signal_words) > 1)
