"""`spotplate blank-record`: an empty record to fill in."""

from __future__ import annotations

from typing import Annotated

import typer

from spotplate.kb import load_knowledge, printable


def blank_record(vial: Annotated[str, typer.Option("--vial", help="Label of the vial.")] = "A") -> None:
    """Print an empty YAML record with every reading and its values, to fill in by hand."""
    lines = [
        "# Bench record. Fill in what was seen; leave the rest empty. An empty reading counts as not tested, never as no.",
        '# Write "unclear" when a test was done and could not be told.',
        f"vial: {_quoted(vial)}",
        "notes:",
        "readings:",
        "  air pressure:    # of the day, such as 100.8 kPa or 756 mmHg; needed for a boiling point only",
    ]
    for test in load_knowledge().tests.values():
        lines.append(f"  # {test.does}")
        for kind in test.readings:
            accepted = (
                " | ".join(kind.words()) or f"a number with unit, such as 121-123 {kind.number.unit if kind.number else ''}"
            )
            lines.append(f"  {kind.id}:    # {accepted}")
    print("\n".join(lines))


def _quoted(text: str) -> str:
    """`text` as a YAML string in double quotes."""
    import json

    return json.dumps(" ".join(printable(text).split()), ensure_ascii=False)
