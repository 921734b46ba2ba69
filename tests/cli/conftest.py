"""Lets the tests of this folder import `running`, and gives those of the quiz a progress file of their own."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


@pytest.fixture
def progress(tmp_path: Path) -> Path:
    """Where progress is kept that is nobody's."""
    return tmp_path / "progress.sqlite3"
