"""The teacher's key: what is in each vial, what to expect of it, and how the set is told apart."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

import msgspec

from spotplate.cli.views.words import WHO_DECIDES, count, listed, percent
from spotplate.datasets import Substance
from spotplate.engine.reasoning import VerdictKind
from spotplate.engine.reference_readings import ReferenceRow
from spotplate.engine.sets import Conclusion, Difficulty, Key, PairCheck, SetCheck, Version, VialConclusion
from spotplate.kb import Interval, KnowledgeBase

from .key_blocks import key_lines, key_tree
from .model import Block, Bullets, Heading, Sheet, Table, Text
from .students import in_working_order, shared_out

SECRET = "This page gives the answers away. Keep it, and everything in this folder, from the students."
_COLUMNS = 5  # vials beside one another in a table that people only read
_GROUPS = 12  # groups beside one another


class KeyContents(msgspec.Struct, frozen=True):
    """All that the key is made from."""

    title: str
    date: str
    check: SetCheck
    key: Key
    difficulty: Difficulty
    versions: tuple[Version, ...]
    seed: int | None
    substances: Mapping[str, Substance]
    rows: Mapping[str, ReferenceRow]


def teachers_key(contents: KeyContents, knowledge: KnowledgeBase, version: str) -> Sheet:
    """The key of a set for all its groups."""
    return Sheet(
        contents.title,
        "Teacher's key",
        tuple(_blocks(contents, knowledge)),
        f"spotplate {version}, rule base {knowledge.checksum}",
    )


def _blocks(contents: KeyContents, knowledge: KnowledgeBase) -> Iterator[Block]:
    check = contents.check
    yield Text(SECRET, warning=True)
    if contents.date:
        yield Text(contents.date)
    yield from _contents(contents)
    yield from _readings(contents, knowledge)
    yield from _conclusions(check, contents.substances)
    yield from _misleading(check)
    yield from _kit(check)
    yield from _key(contents)
    yield from _pairs(check)
    yield Heading("How hard the set is")
    yield Text(contents.difficulty.says)
    yield Heading("Where this comes from")
    yield Text(
        "Expected readings follow from the values of the reference table, most of which are from memory; conclusions are those "
        "of the "
        "rule base. Try the set yourself before the lesson, with the very bottles that you will hand out."
    )
    yield Text(WHO_DECIDES)


def _contents(contents: KeyContents) -> Iterator[Block]:
    yield Heading("What is in the vials")
    shuffled = len({version.vials for version in contents.versions}) > 1 or contents.seed is not None
    yield Table(
        "The set",
        ("vial", "substance", "formula", "class", "hazard statements"),
        tuple(_content(vial.label, contents.substances[vial.substance]) for vial in contents.check.unknowns_set.vials),
        widths=(0.5, 1.8, 1.2, 1.6, 1.4),
    )
    if shuffled:
        yield Text(
            f"Every group has its own letters, drawn with seed {contents.seed}. The rest of this page goes by the letters of "
            "the set, in the "
            "first column."
        )
        yield from _letters(contents)
    elif len(contents.versions) > 1:
        yield Text(f"All {len(contents.versions)} groups have these letters.")
    yield from _unfit(contents)
    if contents.check.unknowns_set.notes:
        yield Text(f"Notes of the set: {contents.check.unknowns_set.notes}")


def _content(label: str, substance: Substance) -> tuple[str, ...]:
    class_ = substance.class_ + (f"; also defensible: {substance.also_defensible}" if substance.also_defensible else "")
    return label, substance.name, substance.formula or "–", class_, ", ".join(substance.hazards()) or "none"


def _letters(contents: KeyContents) -> Iterator[Table]:
    vials = contents.check.unknowns_set.vials
    letter_of = {version.group: _letters_of_group(version, contents) for version in contents.versions}
    for groups in shared_out([str(version.group) for version in contents.versions], _GROUPS):
        yield Table(
            "Letters of the groups",
            ("set", "substance", *(f"group {number}" for number in groups)),
            tuple(
                (vial.label, vial.substance, *(letter_of[int(number)][place] for number in groups))
                for place, vial in enumerate(vials)
            ),
            widths=(0.5, 2.2, *[0.8] * len(groups)),
        )


def _letters_of_group(version: Version, contents: KeyContents) -> list[str]:
    """The letter of each vial of the set in this group; vials of one substance in the order of their letters."""
    left = list(version.vials)
    letters = []
    for vial in contents.check.unknowns_set.vials:
        found = next(item for item in left if item.substance == vial.substance)
        left.remove(found)
        letters.append(found.label)
    return letters


def _unfit(contents: KeyContents) -> Iterator[Text]:
    names = list(dict.fromkeys(vial.substance for vial in contents.check.unknowns_set.vials))
    for use, says in (
        ("not in school", "The reference table has it as not for use in school"),
        ("teacher only", "The reference table leaves it to the teacher"),
    ):
        if found := [name for name in names if contents.substances[name].school_use == use]:
            yield Text(f"{says}: {listed(found)}. Think again before you hand it out. {WHO_DECIDES}", warning=True)


def _readings(contents: KeyContents, knowledge: KnowledgeBase) -> Iterator[Block]:
    check = contents.check
    yield Heading("Expected readings")
    yield Text(
        "Several words: each of them is an honest reading, the likeliest first. A dash: the table does not tell, or the test "
        "cannot be made "
        "on it. A boiling or melting temperature is the handbook's; impurity lowers and broadens a melting range."
    )
    if check.cannot_be_done:
        lacking = "; ".join(f"{test} (it needs {listed(needs)})" for test, needs in check.cannot_be_done.items())
        yield Text(f"Left out, since what they need first is not among the tests of the set: {lacking}.", warning=True)
    by_label = {item.label: item for item in check.conclusions}
    for part in shared_out([item.label for item in check.conclusions], _COLUMNS):
        vials = [by_label[label] for label in part]
        rows = []
        for test in in_working_order(check.tests, knowledge):
            for kind in test.readings:
                cells = [_expected(kind.id, vial, contents.rows[vial.substance]) for vial in vials]
                if any(cell != "–" for cell in cells):
                    rows.append((kind.id, *cells))
        yield Table(
            "Expected readings",
            ("reading", *(f"{vial.label} {vial.substance}" for vial in vials)),
            tuple(rows),
            widths=(1.2, *[1.0] * len(vials)),
        )


def _expected(reading: str, vial: VialConclusion, row: ReferenceRow) -> str:
    likeliest = vial.readings.get(reading)
    if isinstance(likeliest, Interval):
        return str(likeliest)
    words = row.words.get(reading, ())
    if likeliest is None:
        return "–"
    return " or ".join([likeliest, *(word for word in words if word != likeliest)])


def _conclusions(check: SetCheck, substances: Mapping[str, Substance]) -> Iterator[Block]:
    yield Heading("Expected conclusions")
    yield Text(
        "What follows when every reading is made and comes out as is likeliest: by somebody who knows what the set is made of, "
        "and by "
        "somebody who does not."
    )
    for vial in check.conclusions:
        classes = f"{vial.classes[0]}{f', also defensible as {listed(vial.classes[1:])}' if len(vial.classes) > 1 else ''}"
        yield Heading(f"Vial {vial.label}: {vial.substance}", 3)
        lines = [f"Class: {classes}.", f"Knowing the set: {_told(vial.within_set)}."]
        if _told(vial.alone) != _told(vial.within_set):
            lines.append(f"Not knowing it: {_told(vial.alone)}.")
        likeliest = "it" if vial.likeliest_substance == vial.substance else vial.likeliest_substance
        lines.append(f"Of the set, {likeliest} fits best ({percent(vial.substance_probability)}).")
        lines += [f"{reason.because} (seen: {listed(reason.readings)})" for reason in vial.within_set.reasons]
        if substances[vial.substance].exception:
            lines.append(f"At the bench: {substances[vial.substance].exception}")
        yield Bullets(tuple(lines))


def _told(conclusion: Conclusion) -> str:
    if conclusion.kind is VerdictKind.CONCLUSIVE:
        judged = "which is right" if conclusion.right else "which is wrong"
        return f"conclusive, {conclusion.class_}, {judged} ({percent(conclusion.probability)})"
    judged = "a defensible class" if conclusion.first_defensible else "which is wrong"
    return f"{conclusion.kind.value}; {conclusion.first} comes first ({percent(conclusion.probability)}), {judged}"


def _misleading(check: SetCheck) -> Iterator[Block]:
    yield Heading("Vials that mislead")
    if not check.misleading:
        yield Text("No usual rule of thumb leads astray on these vials.")
    for vial in dict.fromkeys(item.label for item in check.misleading):
        items = [item for item in check.misleading if item.label == vial]
        yield Heading(f"Vial {vial}: {items[0].substance}, {items[0].class_}", 3)
        lines = [f"“{item.says}” ({listed(item.readings)}) But: {item.because}" for item in items]
        lines += [f"Teaching point: {teaches}" for teaches in dict.fromkeys(item.teaches for item in items)]
        yield Bullets(tuple(lines))


def _kit(check: SetCheck) -> Iterator[Block]:
    kit = check.kit
    wished = check.unknowns_set.parted_at_least
    yield Heading("Smallest test kit")
    if not kit.tests:
        yield Text("No test parts any two of these vials.")
        return
    yield Text(f"{listed(kit.tests)}: {kit.minutes:g} min for one vial.")
    if kit.parts_all:
        yield Text(f"With these tests, any two vials are told apart by at least {count(wished, 'test')}.")
    else:
        yield Text(
            f"Not all pairs can be told apart by {count(wished, 'test')}, whatever tests of the set are made. This kit does as "
            "much as all "
            f"tests together; its weakest pair is parted by {count(kit.parted_at_least, 'test')}.",
            warning=True,
        )
    yield Text(f"No kit takes less time: {count(kit.smaller_kits, 'kit')} of no more minutes were tried and do not do.")


def _key(contents: KeyContents) -> Iterator[Block]:
    key = contents.key
    yield Heading("Identification key")
    if not key.steps:
        yield Text("There is nothing to tell apart.")
        return
    yield Text(
        f"On average {key.tests:.2f} tests ({key.minutes:.1f} min) to the end of the key, at most {key.most_tests}. "
        "Information theory "
        f"asks for at least {key.bound:.2f} tests: {key.information:.2f} bit, and a test here has up to {key.outcomes} outcomes."
    )
    if key.proved:
        yield Text("No key of these tests is shorter on average.")
    else:
        yield Text("It is the best one found; the search for a shorter one was given up.")
    if key.left_over > 0:
        yield Text(f"Where it ends, {key.left_over:.2f} vials besides the right one are left on average.", warning=True)
    names = {vial.label: vial.substance for vial in contents.check.unknowns_set.vials}
    yield from key_lines(key, names)
    yield key_tree(key, names)


def _pairs(check: SetCheck) -> Iterator[Block]:
    yield Heading("Pairs and what parts them")
    wished = check.unknowns_set.parted_at_least
    if not check.pairs:
        yield Text("There is only one vial.")
        return
    if check.not_parted:
        told = "; ".join(f"{pair.first} and {pair.second}" for pair in check.not_parted)
        yield Text(f"Cannot be told apart by any test of the set: {told}.", warning=True)
    if check.parted_too_little:
        told = "; ".join(f"{pair.first} and {pair.second}" for pair in check.parted_too_little)
        yield Text(
            f"Told apart by fewer than {count(wished, 'test')}, so that one misreading can confuse them: {told}.", warning=True
        )
    if not (check.not_parted or check.parted_too_little):
        yield Text(f"Any two vials are told apart by at least {count(wished, 'test')}.")
    yield Table(
        "Tests that tell two vials apart, whatever honest readings they give",
        ("pair", "number", "tests"),
        tuple((f"{pair.first}, {pair.second}", str(len(pair.parted_by)), _parting(pair)) for pair in check.pairs),
        widths=(0.6, 0.7, 5.0),
    )


def _parting(pair: PairCheck) -> str:
    return ", ".join(pair.parted_by) or "none"
