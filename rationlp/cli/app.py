"""The command group: commands load on first use, errors become one line each and an exit code."""

from __future__ import annotations

import importlib
import sys
from dataclasses import replace
from typing import Any

import click

from rationlp.cli.overview import COMMANDS, overview
from rationlp.errors import InputError, Problem, RationlpError
from rationlp.version import __version__

SPOKEN = {"setting": "set"}
"""Options that are called by another word than what they set."""


class LazyGroup(click.Group):
    """Commands are imported when they are called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = importlib.import_module(f"rationlp.cli.{cmd_name}").command
        return command

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        formatter.write(overview() + "\n")

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except InputError as error:
            for problem in error.problems:
                click.echo(_as_option(problem, ctx).line(), err=True)
            count = sum(problem.severity == "error" for problem in error.problems)
            click.echo(f"{count} problem{'s' if count != 1 else ''} to put right; nothing was done.", err=True)
            sys.exit(error.exit_code)
        except RationlpError as error:
            click.echo(f"error: {error}", err=True)
            sys.exit(error.exit_code)


def _as_option(problem: Problem, ctx: click.Context) -> Problem:
    """A problem of something asked for, under the name of the option that asks for it."""
    command = app.get_command(ctx, ctx.invoked_subcommand or "")
    options = [option for param in command.params for option in param.opts] if command else []
    named = f"--{SPOKEN.get(problem.sheet, problem.sheet).replace('_', '-')}"
    return replace(problem, sheet=named) if not problem.cell and named in options else problem


@click.group(cls=LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="rationlp")
def app() -> None:
    """rationlp"""
