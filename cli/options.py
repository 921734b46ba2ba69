"""Options that several commands share, each defined once."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

AsJson = Annotated[bool, typer.Option("--json", help="Print the whole result as JSON.")]
Plain = Annotated[bool, typer.Option("--plain", help="Print plain lines without tables, bars or colour, for a screen reader.")]
OwnRules = Annotated[
    Path | None,
    typer.Option("--rules", metavar="FILE", help="Reason with the rules of this YAML file in place of the shipped ones."),
]
ExtraRules = Annotated[
    Path | None, typer.Option("--extra-rules", metavar="FILE", help="Reason with the shipped rules and those of this YAML file.")
]
Among = Annotated[
    list[str] | None,
    typer.Option(
        "--among",
        metavar="'NAME; NAME'",
        help="Substances of the unknowns set that the vials belong to, once for each vial. May be repeated.",
    ),
]
OfSet = Annotated[
    Path | None,
    typer.Option(
        "--set", metavar="FILE", help="Unknowns set (YAML) that the vials belong to, in place of --among; its key is not shown."
    ),
]
Full = Annotated[bool, typer.Option("--full", help="Reasons on every class, each step, further signs and exceptions.")]
QuizSet = Annotated[
    Path | None,
    typer.Option("--set", metavar="FILE", help="Ask about an unknowns set (YAML) and with its tests only; its key is not shown."),
]
QuizAssessment = Annotated[
    bool,
    typer.Option(
        "--assessment", help="With --set: the set is used for an assessment; nothing asks for a class of it or tells one."
    ),
]
Learner = Annotated[
    str | None,
    typer.Option("--learner", metavar="NAME", help="Whose progress it is, where several use one machine.", show_default=False),
]
ProgressPath = Annotated[
    Path | None,
    typer.Option(
        "--progress", metavar="FILE", help="Keep progress in this file, in place of the user's own folder.", show_default=False
    ),
]
NoMemory = Annotated[bool, typer.Option("--no-memory", help="Neither read progress nor keep any.")]
