"""A bench session that is killed at any moment has lost no answer, has made none up, and goes on where it was.

One run kills 100 sessions of the whole program and 150 writers that use `BenchFiles` alone. A step counts as told when its
line or the next question was printed; a step that was sent and not told may have been written or not, but never by half.
"""

from __future__ import annotations

import contextlib
import json
import os
import random
import re
import selectors
import subprocess
import sys
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import msgspec
import pytest

if sys.platform == "win32":
    pytest.skip("needs SIGKILL and fork", allow_module_level=True)

from bench_killing import VIAL, record_of
from running import PROGRAM, environment_with

from spotplate.engine.bench.memory import Memory
from spotplate.engine.files import bench_files
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.kb import BenchTest, load_knowledge

KNOWLEDGE = load_knowledge()
WRITER_KILLS = 50  # for each of three forms of a record, inside `BenchFiles`
SESSION_KILLS = 25  # in each of four rows of sessions of the whole program
SEED = 20260105
_WAIT = 60.0  # [s] for a slow machine
_PROMPT = re.compile(r"(?:^|\n)(?:> |Your answer: |Yes or no: )$")
_WRITTEN = re.compile(r"^Written down: (.+?): (.+)\.$", re.MULTILINE)
_TAKEN_BACK = re.compile(r"^Taken back: “(.+?): (.+)”\.?$", re.MULTILINE)

# Answers as the record spells them; of a solid that dissolves, so that the tests on its solution can follow.
_LIKELY = {
    "state": "solid",
    "in water": "dissolves",
    "density": "1.99 g/cm3",
    "melting range": "121 to 123 °C",
    "boiling point": "100 °C",
}
Step = tuple[str, str]  # a reading and the value it is given; an empty one takes it back


def after(readings: dict[str, str], steps: Sequence[Step]) -> dict[str, str]:
    """What a record holds after some steps."""
    held = dict(readings)
    for reading, value in steps:
        held.pop(reading, None)
        if value:
            held[reading] = value
    return held


# --- writers ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["yaml", "csv", "folder"])
def test_a_killed_writer_leaves_whole_files_with_all_that_was_finished(tmp_path: Path, form: str) -> None:
    told = subprocess.run(
        [sys.executable, str(Path(__file__).with_name("bench_killing.py")), str(tmp_path), form, str(SEED), str(WRITER_KILLS)],
        capture_output=True,
        text=True,
        encoding="utf-8",
        env=environment_with(),
        timeout=300,
        check=False,
    )
    assert told.returncode == 0, told.stderr  # a file that cannot be read, or a lock that outlives its owner, ends it
    turns = [json.loads(line) for line in told.stdout.splitlines()]
    assert len(turns) == WRITER_KILLS
    held: dict[str, str] = {}
    steps = 0
    for turn in turns:
        assert not turn["unswept"]
        done = [(reading, value) for word, reading, value in turn["told"] if word == "done"]
        begun = [(reading, value) for word, reading, value in turn["told"] if word == "begin"]
        assert len(begun) - len(done) in (0, 1)
        found = turn["readings"].get(VIAL, {})
        assert found in (after(held, done), after(held, begun)), turn["told"]
        if form == "csv":
            assert turn["readings"]["other"] == {"state": "liquid"}
        if done:
            order = turn["remembered"]["vials"][VIAL]["order"]
            assert order[-1] in (done[-1][0], begun[-1][0])
        held = found
        steps += len(done)
    assert steps >= WRITER_KILLS  # they did write
    assert {path.suffix for path in tmp_path.iterdir()} <= {".yaml", ".csv", ".json", ".lock", ""}


# --- at each single write --------------------------------------------------------------------------


class CutOffError(BaseException):
    """Stands for the end of the process at one moment."""


WORK = {  # what is typed → what it changes in the record
    "yes": None, "look": None, "solid": ("state", "solid"), "black": ("colour", "black"), "metallic": ("lustre", "metallic"),
    "press and tap": None, "malleable": ("deformation", "malleable"), "back lustre": ("lustre", ""), "dull": ("lustre", "dull"),
    "back deformation": ("deformation", ""), "note some is left": None, "brittle": ("deformation", "brittle"),
}  # fmt: skip


def session_in_process(record: Path, lines: Sequence[str], patch: pytest.MonkeyPatch) -> None:
    """A session in this process, to which these lines are typed."""
    from spotplate.cli.bench import bench

    waiting = iter(lines)

    def typed(prompt: str = "") -> str:
        print(prompt)
        try:
            return next(waiting)
        except StopIteration:
            raise EOFError from None

    patch.setattr("builtins.input", typed)
    bench(record, assessment=True)  # which writes the same, and need not reason


@pytest.mark.parametrize("done", [False, True], ids=["before", "after"])
def test_a_session_cut_off_at_any_write_takes_back_the_latest_answer(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], done: bool
) -> None:
    """Whichever write is the last one, `back` then takes back what was answered last of all that is in the record."""
    write_whole = bench_files.write_whole
    steps = [step for step in WORK.values() if step]
    writes = 0
    for last in range(1, 100):
        folder = tmp_path / str(last)
        folder.mkdir()
        writes = 0

        def write_until(*given: object, last: int = last, **options: object) -> None:
            nonlocal writes
            writes += 1
            if writes == last and not done:
                raise CutOffError
            write_whole(*given, **options)
            if writes == last:
                raise CutOffError

        with monkeypatch.context() as patch:
            patch.setattr(bench_files, "write_whole", write_until)
            with contextlib.suppress(CutOffError):
                session_in_process(folder / "a.yaml", list(WORK), patch)
        if writes < last:
            break
        found = held_in(folder / "a.yaml")
        reached = [after({}, steps[:number]) for number in range(len(steps) + 1)]
        assert found in reached
        memory = memory_in(folder / "a.yaml")
        capsys.readouterr()
        session_in_process(
            folder / "a.yaml", ["back"] if memory and memory.of(memory.vial).prepared else ["yes", "back"], monkeypatch
        )
        latest = list(reached[reached.index(found)])
        told = capsys.readouterr().out
        assert f"Taken back: “{latest[-1]}:" in told if latest else "Taken back" not in told
        assert held_in(folder / "a.yaml") == {reading: found[reading] for reading in latest[:-1]}
    assert writes > len(WORK)  # all of it was reached


# --- sessions --------------------------------------------------------------------------------------


class Piped:
    """A session of the whole program, in a pipe."""

    def __init__(self, record: Path) -> None:
        self.process = subprocess.Popen(
            [*PROGRAM, "bench", str(record), *(["--vial", VIAL] if record.suffix == ".csv" else [])],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            env=environment_with(COLUMNS="200"),  # so that no sentence is cut
        )
        self.said = ""

    def send(self, *lines: str) -> None:
        assert self.process.stdin
        with contextlib.suppress(BrokenPipeError):
            self.process.stdin.write("".join(f"{line}\n" for line in lines).encode())
            self.process.stdin.flush()

    def until_asked(self) -> str:
        """What is said up to the next prompt."""
        assert self.process.stdout
        start, ends_at = len(self.said), time.monotonic() + _WAIT
        with selectors.DefaultSelector() as waiting:
            waiting.register(self.process.stdout, selectors.EVENT_READ)
            while not _PROMPT.search(self.said[start:]):
                assert waiting.select(max(0.0, ends_at - time.monotonic())), f"nothing is asked: {self.said[-500:]}"
                part = os.read(self.process.stdout.fileno(), 65536)
                assert part, f"the session has ended: {self.said[-500:]}"
                self.said += part.decode()
        return self.said[start:]

    def killed(self) -> str:
        """Kill the session; what it had said until then beyond what was read."""
        start = len(self.said)
        self.process.kill()
        rest, _ = self.process.communicate(timeout=_WAIT)
        self.said += rest.decode(errors="replace")
        return self.said[start:]

    @property
    def asked(self) -> str:
        """The reading that is asked for, or the prompt."""
        lines = self.said.split("\n")
        if lines[-1].startswith("Your answer:"):
            return next(name for line in reversed(lines) if (name := line.partition(":")[0]) in KNOWLEDGE.readings)
        return lines[-1].strip()


class Row:
    """
    Sessions on one record, each killed and the next one going on with it.

    `held` is what the record must hold, as far as the screens have told; a step sent but not told is in `open_steps`.
    """

    def __init__(self, folder: Path, form: str, seed: int) -> None:
        self.folder = folder
        self.record = record_of(folder, form)
        self.draw = random.Random(seed)
        self.held: dict[str, str] = {}
        self.agreed_to_begin = False
        self.pending: str | None = None  # the question that the next session must begin with, where it is known
        self.kills = 0
        self.cut_off: list[bool] = []  # for each step cut off, whether it was written
        self.answers = 0
        self.latency = 0.03  # [s] from an answer to the next question

    def work(self, kills: int) -> Row:
        while self.kills < kills:
            self.one_session()
        return self

    def one_session(self) -> None:
        session = Piped(self.record)
        try:
            manner = self.draw.random()
            if manner < 0.1:
                time.sleep(self.draw.random() * 0.6)  # while it starts, opens the files, or already waits
                self.cut(session, [])
                return
            self.opens(session)
            for _ in range(self.draw.randint(0, 3)):
                self.step(session)
            if manner < 0.25:
                self.cut(session, [], pending=session.asked)  # while it waits
            else:
                self.cut_in_a_step(session)
        finally:
            session.process.kill()
            session.process.wait()

    def opens(self, session: Piped) -> None:
        """It goes on where the last one was, and nothing half-written is left."""
        session.until_asked()
        assert self.pending in (None, session.asked)
        if session.asked == "Yes or no:":
            assert not self.agreed_to_begin, "what was answered is asked again"
            session.send("yes")
            session.until_asked()
        self.agreed_to_begin = True
        memory = memory_in(self.record)
        assert memory
        assert memory.of(memory.vial).prepared
        assert session.asked not in self.held, "what was answered is asked again"
        assert not list(self.folder.glob(".*.part"))

    def step(self, session: Piped) -> None:
        """Answer, choose a test or take something back, and wait for what comes of it."""
        line, steps = self.next_line(session.asked)
        sent_at = time.monotonic()
        session.send(line)
        said = session.until_asked()
        if session.asked == "Yes or no:":  # for the teacher's agreement
            session.send("yes")
            said += session.until_asked()
        if steps:
            self.latency = 0.7 * self.latency + 0.3 * (time.monotonic() - sent_at)
        self.count(said)
        self.held = after(self.held, steps)
        assert held_in(self.record) == self.held, line  # and it is on disk, now that the next question is shown

    def cut_in_a_step(self, session: Piped) -> None:
        """Send one answer, or all that the test under way asks for at once, and kill while they are being written."""
        for _ in range(20):
            if session.asked == ">":
                self.step(session)
        assert session.asked in KNOWLEDGE.readings, "no test can be begun"
        line, steps = self.next_line(session.asked)
        lines = [line]
        if steps and steps[0][1] and self.draw.random() < 0.3:
            test = KNOWLEDGE.test_of[session.asked]
            names = [kind.id for kind in test.readings]
            for name in names[names.index(session.asked) + 1 :]:
                if name not in self.held:
                    steps.append((name, self.value(name)))
                    lines.append(steps[-1][1])
        before = session.asked
        session.send(*lines)
        time.sleep(self.draw.random() ** 2 * self.latency * len(lines))  # rather sooner than later
        self.cut(session, steps, before=before)

    def cut(self, session: Piped, steps: list[Step], *, pending: str | None = None, before: str | None = None) -> None:
        """Kill, and hold what is on disk beside what was told and what was sent."""
        said = session.killed()
        self.kills += 1
        told = self.count(said)
        found = held_in(self.record)
        possible = [after(self.held, steps[:number]) for number in range(told, len(steps) + 1)]
        assert found in possible, (self.held, steps, said)
        self.pending = pending
        if steps:
            written = told + possible.index(found)
            self.cut_off.append(written > 0)
            if not written and steps[0][1]:
                self.pending = before  # the answer is not there, so its question is asked again
        self.held = found
        memory_in(self.record)

    def count(self, said: str) -> int:
        """How many steps the screen tells as carried out."""
        told = len(_WRITTEN.findall(said)) + len(_TAKEN_BACK.findall(said))
        self.answers += told
        return told

    def next_line(self, asked: str) -> tuple[str, list[Step]]:
        """What is typed next, and what that changes in the record."""
        if asked in KNOWLEDGE.readings and (not self.held or self.draw.random() < 0.85):
            value = self.value(asked)
            return value, [(asked, value)]
        ready = [test.id for test in KNOWLEDGE.tests.values() if self.is_ready(test)]
        if asked == ">" and ready and self.draw.random() < 0.8:
            return self.draw.choice(ready), []
        if self.held:
            taken = self.draw.choice(sorted(self.held))
            return f"back {taken}", [(taken, "")]
        return "look", []

    def value(self, reading: str) -> str:
        """An answer as the record will spell it."""
        if reading in _LIKELY and self.draw.random() < 0.9:
            return _LIKELY[reading]
        return self.draw.choice([*(value.is_ for value in KNOWLEDGE.readings[reading].values), "unclear"])

    def is_ready(self, test: BenchTest) -> bool:
        wanting = any(kind.id not in self.held for kind in test.readings)
        return wanting and all(self.held.get(need.reading or "") in need.is_ for need in test.needs)


def held_in(path: Path) -> dict[str, str]:
    """What the record on disk holds of the vial; it can be read at any moment, whoever was killed."""
    files = BenchFiles(path, KNOWLEDGE)  # without its lock, so nothing is swept up
    files.reload()
    if not files.records:
        return {}
    record = files.records.get(VIAL) or next(iter(files.records.values()))
    return {**{name: str(value) for name, value in record.readings.items()}, **dict.fromkeys(record.unclear, "unclear")}


def memory_in(path: Path) -> Memory | None:
    """What is remembered beside the record, whole."""
    memory = BenchFiles(path, KNOWLEDGE).memory()
    assert memory is None or msgspec.json.decode(msgspec.json.encode(memory), type=Memory) == memory
    return memory


def test_sessions_killed_at_random_moments_lose_nothing_and_go_on_where_they_were(tmp_path: Path) -> None:
    rows = []
    for number, form in enumerate(("yaml", "yaml", "csv", "csv")):
        folder = tmp_path / str(number)
        folder.mkdir()
        rows.append(Row(folder, form, SEED + number))
    with ThreadPoolExecutor(2) as several:
        rows = list(several.map(lambda row: row.work(SESSION_KILLS), rows))
    assert sum(row.kills for row in rows) == 4 * SESSION_KILLS == 100
    cut_off = [written for row in rows for written in row.cut_off]
    assert min(cut_off.count(True), cut_off.count(False)) >= 5, "the moments do not lie around the writing"
    assert sum(row.answers for row in rows) >= 100
