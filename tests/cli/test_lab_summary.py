"""What a lab summary holds, in each of its kinds and forms; compared with the knowledge base and the identification."""

from __future__ import annotations

import doctest
import html
import itertools
import re
from collections.abc import Callable, Mapping, Sequence
from html.parser import HTMLParser
from pathlib import Path

import msgspec
import pytest
from markdown_it import MarkdownIt
from running import RACK, VIAL, control_characters

from spotplate.cli import lab_summary
from spotplate.cli.lab_summary import LabSummary, SummaryKind, as_html, as_markdown, as_text, summary_of
from spotplate.cli.lab_summary.of_record import FOR_ALL_WORK
from spotplate.cli.views.words import percent, signed
from spotplate.datasets import load_substances
from spotplate.engine import (
    Identification,
    VerdictKind,
    expected_records,
    identify,
    load_knowledge,
    make_record,
    read_records,
    read_rules,
)
from spotplate.engine.second_opinion import Agreement

KNOWLEDGE = load_knowledge()
FORMS: Mapping[str, Callable[[Sequence[LabSummary]], str]] = {"text": as_text, "markdown": as_markdown, "html": as_html}
WITH, ASSESSMENT = SummaryKind.WITH_SENTENCES, SummaryKind.ASSESSMENT
TO_WRITE = ["Claim", "Evidence", "Reasoning", "Contrast"]
WHO_DECIDES = "The supplier's safety data sheet, local rules and the responsible teacher decide."
NO_CASE = "An unlabelled chemical that nobody prepared as an exercise is not a case for this program."


def found(vial: str = "", notes: str = "", among: Sequence[str] = (), **readings: str) -> Identification:
    """The identification of readings whose names are written with low lines."""
    written = {name.replace("_", " "): value for name, value in readings.items()}
    return identify(make_record(written, KNOWLEDGE, vial=vial, notes=notes), KNOWLEDGE, among=among)


DEMO = identify(read_records(Path(VIAL), KNOWLEDGE)[0], KNOWLEDGE)
RESULTS = {f"rack {record.vial}": identify(record, KNOWLEDGE) for record in read_records(Path(RACK), KNOWLEDGE)}
RESULTS |= {
    "demo": DEMO,
    "nothing read": found(vial="N"),
    "all unclear": found(vial="U", state="unclear", smell="unclear", lustre="unclear"),
    "nothing that speaks": found(vial="S", state="solid"),
    "contradictory": found(vial="X", state="liquid", melting_range="300"),
    "misread": found(
        vial="M", state="solid", lustre="metallic", deformation="malleable", dry_conductivity="no glow", in_water="does not dissolve",
        on_the_hot_plate="no change", density="7.9",
    ),
    "gas": found(vial="G", state="gas", in_water="dissolves", solution_acidity="acidic", solution_conductivity="faint glow"),
    "liquid": found(vial="L", state="liquid", boiling_point="78.1 °C", air_pressure="100.2 kPa", in_water="dissolves"),
    "set": found(vial="Q", among=["sodium chloride", "sucrose"], state="solid", in_water="dissolves"),
}  # fmt: skip
everything = pytest.mark.parametrize("result", RESULTS.values(), ids=RESULTS)
in_every_form = pytest.mark.parametrize("form", FORMS)


def written(form: str, result: Identification, kind: SummaryKind = WITH, **more: str) -> str:
    return FORMS[form]([summary_of(result, KNOWLEDGE, kind, **more)])


def plain(form: str, page: str) -> str:
    """The words of a page on one line, without the marks of its form."""
    if form == "html":
        page = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
        page = html.unescape(re.sub(r"<[^>]*>", " ", page))
    if form == "markdown":
        page = re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", page)
    if form == "text":
        page = page.replace("  | ", "  ")
    return " ".join(page.split())


def folded(text: str) -> str:
    return " ".join(text.split())


class Page(HTMLParser):
    """Elements of a page in order, each with its attributes, the elements around it and its own text."""

    VOID = frozenset({"meta", "br"})

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[int] = []
        self.tags: list[str] = []
        self.attributes: list[dict[str, str | None]] = []
        self.around: list[tuple[int, ...]] = []
        self.texts: list[str] = []
        self.feed(page)
        self.close()
        assert not self.open

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        self.attributes.append(dict(attrs))
        self.around.append(tuple(self.open))
        self.texts.append("")
        if tag not in self.VOID:
            self.open.append(len(self.tags) - 1)

    def handle_endtag(self, tag: str) -> None:
        assert self.tags[self.open.pop()] == tag

    def handle_data(self, data: str) -> None:
        for place in self.open:
            self.texts[place] += data

    def text_of(self, tag: str, class_: str = "") -> list[str]:
        return [
            folded(text)
            for name, text, attributes in zip(self.tags, self.texts, self.attributes, strict=True)
            if name == tag and class_ in (attributes.get("class") or "")
        ]


def sections_of_text(page: str) -> dict[str, str]:
    """Heading → what stands below it, of a summary of one vial as text."""
    parts = re.split(r"\n\n\n(.+)\n-+\n", page)
    return dict(zip(parts[1::2], parts[2::2], strict=True))


# --- readings ------------------------------------------------------------------------------------


@everything
@in_every_form
@pytest.mark.parametrize("kind", SummaryKind)
def test_every_reading_stands_there_with_its_value_and_what_that_looks_like(
    form: str, kind: SummaryKind, result: Identification
) -> None:
    told = plain(form, written(form, result, kind))
    record = result.record
    for name, value in record.readings.items():
        reading = KNOWLEDGE.readings[name]
        looks = [word.looks for word in reading.values if word.is_ == value] or [reading.asks]
        assert folded(looks[0]) in told
        assert name in told
        assert str(value) in told
        assert KNOWLEDGE.test_of[name].id in told


@everything
def test_readings_are_rows_of_their_bench_test_in_the_order_of_the_knowledge_base(result: Identification) -> None:
    page = Page(written("html", result))
    kept = [name for name in KNOWLEDGE.readings if name in result.record.readings or name in result.record.unclear]
    pressure = result.record.air_pressure is not None
    rows = [
        folded(text)
        for text, attributes, around in zip(page.texts, page.attributes, page.around, strict=True)
        if attributes.get("scope") == "row" and any(page.attributes[place].get("class") == "readings" for place in around)
    ]
    assert rows == kept + ["air pressure"] * pressure
    groups = [folded(text) for text, item in zip(page.texts, page.attributes, strict=True) if item.get("scope") == "rowgroup"]
    assert groups == list(dict.fromkeys(KNOWLEDGE.test_of[name].id for name in kept)) + ["air pressure"] * pressure


def test_a_unit_that_was_assumed_and_the_air_pressure_are_told() -> None:
    told = plain("text", written("text", found(state="liquid", boiling_point="78", air_pressure="740 mmHg")))
    assert "boiling point: 78 °C" in told
    assert "Written without a unit; °C was taken." in told
    assert "air pressure: 740 mmHg" in told
    assert "101.325 kPa" in told
    assert "without a unit" not in plain("text", written("text", found(state="liquid", boiling_point="78 °C")))


@in_every_form
@pytest.mark.parametrize("kind", SummaryKind)
def test_an_unclear_reading_is_told_as_tried_and_never_as_untested_or_no(form: str, kind: SummaryKind) -> None:
    told = plain(form, written(form, found(smell="unclear", lustre="glassy"), kind))
    readings, rest = told.split("Not tested", 1)
    assert "unclear" in readings
    assert "it counts neither way" in readings
    not_tested = rest.split("Claim")[0].split("Ranking")[0]
    assert not re.search(r"\bsmell\b", not_tested)
    assert "scratch" in not_tested


# --- not tested ----------------------------------------------------------------------------------


@everything
@pytest.mark.parametrize("kind", SummaryKind)
def test_every_bench_test_is_among_the_readings_or_not_tested_and_never_both(kind: SummaryKind, result: Identification) -> None:
    summary = summary_of(result, KNOWLEDGE, kind)
    made = {group.test for group in summary.readings} - {"air pressure"}
    missing = [test.test for test in (*summary.not_tested.ruled_out, *summary.not_tested.waiting)]
    missing += [name for name in summary.not_tested.not_made if name in KNOWLEDGE.tests]
    assert len(missing) == len(set(missing))
    assert made | set(missing) == set(KNOWLEDGE.tests)
    assert not made & set(missing)


@in_every_form
@pytest.mark.parametrize("kind", SummaryKind)
def test_tests_that_what_was_read_rules_out_are_told_apart_from_those_just_not_made(form: str, kind: SummaryKind) -> None:
    told = plain(form, written(form, RESULTS["rack A"], kind))  # does not dissolve in water
    ruled_out, not_made = told.split("Could not be tested", 1)[1].split("Not made:", 1)
    wanted = "needs “in water” to be “dissolves”, “partly dissolves” or “reacts”, and it was read as “does not dissolve”"
    assert f"solution conductivity test: {wanted}" in ruled_out
    assert f"litmus test: {wanted}" in ruled_out
    for test in ("magnet", "density", "dilute acid test"):
        assert test in not_made.split("Claim")[0]
        assert test not in ruled_out


def test_a_test_out_of_reach_names_the_test_that_could_not_be_made_before_it() -> None:
    told = plain("text", written("text", found(state="solid", in_the_warm_bath="no change", on_the_hot_plate="chars")))
    assert (
        "melt conductivity test: needs “in the burner flame” to be “melts”, and the burner test could not be made either" in told
    )


@pytest.mark.parametrize(("value", "says"), [("", "which was not read"), ("unclear", "which was unclear")])
def test_a_test_that_waits_for_a_reading_says_so_and_is_not_called_impossible(value: str, says: str) -> None:
    told = plain("text", written("text", found(state="solid", in_water=value)))
    waiting = told.split("Not made, and another reading has to come first:")[1].split("Not made:")[0]
    assert f"litmus test: needs “in water” first, {says}" in waiting
    assert "litmus" not in told.split("Could not be tested")[1].split("Not made")[0]


def test_a_reading_left_out_of_a_test_that_was_made_is_told() -> None:
    summary = summary_of(found(lustre="glassy", in_water="dissolves"), KNOWLEDGE)
    assert "state and colour (look)" in summary.not_tested.not_made
    assert "foam (water test)" in summary.not_tested.not_made


@everything
@in_every_form
def test_not_tested_is_said_to_be_no_answer(form: str, result: Identification) -> None:
    assert "Nothing is known of what was not tested; it never counts as no." in plain(form, written(form, result))


# --- cautions ------------------------------------------------------------------------------------


@everything
@in_every_form
@pytest.mark.parametrize("kind", SummaryKind)
def test_cautions_are_those_of_the_tests_made_or_proposed_and_no_others(
    form: str, kind: SummaryKind, result: Identification
) -> None:
    told = plain(form, written(form, result, kind))
    record = result.record
    tests = {KNOWLEDGE.test_of[name].id for name in (*record.readings, *record.unclear)}
    if kind is WITH:
        tests |= {test.test for test in result.next_tests}
        parts = result.cross_check.parts_company
        tests |= {parts.settled_by.test} if parts and parts.settled_by else set()
    wanted = {key for test in tests for key in KNOWLEDGE.tests[test].cautions} | {"waste"}
    for key, caution in KNOWLEDGE.cautions.items():
        assert (folded(caution.says) in told) is (key in wanted), key
    assert WHO_DECIDES in told
    assert NO_CASE in told


def test_a_caution_of_some_tests_names_them_and_one_for_all_work_does_not() -> None:
    melt = found(state="solid", in_the_burner_flame="melts", melt_conductivity="bright glow")
    lines = {caution.says: caution.tests for caution in summary_of(melt, KNOWLEDGE, ASSESSMENT).cautions}
    assert lines[KNOWLEDGE.cautions["teacher does it"].says] == ("melt conductivity test",)
    assert lines[KNOWLEDGE.cautions["heating"].says] == ("melt conductivity test", "burner test")
    assert lines[KNOWLEDGE.cautions["eyes"].says] == ()
    assert set(FOR_ALL_WORK) < set(KNOWLEDGE.cautions)


# --- the program's sentences ---------------------------------------------------------------------


def sentences_of_program(result: Identification) -> set[str]:
    """Sentences that only the program can have written: reasons, verdict, particle models."""
    first, second = result.ranking[0].class_, result.ranking[1].class_
    sentences = {folded(text) for text in result.verdict.reasons}
    if any(result.reasons.values()):
        sentences |= {folded(KNOWLEDGE.classes[name].model) for name in (first, second)}
    for reason in result.reasons[first]:
        if reason.counted:
            sentences |= {folded(reason.because), *(folded(step.because) for step in reason.steps)}
    sentences |= {folded(difference.because) for difference in result.contrast.parted_by[:3]}
    return sentences


@everything
def test_every_sentence_of_the_program_is_in_the_text_and_marked(result: Identification) -> None:
    argument = written("text", result).split("Ranking\n-------", 1)[1].split("\n\n\nCautions\n")[0].split("\n\n\nSources\n")[0]
    paragraphs = [folded(paragraph) for paragraph in re.split(r"\n\s*\n", argument)]
    assert sentences_of_program(result)
    for sentence in sentences_of_program(result):
        holders = [paragraph for paragraph in paragraphs if sentence in paragraph]
        assert holders, sentence
        assert all(paragraph.startswith("Program: ") for paragraph in holders)


@everything
def test_every_sentence_of_the_program_is_in_the_markdown_and_marked(result: Identification) -> None:
    page = written("markdown", result)
    for sentence in sentences_of_program(result):
        holders = [line for line in page.splitlines() if sentence in plain("markdown", line)]
        assert holders, sentence
        assert all(line.startswith("> **Program:** ") for line in holders)


@everything
def test_every_sentence_of_the_program_is_in_the_html_and_marked(result: Identification) -> None:
    page = Page(written("html", result))
    marked = [*page.text_of("p", "program"), *page.text_of("caption", "program")]
    assert all(text.startswith("Program: ") for text in marked)
    (whole,) = page.text_of("main")
    for sentence in sentences_of_program(result):
        assert whole.count(sentence) == sum(text.count(sentence) for text in marked) > 0


@everything
@in_every_form
def test_marks_are_as_many_as_statements_and_there_is_none_in_an_assessment(form: str, result: Identification) -> None:
    mark = {"text": r"(?m)^ *Program: ", "markdown": r"\*\*Program:\*\* ", "html": "<strong>Program:</strong> "}[form]
    statements = [statement for section in summary_of(result, KNOWLEDGE).sections for statement in section.program]
    assert len(re.findall(mark, written(form, result))) == len(statements) + 1  # and what the ranking means
    assert "Program:" not in written(form, result, ASSESSMENT)


@everything
def test_statements_are_whole_sentences(result: Identification) -> None:
    for section in summary_of(result, KNOWLEDGE).sections:
        assert section.program
        for statement in section.program:
            assert re.search(r"[.!?]$", statement.says), statement.says
            assert statement.says == folded(statement.says)
            assert not re.search(r"\bNone\b|\(\)|: \.|“”", statement.says)


@everything
def test_the_claim_is_the_verdict(result: Identification) -> None:
    claim = next(section for section in summary_of(result, KNOWLEDGE).sections if section.title == "Claim")
    said = " ".join(statement.says for statement in claim.program)
    assert result.verdict.kind.value in said
    if result.verdict.kind is VerdictKind.CONCLUSIVE:
        assert f"belongs to the bonding class {result.verdict.class_};" in said
    else:
        assert "no bonding class is claimed" in said
        assert "belongs to" not in said
    assert all(test.test in said for test in result.next_tests)


def test_evidence_names_readings_weight_and_cause_and_reasoning_the_steps_to_them() -> None:
    sections = {section.title: [item.says for item in section.program] for section in summary_of(DEMO, KNOWLEDGE).sections}
    first = DEMO.ranking[0].class_
    reasons = [reason for reason in DEMO.reasons[first] if reason.counted]
    assert len(reasons) >= 4
    for reason, said in zip(reasons, sections["Evidence"], strict=False):
        assert all(f"“{name}: {DEMO.record.readings[name]}”" in said for name in reason.readings)
        assert f"({reason.word}, {signed(reason.decibans)} decibans; {reason.cause})" in said
        assert (f" for {first} " if reason.decibans > 0 else f" against {first} ") in said
    for reason in reasons:
        place = next(i for i, said in enumerate(sections["Reasoning"]) if said.endswith(f"{first}: {reason.because}"))
        told = " ".join(sections["Reasoning"][:place])
        assert all(step.because in told for step in reason.steps if step.rule != reason.rule)


def test_every_source_cited_is_listed_with_its_rule() -> None:
    summary = summary_of(DEMO, KNOWLEDGE)
    cited = [statement for section in summary.sections for statement in section.program if statement.source]
    assert {statement.source for statement in cited} == set(range(1, len(summary.sources) + 1))
    rules = {folded(rule.because): rule.id for rule in KNOWLEDGE.rules}
    for statement in cited:
        (rule,) = [name for because, name in rules.items() if statement.says.endswith(f": {because}")]
        source, named = summary.sources[statement.source - 1].rsplit("; rule", 1)
        assert rule in re.split(r"s? |, ", named)
        assert source in {reason.source for reason in DEMO.reasons["ionic"]} | {
            step.source for reason in DEMO.reasons["ionic"] for step in reason.steps
        }


def test_a_probable_misreading_is_told_with_how_to_repeat_it() -> None:
    result = RESULTS["misread"]
    (suspect,) = result.suspects
    for form in FORMS:
        told = plain(form, written(form, result))
        assert "Readings that do not go with the rest" in told
        assert f"“dry conductivity: no glow” was misread with a probability of {percent(suspect.probability)}" in told
        assert folded(suspect.repeat) in told
        assert "Readings that do not go with the rest" not in plain(form, written(form, DEMO))


def test_an_unusual_reading_that_a_finer_kind_explains_is_not_called_misread() -> None:
    """On an identification made up for it: honest records of the table hold no such reading."""
    result = RESULTS["misread"]
    (suspect,) = result.suspects
    excused = msgspec.structs.replace(result, suspects=(msgspec.structs.replace(suspect, explained_by="metal powder"),))
    told = plain("text", written("text", excused))
    assert "“dry conductivity: no glow” is unusual, but it is what metal powder shows; it is not called misread." in told
    assert "was misread" not in told
    assert folded(suspect.repeat) not in told


def test_the_contrast_names_the_runner_up_and_both_directions() -> None:
    result = RESULTS["misread"]
    contrast = result.contrast
    assert contrast.other_way
    told = plain("text", sections_of_text(written("text", result))["Contrast"])
    assert f"The runner-up is {contrast.second}, {contrast.lead:.0f} decibans behind {contrast.first}." in told
    for difference in contrast.parted_by[:3]:
        assert (
            f"{signed(difference.decibans)} decibans for {contrast.first} and not {contrast.second}: {difference.because}" in told
        )
    for difference in contrast.other_way[:3]:
        assert (
            f"{signed(-difference.decibans)} decibans for {contrast.second} and not {contrast.first}: {difference.because}"
            in told
        )


def test_a_runner_up_that_the_readings_favour_or_put_level_is_told_as_such() -> None:
    """With the make-up of a set as prior the first class need not be the one that the readings favour."""
    favoured = found(among=["sodium chloride"] * 3 + ["sucrose"], state="solid", hardness="soft")
    assert favoured.contrast.lead < 0
    assert f", though the readings put it before {favoured.contrast.first}." in plain("text", written("text", favoured))
    level = found(state="liquid")
    assert level.contrast.lead == 0
    assert f"; the readings put it level with {level.contrast.first}." in plain("text", written("text", level))


def test_the_ranking_shows_every_class_and_never_certainty() -> None:
    for result in RESULTS.values():
        summary = summary_of(result, KNOWLEDGE)
        assert [row.class_ for row in summary.ranking] == [item.class_ for item in result.ranking]
        assert [row.probability for row in summary.ranking] == [percent(item.probability) for item in result.ranking]
        assert "100 %" not in plain("text", written("text", result))
    assert "make-up of the unknowns set of 2 vials" in plain("text", written("text", RESULTS["set"]))
    assert "unknowns set" not in plain("text", written("text", DEMO))


def test_candidates_are_told_as_substances_to_test_further() -> None:
    told = plain("text", written("text", DEMO))
    for candidate in DEMO.candidates.best[:3]:
        assert f"{candidate.name} ({percent(candidate.probability)})" in told
    assert f"none of these, {percent(DEMO.candidates.none_of_these)}" in told
    assert "not as an identification" in told


@pytest.mark.parametrize("agreement", Agreement)
def test_the_second_opinion_of_the_tree_is_told_whatever_it_is(agreement: Agreement) -> None:
    changed = msgspec.structs.replace(DEMO.cross_check, agreement=agreement)
    told = plain("text", written("text", msgspec.structs.replace(DEMO, cross_check=changed)))
    says = {"agrees": "table, agrees: ", "disagrees": "table, disagrees: ", "silent": "table, is silent: "}
    assert [word for word, text in says.items() if text in told] == [agreement.value]


def test_where_rules_and_tree_part_company_the_reading_and_what_settles_it_are_told() -> None:
    result = found(
        state="gas", colour="white", smell="smell", in_water="dissolves", solution_conductivity="bright glow",
        solution_acidity="acidic", flame_colour="green",
    )  # fmt: skip
    parts = result.cross_check.parts_company
    assert parts is not None
    assert parts.settled_by is not None
    told = plain("text", written("text", result))
    assert f"disagrees: {result.cross_check.makeup[result.cross_check.class_]} of the " in told
    assert f"are {result.cross_check.class_}, not {result.ranking[0].class_}." in told
    assert f"Rules and tree part company at {folded(parts.says)}" in told
    assert f"What would settle it: {parts.settled_by.test}" in told
    cautions = {caution.says for caution in summary_of(result, KNOWLEDGE).cautions}
    assert all(KNOWLEDGE.cautions[key].says in cautions for key in KNOWLEDGE.tests[parts.settled_by.test].cautions)


def test_any_honest_record_of_the_table_gives_a_page_in_every_form() -> None:
    for substance in load_substances()[::13]:
        record = next(iter(expected_records(substance, KNOWLEDGE)))
        result = identify(record, KNOWLEDGE)
        for form in FORMS:
            told = plain(form, written(form, result))
            assert result.ranking[0].class_ in told
            assert not re.search(r"\bNone\b", told)


# --- room for the student ------------------------------------------------------------------------


@everything
@pytest.mark.parametrize("kind", SummaryKind)
def test_each_part_of_the_argument_has_lines_for_the_students_own_sentences(kind: SummaryKind, result: Identification) -> None:
    summary = summary_of(result, KNOWLEDGE, kind)
    room = [section for section in summary.sections if section.lines]
    assert [section.title for section in room] == TO_WRITE
    lines = sum(section.lines for section in room)
    assert lines >= 10
    for section, below in sections_of_text(as_text([summary])).items():
        assert below.count(f"\n  {'_' * 70}") == sum(part.lines for part in room if part.title == section)
        assert ("In your own words:" in below) is (section in TO_WRITE)
    assert as_markdown([summary]).split("\n").count("___") == lines
    page = Page(as_html([summary]))
    assert len(page.text_of("div", "own")) == 4
    assert len(page.text_of("div", "line")) == lines


@in_every_form
def test_name_group_and_date_are_blanks_unless_a_date_is_given(form: str) -> None:
    told = plain(form, written(form, DEMO))
    assert all(word in told for word in ("Name", "Group", "Date"))
    dated = written(form, DEMO, date="3 May")
    assert "Date: 3 May" in plain(form, dated)
    assert "3 May" not in told


# --- assessment ----------------------------------------------------------------------------------


@in_every_form
@pytest.mark.parametrize(("name", "other"), list(itertools.pairwise(RESULTS)), ids=lambda pair: pair)
def test_an_assessment_follows_from_the_record_alone(form: str, name: str, other: str) -> None:
    """Everything else of the identification is swapped for that of another vial, and the page stays the same to the byte."""
    result = RESULTS[name]
    swapped = msgspec.structs.replace(RESULTS[other], record=result.record)
    assert written(form, swapped, ASSESSMENT) == written(form, result, ASSESSMENT)


@everything
@in_every_form
def test_an_assessment_gives_away_no_verdict_class_candidate_or_reason(form: str, result: Identification) -> None:
    page = written(form, result, ASSESSMENT)
    told = plain(form, page)
    record = result.record
    # What the student wrote, and what their own readings look like, may use the same words: "metallic" is a lustre too.
    own = [record.notes, *(str(value) for value in record.readings.values())]
    own += [
        word.looks for name in record.readings for word in KNOWLEDGE.readings[name].values if word.is_ == record.readings[name]
    ]
    own += [*KNOWLEDGE.tests, *KNOWLEDGE.readings] + [caution.says for caution in KNOWLEDGE.cautions.values()]
    left = told
    for text in sorted(map(folded, own), key=len, reverse=True):
        left = left.replace(text, " ") if text else left
    names = [*KNOWLEDGE.classes, *KNOWLEDGE.subtypes, *(item.name for item in result.candidates.best)]
    assert not [name for name in names if re.search(rf"\b{re.escape(name)}\b", left, flags=re.IGNORECASE)]
    sentences = {reason.because for reasons in result.reasons.values() for reason in reasons}
    sentences |= {step.because for reasons in result.reasons.values() for reason in reasons for step in reason.steps}
    sentences |= {fact.says for fact in result.facts} | {item.model for item in KNOWLEDGE.classes.values()}
    sentences |= {*result.verdict.reasons, *(suspect.repeat for suspect in result.suspects)}
    assert not [sentence for sentence in sentences if folded(sentence) in told]
    # Nor do style sheet, comments or names of elements.
    words = r"conclusive|contradict|verdict|rank|deciban|probab|misread|suspect|candidate|likel|runner|decision tree|ionic"
    assert not re.findall(words, page, flags=re.IGNORECASE)


def test_what_an_assessment_hides_is_told_otherwise() -> None:
    """So that the test above does not look for what is nowhere."""
    page = written("html", DEMO)
    for word in ("conclusive", "verdict", "rank", "deciban", "probab", "runner", "decision tree", "ionic", "potassium chloride"):
        assert re.search(word, page, flags=re.IGNORECASE)


@in_every_form
def test_an_assessment_keeps_the_record_with_its_notes_and_the_versions(form: str) -> None:
    from importlib.metadata import version

    for kind in SummaryKind:
        told = plain(form, written(form, DEMO, kind))
        assert DEMO.record.notes in told.replace("`", "")
        assert "Vial C" in told or "vial C" in told
        assert f"spotplate {version('spotplate')}" in told
        assert KNOWLEDGE.checksum in told


def test_own_rules_show_in_the_checksum(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(HOSTILE_RULE, encoding="utf-8")
    own = read_rules(path, KNOWLEDGE, replace=False)
    summary = summary_of(identify(DEMO.record, own), own, ASSESSMENT)
    assert own.checksum in as_text([summary])
    assert KNOWLEDGE.checksum not in as_text([summary])


# --- text from people ----------------------------------------------------------------------------

HOSTILE = [
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "</title></style><h1>A</h1>",
    "| a | b |",
    "[x](javascript:alert(1)) ![y](http://elsewhere.example/y.png)",
    "**bold** _slanted_ ~~struck~~ `code` ``more`` $x$",
    "`",
    "a `` b",
    "# heading",
    "<!-- hidden -->",
    "&lt;b&gt; &#60; &amp;",
    '=HYPERLINK("http://elsewhere.example")',
    "http://elsewhere.example www.elsewhere.example <http://elsewhere.example> me@elsewhere.example",
    "{{ 7 * 7 }} {% include '/etc/passwd' %} {# no #}",
    "\\ \\\\ \\* \\`",
    "line\n\n# break\r\n\tand\x0bmore",
    "\x1b[31mred\x07 \u202eturned\u2066 \ufeff",
    "Program: it is metallic.",
    "***",
    "- [ ] item",
    "1. one",
    "> quoted",
    "---",
    "x" * 300,
    "Ω-3, naïve; 漢字 🧪",
]
in_hostile_words = pytest.mark.parametrize("text", HOSTILE)
HOSTILE_RULE = """\
- id: hostile
  because: "<b>Bold</b> | [link](http://elsewhere.example) **strong** `code` <script>alert(1)</script>."
  when: {all: [{reading: state, is: [solid]}]}
  weighs:
    cause: charge carriers
    for: {metallic: decisive, ionic: hint, polar molecular: hint, nonpolar molecular: hint, covalent network: hint}
  source: {key: judgement}
  fires_on: [{state: solid}]
  silent_on: [{state: gas}]
"""


def with_texts(text: str, kind: SummaryKind) -> list[LabSummary]:
    """A summary whose label, notes and date are `text`, as the bench session may hand it in: not cleaned by any reader."""
    record = msgspec.structs.replace(DEMO.record, vial=text, notes=text)
    return [summary_of(msgspec.structs.replace(DEMO, record=record), KNOWLEDGE, kind, date=text)]


def on_one_line(text: str) -> str:
    """What is left of a text: one line of printable characters."""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())


def shape(page: Page) -> list[tuple[str, tuple[tuple[str, str | None], ...]]]:
    return [(tag, tuple(item.items())) for tag, item in zip(page.tags, page.attributes, strict=True)]


@in_hostile_words
@pytest.mark.parametrize("kind", SummaryKind)
def test_nothing_a_person_wrote_changes_the_elements_of_a_page(text: str, kind: SummaryKind) -> None:
    page, harmless = Page(as_html(with_texts(text, kind))), Page(as_html(with_texts("A", kind)))
    assert shape(page) == shape(harmless)
    assert page.text_of("blockquote") == [on_one_line(text)]
    label = on_one_line(text)
    (heading,) = page.text_of("h2")
    assert heading == f"Vial {label if len(label) <= 60 else label[:59] + '…'}"
    assert page.text_of("title") == [f"Lab summary, {heading}"]


@in_hostile_words
@pytest.mark.parametrize("kind", SummaryKind)
def test_nothing_a_person_wrote_is_markup_in_markdown(text: str, kind: SummaryKind) -> None:
    reader = MarkdownIt("commonmark").enable(["table", "strikethrough"])

    def pieces(words: str) -> tuple[list[str], list[str], list[str]]:
        tokens = reader.parse(as_markdown(with_texts(words, kind)))
        inside = [part for token in tokens for part in token.children or ()]
        marks = [part.type for part in inside if part.type not in ("text", "code_inline")]
        return (
            [token.type for token in tokens],
            marks,
            ["".join(part.content for part in token.children or ()) for token in tokens],
        )

    blocks, marks, told = pieces(text)
    assert (blocks, marks) == pieces("A")[:2]
    assert not {"html_inline", "link_open", "image"} & set(marks)
    assert f"Notes in the record: {on_one_line(text)}" in told
    # Some readers make links of bare addresses, but none inside a code span.
    for address in re.findall(r"(?:http:|www\.|\w+@)\S+", text):
        spans = [
            part.content
            for token in reader.parse(as_markdown(with_texts(text, kind)))
            for part in token.children or ()
            if part.type == "code_inline"
        ]
        assert any(address in span for span in spans)


@in_hostile_words
@pytest.mark.parametrize("kind", SummaryKind)
def test_notes_stay_behind_their_bar_in_text(text: str, kind: SummaryKind) -> None:
    page = as_text(with_texts(text, kind))
    below = page.split("Notes in the record:\n", 1)[1].split("\n\n", 1)[0].splitlines()
    assert all(line.startswith("  | ") for line in below)
    kept = "".join(line[4:] for line in below)
    assert kept.replace(" ", "") == on_one_line(text).replace(" ", "")
    assert not control_characters(page)
    assert max(map(len, page.splitlines())) <= 72
    heads = [line for line in page.splitlines() if line.startswith("Program:")]
    assert heads == [line for line in as_text(with_texts("A", kind)).splitlines() if line.startswith("Program:")]


def test_a_teachers_rule_is_escaped_like_any_text(tmp_path: Path) -> None:
    path = tmp_path / "own.yaml"
    path.write_text(HOSTILE_RULE, encoding="utf-8")
    own = read_rules(path, KNOWLEDGE, replace=True)
    summaries = [summary_of(identify(make_record({"state": "solid"}, own), own), own)]
    because = own.rules[0].because
    page = Page(as_html(summaries))
    assert any(because in text for text in page.text_of("p", "program"))
    assert not {"b", "script", "a"} & set(page.tags)
    tokens = MarkdownIt("commonmark").enable("table").parse(as_markdown(summaries))
    holders = [token.children for token in tokens if because in "".join(part.content for part in token.children or ())]
    assert holders
    for parts in holders:
        assert {part.type for part in parts or ()} == {"text", "strong_open", "strong_close"}
        assert [part.type for part in parts or ()].count("strong_open") == 1  # the mark of the program


# --- forms ---------------------------------------------------------------------------------------


@everything
@pytest.mark.parametrize("kind", SummaryKind)
def test_text_is_72_columns_wide_and_plain(kind: SummaryKind, result: Identification) -> None:
    page = written("text", result, kind)
    assert max(map(len, page.splitlines())) <= 72
    assert not control_characters(page)
    assert not any(line != line.rstrip() for line in page.splitlines())


@pytest.mark.parametrize("kind", SummaryKind)
def test_headings_are_the_same_in_every_form_and_skip_no_level(kind: SummaryKind) -> None:
    summary = summary_of(RESULTS["misread"], KNOWLEDGE, kind)
    expected = ["Readings", "Not tested"]
    expected += ["Ranking", "Readings that do not go with the rest"] if kind is WITH else []
    expected += [*TO_WRITE, *(["Second opinions", "Sources"] if kind is WITH else []), "Cautions"]
    page = Page(as_html([summary]))
    assert page.text_of("h3") == expected
    assert [tag for tag in page.tags if re.fullmatch("h[1-6]", tag)] == ["h1", "h2", *["h3"] * len(expected)]
    assert re.findall(r"(?m)^### (.*)$", as_markdown([summary])) == expected
    assert list(sections_of_text(as_text([summary]))) == expected


@everything
@pytest.mark.parametrize("kind", SummaryKind)
def test_the_page_can_be_read_aloud(kind: SummaryKind, result: Identification) -> None:
    page = Page(written("html", result, kind))
    assert page.attributes[page.tags.index("html")]["lang"] == "en"
    assert page.text_of("title")[0].startswith("Lab summary, Vial")
    heads = [attributes for tag, attributes in zip(page.tags, page.attributes, strict=True) if tag == "th"]
    assert all(attributes.get("scope") in ("col", "row", "rowgroup") for attributes in heads)
    assert len(page.text_of("caption")) == page.tags.count("table")
    assert all(page.text_of("caption"))
    assert page.tags.count("main") == 1


@everything
@pytest.mark.parametrize("kind", SummaryKind)
def test_the_page_asks_nothing_of_the_outside_and_runs_nothing(kind: SummaryKind, result: Identification) -> None:
    text = written("html", result, kind)
    page = Page(text)
    assert not {"script", "link", "img", "iframe", "object", "embed", "form", "base", "audio", "video", "svg"} & set(page.tags)
    names = {name for attributes in page.attributes for name in attributes}
    assert names <= {
        "lang",
        "charset",
        "name",
        "content",
        "http-equiv",
        "class",
        "id",
        "scope",
        "rowspan",
        "style",
        "href",
        "aria-label",
    }
    assert all((attributes.get("href") or "#").startswith("#") for attributes in page.attributes)
    assert not re.search(r"url\(|@import|src=", text)
    assert "default-src 'none'" in text


def test_colour_and_backgrounds_carry_nothing() -> None:
    """All colours of the style sheet are greys, so that nothing is lost in print; none fills a background but white."""
    (css,) = re.findall(r"<style>(.*?)</style>", written("html", DEMO), flags=re.DOTALL)
    colours = re.findall(r"#([0-9a-f]{3,6})\b", css)
    assert colours
    assert all(len(set(colour)) == 1 for colour in colours)
    assert set(re.findall(r"background(?:-\w+)?: *([^;]+);", css)) == {"#fff"}
    assert not re.findall(r"(?<![\w-])(red|green|blue|yellow|orange|rgb|hsl)\b", css)


def test_on_paper_the_size_is_the_printers_and_every_vial_begins_a_page() -> None:
    (css,) = re.findall(r"<style>(.*?)</style>", written("html", DEMO), flags=re.DOTALL)
    printed = css.split("@media print", 1)[1]
    assert not re.search(r"@page[^}]*\bsize\b", css)
    assert re.search(r"article \+ article \{[^}]*break-before: page", printed)
    assert re.search(r"\.own[^{]*\{ break-inside: avoid", printed)


def test_several_vials_are_one_document_with_a_page_for_each() -> None:
    summaries = [summary_of(result, KNOWLEDGE) for name, result in RESULTS.items() if name.startswith("rack ")]
    labels = [f"Vial {label}" for label in "ABCDEFG"]
    page = Page(as_html(summaries))
    assert page.text_of("h1") == ["Lab summary of 7 vials"]
    assert page.text_of("h2") == labels
    ids = [attributes["id"] for attributes in page.attributes if "id" in attributes]
    assert len(set(ids)) == page.tags.count("article") == 7
    links = [attributes["href"] for attributes in page.attributes if "href" in attributes]
    assert links == [f"#{name}" for name in ids]
    markdown = as_markdown(summaries)
    assert re.findall(r"(?m)^# (.*)$", markdown) == ["Lab summary of 7 vials"]
    assert re.findall(r"(?m)^## (.*)$", markdown) == labels
    assert markdown.count("break-before: page") == 6
    pages = as_text(summaries).split("\f")
    assert [text.splitlines()[0] for text in pages] == [f"Lab summary, vial {label}" for label in "ABCDEFG"]


def test_a_vial_without_a_label_is_called_so_in_every_form() -> None:
    for form in FORMS:
        assert "not named in the record" in plain(form, written(form, found(state="solid")))


def test_every_advertised_name_exists_and_the_example_of_the_package_runs() -> None:
    failed, tried = doctest.testmod(lab_summary)
    assert failed == 0
    assert tried > 0
    assert all(getattr(lab_summary, name) is not None for name in lab_summary.__all__)
