"""The README's two lines are what they say they are; the demo line works on a clean clone with nothing set up."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")


def line(name):
    """The one command under a marker of the README."""
    block = re.search(rf"<!-- {name} line -->\n```sh\n(.*?)\n```\n<!-- end -->", README, re.S)
    assert block, f"README.md has no {name} line"
    assert "\n" not in block[1], f"the {name} line of README.md is more than one line"
    return block[1]


def test_the_job_stands_in_one_paragraph_at_the_top():
    title, paragraph = README.split("\n\n")[:2]
    assert title == "# rationlp"
    assert "nutritionist" in README.split("\n\n")[2]
    assert len(paragraph.split()) > 40


def test_ci_runs_the_readme_test_line():
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    assert "<!-- test line -->" in script
    assert line("test").endswith("-m pytest")


def test_top_level_is_what_the_card_says():
    tracked = subprocess.run(["git", "ls-files"], capture_output=True, text=True, cwd=ROOT, check=False).stdout.split(
        "\n"
    )
    top = {Path(name).parts[0] for name in tracked if name}
    seen = {name for name in top if not name.startswith(".")}
    assert seen == {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "rationlp",
        "feed_library",
        "tests",
        "demo",
        "LICENSE",
    }


@pytest.mark.skipif("CI" not in os.environ, reason="takes a minute and the package index; runs where CI is set")
def test_the_demo_line_on_a_clean_clone(tmp_path):
    clone = tmp_path / "clone"
    subprocess.run(["git", "clone", "--quiet", str(ROOT), str(clone)], check=True)
    dropped = ("VIRTUAL_ENV", "PYTHONPATH", "PYTHONHOME")
    environment = {name: value for name, value in os.environ.items() if name not in dropped}
    path = os.environ["PATH"].split(os.pathsep)
    environment["PATH"] = os.pathsep.join(part for part in path if ".venv" not in part)
    shell = shutil.which("sh")
    done = subprocess.run(
        [shell, "-c", line("demo")], capture_output=True, text=True, cwd=clone, env=environment, check=False
    )
    assert done.returncode == 0, done.stderr
    first_screen = done.stdout.splitlines()
    hens = [number for number, row in enumerate(first_screen) if row.startswith("hen_brown_110 ")]
    assert hens, done.stdout
    for bin_name in ("north", "south"):
        assert re.search(rf"\b{bin_name} +(feed|ASK|STOP)\b", first_screen[hens[0]]), first_screen[hens[0]]
    assert "nutritionist" in done.stdout
    assert (clone / "mix_sheets.xlsx").stat().st_size > 10_000
