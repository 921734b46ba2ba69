"""Particle-level reasons: true of every substance they are asked of, in whole sentences, and wrong ones beside them."""

from __future__ import annotations

import itertools
import re

import msgspec
import pytest

from spotplate.datasets import load_substances
from spotplate.engine.quiz.asking.explain import holds_for
from spotplate.engine.reference_readings import ReferenceRow, load_reference
from spotplate.kb import load_knowledge
from spotplate.kb.quiz import ParticleReason, load_quiz
from spotplate.kb.quiz.loading import quiz_faults
from spotplate.kb.quiz.schema import QuizKnowledge

KNOWLEDGE = load_knowledge()
QUIZ = load_quiz()
REASONS = list(QUIZ.reasons.values())
SUBSTANCES = {item.name: item for item in load_substances()}
EVERY = pytest.mark.parametrize("reason", REASONS, ids=lambda reason: reason.id)


def asked_of(reason: ParticleReason) -> list[ReferenceRow]:
    return [row for row in load_reference().rows if holds_for(reason, row)]


def texts(reason: ParticleReason) -> list[str]:
    return [reason.right, reason.why, *(text for each in reason.wrong for text in (each.says, each.why))]


def names_asked_of(reason_id: str) -> set[str]:
    return {row.name for row in asked_of(QUIZ.reasons[reason_id])}


# --- what there is ------------------------------------------------------------------------------


def test_there_are_at_least_thirty_and_some_of_every_class() -> None:
    assert len(REASONS) >= 30
    assert {class_ for reason in REASONS for class_ in reason.of} == set(KNOWLEDGE.classes)


@pytest.mark.parametrize(
    "subtype",
    [
        "insoluble salt", "basic oxide or hydroxide", "hydrate", "hydrate melting in its water", "carbonate", "amphiphile",
        "ordinary metal", "low-melting metal", "reactive metal", "metal powder", "liquid metal", "alloy",
        "molecular acid", "molecular base", "zwitterion", "sugar", "macromolecule", "hydrogen-bonded molecule", "dipolar molecule",
        "fat or wax", "hydrocarbon", "halogen", "noble gas", "symmetrical molecule", "molecular oxide of a nonmetal",
        "three-dimensional network", "layered network", "glass", "semiconductor", "graphite",
    ],
)  # fmt: skip
def test_the_finer_kinds_that_school_books_make_much_of_are_asked_of(subtype: str) -> None:
    assert any(row.subtype == subtype for reason in REASONS for row in asked_of(reason))


# --- whom each can be asked of ------------------------------------------------------------------


@EVERY
def test_it_can_be_asked_of_a_substance_that_schools_use(reason: ParticleReason) -> None:
    assert any(row.school_use != "not in school" for row in asked_of(reason))


@EVERY
def test_its_substances_show_its_readings_whichever_honest_value_is_seen(reason: ParticleReason) -> None:
    for row in asked_of(reason):
        for reading, values in reason.readings.items():
            assert row.words[reading], (row.name, reading)
            assert set(row.words[reading]) <= set(values), (row.name, reading)


@EVERY
def test_it_names_only_substances_of_the_table_and_none_to_no_effect(reason: ParticleReason) -> None:
    assert set(reason.substances) <= {row.name for row in asked_of(reason)}
    assert set(reason.except_for) <= set(SUBSTANCES)


@EVERY
def test_no_value_is_listed_that_none_of_its_substances_shows(reason: ParticleReason) -> None:
    seen = {reading: {word for row in asked_of(reason) for word in row.words[reading]} for reading in reason.readings}
    assert seen == {reading: set(values) for reading, values in reason.readings.items()}


# Chemistry that the reasons rest on, from general knowledge: who must be among them, and who must not.
@pytest.mark.parametrize(
    ("reason_id", "holds", "fails"),
    [
        ("salt-conducts-only-dissolved", {"sodium chloride", "potassium nitrate"}, {"sodium", "citric acid monohydrate", "sodium peroxide"}),
        ("salt-conducts-when-molten", {"sodium chloride", "silver chloride"}, {"sodium sulfate decahydrate", "tin", "zinc chloride"}),
        ("ions-that-water-cannot-part", {"barium sulfate", "calcium carbonate", "silver chloride"}, {"pyrite", "galena", "quartz"}),
        ("crystal-water-leaves", {"copper(II) sulfate pentahydrate"}, {"sodium hydrogencarbonate", "magnesium hydroxide", "sucrose"}),
        ("crystal-dissolves-in-its-own-water", {"sodium thiosulfate pentahydrate"}, {"stearic acid", "gallium"}),
        ("carbonate-fizzes", {"marble", "sodium hydrogencarbonate"}, {"sodium sulfite", "zinc", "sodium thiosulfate pentahydrate"}),
        ("acid-takes-up-the-oxide", {"magnesium oxide", "copper(II) oxide"}, {"titanium(IV) oxide", "corundum", "calcium oxide"}),
        ("ions-that-leave-as-gas", {"ammonium chloride"}, {"iodine", "aluminium chloride (anhydrous)", "naphthalene"}),
        ("coloured-by-metal-ions", {"copper(II) sulfate pentahydrate"}, {"potassium permanganate", "potassium dichromate", "silver bromide"}),
        ("flame-is-coloured", {"sodium chloride", "potassium nitrate"}, {"sodium dodecyl sulfate", "magnesium oxide", "ammonium chloride"}),
        ("salt-makes-water-alkaline", {"sodium carbonate"}, {"sodium hydroxide", "sodium chloride", "ammonia"}),
        ("soap-foams", {"sodium stearate", "sodium dodecyl sulfate"}, {"gelatine", "sodium carbonate"}),
        ("metal-conducts-dry", {"copper", "iron"}, {"graphite", "glassy carbon", "antimony"}),
        ("metal-bends", {"copper", "lead"}, {"bismuth", "tungsten", "cast iron"}),
        ("metal-melts-low", {"tin", "gallium", "bismuth"}, {"iron", "mercury", "sulfur"}),
        ("liquid-that-conducts-as-a-metal", {"mercury"}, {"gallium", "bromine", "sulfuric acid (concentrated)"}),
        ("metal-powder-dull-and-poor", {"iron powder"}, {"graphite powder", "iron"}),
        ("metal-fizzes-in-water", {"sodium", "calcium"}, {"calcium carbide", "magnesium", "lithium hydride"}),
        ("metal-gives-hydrogen-in-acid", {"zinc", "magnesium", "iron"}, {"copper", "silver", "sodium"}),
        ("dissolves-without-conducting", {"sucrose", "urea"}, {"citric acid monohydrate", "glycine", "sodium chloride"}),
        ("molecular-acid-conducts", {"citric acid monohydrate", "benzoic acid"}, {"sodium hydrogensulfate", "boric acid", "stearic acid"}),
        ("gas-makes-ions-with-water", {"hydrogen chloride", "sulfur dioxide"}, {"chlorine", "ammonia", "oxygen"}),
        ("molecular-base-alkaline", {"ammonia"}, {"sodium hydroxide", "sodium carbonate", "urea"}),
        ("alcohol-mixes-with-water", {"ethanol", "glycerol"}, {"propanone", "water", "ethoxyethane", "hexane"}),
        ("acceptor-mixes-with-water", {"propanone", "acetonitrile"}, {"ethanol", "dichloromethane", "hexane"}),
        ("small-molecules-hold-on", {"glycerol"}, {"olive oil", "dodecane"}),
        ("sugar-chars", {"sucrose", "glucose"}, {"lactose monohydrate", "citric acid monohydrate", "copper(II) sulfate pentahydrate"}),
        ("two-charges-in-one-particle", {"glycine", "alanine"}, {"glutamic acid", "sulfamic acid", "monosodium glutamate monohydrate"}),
        ("molecules-part-on-melting", {"sulfur", "paraffin wax", "menthol"}, {"tin", "polystyrene", "potassium thiocyanate", "grey selenium"}),
        ("oil-and-water", {"hexane", "olive oil"}, {"ethanol", "mercury", "dichloromethane"}),
        ("wax-melts-low", {"paraffin wax", "beeswax"}, {"sodium stearate", "low-density polythene", "polyethylene glycol 4000"}),
        ("shines-without-conducting", {"iodine"}, {"grey selenium", "boron", "potassium permanganate"}),
        ("solid-gives-off-molecules", {"naphthalene"}, {"ammonium carbonate", "benzoic acid"}),
        ("gas-of-weak-attractions", {"helium", "methane", "nitrogen"}, {"ammonia", "hydrogen chloride", "carbon dioxide"}),
        ("gas-makes-water-faintly-acidic", {"carbon dioxide"}, {"nitrogen", "hydrogen sulfide"}),
        ("polar-bonds-that-cancel", {"tetrachloroethene"}, {"dichloromethane", "hexane", "trichloromethane"}),
        ("one-group-on-a-long-chain", {"stearic acid", "hexadecan-1-ol"}, {"paraffin wax", "cholesterol", "ethanol"}),
        ("plastic-softens-and-stays", {"polystyrene", "polypropylene"}, {"natural rubber", "phenolic resin", "soda-lime glass"}),
        ("network-withstands-the-flame", {"quartz", "diamond"}, {"graphite", "aluminium oxide", "soda-lime glass", "tungsten"}),
        ("hard-and-brittle-network", {"diamond", "quartz"}, {"corundum", "silicon", "tungsten carbide"}),
        ("layers-conduct-and-mark-paper", {"graphite"}, {"lead", "diamond", "hexagonal boron nitride", "manganese(IV) oxide"}),
        ("semiconductor-conducts-a-little", {"silicon"}, {"iron powder", "pyrite", "graphite"}),
        ("glass-softens-gradually", {"soda-lime glass"}, {"quartz", "polystyrene"}),
        ("layers-slide", {"graphite", "talc"}, {"diamond", "glassy carbon"}),
    ],
)  # fmt: skip
def test_it_is_asked_of_what_it_explains_and_not_of_what_merely_looks_the_same(
    reason_id: str, holds: set[str], fails: set[str]
) -> None:
    assert (holds | fails) <= set(SUBSTANCES)
    assert holds <= names_asked_of(reason_id)
    assert not fails & names_asked_of(reason_id)


# Substances of other kinds that may show the same readings. The wrong reasons fail for them as well, so that an unknown can be
# asked of all the same: mobile electrons carry the current in the semiconductor, too, and the acids hold no ions that could break up.
ALSO_SHOW_IT = {
    "metal-conducts-dry": {"indium antimonide"},
    "molecules-part-on-melting": {"grey selenium"},
    "crystal-water-leaves": {"ascorbic acid", "maleic acid"},
}


@EVERY
def test_an_unknown_is_asked_of_only_where_the_readings_tell_what_kind_of_particles_it_has(reason: ParticleReason) -> None:
    if reason.needs_name:
        return
    kinds = {class_.removeprefix("non").removeprefix("polar ") for class_ in reason.of}  # molecules, polar or not, are one kind
    of_other_kinds = {
        row.name
        for row in load_reference().rows
        if all(set(row.words.get(reading, ())) & set(values) for reading, values in reason.readings.items())
        and not kinds & {class_.removeprefix("non").removeprefix("polar ") for class_ in row.classes}
    }
    assert of_other_kinds == ALSO_SHOW_IT.get(reason.id, set())


# --- how they read ------------------------------------------------------------------------------


@EVERY
def test_they_are_whole_sentences(reason: ParticleReason) -> None:
    assert reason.asks.endswith("?")
    for text in texts(reason):
        assert text.endswith("."), text
        assert text[0].isupper(), text
        assert 1 <= len(re.findall(r"[.?!](?: |$)", text)) <= 2, text
        assert "None" not in text
        assert "  " not in text


@EVERY
def test_articles_fit_the_words_behind_them(reason: ParticleReason) -> None:
    for text in [reason.asks, *texts(reason)]:
        wrong = re.findall(r"\b[Aa] (?:[aeio]|un[^i]|u[^ns])\w*|\b[Aa]n (?!OH\b|hour|honest)[^aeiouAEIOU]\w*", text)
        assert wrong == [], text


@EVERY
def test_no_reason_stands_there_twice_and_every_wrong_one_fails_for_a_reason(reason: ParticleReason) -> None:
    assert 3 <= len(reason.wrong) <= 4
    said = texts(reason)
    assert len(set(said)) == len(said)


@EVERY
def test_like_dissolves_like_is_no_explanation(reason: ParticleReason) -> None:
    assert not any("like dissolves like" in text.casefold() for text in texts(reason))


@EVERY
def test_the_right_one_speaks_of_particles(reason: ParticleReason) -> None:
    assert re.search(r"\b(ions?|atoms?|electrons?|molecules?|particles?|bonds?|chains?|grains)\b", reason.right)


@EVERY
def test_the_reasons_are_of_similar_length(reason: ParticleReason) -> None:
    lengths = [len(each.says) for each in reason.wrong]
    assert 0.65 * min(lengths) <= len(reason.right) <= 1.1 * max(lengths)


def test_the_right_one_is_neither_mostly_the_longest_nor_mostly_the_shortest() -> None:
    longest = sum(all(len(reason.right) > len(each.says) for each in reason.wrong) for reason in REASONS)
    shortest = sum(all(len(reason.right) < len(each.says) for each in reason.wrong) for reason in REASONS)
    assert longest <= len(REASONS) / 3
    assert shortest <= len(REASONS) / 3


def test_no_question_and_no_right_reason_is_used_twice() -> None:
    for first, second in itertools.combinations(REASONS, 2):
        assert first.asks != second.asks
        assert first.right != second.right


def test_wrong_reasons_show_many_different_mix_ups() -> None:
    assert len({each.mix_up for reason in REASONS for each in reason.wrong} - {""}) >= 20


# --- faults -------------------------------------------------------------------------------------


def with_reason(**changes: object) -> QuizKnowledge:
    reason = msgspec.structs.replace(REASONS[0], **changes)
    return QuizKnowledge(QUIZ.mix_ups, {reason.id: reason}, {}, {}, "")


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"asks": "Why does it conduct?"}, "asks must name {substance} once."),
        ({"wrong": ()}, "there is no wrong reason to choose."),
        ({"of": ("ionik",)}, "'ionic'"),
        ({"readings": {"in water": ("disolves",)}}, "dissolves"),
    ],
)
def test_a_faulty_reason_is_told_of(changes: dict[str, object], told: str) -> None:
    faults = [str(fault) for fault in quiz_faults(with_reason(**changes), KNOWLEDGE)]
    assert any(told in fault for fault in faults), faults
    assert not list(quiz_faults(with_reason(), KNOWLEDGE))
