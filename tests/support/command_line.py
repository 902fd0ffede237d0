"""The command line in this process, with what a shell would see of it."""

from __future__ import annotations

from dataclasses import dataclass

from click.testing import CliRunner

from rationlp.cli.app import app


@dataclass(frozen=True)
class Done:
    """What a command left behind."""

    returncode: int
    stdout: str
    stderr: str


def run(*arguments: object) -> Done:
    """The command `rationlp` with these words."""
    done = CliRunner().invoke(app, [str(word) for word in arguments], prog_name="rationlp")
    if done.exception and not isinstance(done.exception, SystemExit):
        raise done.exception
    return Done(done.exit_code, done.stdout, done.stderr)
