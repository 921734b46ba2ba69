"""`check_rules`: each kind of fault, with its place; many faults at once."""

from __future__ import annotations

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
