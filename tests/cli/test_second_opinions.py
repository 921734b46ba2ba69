"""Second opinions on the command line: what they show, their own commands, and faulty options."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from running import RACK, VIAL, environment_with, run, run_once

GRAPHITE = ("-r", "state=solid", "-r", "colour=black", "-r", "lustre=metallic", "-r", "dry conductivity=bright", "-r", "mark on paper=yes",
            "-r", "in water=no", "-r", "in the burner flame=no change", "-r", "deformation=brittle")  # fmt: skip
COPPER_THAT_FIZZES = ("-r", "lustre=metallic", "-r", "dry conductivity=bright", "-r", "deformation=malleable", "-r", "density=8.96",
                      "-r", "state=solid", "-r", "colour=coppery", "-r", "gas in dilute acid=carbon dioxide")  # fmt: skip


def data_of(*arguments: str) -> Any:
    done = run_once(*arguments, "--json")
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


# --- identify --------------------------------------------------------------------------------------


def test_a_misread_reading_is_shown_with_cause_remedy_and_the_verdict_without_it() -> None:
    told = " ".join(run_once("identify", *COPPER_THAT_FIZZES).stdout.split())
    assert "“gas in dilute acid: carbon dioxide” was misread with a probability of" in told
    assert "The other readings lead one to expect “no gas”" in told
    assert "Possible causes:" in told
    assert "To repeat it:" in told
    assert "Without it the verdict would be conclusive, metallic" in told


def test_nothing_is_said_of_misreading_where_all_readings_go_together() -> None:
    for arguments in ((VIAL,), GRAPHITE):
        assert "misread" not in run_once("identify", *arguments).stdout


def test_a_finer_kind_of_another_class_is_not_told() -> None:
    """One odd reading points to a carbonate, the rest to a metal."""
    assert "finer kind" not in run_once("identify", *COPPER_THAT_FIZZES).stdout
    assert "finer kind: graphite" in run_once("identify", *GRAPHITE).stdout


@pytest.mark.parametrize("form", [(), ("--plain",), ("--full",)])
def test_tree_and_candidates_stand_on_every_form_of_the_screen(form: tuple[str, ...]) -> None:
    told = run_once("identify", VIAL, *form).stdout
    assert "Second opinion: the decision tree" in told
    assert "Candidate substances" in told
    assert "none of these" in told


def test_a_set_is_ranked_within_and_names_are_taken_in_any_spelling() -> None:
    found = data_of("identify", "-r", "melting range=121-123 °C", "--among", "benzoic acid; table salt", "--among", "naphthalene")
    best = found["vials"][0]["candidates"]
    assert best["set_size"] == 3
    assert best["best"][0]["name"] == "benzoic acid"
    assert {item["name"] for item in best["best"]} <= {"benzoic acid", "sodium chloride", "naphthalene"}


ACID_AMONG_FOUR = ("identify", "-r", "melting range=121-123 °C", "-r", "state=solid", "-r", "in water=no",
                   "--among", "benzoic acid; benzoic acid; salt; naphthalene; sugar")  # fmt: skip


@pytest.mark.parametrize("form", [(), ("--plain",), ("--full",)])
def test_the_answer_says_that_the_set_was_the_prior(form: tuple[str, ...]) -> None:
    told = " ".join(run_once(*ACID_AMONG_FOUR, *form).stdout.split())
    assert told.count("The prior is the make-up of the unknowns set (5 vials)") == 1
    assert "5 % kept for what does not belong to it" in told
    assert "prior" not in run_once(*ACID_AMONG_FOUR[:-2], *form).stdout
    told = " ".join(run_once("identify", RACK, "--among", "salt; sugar", *form).stdout.split())
    assert "make-up of the unknowns set (2 vials)" in told


def test_members_of_a_set_that_are_ruled_out_are_not_argued_against() -> None:
    told = run_once(*ACID_AMONG_FOUR).stdout
    assert re.search(r"sucrose .* < 0.1 %", told)
    assert "naphthalene would show “melting range: 80.22 °C”" in told  # as far off, yet not ruled out
    assert "sucrose would show" not in told
    assert "sodium chloride would show" not in told
    assert "sucrose would show “melting range" in run_once(*ACID_AMONG_FOUR, "--full").stdout


HARD_OXIDE = ("identify", "-r", "state=solid", "-r", "colour=coloured", "-r", "lustre=dull", "-r", "hardness=hard",
              "-r", "in water=no", "-r", "flame colour=no colour", "-r", "density=5.25")  # fmt: skip


@pytest.mark.parametrize("form", [(), ("--plain",)])
def test_rules_and_candidates_that_put_different_classes_first_are_reconciled(form: tuple[str, ...]) -> None:
    """Iron(III) oxide (5.25 g/cm3) is ionic, but hard, insoluble and without flame colour as a network is."""
    (vial,) = data_of(*HARD_OXIDE)["vials"]
    assert vial["ranking"][0]["class"] == "covalent network"
    assert (vial["candidates"]["best"][0]["name"], vial["candidates"]["best"][0]["class"]) == ("iron(III) oxide", "ionic")
    told = " ".join(run_once(*HARD_OXIDE, *form).stdout.split())
    (sentence,) = re.findall(r"By the rules covalent network is first[^.]*\.", told)
    assert "but the first candidate, iron(III) oxide, is ionic: the rules weigh kinds of evidence" in sentence
    assert "what the rules hold against ionic (" in sentence
    against = [reason for item in vial["ranking"] if item["class"] == "ionic" for reason in item["reasons"]]
    behind = {name for reason in against if reason["decibans"] < 0 for name in reason["readings"]}
    assert {name for name in behind if f"{name}: {vial['readings'][name]}" in sentence}


def test_a_candidate_whose_second_class_the_rules_put_first_is_told_as_no_conflict() -> None:
    """Sulfamic acid is a zwitterion: molecules that many books count among the salts."""
    acid = ("identify", "-r", "in water=dissolves", "-r", "solution acidity=acidic", "-r", "burning=does not burn",
            "-r", "foam=no foam", "--among", "sulfamic acid; sulfamic acid; sodium hydrogensulfate; iron")  # fmt: skip
    (vial,) = data_of(*acid)["vials"]
    best = vial["candidates"]["best"][0]
    assert (best["name"], best["class"], best["also_defensible"]) == ("sulfamic acid", "polar molecular", "ionic")
    assert vial["ranking"][0]["class"] == "ionic"
    told = " ".join(run_once(*acid).stdout.split())
    assert "The first candidate, sulfamic acid, stands under polar molecular in the table; ionic, which" in told
    assert "By the rules ionic is first, but" not in told


@pytest.mark.parametrize(
    "arguments", [("identify", VIAL), ("identify", *COPPER_THAT_FIZZES), ("identify", "-r", "smell=unclear")]
)
def test_nothing_is_reconciled_where_rules_and_candidates_agree(arguments: tuple[str, ...]) -> None:
    told = run_once(*arguments).stdout
    assert "By the rules" not in told
    assert "The first candidate" not in told


def test_a_weaker_test_is_named_as_such_and_none_only_where_none_is_left() -> None:
    told = " ".join(run_once("identify", "-r", "state=liquid", "--among", "ethanol; propan-2-ol").stdout.split())
    assert re.search(
        r"No test of this bench parts (ethanol|propan-2-ol) from (ethanol|propan-2-ol) surely; the best one left", told
    )
    assert re.search(r"the best one left is [^(]*boiling point \(", told)
    assert "ethanol: 78.24 °C" in told
    told = " ".join(run_once("identify", "-r", "state=gas", "--among", "oxygen; nitrogen").stdout.split())
    assert "No test of this bench parts oxygen from nitrogen." in told.replace("nitrogen from oxygen", "oxygen from nitrogen")


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ("benzoik acid", "did you mean 'benzoic acid'?"),
        (" ; ", "there is no name in it"),
        ("Co; unobtainium", "'unobtainium' is not a substance of the reference table"),
        ("salt, sugar", "write semicolons between the names: 'salt; sugar'"),
        ("1,4-dichlorobenzene, salt", "write semicolons between the names: '1,4-dichlorobenzene; salt'"),
        ("salt; chalk", "'chalk' may mean several substances"),
    ],
)
def test_a_faulty_set_is_one_clear_error(given: str, says: str) -> None:
    done = run_once("identify", VIAL, "--among", given)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("error:") == 1
    assert "option --among" in done.stderr
    assert says in done.stderr


def test_the_air_pressure_is_read_from_every_kind_of_record(tmp_path: Path) -> None:
    yaml, csv = tmp_path / "vial.yaml", tmp_path / "rack.csv"
    yaml.write_text("vial: K\nreadings:\n  state: liquid\n  boiling point: 76.1 °C\n  air pressure: 900 mbar\n", encoding="utf-8")
    csv.write_text("vial,state,boiling point,air pressure\nK,liquid,76.1 °C,90 kPa\nL,liquid,76.1 °C,\n", encoding="utf-8")
    pressures = [
        vial["air_pressure"] for file in (yaml, csv) for vial in json.loads(run("identify", str(file), "--json").stdout)["vials"]
    ]
    assert pressures == [
        {"low": 900.0, "high": 900.0, "unit": "mbar"},
        {"low": 90.0, "high": 90.0, "unit": "kPa"},
        None,
    ]
    assert "air pressure: 900 mbar" in " ".join(run("identify", str(yaml)).stdout.split())


@pytest.mark.parametrize("given", ["760", "2 kPa", "high", "98 °C"])
def test_an_impossible_air_pressure_is_refused(given: str) -> None:
    done = run_once("identify", "-r", "state=liquid", "-r", f"air pressure={given}")
    assert done.returncode == 2
    assert "air pressure" in done.stderr
    assert "kPa" in done.stderr


# --- commands --------------------------------------------------------------------------------------


def test_the_tree_is_shown_with_its_report_and_as_a_key() -> None:
    told = run_once("tree").stdout
    assert "substances left out of its training" in told
    assert "True class (rows)" in told
    key = " ".join(run_once("tree", "--forks").stdout.split())
    data = data_of("tree")
    leaves = sum("reading" not in node for node in data["nodes"])
    assert len(re.findall(r"substances?, such as|0 substances", key)) == leaves
    assert sum(sum(row.values()) for row in data["report"]["confusion"].values()) == 389


def test_the_least_size_of_a_leaf_is_told_as_a_weight() -> None:
    """A leaf in which some records of many substances end names many, and one of few whole substances may name few."""
    data = data_of("tree")
    named = [sum(map(len, node.get("substances", {}).values())) for node in data["nodes"] if "reading" not in node]
    weights = [sum(node["shares"]) for node in data["nodes"] if "reading" not in node]
    assert min(named) < data["settings"]["leaf"] <= min(weights) + 1e-3  # so the count of names would be a false heading
    told = " ".join(run_once("tree").stdout.split())
    assert "each leaf of" not in told
    assert "All records of a substance together weigh as one substance" in told
    assert f"The records in each leaf weigh as much as {data['settings']['leaf']:g} substances or more." in told


@pytest.mark.parametrize("form", [(), ("--plain",)])
def test_the_key_of_the_tree_can_be_walked_by_its_numbers_alone(form: tuple[str, ...]) -> None:
    """Without indentation, as a screen reader tells it, every answer leads to one fork further down or to a class."""
    told = run_once("tree", "--forks", *form, columns=500).stdout.partition("The tree as a key")[2]
    forks: dict[int, str] = {}
    leads: dict[int, list[str]] = {}
    for line in map(str.strip, told.splitlines()):
        if fork := re.match(r"(\d+)\. (.*)\? \(", line):
            forks[int(fork[1])], leads[int(fork[1])] = line, []
        elif lead := re.match(r"(?:yes|no|not tested)(?: or not tested)?: (go to \d+|[a-z ]+ [\d>])", line):
            leads[max(leads)].append(lead[1])
    nodes = data_of("tree")["nodes"]
    assert list(forks) == list(range(1, sum("reading" in node for node in nodes) + 1))
    assert all(len(ways) in (2, 3) for ways in leads.values())
    to = {int(way.removeprefix("go to ")): number for number, ways in leads.items() for way in ways if "go to" in way}
    assert sorted(to) == list(range(2, len(forks) + 1))  # each fork but the first is reached from one place
    assert all(start < end for end, start in to.items())
    assert all(f"(from {start};" in forks[end] for end, start in to.items())
    ends = [way for ways in leads.values() for way in ways if "go to" not in way]
    assert len(ends) == sum("reading" not in node for node in nodes)


def test_the_calibration_of_another_seed_is_close_and_its_counts_add_up() -> None:
    fitted = data_of("calibration", "--partial", "2", "--seed", "5")["fitted"]
    assert fitted["seed"] == 5
    assert fitted["partial"]["records"] == 2 * 389
    assert fitted["together"]["records"] == fitted["full"]["records"] + fitted["partial"]["records"]
    assert 0.8 < fitted["constant"] < 1.3


def test_the_diagram_is_drawn_and_never_over_another_file(tmp_path: Path) -> None:
    image = tmp_path / "reliability.svg"
    assert run("calibration", "--partial", "1", "--image", str(image)).returncode == 0
    drawn = image.read_text(encoding="utf-8")
    assert drawn.startswith("<?xml")
    assert [path.name for path in tmp_path.iterdir()] == ["reliability.svg"]
    again = run("calibration", "--partial", "1", "--image", str(image))
    assert again.returncode == 2
    assert "is there already" in again.stderr
    assert image.read_text(encoding="utf-8") == drawn


@pytest.mark.parametrize(("name", "says"), [("picture.gif", "does not end in"), ("no/such/folder.png", "there is no folder")])
def test_an_image_that_cannot_be_drawn_is_refused_at_once(tmp_path: Path, name: str, says: str) -> None:
    done = run("calibration", "--image", str(tmp_path / name))
    assert done.returncode == 2
    assert says in done.stderr
    assert done.stdout == ""


def test_without_the_drawing_package_the_error_says_what_to_install(tmp_path: Path) -> None:
    code = "import sys; sys.modules['matplotlib'] = None; from spotplate.cli.app import main; main()"
    command = [sys.executable, "-c", code, "calibration", "--image", str(tmp_path / "a.png")]
    done = subprocess.run(command, capture_output=True, text=True, env=environment_with(), timeout=60, check=False)
    assert done.returncode == 2
    assert "matplotlib" in done.stderr
    assert "Traceback" not in done.stderr


def test_the_audit_lists_what_lies_far_off_with_the_reason_for_keeping_it() -> None:
    data = data_of("audit-rules")
    far = [item for item in data if abs(item["words_apart"]) > 1]
    assert far
    assert all(item["kept"] for item in far)
    told = " ".join(run_once("audit-rules").stdout.split())
    assert f"More than one word away: {len(far)}" in told
    for item in far:
        assert item["kept"].split(".")[0][:40] in told
    assert len(run_once("audit-rules", "--all", "--plain").stdout.splitlines()) > len(data)


def test_a_small_trial_of_misreadings_counts_consistently() -> None:
    for score in data_of("misreadings", "--every", "60").values():
        assert score["clean"] == 7
        assert score["planted"] > 100
        assert score["found"] <= score["planted"]
        assert score["contradictory_found"] <= score["contradictory"] <= score["planted"]


def test_the_report_says_of_every_substance_where_rules_and_tree_stand() -> None:
    counts = data_of("report")["cross_check"]
    assert sum(counts.values()) == 389
    told = run("report").stdout
    assert f"Agree, both wrong: {counts['agree, both wrong']}" in told
