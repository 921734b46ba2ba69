"""`check_rules`: each kind of fault, with its place; many faults at once."""

from __future__ import annotations

import re

import pytest

from spotplate.engine import FaultyInputError, check_rules
from spotplate.kb import Fault, load_knowledge, with_rules

SOUND = """\
- id: mine
  because: Bright lamps speak of mobile electrons.
  when: {all: [{reading: dry conductivity, is: [bright glow]}]}
  weighs:
    cause: charge carriers
    for: {metallic: strong, ionic: hint, polar molecular: hint, nonpolar molecular: hint, covalent network: hint}
  source: {key: common practice}
  fires_on: [{dry conductivity: bright glow}]
  silent_on: [{dry conductivity: no glow}]
"""


def faults(text: str, *, replace: bool = True) -> tuple[Fault, ...]:
    try:
        return check_rules(with_rules(load_knowledge(), text, "mine.yaml", replace=replace))
    except FaultyInputError as error:
        return error.faults


def test_a_sound_rule_base_has_no_faults() -> None:
    assert faults(SOUND) == ()
    assert faults(SOUND, replace=False) == ()


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        ("because:", "becaus:", 2, "did you mean 'because'"),
        ("{all: [{reading:", "{all: [{readnig:", 3, "did you mean 'reading'"),
        ("reading: dry conductivity", "reading: dry conductivty", 1, "did you mean 'dry conductivity'"),
        ("is: [bright glow]", "is: [bright glo]", 1, "did you mean 'bright glow'"),
        ("{metallic: strong", "{metalic: strong", 1, "did you mean 'metallic'"),
        ("metallic: strong", "metallic: huge", 6, "Accepted: hint, supporting, strong, decisive"),
        ("cause: charge carriers", "cause: charge carrier", 1, "did you mean 'charge carriers'"),
        ("key: common practice", "key: comon practice", 1, "did you mean 'common practice'"),
        ("weighs:", "adds: [mobile electron]\n  weighs:", 1, "did you mean 'mobile electrons'"),
        ("weighs:", "exceptions: [{subtype: graphit, because: X.}]\n  weighs:", 1, "did you mean 'graphite'"),
        ("{reading: dry conductivity, is: [bright glow]}", "{fact: mobile electrons}", 1, "never derived"),
        ("weighs:", "adds: [mobile electrons]\n  weighs:", 1, "never used"),
        ("is: [bright glow]}]}", "is: [bright glow]}, {reading: dry conductivity, is: [no glow]}]}", 1, "can never fire"),
        ("is: [bright glow]}]}", "is: [bright glow]}], none: [{reading: dry conductivity, is: [bright glow]}]}", 1, "can never fire"),
        (
            "is: [bright glow]}]}",
            "is: [bright glow]}, {reading: melting range, above: 300 °C}, {reading: melting range, below: 200 °C}]}",
            1,
            "can never fire",
        ),
        ("metallic: strong, ", "", 0, "no rule speaks for the class 'metallic'"),
        ("fires_on: [{dry conductivity: bright glow}]", "fires_on: [{lustre: dull}]", 1, "does not fire on this example"),
        ("silent_on: [{dry conductivity: no glow}]", "silent_on: [{dry conductivity: bright glow}]", 1, "fires on this example"),
        ("  fires_on: [{dry conductivity: bright glow}]\n", "", 1, "no example on which the rule must fire"),
        ("  silent_on: [{dry conductivity: no glow}]\n", "", 1, "no example on which the rule must not fire"),
        ("for: {metallic: strong", "against: {metallic: hint}\n    for: {metallic: strong", 1, "both under for and under against"),
        ("  because: Bright lamps speak of mobile electrons.\n", "", 1, "the key 'because' is missing"),
        ("is: [bright glow]", "above: 3", 1, "has a list of values"),
        ("when: {all: [{reading: dry conductivity, is: [bright glow]}]}", "when: {}", 1, "no condition"),
        ("id: mine", "id: [mine]", 1, "text is accepted"),
    ],
)  # fmt: skip
def test_each_kind_of_fault_is_found_with_its_place(old: str, new: str, line: int, says: str) -> None:
    assert old in SOUND
    found = faults(SOUND.replace(old, new))
    assert any(says in fault.says for fault in found), [str(fault) for fault in found]
    if line:
        fault = next(fault for fault in found if says in fault.says)
        assert fault.where.startswith(f"mine.yaml, line {line}")


def test_same_id_twice() -> None:
    assert any("already used" in fault.says for fault in faults(SOUND + SOUND))


def test_an_id_of_the_shipped_rules_is_taken() -> None:
    assert any("already used" in fault.says for fault in faults(SOUND.replace("id: mine", "id: electron-sea"), replace=False))


def test_loop_through_negation() -> None:
    text = SOUND + (
        "- {id: hen, because: So it is., when: {all: [{reading: state, is: [solid]}], none: [{fact: mobile electrons}]}, "
        "adds: [a few mobile electrons], source: {key: judgement}, fires_on: [{state: solid}], silent_on: [{state: gas}]}\n"
        "- {id: egg, because: So it is., when: {all: [{fact: a few mobile electrons}]}, "
        "adds: [mobile electrons], source: {key: judgement}, fires_on: [{state: solid}], silent_on: [{state: gas}]}\n"
    )
    assert any("'hen', 'egg'" in fault.says for fault in faults(text))


def test_rules_that_only_feed_one_another_can_never_fire() -> None:
    text = SOUND + (
        "- {id: hen, because: So it is., when: {all: [{fact: mobile electrons}]}, adds: [a few mobile electrons], "
        "source: {key: judgement}, fires_on: [{state: solid}], silent_on: [{state: gas}]}\n"
        "- {id: egg, because: So it is., when: {all: [{fact: a few mobile electrons}]}, adds: [mobile electrons], "
        "source: {key: judgement}, fires_on: [{state: solid}], silent_on: [{state: gas}]}\n"
    )
    assert sum("can never fire" in fault.says for fault in faults(text)) == 2


def test_all_faults_of_a_file_are_reported_at_once() -> None:
    text = SOUND.replace("metallic: strong", "metalic: strong").replace("key: common", "key: comon")
    text = text.replace("is: [bright glow]", "is: [bright glo]").replace("cause: charge", "cause: chrage")
    assert len(faults(text)) == 4


# --- further faults, each with its place ---------------------------------------------------------------

# A second rule on line 11 and after, to see that the line is that of the rule with the fault.
SECOND = """\
- id: other
  because: Brittle pieces speak of bonding with a direction.
  when:
    all:
      - {reading: deformation, is: [brittle]}
  weighs: {cause: surface and deformation, against: {metallic: strong}}
  source: {key: common practice}
  fires_on: [{deformation: brittle}]
  silent_on: [{deformation: malleable}]
"""
SECOND_LINE = SOUND.count("\n") + 1


@pytest.mark.parametrize(
    ("old", "new", "line", "says"),
    [
        # told while reading: the very line
        ("  source: {key: common practice}\n", "  sauce: {key: common practice}\n", 6, "did you mean 'source'"),
        ("    all:\n", "    al:\n", 3, "did you mean 'all'"),
        ("{reading: deformation, is: [brittle]}", "{reading: deformation, is: [brittle], bellow: 3}", 4, "did you mean 'below'"),
        ("{metallic: strong}", "{metallic: stron}", 5, "'stron'"),
        ("cause: surface and deformation, ", "", 5, "the key 'cause' is missing"),
        ("fires_on: [{deformation: brittle}]", "fires_on: [brittle]", 7, "pairs are accepted"),
        # told of the whole rule: the line of its id
        ("deformation, is", "deformatoin, is", 0, "did you mean 'deformation'"),
        ("[brittle]}\n", "[britle]}\n", 0, "did you mean 'brittle'"),
        ("surface and deformation", "surface and deformaton", 0, "did you mean 'surface and deformation'"),
        ("{metallic: strong}", "{metalic: strong}", 0, "did you mean 'metallic'"),
        ("common practice", "comon practice", 0, "did you mean 'common practice'"),
        ("fires_on: [{deformation: brittle}]", "fires_on: [{deformation: britle}]", 0, "did you mean 'brittle'"),
        ("silent_on: [{deformation: malleable}]", "silent_on: [{defermation: malleable}]", 0, "did you mean 'deformation'"),
        ("against: {metallic: strong}", "against: {}", 0, "no class is weighed"),
        ("  weighs: {cause: surface and deformation, against: {metallic: strong}}\n", "", 0, "the rule does nothing"),
        ("{reading: deformation, is: [brittle]}", "{reading: deformation, fact: mobile electrons, is: [brittle]}", 0, "either reading or fact"),
        ("{reading: deformation, is: [brittle]}", "{is: [brittle]}", 0, "either reading or fact"),
        ("{reading: deformation, is: [brittle]}", "{fact: mobile electrons, is: [brittle]}", 0, "neither values nor bounds"),
        ("{reading: deformation, is: [brittle]}", "{reading: melting range, is: [hot]}", 0, "is a number; give above"),
        ("{reading: deformation, is: [brittle]}", "{reading: melting range, above: 30 bar}", 0, "not a unit of this reading"),
        # told of the rules together
        ("fires_on: [{deformation: brittle}]", "fires_on: [{deformation: brittle}, {deformation: waxy}]", 0, "does not fire"),
        ("silent_on: [{deformation: malleable}]", "silent_on: [{deformation: malleable}, {deformation: brittle}]", 0, "the rule fires"),
        (
            "[brittle]}\n",
            "[brittle]}\n    none: [{reading: deformation, is: [brittle, waxy]}]\n",
            0,
            "can never fire: no value of 'deformation'",
        ),
        (
            "{reading: deformation, is: [brittle]}",
            "{reading: melting range, above: 300 °C}\n    none: [{reading: melting range, above: 200 °C}]",
            0,
            "can never fire: 'none' refuses every number",
        ),
        (
            "    all:\n      - {reading: deformation, is: [brittle]}\n",
            "    any: [{reading: state, is: [gas]}, {reading: state, is: [liquid]}]\n    none: [{reading: state, is: [gas, liquid]}]\n",
            0,
            "can never fire",
        ),
    ],
)  # fmt: skip
def test_fault_of_the_second_rule_stands_at_the_second_rule(old: str, new: str, line: int, says: str) -> None:
    assert old in SECOND
    found = faults(SOUND + SECOND.replace(old, new))
    fault = next((fault for fault in found if says in fault.says), None)
    assert fault is not None, [str(fault) for fault in found]
    assert fault.where.startswith(f"mine.yaml, line {SECOND_LINE + line}, ")
    assert "'other'" in fault.where


def test_two_sound_rules_have_no_faults() -> None:
    assert faults(SOUND + SECOND) == ()


def test_a_second_rule_of_the_same_id_names_the_place_of_the_first() -> None:
    (fault,) = faults(SOUND + SECOND.replace("id: other", "id: mine"))
    assert fault.where == f"mine.yaml, line {SECOND_LINE}, rule 'mine'"
    assert "mine.yaml, line 1" in fault.says


@pytest.mark.parametrize("name", ["ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network"])
def test_a_class_that_no_rule_speaks_for_is_named(name: str) -> None:
    text = re.sub(rf"(?<=[{{ ]){name}: (hint|strong)(, )?", "", SOUND).replace(", }", "}")
    (fault,) = faults(text)
    assert fault.says == f"no rule speaks for the class {name!r}."


def test_a_fact_of_ones_own_that_nothing_speaks_of_is_named() -> None:
    listed = "".join(f"  {line}\n" if line else "\n" for line in SOUND.splitlines())
    (fault,) = faults('facts: [{id: my fact, says: "It is so."}]\nrules:\n' + listed)
    assert "'my fact'" in fault.says


@pytest.mark.parametrize(
    ("part", "entry"),
    [
        ("facts", "{id: mobile electrons, says: X.}"),
        ("causes", "{id: charge carriers, says: x}"),
        ("sources", "{key: judgement, cites: x}"),
    ],
)
def test_what_is_shipped_is_not_defined_anew(part: str, entry: str) -> None:
    found = faults(f"{part}: [{entry}]\nrules:\n{SOUND}")
    assert any("defined a second time" in fault.says for fault in found)


def test_faults_of_many_kinds_in_many_rules_are_reported_at_once() -> None:
    """Those that show when each rule is read; those of the rules together come when these are mended."""
    text = (
        SOUND
        + SECOND.replace("[brittle]}\n", "[britle]}\n")
        + SECOND.replace("other", "third").replace("{metallic: strong}", "{metalic: strong}").replace("common", "comon")
        + SECOND.replace("other", "mine")
    )
    each = SECOND.count("\n")
    assert {fault.where.split(", ")[1] for fault in faults(text)} == {
        f"line {SECOND_LINE + each * number}" for number in range(3)
    }
    assert len(faults(text)) == 4


def test_faults_of_the_rules_together_are_reported_at_once() -> None:
    text = SOUND.replace("metallic: strong, ", "").replace(
        "silent_on: [{dry conductivity: no glow}]", "silent_on: [{dry conductivity: bright glow}]"
    )
    text += SECOND.replace("[brittle]}\n", "[brittle]}\n      - {reading: deformation, is: [waxy]}\n")
    text += SECOND.replace("other", "third").replace(
        "  weighs", "  adds: [layers slide apart, bonding with a direction]\n  weighs"
    )
    told = " ".join(fault.says for fault in faults(text))
    for says in (
        "no rule speaks for the class 'metallic'",
        "the rule fires on this example",
        "can never fire",
        "'bonding with a direction' is never used",
    ):
        assert says in told
    # a fact that points to a subtype is of use without a rule that asks for it
    assert "'layers slide apart' is never used" not in told


# --- known faults --------------------------------------------------------------------------------------


def numbers(when: str, example: str) -> tuple[Fault, ...]:
    return faults(
        SOUND
        + SECOND.replace("    all:\n      - {reading: deformation, is: [brittle]}\n", when).replace(
            "{deformation: brittle}", example
        )
    )


def test_a_range_of_numbers_that_is_sound_has_no_faults() -> None:
    assert numbers("    all: [{reading: melting range, at_least: 100 °C, at_most: 100 °C}]\n", "{melting range: 100 °C}") == ()


@pytest.mark.parametrize(
    "bounds", ["above: 100 °C, below: 100 °C", "at_least: 100 °C, below: 100 °C", "above: 100 °C, at_most: 100 °C"]
)
def test_a_range_that_excludes_its_only_number_can_never_fire(bounds: str) -> None:
    found = numbers(f"    all: [{{reading: melting range, {bounds}}}]\n", "{melting range: 100 °C}")
    assert any("can never fire" in fault.says for fault in found)


def test_a_none_that_spares_one_number_leaves_a_rule_that_can_fire() -> None:
    when = "    all: [{reading: melting range, at_least: 100 °C}]\n    none: [{reading: melting range, above: 100 °C}]\n"
    assert numbers(when, "{melting range: 100 °C}") == ()


@pytest.mark.parametrize("bound", ["below: '< 300 °C'", "at_most: under 300 °C", "above: 100-200 °C", "below: 100-200 °C"])
def test_a_bound_is_one_plain_number(bound: str) -> None:
    """Which end of a range would count is anybody's guess; below '< 300 °C' nothing is cold enough."""
    text = SECOND.replace("{reading: deformation, is: [brittle]}", f"{{reading: melting range, {bound}}}")
    with pytest.raises(FaultyInputError):
        with_rules(load_knowledge(), text, "mine.yaml", replace=True)


def test_a_none_that_refuses_every_word_can_never_fire() -> None:
    when = "    all: [{reading: state, is: [solid]}]\n    none: [{reading: lustre, is: [metallic, glassy, waxy, dull]}]\n"
    assert any("can never fire" in fault.says for fault in numbers(when, "{state: solid, lustre: dull}"))


def test_nones_that_together_refuse_every_number_can_never_fire() -> None:
    when = (
        "    all: [{reading: melting range, above: 100 °C}]\n"
        "    none: [{reading: melting range, below: 300 °C}, {reading: melting range, at_least: 300 °C}]\n"
    )
    assert any("can never fire" in fault.says for fault in numbers(when, "{melting range: 200 °C}"))


def test_an_unknown_subtype_of_a_fact_of_ones_own_is_found() -> None:
    text = SOUND.replace("  weighs:", "  adds: [my fact]\n  weighs:")
    found = faults("facts: [{id: my fact, says: It is so., subtype: graphit}]\nrules:\n" + text)
    assert any("did you mean 'graphite'" in fault.says for fault in found)
