"""The worked example of feed_library/README.md, followed word for word.

A block ```sh runs its `$ ` lines and looks for the other lines in what they print; ```csv append to FILE adds its lines
to the file; ```csv replace in FILE finds the first line (or its beginning) and puts the second in its place.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from importlib.resources import files
from pathlib import Path

import pytest

SHIPPED = Path(str(files("feed_library")))
BLOCK = re.compile(r"^```(sh|csv (?:append to|replace in) \S+)\n(.*?)^```$", re.MULTILINE | re.DOTALL)


def run(line: str, folder: Path) -> str:
    """What a command prints, answer and talk together."""
    words = shlex.split(line)
    if words[0] == "rationlp":
        words = [sys.executable, "-m", *words]
    done = subprocess.run(words, cwd=folder, capture_output=True, text=True, check=False, env=environment())
    assert done.returncode == 0, f"{line}\n{done.stderr}"
    return done.stdout + done.stderr


def environment() -> dict[str, str]:
    import os

    return {**os.environ, "PYTHONPATH": str(SHIPPED.parent)}


def follow(block: tuple[str, str], folder: Path) -> None:
    kind, body = block
    lines = body.splitlines()
    if kind == "sh":
        commands = [line[2:] for line in lines if line.startswith("$ ")]
        printed = " ".join(" ".join(run(command, folder) for command in commands).split())
        for line in (line for line in lines if not line.startswith("$ ")):
            assert line in printed, f"{commands}: {line!r} is not in\n{printed[:4000]}"
        return
    verb, _, name = kind.removeprefix("csv ").partition(" ")
    path = folder / name.split()[-1]
    text = path.read_text(encoding="utf-8")
    if verb == "append":
        path.write_text(text + body, encoding="utf-8")
        return
    old, new = lines
    (whole,) = [line for line in text.splitlines() if line.startswith(old)]
    path.write_text(text.replace(whole, new + whole.removeprefix(old), 1), encoding="utf-8")


@pytest.mark.slow
def test_the_worked_example(tmp_path: Path) -> None:
    shutil.copytree(SHIPPED, tmp_path / "feed_library")
    blocks = BLOCK.findall((SHIPPED / "README.md").read_text(encoding="utf-8"))
    assert len(blocks) >= 8
    for block in blocks:
        follow(block, tmp_path)


def test_the_readme_names_every_table() -> None:
    from rationlp.library.tables import TABLES

    text = (SHIPPED / "README.md").read_text(encoding="utf-8")
    names = (*TABLES, "corrections", "checksums")
    assert [name for name in names if f"`{name}`" not in text and f"`{name}.csv`" not in text] == []
