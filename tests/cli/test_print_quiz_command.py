"""`spotplate print-quiz`: that papers keep the answers, that every key agrees with the marking, and what people run into."""

from __future__ import annotations

import functools
import html
import itertools
import re
from pathlib import Path

import msgspec
import pytest
from markdown_it import MarkdownIt
from page_outline import Outline
from running import DEMO, run, run_once

from spotplate.cli.sheets import Printed, as_html, as_markdown
from spotplate.cli.sheets.model import Choice, Table
from spotplate.cli.sheets.printed import FOR_STUDENTS, FOR_TEACHER
from spotplate.cli.sheets.quiz_making import TITLE, QuizPrinting, papers_for_students, quiz_pages
from spotplate.cli.sheets.secrecy import tells_of
from spotplate.engine.files.sets import read_set
from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import set_material, table_material
from spotplate.engine.quiz.question import Difficulty, Item, Kind, Level, Option, Outcome, Question
from spotplate.engine.quiz.quiz import Quiz, Wanted, make_quiz
from spotplate.kb import FaultyInputError, load_knowledge

SET = DEMO / "set.yaml"
DEMO_SET = read_set(SET, load_knowledge())
MATERIAL = table_material()
OF_SET = set_material(DEMO_SET)
FORMS = (as_html, as_markdown)
KINDS = (Kind.CLASSIFY, Kind.MIX_UP)
ABOUT_THE_SET = (Kind.CLASSIFY, Kind.EXPLAIN, Kind.NEXT_TEST)  # follow-ups of mix-ups are the same whatever the set
QUICK = ("--kind", "classify", "--kind", "mix-up", "--questions", "3")


SEEN = {
    "state": "solid", "colour": "white or colourless", "lustre": "glassy", "deformation": "brittle", "dry conductivity": "no glow",
    "in water": "dissolves", "foam": "no foam", "solution conductivity": "bright glow", "flame colour": "lilac",
}  # fmt: skip


def a_question(number: int, *, options: int = 4, readings: int = 0, kind: Kind = Kind.EXPLAIN, **other: object) -> Question:
    """An invented question; its first option is right."""
    return Question(
        item=Item(kind, f"topic {number}"),
        draw=number,
        says=f"Invented question {number}: which of these will do?",
        readings=dict(list(SEEN.items())[:readings]),
        options=tuple(
            Option(f"answer {place} to {number}", "", place == 0, f"Reason {place} of {number}.") for place in range(options)
        ),
        difficulty=Difficulty(0.5, Level.MEDIUM, ("an invented one",)),
        because=f"Particles of {number} do this.",
        decisive=f"Test of {number}.",
        sources=(f"Source of {number}",),
        **other,  # type: ignore[arg-type]
    )


INVENTED = Quiz(7, tuple(a_question(number, options=3 + number % 4, readings=number) for number in range(9)))


@functools.cache
def real(*, of_set: bool = False) -> Quiz:
    return make_quiz(Wanted(number=8, seed=3, kinds=ABOUT_THE_SET if of_set else KINDS), OF_SET if of_set else MATERIAL)


def students(quiz: Quiz, **how: object) -> list[Printed]:
    return list(papers_for_students(quiz, QuizPrinting(**how), MATERIAL))  # type: ignore[arg-type]


def pages(quiz: Quiz, **how: object) -> list[Printed]:
    return list(quiz_pages(quiz, QuizPrinting(**how), MATERIAL))  # type: ignore[arg-type]


def written(some: list[Printed]) -> dict[str, str]:
    return {f"{page.name} {form.__name__}": form(page.sheet) for page in some for form in FORMS}


def visible(page: str) -> str:
    page = re.sub(r"<style>.*?</style>", " ", page, flags=re.DOTALL)
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


def choices(page: Printed) -> list[Choice]:
    return [block for block in page.sheet.blocks if isinstance(block, Choice)]


# --- the papers keep the answers ------------------------------------------------------------------------


def answers_changed(question: Question) -> Question:
    """The same question with another right option, and with everything else that tells of the answer changed."""
    flags = [option.right for option in question.options]
    options = tuple(
        Option(option.says, f"means {place}", flags[place - 1], "Another reason.", "another-mix-up")
        for place, option in enumerate(question.options)
    )
    return msgspec.structs.replace(
        question, options=options, substance="sand", truth=("covalent network",), subtype="", because="B", decisive="D",
        sources=("S",), item=Item(question.kind, "another", "ionic", "x", "y"), asked="state",
    )  # fmt: skip


@pytest.mark.parametrize("versions", [1, 4])
@pytest.mark.parametrize("name", ["invented", "real"])
def test_another_right_option_gives_the_same_papers(name: str, versions: int) -> None:
    quiz = INVENTED if name == "invented" else real()
    other = msgspec.structs.replace(quiz, questions=tuple(map(answers_changed, quiz.questions)), notes=("A note.",))
    assert written(students(quiz, versions=versions)) == written(students(other, versions=versions, again="spotplate quiz"))


def test_reasons_sources_seed_and_notes_stay_with_the_teacher() -> None:
    quiz = msgspec.structs.replace(INVENTED, seed=987654, notes=("Zanzibar.",))
    told = written(students(quiz, versions=3, again="spotplate quiz --seed 987654"))
    for text in told.values():
        for secret in ("987654", "Zanzibar", "Reason ", "Particles of", "Test of", "Source of", "topic", "an invented one"):
            assert secret not in text
    (answers,) = [page for page in pages(quiz, again="spotplate quiz --seed 987654") if page.folder == FOR_TEACHER]
    for shown in ("987654", "Zanzibar", "Reason 1 of 3", "Particles of 3", "Test of 3", "Source of 3", "an invented one"):
        assert shown in visible(as_html(answers.sheet))


def test_papers_on_a_set_name_none_of_its_substances_and_no_vial() -> None:
    papers = list(papers_for_students(real(of_set=True), QuizPrinting(versions=2), OF_SET))
    for text in map(visible, written(papers).values()):
        for substance in OF_SET.substances.values():
            assert tells_of(text, substance) == ()
        assert "vial" not in text.casefold()
        assert DEMO_SET.name not in text


def test_the_teachers_page_on_a_set_names_the_vials() -> None:
    quiz = real(of_set=True)
    told = visible(as_html(quiz_pages(quiz, QuizPrinting(), OF_SET, DEMO_SET)[-1].sheet))
    names = {question.substance for question in quiz.questions if question.substance}
    assert names
    for vial in DEMO_SET.vials:
        assert (f"{vial.substance} (vial {vial.label})" in told) == (vial.substance in names)


@pytest.mark.parametrize("option", ["title", "date"])
def test_a_heading_that_tells_what_is_to_be_found_out_is_refused(option: str) -> None:
    hidden = Quiz(1, (a_question(1, readings=2, substance="sodium chloride"),))
    with pytest.raises(FaultyInputError, match="'sodium chloride', which is behind a question"):
        students(hidden, **{option: "All about table salt"})
    named = Quiz(1, (msgspec.structs.replace(hidden.questions[0], says="What is sodium chloride?"),))
    assert students(named, **{option: "All about table salt"})
    with pytest.raises(FaultyInputError, match="'sodium chloride', which is in the set"):
        list(papers_for_students(named, QuizPrinting(**{option: "All about table salt"}), OF_SET))


# --- versions and key -----------------------------------------------------------------------------------


def key_of(answers: Printed) -> dict[str, list[set[str]]]:
    """Paper → for each of its questions the letters of the key."""
    (table,) = [block for block in answers.sheet.blocks if isinstance(block, Table) and block.columns[0] == "question"]
    assert [row[0] for row in table.rows] == [str(number + 1) for number in range(len(table.rows))]
    return {
        column.removeprefix("paper "): [set(re.findall(r"\b[a-f]\b", row[place])) for row in table.rows]
        for place, column in enumerate(table.columns[1:], 1)
    }


@pytest.mark.parametrize("versions", [1, 2, 5])
@pytest.mark.parametrize("quiz", [INVENTED, real()], ids=["invented", "real"])
def test_the_key_of_every_paper_agrees_with_the_marking(quiz: Quiz, versions: int) -> None:
    """Looked up by what stands on the paper, and marked anew."""
    *papers, answers = pages(quiz, versions=versions)
    key = key_of(answers)
    assert len(papers) == len(key) == versions
    for paper, (letter, cells) in zip(papers, key.items(), strict=True):
        assert versions == 1 or paper.sheet.subtitle.endswith(f"paper {letter}")
        for choice, counted in zip(choices(paper), cells, strict=True):
            (question,) = [
                each for each in quiz.questions if (each.says, tuple(each.readings.items())) == (choice.asks, choice.readings)
            ]
            assert counted
            for tick, says in choice.options:
                (place,) = [place for place, option in enumerate(question.options) if option.says == says]
                assert (mark(question, place, MATERIAL).outcome is not Outcome.WRONG) == (tick in counted)


def test_all_papers_hold_the_same_questions_and_neighbours_differ() -> None:
    papers = [choices(paper) for paper in students(INVENTED, versions=3)]
    asked = [sorted((choice.asks, tuple(sorted(says for _, says in choice.options))) for choice in paper) for paper in papers]
    assert asked[0] == asked[1] == asked[2]
    for first, second in ((0, 1), (1, 2), (0, 2)):
        for ours, theirs in zip(papers[first], papers[second], strict=True):
            assert ours.asks != theirs.asks
    assert [choice.asks for choice in papers[0]] == [question.says for question in INVENTED.questions]


def test_each_answer_is_explained_with_its_letter_on_every_paper() -> None:
    *papers, answers = pages(INVENTED, versions=2)
    letters = [{(choice.asks, says): letter for choice in choices(paper) for letter, says in choice.options} for paper in papers]
    tables = [block for block in answers.sheet.blocks if isinstance(block, Table) and block.columns[0] == "letter"]
    for question, table in zip(INVENTED.questions, tables, strict=True):
        assert len(table.rows) == len(question.options)
        for option, row in zip(question.options, table.rows, strict=True):
            ours, theirs = (each[question.says, option.says] for each in letters)
            assert row == (f"{ours} / {theirs}", option.says, "right" if option.right else "wrong", option.why)


def test_a_defensible_answer_counts_and_is_told_apart_in_the_key() -> None:
    substance = next(item for item in MATERIAL.substances.values() if item.also_defensible)
    truth = substance.defensible_classes()
    options = tuple(Option(name, name, name in truth) for name in MATERIAL.knowledge.classes)
    question = a_question(1, kind=Kind.NAMED, substance=substance.name, truth=truth)
    quiz = Quiz(1, (msgspec.structs.replace(question, options=options, because=""),))
    answers = pages(quiz)[-1]
    (table,) = [block for block in answers.sheet.blocks if isinstance(block, Table) and block.columns[0] == "question"]
    letters = dict(zip((option.says for option in options), "abcde", strict=True))
    assert table.rows == (("1", f"{letters[truth[0]]}, also {letters[truth[1]]}"),)


def test_a_wrong_class_gets_the_readings_against_it_and_the_test_that_decides() -> None:
    quiz = real()
    told = visible(as_html(pages(quiz)[-1].sheet))
    for question in quiz.questions:
        if question.kind is not Kind.CLASSIFY:
            continue
        for place in range(len(question.options)):
            reply = mark(question, place, MATERIAL).reply
            assert re.sub(r"^(No|Right|Accepted|Right, but not supported)\. ", "", reply.opening) in told
            assert all(f"{item.reading} “{item.seen}”" in told and item.because in told for item in reply.against[:2])
            assert reply.decisive in told
            assert reply.mix_up is None or reply.mix_up.reply in told


@pytest.mark.parametrize(
    ("sure", "right", "wrong"),
    [("0 %", "0.00", "1.00"), ("50 %", "0.75", "0.75"), ("80 %", "0.96", "0.36"), ("100 %", "1.00", "0.00")],
)
def test_certainty_is_scored_by_the_rule_of_brier(sure: str, right: str, wrong: str) -> None:
    """1 − (certainty − outcome)², worked out by hand."""
    (table,) = [
        block for block in pages(INVENTED)[-1].sheet.blocks if isinstance(block, Table) and block.columns[0] == "certainty"
    ]
    place = table.columns.index(sure)
    assert [row[place] for row in table.rows] == [right, wrong]
    for text in written(pages(INVENTED)).values():
        assert "1 − (certainty − outcome)²" in visible(text).replace("\\", "")


# --- forms ----------------------------------------------------------------------------------------------


def all_pages() -> list[Printed]:
    return [*pages(INVENTED, versions=2), *pages(real())]


def test_pages_tell_their_language_and_have_headings_in_order() -> None:
    for page in all_pages():
        outline = Outline(as_html(page.sheet))
        assert ("html", {"lang": "en"}) in outline.seen
        levels = [int(tag[1]) for tag in outline.tags if re.fullmatch(r"h[1-6]", tag)]
        assert levels[0] == 1
        assert levels.count(1) == 1
        assert all(after <= before + 1 for before, after in itertools.pairwise(levels))


def test_every_table_has_a_caption_and_headers_for_columns_and_rows() -> None:
    found = 0
    for page in all_pages():
        for table in re.findall(r"<table.*?</table>", as_html(page.sheet), re.DOTALL):
            head, body = table.split("<tbody>")
            assert "<caption>" in head
            assert set(re.findall(r"<t[hd]\b[^>]*>", head)) == {'<th scope="col">'}
            for row in re.findall(r"<tr>.*?</tr>", body, re.DOTALL):
                assert row.startswith('<tr><th scope="row">')
                assert len(re.findall(r"<t[hd][ >]", row)) == head.count("<th ")
            found += 1
    assert found > 10


def test_every_option_has_a_box_and_every_question_room_for_certainty() -> None:
    for page in students(INVENTED, versions=2):
        outline = Outline(as_html(page.sheet))
        options = sum(len(choice.options) for choice in choices(page))
        classes = [attributes.get("class") for _, attributes in outline.seen]
        assert classes.count("tick") == outline.tags.count("li") == options
        assert classes.count("number") == classes.count("choice") == len(INVENTED.questions)
        assert as_markdown(page.sheet).count("\N{BALLOT BOX}") == options


def test_each_question_says_how_hard_it_is_and_shows_all_its_readings() -> None:
    told = visible(as_html(students(INVENTED)[0].sheet))
    for number, question in enumerate(INVENTED.questions, 1):
        assert f"Question {number} (medium) {question.says}" in told
        assert all(f"{name} {value}" in told for name, value in question.readings.items())


def test_a_paper_has_fields_to_fill_in_and_leaves_the_bench_to_those_responsible() -> None:
    for page in students(INVENTED, date="3 May", title="Lamp Street"):
        told = visible(as_html(page.sheet))
        assert told.index("Name") < told.index("Group") < told.index("Date: 3 May") < told.index("Tick one answer")
        assert "safety data sheet, local rules and the responsible teacher decide" in told
        assert page.sheet.title == "Lamp Street"


def test_a_question_is_never_split_between_pages() -> None:
    style = re.findall(r"@media print \{.*", as_html(students(INVENTED)[0].sheet), re.DOTALL)[0]
    assert re.search(r"\.choice\b[^{]*\{ break-inside: avoid; \}", style)


def test_both_forms_say_the_same() -> None:
    for page in all_pages():
        in_html = set(re.findall(r"[^\W_]{3,}", visible(as_html(page.sheet))))
        rendered = MarkdownIt("commonmark").enable("table").render(as_markdown(page.sheet))
        assert in_html == set(re.findall(r"[^\W_]{3,}", visible(rendered)))


ODD = [
    "<script>alert(1)</script>", '"><img src=x onerror=alert(1)>', "</style><b>x", "{{ 7 * 7 }}{% raw %}", "[x](http://x.invalid)",
    "![x](y)", "a | b", "# head", "=1+1", "`code`", "*bold* _it_", "\\", "www.x.invalid", "Ωπ 漢字 \N{RIGHT-TO-LEFT OVERRIDE}x",
]  # fmt: skip


@pytest.mark.parametrize("odd", ODD)
def test_text_from_people_is_plain_text_in_every_form(odd: str) -> None:
    plain = [Outline(as_html(page.sheet)).tags for page in pages(INVENTED, title="T", date="D", versions=2)]
    some = pages(INVENTED, title=odd, date=odd, versions=2)
    assert [Outline(as_html(page.sheet)).tags for page in some] == plain
    for page in some:
        rendered = MarkdownIt("commonmark", {"html": True}).enable("table").render(as_markdown(page.sheet))
        assert not re.search(r"<(script|img|a|b|h1 id)[ >]", rendered)
        assert rendered.count("<h1>") == 1
        if odd.isprintable():
            assert odd in html.unescape(as_html(page.sheet))


# --- as people run it -----------------------------------------------------------------------------------


def files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(tmp_path: Path) -> None:
    for name, seed in (("first", "4"), ("second", "4"), ("other", "5")):
        done = run("print-quiz", "--folder", str(tmp_path / name), "--seed", seed, "--versions", "2", *QUICK)
        assert (done.returncode, done.stderr) == (0, "")
    first, second, other = (files(tmp_path / name) for name in ("first", "second", "other"))
    names = {f"students/quiz-paper-{letter}" for letter in "ab"} | {"teacher/quiz-answers"}
    assert set(first) == {f"{name}{ending}" for name in names for ending in (".html", ".md")}
    assert first == second
    assert all(first[name] != other[name] for name in first)


def test_the_paper_has_the_questions_of_the_quiz_with_that_seed(tmp_path: Path) -> None:
    done = run("print-quiz", "--folder", str(tmp_path), "--seed", "4", *QUICK, "--level", "easy")
    assert done.returncode == 0
    quiz = make_quiz(Wanted(number=3, seed=4, kinds=KINDS, level=Level.EASY), MATERIAL)
    page = (tmp_path / "students/quiz.html").read_text(encoding="utf-8")
    assert page == as_html(students(quiz)[0].sheet)
    assert f"<h1>{TITLE}</h1>" in page
    answers = html.unescape((tmp_path / "teacher/quiz-answers.html").read_text(encoding="utf-8"))
    assert "spotplate quiz --seed 4 --questions 3 --kind classify --kind mix-up --level easy" in answers
    assert "for the teacher only, since they give the answers away" in done.stdout


def test_a_wish_that_cannot_be_met_is_told(tmp_path: Path) -> None:
    done = run(
        "print-quiz", "--folder", str(tmp_path), "--seed", "1", "--set", str(SET), "--kind", "classify", "--questions", "50"
    )
    assert done.returncode == 0
    assert re.search(r"^Only \d+ different questions could be made instead of 50\.$", done.stderr, re.MULTILINE)
    assert done.stderr.splitlines()[-1] in visible((tmp_path / "teacher/quiz-answers.html").read_text(encoding="utf-8"))


def test_nothing_is_written_over_unless_asked(tmp_path: Path) -> None:
    page = tmp_path / "students" / "quiz.md"
    page.parent.mkdir()
    page.write_text("mine", encoding="utf-8")
    done = run("print-quiz", "--folder", str(tmp_path), "--seed", "4", *QUICK)
    assert done.returncode == 2
    assert "is there already" in done.stderr
    assert "--over" in done.stderr
    assert files(tmp_path) == {"students/quiz.md": b"mine"}
    assert run("print-quiz", "--folder", str(tmp_path), "--seed", "4", *QUICK, "--over").returncode == 0
    assert page.read_text(encoding="utf-8").startswith(f"# {TITLE}")


def test_papers_that_an_earlier_printing_left_are_named(tmp_path: Path) -> None:
    run("print-quiz", "--folder", str(tmp_path), "--seed", "4", *QUICK, "--versions", "2")
    done = run("print-quiz", "--folder", str(tmp_path), "--seed", "5", *QUICK, "--over")
    assert done.returncode == 0
    assert "Not of this printing, so perhaps of another key: quiz-paper-a.html" in done.stderr


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("--seed", "x"), "x"),
        (("--versions", "0"), "0"),
        (("--versions", "9"), "9"),
        (("--questions", "0"), "0"),
        (("--questions", "201"), "201"),
        (("--kind", "riddle"), "riddle"),
        (("--level", "mild"), "mild"),
        (("--set", "nothing.yaml"), "nothing.yaml"),
        (("--set", str(SET), "--title", "All about table salt"), "'sodium chloride', which is in the set"),
        (("--set", str(SET), "--date", "sucrose day"), "'sucrose'"),
    ],
)
def test_faulty_options_are_refused_before_anything_is_written(arguments: tuple[str, ...], says: str, tmp_path: Path) -> None:
    done = run("print-quiz", "--folder", str(tmp_path / "out"), "--seed", "4", *QUICK, *arguments, columns=300)
    assert done.returncode == 2
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(("given", "missing"), [(("--seed", "4"), "--folder"), (("--folder", "out"), "--seed")])
def test_folder_and_seed_must_be_given(given: tuple[str, ...], missing: str) -> None:
    done = run("print-quiz", *given, columns=300)
    assert done.returncode == 2
    assert missing in done.stderr


def test_help_tells_where_the_answers_are() -> None:
    told = " ".join(run_once("print-quiz", "--help").stdout.split())
    assert "what gives the answers away" in told


def test_students_and_teacher_have_folders_of_their_own() -> None:
    assert [page.folder for page in pages(INVENTED, versions=2)] == [FOR_STUDENTS, FOR_STUDENTS, FOR_TEACHER]
