"""What an identification imports: nothing heavy."""

from __future__ import annotations

import subprocess
import sys

import pytest
from running import DEMO

HEAVY = {"pandas", "sklearn", "scipy", "numpy", "pint", "pydantic", "chemicals"}


@pytest.mark.parametrize(
    "arguments", [("identify", str(DEMO / "vial-c.yaml")), ("identify", str(DEMO / "rack.csv")), ("--help",), ("demo", "--json")]
)
def test_nothing_heavy_is_imported(arguments: tuple[str, ...]) -> None:
    code = (
        "import sys; sys.argv = ['spotplate', *sys.argv[1:]]\n"
        "from spotplate.cli.app import main\n"
        "try:\n    main()\nexcept SystemExit:\n    pass\n"
        "print(' '.join(sys.modules), file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code, *arguments], capture_output=True, text=True, check=True)
    loaded = {name.partition(".")[0] for name in done.stderr.split()}
    assert "spotplate" in loaded
    assert not loaded & HEAVY
