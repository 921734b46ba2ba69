"""Pages on an unknowns set: the check, its key, letters for groups, parallel sets."""

from __future__ import annotations

import math
from collections.abc import Sequence

from spotplate.cli.streams import speaks_unicode
from spotplate.engine.sets import (
    Conclusion,
    Difficulty,
    Key,
    Misleading,
    PairCheck,
    ParallelSet,
    SetCheck,
    SmallestKit,
    UnknownsSet,
    Version,
    VialConclusion,
    key_as_tree,
    key_in_words,
)
from spotplate.engine.sets.versions import EQUALLY_HARD
from spotplate.kb import printable

from .page import Block, Heading, Item, Paragraph, Table
from .words import WHO_DECIDES, count, listed, percent

_WIDEST_MATRIX = 16  # vials; a wider table of pairs does not fit a screen


def set_check_page(found: SetCheck, *, all_pairs: bool) -> list[Block]:
    """All that the check found, the key of the set aside."""
    page: list[Block] = [Heading(f"{printable(found.unknowns_set.name)}: {_told_apart(found)}", _style(found))]
    page.append(Paragraph("For the teacher: this page tells what is in the vials."))
    if found.cannot_be_done:
        page.append(Paragraph("Left out, since a test that has to come first is not among the tests:", "open"))
        page += [Item("-", f"{test} needs {listed(missing)}.", indent=2) for test, missing in found.cannot_be_done.items()]
    page += _pairs(found, all_pairs=all_pairs)
    page += _kit(found.kit, found)
    page += _conclusions(found.conclusions)
    page += _misleading(found.misleading)
    page += [Paragraph(""), Paragraph(WHO_DECIDES, "caution")]
    return page


def _told_apart(found: SetCheck) -> str:
    vials = count(len(found.unknowns_set.vials), "vial")
    wished = found.unknowns_set.parted_at_least
    if found.parted_at_least is None:
        return f"{vials}, no pair to tell apart"
    if found.kit.parts_all:
        return f"{vials}, any two told apart by {count(found.parted_at_least, 'test')} or more"
    short = len(found.not_parted) + len(found.parted_too_little)
    return f"{vials}, {short} of {count(len(found.pairs), 'pair')} told apart by fewer than {count(wished, 'test')}"


def _style(found: SetCheck) -> str:
    return "good" if found.kit.parts_all else "bad" if found.not_parted else "open"


# --- pairs ------------------------------------------------------------------------------------------


def _pairs(found: SetCheck, *, all_pairs: bool) -> list[Block]:
    page: list[Block] = []
    substance = {vial.label: vial.substance for vial in found.unknowns_set.vials}
    if found.not_parted:
        page.append(Heading("Pairs that no test tells apart"))
        page += [Item(_pair_label(pair), _pair_substances(pair, substance) + ".", indent=2) for pair in found.not_parted]
    if found.parted_too_little:
        page.append(Heading(f"Pairs told apart by fewer than {count(found.unknowns_set.parted_at_least, 'test')}"))
        page += [
            Item(_pair_label(pair), f"{_pair_substances(pair, substance)}: only by {_tests(pair)}.", indent=2)
            for pair in found.parted_too_little
        ]
    if not found.pairs:
        return page
    if all_pairs or len(found.unknowns_set.vials) > _WIDEST_MATRIX:
        rows = tuple((_pair_label(pair), str(len(pair.parted_by)), _tests(pair)) for pair in found.pairs)
        return [*page, Heading("Pairs and the tests that tell them apart"), Table(("pair", "tests", "told apart by"), rows)]
    return [
        *page,
        Heading("Number of tests that tell two vials apart"),
        _matrix(found),
        Paragraph(
            "Only readings that cannot coincide count, whatever honest reading each of the two gives. --pairs names the tests."
        ),
    ]


def _pair_label(pair: PairCheck) -> str:
    return f"{pair.first} and {pair.second}"


def _pair_substances(pair: PairCheck, substance: dict[str, str]) -> str:
    return f"{substance[pair.first]} and {substance[pair.second]}"


def _tests(pair: PairCheck) -> str:
    """`look (colour, lustre); water test`: the reading is named where the test has another name."""
    return (
        "; ".join(test if readings == (test,) else f"{test} ({', '.join(readings)})" for test, readings in pair.parted_by.items())
        or "none"
    )


def _matrix(found: SetCheck) -> Table:
    labels = [vial.label for vial in found.unknowns_set.vials]
    number = {(pair.first, pair.second): len(pair.parted_by) for pair in found.pairs}
    rows = tuple(
        (label, *(str(number[other, label]) if (other, label) in number else "" for other in labels[:-1])) for label in labels[1:]
    )
    return Table(("vial", *labels[:-1]), rows)


def _kit(kit: SmallestKit, found: SetCheck) -> list[Block]:
    wished = found.unknowns_set.parted_at_least
    if not found.pairs:
        return []
    page: list[Block] = [Heading("Smallest kit")]
    if not kit.tests:
        return [*page, Paragraph("No test parts any pair, so there is no kit.")]
    page.append(Paragraph(f"{listed(list(kit.tests))}: {kit.minutes:g} min for one vial.", indent=2))
    does = (
        f"It tells any two vials apart by at least {count(wished, 'test')}"
        if kit.parts_all
        else "It tells every pair apart as often as wished, or as often as all the tests together do"
    )
    page.append(
        Paragraph(
            f"{does}, with all that has to come first. Proved: {count(kit.smaller_kits, 'kit')} that would take no longer "
            "were tried, and none of them does.",
            indent=2,
        )
    )
    return page


# --- conclusions and rules of thumb ---------------------------------------------------------------------


def _conclusions(found: Sequence[VialConclusion]) -> list[Block]:
    page: list[Block] = [
        Heading("What a perfect student concludes"),
        Paragraph(
            "From the likeliest reading of every test of the set. Within the set: the student knows which substances the set "
            "is made of. Alone: the student does not."
        ),
    ]
    rows = tuple(
        (
            item.label,
            item.substance,
            " or ".join(item.classes),
            _concluded(item.within_set),
            _concluded(item.alone),
            _which_substance(item),
        )
        for item in found
    )
    page.append(Table(("vial", "substance", "class", "within the set", "alone", "taken for, within the set"), rows))
    page.append(Heading("Why"))
    for item in found:
        first = item.within_set.reasons[0] if item.within_set.reasons else None
        if first:
            page.append(Item(item.label, f"{item.within_set.first}: {first.because} ({', '.join(first.readings)})", indent=2))
        if item.within_set.class_ is None:
            page.append(Item(item.label, " ".join(item.within_set.verdict_says), indent=2))
    return page


def _concluded(conclusion: Conclusion) -> str:
    if conclusion.class_ is None:
        return f"{conclusion.kind.value} between {listed(list(conclusion.open_between))}"
    return f"{conclusion.class_}, {'right' if conclusion.right else 'wrong'}"


def _which_substance(item: VialConclusion) -> str:
    if not item.likeliest_substance:
        return "none"
    told = percent(item.substance_probability)
    return f"itself, {told}" if item.likeliest_substance == item.substance else f"{item.likeliest_substance}, {told}"


def _misleading(found: Sequence[Misleading]) -> list[Block]:
    """Every rule of thumb once, with the vials on which it misleads; then what each of these vials teaches."""
    page: list[Block] = [Heading("Where a rule of thumb misleads")]
    if not found:
        return [*page, Paragraph("None of the usual rules of thumb leads astray in this set.", indent=2)]
    for rule in dict.fromkeys(item.rule for item in found):
        own = [item for item in found if item.rule == rule]
        vials = listed([f"{item.label} ({item.substance}; {', '.join(item.readings)})" for item in own])
        page.append(Paragraph(f"“{own[0].says}”", indent=2))
        page.append(Item("misleads on", f"{vials}.", indent=4))
        page.append(Item("why:", f"{own[0].because} Source: {own[0].source}.", indent=4))
    page.append(Heading("What these vials teach"))
    for label in dict.fromkeys(item.label for item in found):
        first = next(item for item in found if item.label == label)
        page.append(Item(label, f"{first.substance} ({first.class_}). {first.teaches}".rstrip(), indent=2))
    return page


def difficulty_page(hard: Difficulty) -> list[Block]:
    """How hard the set is."""
    return [Heading("Difficulty"), Paragraph(hard.says, indent=2)]


# --- key, letters, parallel sets ----------------------------------------------------------------------


def key_page(key: Key, unknowns_set: UnknownsSet, *, plain: bool) -> list[Block]:
    """The key as numbered text, with its length; and as a tree, which says nothing more to a screen reader."""
    names = {vial.label: f"{vial.label} ({vial.substance})" for vial in unknowns_set.vials}
    page: list[Block] = [Heading("Identification key"), Paragraph(_length(key), indent=2)]
    for line in key_in_words(key, names):
        page.append(Paragraph(line.strip(), indent=4 if line.startswith(" ") else 2))
    if plain:
        return page
    page.append(Heading("The key as a tree"))
    page += [Item(*_margin(line), indent=2) for line in key_as_tree(key, unicode=speaks_unicode())]
    return page


def _margin(line: str) -> tuple[str, str]:
    """The lines of the tree before a text, and the text; the label of an item is never wrapped."""
    text = line.lstrip("├└─│+-`| ")
    return line[: len(line) - len(text)].rstrip(), text


def _length(key: Key) -> str:
    proof = "proved: no key is shorter on average" if key.proved else "the search was given up, so a shorter one may exist"
    left = f" Where it ends, {key.left_over:.2f} other vials are left on average." if key.left_over else ""
    least = (
        f" By information theory no key does with fewer than {key.bound:.2f} tests on average: {key.information:.2f} bit have to "
        f"be told, and a test with {key.outcomes} different outcomes, the most that one of these can have, tells "
        f"{math.log2(key.outcomes):.2f} bit at most (Shannon, 1948)."
        if key.outcomes > 1
        else ""
    )
    return (
        f"{key.tests:.2f} tests ({key.minutes:.1f} min) a vial on average, {key.most_tests} at most; {proof}.{left}{least} "
        "Every vial, and every honest reading of it, counts as likely as another, and nothing is misread: the key saves "
        "time, the further tests guard against mistakes."
    )


def letters_page(unknowns_set: UnknownsSet, versions: Sequence[Version], seed: int) -> list[Block]:
    """Which substance each group finds under each label."""
    columns = ("vial", *(f"group {version.group}" for version in versions))
    rows = tuple(
        (vial.label, *(version.vials[place].substance for version in versions)) for place, vial in enumerate(unknowns_set.vials)
    )
    return [Heading(f"Letters for each group, seed {seed}"), Table(columns, rows)]


def parallel_page(found: Sequence[ParallelSet], wanted: int, hard: Difficulty) -> list[Block]:
    """Sets as hard as the given one."""
    page: list[Block] = [
        Heading(f"Parallel sets: {len(found)} of {wanted} found"),
        Paragraph(f"The difficulty to be matched is {hard.number:.2f}; sets as hard lie within {EQUALLY_HARD} of it."),
    ]
    for item in found:
        as_hard = "as hard" if item.as_hard else "not as hard, but nothing nearer was found"
        page.append(Heading(f"{printable(item.unknowns_set.name)}: {as_hard}"))
        page.append(Paragraph(item.difficulty.says, indent=2))
        page += [Item(vial.label, vial.substance, indent=2) for vial in item.unknowns_set.vials]
    return page
