"""All commands, joined in one place, and the one place that turns errors into messages and exit codes."""

from __future__ import annotations

import importlib
import os
import sys
from collections.abc import Iterable, Sequence
from typing import NoReturn

import typer

from spotplate.kb import FaultyInputError, SpotplateError

from .exit_codes import BAD_INPUT, INTERRUPTED
from .streams import prepare_streams

# Command → module of this folder that holds it, in a function of the module's own name; in the order of the help.
COMMANDS = {
    "identify": "identify",
    "summary": "summary",
    "bench": "bench",
    "demo": "demo",
    "quiz": "quiz",
    "mark": "mark",
    "progress": "quiz_progress",
    "blank-record": "blank_record",
    "print-set": "print_set",
    "print-quiz": "print_quiz",
    "substance": "substance",
    "cupboard": "cupboard",
    "plan-set": "plan_set",
    "check-set": "check_set",
    "classes": "classes",
    "tests": "bench_tests",
    "rules": "rules",
    "check-rules": "check_rules",
    "audit-rules": "audit_rules",
    "tree": "tree",
    "calibration": "calibration",
    "misreadings": "misreadings",
    "simulate": "simulate",
    "report": "report",
}


def make_app(names: Iterable[str] = COMMANDS) -> typer.Typer:
    """The command line with these commands. Only their modules are imported, since reading all of them takes its time."""
    app = typer.Typer(
        name="spotplate",
        help=(
            "Turn bench readings of an unknown substance into a defended identification of its bonding class. "
            "Exit codes: 0 settled, 1 not settled, 2 bad input."
        ),
        no_args_is_help=True,
        pretty_exceptions_enable=False,
        context_settings={"help_option_names": ["-h", "--help"]},
    )
    app.callback()(_group)
    for name in names:
        module = COMMANDS[name]
        app.command(name)(getattr(importlib.import_module(f".{module}", __package__), module))
    return app


def _group() -> None:
    """Commands stay commands even when there is but one."""


def _asked_for(arguments: Sequence[str]) -> Iterable[str]:
    """The one command that is asked for by name; all of them for help, completion and misspelt ones."""
    return arguments[:1] if arguments and arguments[0] in COMMANDS else COMMANDS


def main() -> NoReturn:
    """Run the command line; every error that people can mend is told in plain words on stderr."""
    prepare_streams()
    try:
        try:
            make_app(_asked_for(sys.argv[1:]))()
        finally:
            sys.stdout.flush()
    except KeyboardInterrupt:  # while a command is being imported; what runs tells more of it
        sys.exit(INTERRUPTED)
    except OSError as error:
        told = error.strerror or str(error)
        print(f"error: the output cannot be written: {told}.", file=sys.stderr)
        sys.stdout = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115  (else Python tries once more on leaving)
        sys.exit(BAD_INPUT)
    except FaultyInputError as error:
        for fault in error.faults:
            print(f"error: {fault}", file=sys.stderr)
        sys.exit(BAD_INPUT)
    except SpotplateError as error:
        print(f"error: {error}", file=sys.stderr)
        sys.exit(BAD_INPUT)
    sys.exit(0)
