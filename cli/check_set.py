"""`spotplate check-set`: what the tests of a set can tell apart, what follows for each vial, and the key of the set."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Any

import msgspec
import typer

from spotplate.engine.files.cupboards import read_cupboard
from spotplate.engine.files.sets import read_set, write_set
from spotplate.engine.record import find_test
from spotplate.engine.sets import (
    Difficulty,
    Key,
    ParallelSet,
    SetCheck,
    UnknownsSet,
    difficulty,
    make_key,
    make_versions,
    parallel_sets,
)
from spotplate.engine.sets import check_set as check
from spotplate.kb import Fault, FaultyInputError, KnowledgeBase, load_knowledge, not_accepted, shown

from .exit_codes import NOT_SETTLED, SETTLED
from .json_shape import plain_data, print_json, reading_data
from .options import AsJson, Plain
from .views.page import Block, show
from .views.set_check import difficulty_page, key_page, letters_page, parallel_page, set_check_page

MOST_GROUPS = 200
MOST_PARALLEL = 20


def check_set(
    set_file: Annotated[Path, typer.Argument(metavar="SET", help="Unknowns set (YAML), its key included.", show_default=False)],
    tests: Annotated[
        list[str] | None,
        typer.Option(
            "--tests",
            metavar="'TEST; TEST'",
            help="Bench tests that can be done, in place of the file's. May be repeated.",
        ),
    ] = None,
    told_apart_by: Annotated[
        int | None,
        typer.Option(
            "--told-apart-by", min=1, max=3, metavar="R", help="Tests that must tell any two vials apart, in place of the file's."
        ),
    ] = None,
    pairs: Annotated[bool, typer.Option("--pairs", help="Every pair with the tests that tell it apart.")] = False,
    key: Annotated[bool, typer.Option("--key", help="The identification key of this set, and how long it is.")] = False,
    groups: Annotated[
        int, typer.Option("--groups", min=0, max=MOST_GROUPS, metavar="N", help="Letters for N groups, other ones for each.")
    ] = 0,
    parallel: Annotated[
        int,
        typer.Option("--parallel", min=0, max=MOST_PARALLEL, metavar="N", help="N sets as hard as this one; needs --cupboard."),
    ] = 0,
    cupboard: Annotated[
        Path | None, typer.Option("--cupboard", metavar="FILE", help="Cupboard (CSV) that parallel sets are taken from.")
    ] = None,
    folder: Annotated[
        Path | None, typer.Option("--folder", metavar="FOLDER", help="Write the parallel sets into this folder, as YAML.")
    ] = None,
    seed: Annotated[int, typer.Option("--seed", help="Of the letters and of the parallel sets.")] = 1,
    as_json: AsJson = False,
    plain: Plain = False,
) -> None:
    """Check a set of unknowns: pairs, the smallest kit, what a perfect student concludes, where rules of thumb mislead.

    For the teacher: the answer holds the key. Exit code 0 when any two vials are told apart by as many tests as wished,
    1 when they are not, 2 on bad input.
    """
    knowledge = load_knowledge()
    unknowns_set = _wished(read_set(set_file, knowledge), tests or [], told_apart_by, knowledge)
    if bool(parallel) != (cupboard is not None):
        raise FaultyInputError([Fault("", "parallel sets need both --parallel N and --cupboard FILE.")])
    if folder is not None and not folder.is_dir():
        raise FaultyInputError([Fault("option --folder", f"{shown(folder)} is no folder.")])
    found = check(unknowns_set, knowledge)
    shortest = make_key(unknowns_set, knowledge)
    hard = difficulty(unknowns_set, knowledge, key=shortest)
    versions = make_versions(unknowns_set, groups, seed)
    others = parallel_sets(unknowns_set, read_cupboard(cupboard).substances(), parallel, seed, knowledge) if cupboard else ()
    if folder is not None:
        _write(others, folder, set_file.stem, knowledge)
    if as_json:
        print_json(
            {
                **_check_data(found),
                "difficulty": msgspec.to_builtins(hard),
                "key": msgspec.to_builtins(shortest),
                "versions": msgspec.to_builtins(versions),
                "parallel_sets": msgspec.to_builtins(others),
            }
        )
    else:
        page = _page(found, hard, shortest, pairs=pairs, key=key, plain=plain)
        page += letters_page(unknowns_set, versions, seed) if versions else []
        page += parallel_page(others, parallel, hard) if cupboard else []
        show(page, plain=plain)
    raise typer.Exit(SETTLED if found.kit.parts_all else NOT_SETTLED)


def _page(found: SetCheck, hard: Difficulty, shortest: Key, *, pairs: bool, key: bool, plain: bool) -> list[Block]:
    page = set_check_page(found, all_pairs=pairs)
    page += difficulty_page(hard)
    return page + (key_page(shortest, found.unknowns_set, plain=plain) if key else [])


def _wished(unknowns_set: UnknownsSet, tests: Sequence[str], told_apart_by: int | None, knowledge: KnowledgeBase) -> UnknownsSet:
    """The set with what the options ask in place of what its file says."""
    if told_apart_by is not None:
        unknowns_set = msgspec.structs.replace(unknowns_set, parted_at_least=told_apart_by)
    names = [part.strip() for text in tests for part in text.split(";") if part.strip()]
    if tests and not names:
        raise FaultyInputError([Fault("option --tests", "there is no test in it; write tests with semicolons between them.")])
    found = {name: find_test(name, knowledge) for name in names}
    known = list(knowledge.tests)
    unknown = [name for name, test in found.items() if test is None]
    if unknown:
        says = [not_accepted(name, "a bench test", known, most=len(known)) for name in unknown]
        raise FaultyInputError([Fault("option --tests", each) for each in says])
    kept = tuple(dict.fromkeys(test.id for test in found.values() if test))
    return msgspec.structs.replace(unknowns_set, tests=kept) if kept else unknowns_set


def _write(others: Sequence[ParallelSet], folder: Path, stem: str, knowledge: KnowledgeBase) -> None:
    """Write the sets, all of them or none."""
    paths = [folder / f"{stem}-parallel-{number}.yaml" for number in range(1, len(others) + 1)]
    if there := [path for path in paths if path.exists()]:
        raise FaultyInputError([Fault("option --folder", f"{shown(path.name)} is there already.") for path in there])
    for other, path in zip(others, paths, strict=True):
        write_set(other.unknowns_set, path, knowledge)


def _check_data(found: SetCheck) -> dict[str, Any]:
    """The check as JSON data; readings as in `identify --json`."""
    data: dict[str, Any] = {
        "set": msgspec.to_builtins(found.unknowns_set),
        "tests": list(found.tests),
        "cannot_be_done": {test: list(missing) for test, missing in found.cannot_be_done.items()},
        "parted_at_least": found.parted_at_least,
        "pairs": msgspec.to_builtins(found.pairs),
        "kit": msgspec.to_builtins(found.kit),
        "misleading": plain_data(found.misleading),
        "conclusions": [],
    }
    for item in found.conclusions:
        told = plain_data(msgspec.structs.replace(item, readings={}))
        told["readings"] = {name: reading_data(value) for name, value in item.readings.items()}
        data["conclusions"].append(told)
    return data
