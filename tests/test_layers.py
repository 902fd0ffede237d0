"""One direction of imports, and heavy packages only where they belong."""

from __future__ import annotations

import ast
import subprocess
import sys
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "rationlp"
LAYERS = ["errors", "units", "library", "book", "figures", "cautions", "bins", "rations", "offers", "resample", "sheets",
          "show", "cli", "__main__"]  # fmt: skip
ALLOWED = {
    "click": {"cli"},
    "pulp": {"rations/solver.py"},
    "highspy": {"rations/solver.py"},
    "openpyxl": {"book", "sheets", "show", "resample"},
    "pydantic": {"library"},
    "tabulate": {"show"},
    "pandas": {"show"},
    "matplotlib": {"show", "offers"},
}
FILES = sorted(PACKAGE.rglob("*.py"))


def imports(path):
    """Modules a file imports, those under TYPE_CHECKING left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    skipped = {
        id(inner)
        for node in ast.walk(tree)
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if id(node) in skipped:
            continue
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_imports(path):
    relative = path.relative_to(PACKAGE)
    layer = relative.parts[0].removesuffix(".py")
    for module in imports(path):
        root, *rest = module.split(".")
        if root == "rationlp" and rest and layer in LAYERS:
            assert LAYERS.index(rest[0]) <= LAYERS.index(layer), f"{relative} imports {module} from a later layer"
        if root in ALLOWED:
            assert {str(relative), relative.parts[0]} & ALLOWED[root], f"{relative} imports {root}"


def test_help_loads_nothing_heavy():
    code = (
        "import sys; sys.argv = ['rationlp', '--help'];"
        "from rationlp.__main__ import main; main();"
        "heavy = {'click', 'pydantic', 'numpy', 'pulp', 'openpyxl', 'pandas', 'tabulate'} & set(sys.modules);"
        "sys.exit(', '.join(heavy) or 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, cwd=PACKAGE.parent)
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_modules_are_short(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 450
