"""`spotplate rules`: the rules, and what one of them says."""

from __future__ import annotations

from typing import Annotated

import msgspec
import typer

from spotplate.engine.reasoning import cited
from spotplate.kb import Condition, Fault, FaultyInputError, KnowledgeBase, Rule, not_accepted

from .json_shape import print_json
from .knowledge import chosen_knowledge
from .options import AsJson, ExtraRules, OwnRules, Plain
from .views.page import Block, Heading, Item, Paragraph, Table, show
from .views.words import listed


def complete_rule(incomplete: str) -> list[str]:
    """Ids of rules for the shell."""
    return [rule.id for rule in chosen_knowledge(None, None).rules if rule.id.startswith(incomplete)]


def rules(
    name: Annotated[
        str | None, typer.Argument(metavar="[ID]", help="Only this rule.", show_default=False, autocompletion=complete_rule)
    ] = None,
    own: OwnRules = None,
    extra_rules: ExtraRules = None,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """List the rules by cause, or explain one: conditions, reason, weights, exceptions, source."""
    knowledge = chosen_knowledge(own, extra_rules)
    chosen = list(knowledge.rules)
    if name is not None:
        chosen = [rule for rule in chosen if rule.id == name.strip()]
        if not chosen:
            raise FaultyInputError([Fault("", not_accepted(name, "a rule", [rule.id for rule in knowledge.rules], most=0))])
    if as_json:
        print_json([msgspec.to_builtins(rule) for rule in chosen])
    elif name is not None:
        show(_rule_page(chosen[0], knowledge), plain=plain)
    else:
        show(_list_page(knowledge), plain=plain)


def _list_page(knowledge: KnowledgeBase) -> list[Block]:
    page: list[Block] = [Paragraph(f"{len(knowledge.rules)} rules. For one of them in full: spotplate rules ID.", "quiet")]
    groups = [
        (
            f"Rules that weigh classes: {cause.id} ({cause.says})",
            [r for r in knowledge.rules if r.weighs and r.weighs.cause == cause.id],
        )
        for cause in knowledge.causes.values()
    ]
    groups.append(("Rules that add facts only", [r for r in knowledge.rules if r.adds and not r.weighs]))
    groups.append(("Readings that cannot all be right", [r for r in knowledge.rules if r.conflict]))
    for title, members in groups:
        if members:
            page += [Heading(title), Table(("rule", "says"), tuple((rule.id, _says(rule)) for rule in members))]
    return page


def _cause(rule: Rule) -> str | None:
    return rule.weighs.cause if rule.weighs else None


def _says(rule: Rule) -> str:
    if rule.weighs:
        return "; ".join(_weights(rule))
    return rule.conflict or f"adds {listed(rule.adds)}"


def _weights(rule: Rule) -> list[str]:
    if rule.weighs is None:
        return []
    sides = ((rule.weighs.for_, "for"), (rule.weighs.against, "against"))
    return [f"{word} {side} {name}" for words, side in sides for name, word in words.items()]


def _rule_page(rule: Rule, knowledge: KnowledgeBase) -> list[Block]:
    page: list[Block] = [Heading(f"Rule {rule.id}"), Paragraph(rule.because)]
    for title, part in (("all of", rule.when.all), ("at least one of", rule.when.any), ("none of", rule.when.none)):
        if part:
            page.append(Paragraph(f"When {title}:"))
            page += [Item("-", _told(condition), indent=2) for condition in part]
    if rule.adds:
        page.append(Paragraph("Then it is so:"))
        page += [Item(f"- {fact}:", knowledge.facts[fact].says, indent=2) for fact in rule.adds]
    if rule.weighs:
        page.append(Paragraph(f"Weighs, under the cause “{rule.weighs.cause}”:"))
        page += [Item("-", text, indent=2) for text in _weights(rule)]
    if rule.conflict:
        page.append(Paragraph(f"Then the readings cannot all be right: {rule.conflict}"))
    page += [Item("But", f"{exception.subtype}: {exception.because}") for exception in rule.exceptions]
    page.append(Paragraph(f"Source: {cited(rule.source, knowledge)}. Stands in {rule.place}.", "quiet"))
    return page


def _told(condition: Condition) -> str:
    if condition.fact:
        return f"fact: {condition.fact}"
    limits = {
        "above": condition.above,
        "below": condition.below,
        "at least": condition.at_least,
        "at most": condition.at_most,
    }
    bounds = [f"{word} {limit}" for word, limit in limits.items() if limit]
    return f"{condition.reading}: {listed(condition.is_, 'or') if condition.is_ else listed(bounds)}"
