"""The sheets of an unknowns set: that students' pages keep the key, and that each sheet holds what it is for."""

from __future__ import annotations

import functools
import html
import itertools
import random
import re
from collections.abc import Sequence

import msgspec
import pytest
from markdown_it import MarkdownIt
from page_outline import Outline
from running import DEMO

from spotplate.cli.sheets import Hazards, Printed, Sheet, as_html, as_markdown, sheets_of
from spotplate.cli.sheets.making import FOR_STUDENTS, FOR_TEACHER, Printing, sheets_for_students
from spotplate.cli.sheets.model import Argument, Cards, Procedure, Table, Tree
from spotplate.cli.sheets.secrecy import tells_of
from spotplate.cli.sheets.students import COLUMNS, in_working_order, shared_out
from spotplate.datasets import load_hazard_statements, load_substances
from spotplate.engine.files.sets import read_set
from spotplate.engine.sets import UnknownsSet, Vial, check_set, hazard_label
from spotplate.kb import FaultyInputError, load_knowledge

KNOWLEDGE = load_knowledge()
SUBSTANCES = {substance.name: substance for substance in load_substances()}
DEMO_SET = read_set(DEMO / "set.yaml", KNOWLEDGE)
ALL_TESTS = tuple(KNOWLEDGE.tests)
FORMS = {"html": as_html, "markdown": as_markdown}
SCHOOL = [item for item in SUBSTANCES.values() if item.school_use == "students" and item.state != "gas"]


def a_set(*names: str, tests: tuple[str, ...] = ALL_TESTS, name: str = "Invented set") -> UnknownsSet:
    return UnknownsSet(
        name, tuple(Vial(label, substance) for label, substance in zip("ABCDEFGHJKLMN", names, strict=False)), tests
    )


@functools.cache
def printed(unknowns_set: UnknownsSet, **how: object) -> dict[str, Printed]:
    return {page.name: page for page in sheets_of(unknowns_set, Printing(**how), KNOWLEDGE)}  # type: ignore[arg-type]


def for_students(unknowns_set: UnknownsSet, **how: object) -> dict[str, Printed]:
    """The students' pages alone, which need no check of the set."""
    return {page.name: page for page in sheets_for_students(unknowns_set, Printing(**how), KNOWLEDGE)}  # type: ignore[arg-type]


def students_files(pages: dict[str, Printed]) -> dict[str, str]:
    """File name → text, of everything that students may get."""
    return {
        f"{page.name}.{form}": write(page.sheet)
        for page in pages.values()
        if page.folder == FOR_STUDENTS
        for form, write in FORMS.items()
    }


def visible(page: str) -> str:
    page = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


# Everything that a page may say of any set with these tests, whatever is in the vials.
TEXT_OF_TESTS = " ".join(
    [caution.says for caution in KNOWLEDGE.cautions.values()]
    + [load_hazard_statements()[code] for code in load_hazard_statements()]
    + [
        " ".join([test.id, test.does, *test.apparatus, test.procedure])
        + " ".join(
            " ".join([kind.id, kind.asks, *(f"{value.is_} {value.looks}" for value in kind.values)]) for kind in test.readings
        )
        for test in KNOWLEDGE.tests.values()
    ]
)


# --- the key is kept -------------------------------------------------------------------------------


def twins(seed: int, many: int) -> tuple[list[str], list[str]]:
    """Names of substances for two sets: place by place other ones with the same hazards, of other classes where there are some."""
    draw = random.Random(seed)
    by_hazards: dict[tuple[str, ...], list[str]] = {}
    for item in SCHOOL:
        by_hazards.setdefault(tuple(sorted(item.hazards())), []).append(item.name)
    rich = [names for names in by_hazards.values() if len(names) > 1]
    pairs: list[tuple[str, str]] = []
    while len(pairs) < many:
        first, second = draw.sample(draw.choice(rich), 2)
        if not {first, second} & {name for pair in pairs for name in pair}:
            pairs.append((first, second))
    return [first for first, _ in pairs], [second for _, second in pairs]


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("how", [{}, {"groups": 3, "seed": 5, "date": "3 May"}, {"hazards": Hazards.TOGETHER}])
def test_other_substances_with_the_same_hazards_give_the_same_students_files(seed: int, how: dict[str, object]) -> None:
    first, second = twins(seed, 7)
    assert not set(first) & set(second)
    tests = tuple(random.Random(seed).sample(ALL_TESTS, 9))
    ours, theirs = (students_files(for_students(a_set(*names, tests=("look", *tests)), **how)) for names in (first, second))
    assert ours == theirs


def test_the_sheets_are_the_same_whatever_the_hazards() -> None:
    """Only labels may tell of hazards."""
    mild = students_files(for_students(a_set("sodium chloride", "sucrose", "sand")))
    harsh = students_files(for_students(a_set("heptane", "sodium hydroxide", "copper(II) sulfate pentahydrate")))
    assert {name: text for name, text in mild.items() if name.startswith("sheet")} == {
        name: text for name, text in harsh.items() if name.startswith("sheet")
    }
    assert mild["vial-labels.html"] != harsh["vial-labels.html"]


def test_labels_with_the_hazards_of_all_vials_are_alike_but_for_the_letter() -> None:
    page = for_students(a_set("heptane", "sodium hydroxide", "sand"), hazards=Hazards.TOGETHER)["vial-labels"]
    (cards,) = [block for block in page.sheet.blocks if isinstance(block, Cards)]
    assert [card.letter for card in cards.cards] == ["A", "B", "C"]
    assert len({msgspec.structs.replace(card, letter="") for card in cards.cards}) == 1
    assert all("H225" in " ".join(card.statements) and "H314" in " ".join(card.statements) for card in cards.cards)


def searched() -> list[UnknownsSet]:
    names = [item.name for item in SCHOOL]
    parts = [names[place : place + 12] for place in range(0, len(names), 12)]
    return [DEMO_SET, *(a_set(*part) for part in parts)]


@pytest.mark.parametrize("unknowns_set", searched(), ids=lambda item: item.vials[0].substance)
def test_no_students_file_names_a_substance_formula_number_or_class(unknowns_set: UnknownsSet) -> None:
    """Only words that stand in the procedures themselves may come: water, tin as a check of the hot plate, metallic lustre."""
    files = students_files(for_students(unknowns_set, groups=2, seed=1))
    assert len(files) == 6
    for name, text in files.items():
        for where in (name, text, visible(text)):
            for vial in unknowns_set.vials:
                substance = SUBSTANCES[vial.substance]
                assert set(tells_of(where, substance)) <= set(tells_of(TEXT_OF_TESTS, substance))
                assert not substance.cas or substance.cas not in where
                assert substance.exception not in where or not substance.exception
                assert not substance.subtype or substance.subtype not in where or substance.subtype in TEXT_OF_TESTS
        for class_ in KNOWLEDGE.classes:
            assert class_ not in text or (class_ == "metallic" and "metallic" in TEXT_OF_TESTS)


@pytest.mark.parametrize("substance", SCHOOL, ids=lambda item: item.name)
def test_a_label_tells_no_more_than_letter_set_and_hazards(substance) -> None:  # type: ignore[no-untyped-def]
    page = for_students(a_set(substance.name, tests=("look",)), date="3 May")["vial-labels"]
    (cards,) = [block for block in page.sheet.blocks if isinstance(block, Cards)]
    (card,) = cards.cards
    label = hazard_label(substance.hazards())
    assert card.lines == ("Invented set", "3 May")
    assert card.contents == ""
    assert card.signal_word == label.signal_word
    assert [text.split(" ")[0] for text in card.statements if text.startswith("H")] == list(label.codes)


def test_the_search_for_names_finds_what_is_there() -> None:
    salt = SUBSTANCES["sodium chloride"]
    assert tells_of("Is it Table Salt, or (NaCl)? 7647-14-5", salt) >= ("table salt",)
    assert set(tells_of("NaCl; 7647-14-5", salt)) == {"NaCl", "7647-14-5"}
    assert tells_of("saltpetre basalt nacl2 NaClO", salt) == ()


def test_seed_and_notes_stay_with_the_teacher() -> None:
    noted = msgspec.structs.replace(DEMO_SET, notes="Zanzibar: A is the sweet one.")
    pages = printed(noted, groups=2, seed=86421)
    for text in students_files(pages).values():
        assert "86421" not in text
        assert "Zanzibar" not in text
    told = as_html(pages["key"].sheet)
    assert "86421" in told
    assert "Zanzibar" in told


@pytest.mark.parametrize(
    ("name", "how"),
    [
        ("Is it sodium chloride?", {}),
        ("Salt or sugar: NaCl", {}),
        ("7647-14-5 and others", {}),
        ("Harmless", {"title": "Which is COMMON SALT"}),
        ("Harmless", {"date": "the day of table salt"}),
    ],
)
def test_a_heading_or_date_that_names_a_substance_of_the_set_is_refused(name: str, how: dict[str, object]) -> None:
    with pytest.raises(FaultyInputError, match="'sodium chloride', which is in the set"):
        for_students(a_set("sodium chloride", "sand", name=name), **how)


def test_another_heading_takes_the_place_of_a_name_that_tells() -> None:
    pages = printed(a_set("sodium chloride", "sand", name="Salt and sand"), title="Two vials")
    assert {page.sheet.title for page in pages.values()} == {"Two vials"}
    assert all("sand" not in visible(text).lower() for text in students_files(pages).values())


@pytest.mark.parametrize("label", ["NaCl", "Sodium chloride", "salt 1"])
def test_a_label_that_tells_is_refused(label: str) -> None:
    with pytest.raises(FaultyInputError, match="tells what is in the vial"):
        for_students(UnknownsSet("Set", (Vial(label, "sodium chloride"), Vial("B", "sand")), ("look",)))


def test_a_letter_that_happens_to_be_a_symbol_is_accepted() -> None:
    printed(UnknownsSet("Set", (Vial("C", "graphite"), Vial("S", "sulfur")), ("look",)))


# --- the student's sheet ---------------------------------------------------------------------------


def sheet(unknowns_set: UnknownsSet = DEMO_SET, **how: object) -> Sheet:
    return next(page.sheet for name, page in for_students(unknowns_set, **how).items() if name.startswith("sheet"))


def test_the_students_pages_are_those_of_the_whole_printing() -> None:
    whole = printed(DEMO_SET, groups=2, seed=4)
    alone = for_students(DEMO_SET, groups=2, seed=4)
    assert {name: page for name, page in whole.items() if page.folder == FOR_STUDENTS} == alone


def test_every_test_of_the_set_comes_with_procedure_cautions_and_words() -> None:
    blocks = [block for block in sheet(a_set("sand")).blocks if isinstance(block, Procedure)]
    assert sorted(block.name for block in blocks) == sorted(ALL_TESTS)
    for form in FORMS.values():
        told = re.sub(r"\\([!-/:-@\[-`{-~])", r"\1", visible(form(sheet(a_set("sand")))))
        for test in KNOWLEDGE.tests.values():
            assert " ".join(test.procedure.split()) in told
            assert all(" ".join(KNOWLEDGE.cautions[key].says.split()) in told for key in test.cautions)
            for kind in test.readings:
                assert all(" ".join(value.looks.split()) in told for value in kind.values)
        assert "safety data sheet, local rules and the responsible teacher decide" in told


def test_a_test_stands_behind_those_it_needs() -> None:
    order = [test.id for test in in_working_order(ALL_TESTS, KNOWLEDGE)]
    assert sorted(order) == sorted(ALL_TESTS)
    for test in KNOWLEDGE.tests.values():
        for need in test.needs:
            assert order.index(KNOWLEDGE.test_of[str(need.reading)].id) < order.index(test.id)


@pytest.mark.parametrize("many", [1, 2, COLUMNS, COLUMNS + 1, 13])
def test_the_table_has_an_empty_cell_for_every_vial_and_reading_with_the_accepted_words(many: int) -> None:
    names = [item.name for item in SCHOOL[:many]]
    tables = [block for block in sheet(a_set(*names)).blocks if isinstance(block, Table)]
    assert [label for table in tables for label in table.columns[1:]] == list("ABCDEFGHJKLMN"[:many])
    for table in tables:
        assert table.to_fill
        assert len(table.columns) <= COLUMNS + 1
        assert len(table.rows) == len(KNOWLEDGE.readings)
        for row in table.rows:
            assert row[1:] == ("",) * (len(table.columns) - 1)
            kind = KNOWLEDGE.readings[row[0].split(":")[0]]
            assert all(word in row[0].replace("\N{NO-BREAK SPACE}", " ") for word in kind.words())


def test_every_vial_has_boxes_for_claim_evidence_and_reasoning() -> None:
    boxes = [block for block in sheet().blocks if isinstance(block, Argument)]
    assert [block.title for block in boxes] == [f"Vial {vial.label}" for vial in DEMO_SET.vials]
    assert all([name for name, _, _ in block.boxes] == ["Claim", "Evidence", "Reasoning"] for block in boxes)
    assert all(lines > 0 for block in boxes for _, _, lines in block.boxes)


def test_tests_that_cannot_be_done_are_left_out() -> None:
    lame = a_set("sand", "copper", tests=("look", "solution conductivity test"))
    assert [block.name for block in sheet(lame).blocks if isinstance(block, Procedure)] == ["look"]
    assert "solution conductivity test (it needs water test)" in as_html(printed(lame)["key"].sheet)


def test_every_group_has_a_sheet_and_they_differ_in_the_group_alone() -> None:
    files = students_files(for_students(DEMO_SET, groups=12, seed=3))
    sheets = [files[f"sheet-group-{group:02}.html"] for group in range(1, 13)]
    assert len({re.sub(r"(?<=[Gg]roup)(:?) \d+", r"\1 n", page) for page in sheets}) == 1
    assert len(set(sheets)) == 12


@pytest.mark.parametrize(("many", "most"), [*itertools.product(range(1, 30), (1, 5, 8))])
def test_vials_are_shared_out_evenly(many: int, most: int) -> None:
    labels = [str(number) for number in range(many)]
    parts = shared_out(labels, most)
    assert [label for part in parts for label in part] == labels
    assert len(parts) == -(-many // most)
    assert max(map(len, parts)) - min(map(len, parts)) <= 1


# --- the teacher's pages ---------------------------------------------------------------------------


def tables_of(page: Printed) -> list[Table]:
    return [block for block in page.sheet.blocks if isinstance(block, Table)]


def test_letters_on_labels_and_in_the_key_are_of_one_version() -> None:
    """What the key says of a group's letter is what the teacher's copy of that group's label says."""
    pages = printed(DEMO_SET, groups=15, seed=11)
    cards = [block.cards for block in pages["vial-labels-with-names"].sheet.blocks if isinstance(block, Cards)]
    on_labels = {(group, card.letter): card.contents.split(",")[0] for group, part in enumerate(cards, 1) for card in part}
    in_key = {}
    for table in tables_of(pages["key"]):
        if table.caption == "Letters of the groups":
            for row in table.rows:
                for column, letter in zip(table.columns[2:], row[2:], strict=True):
                    in_key[int(column.removeprefix("group ")), letter] = row[1]
    assert in_key == on_labels
    assert len(in_key) == 15 * 8


def test_students_labels_carry_the_hazards_of_what_is_in_the_vial_under_that_letter() -> None:
    pages = printed(DEMO_SET, groups=6, seed=2)
    with_names = [
        card for block in pages["vial-labels-with-names"].sheet.blocks if isinstance(block, Cards) for card in block.cards
    ]
    without = [card for block in pages["vial-labels"].sheet.blocks if isinstance(block, Cards) for card in block.cards]
    assert [msgspec.structs.replace(card, contents="") for card in with_names] == without
    for card in with_names:
        codes = SUBSTANCES[card.contents.split(",")[0]].hazards()
        assert [text.split(" ")[0] for text in card.statements if text.startswith("H")] == list(hazard_label(codes).codes)


def test_without_a_seed_every_group_has_the_letters_of_the_set() -> None:
    cards = [
        block.cards for block in printed(DEMO_SET, groups=3)["vial-labels-with-names"].sheet.blocks if isinstance(block, Cards)
    ]
    for part in cards:
        assert [(card.letter, card.contents.split(",")[0]) for card in part] == [
            (vial.label, vial.substance) for vial in DEMO_SET.vials
        ]


def test_the_key_tells_substances_readings_conclusions_pairs_kit_and_misleading_vials() -> None:
    check = check_set(DEMO_SET, KNOWLEDGE)
    told = visible(as_html(printed(DEMO_SET)["key"].sheet))
    for vial in DEMO_SET.vials:
        assert f"Vial {vial.label}: {vial.substance}" in told
    assert all(" ".join(item.because.split()) in told and item.says in told for item in check.misleading)
    assert all(item.teaches in told for item in check.misleading)
    assert all(test in told for test in check.kit.tests)
    (pairs,) = [table for table in tables_of(printed(DEMO_SET)["key"]) if table.columns[0] == "pair"]
    assert {tuple(row[0].split(", ")) for row in pairs.rows} == set(itertools.combinations("ABCDEFGH", 2))
    for row, pair in zip(pairs.rows, check.pairs, strict=True):
        assert row[1:] == (str(len(pair.parted_by)), ", ".join(pair.parted_by))


def test_pairs_that_cannot_be_told_apart_are_named_first() -> None:
    told = visible(as_html(printed(a_set("sucrose", "sucrose", tests=("look", "water test")))["key"].sheet))
    assert "Cannot be told apart by any test of the set: A and B." in told


def test_the_drawing_and_the_lines_of_the_key_end_at_the_same_vials() -> None:
    key = printed(DEMO_SET)["key"]
    (tree,) = [block for block in key.sheet.blocks if isinstance(block, Tree)]
    (lines,) = [table for table in tables_of(key) if table.columns[0] == "step"]
    ends = sorted(twig.says for twig in tree.twigs if twig.end)
    assert ends == sorted(row[3] for row in lines.rows if not row[3].startswith("go to"))
    assert {vial.substance for vial in DEMO_SET.vials} == {end.split(" ", 1)[1] for end in ends}
    assert len(tree.twigs) == 1 + len(lines.rows)


def test_a_substance_that_is_not_for_students_is_pointed_out() -> None:
    told = visible(as_html(printed(a_set("sodium", "sand", "lead(II) nitrate", tests=("look",)))["key"].sheet))
    for use, words in (("teacher only", "leaves it to the teacher"), ("not in school", "not for use in school")):
        names = [name for name in ("sodium", "sand", "lead(II) nitrate") if SUBSTANCES[name].school_use == use]
        assert bool(names) == (words in told)
        assert all(name in told.split(words)[1][:80] for name in names)


def test_every_teachers_page_says_that_it_gives_the_answers_away() -> None:
    for page in printed(DEMO_SET).values():
        if page.folder == FOR_TEACHER:
            assert "Keep it" in visible(as_html(page.sheet))
            assert "from the students" in visible(as_html(page.sheet))


def test_the_preparation_list_computes_solutions_and_names_the_concentration_of_the_stock() -> None:
    told = visible(as_html(printed(DEMO_SET, groups=6)["preparation"].sheet))
    # 2 mL × 8 vials × 2 trials × 6 groups × 1.25 = 240 mL, made ready as 250 mL; 250 × 2 / 11.97 = 41.8 mL
    assert "Take 41.8 mL of concentrated hydrochloric acid for 250 mL." in told
    assert "mass share of 37 % and a density of 1.18 g/mL, which make 12.0 mol/L" in told
    assert "never water into the acid" in told
    assert "Source: general chemical knowledge, not looked up" in told
    # 0.5 mL × 8 × 2 × 6 × 1.25 = 60 mL, made ready as 100 mL with 3 g/L
    assert "Take 0.3 g of calcium hydroxide for 100 mL." in told


def test_labelling_law_and_local_rules_decide() -> None:
    pages = printed(DEMO_SET)
    assert "Local labelling law decides" in visible(as_html(pages["vial-labels-with-names"].sheet))
    assert "A hazard statement may itself hint at the substance" in visible(as_html(pages["vial-labels-with-names"].sheet))
    assert "Local rules on waste go before everything here" in visible(as_html(pages["waste"].sheet))


def test_waste_notes_tell_every_substance_where_it_goes() -> None:
    told = visible(as_html(printed(DEMO_SET)["waste"].sheet))
    for vial in DEMO_SET.vials:
        assert f"{vial.substance} ({vial.label} of the set)" in told


# --- forms -----------------------------------------------------------------------------------------


def all_sheets(unknowns_set: UnknownsSet = DEMO_SET, **how: object) -> list[Sheet]:
    return [page.sheet for page in printed(unknowns_set, groups=2, seed=1, **how).values()]


def test_pages_are_well_formed_and_ask_nothing_of_the_outside() -> None:
    for page in map(as_html, all_sheets()):
        found = Outline(page)
        assert not {tag for tag, _ in found.seen} & {
            "script",
            "link",
            "img",
            "iframe",
            "object",
            "a",
            "form",
            "base",
            "image",
            "use",
        }
        assert not [
            name for _, attributes in found.seen for name in attributes if name in ("src", "href") or name.startswith("on")
        ]
        assert "url(" not in page
        assert "@import" not in page
        assert "//" not in page
        assert "default-src 'none'" in page


def test_no_colour_but_shades_of_grey() -> None:
    for page in map(as_html, all_sheets()):
        for colour in re.findall(r"#([0-9a-fA-F]{3,6})\b", re.findall(r"<style>(.*?)</style>", page, re.DOTALL)[0]):
            assert len(set(colour.lower())) == 1


def test_both_forms_say_the_same() -> None:
    for each in all_sheets():
        in_html = set(re.findall(r"[^\W_]{3,}", visible(as_html(each))))
        rendered = MarkdownIt("commonmark").enable("table").render(as_markdown(each))
        in_markdown = set(re.findall(r"[^\W_]{3,}", visible(rendered)))
        assert in_html - in_markdown <= {"Caution", "Pictograms"}
        assert in_markdown - in_html <= {"vial", "label", "contents", "signal", "word", "pictograms", "hazard", "statements"}


ODD = [
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</style><b>x", "{{ 7 * 7 }}{% raw %}", "[x](http://x.invalid)",
    "![x](y)", "a | b", "# head", "=1+1", "`code`", "*bold* _it_", "\\", "www.x.invalid", "Ωπ 漢字 \N{RIGHT-TO-LEFT OVERRIDE}x",
]  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_text_from_people_is_plain_text_in_every_form(odd: str) -> None:
    plain = printed(a_set("sand", "copper", name="N", tests=("look",)), date="D").values()
    tags = [[tag for tag, _ in Outline(as_html(page.sheet)).seen] for page in plain]
    noted = msgspec.structs.replace(a_set("sand", "copper", name=odd, tests=("look",)), notes="")
    pages = list(printed(noted, date=odd).values())
    assert [[tag for tag, _ in Outline(as_html(page.sheet)).seen] for page in pages] == tags
    for page in pages:
        rendered = MarkdownIt("commonmark", {"html": True}).enable("table").render(as_markdown(page.sheet))
        assert not re.search(r"<(script|img|a|b|h1 id)[ >]", rendered)
        assert rendered.count("<h1>") == 1
        if odd.isprintable():
            assert odd in html.unescape(as_html(page.sheet))


def test_notes_with_odd_text_stay_plain_text() -> None:
    noted = msgspec.structs.replace(DEMO_SET, notes="\n".join(ODD))
    key = printed(noted)["key"].sheet
    assert "<script" not in as_html(key)
    assert [tag for tag, _ in Outline(as_html(key)).seen].count("h1") == 1
    rendered = MarkdownIt("commonmark", {"html": True}).enable("table").render(as_markdown(key))
    assert not re.search(r"<(script|img|a|b)[ >]", rendered)


def test_labels_of_vials_are_escaped() -> None:
    vials = (Vial("<b>|*1*", "sand"), Vial("B", "copper"))
    for page in printed(UnknownsSet("Set", vials, ("look",))).values():
        assert "<b>" not in as_html(page.sheet)
        rendered = MarkdownIt("commonmark", {"html": True}).enable("table").render(as_markdown(page.sheet))
        assert "<b>" not in rendered


def test_substances_from_all_over_the_reference_table_can_be_printed() -> None:
    names: Sequence[str] = list(SUBSTANCES)[::5]
    for place in range(0, len(names), 10):
        for page in printed(a_set(*names[place : place + 10], tests=("look", "water test", "dry conductivity test"))).values():
            Outline(as_html(page.sheet))
            as_markdown(page.sheet)
