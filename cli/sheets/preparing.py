"""The preparation list and the notes on waste, for the teacher."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from spotplate.cli.views.words import WHO_DECIDES, count, listed
from spotplate.datasets import Substance, load_hazard_statements
from spotplate.engine.reasoning import cited
from spotplate.engine.sets import Portion, Preparation, ReagentNeed, Recipe, SetCheck, hazard_label
from spotplate.kb import Dilution, KnowledgeBase

from .model import Block, Bullets, Heading, Sheet, Table, Text
from .teacher import SECRET

_NEUTRAL = "Work in this way, and the containers tell nothing about a vial: name them by test, not by vial."


class PreparationContents(msgspec.Struct, frozen=True):
    """All that both sheets are made from."""

    title: str
    date: str
    check: SetCheck
    preparation: Preparation
    substances: Mapping[str, Substance]
    amounts: Mapping[str, float]


def preparation_list(contents: PreparationContents, knowledge: KnowledgeBase, version: str) -> Sheet:
    """What to weigh out, to make and to put on the benches."""
    blocks = tuple(_blocks(contents, knowledge))
    return Sheet(contents.title, "Preparation list, for the teacher only", blocks, f"spotplate {version}")


def _blocks(contents: PreparationContents, knowledge: KnowledgeBase) -> Iterator[Block]:
    found = contents.preparation
    vials = len(contents.check.unknowns_set.vials)
    yield Text(SECRET, warning=True)
    if contents.date:
        yield Text(contents.date)
    yield Text(
        f"For {count(found.groups, 'group')} with {count(vials, 'vial')} each: {count(found.groups * vials, 'vial')}. Reckoned "
        "so that each "
        f"group can make every test {found.trials} times on every vial, and {100 * found.margin:.0f} % more for what is spilt."
    )
    yield Heading("Substances")
    yield Table(
        "What each vial holds, and what the stock must give",
        ("substance", "vial", "in each vial", "in all", "container"),
        tuple(_portion_row(portion) for portion in found.portions),
        widths=(1.8, 0.5, 0.9, 0.9, 2.4),
    )
    yield from _by_test(contents)
    yield Heading("Reagents and solutions")
    if found.reagents:
        yield Table(
            "What the tests use up",
            ("reagent", "have ready", "for", "remarks"),
            tuple(_reagent_row(need) for need in found.reagents),
            widths=(1.3, 0.8, 1.6, 2.6),
        )
    else:
        yield Text("The tests of this set use none up.")
    for need in found.reagents:
        if need.recipe:
            yield from _recipe(need, need.recipe, knowledge)
    yield Heading("Apparatus for each group")
    yield Table(
        "By test",
        ("test", "apparatus"),
        tuple((test, ", ".join(things)) for test, things in found.apparatus.items()),
        widths=(1, 3),
    )
    yield Heading("Time")
    yield Bullets(tuple(_times(contents)))
    yield Heading("Storage and hazards of the stock")
    yield Table(
        "Hazard statements are from memory: hold them against the supplier's safety data sheet",
        ("substance", "hazards", "storage"),
        tuple(_storage_row(portion, contents.substances[portion.substance]) for portion in found.portions),
        widths=(1.2, 2.4, 1.8),
    )
    yield Text(WHO_DECIDES, warning=True)


def _portion_row(portion: Portion) -> tuple[str, ...]:
    in_all = _amount(portion.in_all, portion.unit)
    shown = f" ({_amount(portion.demonstrations, portion.unit)} for demonstrations)" if portion.demonstrations else ""
    return (
        portion.substance, ", ".join(portion.vials), _amount(portion.each, portion.unit), f"{in_all}{shown}", portion.container,
    )  # fmt: skip


def _by_test(contents: PreparationContents) -> Iterator[Block]:
    states = dict.fromkeys(portion.state for portion in contents.preparation.portions)
    rows = []
    for test in contents.preparation.tests:
        cells = []
        for state in states:
            example = next(portion for portion in contents.preparation.portions if portion.state == state)
            amount = example.by_test.get(test, 0)
            cells.append(_amount(amount, example.unit) if amount else "–")
        rows.append((test, *cells, *(["your own figure" if test in contents.amounts else ""] if contents.amounts else [])))
    yield Table(
        "What one trial takes",
        ("test", *states, *(["remark"] if contents.amounts else [])),
        tuple(rows),
    )
    yield Text("A dash: nothing of its own; the test is made on what another one leaves, or straight from the vial.")


def _reagent_row(need: ReagentNeed) -> tuple[str, ...]:
    remarks = [need.reagent.says]
    if need.reagent.hazards:
        label = hazard_label(need.reagent.hazards)
        told = "; ".join(f"{statement.code} {statement.says.lower()}" for statement in label.statements)
        remarks.append(f"{label.signal_word}: {told}.")
    if need.reagent.storage:
        remarks.append(need.reagent.storage)
    return need.reagent.id, _amount(need.ready, need.reagent.unit), ", ".join(need.tests), " ".join(remarks)


def _recipe(need: ReagentNeed, recipe: Recipe, knowledge: KnowledgeBase) -> Iterator[Block]:
    yield Heading(f"To make {need.reagent.id}", 3)
    stock = hazard_label(need.reagent.stock_hazards)
    told = "; ".join(f"{statement.code} {statement.says.lower()}" for statement in stock.statements)
    take = f"{_amount(recipe.take, recipe.unit)} of {recipe.of} for {_amount(recipe.volume, 'mL')}"
    lines = [f"Take {take}.", recipe.steps.strip()]
    if recipe.from_dilution and recipe.stock_concentration is not None:
        lines.append(_reckoned(recipe.from_dilution, recipe.stock_concentration))
    lines.append(f"Source: {cited(recipe.source, knowledge)}.")
    if told:
        lines.append(f"{recipe.of.capitalize()}: {stock.signal_word}: {told}.")
    yield Bullets(tuple(lines))


def _reckoned(way: Dilution, stock: float) -> str:
    return (
        f"Reckoned with a mass share of {100 * way.mass_share:g} % and a density of {way.density:g} g/mL, which make "
        f"{stock:.1f} mol/L (molar mass {way.molar_mass:g} g/mol). For a bottle with other figures: volume = wanted "
        "concentration × molar mass × "
        "volume wanted / (1000 × mass share × density), with the mass share as a fraction."
    )


def _times(contents: PreparationContents) -> Iterator[str]:
    time, kit = contents.preparation.time, contents.check.kit
    yield f"To fill and label the vials and to make the solutions: about {_time(time.preparing)}."
    overnight = [need.reagent.id for need in contents.preparation.reagents if need.reagent.overnight]
    if overnight:
        yield f"The day before: {listed(overnight)}."
    yield (
        f"Every test once on one vial: {_time(time.one_vial)}; on all vials of a group one after another: "
        f"{_time(time.all_vials)}, less when several work side by side."
    )
    if kit.tests:
        yield f"The smallest kit that does for this set ({listed(kit.tests)}): {_time(kit.minutes)} for one vial."


def _storage_row(portion: Portion, substance: Substance) -> tuple[str, ...]:
    statements = load_hazard_statements()
    label = hazard_label(substance.hazards())
    told = "; ".join(f"{code} {statements[code].lower()}" for code in label.codes)
    use = f" For use: {substance.school_use}." if substance.school_use != "students" else ""
    signal = f"{label.signal_word}: " if label.signal_word else ""
    return substance.name, f"{signal}{told or 'none in the reference table'}.{use}", " ".join(portion.storage)


def _amount(amount: float, unit: str) -> str:
    """Three digits at most: nobody weighs out more."""
    return f"{float(f'{amount:.3g}'):,.10g} {unit}" if amount < 1000 or unit not in ("g", "mL") else _thousands(amount, unit)


def _thousands(amount: float, unit: str) -> str:
    return f"{float(f'{amount / 1000:.3g}'):g} {'kg' if unit == 'g' else 'L'}"


def _time(minutes: float) -> str:
    hours, rest = divmod(round(minutes), 60)
    return f"{hours} h {rest} min" if hours else f"{rest} min"


def waste_notes(contents: PreparationContents, version: str) -> Sheet:
    """Where the residues go, by their kind."""
    return Sheet(contents.title, "Waste and clean-up, for the teacher only", tuple(_waste(contents)), f"spotplate {version}")


def _waste(contents: PreparationContents) -> Iterator[Block]:
    labels: dict[str, list[str]] = {}
    for vial in contents.check.unknowns_set.vials:
        labels.setdefault(vial.substance, []).append(vial.label)
    yield Text(SECRET, warning=True)
    if contents.date:
        yield Text(contents.date)
    yield Text(f"Usual ways, from common practice. Local rules on waste go before everything here. {WHO_DECIDES}", warning=True)
    yield Text(_NEUTRAL)
    for note in contents.preparation.residues:
        yield Heading(note.kind.id[0].upper() + note.kind.id[1:])
        lines = []
        if note.tests:
            lines.append(f"From every vial: {listed(note.tests)}.")
        if note.substances:
            lines.append(f"Whatever the test: {listed([_named(name, labels[name]) for name in note.substances])}.")
        yield Bullets((*lines, note.kind.says.strip()))
    yield Heading("After the lesson")
    yield Text(contents.preparation.after_the_lesson)


def _named(substance: str, labels: Sequence[str]) -> str:
    return f"{substance} ({', '.join(labels)} of the set)"
