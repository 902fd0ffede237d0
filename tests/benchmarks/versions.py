"""The same answers on every Python and PuLP: `python tests/benchmarks/versions.py PLACE [PYTHON ...]`.

In the folder PLACE an environment is made with each PYTHON (all of 3.11 to 3.14 that are found, if none is named) with
the newest of everything, one with this Python and PuLP 3.3, and one with the lowest version of everything that
pyproject.toml lets in; one that is there is used again. The answers of ANSWERS on the demo book, as JSON, must be those
of this environment: numbers to a millionth, everything else word for word. Exit code 1 where they are not.
"""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "support"))

from same_answers import differences  # noqa: E402

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
MOST = 20
"""Differences are listed up to so many."""


def environment(place: Path, python: str, *asked: str) -> str:
    """An environment with what the program needs, made if it is not there; its Python."""
    made, ready = place / "bin" / "python", place / "ready"
    if not ready.exists():
        subprocess.run([python, "-m", "venv", place], check=True)
        subprocess.run([made, "-m", "pip", "install", "-q", *asked], check=True)
        ready.touch()
    return str(made)


def needs() -> list[str]:
    """What pyproject.toml asks for, `name>=lowest` and perhaps more."""
    found: list[str] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    return found


def lowest() -> list[str]:
    """The lowest version of each that is let in."""
    return [re.sub(r"^([\w.-]+)\s*>=\s*([\d.]+).*", r"\1==\2", need) for need in needs()]


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


def main() -> int:
    """Compare all; how many environments answer otherwise."""
    place, *named = sys.argv[1:]
    here = answers(sys.executable)
    tried = {f"newest, {python}": (python, needs()) for python in named or filter(shutil.which, PYTHONS)}
    tried["PuLP 3.3"] = (sys.executable, [*needs(), "pulp==3.3.*"])
    tried["lowest"] = (sys.executable, lowest())
    wrong = 0
    for name, (python, asked) in tried.items():
        made = environment(Path(place) / name.replace("/", "_"), python, *asked)
        found = list(differences(here, answers(made)))
        print(f"{name}: {len(found)} differences", flush=True)
        for line in found[:MOST]:
            print(f"  {line}")
        wrong += bool(found)
    return min(wrong, 1)


if __name__ == "__main__":
    sys.exit(main())
