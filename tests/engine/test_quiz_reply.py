"""The reply to a guessed class, checked against the handbook rows themselves and not against what made it."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest

from spotplate.datasets import Substance, load_substances
from spotplate.engine import expected_readings, expected_records, load_knowledge
from spotplate.engine.quiz.asking import asking
from spotplate.engine.quiz.asking.classify import class_options
from spotplate.engine.quiz.difficulty import difficulty
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import Material, Secrecy, set_material, table_material
from spotplate.engine.quiz.question import Item, Kind, Marked, Outcome, Question
from spotplate.engine.sets import UnknownsSet, Vial
from spotplate.kb import Interval

KNOWLEDGE = load_knowledge()
SUBSTANCES = load_substances()
EXPECTED = {item.name: expected_readings(item, KNOWLEDGE) for item in SUBSTANCES}
# Its bench readings are all at least as common among nonpolar molecular substances as among polar ones: a fuming liquid that
# reacts with water and mixes with heptane. Only the make-up of the molecule tells, and the reply says that no reading does.
NOTHING_SPEAKS_AGAINST = {("phosphorus trichloride", "nonpolar molecular")}
# What each of them shows in any one test, most substances of the class that was guessed show as well.
NO_SINGLE_TEST = {
    *NOTHING_SPEAKS_AGAINST,
    ("buckminsterfullerene", "covalent network"),
    ("phosphorus(V) oxide", "ionic"),
    ("graphite powder", "metallic"),
}


@pytest.fixture(scope="module")
def material() -> Material:
    return table_material()


def question_on(substance: Substance) -> Question:
    """The question that shows all likeliest readings of a substance."""
    record = next(expected_records(substance, KNOWLEDGE))
    truth = substance.defensible_classes()
    return Question(
        Item(Kind.CLASSIFY, "all readings", substance.class_, substance.subtype),
        0,
        "Which class?",
        {name: str(value) for name, value in record.readings.items()},
        class_options(KNOWLEDGE, truth, undecided=False),
        difficulty({}),
        substance=substance.name,
        truth=truth,
        subtype=substance.subtype,
    )


def wrong_guesses(substance: Substance, material: Material) -> Iterator[tuple[str, Marked]]:
    question = question_on(substance)
    for place, option in enumerate(question.options):
        if option.means in KNOWLEDGE.classes and option.means not in question.truth:
            yield option.means, mark(question, place, material)


def counted(class_: str, reading: str, seen: str) -> tuple[int, int]:
    """How many handbook rows of a class may honestly show a value, and how many tell of the reading."""
    known = [EXPECTED[item.name][reading] for item in SUBSTANCES if item.class_ == class_ and reading in EXPECTED[item.name]]
    return sum(seen in values for values in known), len(known)


def truly_speaks_against(class_: str, reading: str, seen: str) -> bool:
    """Whether fewer than half of a class show a value."""
    showing, known = counted(class_, reading, seen)
    return showing < known / 2


@pytest.mark.parametrize("part", range(8))
def test_every_wrong_class_of_every_substance_is_refused_by_a_reading_that_speaks_against_it(
    part: int, material: Material
) -> None:
    for substance in SUBSTANCES[part::8]:
        for guess, marked in wrong_guesses(substance, material):
            assert marked.outcome is Outcome.WRONG
            if (substance.name, guess) in NOTHING_SPEAKS_AGAINST:
                assert not marked.reply.against
                assert "further test" in marked.reply.opening
                continue
            assert marked.reply.against, (substance.name, guess)
            for item in marked.reply.against:
                expected = EXPECTED[substance.name][item.reading]
                # What is told as seen is what the substance shows.
                assert item.seen in {str(value) for value in expected}, (substance.name, guess, item)
                if not isinstance(expected[0], Interval):
                    assert truly_speaks_against(guess, item.reading, item.seen), (substance.name, guess, item)
                    # What the guess would have shown is no rarity in its class, and not what was seen.
                    for value in re.findall("“(.+?)”", item.would_show):
                        showing, known = counted(guess, item.reading, value)
                        assert showing >= known / 5, (substance.name, guess, item)
                        assert value != item.seen


@pytest.mark.parametrize("part", range(4))
def test_a_reply_says_nothing_false_of_the_substance(part: int, material: Material) -> None:
    """What it "would show" or "shows" in the decisive test is an honest reading of it; what its class is, is its class."""
    for substance in SUBSTANCES[part::4]:
        for guess, marked in wrong_guesses(substance, material):
            decisive = re.match(
                r"“(.+?)” \(.*?\): it (?:was made, and shows|would show) (“.+”), while (.+) substances", marked.reply.decisive
            )
            if (substance.name, guess) in NO_SINGLE_TEST:
                assert marked.reply.decisive.startswith("No single test")
                continue
            assert decisive, marked.reply.decisive
            reading, shows, whose = decisive.groups()
            assert set(re.findall("“(.+?)”", shows)) <= set(map(str, EXPECTED[substance.name][reading])), marked.reply.decisive
            assert whose == guess
            opening = re.match(r"No\. (.+) is an? (.+) substance, not an? (.+) one\.", marked.reply.opening)
            assert opening, marked.reply.opening
            assert opening[1].casefold() == substance.name.casefold()
            assert tuple(opening[2].split(" or ")) == substance.defensible_classes()
            assert opening[3] == guess
            for says in marked.reply.expected:
                reading, _, value = says.partition(": ")
                assert value not in map(str, EXPECTED[substance.name].get(reading, ())), (substance.name, guess, says)
                showing, known = counted(guess, reading, value)
                assert showing >= known / 2, (substance.name, guess, says)


def texts_of(marked: Marked) -> list[str]:
    reply = marked.reply
    texts = [reply.opening, reply.particles, reply.contrast, reply.decisive, *reply.expected]
    return [*texts, *(text for item in reply.against for text in (item.reading, item.seen, item.would_show, item.because))]


def test_replies_read_well(material: Material) -> None:
    for substance in SUBSTANCES[::3]:
        for _, marked in wrong_guesses(substance, material):
            becauses = [item.because for item in marked.reply.against]
            assert len(set(becauses)) == len(becauses), "a reason is given twice"
            for because in becauses:
                assert because not in marked.reply.contrast
                assert because not in marked.reply.particles
            for text in texts_of(marked):
                assert "None" not in text
                assert "  " not in text
                assert not re.search(r"\ba [aeiou]", text), text
                assert not re.search(r"\ban [^aeiouh8]", text), text
            for text in (marked.reply.opening, marked.reply.particles, marked.reply.decisive, *becauses):
                assert text == "" or text.endswith("."), text


def test_the_readings_against_a_guess_come_in_order_of_weight(material: Material) -> None:
    """Sand guessed as a molecular substance: what withstands a flame says more than how it looks (rules of the knowledge base)."""
    sand = next(item for item in SUBSTANCES if item.name == "sand")
    marked = dict(wrong_guesses(sand, material))["polar molecular"]
    named = [item.reading for item in marked.reply.against]
    assert named.index("in the burner flame") == 0


# --- what a reply may not tell -----------------------------------------------------------------------

VIALS = ("sucrose", "graphite", "marble", "paraffin wax", "citric acid monohydrate", "copper", "sand", "sodium chloride")


def the_set() -> UnknownsSet:
    return UnknownsSet("an evening class", tuple(map(Vial, "ABCDEFGH", VIALS)), tuple(KNOWLEDGE.tests))


def test_a_set_as_source_is_never_told_by_name() -> None:
    material = set_material(the_set())
    assert material.secrecy is Secrecy.CLASSES
    for substance in material.substances.values():
        for guess, marked in wrong_guesses(substance, material):
            told = " ".join(texts_of(marked))
            for other in material.substances.values():
                for name in set(other.names()) - {"salt"}:  # the trade's word for every ionic compound, too
                    assert not re.search(rf"\b{re.escape(name)}\b", told, re.IGNORECASE), (substance.name, guess, told)


def test_of_a_set_that_is_assessed_no_class_is_asked() -> None:
    """Whoever may guess until a guess is called right knows the class."""
    material = set_material(the_set(), assessment=True)
    for kind in (Kind.CLASSIFY, Kind.NAMED, Kind.PUBLISHED, Kind.EXPLAIN):
        assert asking(kind).items(material) == ()
