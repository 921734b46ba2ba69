"""Finding a substance of the reference table by any of its names, its formula or its CAS number."""

from __future__ import annotations

import re
from collections.abc import Sequence

from spotplate.datasets import Substance, load_substances
from spotplate.kb import Fault, FaultyInputError, not_accepted, shown

_MOST_TOLD = 6
_SHORT = 3  # letters; the s at the end of so short a name makes no plural
_OUR_SPELLING = (("sulph", "sulf"), ("aluminum", "aluminium"), ("gray", "grey"))


def find_substance(name: str) -> Substance:
    """
    The substance that `name` means: a label name, another common name, a formula or a CAS number.

    Raises
    ------
    FaultyInputError
        When nothing has this name, or a formula or number belongs to several substances
    """
    substances = load_substances()
    exact = [substance for substance in substances if substance.formula and substance.formula == name.strip()]
    by_name = [substance for substance in substances if _spoken(name) in _names(substance)]
    by_number = [substance for substance in substances if _folded(name) in _formula_and_cas(substance)]
    if len(exact) == 1 and not by_name:
        return exact[0]  # Co is cobalt, CO carbon monoxide
    for found in (by_name, by_number):
        if len(found) == 1:
            return found[0]
        if found:
            raise FaultyInputError([Fault("", _ambiguous(name, found))])
    known = [spelling for substance in substances for spelling in substance.names()]
    says = not_accepted(name, "a substance of the reference table", known, most=0)
    if holding := [spelling for spelling in known if _words(name) and _words(name) <= _words(spelling)]:
        told = ", ".join(map(repr, holding[:_MOST_TOLD])) + (", …" if len(holding) > _MOST_TOLD else "")
        meant = f"did you mean one of these: {told}?" if len(holding) > 1 else f"did you mean {told}?"
        says = f"{shown(name)} is not a substance of the reference table; {meant}"
    raise FaultyInputError([Fault("", says)])


def _ambiguous(name: str, found: Sequence[Substance]) -> str:
    """Sentence that a name is not enough, with the substances it may mean and the table's remark on each."""
    told = []
    for substance in found:
        remarks = [_parted(other)[1] for other in substance.other_names.split(";") if _spoken(_parted(other)[0]) == _spoken(name)]
        told.append(f"{substance.name!r} ({remarks[0]})" if remarks and remarks[0] else repr(substance.name))
    return f"{shown(name)} may mean several substances; give one of these names: {', '.join(told)}."


def _words(text: str) -> set[str]:
    """The words of a name without oxidation numbers, so that "copper sulfate" leads to copper(II) sulfate."""
    return set(re.sub(r"\([ivx,]+\)", " ", _folded(text)).split())


def _names(substance: Substance) -> set[str]:
    """Every name as it is compared; the remark behind another name need not be typed."""
    others = substance.names()[1:]
    return {_spoken(name) for name in (*substance.names(), *(_parted(other)[0] for other in others))}


def _parted(other_name: str) -> tuple[str, str]:
    """Another name and the remark that may stand behind it: "chalk (natural)"."""
    found = re.fullmatch(r"(.+?)(?: \((.+)\))?", other_name.strip())
    return (found[1], found[2] or "") if found else (other_name, "")


def _formula_and_cas(substance: Substance) -> set[str]:
    return {_folded(substance.formula), substance.cas} - {""}


def _spoken(name: str) -> str:
    """A name as it is compared: mothballs are moth balls, and a moth ball is one of them."""
    joined = re.sub(r"[ -]", "", _folded(name))
    return joined.removesuffix("s") if len(joined) > _SHORT and not joined.endswith("ss") else joined


def _folded(text: str) -> str:
    """Case, spaces, the signs that stand for a hydrate dot and the two spellings of English do not matter."""
    signs = text.casefold().replace("*", "·").replace("•", "·").replace(".", "·")
    for other, ours in _OUR_SPELLING:
        signs = signs.replace(other, ours)
    return " ".join(signs.split())
