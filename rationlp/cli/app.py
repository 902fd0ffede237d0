"""The command group: commands load on first use, errors become one line each and an exit code."""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import click

from rationlp.cli.output import tell
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
        command: click.Command = importlib.import_module(f"rationlp.cli.commands.{cmd_name}").command
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """The command asked for; of one there is none, what comes near is told."""
        if args and not args[0].startswith("-") and args[0] not in COMMANDS and not ctx.resilient_parsing:
            from rationlp.finder import names_of

            ctx.fail(f"No such command {args[0]!r}. {names_of(COMMANDS).suggestion(args[0], '')}".rstrip())
        return super().resolve_command(ctx, args)

    def format_help(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        formatter.write(overview() + "\n")

    def invoke(self, ctx: click.Context) -> Any:
        as_json = _wants_json(ctx.args)
        try:
            return super().invoke(ctx)
        except InputError as error:
            problems = [_as_option(problem, ctx) for problem in error.problems]
            if as_json:
                _write_error(problems, str(error), error.exit_code)
            tell(problems)
            count = sum(problem.severity == "error" for problem in error.problems)
            click.echo(f"{count} problem{'s' if count != 1 else ''} to put right; nothing was done.", err=True)
            sys.exit(error.exit_code)
        except RationlpError as error:
            if as_json:
                _write_error([], str(error), error.exit_code)
            click.echo(f"error: {error}", err=True)
            sys.exit(error.exit_code)


def _wants_json(words: Sequence[str]) -> bool:
    """Whether the answer is asked for as JSON; a mistake is then told so, too."""
    return "--format=json" in words or ("--format", "json") in pairwise(words)


def _write_error(problems: Sequence[Problem], words: str, exit_code: int) -> None:
    """What went wrong as JSON on stdout, beside the lines on stderr."""
    from rationlp.show.data.as_json import error_document, write_json

    write_json(error_document(problems, words, exit_code))


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
