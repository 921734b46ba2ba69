"""Readings, classes and lists in sentences, and which sentences may be said at all."""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence

from spotplate.datasets import Substance, load_substances
from spotplate.engine.record import ReadValue
from spotplate.kb import KnowledgeBase, load_knowledge
from spotplate.kb.quiz.phrases import load_phrases

from .material import Material, Secrecy

NO_MEANING = frozenset({"signs of separate molecules"})  # facts that speak of readings and not of particles
_IRREGULAR = {"is": "are", "has": "have", "does": "do", "goes": "go"}
_GROUPS = {
    "ionic": "ionic {}",
    "metallic": "metals",
    "polar molecular": "polar molecular {}",
    "nonpolar molecular": "nonpolar molecular {}",
    "covalent network": "network {}",
}
_SPOKEN_OF_KINDS = {"salt"}  # names that are said of a whole kind of substances as well
_CLASS_WORDS = re.compile(r"\b(ionic|metal\w*|molecul\w+|networks?|covalent|salts?|graphite|hydrates?)\b", re.IGNORECASE)


def phrase(reading: str, value: ReadValue) -> str:
    """What a reading says of a substance, as the rest of a sentence that begins with "It"."""
    words = load_phrases().get(reading, {})
    return words.get(str(value), f"shows “{value}” for “{reading}”")


def plain_form(said: str) -> str:
    """
    A phrase with its verb in the plural.

    Examples
    --------
    >>> plain_form("dissolves in water"), plain_form("is a solid")
    ('dissolve in water', 'are a solid')
    """
    verb, _, rest = said.partition(" ")
    regular = verb.removesuffix("es") if verb.endswith("hes") else verb.removesuffix("s")
    return f"{_IRREGULAR.get(verb, regular)} {rest}".strip()


def expected(said: str) -> str:
    """
    A phrase as it follows "one would expect it".

    Examples
    --------
    >>> expected("is a solid"), expected("does not burn")
    ('to be a solid', 'not to burn')
    """
    plain = re.sub(r"^are\b", "be", plain_form(said))
    return f"not to {plain.removeprefix('do not ')}" if plain.startswith("do not ") else f"to {plain}"


def lowered(text: str) -> str:
    """Text with a small letter at its beginning, so that it goes on a sentence; a name keeps its capital."""
    return text if text.startswith("London") else text[:1].lower() + text[1:]


def group(class_: str, state: str = "") -> str:
    """
    The substances of a class, in the plural.

    Examples
    --------
    >>> group("ionic", "solid"), group("metallic", "solid"), group("polar molecular")
    ('ionic solids', 'metals', 'polar molecular substances')
    """
    noun = {"solid": "solids", "liquid": "liquids", "gas": "gases"}.get(state, "substances")
    return _GROUPS.get(class_, f"{class_} {{}}").format(noun)


def listed(names: Sequence[str], last: str = "and") -> str:
    """
    Words in a row, as one says them.

    Examples
    --------
    >>> listed(("ionic", "covalent network"), "or"), listed(("look", "scratch", "magnet"))
    ('ionic or covalent network', 'look, scratch and magnet')
    """
    *others, final = names
    return f"{', '.join(others)} {last} {final}" if others else final


def quoted(words: Sequence[str]) -> str:
    """
    Values of a reading in a row, in quotes, since some of them hold an "or" themselves.

    Examples
    --------
    >>> quoted(("melts", "burns or chars"))
    '“melts” or “burns or chars”'
    """
    return listed([f"“{word}”" for word in words], "or")


def with_article(words: str) -> str:
    """
    A noun with its indefinite article.

    Examples
    --------
    >>> with_article("ionic substance"), with_article("polar molecular substance")
    ('an ionic substance', 'a polar molecular substance')
    """
    return f"{'an' if words[:1].casefold() in 'aeiou' else 'a'} {words}"


def substance_of(class_: str) -> str:
    """
    What one calls a substance of a class, with its article.

    Examples
    --------
    >>> substance_of("ionic"), substance_of("metallic"), substance_of("covalent network")
    ('an ionic substance', 'a metallic substance', 'a covalent network substance')
    """
    return with_article(f"{class_} substance")


def capitalised(words: str) -> str:
    """
    Words that begin a sentence; all letters but the first stay as they are.

    Examples
    --------
    >>> capitalised("iron(III) oxide"), capitalised("“hot plate test” first")
    ('Iron(III) oxide', '“hot plate test” first')
    """
    return words[:1].upper() + words[1:]


def sentence(text: str) -> str:
    """Text with a capital letter at its beginning and a stop at its end."""
    text = text.strip()
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "?", "!")) else ".")


def special_of(substance: Substance, knowledge: KnowledgeBase, *, named: bool = True) -> str:
    """
    The sentence on what is awkward about a substance, or else about its finer kind; empty where there is neither.

    What is true of a finer kind at large need not hold for a substance that has a sentence of its own, which names it.
    """
    if substance.exception:
        return re.sub(r"^It\b", capitalised(substance.name), substance.exception) if named else ""
    return knowledge.subtypes[substance.subtype].because if substance.subtype else ""


def may_be_said(text: str, material: Material, *, supposed: bool = False) -> bool:
    """
    Whether a text of the knowledge base tells nothing that the material keeps secret: names, or even classes.

    What is only `supposed`, of a value that was not read, may speak of kinds of particles all the same.
    """
    if material.secrecy is Secrecy.NAMES:
        return True
    if _named_in(text):
        return False
    return supposed or material.secrecy is Secrecy.CLASSES or not _CLASS_WORDS.search(text)


@functools.lru_cache(maxsize=4096)
def _named_in(text: str) -> bool:
    return bool(_names_of_substances().search(text) or _formulas_of_substances().search(text))


@functools.cache
def _names_of_substances() -> re.Pattern[str]:
    """Every name of the reference table, but for those that the bench tests themselves speak of, such as water."""
    names = {
        name.strip(" )").casefold()
        for substance in load_substances()
        for name in (*substance.names(), *(part.partition("(")[0] for part in substance.name.split(";")))
        if name.strip()
    } - _SPOKEN_OF_KINDS
    kept = sorted((re.escape(name) for name in names if not _is_spoken(name)), key=lambda name: -len(name))
    return re.compile(rf"\b(?:{'|'.join(kept)})\b", re.IGNORECASE)


@functools.cache
def _formulas_of_substances() -> re.Pattern[str]:
    """Every formula of the reference table that no word or symbol is mistaken for, as In or C would be."""
    formulas = {substance.formula for substance in load_substances() if not _is_spoken(substance.name)}
    told = [re.escape(formula) for formula in formulas if re.search(r"[A-Z].*(?:\d|[A-Z])", formula)]
    return re.compile(rf"(?<!\w)(?:{'|'.join(sorted(told, key=lambda formula: -len(formula)))})(?!\w)")


def _is_spoken(name: str) -> bool:
    """Whether the bench tests speak of it."""
    return f" {name} " in _spoken()


@functools.cache
def _spoken() -> str:
    return f" {re.sub(r'[^a-z]+', ' ', ' '.join(_bench_words(load_knowledge())).casefold())} "


def _bench_words(knowledge: KnowledgeBase) -> list[str]:
    tests = knowledge.tests.values()
    return (
        [test.does for test in tests]
        + [kind.asks for kind in knowledge.readings.values()]
        + [word for kind in knowledge.readings.values() for word in (kind.id, *kind.words())]
    )
