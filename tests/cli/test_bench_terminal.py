"""A bench session in a real terminal: what is asked, what is shown, what is on disk, and how it goes on."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("needs a POSIX terminal", allow_module_level=True)

from bench_terminal import BenchTerminal, asked_for, carry_out, in_one_line
from running import PROGRAM, environment_with, run

from spotplate.cli import app
from spotplate.cli.views.words import percent
from spotplate.engine import Record, load_knowledge
from spotplate.engine.files import read_records

CLASSES = ("ionic", "metallic", "polar molecular", "nonpolar molecular", "covalent network")

# What a bench shows of substances that everybody knows; the class is that of every textbook.
TABLE_SALT = {
    "state": "solid", "colour": "white or colourless", "lustre": "glassy", "deformation": "brittle", "hardness": "medium",
    "magnet": "not attracted", "mark on paper": "no mark", "dry conductivity": "no glow", "in water": "dissolves",
    "foam": "no foam", "solution conductivity": "bright glow", "solution acidity": "neutral", "flame colour": "yellow",
    "in the warm bath": "no change", "on the hot plate": "no change", "on the cold glass": "stays clear",
}  # fmt: skip
COPPER = {
    "state": "solid", "colour": "golden or coppery", "lustre": "metallic", "deformation": "malleable", "hardness": "medium",
    "magnet": "not attracted", "mark on paper": "no mark", "dry conductivity": "bright glow", "in water": "does not dissolve",
    "foam": "no foam", "gas in dilute acid": "no gas", "solid in dilute acid": "stays", "density": "8.9 g/cm3",
}  # fmt: skip
PARAFFIN = {
    "state": "solid", "colour": "white or colourless", "lustre": "waxy", "deformation": "waxy", "hardness": "soft",
    "dry conductivity": "no glow", "in water": "does not dissolve", "foam": "no foam", "in non-polar solvent": "dissolves",
    "in the warm bath": "melts", "density": "0.9 g/cm3", "burning": "sooty flame", "magnet": "not attracted",
}  # fmt: skip


def begun(folder: Path, *answers: str, name: str = "a.yaml") -> Path:
    """A record on which a session was begun, with these answers, in a pipe; it was ended with the input."""
    record = folder / name
    told = piped(record, "yes", *answers)
    assert told.returncode == 0, told.stderr
    return record


def piped(record: Path, *lines: str) -> subprocess.CompletedProcess[str]:
    """A session whose lines come from a pipe."""
    return subprocess.run(
        [*PROGRAM, "bench", str(record)],
        input="".join(f"{line}\n" for line in lines),
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment_with(COLUMNS="80"),
        timeout=60,
        check=False,
    )


def kept(path: Path, vial: str | None = None) -> Record:
    """The record of a vial as it is on disk."""
    return next(record for record in read_records(path, load_knowledge()) if vial is None or record.vial == vial)


def readings_of(record: Record) -> dict[str, str]:
    return {name: str(value) for name, value in record.readings.items()}


def identified(path: Path, *options: str) -> dict:
    (vial,) = json.loads(run("identify", str(path), "--json", *options).stdout)["vials"]
    return vial


def same_ranking(shown: str, vial: Mapping) -> bool:
    """Whether the table of classes on the screen is the ranking of an identification, and the verdict its verdict."""
    rows = re.findall(rf"^ *({'|'.join(CLASSES)}) +[█·#.]+ +(.+ %) *$", shown, re.MULTILINE)
    verdicts = {
        "conclusive": f"Settled: {vial['verdict']['class']}",
        "inconclusive": "Open between",
        "contradictory": "Contradictory",
    }
    assert verdicts[vial["verdict"]["kind"]] in shown
    assert len(rows) == 5, shown
    return rows == [(item["class"], percent(item["probability"])) for item in vial["ranking"]]


# --- a whole vial ----------------------------------------------------------------------------------


@pytest.mark.parametrize("colour", [False, True], ids=["without colour", "with colour"])
@pytest.mark.parametrize("columns", [60, 80])
@pytest.mark.parametrize(
    ("substance", "class_"),
    [(TABLE_SALT, "ionic"), (COPPER, "metallic"), (PARAFFIN, "nonpolar molecular")],
    ids=["table salt", "copper", "paraffin"],
)
def test_a_vial_is_worked_through_as_proposed_until_it_is_settled(
    tmp_path: Path, substance: Mapping[str, str], class_: str, columns: int, colour: bool
) -> None:
    by_number = colour  # with words once, with the numbers of the answers once
    with BenchTerminal("vial.yaml", columns=columns, colour=colour, folder=tmp_path) as bench:
        shown = carry_out(bench, substance, by_number=by_number)
        assert f"Settled: {class_}" in shown.splitlines()
        ranking = bench.answer("ranking")
        assert bench.asked == ">"
        assert "Everything is kept" in bench.last_answer("stop")
        assert bench.exit_code == 0
        said = in_one_line(bench.said)
        for caution in load_knowledge().cautions.values():
            assert not caution.always or in_one_line(caution.says) in said
        assert ("\x1b[1;32m" in bench.said) == colour  # green for what is settled, and the word beside it in any case
    vial = identified(tmp_path / "vial.yaml")
    assert vial["verdict"] == {**vial["verdict"], "kind": "conclusive", "class": class_}
    assert same_ranking(ranking, vial)
    found = readings_of(kept(tmp_path / "vial.yaml"))
    assert len(found) >= 4
    words = {name: word for name, word in substance.items() if load_knowledge().readings[name].values}
    assert {name: word for name, word in found.items() if name in words} == {name: words[name] for name in found if name in words}
    assert found.keys() <= substance.keys()


def test_an_open_vial_ends_with_the_verdict_of_identify_too(tmp_path: Path) -> None:
    with BenchTerminal("vial.yaml", folder=tmp_path) as bench:
        shown = carry_out(bench, {"state": "solid", "colour": "coloured", "lustre": "dull"})
        assert "No other test on this bench is expected to tell much more of it." in in_one_line(shown)
        ranking = bench.answer("ranking")
    vial = identified(tmp_path / "vial.yaml")
    assert vial["verdict"]["kind"] == "inconclusive"
    assert same_ranking(ranking, vial)


def test_the_verdict_of_the_set_is_that_of_identify_among_the_set(tmp_path: Path) -> None:
    among = "sodium chloride; sucrose; copper"
    with BenchTerminal("vial.yaml", "--among", among, folder=tmp_path) as bench:
        bench.answers("yes", "look", "1", "1", "2")
        ranking = bench.answer("ranking")
        assert same_ranking(ranking, identified(tmp_path / "vial.yaml", "--among", among))
        bench.press("c")
    with BenchTerminal("vial.yaml", folder=tmp_path) as bench:  # and it is remembered
        assert bench.answer("ranking") == ranking


def test_each_answer_is_on_disk_before_the_next_question(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "")
        expected = {}
        for reading, word in (("state", "solid"), ("colour", "black"), ("lustre", "metallic")):
            assert bench.asked == reading
            shown = bench.answer(word)
            expected[reading] = word
            assert readings_of(kept(record)) == expected
            assert f"Written down: {reading}: {word}." in shown
        assert record.read_text("utf-8").startswith("# Bench record.")


# --- answers that are no readings ------------------------------------------------------------------


def test_unclear_and_not_tested_are_kept_apart_and_count_neither_way(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "", "solid")
        shown = bench.answer("?")
        assert "Written down: colour: unclear." in shown
        assert "The ranking stays as it was." in shown
        assert kept(record).unclear == ("colour",)
        assert "lustre: not tested. That counts neither way." in bench.answer("-")
        assert bench.asked == ">"
        assert readings_of(kept(record)) == {"state": "solid"}
        assert "lustre" not in record.read_text("utf-8")
        ranking = bench.answer("ranking")
        assert re.findall(r"(\S+) %", ranking) == ["20"] * 5  # nothing told for or against any class


def test_back_takes_the_last_step_back_and_asks_again(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "", "solid", "white", "-")
        assert "Taken back: “lustre: not tested”" in bench.answer("back")
        assert bench.asked == "lustre"
        assert "Taken back: “colour: white or colourless”" in bench.answer("back")
        assert bench.asked == "colour"
        assert readings_of(kept(record)) == {"state": "solid"}
        bench.answers("?", "glassy")
        assert "Taken back: “lustre: glassy”" in bench.answer("back")
        assert "Taken back: “colour: unclear”" in bench.answer("back")
        assert kept(record) == kept(record).without("colour")
        assert not kept(record).unclear
        assert "Taken back: “state: solid”" in bench.answer("back")
        assert "There is nothing to take back." in bench.answer("back")
        assert bench.asked == "state"
        assert kept(record).readings == {}


def test_a_reading_named_is_taken_back_with_what_rested_on_it(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look", "solid", "white", "glassy", "water test", "dissolves", "no foam", "litmus test", "neutral")
        before = kept(record)
        first = bench.answer("ranking")
        shown = bench.answer("back in water")
        assert "Taken back: “in water: dissolves”" in shown
        assert "No longer follows about the particles:" in shown
        assert bench.asked == "in water"
        assert kept(record) == before.without("in water")
        assert "“hardness” was not read yet." in bench.answer("back hardness")
        assert "did you mean 'lustre'?" in in_one_line(bench.answer("back lustr"))
        bench.answer("dissolves")
        assert kept(record).readings == before.readings  # the same readings again, and so the same ranking
        assert bench.answer("ranking") == first


def test_what_is_not_understood_gets_the_accepted_answers_and_is_asked_again(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record, columns=60) as bench:
        assert "Please answer yes or no" in bench.answer("perhaps")
        bench.answers("yes", "")
        shown = in_one_line(bench.answer("solit"))
        assert "'solit' is not accepted; did you mean 'solid'? Accepted: solid, liquid, gas, unclear, not tested." in shown
        assert "'4' is not among the answers; 1 to 3 are." in bench.answer("4")
        assert "not among the answers" in bench.answer("0")
        assert "not among the answers" in bench.answer("9" * 30)
        assert "Please answer, or type “not tested”, “unclear” or “help”." in in_one_line(bench.answer(""))
        assert "back lustre" in bench.answer("help")
        assert bench.asked == "state"
        assert kept(record).readings == {}
        assert "Written down: state: solid." in bench.answer("  SOLID ")
        assert bench.last_answer("stop")


def test_keys_that_send_no_letters_are_wrong_answers_and_not_the_end(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record, LC_ALL="C.UTF-8") as bench:
        bench.answers("yes", "")
        assert "is not accepted" in bench.answer("\x1b[A1")  # an arrow key, and then the number
        assert "is not accepted" in bench.answer_bytes(b"\xff1")  # a letter of another encoding
        assert "Noted." in bench.answer("note a \x1b[Afew \x07crystals: # left")
        assert "Written down: state: solid." in bench.answer("1")
        bench.last_answer("stop")
    assert readings_of(kept(record)) == {"state": "solid"}
    assert kept(record).notes == "a [Afew crystals: # left"


def test_a_number_longer_than_any_is_a_wrong_answer(tmp_path: Path) -> None:
    told = piped(tmp_path / "a.yaml", "yes", "9" * 5000, "look", "9" * 5000, "1")
    assert told.returncode == 0, told.stderr
    assert readings_of(kept(tmp_path / "a.yaml")) == {"state": "solid"}


# --- numbers ---------------------------------------------------------------------------------------


def test_numbers_are_taken_with_their_units_and_as_ranges(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record, columns=60) as bench:
        bench.answers("yes", "look", "solid", "white", "glassy", "water test", "dissolves", "no foam", "density")
        assert bench.asked == "density"
        shown = in_one_line(bench.answer("2.2 kPa"))
        assert "kPa" in shown
        assert "g/cm3" in shown
        assert "Written down" not in shown
        assert "lies outside 0.01 to 25 g/cm3" in in_one_line(bench.answer("2200 g/cm3"))
        assert "Written down" not in bench.answer("heavy")
        assert "density" not in kept(record).readings
        bench.answer("2160 kg/m3")
        assert kept(record).readings["density"].low == pytest.approx(2160)  # [kg/m3]
        bench.answer("back density")
        bench.answer("2.16")
        assert kept(record).readings["density"].low == pytest.approx(2160)  # the unit that the question names
        bench.answer("melting range")
        shown = bench.answer("121-123 °C")
        assert "Written down: melting range: " in shown
        measured = kept(record).readings["melting range"]
        assert (measured.low, measured.high) == pytest.approx((394.15, 396.15))  # [K]
        bench.answers("back melting range", "> 300 °C")
        measured = kept(record).readings["melting range"]
        assert (measured.low, measured.high) == (pytest.approx(573.15), float("inf"))
        vial = identified(record)
        assert same_ranking(bench.answer("ranking"), vial)


# --- choosing tests --------------------------------------------------------------------------------


def test_another_test_is_chosen_by_number_by_name_or_by_its_reading(tmp_path: Path) -> None:
    with BenchTerminal(tmp_path / "a.yaml", columns=60) as bench:
        bench.answer("yes")
        assert "“press and tap” cannot be done now: needs “state” first." in in_one_line(bench.answer("press and tap"))
        shown = bench.answer("tests")
        assert bench.asked == "Number or name of a test, or Enter to go back:"
        listed = dict(re.findall(r"^ +(\d+) ([a-z -]+?) \(", shown, re.MULTILINE))
        assert list(listed.values()) == list(load_knowledge().tests)
        bench.answer("")
        assert bench.asked == ">"
        bench.answer("tests")
        bench.answer(next(number for number, name in listed.items() if name == "look"))
        assert bench.asked == "state"
        bench.answers("solid", "white", "glassy")
        assert "“look” is done. To make a reading again: back READING (of state, colour, lustre)." in in_one_line(
            bench.answer("look")
        )
        bench.answer("Litmus  test")
        assert bench.asked == ">"  # it needs the water test
        bench.answer("hardness")
        assert bench.asked == "hardness"
        bench.answer("medium")
        shown = in_one_line(bench.answer("magnett"))
        assert "'magnett' is not a test or a word of this session; did you mean 'magnet'?" in shown


def test_a_test_is_put_aside_and_comes_back_when_it_is_chosen(tmp_path: Path) -> None:
    with BenchTerminal(tmp_path / "a.yaml") as bench:
        bench.answers("yes", "")
        assert "Put aside: look. “tests” brings it back." in bench.answer("skip")
        assert bench.asked == ">"
        assert "Next: look" not in bench.said.split("Put aside")[1]
        assert "No test is under way." in bench.answer("skip")
        assert re.search(r"look \(1 min; put aside", bench.answer("tests"))
        bench.answer("look")
        assert bench.asked == "state"


def test_a_test_for_the_teacher_waits_for_agreement_and_is_left_out_without(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record, columns=60) as bench:
        bench.answers("yes", "look", "solid", "white", "waxy")
        shown = bench.answer("non-polar solvent test")
        assert "Only with the responsible teacher's agreement." in in_one_line(shown)
        assert "Has the responsible teacher agreed to this test on this vial?" in in_one_line(shown)
        assert "Then leave it out." in bench.answer("no")
        assert bench.asked == ">"
        assert "in non-polar solvent" not in readings_of(kept(record))
        listed = in_one_line(bench.answers("tests"))
        assert re.search(r"non-polar solvent test \(3 min; teacher must agree; the teacher did not agree", listed)
        bench.answers("", "non-polar solvent test")
        assert bench.asked == "Yes or no:"  # asked anew: perhaps the teacher has come
        bench.answer("yes")
        assert bench.asked == "in non-polar solvent"
        bench.press("c")
    with BenchTerminal(record) as bench:
        assert bench.asked == "in non-polar solvent"  # the agreement is remembered
        bench.answer("dissolves")
    assert readings_of(kept(record))["in non-polar solvent"] == "dissolves"


def test_apparatus_that_is_missing_is_neither_proposed_nor_used_also_after_resuming(tmp_path: Path) -> None:
    with BenchTerminal("a.yaml", "--missing", "conductivity tester", "--missing", "burner", folder=tmp_path) as bench:
        carry_out(bench, {**TABLE_SALT, "flame colour": "not tested"})
        assert not re.search(r"(Next|After that): [^.]*(conductivity|flame|burn)", bench.said)
        shown = in_one_line(bench.answer("dry conductivity"))
        assert "“dry conductivity test” cannot be done now: apparatus not on this bench." in shown
        bench.press("c")
    with BenchTerminal("a.yaml", folder=tmp_path) as bench:
        listed = in_one_line(bench.answer("tests"))
        for test in ("dry conductivity", "solution conductivity", "melt conductivity", "flame colour", "burning", "burner"):
            name = test if test.endswith("test") else f"{test} test"
            assert re.search(rf"{name} \([^)]*apparatus not on this bench", listed), name
        assert not re.search(r"water test \([^)]*apparatus", listed)
    told = run("bench", str(tmp_path / "b.yaml"), "--missing", "bunsn burner")
    assert told.returncode == 2
    assert "'bunsn burner' is not apparatus or a bench test" in told.stderr
    assert not (tmp_path / "b.yaml").exists()


# --- words -----------------------------------------------------------------------------------------


def test_reasons_are_those_of_identify(tmp_path: Path) -> None:
    record = begun(tmp_path, "look", "1", "1", "2", "water test", "1")
    with BenchTerminal(record, "--plain") as bench:
        shown = bench.answer("reasons")
    told = run("identify", str(record), "--plain").stdout
    why = in_one_line(told[told.index("For and against") : told.index("What would change this")])
    assert "seen: in water: dissolves" in why
    assert why in in_one_line(shown)


def test_notes_are_added_to_those_that_are_there(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    record.write_text("vial: A  # the left one\nnotes: found on Monday\nreadings:\n  lustre: no\n", "utf-8")
    with BenchTerminal(record) as bench:
        bench.answer("yes")
        assert "Write the note after the word" in bench.answer("note")
        assert "Noted." in bench.answer("note =1+1 a few crystals left")
    assert kept(record).notes == "found on Monday; =1+1 a few crystals left"
    text = record.read_text("utf-8")
    assert "# the left one" in text
    assert "lustre: no\n" in text  # as it was written


def test_the_lab_summary_is_written_beside_the_record_and_never_over_another(tmp_path: Path) -> None:
    record = begun(tmp_path, "look", "1", "1", "2")
    with BenchTerminal(record, columns=60) as bench:
        assert "summary-a.html" in in_one_line(bench.answer("summary")).replace(" ", "")
        bench.answers("summary html", "summary markdown", "summary text")
        assert "'pdf' is not a form of the lab summary" in in_one_line(bench.answer("summary pdf"))
    names = {path.name for path in tmp_path.iterdir() if path.name.startswith("summary")}
    assert names == {"summary-a.html", "summary-a-2.html", "summary-a.md", "summary-a.txt"}
    assert "glassy" in (tmp_path / "summary-a.txt").read_text("utf-8")


# --- what this program is not for ------------------------------------------------------------------


def test_a_vial_that_nobody_prepared_is_no_case(tmp_path: Path) -> None:
    with BenchTerminal(tmp_path / "a.yaml", columns=60) as bench:
        assert bench.asked == "Yes or no:"
        said = in_one_line(bench.said)
        assert "Did your teacher prepare vial a as an exercise?" in said
        assert said.index("Wear eye protection") < said.index("Did your teacher")
        shown = in_one_line(bench.last_answer("no"))
        assert "This is not a case for spotplate" in shown
        assert "An unlabelled chemical that nobody prepared as an exercise is not a case for this program." in shown
        assert "do not smell it" in shown
        assert "Next:" not in bench.said
        assert bench.exit_code == 1
    with BenchTerminal(tmp_path / "a.yaml") as bench:
        assert bench.asked == "Yes or no:"  # and it is asked again


# --- ends and beginnings ---------------------------------------------------------------------------


@pytest.mark.parametrize("prompt", ["prepared", "choose", "tests", "answer"])
def test_ctrl_c_at_any_question_says_how_to_go_on(tmp_path: Path, prompt: str) -> None:
    record = tmp_path / "my vial.yaml"
    with BenchTerminal("my vial.yaml", columns=60, folder=tmp_path) as bench:
        if prompt != "prepared":
            bench.answers("yes", "look", "1", "1")
        if prompt in ("choose", "tests"):
            bench.answers("skip", *(["tests"] if prompt == "tests" else []))
        shown = bench.press("c")
        assert "Stopped. Every answer is kept; to go on:" in shown
        assert 'spotplate bench "my vial.yaml"' in shown.splitlines()
        assert "Traceback" not in shown
        assert bench.exit_code == 130
    assert readings_of(kept(record)) == ({} if prompt == "prepared" else {"state": "solid", "colour": "white or colourless"})


def test_ctrl_c_while_a_command_is_imported_ends_it_without_a_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(app, "make_app", interrupted)
    with pytest.raises(SystemExit) as ended:
        app.main()
    assert ended.value.code == 130


@pytest.mark.parametrize("prompt", ["prepared", "choose", "tests", "answer"])
def test_the_end_of_the_input_ends_the_session_cleanly(tmp_path: Path, prompt: str) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal("a.yaml", columns=60, folder=tmp_path) as bench:
        if prompt != "prepared":
            bench.answers("yes", "look", "1", "1")
        if prompt in ("choose", "tests"):
            bench.answers("skip", *(["tests"] if prompt == "tests" else []))
        shown = bench.press("d")
        assert "Everything is kept in" in shown
        assert bench.exit_code == 0
    assert len(kept(record).readings) == (0 if prompt == "prepared" else 2)


def test_a_session_goes_on_with_the_same_question_in_the_middle_of_a_test(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "", "solid", "?")
        assert bench.asked == "lustre"
        question = bench.said.replace("\r\n", "\n").split("\n\n")[-1]
        bench.press("c")
    with BenchTerminal(record) as bench:
        assert "Did your teacher" not in bench.said  # answered already
        assert "Wear eye protection" in bench.said
        assert "Vial a: 1 reading, 1 unclear" in bench.said
        assert bench.said.replace("\r\n", "\n").split("\n\n")[-1] == question
        bench.answers("-")
        assert bench.asked == ">"
        bench.press("d")
    with BenchTerminal(record) as bench:
        assert bench.asked == ">"  # what was passed over is not asked again
        assert "Next: look" not in bench.said


@pytest.mark.parametrize("sent", [signal.SIGHUP, signal.SIGTERM, signal.SIGKILL])
def test_a_window_that_is_closed_loses_nothing(tmp_path: Path, sent: signal.Signals) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "", "solid", "black")
        bench.child.kill(sent)
        bench.child.expect("$")
        bench.child.wait()
    assert readings_of(kept(record)) == {"state": "solid", "colour": "black"}
    with BenchTerminal(record) as bench:
        assert bench.asked == "lustre"
        assert "Taken back: “colour: black”" in bench.answer("back")


def test_a_record_kept_by_hand_is_gone_on_with(tmp_path: Path) -> None:
    """Spelled otherwise, with remarks, and before any session: nothing of it changes but what is answered."""
    record = tmp_path / "a.yaml"
    before = "# second table\nvial: '007'\nreadings:\n  shine: glassy  # turned under the lamp\n  conducts dry: no\n"
    record.write_text(before, "utf-8")
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look")
        assert bench.asked == "state"
        bench.answer("solid")
    assert record.read_text("utf-8") == f"{before}  state: solid\n"


# --- forms -----------------------------------------------------------------------------------------


def test_the_plain_form_has_neither_styles_nor_bars(tmp_path: Path) -> None:
    with BenchTerminal("vial.yaml", "--plain", columns=60, colour=True, folder=tmp_path) as bench:
        carry_out(bench, TABLE_SALT)
        bench.answers("ranking", "rack", "help", "tests")
        bench.answer("")
        bench.last_answer("stop")
        assert "\x1b" not in bench.said
        assert not set(bench.said) & set("█·─━│#")
        assert "class: ionic; probability: " in bench.said
        assert "Settled: ionic" in bench.said


@pytest.mark.parametrize("form", [(), ("--plain",)], ids=["drawn", "plain"])
def test_an_assessment_gives_nothing_away_also_after_resuming_without_the_option(tmp_path: Path, form: tuple[str, ...]) -> None:
    record = tmp_path / "a.yaml"

    def gives_nothing_away(bench: BenchTerminal) -> None:
        said = in_one_line(bench.said)
        assert not re.search(
            r"\bionic\b|covalent|\bpolar molecular|nonpolar|\d ?%|→|deciban|Settled|Open between|worth doing", said
        )
        assert "Next:" not in said
        assert "The ranking stays" not in said
        facts = [in_one_line(fact.says) for fact in load_knowledge().facts.values()]
        because = [in_one_line(rule.because) for rule in load_knowledge().rules]
        assert facts
        assert because
        assert not [says for says in (*facts, *because) if says in said]
        assert "metallic: " not in re.sub(r"\d metallic: Mirrors", "", said)  # a lustre, not the class

    with BenchTerminal(record, "--assessment", *form) as bench:
        bench.answers("yes", "look", "solid", "white", "glassy", "water test", "dissolves", "no foam", "back foam", "no foam")
        bench.answers("solution conductivity", "bright glow", "deformation", "brittle", "flame colour", "yellow")
        for word in ("ranking", "reasons"):
            assert "This is an assessment: ranking, verdict and reasons are held back." in in_one_line(bench.answer(word))
        assert "settled" not in bench.answer("rack")
        bench.answers("tests", "", "help", "summary text")
        bench.press("c")
        gives_nothing_away(bench)
    with BenchTerminal(record, *form) as bench:
        assert "held back" in in_one_line(bench.said)
        assert "held back" in in_one_line(bench.answer("ranking"))
        bench.answers("litmus test", "neutral", "rack")
        bench.press("d")
        gives_nothing_away(bench)
    summary = (tmp_path / "summary-a.txt").read_text("utf-8")
    assert not re.search(r"\d ?%|deciban", summary)
    vial = identified(record)  # who marks it has the whole record
    assert vial["verdict"]["class"] == "ionic"


# --- several vials ---------------------------------------------------------------------------------


def test_a_rack_in_a_table_is_worked_on_vial_by_vial(tmp_path: Path) -> None:
    rack = tmp_path / "rack.csv"
    rack.write_text("vial,state,notes\nA,solid,white\nB,,\n", "utf-8")
    with BenchTerminal(rack, columns=60) as bench:
        bench.answers("yes", "look")
        assert bench.asked == "colour"
        bench.answer("white")
        assert "Vial A is at hand. Vials: A, B." in bench.answer("vial")
        assert "Did your teacher prepare vial B as an exercise?" in bench.answer("vial B")
        shown = bench.answer("yes")
        assert "Vial B: 0 readings" in shown
        bench.answers("look", "solid", "golden")
        assert bench.asked == "lustre"
        assert "Vial A: 2 readings" in bench.answer("vial A")
        assert bench.asked == "lustre"  # of A: its test is still under way
        bench.answer("waxy")
        bench.answers("vial C", "no")
        assert [record.vial for record in read_records(rack, load_knowledge())] == ["A", "B"]
        bench.answer("vial C")
        assert bench.asked == "Yes or no:"  # whether to begin it, and then whether it was prepared
        assert "Vial C: 0 readings" in bench.answers("yes", "yes")
        shown = in_one_line(bench.answer("rack"))
        assert "Rack: 3 vials, 0 settled" in shown
        assert "C (at hand)" in shown
        bench.answer("vial B")
        ranking = bench.answer("ranking")
        bench.press("c")
    assert readings_of(kept(rack, "A")) == {"state": "solid", "colour": "white or colourless", "lustre": "waxy"}
    assert readings_of(kept(rack, "B")) == {"state": "solid", "colour": "golden or coppery"}
    assert kept(rack, "A").notes == "white"
    assert same_ranking(ranking, identified(rack, "--vial", "B"))
    with BenchTerminal(rack) as bench:
        assert "Vial B: 2 readings" in bench.said
        assert bench.asked == "lustre"


def test_a_folder_holds_one_record_a_vial(tmp_path: Path) -> None:
    (tmp_path / "a.yaml").write_text("readings: {state: solid}\n", "utf-8")
    (tmp_path / "other.yaml").write_text("vial: B\nreadings:\n  state: liquid\n", "utf-8")
    (tmp_path / "remarks.txt").write_text("none", "utf-8")
    with BenchTerminal(tmp_path, "--vial", "B") as bench:
        bench.answers("yes", "look", "white")
        bench.answers("vial a", "yes", "look", "black", "vial D/4", "yes", "yes", "look", "gas")
        ranking = bench.answer("ranking")
    assert readings_of(kept(tmp_path / "other.yaml")) == {"state": "liquid", "colour": "white or colourless"}
    assert readings_of(kept(tmp_path / "a.yaml")) == {"state": "solid", "colour": "black"}
    assert kept(tmp_path / "D-4.yaml").vial == "D/4"
    assert same_ranking(ranking, identified(tmp_path / "D-4.yaml"))
    with BenchTerminal(tmp_path) as bench:
        assert "Vial D/4: 1 reading" in bench.said
        shown = in_one_line(bench.answer("rack"))
        assert "Rack: 3 vials" in shown


def test_a_record_of_one_vial_takes_no_second(tmp_path: Path) -> None:
    record = begun(tmp_path)
    with BenchTerminal(record) as bench:
        shown = in_one_line(bench.answers("vial B", "yes"))
        assert "this file holds one record; for several vials use a table (.csv), a list of records, or a folder." in shown
        assert bench.asked == ">"
    told = run("bench", str(record), "--vial", "B")
    assert told.returncode == 2
    assert "this file holds one record" in told.stderr


# --- two at once -----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["a.yaml", "rack.csv"])
def test_a_second_session_on_a_record_is_refused_and_the_first_goes_on(tmp_path: Path, name: str) -> None:
    record = tmp_path / name
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look", "solid")
        link = tmp_path / f"link{record.suffix}"
        link.symlink_to(record)
        for way in (record, tmp_path / "." / name, link):
            told = run("bench", str(way))
            assert told.returncode == 2
            assert told.stdout == ""
            assert "another bench session is open on it; end that one first" in told.stderr
            assert told.stderr.startswith(f"error: {record}")
        assert "Written down: colour: black." in bench.answer("black")
        bench.last_answer("stop")
    assert readings_of(kept(record)) == {"state": "solid", "colour": "black"}
    assert run("bench", str(record)).returncode == 0  # nobody is at it any more


def test_a_session_on_a_folder_keeps_sessions_on_its_records_away_and_the_other_way_round(tmp_path: Path) -> None:
    record = begun(tmp_path)
    with BenchTerminal(tmp_path) as bench:
        bench.answers("yes", "vial B", "yes")
        for file in (record, tmp_path / "B.yaml"):
            told = run("bench", str(file))
            assert (told.returncode, "another bench session" in told.stderr) == (2, True)
        told = run("bench", str(tmp_path / "new.yaml"))  # it would be one of the folder's
        assert (told.returncode, "another bench session" in told.stderr) == (2, True)
    with BenchTerminal(record) as bench:
        told = run("bench", str(tmp_path))
        assert (told.returncode, "another bench session" in told.stderr) == (2, True)
        assert str(record) in told.stderr


def test_a_table_and_a_record_of_one_name_do_not_share_what_is_remembered(tmp_path: Path) -> None:
    begun(tmp_path, "look", "1", name="same.yaml")
    with BenchTerminal(tmp_path / "same.csv") as bench:
        assert bench.asked == "Yes or no:"
        bench.answer("yes")
        assert bench.asked == ">"


# --- another hand ----------------------------------------------------------------------------------


def test_what_another_hand_writes_meanwhile_is_kept_and_told(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record, columns=60) as bench:
        bench.answers("yes", "look", "solid")
        text = record.read_text("utf-8")
        record.write_text(text.replace("state: solid", "state: solid  # looked twice\n  magnet: attracted"), "utf-8")
        shown = in_one_line(bench.answer("black"))
        assert "In the file now, by another hand: magnet: attracted." in shown
        assert "Written down: colour: black." in shown
        assert readings_of(kept(record)) == {"state": "solid", "magnet": "attracted", "colour": "black"}
        assert "# looked twice" in record.read_text("utf-8")
        ranking = bench.answer("ranking")
    assert same_ranking(ranking, identified(record))


def test_a_reading_that_another_hand_has_answered_is_not_written_over(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look", "solid")
        record.write_text(record.read_text("utf-8") + "  colour: coloured\n", "utf-8")
        shown = in_one_line(bench.answer("black"))
        assert "Somebody has edited the file in the meantime; what they wrote is kept." in shown
        assert "In the file now, by another hand: colour: coloured." in shown
        assert "Written down" not in shown
        assert bench.asked == "lustre"
        record.write_text(record.read_text("utf-8").replace("solid", "liquid"), "utf-8")
        shown = in_one_line(bench.answer("back state"))
        assert "In the file now, by another hand: state: liquid." in shown
        assert "Taken back" not in shown
        assert bench.asked == "lustre"
    assert readings_of(kept(record)) == {"state": "liquid", "colour": "coloured"}


def test_a_file_that_another_hand_has_broken_can_be_mended_during_the_session(tmp_path: Path) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look", "solid")
        text = record.read_text("utf-8")
        record.write_text(text.replace("solid", "sollid"), "utf-8")
        shown = in_one_line(bench.answer("black"))
        assert "'sollid' is not accepted; did you mean 'solid'?" in shown
        assert "Mend that, then press Enter to try again (or type stop)." in shown
        record.write_text("", "utf-8")  # as while an editor is writing
        assert "the file is empty" in in_one_line(bench.answer(""))
        record.write_text(text, "utf-8")
        assert "Written down: colour: black." in bench.answer("")
        assert readings_of(kept(record)) == {"state": "solid", "colour": "black"}


@pytest.mark.parametrize(("word", "code"), [("stop", 0), ("ctrl-c", 130)])
def test_who_gives_up_on_a_broken_file_is_told_that_the_last_answer_is_not_kept(tmp_path: Path, word: str, code: int) -> None:
    record = tmp_path / "a.yaml"
    with BenchTerminal(record) as bench:
        bench.answers("yes", "look", "solid")
        record.write_text("nonsense: [", "utf-8")
        assert "Mend that" in bench.answer("black")
        shown = in_one_line(bench.last_answer("stop") if word == "stop" else bench.press("c"))
        assert "All but your last answer is kept" in shown
        assert "Every answer is kept" not in shown
        assert bench.exit_code == code
    assert record.read_text("utf-8") == "nonsense: ["


def test_a_vial_that_another_hand_takes_out_is_written_anew_with_all_that_was_read(tmp_path: Path) -> None:
    rack = tmp_path / "rack.csv"
    rack.write_text("vial,state,colour,notes\nA,solid,,found open\nB,solid,,\n", "utf-8")
    with BenchTerminal(rack) as bench:
        bench.answers("yes", "look")
        rack.write_text("vial,state,colour,notes\nB,solid,,\n", "utf-8")
        shown = in_one_line(bench.answer("white"))
        assert "Somebody has removed the record; it is written anew." in shown
        assert "Written down: colour: white or colourless." in shown
        bench.last_answer("stop")
    assert readings_of(kept(rack, "A")) == {"state": "solid", "colour": "white or colourless"}
    assert kept(rack, "A").notes == "found open"
    assert readings_of(kept(rack, "B")) == {"state": "solid"}


# --- the helpers of these tests --------------------------------------------------------------------


def test_the_question_is_found_on_the_screen() -> None:
    assert asked_for("\r\nstate: Is it?\r\n  1 solid: No flow.\r\nYour answer: ") == "state"
    assert asked_for("all words.\r\n> ") == ">"


@pytest.mark.parametrize("shown", ["x" * 81, "\x1b[2Kagain", "over\rit", "\x1b[31mred\x1b[0m", "bell\x07"])
def test_looking_over_finds_what_must_not_be(shown: str) -> None:
    bench = object.__new__(BenchTerminal)
    bench.columns, bench.colour, bench.said = 80, False, shown
    with pytest.raises(AssertionError):
        bench.look_over()
