"""The code as its tools want it: no lint, one format, types that hold, nothing that nobody uses."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]


def tool(*arguments):
    """Run a tool of the test extra; its settings stand in pyproject.toml."""
    done = subprocess.run([sys.executable, "-m", *arguments], capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_lint():
    tool("ruff", "check", ".")


def test_one_format():
    tool("ruff", "format", "--check", ".")


@pytest.mark.slow
def test_types_hold():
    tool("mypy")


@pytest.mark.slow
def test_nothing_is_dead():
    tool("vulture")
