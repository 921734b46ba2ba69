"""A bench session in a terminal of its own, as a person sits before it."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Mapping
from pathlib import Path
from types import TracebackType

import pexpect
from running import PROGRAM, environment_with, without_styles

from spotplate.engine import load_knowledge

# What the session shows when it waits for a line.
PROMPT = r"(?:^|\n)(?:> |Your answer: |Yes or no: |Number or name of a test, or Enter to go back: )$"
_COLOUR = re.compile(r"\x1b\[(?:\d+;)*(?:3[0-8]|4[0-8]|9[0-7]|10[0-7])(?:;\d+)*m")
_WAIT = 60.0  # [s] that a slow machine may take to the next question


def _heed_signals() -> None:
    """What runs in the background of a script ignores Ctrl-C and hanging up, and so would all that it starts."""
    for ignored in (signal.SIGINT, signal.SIGHUP):
        signal.signal(ignored, signal.SIG_DFL)


class BenchTerminal:
    """
    `spotplate bench` in a terminal of `columns`.

    `said` holds all that was written to the terminal so far, escape sequences included. Leaving the context ends the
    session and looks at every line: none is wider than the terminal, and nothing redraws.
    """

    command = "bench"
    prompt = PROMPT

    def __init__(
        self,
        *arguments: str | Path,
        columns: int = 80,
        colour: bool = False,
        folder: Path | None = None,
        **environment: str,
    ) -> None:
        self.columns = columns
        self.colour = colour
        changes = {"TERM": "xterm-256color", **({} if colour else {"NO_COLOR": "1"}), **environment}
        self.said = ""
        self.child = pexpect.spawn(
            PROGRAM[0],
            [*PROGRAM[1:], self.command, *map(str, arguments)],
            dimensions=(24, columns),
            encoding="utf-8",
            codec_errors="replace",
            cwd=folder,
            env=environment_with(**changes),
            timeout=_WAIT,
            preexec_fn=_heed_signals,
        )
        self.child.delaybeforesend = None
        self.opening = self._until_asked()

    def __enter__(self) -> BenchTerminal:
        return self

    def __exit__(self, kind: type[BaseException] | None, *_: BaseException | TracebackType | None) -> None:
        self.child.close(force=True)
        if kind is None:
            self.look_over()

    # --- what a person does ---

    def answer(self, text: str) -> str:
        """Type a line; what is shown from there to the next question, without styles."""
        self.child.sendline(text)
        return self._until_asked()

    def answers(self, *texts: str) -> str:
        """Type one line after the other; what the last one brings."""
        return [self.answer(text) for text in texts][-1]

    def answer_bytes(self, typed: bytes) -> str:
        """Type a line that is no text."""
        os.write(self.child.child_fd, typed + b"\n")
        return self._until_asked()

    def press(self, key: str) -> str:
        """Press Ctrl and a letter; what is shown from there to the end of the program."""
        self.child.sendcontrol(key)
        return self._until_over()

    def last_answer(self, text: str) -> str:
        """Type the line with which the session ends."""
        self.child.sendline(text)
        return self._until_over()

    @property
    def exit_code(self) -> int | None:
        """The exit code, once the program has ended."""
        self.child.close()
        return self.child.exitstatus

    # --- what a person sees ---

    @property
    def asked(self) -> str:
        """The reading that is asked for, or the words before the cursor where none is."""
        return asked_for(without_styles(self.said))

    def look_over(self) -> None:
        """Nothing of what was written is wider than the terminal, moves the cursor, or has colour where none is wanted."""
        assert not re.search(r"\r(?!\n)", self.said), "the line is drawn over"
        text = self.said.replace("\r\n", "\n")
        for line in without_styles(text).split("\n"):
            if line.startswith(f"spotplate {self.command} "):
                continue  # a command to be typed again is not cut up
            assert len(line) <= self.columns, f"{len(line)} columns: {line}"
            assert line.isprintable(), repr(line)  # so no escape sequence but those of styles, and no tab or bell
        if not self.colour:
            assert not _COLOUR.search(text), _COLOUR.search(text)

    def _until_asked(self) -> str:
        self.child.expect(self.prompt)
        return self._keep(self.child.before + self.child.after)

    def _until_over(self) -> str:
        self.child.expect(pexpect.EOF)
        return self._keep(self.child.before)

    def _keep(self, shown: str) -> str:
        self.said += shown
        return without_styles(shown).replace("\r\n", "\n")


def asked_for(said: str) -> str:
    """The reading that the last question of a session asks for, or the prompt where it asks for something else."""
    lines = said.replace("\r\n", "\n").split("\n")
    if lines[-1].startswith("Your answer:"):
        readings = load_knowledge().readings
        return next(name for line in reversed(lines) if (name := line.partition(":")[0]) in readings)
    return lines[-1].rstrip()


def in_one_line(text: str) -> str:
    """`text` without its line ends, to look for sentences however they are wrapped."""
    return " ".join(text.split())


def carry_out(bench: BenchTerminal, vial: Mapping[str, str], *, by_number: bool = False) -> str:
    """
    Work as the session proposes until it proposes nothing more; readings that `vial` does not have are not tested.

    Returns what was shown last.
    """
    readings = load_knowledge().readings
    shown = bench.opening
    for _ in range(200):
        asked = bench.asked
        if asked == "Yes or no:":
            shown = bench.answer("yes")
        elif asked == ">" and "Press Enter to begin it" in in_one_line(shown):
            shown = bench.answer("")
        elif asked in readings:
            values = [value.is_ for value in readings[asked].values]
            word = vial.get(asked, "not tested")
            shown = bench.answer(str(values.index(word) + 1) if by_number and word in values else word)
        else:
            return shown
    raise AssertionError("the session goes on and on")
