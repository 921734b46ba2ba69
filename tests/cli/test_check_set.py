"""`spotplate check-set`, as a teacher runs it."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from running import DEMO, control_characters, run, run_once

from spotplate.datasets import load_substances
from spotplate.engine.files.sets import read_set
from spotplate.engine.sets import key_in_words, make_key
from spotplate.kb import load_knowledge

SET = str(DEMO / "set.yaml")
CUPBOARD = str(DEMO / "cupboard.csv")
LABELS = "ABCDEFGH"


def test_the_demo_set_is_told_apart_and_its_exceptions_are_named() -> None:
    done = run_once("check-set", SET, "--key", "--groups", "3")
    assert done.returncode == 0
    told = " ".join(done.stdout.split())
    assert "any two told apart by 2 tests or more" in told
    for substance, rule in (
        ("graphite", "It conducts as a solid, so it is a metal."),
        ("citric acid monohydrate", "Its solution conducts, so it is ionic."),
        ("marble", "It does not dissolve in water, so it is not ionic."),
    ):
        assert substance in told.partition(f"“{rule}”")[2].partition("why:")[0]
    assert "no key is shorter on average" in told
    assert "group 3" in told
    assert "safety data sheet" in told


def test_a_set_that_is_not_told_apart_as_wished_ends_with_1_in_every_form() -> None:
    for form in ((), ("--plain",), ("--json",)):
        done = run("check-set", SET, "--tests", "look; water test", *form)
        assert done.returncode == 1
        assert done.stderr == ""
    told = run_once("check-set", SET, "--tests", "look; water test").stdout
    assert "Pairs that no test tells apart" in told
    assert "sucrose and sodium chloride" in told


def test_fewer_tests_wished_make_the_kit_smaller_or_equal() -> None:
    minutes = [
        json.loads(run("check-set", SET, "--told-apart-by", str(wished), "--json").stdout)["kit"]["minutes"] for wished in (1, 2)
    ]
    assert minutes[0] < minutes[1]


def test_a_test_that_lacks_its_first_test_is_told_with_what_it_needs() -> None:
    told = run_once("check-set", SET, "--tests", "look; hot plate; water test").stdout
    assert "hot plate test needs warm bath test." in told


def test_every_pair_is_told_with_its_tests() -> None:
    told = run_once("check-set", SET, "--pairs", "--plain").stdout
    lines = [line for line in told.splitlines() if line.startswith("pair: ")]
    assert len(lines) == 28  # 8 × 7 / 2
    salt_and_sugar = next(line for line in lines if line.startswith("pair: A and H"))
    assert "solution conductivity" in salt_and_sugar


def test_json_holds_all_that_was_found() -> None:
    data = json.loads(run_once("check-set", SET, "--groups", "2", "--json").stdout)
    assert data["set"]["vials"][0] == {"label": "A", "substance": "sucrose"}
    assert len(data["pairs"]) == 28
    assert data["kit"]["parts_all"] is True
    assert [item["label"] for item in data["conclusions"]] == list(LABELS)
    assert data["conclusions"][0]["readings"]["in water"] == "dissolves"
    assert data["conclusions"][0]["within_set"]["class"] == "polar molecular"
    assert {"label", "rule", "says", "because", "teaches", "source"} <= set(data["misleading"][0])
    assert data["key"]["proved"] is True
    assert data["key"]["tests"] >= data["key"]["bound"]
    assert len(data["versions"]) == 2
    assert data["difficulty"]["vials"] == 8
    assert data["parallel_sets"] == []


def test_the_seed_decides_the_letters() -> None:
    dealt = [
        json.loads(run("check-set", SET, "--groups", "4", "--seed", seed, "--json").stdout)["versions"]
        for seed in ("1", "1", "2")
    ]
    assert dealt[0] == dealt[1] != dealt[2]


def test_the_plain_form_has_no_drawing_and_no_table() -> None:
    told = run_once("check-set", SET, "--key", "--plain").stdout
    assert not set(told) & set("├└│─█")
    assert "1. look, " in told
    assert "go to 2" in told


def test_the_key_in_readme_is_that_of_the_demo_set() -> None:
    readme = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
    shown = readme.partition("For the demo set:")[2].partition("```text\n")[2].partition("```")[0]
    vials = read_set(Path(SET), load_knowledge())
    names = {vial.label: f"{vial.label} ({vial.substance})" for vial in vials.vials}
    assert tuple(shown.splitlines()) == key_in_words(make_key(vials), names)


def test_an_old_terminal_gets_the_tree_in_its_own_signs() -> None:
    done = run("check-set", SET, "--key", PYTHONIOENCODING="ascii")
    assert done.returncode == 0
    assert "+- " in done.stdout
    assert "?-" not in done.stdout


def test_parallel_sets_are_written_and_can_be_read_and_checked(tmp_path: Path) -> None:
    done = run("check-set", SET, "--parallel", "2", "--cupboard", CUPBOARD, "--folder", str(tmp_path), "--plain")
    assert done.returncode == 0
    assert "Parallel sets: 2 of 2 found" in done.stdout
    written = sorted(tmp_path.iterdir())
    assert [path.name for path in written] == ["set-parallel-1.yaml", "set-parallel-2.yaml"]
    ours = read_set(Path(SET), load_knowledge())
    class_of = {item.name: item.class_ for item in load_substances()}
    for path in written:
        other = read_set(path, load_knowledge())
        assert other.tests == ours.tests
        assert sorted(class_of[vial.substance] for vial in other.vials) == sorted(class_of[vial.substance] for vial in ours.vials)
        assert run("check-set", str(path)).returncode == 0
    again = run("check-set", SET, "--parallel", "2", "--cupboard", CUPBOARD, "--folder", str(tmp_path))
    assert again.returncode == 2
    assert "is there already" in again.stderr


def test_text_from_people_cannot_drive_the_terminal(tmp_path: Path) -> None:
    path = tmp_path / "odd.yaml"
    path.write_text('set: "bad \\e[31mname"\nvials: {"[red]A": sucrose, B: copper}\n', encoding="utf-8")
    done = run("check-set", str(path), "--key", "--groups", "2")
    assert done.returncode in (0, 2)
    assert not control_characters(done.stdout + done.stderr)
    if done.returncode == 0:
        assert "[red]A" in done.stdout


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((str(DEMO / "nothing.yaml"),), "nothing.yaml"),
        ((SET, "--tests", "tasting"), "'tasting' is not a bench test"),
        ((SET, "--tests", " ; "), "there is no test in it"),
        ((SET, "--parallel", "2"), "--cupboard"),
        ((SET, "--cupboard", CUPBOARD), "--parallel"),
        ((SET, "--parallel", "1", "--cupboard", CUPBOARD, "--folder", "/nowhere/at all"), "is no folder"),
        ((SET, "--told-apart-by", "4"), "4"),
        ((SET, "--groups", "-1"), "-1"),
    ],
)
def test_bad_input_ends_with_2_and_says_what_is_wrong(arguments: tuple[str, ...], says: str) -> None:
    done = run("check-set", *arguments)
    assert done.returncode == 2
    assert says in " ".join(done.stderr.split())
    assert done.stdout == ""
    assert "Traceback" not in done.stderr
