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


@pytest.mark.parametrize("room", ["bins", "feeds", "herd", "offers", "rations", "resample", "sheets", "stages", "year"])
def test_every_file_of_a_room_that_computes_is_in_a_part(room):
    held = tuple(source for part in COMPUTING.values() for source in part.sources)
    files = [str(path.relative_to(ROOT)) for path in (ROOT / "rationlp" / room).rglob("*.py")]
    assert [name for name in files if not name.startswith(held) and not name.endswith("__init__.py")] == []
