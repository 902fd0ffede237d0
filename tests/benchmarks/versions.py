"""The same answers on every Python and PuLP: `python tests/benchmarks/versions.py PLACE [PYTHON ...]`.

In the folder PLACE an environment is made with each PYTHON (all of 3.11 to 3.14 that are found, if none is named) with
the newest of everything, and one with this Python and PuLP 3.3; the answers of ANSWERS on the demo book, as JSON, must
be those of this environment: numbers to a millionth, everything else word for word. Exit code 1 where they are not.
"""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
BOOK = ROOT / "demo" / "stillwater_bend.xlsx"
PYTHONS = ("python3.11", "python3.12", "python3.13", "python3.14")
ANSWERS = (
    ("check",),
    ("bin",),
    ("ration",),
    ("ration", "--stage", "sw_gro_25_50", "--set", "confidence_pct=90"),
    ("offers", "--stage", "sw_boar", "--stage", "hen_brown_110", "--bin", "north"),
    ("resample", "--stage", "sw_boar"),
    ("sheets", "--stage", "sw_boar", "-o", "mix.csv"),
    ("year",),
)
CLOSE = 1e-6
MOST = 20
"""Differences are listed up to so many."""


def environment(place: Path, python: str, *asked: str) -> str:
    """A new environment with the program and what it needs; its Python."""
    subprocess.run([python, "-m", "venv", place], check=True)
    made = place / "bin" / "python"
    subprocess.run([made, "-m", "pip", "install", "-q", "-e", str(ROOT), *asked], check=True)
    return str(made)


def answers(python: str) -> dict[str, Any]:
    """Exit code and JSON of every answer, by what was asked, on a copy of the demo book."""
    found = {}
    with tempfile.TemporaryDirectory() as place:
        book = shutil.copy(BOOK, Path(place) / "farm.xlsx")
        for command, *words in ANSWERS:
            asked = [python, "-m", "rationlp", command, str(book), *words, "--format", "json"]
            env = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONHASHSEED": "random"}
            done = subprocess.run(asked, cwd=place, env=env, capture_output=True, text=True, check=False)
            text = done.stdout.replace(place, "PLACE")
            found[" ".join((command, *words))] = [done.returncode, json.loads(text) if text.strip() else done.stderr]
    return found


def differences(one: Any, other: Any, where: str = "") -> Iterator[str]:
    """Where two answers are not the same."""
    if isinstance(one, dict) and isinstance(other, dict) and one.keys() == other.keys():
        for key in one:
            yield from differences(one[key], other[key], f"{where}/{key}")
    elif isinstance(one, list) and isinstance(other, list) and len(one) == len(other):
        for place, (a, b) in enumerate(zip(one, other, strict=True)):
            yield from differences(a, b, f"{where}/{place}")
    elif isinstance(one, int | float) and isinstance(other, int | float):
        if abs(one - other) > CLOSE * max(1.0, abs(one)):
            yield f"{where}: {one} and {other}"
    elif one != other:
        yield f"{where}: {str(one)[:80]!r} and {str(other)[:80]!r}"


def main() -> int:
    """Compare all; how many environments answer otherwise."""
    place, *named = sys.argv[1:]
    here = answers(sys.executable)
    tried = [(python, ()) for python in named or filter(shutil.which, PYTHONS)]
    wrong = 0
    for number, (python, asked) in enumerate([*tried, (sys.executable, ("pulp==3.3.*",))]):
        made = environment(Path(place) / str(number), python, *asked)
        found = list(differences(here, answers(made)))
        print(f"{python} {' '.join(asked)}: {len(found)} differences")
        for line in found[:MOST]:
            print(f"  {line}")
        wrong += bool(found)
    return min(wrong, 1)


if __name__ == "__main__":
    sys.exit(main())
