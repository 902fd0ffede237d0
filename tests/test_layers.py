"""One direction of imports, heavy packages only where they belong, and files of a length that can be read at once."""

from __future__ import annotations

import subprocess
import sys
from graphlib import TopologicalSorter
from pathlib import Path

import grimp
import pytest

ROOT = Path(__file__).parents[1]
LONGEST = 400  # lines
MOST_FILES = 15  # of a room


def python(*arguments):
    return subprocess.run([sys.executable, *arguments], capture_output=True, text=True, check=False, cwd=ROOT)


@pytest.mark.slow
def test_rooms_import_only_from_below():
    done = python("-c", "from importlinter.cli import lint_imports_command as lint; lint()", "--no-cache", "--no-logo")
    assert done.returncode == 0, done.stdout + done.stderr


def test_no_file_imports_itself_in_the_end():
    """Not in a function and not for types either: a circle raises `CycleError`, which names its files."""
    graph = grimp.build_graph("rationlp", cache_dir=None)
    imported = {module: graph.find_modules_directly_imported_by(module) for module in graph.modules}
    assert len(imported) > 400
    TopologicalSorter(imported).prepare()


def test_help_loads_nothing_heavy():
    code = (
        "import sys; sys.argv = ['rationlp', '--help'];"
        "from rationlp.__main__ import main; main();"
        "heavy = {'click', 'pydantic', 'numpy', 'pulp', 'openpyxl', 'pandas', 'tabulate'} & set(sys.modules);"
        "sys.exit(', '.join(heavy) or 0)"
    )
    done = python("-c", code)
    assert done.returncode == 0, done.stderr


def test_files_are_short():
    lengths = {path: len(path.read_text(encoding="utf-8").splitlines()) for path in (ROOT / "rationlp").rglob("*.py")}
    assert {path: length for path, length in lengths.items() if length > LONGEST} == {}


def test_rooms_are_small():
    rooms = [path for path in (ROOT / "rationlp").rglob("*") if path.is_dir()]
    files = {room: [path for path in room.glob("*.py") if path.name != "__init__.py"] for room in rooms}
    assert {room: len(found) for room, found in files.items() if len(found) > MOST_FILES} == {}
