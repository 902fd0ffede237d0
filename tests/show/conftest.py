"""The commands in this process, on the demo farm and farms like it."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from random_farms import read_sheets, write_sheets

from rationlp.cli.app import app


@pytest.fixture(scope="session")
def run() -> Callable[..., Result]:
    """Runs a command as a shell would, without a terminal."""

    def run(*arguments: object, code: int | tuple[int, ...] = (0, 3)) -> Result:
        done = CliRunner().invoke(app, [str(argument) for argument in arguments])
        codes = code if isinstance(code, tuple) else (code,)
        assert done.exit_code in codes, done.output
        return done

    return run


@pytest.fixture(scope="session")
def ten_groups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo farm with its first ten groups."""
    sheets = read_sheets()
    sheets["groups"] = sheets["groups"][:10]
    return write_sheets(sheets, tmp_path_factory.mktemp("ten") / "farm")


@pytest.fixture(scope="session")
def two_groups(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo farm with two groups, quick to calculate."""
    sheets = read_sheets()
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in ("broiler_0_3", "sw_gro_25_50")]
    return write_sheets(sheets, tmp_path_factory.mktemp("two") / "farm")
