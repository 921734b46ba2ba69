"""Words that the questions of every kind share."""

from __future__ import annotations


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


def listed(words: tuple[str, ...], joined_by: str = "and") -> str:
    """
    Words in a row, as one says them.

    Examples
    --------
    >>> listed(("ionic", "covalent network"), "or"), listed(("look", "scratch", "magnet"))
    ('ionic or covalent network', 'look, scratch and magnet')
    """
    *others, last = words
    return f"{', '.join(others)} {joined_by} {last}" if others else last


def capitalised(words: str) -> str:
    """
    Words that begin a sentence; all letters but the first stay as they are.

    Examples
    --------
    >>> capitalised("iron(III) oxide"), capitalised("“hot plate test” first")
    ('Iron(III) oxide', '“hot plate test” first')
    """
    return words[:1].upper() + words[1:]
