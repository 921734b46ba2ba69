"""`spotplate quiz` about an unknowns set: what is never told of it, and what is kept."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from bench_terminal import in_one_line
from quiz_terminal import kept, piped
from running import DEMO

from spotplate.cli.quiz_memory import kept_item
from spotplate.datasets import load_substances
from spotplate.engine.files.sets import read_set
from spotplate.engine.quiz.asking import asking
from spotplate.engine.quiz.material import set_material, table_material
from spotplate.engine.quiz.question import Kind
from spotplate.kb import load_knowledge
from spotplate.kb.quiz import load_quiz

SET = str(DEMO / "set.yaml")


# Also a word for the whole kind, in which sense rules and replies use it of whatever is in a vial.
EVERYDAY = {"salt"}


def names_of_the_set() -> set[str]:
    """Every name of every substance of the demo set, but for words that everybody uses."""
    substances = {vial.substance for vial in read_set(Path(SET), load_knowledge()).vials}
    return {name for item in load_substances() if item.name in substances for name in item.names()} - EVERYDAY


def without_mix_ups(said: str) -> str:
    """What was said but for the words of mix-ups, which name examples of their own, whatever is in a set."""
    for mix_up in load_quiz().mix_ups.values():
        answers = [text for answer in mix_up.follow_up.answers for text in (answer.says, answer.why)]
        for text in (mix_up.says, mix_up.reply, mix_up.follow_up.asks, *answers):
            said = said.replace(in_one_line(text), "")
    return said


@pytest.mark.parametrize("form", [(), ("--assessment",)], ids=["practice", "assessment"])
def test_a_quiz_about_a_set_never_names_its_substances(form: tuple[str, ...]) -> None:
    lines = ("a", "50", "b", "", "c", "", "d", "", "e", "", "", "a", "", "a", "", "b", "", "c", "", "stop")
    for seed in ("1", "2"):
        told = piped("--set", SET, *form, "--seed", seed, "--no-memory", "--questions", "8", lines=lines)
        assert told.returncode == 0, told.stderr
        said = without_mix_ups(in_one_line(told.stdout)).casefold()
        for name in names_of_the_set():
            assert not re.search(rf"(?<![\w(]){re.escape(name.casefold())}(?![\w)])", said), name


def test_an_assessment_asks_for_no_class_and_keeps_nothing(progress: Path) -> None:
    arguments = ("--set", SET, "--assessment", "--seed", "3", "--questions", "4")
    told = piped(*arguments, "--progress", progress, lines=("a", "", "b", "", "a", "", "b", ""))
    assert told.returncode == 0
    assert "Worth practising" not in told.stdout
    assert "Nothing is kept of this quiz." in told.stdout
    assert not progress.exists()
    refused = piped(*arguments, "--kind", "classify", lines=())
    assert refused.returncode == 2
    assert "classify" in refused.stderr


def test_what_is_kept_of_a_set_tells_no_finer_kind(progress: Path) -> None:
    lines = ("a", "") * 8
    piped("--set", SET, "--seed", "3", "--kind", "classify", "--questions", "8", "--progress", progress, lines=lines)
    assert kept(progress)
    subtypes = {item.subtype for item in load_substances() if item.subtype}
    for answer in kept(progress):
        assert answer.item.subtype == ""
        assert not any(re.search(rf"\b{re.escape(name)}\b", answer.item.topic) for name in subtypes)


def test_what_is_kept_of_a_set_can_be_practised_later() -> None:
    """Else it would be due for ever."""
    of_set = set_material(read_set(Path(SET), load_knowledge()))
    table = table_material()
    for kind in Kind:
        askable = {item.key for item in asking(kind).items(table)}
        for item in asking(kind).items(of_set):
            assert kept_item(item, of_set).key in askable
