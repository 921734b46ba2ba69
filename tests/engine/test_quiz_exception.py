"""
Questions for the substance that breaks a rule of thumb, held against the reference table.

What a rule is to a substance is worked out here anew from expected readings, with a reading of the conditions of its own.
"""

from __future__ import annotations

import itertools
import re
from collections import Counter
from collections.abc import Iterator

import msgspec
import pytest

from spotplate.datasets import Substance, load_substances
from spotplate.engine.expected import expected_readings, expected_records
from spotplate.engine.quiz.asking import exception
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Secrecy, table_material
from spotplate.engine.quiz.question import Kind, Outcome, Question
from spotplate.kb import RuleOfThumb

MATERIAL = table_material()
KNOWLEDGE = MATERIAL.knowledge
SUBSTANCES = {row.name: row for row in load_substances()}
ITEMS = exception.items(MATERIAL)
DRAWS = range(12)
TURNED = "lead to the right answer?"


def posed(item, draw: int) -> Question:  # type: ignore[no-untyped-def]
    question = exception.pose(item, draw, MATERIAL)
    assert question is not None, (item.topic, draw)
    return question


QUESTIONS = [posed(item, draw) for item in ITEMS for draw in DRAWS]


def records(thumb: RuleOfThumb, substance: Substance) -> Iterator[dict[str, object]]:
    """The likeliest record and all its single variants; then all mixtures of honest readings that the rule goes by."""
    yield from (dict(record.readings) for record in expected_records(substance, KNOWLEDGE))
    expected = expected_readings(substance, KNOWLEDGE)
    names = [name for name in dict.fromkeys(item.reading for item in thumb.conditions()) if name in expected]
    if "on the hot plate" not in names:  # what is left out after another bath, the records above know
        yield from (dict(zip(names, values, strict=True)) for values in itertools.product(*(expected[name] for name in names)))


def invited(thumb: RuleOfThumb, readings: dict[str, object]) -> bool:
    when = thumb.when
    return (
        all(readings.get(item.reading) in item.is_ for item in when.all)
        and (not when.any or any(readings.get(item.reading) in item.is_ for item in when.any))
        and all(item.reading in readings and readings[item.reading] not in item.is_ for item in when.none)
    )


def always_invited(thumb: RuleOfThumb, substance: Substance) -> bool:
    return all(invited(thumb, readings) for readings in records(thumb, substance))


def never_invited(thumb: RuleOfThumb, substance: Substance) -> bool:
    return not any(invited(thumb, readings) for readings in records(thumb, substance))


def breaks(thumb: RuleOfThumb, substance: Substance) -> bool:
    return always_invited(thumb, substance) and not {substance.class_, substance.also_defensible} & set(thumb.jumps_to)


def follows(thumb: RuleOfThumb, substance: Substance) -> bool:
    defended = {substance.class_, substance.also_defensible} - {""}
    return always_invited(thumb, substance) and defended <= set(thumb.jumps_to)


def test_every_rule_of_thumb_is_an_item() -> None:
    assert [item.topic for item in ITEMS] == list(KNOWLEDGE.rules_of_thumb)
    assert all(item.kind is Kind.EXCEPTION for item in ITEMS)
    assert all(item.mix_up in ("", item.topic) for item in ITEMS)
    with_mix_up = {item.topic for item in ITEMS if item.mix_up}
    assert with_mix_up == set(MATERIAL.quiz.mix_ups) & set(KNOWLEDGE.rules_of_thumb)


def test_one_option_is_right_and_truly_so_and_the_others_are_truly_wrong() -> None:
    for question in QUESTIONS:
        thumb = KNOWLEDGE.rules_of_thumb[question.item.topic]
        turned = question.says.endswith(TURNED)
        assert len(question.options) == 4
        assert [option.right for option in question.options].count(True) == 1
        for option in question.options:
            substance = SUBSTANCES[option.says]
            broken, followed, silent = (test(thumb, substance) for test in (breaks, follows, never_invited))
            assert [broken, followed, silent].count(True) == 1, (thumb.id, option.says)
            assert option.right == (followed if turned else broken), (thumb.id, option.says)


def test_the_right_option_is_the_substance_of_the_question() -> None:
    for question in QUESTIONS:
        right = next(option.says for option in question.options if option.right)
        assert question.substance == right
        assert set(question.truth) == {SUBSTANCES[right].class_, SUBSTANCES[right].also_defensible} - {""}


def test_both_forms_are_asked() -> None:
    forms = Counter(question.says.endswith(TURNED) for question in QUESTIONS)
    assert forms[False] > forms[True] > len(QUESTIONS) / 10
    assert all(question.says.startswith("People say: “") for question in QUESTIONS)


def test_every_reason_tells_just_the_honest_readings_and_the_classes_of_its_substance() -> None:
    for question in QUESTIONS:
        for option in question.options:
            substance = SUBSTANCES[option.says]
            expected = expected_readings(substance, KNOWLEDGE)
            told = re.search(r" shows (?:this|something else) \((.+?)\)[ ,]", option.why)
            assert told, option.why
            for part in told[1].split("; "):
                reading, values = part.split(": ")
                assert set(re.findall(r"“(.+?)”", values)) == {str(value) for value in expected[reading]}, option.why
            if "shows this" in option.why:
                for name in KNOWLEDGE.classes:
                    defended = name in (substance.class_, substance.also_defensible)
                    assert bool(re.search(rf"\ban? {name} substance", option.why)) == defended, option.why


def test_texts_are_whole_sentences() -> None:
    for question in QUESTIONS:
        texts = [question.says, question.because, *(option.why for option in question.options)]
        for text in texts:
            assert text[0].isupper() or text[0].isdigit(), text
            assert text[-1] in ".?", text
            assert "None" not in text
            assert "  " not in text
            assert not re.search(r"\ba [aeiou]|\ban [^aeiouh]", text), text
        assert len({option.why for option in question.options}) == 4


# ---- by what a chemist knows, rule by rule


@pytest.mark.parametrize(
    ("thumb", "misleads", "holds", "silent"),
    [
        ("dissolves-so-ionic", "sucrose", "sodium chloride", "quartz"),
        ("insoluble-so-not-ionic", "barium carbonate", "copper", "sodium chloride"),
        ("solution-conducts-so-ionic", "hydrogen chloride", "sodium chloride", "sucrose"),
        ("acidic-so-molecular", "sodium hydrogensulfate", "benzoic acid", "sodium chloride"),
        ("solid-conducts-so-metal", "graphite", "copper", "quartz"),
        ("shiny-so-metal", "iodine", "silver", "sodium chloride"),
        ("dull-so-not-metal", "iron powder", "sodium sulfate", "silver"),
        ("brittle-so-not-metal", "cast iron", "sodium chloride", "copper"),
        ("magnet-so-metal", "magnetite", "nickel", "copper"),
        ("melts-low-so-molecular", "tin", "phenol", "sodium chloride"),
        ("withstands-heat-so-ionic", "diamond", "sodium chloride", "phenol"),
        ("sublimes-so-nonpolar", "ammonium chloride", "iodine", "sodium chloride"),
        ("burns-so-molecular", "sodium stearate", "ethanol", "sodium chloride"),
        ("dissolves-in-heptane-so-nonpolar", "propanone", "hexane", "sodium chloride"),
    ],
)
def test_known_substances_bear_on_the_rules_as_chemists_know(thumb: str, misleads: str, holds: str, silent: str) -> None:
    rule = KNOWLEDGE.rules_of_thumb[thumb]
    found = {each.substance.name: each.bearing for each in exception.candidates(rule, MATERIAL)}
    assert (found.get(misleads), found.get(holds), found.get(silent)) == tuple(exception.Bearing)


@pytest.mark.parametrize(
    ("thumb", "never"),
    [
        ("marks-paper-so-graphite", "molybdenum disulfide"),  # a network that marks paper, and is no graphite
        ("marks-paper-so-graphite", "charcoal"),
        ("alkaline-so-ionic", "trisodium phosphate dodecahydrate"),  # ionic, but neither a hydroxide nor a carbonate
        ("gives-off-water-so-hydrate", "sodium hydrogencarbonate"),  # its water forms from the ions on heating
        ("acidic-so-molecular", "sulfur dioxide"),  # molecular, and becomes an acid only with water
        ("brittle-so-not-metal", "antimony"),  # a semimetal may be called either
    ],
)
def test_what_can_be_argued_about_is_never_offered(thumb: str, never: str) -> None:
    assert never in SUBSTANCES
    rule = KNOWLEDGE.rules_of_thumb[thumb]
    assert never not in {each.substance.name for each in exception.candidates(rule, MATERIAL)}


def test_what_was_never_tested_on_a_substance_does_not_make_it_a_wrong_option() -> None:
    """A fine powder cannot be judged under the hammer, so nobody can say that it does not break."""
    rule = KNOWLEDGE.rules_of_thumb["brittle-so-not-metal"]
    powders = [row for row in SUBSTANCES.values() if not row.deformation]
    found = {each.substance.name for each in exception.candidates(rule, MATERIAL)}
    assert powders
    assert not found & {row.name for row in powders}


# ---- draws


def test_the_same_draw_gives_the_same_question_and_others_differ() -> None:
    for item in ITEMS:
        assert posed(item, 5) == posed(item, 5)
        assert len({tuple(sorted(option.says for option in posed(item, draw).options)) for draw in DRAWS}) > 6


def test_questions_are_of_every_difficulty() -> None:
    assert len({question.difficulty.level for question in QUESTIONS}) == 3
    assert all(question.sources for question in QUESTIONS)


def test_marking_follows_the_options() -> None:
    for question in QUESTIONS[::7]:
        for place, option in enumerate(question.options):
            assert mark(question, place, MATERIAL).outcome is (Outcome.RIGHT if option.right else Outcome.WRONG)


@pytest.mark.parametrize("secrecy", [Secrecy.CLASSES, Secrecy.NOTHING])
def test_nothing_is_asked_where_names_are_secret(secrecy: Secrecy) -> None:
    assert exception.items(msgspec.structs.replace(MATERIAL, secrecy=secrecy)) == ()


def test_a_rule_is_left_out_where_its_test_cannot_be_done() -> None:
    without = tuple(name for name in MATERIAL.tests if name != "magnet")
    topics = {item.topic for item in exception.items(msgspec.structs.replace(MATERIAL, tests=without))}
    assert topics == set(KNOWLEDGE.rules_of_thumb) - {"magnet-so-metal"}
