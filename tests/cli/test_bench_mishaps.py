"""What must not end or spoil a bench session: another hand on the file, odd input, tests put aside one after the other."""

from __future__ import annotations

import subprocess
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from running import PROGRAM, environment_with

from spotplate.cli.bench_dialogue import BenchDialogue
from spotplate.engine.bench.memory import Memory, VialMemory
from spotplate.engine.bench.session import Session
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.kb import load_knowledge

KNOWLEDGE = load_knowledge()
Step = str | Callable[[], str]


def walked(monkeypatch: pytest.MonkeyPatch, path: Path, *steps: Step, vials: tuple[str, ...] = ("A",)) -> BenchDialogue:
    """A session in which these lines are typed; a function is called when its line is asked for, and gives it."""
    lines: Iterator[Step] = iter((*steps, "stop"))

    def typed(_: str = "") -> str:
        step = next(lines)
        return step if isinstance(step, str) else step()

    monkeypatch.setattr("builtins.input", typed)
    with BenchFiles(path, KNOWLEDGE) as files:
        for vial in vials:
            files.add_vial(vial)
        session = Session(files.records, Memory(vial=vials[0], vials=dict.fromkeys(vials, VialMemory(prepared=True))), KNOWLEDGE)
        dialogue = BenchDialogue(files, session, KNOWLEDGE, plain=True)
        assert dialogue.run()
    assert next(lines, None) is None
    return dialogue


def test_a_reading_that_another_hand_has_changed_is_not_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "a.yaml"

    def meanwhile() -> str:
        file.write_text(file.read_text(encoding="utf-8").replace("state: solid", "state: gas"), encoding="utf-8")
        return "back state"

    dialogue = walked(monkeypatch, file, "look", "solid", meanwhile)
    told = capsys.readouterr().out
    assert "Somebody has edited the file in the meantime" in told
    assert "Taken back" not in told
    assert dialogue.session.record.readings == {"state": "gas"}
    assert dialogue.session.order() == ["state"]


def test_a_vial_at_hand_that_another_hand_removed_is_written_anew_when_the_next_is_begun(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "rack.csv"

    def meanwhile() -> str:
        file.write_text("vial,state\nB,\n", encoding="utf-8")
        return "vial C"

    dialogue = walked(monkeypatch, file, "look", "solid", meanwhile, "yes", "yes", vials=("A", "B"))
    assert "Somebody has removed the record; it is written anew." in capsys.readouterr().out
    assert dialogue.session.vial == "C"
    assert dialogue.session.records.keys() == {"A", "B", "C"}
    assert dialogue.session.records["A"].readings == {"state": "solid"}


def test_a_note_on_a_vial_that_is_gone_is_kept_with_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "rack.csv"

    def gone() -> str:
        file.write_text("vial,state\nB,\n", encoding="utf-8")
        return "note a few crystals left"

    dialogue = walked(monkeypatch, file, gone, vials=("A", "B"))
    told = capsys.readouterr().out
    assert "Somebody has removed the record; it is written anew." in told
    assert "Noted." in told
    assert dialogue.session.record.notes == "a few crystals left"


def test_when_everything_is_put_aside_that_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nobody is left before a bare prompt, and what could still be done is named."""
    steps = [step for test in KNOWLEDGE.tests.values() if not test.needs and not test.teacher for step in (test.id, "skip")]
    steps += [step for test in KNOWLEDGE.tests.values() if not test.needs and test.teacher for step in (test.id, "no")]
    walked(monkeypatch, tmp_path / "a.yaml", *steps)
    told = " ".join(capsys.readouterr().out.split())
    assert "No other test on this bench is expected to tell much more of it." in told
    assert "Put aside or not agreed to: look, water test" in told


@pytest.mark.parametrize(
    "line", ["9" * 5000, "٣" * 400, "0", "1000", "-1"], ids=["long", "other digits", "none", "beyond", "minus"]
)
def test_a_number_that_stands_before_no_answer_is_asked_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, line: str) -> None:
    dialogue = walked(monkeypatch, tmp_path / "a.yaml", line, "look", line, "2")
    assert dialogue.session.record.readings == {"state": "liquid"}


def test_bytes_that_are_no_text_do_not_end_a_session(tmp_path: Path) -> None:
    done = subprocess.run(
        [*PROGRAM, "bench", str(tmp_path / "a.yaml")],
        input=b"yes\nnote caf\xe9 \xff here\nlook\nsolid\nstop\n",
        capture_output=True,
        env=environment_with(PYTHONIOENCODING="utf-8", PYTHONUTF8="0"),
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    assert b"Traceback" not in done.stderr
    written = (tmp_path / "a.yaml").read_text(encoding="utf-8")
    assert "state: solid" in written
    assert "here" in written
