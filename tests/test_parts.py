"""What mistakes are put into, and whose coverage is measured, is what is there: a file that moved drops out unsaid."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT / "tests" / "benchmarks"))
from parts import COMPUTING  # noqa: E402


@pytest.mark.parametrize("name", COMPUTING)
def test_every_part_names_files_that_are_there(name):
    named = (*COMPUTING[name].sources, *COMPUTING[name].tests)
    assert [path for path in named if not (ROOT / path).exists()] == []
