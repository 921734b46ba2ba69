"""`spotplate mark`: one answer to a question that `spotplate quiz --json` gave to another front end."""

from __future__ import annotations

import json
import string
from pathlib import Path
from typing import Any

import pytest
from quiz_terminal import kept, mixed_up, plain_quiz, quiz_with_a_mix_up, right, wrong
from running import DEMO, control_characters, run, run_once

from spotplate.engine.quiz.question import Outcome
from spotplate.kb.quiz import load_quiz

SET = str(DEMO / "set.yaml")
SEED, ASKED = plain_quiz()
QUIZ = ("--seed", str(SEED), "--questions", "3", "--kind", "classify")
SHAPE = {"difficulty_parts", "outcome", "chosen", "right", "reply", "follow_up", "kept"}
REPLY = {"opening", "against", "expected", "particles", "contrast", "decisive", "mix_up", "sources"}


def tokens(*source: str) -> list[str]:
    return [question["token"] for question in json.loads(run_once("quiz", "--json", *QUIZ, *source).stdout)["questions"]]


def marked(*arguments: str) -> dict[str, Any]:
    data = json.loads(run_once("mark", "--json", *arguments).stdout)
    assert isinstance(data, dict)
    return data


def test_every_answer_to_every_question_is_marked_as_the_engine_knows_it() -> None:
    for token, question in zip(tokens(), ASKED, strict=True):
        for letter, option in zip(string.ascii_letters, question.options, strict=False):
            done = run_once("mark", token, letter, "--json")
            data = json.loads(done.stdout)
            assert done.stderr == ""
            assert data.keys() == SHAPE
            assert data["reply"].keys() == REPLY
            assert data["chosen"] == option.says
            assert data["outcome"] in list(Outcome)
            counts = option.right or option.means in question.truth
            assert (data["outcome"] == "wrong") != counts
            assert done.returncode == (0 if counts else 1)
            assert data["right"] == [each.says for each in question.options if each.right]
            assert data["kept"] is False


def test_letters_numbers_and_words_mark_the_same() -> None:
    token, question = tokens()[0], ASKED[0]
    place = next(place for place, option in enumerate(question.options) if option.right)
    by_letter = marked(token, string.ascii_letters[place])
    assert by_letter == marked(token, str(place + 1)) == marked(token, question.options[place].says.upper())


@pytest.mark.parametrize("form", [(), ("--plain",)], ids=["drawn", "plain"])
def test_the_reply_is_told_in_words_with_the_same_exit_code(form: tuple[str, ...]) -> None:
    good, bad = (run_once("mark", tokens()[0], answer(ASKED[0]), *form) for answer in (right, wrong))
    assert (good.returncode, bad.returncode) == (0, 1)
    assert good.stdout.startswith("Right\n")
    assert bad.stdout.startswith("Wrong\n")
    assert good.stderr == bad.stderr == ""


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_no_line_of_a_reply_is_wider_than_asked_for(columns: int) -> None:
    for token, question in zip(tokens(), ASKED, strict=True):
        lines = run("mark", token, wrong(question), columns=columns).stdout.splitlines()
        assert [line for line in lines if len(line) > columns] == []


def test_a_mix_up_brings_a_question_that_tests_its_cure_and_can_be_marked_in_turn() -> None:
    seed, asked = quiz_with_a_mix_up()
    quiz = json.loads(run("quiz", "--json", "--seed", str(seed), "--questions", "2", "--kind", "classify").stdout)
    data = marked(quiz["questions"][0]["token"], mixed_up(asked[0]))
    shown, cure = data["reply"]["mix_up"], data["follow_up"]
    assert shown.keys() == {"id", "says", "reply", "source", "follow_up"}
    assert shown["follow_up"] == f"mix-up/{shown['id']}"
    assert cure.keys() == {"token", "number", "kind", "says", "readings", "options", "difficulty"}
    written = load_quiz().mix_ups[shown["id"]].follow_up
    assert {option["says"] for option in cure["options"]} == {answer.says for answer in written.answers}
    for answer in written.answers:
        assert (marked(cure["token"], answer.says)["outcome"] == "right") == answer.right


# --- memory ----------------------------------------------------------------------------------------


def test_an_answer_is_kept_only_when_a_learner_is_named(tmp_path: Path) -> None:
    progress = tmp_path / "progress.sqlite3"
    token, letter = tokens()[0], right(ASKED[0])
    assert json.loads(run("mark", token, letter, "--json", "--progress", str(progress)).stdout)["kept"] is False
    assert not progress.exists()
    arguments = ("mark", token, letter, "--sure", "75", "--json", "--progress", str(progress), "--learner", "Ada")
    assert json.loads(run(*arguments, "--no-memory").stdout)["kept"] is False
    assert not progress.exists()
    assert json.loads(run(*arguments).stdout)["kept"] is True
    (answer,) = kept(progress, "Ada")
    assert (answer.item, answer.sure, answer.right) == (ASKED[0].item, 0.75, True)


def test_progress_that_cannot_be_kept_does_not_hinder_marking(tmp_path: Path) -> None:
    progress = tmp_path / "progress.sqlite3"
    (tmp_path / f".{progress.name}.lock").mkdir()
    done = run("mark", tokens()[0], right(ASKED[0]), "--json", "--progress", str(progress), "--learner", "Ada")
    assert done.returncode == 0
    assert json.loads(done.stdout)["kept"] is False
    assert done.stderr.count("\n") == 1


# --- a set -----------------------------------------------------------------------------------------


def test_a_question_about_a_set_is_marked_with_that_set_alone() -> None:
    token = tokens("--set", SET)[0]
    assert run("mark", token, "a", "--set", SET).returncode in (0, 1)
    for other in ((), ("--set", SET, "--assessment")):
        done = run("mark", token, "a", *other)
        assert done.returncode == 2
        assert "other material" in done.stderr


def test_of_an_assessment_nothing_is_kept_and_no_mix_up_followed_up() -> None:
    made = json.loads(run_once("quiz", "--json", "--seed", "3", "--questions", "4", "--set", SET, "--assessment").stdout)
    for token in [each["token"] for each in made["questions"]]:
        for letter in "ab":
            data = json.loads(run("mark", token, letter, "--json", "--set", SET, "--assessment", "--learner", "Ada").stdout)
            assert data["kept"] is False
            assert data["follow_up"] is None


# --- bad and hostile input -------------------------------------------------------------------------


def stale(token: str) -> str:
    item, draw, material = token.split("-")
    return f"{item}-{draw}-{(int(material, 16) + 1) % 0x10000:04x}"


def test_bad_input_ends_in_one_clear_line() -> None:
    token = tokens()[0]
    bad = [
        ((stale(token), "a"), "other material"),
        (("nonsense", "a"), "no token"),
        (("", "a"), "no token"),
        ((f"00000000-0-{token.split('-')[2]}", "a"), "there is no question"),
        (("x" * 100_000, "a"), "no token"),
        (("\x1b[2J", "a"), "no token"),
        ((token, "z"), "a to f and 1 to 6"),
        ((token, ""), "a to f and 1 to 6"),
        ((token, "99"), "a to f and 1 to 6"),
        ((token, "ionik"), "did you mean a) ionic?"),
        ((token, "y" * 100_000), "a to f and 1 to 6"),
        ((token, "\x1b[2J"), "a to f and 1 to 6"),
        ((token, "a", "--sure", "101"), "0 to 100"),
        ((token, "a", "--sure=-1"), "0 to 100"),
        ((token, "a", "--sure", "nan"), "0 to 100"),
        ((token, "a", "--sure", "much"), "0 to 100"),
        ((token, "a", "--assessment"), "--set"),
        ((token, "a", "--set", "nothing.yaml"), "no such file"),
        ((token, "a", "--learner", ""), "option --learner"),
        ((token, "a", "--learner", "Ada", "--progress", "nowhere/p.sqlite3"), "option --progress"),
    ]
    for arguments, says in bad:
        done = run("mark", *arguments)
        assert done.returncode == 2, arguments
        assert done.stdout == ""
        assert done.stderr.startswith("error: "), arguments
        assert done.stderr.count("\n") == 1
        assert says in done.stderr, arguments
        assert len(done.stderr) < 400
        assert not control_characters(done.stderr)


@pytest.mark.parametrize("answer", ["ionic; DROP TABLE answers", "💥", "[bold]a[/bold]"])
def test_odd_answers_are_refused_as_any_other(answer: str) -> None:
    assert run("mark", tokens()[0], answer).returncode == 2
