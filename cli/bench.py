"""`spotplate bench`: a session at the bench, one question at a time."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import msgspec
import typer

from spotplate.engine.bench.memory import Memory
from spotplate.engine.bench.session import Session, tests_without
from spotplate.engine.files.bench_files import BenchFiles
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase

from .bench_dialogue import UNWRITTEN, BenchDialogue
from .exit_codes import INTERRUPTED, NOT_SETTLED
from .knowledge import chosen_knowledge
from .options import Among, ExtraRules, OfSet, OwnRules, Plain
from .records import among_of

_NOTHING = "nothing"


def bench(
    record: Annotated[
        Path,
        typer.Argument(
            help="YAML record, CSV with one vial a row, or a folder of YAML records. A file that is not there is begun.",
            show_default=False,
        ),
    ],
    vial: Annotated[str, typer.Option("--vial", help="The vial to begin with; a new label begins a new record.")] = "",
    among: Among = None,
    of_set: OfSet = None,
    missing: Annotated[
        list[str] | None,
        typer.Option(
            "--missing", metavar="NAME", help="Apparatus or a test that is not on this bench, or “nothing”. May be repeated."
        ),
    ] = None,
    assessment: Annotated[
        bool, typer.Option("--assessment", help="Only record: show no ranking, verdict, reasons or proposals.")
    ] = False,
    rules: OwnRules = None,
    extra_rules: ExtraRules = None,
    plain: Plain = False,
) -> None:
    """Work at the bench: one plain question at a time, and which test is worth doing next.

    Every answer is in the record before the next question comes; the same command goes on where a session was left.
    Exit code 0 when the session was ended, 1 when the vial is no case for this program, 130 after Ctrl-C.
    """
    knowledge = chosen_knowledge(rules, extra_rules)
    with BenchFiles(record, knowledge) as files:
        memory = _memory(files, among_of(among or [], of_set, knowledge), missing or [], knowledge, assessment=assessment)
        dialogue = BenchDialogue(files, _session(files, memory, vial, knowledge), knowledge, plain=plain)
        try:
            is_case = dialogue.run()
        except KeyboardInterrupt:
            kept = UNWRITTEN if dialogue.unwritten else "Every answer is kept"
            print(f"\nStopped. {kept}; to go on:\nspotplate bench {_quoted(record)}", file=sys.stderr)
            raise typer.Exit(INTERRUPTED) from None
    if not is_case:
        raise typer.Exit(NOT_SETTLED)


def _memory(
    files: BenchFiles, among: Sequence[str], missing: Sequence[str], knowledge: KnowledgeBase, *, assessment: bool
) -> Memory:
    """What an earlier session remembered, with what the options of this one say beyond it."""
    memory = files.memory() or Memory()
    changes: dict[str, object] = {"assessment": memory.assessment or assessment}
    if among:
        changes["among"] = tuple(among)
    if missing:
        kept = () if _NOTHING in missing else memory.missing
        named = [name for name in missing if name != _NOTHING]
        changes["missing"] = tuple(dict.fromkeys((*kept, *tests_without(named, knowledge))))
    return msgspec.structs.replace(memory, **changes)


def _session(files: BenchFiles, memory: Memory, vial: str, knowledge: KnowledgeBase) -> Session:
    """The session on the vial asked for, which is begun where it is not there."""
    if not files.records and not vial.strip() and files.is_folder:
        raise FaultyInputError([Fault(str(files.path), "there is no record in this folder; name the first vial with --vial.")])
    label = " ".join(vial.split()) or ("" if files.records else files.path.stem)
    if label and label not in files.records:
        files.add_vial(label)
    session = Session(files.records, memory, knowledge)
    if label:
        session.switch(label)
    files.remember(session.memory)
    return session


def _quoted(path: Path) -> str:
    return f'"{path}"' if " " in str(path) else str(path)
