"""All commands, joined in one place, and the one place that turns errors into messages and exit codes."""

from __future__ import annotations

import os
import sys
from typing import NoReturn

import typer

from spotplate.kb import FaultyInputError, SpotplateError

from . import bench_tests, blank_record, check_rules, classes, demo, identify, report, rules, substance
from .exit_codes import BAD_INPUT
from .streams import prepare_streams

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
app.command("identify")(identify.identify)
app.command("demo")(demo.demo)
app.command("blank-record")(blank_record.blank_record)
app.command("substance")(substance.substance)
app.command("classes")(classes.classes)
app.command("tests")(bench_tests.bench_tests)
app.command("rules")(rules.rules)
app.command("check-rules")(check_rules.check_rules)
app.command("report")(report.report)


def main() -> NoReturn:
    """Run the command line; every error that people can mend is told in plain words on stderr."""
    prepare_streams()
    try:
        try:
            app()
        finally:
            sys.stdout.flush()
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
