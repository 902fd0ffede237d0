"""No command without help, an example and a place in the README."""

from __future__ import annotations

import importlib
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from rationlp.cli.app import app
from rationlp.cli.overview import COMMANDS, overview

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_has_help_with_an_example(name):
    command = importlib.import_module(f"rationlp.cli.commands.{name}").command
    assert isinstance(command, click.Command)
    answer = CliRunner().invoke(app, [name, "--help"])
    assert answer.exit_code == 0
    assert f"Example: rationlp {name}" in " ".join(answer.output.split())


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_stands_in_the_readme(name):
    assert f"| `{name} " in README


@pytest.mark.parametrize("name", [name for name in COMMANDS if name not in ("new", "schema")])
def test_every_command_speaks_three_formats_and_takes_a_library(name):
    command = importlib.import_module(f"rationlp.cli.commands.{name}").command
    options = {option for parameter in command.params for option in parameter.opts}
    assert "--library" in options
    if name not in ("sheets", "report", "open"):  # these write a file or serve a page
        assert "--format" in options


def test_the_group_and_the_fast_path_print_the_same_help():
    assert CliRunner().invoke(app, ["--help"]).output.strip() == overview().strip()
