"""Finding a substance of the reference table by any of its names, its formula or its CAS number."""

from __future__ import annotations

import functools
import re
import unicodedata
from collections.abc import Sequence

import msgspec

from spotplate.datasets import Substance, load_substances
from spotplate.kb import Fault, FaultyInputError, shown

_MOST_TOLD = 6
_MOST_NEAR = 3
_NEAR = 0.72  # share of letters in common [-] from which on a spelling counts as near
_FARTHER = 0.1  # share [-] by which a spelling may be farther than the nearest one and still be named
_AS_NEAR = 0.03  # share [-] within which spellings are as near as one another
_LONGEST = 80  # letters of a name that are compared for nearness
_SHORT = 3  # letters; the s at the end of so short a name makes no plural
_OUR_SPELLING = (("sulph", "sulf"), ("aluminum", "aluminium"), ("gray", "grey"))
_HYDRATE_DOTS = str.maketrans(dict.fromkeys("*•.⋅∙‧", "·"))
_HYPHENS = str.maketrans(dict.fromkeys("‐‑‒–—−", "-"))


class Meaning(msgspec.Struct, frozen=True):
    """
    What a name means in the reference table: one substance, or why none of them can be taken without asking.

    `may_mean` holds the substances that go by this very name, `near` spellings that resemble it or hold its words, each of
    which leads to one substance; both are empty when one was found, and `says` is, too.
    """

    substance: Substance | None = None
    may_mean: tuple[Substance, ...] = ()
    near: tuple[str, ...] = ()
    says: str = ""
    remark: str = ""


def find_substance(name: str) -> Substance:
    """
    The substance that `name` means: a label name, another common name, a formula or a CAS number.

    Raises
    ------
    FaultyInputError
        When nothing has this name, or a formula or number belongs to several substances
    """
    meaning = meaning_of(name)
    if meaning.substance is None:
        raise FaultyInputError([Fault("", meaning.says)])
    return meaning.substance


def meaning_of(name: str) -> Meaning:
    """The substance that `name` means, or what it may mean: nothing near is ever taken for the name itself."""
    index = _index()
    exact = index.formulas.get(unicodedata.normalize("NFKC", name).strip(), ())
    by_name = index.names.get(_spoken(name), ())
    if len(exact) == 1 and not by_name:
        return Meaning(exact[0])  # Co is cobalt, CO carbon monoxide
    for found in (by_name, index.numbers.get(_folded(name), ())):
        if len(found) == 1:
            return Meaning(found[0], remark=_remark(name, found[0]))
        if found:
            return Meaning(may_mean=found, says=_ambiguous(name, found))
    unknown = f"{shown(name)} is not a substance of the reference table"
    if _is_wrong_number(name):
        return Meaning(says=f"{shown(name)} is not a CAS number: its last digit does not fit the others.")
    if holding := _holding(name):
        told = ", ".join(map(repr, holding[:_MOST_TOLD])) + (", …" if len(holding) > _MOST_TOLD else "")
        meant = f"did you mean one of these: {told}?" if len(holding) > 1 else f"did you mean {told}?"
        return Meaning(near=tuple(holding[:_MOST_TOLD]), says=f"{unknown}; {meant}")
    near = _near(name) or _held(name)
    alike = [written for likeness, written in near if likeness > near[0][0] - _AS_NEAR]
    meant = f"; did you mean {' or '.join(map(repr, alike))}?" if alike else "."
    return Meaning(near=tuple(written for _, written in near), says=f"{unknown}{meant}")


def hydrates_of(substance: Substance) -> tuple[Substance, ...]:
    """The substances of the table that are the same one with crystal water."""
    begins, words = f"{substance.formula}·", _words(substance.name)
    # Lactose has the formula of sucrose, but no word of its name.
    return tuple(
        other
        for other in load_substances()
        if substance.formula and other.formula.startswith(begins) and words & _words(other.name)
    )


def _holding(name: str) -> list[str]:
    """Spellings that hold all words of a name, or substances whose formula has crystal water beyond it."""
    words, begins = _words(name), f"{_folded(name)}·"
    by_words = [spelling.written for spelling in _spellings() if words and words <= spelling.words]
    return by_words or [other.name for other in load_substances() if _folded(other.formula).startswith(begins)]


def _held(name: str) -> list[tuple[float, str]]:
    """Spellings of which all words stand in a name ("deionised water"), the longest one; likeness [-] is the share of words."""
    words = _words(name)
    held = [(len(spelling.words) / len(words), spelling.written) for spelling in _spellings() if spelling.words < words]
    most = max((share for share, _ in held), default=0.0)
    return [entry for entry in held if entry[0] == most][:_MOST_NEAR]


def _is_wrong_number(name: str) -> bool:
    """Whether a CAS number has a check digit that does not fit: the sum of its digits, each times its place from the end."""
    found = re.fullmatch(r"(\d{2,7})-(\d\d)-(\d)", _folded(name), re.ASCII)
    if not found:
        return False
    digits = (found[1] + found[2])[::-1]
    return sum(place * int(digit) for place, digit in enumerate(digits, 1)) % 10 != int(found[3])


class _Index(msgspec.Struct, frozen=True):
    """The table by formulas as written, by names, and by formulas and CAS numbers as they are compared."""

    formulas: dict[str, tuple[Substance, ...]]
    names: dict[str, tuple[Substance, ...]]
    numbers: dict[str, tuple[Substance, ...]]


@functools.cache
def _index() -> _Index:
    """Worked out once, since a cupboard asks for hundreds of names."""
    index = _Index({}, {}, {})
    for substance in load_substances():
        written = {unicodedata.normalize("NFKC", substance.formula)} - {""}
        for keys, table in (
            (written, index.formulas),
            (_names(substance), index.names),
            (_formula_and_cas(substance), index.numbers),
        ):
            for key in keys:
                table[key] = (*table.get(key, ()), substance)
    return index


class _Spelling(msgspec.Struct, frozen=True):
    """A name as it stands in the table and as it is compared for nearness."""

    written: str
    substance: str
    core: str
    words: frozenset[str]
    pairs: frozenset[str]


@functools.cache
def _spellings() -> tuple[_Spelling, ...]:
    """Every name of the table; only needed for a name that is none of them."""
    return tuple(
        _Spelling(name, substance.name, core := _core(name), frozenset(_words(name)), _pairs(core))
        for substance in load_substances()
        for name in substance.names()
    )


def _near(name: str) -> list[tuple[float, str]]:
    """Likeness [-] and spelling of the names that resemble `name`, the nearest first, one for each substance."""
    import difflib  # only for a message, and slow to import

    asked = _core(name)
    pairs = _pairs(asked)
    matcher = difflib.SequenceMatcher(b=asked, autojunk=False)
    found: dict[str, tuple[float, str]] = {}
    for spelling in _spellings():
        # Spellings with few pairs of letters in common cannot be near; counting them is far quicker than matching.
        if 3 * len(pairs & spelling.pairs) < len(pairs | spelling.pairs):
            continue
        matcher.set_seq1(spelling.core)
        likeness = matcher.ratio()
        if likeness >= _NEAR and likeness > found.get(spelling.substance, (0.0, ""))[0]:
            found[spelling.substance] = likeness, spelling.written
    whole = _folded(name)  # parts copper(I) from copper(II) where the cores are alike
    ratio = difflib.SequenceMatcher(b=whole, autojunk=False)

    def order(entry: tuple[float, str]) -> tuple[float, float]:
        ratio.set_seq1(_folded(entry[1]))
        return -entry[0], -ratio.ratio()

    nearest = sorted(found.values(), key=order)[:_MOST_NEAR]
    return [entry for entry in nearest if entry[0] >= nearest[0][0] - _FARTHER]


def _core(name: str) -> str:
    """A name as it is compared for nearness: labels often leave out oxidation numbers and crystal water."""
    kept = re.sub(r"\([ivx,]+\)|\b(anhydrous|\w*hydrate)\b", " ", _folded(name)[:_LONGEST])
    return " ".join(kept.split())


def _pairs(folded: str) -> frozenset[str]:
    """Pairs of letters that follow one another."""
    return frozenset(folded[place : place + 2] for place in range(len(folded) - 1))


def _ambiguous(name: str, found: Sequence[Substance]) -> str:
    """Sentence that a name is not enough, with the substances it may mean and the table's remark on each."""
    told = []
    for substance in found:
        remark = _remark(name, substance)
        told.append(f"{substance.name!r} ({remark})" if remark else repr(substance.name))
    return f"{shown(name)} may mean several substances; give one of these names: {', '.join(told)}."


def _remark(name: str, substance: Substance) -> str:
    """What the table remarks on a name of a substance."""
    parted = map(_parted, substance.names()[1:])
    return next((remark for other, remark in parted if remark and _spoken(other) == _spoken(name)), "")


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
    """Case, spaces, small figures, the signs that stand for a hydrate dot and the two spellings of English do not matter."""
    signs = unicodedata.normalize("NFKC", text).casefold().translate(_HYDRATE_DOTS).translate(_HYPHENS)
    for other, ours in _OUR_SPELLING:
        signs = signs.replace(other, ours)
    return " ".join(signs.split())
