"""The `sagline` command: parses, calls, prints.

Exit codes: 0 done; 2 bad input or use, one sentence on stderr and nothing on stdout;
3 done, but something was in doubt and left out.
"""

from __future__ import annotations

import sys
import warnings
from typing import Annotated

import typer

from telemetry.cli import comparing, fleet, keeping, planning, reviewing, showing
from telemetry.errors import SaglineError

BAD_INPUT = 2
_USAGE_ERROR: type[Exception] = next(c for c in typer.BadParameter.__mro__ if c.__name__ == "ClickException")
"""The base of every usage error; typer has it from a package of its own or from click, by version."""

app = typer.Typer(
    name="sagline",
    help="Flight logs of electric model aircraft: debrief, prediction, timer.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


def _print_version(wanted: bool) -> None:
    if wanted:
        from telemetry.made import version

        typer.echo(f"sagline {version()}")
        raise typer.Exit


@app.callback()
def _every_command(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version."),
    ] = False,
) -> None:
    """What stands before any command."""


for command in (
    showing.demo,
    reviewing.review,
    reviewing.columns,
    planning.predict,
    planning.recalibrate,
    planning.timer,
    keeping.keep,
    keeping.flights,
    keeping.edit,
    fleet.aircraft,
    fleet.packs,
    keeping.remove,
    keeping.restore,
    comparing.compare,
    keeping.check,
    reviewing.export,
    reviewing.report,
    showing.serve,
    showing.simulate,
):
    app.command()(command)


def main() -> None:
    """Run the command line and leave with its exit code. On stderr stand our sentences alone."""
    warnings.simplefilter("ignore")
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """One call of the command; returns the exit code."""
    try:
        outcome = app(args=arguments, prog_name="sagline", standalone_mode=False)
    except SaglineError as error:
        typer.echo(str(error), err=True)
        return BAD_INPUT
    except _USAGE_ERROR as error:
        command = (
            f" {arguments[0]}"
            if arguments and not arguments[0].startswith("-") and "No such command" not in str(error)
            else ""
        )
        typer.echo(f"sagline: {_one_line(error)}. See sagline{command} --help.", err=True)
        return BAD_INPUT
    except (typer.Abort, KeyboardInterrupt):
        return 130
    except BrokenPipeError:
        return 0
    return outcome if isinstance(outcome, int) else 0


def _one_line(error: Exception) -> str:
    """What is wrong with the command as typed; of what is missing, how to give it and what it is."""
    missing = getattr(error, "param", None)
    if type(error).__name__ == "MissingParameter" and missing is not None:
        option = missing.opts[0] if missing.param_type_name == "option" else ""
        said = str(getattr(missing, "help", None) or "").rstrip(".")
        return (
            f"{' '.join(filter(None, (option, missing.metavar)))} is missing: "
            f"{said[:1].lower() + said[1:] if not said[1:2].isupper() else said}"
        )
    message = error.format_message() if hasattr(error, "format_message") else str(error)
    return " ".join(str(message).split()).rstrip(".")
