"""Verdicts on records whose answer chemistry knows (common practice of the trade), and on records that decide nothing."""

from __future__ import annotations

import itertools

import pytest

from spotplate.engine import Identification, VerdictKind, identify, make_record
from spotplate.kb import KnowledgeBase, load_knowledge, with_rules

CLASSES = tuple(load_knowledge().classes)
SALT = {
    "state": "solid", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no", "in water": "yes",
    "solution conductivity": "yes", "litmus": "neutral", "on the hot plate": "no", "flame colour": "yellow",
}  # fmt: skip

# What a careful student sees: common practice, written by hand and not taken from our tables.
# (substance, class, readings)
BENCH: list[tuple[str, str, dict[str, str]]] = [
    # ionic
    ("table salt", "ionic", SALT | {"in heptane": "no", "in the burner flame": "melts", "melting range": "801 °C"}),
    ("Epsom salt", "ionic", {"state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle",
                             "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "bright glow",
                             "litmus": "neutral", "on the hot plate": "gives off water", "cold glass": "water drops",
                             "burning": "does not burn"}),
    ("blackboard chalk", "ionic", {"state": "solid", "colour": "white", "lustre": "dull", "deformation": "brittle",
                                   "dry conductivity": "no", "in water": "insoluble", "on the hot plate": "no change",
                                   "gas in dilute acid": "co2", "solid in dilute acid": "dissolves", "flame colour": "brick red"}),
    # metallic
    ("tin", "metallic", {"state": "solid", "colour": "silvery", "lustre": "metallic", "deformation": "malleable",
                         "dry conductivity": "bright glow", "in water": "insoluble", "on the hot plate": "melts",
                         "melting range": "232 °C"}),
    ("copper", "metallic", {"state": "solid", "colour": "coppery", "lustre": "metallic", "deformation": "malleable",
                            "dry conductivity": "bright glow", "in water": "insoluble", "on the hot plate": "no change",
                            "gas in dilute acid": "no gas"}),
    ("mercury", "metallic", {"state": "liquid", "colour": "silvery", "lustre": "metallic", "dry conductivity": "bright glow",
                             "in water": "insoluble", "density": "13.5 g/cm3"}),
    # polar molecular
    ("cane sugar", "polar molecular", {"state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle",
                                       "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "no glow",
                                       "litmus": "neutral", "in heptane": "no", "on the hot plate": "chars"}),
    ("citric acid", "polar molecular", {"state": "solid", "colour": "white", "lustre": "glassy", "deformation": "brittle",
                                        "dry conductivity": "no", "in water": "dissolves", "solution conductivity": "faint glow",
                                        "litmus": "acid", "in heptane": "no", "on the hot plate": "chars"}),
    ("ethanol", "polar molecular", {"state": "liquid", "colour": "colourless", "smell": "yes", "dry conductivity": "no",
                                    "in water": "dissolves", "solution conductivity": "no", "litmus": "neutral",
                                    "boiling point": "78 °C", "burning": "clean flame"}),
    # nonpolar molecular; iodine needs some 3 L of water a gram, which the bench calls insoluble
    ("iodine", "nonpolar molecular", {"state": "solid", "colour": "black", "lustre": "metallic", "deformation": "brittle",
                                      "smell": "yes", "dry conductivity": "no", "in water": "insoluble", "in heptane": "dissolves",
                                      "in the warm bath": "sublimes", "burning": "does not burn"}),
    ("candle wax", "nonpolar molecular", {"state": "solid", "colour": "white", "lustre": "waxy", "deformation": "waxy",
                                          "hardness": "soft", "dry conductivity": "no", "in water": "insoluble",
                                          "in heptane": "dissolves", "in the warm bath": "melts", "melting range": "55-60 °C",
                                          "burning": "sooty flame"}),
    # covalent network
    ("graphite", "covalent network", {"state": "solid", "colour": "black", "lustre": "metallic", "deformation": "brittle",
                                      "marks paper": "yes", "dry conductivity": "bright glow", "in water": "insoluble",
                                      "on the hot plate": "no change", "in the burner flame": "no change"}),
    ("quartz", "covalent network", {"state": "solid", "colour": "colourless", "lustre": "glassy", "deformation": "brittle",
                                    "hardness": "hard", "dry conductivity": "no", "in water": "insoluble", "in heptane": "no",
                                    "in the burner flame": "no change", "solid in dilute acid": "stays"}),
]  # fmt: skip
SETTLED = pytest.mark.parametrize(("class_", "written"), [(c, w) for _, c, w in BENCH], ids=[name for name, _, _ in BENCH])


def found(**changes: str) -> Identification:
    return identify(make_record({**SALT, **{name.replace("_", " "): value for name, value in changes.items()}}))


def teacher(rules: str) -> KnowledgeBase:
    return with_rules(load_knowledge(), rules, "teacher.yaml", replace=True)


def rule(name: str, when: str, weighs: str) -> str:
    return f"- {{id: {name}, because: Since., when: {when}, weighs: {weighs}, source: {{key: judgement}}}}\n"


# --- conclusive ------------------------------------------------------------------------------------


@SETTLED
def test_a_full_record_of_a_familiar_substance_is_settled_as_chemistry_says(class_: str, written: dict[str, str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.kind is VerdictKind.CONCLUSIVE
    assert result.verdict.class_ == class_ == result.ranking[0].class_
    assert result.verdict.open_between == ()
    assert result.next_tests == ()


@SETTLED
def test_leaving_any_one_test_out_never_settles_on_another_class(class_: str, written: dict[str, str]) -> None:
    for left_out in written:
        rest = {name: value for name, value in written.items() if name != left_out}
        assert identify(make_record(rest), advise=False).verdict.class_ in (class_, None)


@pytest.mark.parametrize("name", [name for name, _, _ in BENCH if name != "graphite"])  # graphite: see the next test
def test_one_to_three_readings_never_settle_on_another_class(name: str) -> None:
    class_, written = next((class_, written) for known, class_, written in BENCH if known == name)
    for count in (1, 2, 3):
        for names in itertools.combinations(written, count):
            assert identify(make_record({name: written[name] for name in names}), advise=False).verdict.class_ in (class_, None)


@pytest.mark.parametrize(
    "written",
    [
        {"lustre": "metallic", "dry conductivity": "bright glow"},
        # graphite powder: nothing to tap; the mark on paper was not tried (common practice: it conducts, shines, stays in the flame)
        {"state": "solid", "colour": "silvery or grey", "lustre": "metallic", "dry conductivity": "bright glow",
         "in water": "insoluble", "in heptane": "no", "on the hot plate": "no change", "gas in dilute acid": "no gas"},
    ],
)  # fmt: skip
def test_what_graphite_shows_too_is_not_settled_as_a_metal(written: dict[str, str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.class_ != "metallic"


@pytest.mark.parametrize(
    ("name", "subtype"),  # common practice
    [
        ("graphite", "graphite"),
        ("citric acid", "molecular acid"),
        ("Epsom salt", "hydrate"),
        ("blackboard chalk", "carbonate"),
    ],
)
def test_an_exception_is_called_by_its_name(name: str, subtype: str) -> None:
    written = next(written for known, _, written in BENCH if known == name)
    assert subtype in {fact.subtype for fact in identify(make_record(written)).facts}


@pytest.mark.parametrize("name", ["table salt", "cane sugar", "tin", "quartz"])
def test_a_plain_case_is_not_called_an_exception(name: str) -> None:
    written = next(written for known, _, written in BENCH if known == name)
    assert not {"graphite", "molecular acid", "hydrate", "carbonate"} & {
        fact.subtype for fact in identify(make_record(written)).facts
    }


def test_a_conclusion_keeps_every_threshold_of_the_knowledge_base() -> None:
    need = load_knowledge().verdict.conclusive
    for _, _, written in BENCH:
        first, second = identify(make_record(written)).ranking[:2]
        assert first.probability >= need.probability
        assert first.decibans - second.decibans >= need.lead


# --- inconclusive ----------------------------------------------------------------------------------


def test_no_reading_at_all_is_inconclusive_and_says_so() -> None:
    result = identify(make_record({}))
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "No reading" in result.verdict.reasons[0]
    assert {round(item.probability, 6) for item in result.ranking} == {0.2}
    assert result.next_tests


def test_only_unclear_readings_are_no_readings() -> None:
    result = identify(make_record({"lustre": "?", "in water": "unclear", "smell": "not tested"}))
    assert result.verdict == identify(make_record({})).verdict


@pytest.mark.parametrize(
    "written",
    [
        {"colour": "white"},
        {"state": "solid"},
        {"lustre": "metallic"},  # metals, iodine, graphite, silicon, pyrite
        {"dry conductivity": "no"},  # four classes
        {"state": "solid", "dry conductivity": "no", "in water": "insoluble"},  # wax, sand, chalk
    ],
)
def test_too_little_is_inconclusive_and_names_what_is_open(written: dict[str, str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert result.verdict.class_ is None
    assert result.verdict.reasons
    assert len(result.verdict.open_between) >= 2


def test_one_kind_of_evidence_that_one_reading_carries_is_no_conclusion() -> None:
    """A melt that conducts, however telling, could be one misreading."""
    result = identify(make_record({"dry conductivity": "no", "melt conductivity": "yes"}))
    assert result.ranking[0].class_ == "ionic"
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "misreading" in result.verdict.reasons[0]


def test_one_decisive_reading_alone_is_no_conclusion_but_two_causes_are() -> None:
    one = rule("one", "{all: [{reading: smell, is: [smell]}]}", "{cause: charge carriers, for: {metallic: decisive}}")
    other = rule("other", "{all: [{reading: colour, is: [black]}]}", "{cause: packing of the atoms, for: {metallic: decisive}}")
    knowledge = teacher(one + other)
    alone = identify(make_record({"smell": "yes"}), knowledge)
    odds = 10 ** (2 * knowledge.calibration.constant)  # decisive is 20 decibans, odds of 100 before calibration
    assert alone.ranking[0].probability == pytest.approx(odds / (odds + 4))
    assert alone.verdict.kind is VerdictKind.INCONCLUSIVE
    both = identify(make_record({"smell": "yes", "colour": "black"}), knowledge)
    assert both.verdict.kind is VerdictKind.CONCLUSIVE


def test_two_signs_of_one_cause_stand_in_for_one_another() -> None:
    """Either may be misread: the other carries the conclusion on its own."""
    weighs = "{cause: charge carriers, for: {metallic: decisive}}"
    text = rule("one", "{all: [{reading: smell, is: [smell]}]}", weighs) + rule(
        "two", "{all: [{reading: colour, is: [black]}]}", weighs
    )
    result = identify(make_record({"smell": "yes", "colour": "black"}), teacher(text))
    assert result.ranking[0].decibans == 20
    assert result.verdict.kind is VerdictKind.CONCLUSIVE


def test_an_open_question_names_tests_that_part_the_classes() -> None:
    """A bright solution that may be a salt's or an acid's: the flame shows whether metal ions are in it (common practice)."""
    result = identify(
        make_record({"state": "solid", "dry conductivity": "no", "in water": "yes", "solution conductivity": "yes"})
    )
    assert result.verdict.kind is VerdictKind.INCONCLUSIVE
    assert "flame colour test" in {test.test for test in result.next_tests}
    assert all(set(test.parts) == {"ionic", "polar molecular"} for test in result.next_tests)
    assert result.cautions


def test_a_test_whose_needs_are_unmet_is_not_proposed() -> None:
    result = identify(make_record({"state": "gas"}))
    proposed = {test.test for test in result.next_tests}
    assert proposed
    assert not proposed & {"press and tap", "scratch", "hot plate test", "melting range test", "dry conductivity test"}


def test_a_test_that_has_been_done_is_not_proposed_again() -> None:
    """Each proposed test yields some reading that is still to be made."""
    knowledge = load_knowledge()
    for written in ({"lustre": "metallic"}, {"in water": "dissolves"}, {"state": "solid", "in water": "dissolves"}):
        record = make_record(written)
        for test in identify(record).next_tests:
            assert test.reading not in record.readings
            assert test.gain > 0
            assert test.minutes == knowledge.tests[test.test].minutes


# --- contradictory ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "written",
    [  # each is impossible for any substance
        {"state": "liquid", "melting range": "121-123 °C"},
        {"state": "solid", "melting range": "-20 °C"},
        {"in water": "insoluble", "solution conductivity": "bright glow"},
        {"in the warm bath": "melts", "on the hot plate": "no change"},
        {"on the hot plate": "melts", "in the burner flame": "no change"},
        {"on the hot plate": "no change", "melting range": "80 °C"},
        {"state": "gas", "boiling point": "100 °C"},
        {"deformation": "malleable", "dry conductivity": "yes", "on the hot plate": "chars"},
    ],
)
def test_readings_that_exclude_one_another_are_contradictory(written: dict[str, str]) -> None:
    result = identify(make_record(written))
    assert result.verdict.kind is VerdictKind.CONTRADICTORY
    assert result.verdict.class_ is None
    assert result.verdict.reasons
    assert all(reason.endswith((".", "?")) for reason in result.verdict.reasons)


def test_a_conflict_outweighs_any_evidence() -> None:
    assert found(melting_range="80 °C").verdict.kind is VerdictKind.CONTRADICTORY
    assert found(melting_range="801 °C").verdict.kind is VerdictKind.CONCLUSIVE


def test_each_conflict_among_the_readings_is_told() -> None:
    both = identify(
        make_record({"state": "gas", "boiling point": "100 °C", "in water": "insoluble", "solution conductivity": "yes"})
    )
    assert len(both.verdict.reasons) == 2


def test_two_strong_signs_of_different_classes_are_never_a_conclusion() -> None:
    """Bends like a metal and dissolves like sugar: whichever is misread, nothing is settled."""
    result = identify(make_record({"deformation": "malleable", "dry conductivity": "yes", "in water": "yes",
                                   "solution conductivity": "no", "on the hot plate": "chars"}))  # fmt: skip
    assert result.verdict.kind is VerdictKind.CONTRADICTORY


EVERYTHING_IS_REFUSED = "".join(
    rule(f"against-{number}", f"{{all: [{{reading: state, is: [{state}]}}]}}", f"{{cause: {cause}, against: {{{against}}}}}")
    for number, (state, cause, against) in enumerate(
        [
            ("solid", "charge carriers", "ionic: strong, metallic: strong, polar molecular: strong"),
            ("solid", "packing of the atoms", "nonpolar molecular: strong, covalent network: strong"),
            ("liquid", "charge carriers", "ionic: strong, metallic: strong, polar molecular: strong"),
            ("liquid", "packing of the atoms", "nonpolar molecular: strong, covalent network: supporting"),
        ]
    )
)


def test_strong_evidence_against_every_class_is_contradictory_and_names_the_cause() -> None:
    knowledge = teacher(EVERYTHING_IS_REFUSED)
    refused = identify(make_record({"state": "solid"}), knowledge)
    assert refused.verdict.kind is VerdictKind.CONTRADICTORY
    assert knowledge.causes["charge carriers"].says in refused.verdict.reasons[0]
    # one class that is only somewhat unlikely is enough to be merely undecided
    assert identify(make_record({"state": "liquid"}), knowledge).verdict.kind is VerdictKind.INCONCLUSIVE


# --- whatever is read, a verdict is whole ------------------------------------------------------------


def test_every_pair_of_words_gives_a_whole_verdict() -> None:
    """A class is named in a conclusion and only there, and nothing crashes."""
    knowledge = load_knowledge()
    words = [(kind.id, word) for kind in knowledge.readings.values() for word in kind.words()]
    for (one, value), (other, second) in itertools.combinations(words, 2):
        if one == other:
            continue
        verdict = identify(make_record({one: value, other: second}), advise=False).verdict
        assert (verdict.class_ is None) is (verdict.kind is not VerdictKind.CONCLUSIVE)
        assert verdict.reasons
        assert set(verdict.open_between) <= set(CLASSES)


def test_graphite_is_called_by_its_name_and_not_contradictory() -> None:
    result = identify(
        make_record({"state": "solid", "dry conductivity": "yes", "mark on paper": "yes", "deformation": "brittle"})
    )
    assert result.verdict.kind is not VerdictKind.CONTRADICTORY
    assert result.ranking[0].class_ == "covalent network"
    assert "graphite" in {fact.subtype for fact in result.facts}


def test_lead_marks_paper_too_and_stays_a_metal() -> None:
    result = identify(make_record({"state": "solid", "dry conductivity": "yes", "mark on paper": "yes", "deformation": "malleable",
                                   "lustre": "metallic"}))  # fmt: skip
    assert result.verdict.class_ == "metallic"


# --- prior -----------------------------------------------------------------------------------------


def test_a_prior_multiplies_the_odds() -> None:
    """Bayes: odds after = odds before × likelihood ratio, so a prior of 4 to 1 multiplies the odds by 4."""
    record = make_record({"in water": "dissolves"})
    plain = {item.class_: item.probability for item in identify(record, advise=False).ranking}
    prior = {"ionic": 0.4, "metallic": 0.1, "polar molecular": 0.1, "nonpolar molecular": 0.2, "covalent network": 0.2}
    weighed = {item.class_: item.probability for item in identify(record, prior=prior, advise=False).ranking}
    for name in ("metallic", "nonpolar molecular"):
        ratio = (weighed["ionic"] / weighed[name]) / (plain["ionic"] / plain[name])
        assert ratio == pytest.approx(prior["ionic"] / prior[name])


def test_advice_reckons_with_the_prior() -> None:
    """When it is a salt or a polar molecule that dissolved, the conductivity tester parts them (common practice)."""
    result = identify(make_record({"state": "solid", "in water": "yes"}), prior={"ionic": 0.5, "polar molecular": 0.5})
    assert "solution conductivity test" in {test.test for test in result.next_tests}


@pytest.mark.parametrize("prior", [{}, {"ionic": 0.0}, {"ionik": 1.0}])
def test_a_prior_without_any_class_is_a_clear_fault(prior: dict[str, float]) -> None:
    with pytest.raises(ValueError, match="prior"):
        identify(make_record({"state": "solid"}), prior=prior, advise=False)


def test_a_rule_that_needs_no_reading_does_not_break_the_verdict() -> None:
    text = (
        "facts: [{id: a, says: A.}]\nrules:\n"
        + rule("unasked", "{none: [{fact: a}]}", "{cause: charge carriers, for: {metallic: decisive}}")
    )  # fmt: skip
    assert identify(make_record({}), teacher(text)).verdict.kind is VerdictKind.INCONCLUSIVE
