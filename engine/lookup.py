"""Finding a substance of the reference table by any of its names, its formula or its CAS number."""

from __future__ import annotations

import re

from spotplate.datasets import Substance, load_substances
from spotplate.kb import Fault, FaultyInputError, not_accepted, shown

_MOST_TOLD = 6


def find_substance(name: str) -> Substance:
    """
    The substance that `name` means: a label name, another common name, a formula or a CAS number.

    Raises
    ------
    FaultyInputError
        When nothing has this name, or a formula or number belongs to several substances
    """
    substances = load_substances()
    wanted = _folded(name)
    exact = [substance for substance in substances if substance.formula and substance.formula == name.strip()]
    if len(exact) == 1 and not any(wanted in _names(substance) for substance in substances):
        return exact[0]  # Co is cobalt, CO carbon monoxide
    for key in (_names, _formula_and_cas):
        found = [substance for substance in substances if wanted in key(substance)]
        if len(found) == 1:
            return found[0]
        if found:
            listed = ", ".join(substance.name for substance in found)
            raise FaultyInputError([Fault("", f"{name!r} may mean several substances: {listed}. Give one of these names.")])
    known = [spelling for substance in substances for spelling in substance.names()]
    says = not_accepted(name, "a substance of the reference table", known, most=0)
    if holding := [spelling for spelling in known if _words(name) and _words(name) <= _words(spelling)]:
        told = ", ".join(map(repr, holding[:_MOST_TOLD])) + (", …" if len(holding) > _MOST_TOLD else "")
        says = f"{shown(name)} is not a substance of the reference table; did you mean one of these: {told}?"
    raise FaultyInputError([Fault("", says)])


def _words(text: str) -> set[str]:
    """The words of a name without oxidation numbers, so that "copper sulfate" leads to copper(II) sulfate."""
    return set(re.sub(r"\([ivx,]+\)", " ", _folded(text)).split())


def _names(substance: Substance) -> set[str]:
    return {_folded(name) for name in substance.names()}


def _formula_and_cas(substance: Substance) -> set[str]:
    return {_folded(substance.formula), substance.cas} - {""}


def _folded(text: str) -> str:
    """Case, spaces and the signs that stand for a hydrate dot do not matter."""
    return " ".join(text.casefold().replace("*", "·").replace("•", "·").replace(".", "·").split())
