"""`spotplate quiz --json`: what another front end gets, and what gives no answer away."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from bench_terminal import in_one_line
from quiz_terminal import marked, piped, plain_quiz, questions, token_of, wrong
from running import DEMO, run, run_once

from spotplate.engine.quiz.question import Kind, Outcome

SET = str(DEMO / "set.yaml")
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SEED, ASKED = plain_quiz()
QUIZ = ("--seed", str(SEED), "--questions", "3", "--kind", "classify")
PUBLIC = {"token", "number", "kind", "says", "readings", "options", "difficulty"}


@pytest.mark.parametrize("source", [(), ("--set", SET), ("--set", SET, "--assessment")], ids=["table", "set", "assessment"])
def test_json_holds_the_public_part_of_every_question_alone(source: tuple[str, ...]) -> None:
    data = json.loads(run("quiz", "--json", "--seed", "4", "--questions", "12", *source).stdout)
    assert data.keys() == {"seed", "notes", "questions"}
    assert data["seed"] == 4
    assert [question["number"] for question in data["questions"]] == list(range(1, len(data["questions"]) + 1))
    for question in data["questions"]:
        assert question.keys() == PUBLIC
        assert all(option.keys() == {"letter", "says"} for option in question["options"])
        assert [option["letter"] for option in question["options"]] == list("abcdef"[: len(question["options"])])
        assert question["difficulty"].keys() == {"number", "level"}
        assert 0 <= question["difficulty"]["number"] <= 1
        assert question["difficulty"]["level"] in ("easy", "medium", "hard")


def test_json_gives_no_answer_away() -> None:
    """Nothing in it differs between questions that look the same and have other answers: only what a learner sees is there."""
    told = run_once("quiz", "--json", *QUIZ).stdout
    data = json.loads(told)
    for question, asked in zip(data["questions"], ASKED, strict=True):
        seen = json.dumps({key: question[key] for key in ("kind", "says", "readings", "options")})
        assert asked.substance not in seen
        assert asked.item.key not in told
        for hidden in (asked.because, asked.decisive, *(option.why for option in asked.options)):
            assert not hidden or hidden not in told


@pytest.mark.parametrize("columns", [60, 80])
def test_what_makes_a_question_hard_is_told_after_the_answer_since_it_is_a_hint(progress: Path, columns: int) -> None:
    """“Most of its class show something else” tells whoever knows the class which answer not to give."""
    hint = "most of its class show something else"
    quiz = ("--kind", "predict", "--questions", "12", "--seed", "8", "--no-memory")
    asked = questions(8, 12, Kind.PREDICT)
    at = next(place for place, question in enumerate(asked) if hint in question.difficulty.parts)
    before = piped(*quiz, lines=("skip",) * (at + 1), columns=columns).stdout
    assert f"Question {at + 1} of 12" in before
    assert hint not in in_one_line(before)
    assert hint not in run("quiz", "--json", *quiz).stdout
    after = in_one_line(piped(*quiz, lines=(*["skip"] * at, "a", "", "stop"), columns=columns).stdout)
    assert re.search(rf"Adds to the difficulty: [^.]*{hint}", after)


def test_json_tells_what_made_a_question_hard_with_the_mark() -> None:
    made = json.loads(run_once("quiz", "--json", "--seed", "2", "--questions", "6", "--kind", "classify", "--set", SET).stdout)
    marks = [json.loads(run_once("mark", "--json", each["token"], "a", "--set", SET).stdout) for each in made["questions"]]
    assert any(mark["difficulty_parts"] for mark in marks)


def test_tokens_of_questions_on_one_item_have_no_sign_in_common_but_that_of_the_material() -> None:
    """Else whoever has seen one answer would know the next."""
    tokens = set()
    for seed in range(6):
        data = json.loads(run("quiz", "--json", "--seed", str(seed), "--questions", "1", "--kind", "mix-up").stdout)
        tokens |= {question["token"] for question in data["questions"]}
    assert len({token.split("-")[0] for token in tokens}) == len(tokens)


def test_json_of_a_quiz_depends_on_the_seed_alone(progress: Path) -> None:
    piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), ""))
    known = run("quiz", "--json", *QUIZ, "--learner", "me", "--progress", str(progress)).stdout
    assert known == run_once("quiz", "--json", *QUIZ).stdout


def test_readme_names_every_field_word_and_kind() -> None:
    data = marked(token_of(0, *QUIZ), wrong(ASKED[0]))
    fields = {
        "seed",
        "notes",
        "questions",
        *PUBLIC,
        "letter",
        "level",
        *data,
        *data["reply"],
        *data["reply"]["against"][0],
    }
    missing = [name for name in fields if f"`{name}`" not in README]
    assert not missing
    for word in ("skip", "back", "question", "why", "score", "help", "stop", *Outcome):
        assert f"`{word}`" in README, word
    for kind in Kind:
        assert f"`{kind}`" in README, kind
