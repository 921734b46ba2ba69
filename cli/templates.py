"""Filling the templates of HTML pages."""

from __future__ import annotations

from pathlib import Path
from typing import Any


def filled(folder: Path, name: str, **values: Any) -> str:
    """The page that a template of a folder makes of these values; all text is escaped, and a missing value is an error."""
    from jinja2 import Environment, FileSystemLoader, StrictUndefined  # heavy, and only for this

    environment = Environment(
        loader=FileSystemLoader(folder, encoding="utf-8"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        keep_trailing_newline=True,
    )
    return environment.get_template(name).render(values)
