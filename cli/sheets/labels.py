"""Labels to cut out for the vials: without names for the students, with them for the teacher."""

from __future__ import annotations

import enum
from collections.abc import Iterator, Sequence

import msgspec

from spotplate.cli.views.words import listed
from spotplate.datasets import Substance
from spotplate.engine.sets import HazardLabel, hazard_label
from spotplate.engine.sets.versions import Version

from .model import Block, Cards, Heading, LabelCard, Sheet, Text

NO_HAZARDS = "Not classified as hazardous in the reference table."
LAW = (
    "Local labelling law decides what a label must tell: it may ask for more (the supplier, precautionary statements, "
    "pictograms drawn in their red frames, a name kept on file) or allow less on small vials. Signal words, pictograms and "
    "hazard "
    "statements are from memory of the United Nations' Globally Harmonized System, Annex 3, and of each substance's usual "
    "classification: hold them against the supplier's safety data sheet before printing."
)
HINTS = (
    "A hazard statement may itself hint at the substance: the only flammable vial is easily found. Labels with the hazards of "
    "all "
    "vials together (--hazards together) hint at nothing, and warn of more than there is. Where law asks for each vial's own, "
    "it goes before the exercise."
)


class Hazards(enum.StrEnum):
    """Which hazards stand on a vial's label: its own, or those of all vials of the set together."""

    EACH = "each"
    TOGETHER = "together"


class LabelText(msgspec.Struct, frozen=True):
    """What stands on every label besides hazards and letter."""

    title: str
    date: str
    groups: int


def vial_hazards(substances: Sequence[Substance], hazards: Hazards) -> dict[str, HazardLabel]:
    """Substance → what its label tells of hazards."""
    together = [code for substance in substances for code in substance.hazards()]
    return {
        substance.name: hazard_label(together if hazards is Hazards.TOGETHER else substance.hazards()) for substance in substances
    }


def vial_labels(text: LabelText, versions: Sequence[Sequence[tuple[int, str, HazardLabel]]], version: str) -> Sheet:
    """Labels for the students' vials, from group, letter and hazards alone."""
    cards = [[_card(text, group, letter, hazards, "") for group, letter, hazards in vials] for vials in versions]
    return Sheet(text.title, "Labels for the vials", tuple(_by_group(cards, text)), f"spotplate {version}")


def teachers_labels(
    text: LabelText, versions: Sequence[Version], hazards: dict[str, HazardLabel], formulas: dict[str, str], version: str
) -> Sheet:
    """The same labels with the names of the substances, and what is doubtful about them."""
    cards = []
    for group in versions:
        cards.append(
            [
                _card(text, group.group, vial.label, hazards[vial.substance], _contents(vial.substance, formulas))
                for vial in group.vials
            ]
        )
    blocks: list[Block] = [
        Text("This copy names what is in the vials. Keep it from the students.", warning=True),
        Text(LAW),
        Text(HINTS),
    ]
    blocks += [Text(line) for line in _open_words(hazards)]
    blocks += _by_group(cards, text)
    return Sheet(text.title, "Labels with names, for the teacher only", tuple(blocks), f"spotplate {version}")


def _contents(substance: str, formulas: dict[str, str]) -> str:
    return f"{substance}, {formulas[substance]}" if formulas.get(substance) else substance


def _open_words(hazards: dict[str, HazardLabel]) -> Iterator[str]:
    for substance, label in hazards.items():
        if label.open_codes:
            yield (
                f"{substance}: the category behind {listed(label.open_codes)} decides between Danger and Warning, and the "
                f"reference table does not tell it; {label.signal_word} stands on the label."
            )


def _by_group(cards: Sequence[Sequence[LabelCard]], text: LabelText) -> Iterator[Block]:
    for number, group in enumerate(cards, 1):
        if text.groups > 1:
            yield Heading(f"Group {number}")
        yield Cards(tuple(group))


def _card(text: LabelText, group: int, letter: str, hazards: HazardLabel, contents: str) -> LabelCard:
    lines = [text.title, *([f"Group {group}"] if text.groups > 1 else []), *([text.date] if text.date else [])]
    return LabelCard(
        letter,
        tuple(lines),
        hazards.signal_word,
        ", ".join(hazards.pictograms),
        tuple(f"{statement.code} {statement.says}." for statement in hazards.statements) or (NO_HAZARDS,),
        contents,
    )
