"""Which test tells two apart: right tests can never read alike, wrong ones always do."""

from __future__ import annotations

import re
from collections import Counter

import pytest

from spotplate.datasets import load_substances
from spotplate.engine.expected import expected_readings
from spotplate.engine.quiz.asking import tell_apart
from spotplate.engine.quiz.material import Material, Secrecy, table_material
from spotplate.engine.quiz.question import Question
from spotplate.kb import Interval, load_knowledge
from spotplate.kb.quiz import load_quiz

KNOWLEDGE = load_knowledge()
SUBSTANCES = {item.name: item for item in load_substances()}
EXPECTED = {name: expected_readings(item, KNOWLEDGE) for name, item in SUBSTANCES.items()}
NEEDS_A_SOLUTION = ("solution conductivity test", "litmus test")


@pytest.fixture(scope="module")
def material() -> Material:
    return table_material()


@pytest.fixture(scope="module")
def questions(material: Material) -> list[Question]:
    posed = [tell_apart.pose(item, draw, material) for item in tell_apart.items(material) for draw in range(3)]
    return [question for question in posed if question]


def of_substances(questions: list[Question]) -> list[tuple[str, str, Question]]:
    """The questions on named substances, with both names."""
    found = []
    for question in questions:
        told = re.fullmatch(r"Which of these tests tells (.+) apart\?", question.says)
        if told:
            halves = told.group(1).split(" and ")
            pair = next(
                (first, second)
                for at in range(1, len(halves))
                if (first := " and ".join(halves[:at])) in SUBSTANCES and (second := " and ".join(halves[at:])) in SUBSTANCES
            )
            found.append((*pair, question))
    return found


def of_classes(questions: list[Question]) -> list[tuple[str, str, Question]]:
    found = []
    for question in questions:
        told = re.match(r"You have looked at a solid, and it may be (.+) or (.+?)\. ", question.says)
        if told:
            found.append((told.group(1), told.group(2), question))
    return found


def can_never_read_alike(first: str, second: str, reading: str) -> bool:
    ours, theirs = EXPECTED[first].get(reading, ()), EXPECTED[second].get(reading, ())
    if not ours or not theirs:
        return False
    one, other = ours[0], theirs[0]
    if isinstance(one, Interval) and isinstance(other, Interval):
        # Two numbers part two substances only when no careful measurement could take the one for the other.
        least = 0.05 * max(one.low, other.low) if reading == "density" else 5.0  # [kg/m3] or [K]
        return abs(one.low - other.low) > least
    return not set(ours) & set(theirs)


def test_a_right_test_has_a_reading_that_can_never_be_alike(questions: list[Question]) -> None:
    named = of_substances(questions)
    for first, second, question in named:
        for option in question.options:
            readings = [kind.id for kind in KNOWLEDGE.tests[option.means].readings]
            parted = [reading for reading in readings if can_never_read_alike(first, second, reading)]
            assert bool(parted) == option.right, (question.says, option.says)
    assert len(named) > 500


def test_a_wrong_test_reads_alike_for_certain_or_can_be_done_on_neither(questions: list[Question]) -> None:
    for first, second, question in of_substances(questions):
        for option in question.options:
            if option.right:
                continue
            test = KNOWLEDGE.tests[option.means]
            if option.why.startswith("Neither of them"):
                need = test.needs[-1]
                assert need.reading
                for name in (first, second):
                    assert not set(EXPECTED[name][need.reading]) & set(need.is_), (question.says, option.says)
                assert option.means in (*NEEDS_A_SOLUTION, "melt conductivity test")
                continue
            for kind in test.readings:
                ours, theirs = EXPECTED[first][kind.id], EXPECTED[second][kind.id]
                assert (len(ours), ours) == (1, theirs), (question.says, option.says, kind.id)


def test_a_wrong_test_shows_no_difference_that_its_words_do_not_name(questions: list[Question]) -> None:
    """One colour, one colour of the flame, one height in the water; melting in one test at about the same temperature."""
    for first, second, question in of_substances(questions):
        one, other = SUBSTANCES[first], SUBSTANCES[second]
        for option in question.options:
            if option.right:
                continue
            if option.means == "look":
                assert (one.colour, one.lustre) == (other.colour, other.lustre), question.says
            if option.means == "flame colour test":
                assert one.flame_colour == other.flame_colour, question.says
            if option.means in ("warm bath test", "hot plate test", "burner test") and "melt" in option.why.split(",")[0]:
                assert one.melting_point_K
                assert other.melting_point_K
                assert abs(one.melting_point_K - other.melting_point_K) < 20, question.says
            if option.means == "water test" and "dissolves in water" in option.why:
                densities = [item.density_kg_per_m3 for item in (one, other) if item.density_kg_per_m3]
                assert len({value > 1000 for value in densities}) < 2, question.says


def test_the_two_look_alike_at_a_glance(questions: list[Question]) -> None:
    for first, second, question in of_substances(questions):
        one, other = SUBSTANCES[first], SUBSTANCES[second]
        assert one.state == other.state, question.says
        assert (one.lustre == "metallic") == (other.lustre == "metallic"), question.says


def test_the_right_test_between_classes_parts_them_better_than_the_wrong_ones(questions: list[Question]) -> None:
    """By how often a guess at the class from the likelier value would be right, both classes being as likely."""
    asked = of_classes(questions)
    for first, second, question in asked:
        hits = {option.means: chance_of_hit(first, second, option.means) for option in question.options}
        worst_right = min(hits[option.means] for option in question.options if option.right)
        best_wrong = max(hits[option.means] for option in question.options if not option.right)
        assert worst_right > best_wrong, (question.says, hits)
    assert {frozenset(pair[:2]) for pair in asked} == {
        frozenset((a, b)) for a in KNOWLEDGE.classes for b in KNOWLEDGE.classes if a != b
    }


def chance_of_hit(first: str, second: str, test: str) -> float:
    best = 0.5
    for kind in KNOWLEDGE.tests[test].readings:
        if not kind.values:
            continue
        chances = []
        for class_ in (first, second):
            solids = [name for name, item in SUBSTANCES.items() if item.class_ == class_ and item.state == "solid"]
            counts = Counter[str]()
            for name in solids:
                values = [str(value) for value in EXPECTED[name].get(kind.id, ("not known or not possible",))]
                for value in values:
                    counts[value] += 1 / len(values)  # type: ignore[assignment]
            chances.append({value: count / len(solids) for value, count in counts.items()})
        best = max(best, sum(max(each.get(value, 0.0) for each in chances) for value in chances[0] | chances[1]) / 2)
    return best


# What a chemist would answer: two classes, and a test that must be right for them.
@pytest.mark.parametrize(
    ("classes", "test"),
    [
        (("ionic", "metallic"), "dry conductivity test"),
        (("metallic", "polar molecular"), "dry conductivity test"),
        (("metallic", "nonpolar molecular"), "dry conductivity test"),
        (("polar molecular", "nonpolar molecular"), "water test"),
        (("polar molecular", "covalent network"), "hot plate test"),
        (("ionic", "polar molecular"), "melt conductivity test"),
    ],
)
def test_known_partings_of_classes(classes: tuple[str, str], test: str, material: Material) -> None:
    item = next(item for item in tell_apart.items(material) if item.topic == f"a solid that is {classes[0]} or {classes[1]}")
    posed = [tell_apart.pose(item, draw, material) for draw in range(30)]
    right = {option.means for question in posed if question for option in question.options if option.right}
    assert test in right


@pytest.mark.parametrize(
    ("first", "second"),
    [("ionic", "polar molecular, sugar"), ("ionic", "covalent network, three-dimensional network")],
)
def test_known_confusions_are_asked_of(first: str, second: str, material: Material) -> None:
    """Salt and sugar, salt and quartz."""
    assert f"{first} or {second}" in {item.topic for item in tell_apart.items(material)}


def test_graphite_is_set_beside_metals(questions: list[Question]) -> None:
    beside = {
        SUBSTANCES[other].class_
        for first, second, _ in of_substances(questions)
        for name, other in ((first, second), (second, first))
        if SUBSTANCES[name].subtype == "graphite"
    }
    assert "metallic" in beside


def test_whys_are_whole_sentences(questions: list[Question]) -> None:
    signs = (
        r"\bNone\b",
        r"\b(\w+) \1\b",
        r"\ba [aeio]\w|\ban [^aeiouh\d\W]\w",
        r"  | [,.;:?]|\.\.|\{|\}",
        r"^[a-z]|[.?!] [a-z]",
        r"\bdoes not (?:not|no)\b|\bBoth (?:do|does) not\b",
    )
    for question in questions:
        for text in filter(None, (question.says, question.because, question.decisive, *(each.why for each in question.options))):
            assert not [sign for sign in signs if re.search(sign, text)], text
            assert text.endswith((".", "?")), text


def test_every_question_names_the_particle_level_reason_once_and_the_tests_that_settle_it(questions: list[Question]) -> None:
    for question in questions:
        right = [option for option in question.options if option.right]
        told = [question.because] if question.because else [option.why for option in right]
        # "Graphite: each carbon atom …", "Metallic substances: mobile electrons …"
        assert [text for text in told if re.search(r": [a-zL]", text)], question.says
        sentences = re.split(r"(?<=\.) ", " ".join(told))
        assert len(sentences) == len(set(sentences)), sentences
        assert not [option for option in right if question.because and question.because in option.why]
        settle = question.decisive.removesuffix(".").split("; or ")
        named = {text.partition(", if your ")[0].casefold() for text in settle}
        assert named == {option.says.casefold() for option in right}


def test_a_test_that_is_the_teachers_says_so_and_so_does_any_with_a_substance_that_is(
    questions: list[Question], material: Material
) -> None:
    by_name = {test.does.casefold(): test for test in KNOWLEDGE.tests.values()}
    for question in questions:
        pair = re.fullmatch(r"Which of these tests tells (.+) and (.+) apart\?", question.says)
        careful = pair is not None and any(material.rows[name].school_use == "teacher only" for name in pair.groups())
        for text in question.decisive.removesuffix(".").split("; or "):
            does, _, agreed = text.partition(", if your ")
            assert (careful or by_name[does.casefold()].teacher) == bool(agreed), text


def test_nothing_that_air_or_water_sets_on_fire_is_put_through_the_tests(questions: list[Question]) -> None:
    for name in ("lithium", "sodium", "potassium", "white phosphorus"):
        assert not any(re.search(rf"(tells|and) {name} (and|apart)", question.says) for question in questions)


def test_more_or_less_soot_does_not_tell_two_apart(questions: list[Question]) -> None:
    right = [option.why for question in questions for option in question.options if option.right]
    assert not any("clean flame" in why and "sooty flame" in why for why in right)


def test_options_are_three_to_six_different_ones(questions: list[Question]) -> None:
    for question in questions:
        assert 3 <= len(question.options) <= 6
        assert len({option.means for option in question.options}) == len(question.options)


def test_where_names_are_secret_only_classes_and_tests_of_the_set_are_asked_of(material: Material) -> None:
    names = ("sodium chloride", "copper", "sucrose", "barium sulfate")
    tests = ("look", "dry conductivity test", "water test", "magnet", "paper streak", "warm bath test")
    secret = Material(KNOWLEDGE, load_quiz(), material.reference, names, tests, Secrecy.CLASSES)
    found = tell_apart.items(secret)
    assert found
    for item in found:
        assert "nonpolar" not in item.topic
        assert "network" not in item.topic
        question = tell_apart.pose(item, 1, secret)
        assert question is not None
        assert {option.means for option in question.options} <= set(tests)
        told = f"{question.says} {question.because} {[option.why for option in question.options]}".casefold()
        assert not [name for name in names if re.search(rf"\b{name}\b", told)]


def test_of_a_set_that_is_assessed_not_even_its_classes_are_told(material: Material) -> None:
    tests = ("look", "dry conductivity test", "water test", "magnet", "paper streak", "warm bath test", "hot plate test")
    few = Material(KNOWLEDGE, load_quiz(), material.reference, ("copper", "sucrose"), tests, Secrecy.NOTHING)
    others = Material(KNOWLEDGE, load_quiz(), material.reference, ("diamond", "iodine"), tests, Secrecy.NOTHING)
    assert tell_apart.items(few) == tell_apart.items(others)


def test_the_same_draw_gives_the_same_question(material: Material) -> None:
    for item in tell_apart.items(material)[::40]:
        assert tell_apart.pose(item, 5, material) == tell_apart.pose(item, 5, table_material())


def test_there_are_some_hundreds_of_items_at_most_and_every_class_is_among_them(material: Material) -> None:
    found = tell_apart.items(material)
    assert 100 < len(found) < 400
    for class_ in KNOWLEDGE.classes:
        assert [item for item in found if class_ in item.topic]
