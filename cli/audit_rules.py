"""`spotplate audit-rules`: the word of every rule beside the weight that the reference table measures."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated

import typer

from spotplate.datasets import load_substances
from spotplate.engine.second_opinion.rule_audit import SMOOTHING, Audited, far_off
from spotplate.engine.second_opinion.rule_audit import audit_rules as audit
from spotplate.kb import load_knowledge

from .json_shape import plain_data, print_json
from .knowledge import chosen_knowledge
from .options import AsJson, ExtraRules, OwnRules, Plain
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import count, signed


def audit_rules(
    all_weights: Annotated[bool, typer.Option("--all", help="Every weight, also those that the table bears out.")] = False,
    rules: OwnRules = None,
    extra_rules: ExtraRules = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Hold the weight of every rule against the reference table, and list those more than one word away."""
    knowledge = chosen_knowledge(rules, extra_rules) if rules or extra_rules else load_knowledge()
    audited = audit(load_substances(), knowledge)
    if as_json:
        print_json(plain_data(audited))
        return
    show(_page(audited, all_weights=all_weights), plain=plain)


def _page(audited: Sequence[Audited], *, all_weights: bool) -> list[Block]:
    far = far_off(audited)
    within = sum(item.words_apart == 0 for item in audited)
    near = sum(abs(item.words_apart) == 1 for item in audited)
    page: list[Block] = [
        Heading(f"{count(len(audited), 'weight')} of {len({item.rule for item in audited})} rules beside the reference table"),
        Paragraph(
            f"The table measures the rule's own word for {within} of them, the next word for {near}, and one farther away for "
            f"{len(far)}. Measured: 10 log10 of how often a rule fires in the class over how often it fires in the classes that "
            f"it leaves alone, each class alike, with {SMOOTHING:g} of a substance added to those that fire and to those that do "
            "not."
        ),
    ]
    if all_weights:
        rows = [
            (
                item.rule,
                item.class_,
                f"{item.side} {signed(item.decibans)}",
                item.word,
                signed(item.measured),
                item.measured_word,
                _rests_on(item),
            )
            for item in audited
        ]
        columns = ("rule", "class", "weight", "word", "measured", "nearest word", "fires on")
        return [*page, Table(columns, tuple(rows))]
    page.append(Heading(f"More than one word away: {len(far)}"))
    for item in far:
        told = (
            f"{item.side} {item.class_}: {item.word} ({signed(item.decibans)}), measured {signed(item.measured)} "
            f"({item.measured_word}); fires on {_rests_on(item)}. {item.kept or 'No reason is given for keeping it.'}"
        )
        page.append(Item(f"{item.rule}:", told, indent=2))
    return page


def _rests_on(item: Audited) -> str:
    return f"{item.fires_in:.3g} of {item.of:.3g}, beside {item.fires_beside:.3g} of {item.of_beside:.3g}"
