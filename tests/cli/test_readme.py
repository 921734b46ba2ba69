"""Examples in README are what the program does."""

from __future__ import annotations

import contextlib
import io
import re
import shlex
from pathlib import Path

import pytest
from running import run

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text(encoding="utf-8")
OUTPUTS = re.findall(r"<!-- output of: (.+?) -->\n```text\n(.*?)\n```", README, flags=re.DOTALL)


@pytest.mark.parametrize(("command", "shown"), OUTPUTS, ids=[command for command, _ in OUTPUTS])
def test_output_in_readme_is_the_real_one(command: str, shown: str) -> None:
    arguments = [str(ROOT / part) if part.startswith("datasets/") else part for part in shlex.split(command)]
    assert run(*arguments, columns=100).stdout.strip() == shown.strip()


def test_readme_shows_outputs() -> None:
    assert len(OUTPUTS) >= 2


def test_the_notebook_lines_run() -> None:
    code = re.search(r"```python\n(.*?)```", README, flags=re.DOTALL)
    assert code
    out = io.StringIO()
    with contextlib.redirect_stdout(out):
        exec(code[1], {})
    assert out.getvalue().startswith("conclusive metallic\n")


def test_the_record_in_readme_is_the_demo_record() -> None:
    shown = re.search(r"```yaml\n(.*?)```", README, flags=re.DOTALL)
    assert shown
    demo = (ROOT / "datasets" / "demo" / "vial-c.yaml").read_text(encoding="utf-8")
    for line in shown[1].splitlines():
        assert line in demo.splitlines()
