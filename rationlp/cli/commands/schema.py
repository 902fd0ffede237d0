"""rationlp schema: what the JSON answer of a command looks like."""

from __future__ import annotations

import json

import click

from rationlp.cli.overview import COMMANDS


@click.command(name="schema")
@click.argument(
    "name", metavar="COMMAND", shell_complete=lambda ctx, param, begun: [c for c in COMMANDS if c.startswith(begun)]
)
def command(name: str) -> None:
    """The JSON Schema (draft 2020-12) of what a command prints with --format json, a mistake among it.

    More keys than it names may stand in an answer; those it names keep their meaning while schema_version is the same.
    'many' prints one such object a line.

    Example: rationlp schema ration
    """
    from rationlp.show.schema.made import schema_of

    click.echo(json.dumps(schema_of(name), ensure_ascii=False, indent=2))
