"""`spotplate quiz` in a pipe: what is asked, marked, kept and told."""

from __future__ import annotations

import json
import re
import subprocess
from pathlib import Path

import pytest
from bench_terminal import in_one_line
from quiz_terminal import kept, marked, mixed_up, piped, plain_quiz, quiz_with_a_mix_up, right, token_of, wrong
from running import DEMO, PROGRAM, control_characters, environment_with, run

from spotplate.engine.quiz.marking import mark
from spotplate.engine.quiz.material import table_material
from spotplate.engine.quiz.practice import Answered
from spotplate.kb.quiz import load_quiz

SET = str(DEMO / "set.yaml")
README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
SEED, ASKED = plain_quiz()
QUIZ = ("--seed", str(SEED), "--questions", "3", "--kind", "classify")


def answers_right(number: int = 3, sure: str = "") -> tuple[str, ...]:
    return tuple(line for question in ASKED[:number] for line in (right(question), sure))


# --- a whole quiz ----------------------------------------------------------------------------------


def test_every_question_is_asked_answered_and_kept(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), "", *answers_right()[2:]))
    assert told.returncode == 0
    assert told.stderr == ""
    for number, question in enumerate(ASKED, 1):
        assert f"Question {number} of 3: the class from readings" in told.stdout
        for reading, seen in question.readings.items():
            assert f"    {reading}: {seen}\n" in told.stdout
    assert "Score: 2 of 3 right" in told.stdout
    assert [answer.right for answer in kept(progress)] == [False, True, True]
    assert [answer.item for answer in kept(progress)] == [question.item for question in ASKED]
    assert {answer.sure for answer in kept(progress)} == {None}


def test_letters_numbers_and_words_are_the_same_answer(progress: Path) -> None:
    for form in ("letter", "number", "words"):
        places = [next(place for place, option in enumerate(question.options) if option.right) for question in ASKED]
        typed = {
            "letter": ["abcdef"[place] for place in places],
            "number": [str(place + 1) for place in places],
            "words": [question.options[place].says.upper() for question, place in zip(ASKED, places, strict=True)],
        }[form]
        lines = tuple(line for answer in typed for line in (answer, ""))
        assert "Score: 3 of 3 right" in piped(*QUIZ, "--progress", progress, lines=lines).stdout
    assert len(kept(progress)) == 9


def test_a_certainty_is_kept_and_scored_with_the_rule_beside_it(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(right(ASKED[0]), "80 %", wrong(ASKED[1]), "30", right(ASKED[2]), ""))
    assert [answer.sure for answer in kept(progress)] == [0.8, 0.3, None]
    said = in_one_line(told.stdout)
    # 1 − (0.8 − 1)² = 0.96 and 1 − (0.3 − 0)² = 0.91; their mean is 0.935
    assert re.search(r"Certainty score: 0\.9[34] of 1", said)
    assert "2 answers with a certainty: you said 55 % on average, and 50 % were right." in said
    assert "(how sure − outcome)²" in said


def test_without_a_certainty_there_is_no_certainty_score(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=answers_right())
    assert "Certainty score" not in told.stdout


def test_a_certainty_that_is_none_is_asked_for_again_and_the_answer_stands(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(right(ASKED[0]), "very", "101", "90", "stop"))
    assert "'very' is no percentage" in told.stdout
    assert "'101' is more than 100" in told.stdout
    assert [answer.sure for answer in kept(progress)] == [0.9]


def test_a_skipped_question_does_not_count(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=("skip", *answers_right()[2:]))
    assert "Score: 2 of 2 right" in told.stdout
    assert "Skipped: 1." in told.stdout
    assert len(kept(progress)) == 2


@pytest.mark.parametrize("end", [("stop",), ("quit",), ()], ids=["stop", "quit", "end of input"])
def test_whoever_stops_keeps_every_answer_and_gets_the_score(progress: Path, end: tuple[str, ...]) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(*answers_right(1), *end))
    assert told.returncode == 0
    assert "Score: 1 of 1 right" in told.stdout
    assert "Every answer is kept" in told.stdout
    assert len(kept(progress)) == 1


@pytest.mark.parametrize("end", [("stop",), ()], ids=["stop", "end of input"])
def test_an_answer_without_its_certainty_is_marked_replied_to_and_kept(progress: Path, end: tuple[str, ...]) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(right(ASKED[0]), *end))
    assert told.returncode == 0
    assert "\nRight\n" in told.stdout
    assert [(answer.right, answer.sure) for answer in kept(progress)] == [(True, None)]


def test_nothing_answered_is_told_so(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=("score", "why", "stop"))
    assert "No question is answered yet" in told.stdout
    assert "There is no reply yet" in told.stdout
    assert "No question was answered" in told.stdout
    assert not progress.exists()


def test_why_tells_the_reply_again_and_score_how_it_stands(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), "", "why", "score", "stop"))
    first, *_ = re.findall(r"\nWrong\n.*?(?=\n\nQuestion 2)", told.stdout, flags=re.DOTALL)
    assert told.stdout.count(first) == 2
    assert told.stdout.count("Score: 0 of 1 right") == 2
    assert len(kept(progress)) == 1


def test_a_slip_can_be_taken_back_until_it_is_told_how_sure_one_is(progress: Path) -> None:
    lines = (wrong(ASKED[0]), "back", right(ASKED[0]), "90", "back", wrong(ASKED[1]), "undo", "skip", "stop")
    told = in_one_line(piped(*QUIZ, "--progress", progress, lines=lines).stdout)
    assert told.count("Taken back.") == 2
    assert "There is no answer to take back; one that was replied to is kept." in told
    assert "Score: 1 of 1 right Skipped: 1." in told
    assert [(answer.right, answer.sure) for answer in kept(progress)] == [(True, 0.9)]


def test_an_answer_that_was_taken_back_is_not_kept_when_the_input_ends(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), "back")).stdout
    assert "No question was answered" in told
    assert not progress.exists()


def test_the_question_is_shown_again_whenever_it_is_asked_for(progress: Path) -> None:
    lines = ("question", right(ASKED[0]), "again", "", "stop")
    told = piped(*QUIZ, "--progress", progress, lines=lines).stdout
    assert told.count("Question 1 of 3: the class from readings") == 3
    assert told.count("Question 2 of 3: the class from readings") == 1
    assert "Score: 1 of 1 right" in told


def test_help_names_every_word(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=("help", "stop")).stdout
    for word in ("skip", "back", "question", "why", "score", "help", "stop"):
        assert f"  {word}: " in told


# --- replies ---------------------------------------------------------------------------------------


def test_a_wrong_guess_is_told_the_readings_against_it_in_their_order(progress: Path) -> None:
    data = marked(token_of(0, *QUIZ), wrong(ASKED[0]))
    told = piped(*QUIZ, "--progress", progress, "--plain", lines=(wrong(ASKED[0]), "", "stop")).stdout
    reply = data["reply"]
    assert reply["against"]
    places = [told.index(f". {item['reading']}: {item['seen']}\n") for item in reply["against"]]
    assert places == sorted(places)
    for item in reply["against"]:
        assert item["seen"] == ASKED[0].readings[item["reading"]]
    for part in ("particles", "contrast", "decisive"):
        assert reply[part] in told
    for source in reply["sources"]:
        assert f"source: {source}\n" in told


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_no_screen_shows_the_inside_of_the_program(progress: Path, seed: int) -> None:
    lines = ("a", "50", "b", "", "c", "70", "d", "", "", "a", "", "", "a", "", "stop")
    for form in ((), ("--plain",)):
        told = piped("--seed", str(seed), "--no-memory", *form, lines=lines)
        assert told.stderr == ""
        assert not re.search(r"\bNone\b|\bTrue\b|\bnan\b|class_|Kind\.|[{}]|\(\)|\[\]|Struct", told.stdout)
        assert not re.search(r"(?<!\.)\.\.(?!\.)|\. \.", told.stdout)
        assert "\x1b" not in told.stdout


# --- mix-ups and the question that tests the cure ----------------------------------------------------


def with_a_mix_up(progress: Path, *lines: str) -> tuple[str, str, tuple[Answered, ...]]:
    """What is told after a guess that shows a mix-up and then these lines, the mix-up's id, and what is kept."""
    seed, asked = quiz_with_a_mix_up()
    letter = mixed_up(asked[0])
    options = ("--seed", str(seed), "--questions", "2", "--kind", "classify", "--progress", progress)
    told = piped(*options, lines=(letter, "", *lines))
    assert told.returncode == 0
    assert told.stderr == ""
    shown = mark(asked[0], "abcdef".index(letter), table_material()).reply.mix_up
    assert shown
    return in_one_line(told.stdout), shown.id, kept(progress)


def test_a_mix_up_is_named_with_its_reply_and_source_and_its_cure_is_offered(progress: Path) -> None:
    said, name, answers = with_a_mix_up(progress, "no", "stop")
    mix_up = load_quiz().mix_ups[name]
    assert f"This usually is the mix-up: “{mix_up.says}” {in_one_line(mix_up.reply)} source: " in said
    assert said.count("A question to see whether that is cured? (Enter = yes)") == 1
    assert "Follow-up: " not in said
    assert "Question 2 of 2" in said
    assert [answer.mix_up for answer in answers] == [name]
    assert f"Mix-ups that showed - “{mix_up.says}”" in said


@pytest.mark.parametrize("yes", ["", "yes", "Y"])
def test_the_question_that_tests_the_cure_is_asked_and_counted(progress: Path, yes: str) -> None:
    _, name, _ = with_a_mix_up(progress, "stop")
    follow_up = load_quiz().mix_ups[name].follow_up
    best = next(answer.says for answer in follow_up.answers if answer.right)
    said, _, answers = with_a_mix_up(progress, yes, best, "90", "stop")
    assert f"Follow-up: a usual mix-up Difficulty: medium. {in_one_line(follow_up.asks)}" in said
    assert "Score: 1 of 2 right 1 follow-up question among them." in said
    assert [answer.right for answer in answers[-2:]] == [False, True]
    assert answers[-1].item.key == f"mix-up/{name}"


@pytest.mark.parametrize("no", ["no", "N", "skip"])
def test_a_cure_that_is_declined_does_not_count(progress: Path, no: str) -> None:
    said, _, answers = with_a_mix_up(progress, no, "stop")
    assert "Score: 0 of 1 right" in said
    assert "Skipped" not in said
    assert len(answers) == 1


def test_words_work_at_the_offer_too(progress: Path) -> None:
    said, _, _ = with_a_mix_up(progress, "perhaps", "why", "score", "help", "stop")
    assert "Press Enter for yes, or type no." in said
    assert said.count("This usually is the mix-up") == 2
    assert said.count("Score: 0 of 1 right") == 2
    assert "Question 2 of 2" not in said


def test_a_failed_cure_is_not_offered_again(progress: Path) -> None:
    _, name, _ = with_a_mix_up(progress, "stop")
    bad = next(answer.says for answer in load_quiz().mix_ups[name].follow_up.answers if not answer.right)
    said, _, _ = with_a_mix_up(progress, "", bad, "", "stop")
    assert said.count("A question to see whether that is cured?") == 1


def test_a_shown_mix_up_makes_its_cure_come_first_next_time(progress: Path) -> None:
    _, name, _ = with_a_mix_up(progress, "no", "stop")
    told = in_one_line(piped("--progress", progress, "--questions", "2", lines=("stop",)).stdout)
    assert f"Question 1 of 2: a usual mix-up Difficulty: medium. {in_one_line(load_quiz().mix_ups[name].follow_up.asks)}" in told


# --- the seed --------------------------------------------------------------------------------------


@pytest.mark.parametrize("source", [(), ("--set", SET)], ids=["table", "set"])
def test_the_same_seed_gives_the_same_bytes_in_every_process(source: tuple[str, ...]) -> None:
    """Sets and dictionaries of another process may come in another order."""
    told = {run("quiz", "--json", "--seed", "3", "--questions", "20", *source, PYTHONHASHSEED=each).stdout for each in ("0", "5")}
    assert len(told) == 1
    assert json.loads(told.pop())["questions"]


def test_the_same_seed_asks_the_same_whatever_a_learner_has_answered(progress: Path) -> None:
    first = piped(*QUIZ, "--progress", progress, lines=tuple(line for question in ASKED for line in (wrong(question), "")))
    again = piped(*QUIZ, "--progress", progress, lines=("stop",))
    whole = re.search(r"Question 1 of 3.*?(?=Your answer)", first.stdout, flags=re.DOTALL)
    assert whole
    assert whole[0] in again.stdout
    assert "due to practise" not in again.stdout.partition("Question 1")[0]


def test_without_a_seed_one_is_drawn_told_and_gives_the_same_quiz() -> None:
    told = piped("--no-memory", "--questions", "2", "--kind", "classify", lines=("stop",)).stdout
    found = re.search(r"Seed (\d+): the same seed gives the same quiz\.", told)
    assert found
    again = piped("--no-memory", "--questions", "2", "--kind", "classify", "--seed", found[1], lines=("stop",)).stdout
    assert again == told


def test_two_quizzes_without_a_seed_differ() -> None:
    drawn = {json.loads(run("quiz", "--json", "--questions", "1", "--kind", "mix-up").stdout)["seed"] for _ in range(4)}
    assert len(drawn) > 1


def test_without_a_seed_what_is_due_comes_first(progress: Path) -> None:
    piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), "", *answers_right()[2:]))
    told = piped("--progress", progress, "--questions", "2", lines=("stop",)).stdout
    assert "1 question that you are due to practise comes first." in in_one_line(told)
    data = json.loads(run("quiz", "--json", "--learner", "me", "--progress", str(progress), "--questions", "2").stdout)
    assert data["questions"][0]["kind"] == "classify"


def test_another_learner_has_nothing_due(progress: Path) -> None:
    piped(*QUIZ, "--progress", progress, lines=(wrong(ASKED[0]), ""))
    told = piped("--progress", progress, "--learner", "Ada", "--questions", "1", lines=("stop",)).stdout
    assert "due to practise" not in in_one_line(told).partition("Question 1")[0]


# --- memory ----------------------------------------------------------------------------------------


def test_no_memory_reads_and_keeps_nothing(progress: Path) -> None:
    told = piped(*QUIZ, "--progress", progress, "--no-memory", lines=answers_right())
    assert "Nothing is kept of this quiz." in told.stdout
    assert "Score: 3 of 3 right" in told.stdout
    assert not progress.exists()


def test_a_learner_is_kept_apart_from_another(progress: Path) -> None:
    piped(*QUIZ, "--progress", progress, "--learner", " Ada ", lines=answers_right(1))
    piped(*QUIZ, "--progress", progress, lines=answers_right(2))
    assert (len(kept(progress, "Ada")), len(kept(progress))) == (1, 2)


def test_progress_lies_in_the_users_own_folder(tmp_path: Path) -> None:
    home = {
        "XDG_DATA_HOME": str(tmp_path / "data"),
        "HOME": str(tmp_path),
        "LOCALAPPDATA": str(tmp_path),
        "APPDATA": str(tmp_path),
    }
    piped(*QUIZ, lines=answers_right(1), **home)
    found = [path for path in tmp_path.rglob("*.sqlite3") if "spotplate" in str(path)]
    assert len(found) == 1
    assert len(kept(found[0])) == 1


def test_a_file_that_is_no_progress_is_set_aside_and_reported(progress: Path) -> None:
    progress.write_bytes(b"A letter to my aunt.")
    told = piped(*QUIZ, "--progress", progress, lines=answers_right(1))
    assert told.returncode == 0
    assert told.stderr.count("\n") == 1
    assert "set-aside" in told.stderr
    aside = progress.with_name("progress-set-aside-1.sqlite3")
    assert aside.read_bytes() == b"A letter to my aunt."
    assert len(kept(progress)) == 1


def test_progress_that_cannot_be_kept_is_told_once_and_the_quiz_goes_on(progress: Path) -> None:
    (progress.parent / f".{progress.name}.lock").mkdir()  # so that no lock can be taken, not even by an administrator
    told = piped(*QUIZ, "--progress", progress, lines=answers_right())
    assert told.returncode == 0
    assert told.stderr.count("\n") == 1
    assert "The quiz goes on." in told.stderr
    assert "Score: 3 of 3 right" in told.stdout
    assert "3 answers of this quiz could not be kept." in told.stdout
    assert "Every answer is kept" not in told.stdout


def test_two_quizzes_at_once_lose_nothing(progress: Path) -> None:
    lines = "".join(f"{line}\n" for line in answers_right())
    processes = [
        subprocess.Popen(
            [*PROGRAM, "quiz", *QUIZ, "--progress", str(progress), "--learner", f"pupil {number % 2}"],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            env=environment_with(),
        )
        for number in range(4)
    ]
    for process in processes:
        assert process.stdin
        process.stdin.write(lines)
        process.stdin.close()
    for process in processes:
        assert process.stderr
        assert process.stderr.read() == ""
        process.stderr.close()
        assert process.wait(120) == 0
    assert [len(kept(progress, f"pupil {number}")) for number in range(2)] == [6, 6]


# --- bad and hostile input -------------------------------------------------------------------------

BAD = [
    (("--questions", "0"), "1 to 200"),
    (("--questions", "201"), "1 to 200"),
    (("--questions", "-3"), "1 to 200"),
    (("--kind", "clasify"), "did you mean 'classify'"),
    (("--kind", ""), "Accepted: classify"),
    (("--level", "hrd"), "did you mean 'hard'"),
    (("--assessment",), "name the set with --set"),
    (("--set", "nothing.yaml"), "no such file"),
    (("--learner", ""), "option --learner"),
    (("--learner", "x" * 500), "option --learner"),
    (("--learner", "A\x1b[31m"), "option --learner"),
    (("--progress", "notes.txt"), "option --progress"),
    (("--progress", "nowhere/progress.sqlite3"), "no folder"),
    (("--progress", str(DEMO)), "option --progress"),
]


@pytest.mark.parametrize(("arguments", "says"), BAD, ids=[" ".join(arguments)[:40] for arguments, _ in BAD])
def test_bad_options_end_in_one_clear_line(arguments: tuple[str, ...], says: str) -> None:
    told = piped(*arguments, lines=("a", ""))
    assert told.returncode == 2
    assert told.stdout == ""
    assert told.stderr.startswith("error: ")
    assert told.stderr.count("\n") == 1
    assert says in told.stderr
    assert not control_characters(told.stderr)


def test_kinds_are_written_with_blanks_or_hyphens() -> None:
    for kind in ("mix-up", "Mix-Up", " mix-up "):
        data = json.loads(run("quiz", "--json", "--questions", "1", "--kind", kind).stdout)
        assert {question["kind"] for question in data["questions"]} == {"mix-up"}


@pytest.mark.parametrize(
    "line",
    [
        "x" * 200_000,
        "\x1b[2J\x07",
        "\u202eabc",
        "9" * 5000,
        "\x00",
        "a" * 70,
        "💥",
        "'; DROP TABLE answers; --",
        "[bold]a[/bold]",
    ],
    ids=["long", "escape", "turned", "digits", "zero", "letters", "picture", "sql", "markup"],
)
def test_hostile_lines_are_wrong_answers_and_drive_no_terminal(progress: Path, line: str) -> None:
    told = piped(*QUIZ, "--progress", progress, lines=(line, right(ASKED[0]), line, "", "stop"))
    assert told.returncode == 0
    assert told.stderr == ""
    assert not control_characters(told.stdout)
    assert "\u202e" not in told.stdout
    assert max(map(len, told.stdout.splitlines())) <= 200
    assert [answer.right for answer in kept(progress)] == [True]


def test_lines_that_are_no_text_do_not_end_a_quiz(progress: Path) -> None:
    done = subprocess.run(
        [*PROGRAM, "quiz", *QUIZ, "--progress", str(progress)],
        input=b"\xff\xfe\n" + right(ASKED[0]).encode() + b"\n\xff\n\nstop\n",
        capture_output=True,
        env=environment_with(),
        timeout=120,
        check=False,
    )
    assert done.returncode == 0
    assert done.stderr == b""
    assert len(kept(progress)) == 1


# --- width, colour, plain --------------------------------------------------------------------------

WHOLE = tuple(line for question in ASKED for line in (wrong(question), "70"))


@pytest.mark.parametrize("columns", [60, 80, 120])
def test_no_line_of_a_quiz_is_wider_than_asked_for(columns: int) -> None:
    told = piped(*QUIZ, "--no-memory", lines=WHOLE, columns=columns)
    prompts = r"(?:Your answer: |How sure are you, in %\? \(Enter to leave it out\) |A question to see whether that is cured\? \(Enter = yes\) )"
    lines = re.sub(prompts, "", told.stdout).splitlines()  # in a pipe nobody presses Enter, so what follows stands beside them
    assert [line for line in lines if len(line) > columns] == []


def test_width_changes_no_word() -> None:
    said = [piped(*QUIZ, "--no-memory", lines=WHOLE, columns=columns).stdout.split() for columns in (60, 80, 120)]
    assert said[0] == said[1] == said[2]


def test_plain_lines_say_the_same_without_drawing() -> None:
    plain = piped(*QUIZ, "--no-memory", "--plain", lines=WHOLE, FORCE_COLOR="1").stdout
    assert plain.split() == piped(*QUIZ, "--no-memory", lines=WHOLE).stdout.split()
    assert "\x1b" not in plain
    assert not re.search(r"#{2,}|-{2,}(?!\w)|\||\t", plain)


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp1252"])
def test_an_old_terminal_does_not_crash(encoding: str) -> None:
    done = subprocess.run(
        [*PROGRAM, "quiz", *QUIZ, "--no-memory"],
        input="".join(f"{line}\n" for line in WHOLE).encode(),
        capture_output=True,
        env=environment_with(PYTHONIOENCODING=encoding, COLUMNS="80"),
        timeout=120,
        check=False,
    )
    assert done.returncode == 0
    assert done.stderr == b""
