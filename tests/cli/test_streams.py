"""Numbers that are none, and output that cannot be written: one line, exit 1 or 2, no traceback."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
FOLDER = ROOT / "demo" / "stillwater_bend"
needs_dev_full = pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")


def command(*arguments: object) -> list[str]:
    return [sys.executable, "-m", "rationlp", *map(str, arguments)]


@pytest.mark.slow
@needs_dev_full
@pytest.mark.parametrize(
    "arguments",
    [
        ("--help",),
        ("library", "feeds"),
        ("library", "feeds", "corn", "--format", "json"),
        ("check", FOLDER),
        ("check", FOLDER, "--format", "csv"),
        ("bin", FOLDER, "--bin", "north"),
    ],
)
def test_a_full_device(arguments):
    pipe = subprocess.PIPE
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(command(*arguments), stdout=full, stderr=pipe, text=True, cwd=ROOT, check=False)
    assert done.returncode == 1
    assert [line for line in done.stderr.splitlines() if not line.startswith("warning")] == [
        "error: the answer cannot be written: No space left on device"
    ]


@pytest.mark.slow
@pytest.mark.parametrize(
    "arguments",
    [
        ("--help",),
        ("library", "feeds"),
        ("library", "feeds", "corn", "--format", "csv"),
    ],
)
def test_a_pipe_nobody_reads(arguments):
    reader, writer = os.pipe()
    os.close(reader)
    try:
        done = subprocess.run(
            command(*arguments), stdout=writer, stderr=subprocess.PIPE, text=True, cwd=ROOT, check=False
        )
    finally:
        os.close(writer)
    assert done.returncode == 1
    assert done.stderr == ""


@pytest.mark.slow
@pytest.mark.parametrize(
    ("batch", "words"),
    [
        ("1 ton", "t for 1,000 kg, or 2000 lb"),
        ("2tons", "t for 1,000 kg, or 2000 lb"),
        ("1e999", "beyond all measure"),
    ],
)
def test_a_batch_is_read_as_a_cell_is(tmp_path, batch, words):
    target = tmp_path / "mix.xlsx"
    arguments = command("sheets", FOLDER, "-o", target, "--batch", batch)
    done = subprocess.run(arguments, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 2
    assert "error: --batch" in done.stderr and words in done.stderr
    assert not target.exists()


def test_nothing_is_looked_through_on_the_way_out():
    """The interpreter's last look for garbage passes over everything: it took a fifth of a short command."""
    line = (
        "import atexit, gc, sys; sys.argv = ['rationlp', '--version'];"
        "atexit.register(lambda: print(gc.get_freeze_count() > len(gc.get_objects())));"
        "from rationlp.__main__ import main; main()"
    )
    done = subprocess.run([sys.executable, "-c", line], capture_output=True, text=True, cwd=ROOT, check=True)
    assert done.stdout.splitlines()[-1] == "True"
