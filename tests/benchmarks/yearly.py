"""Everything that takes long, once a year or before a release: one run, one table.

    python tests/benchmarks/yearly.py TABLE.md [NAME ...]     all of JOBS, or those named

Each job runs by itself, one after another, whatever became of the one before; TABLE.md says how each ended, what it
took and the last it said, under the name of the machine. Exit code 1 where one failed. Plan a night for it.
"""

from __future__ import annotations

import os
import platform
import resource
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from datetime import date
from importlib.metadata import version
from pathlib import Path

from parts import COMPUTING

ROOT = Path(__file__).parents[2]
TEST = (sys.executable, "-m", "pytest", "-q", "-n", "0", "--slow")
BENCH = "tests/benchmarks"
SOURCES = ",".join(
    source if source.endswith(".py") else f"{source}/*" for part in COMPUTING.values() for source in part.sources
)
COVERED = (
    f"{' '.join(TEST)} --cov=rationlp --cov-branch --cov-report= && "
    f"{sys.executable} -m coverage report --fail-under=95 --include='{SOURCES}'"
)
JOBS: dict[str, tuple[str, ...]] = {
    "every test on all its cases": (sys.executable, "-m", "pytest", "-q", "--long"),
    "100,000 spoilt books": (*TEST, "--fuzz", "100000", "tests/fuzz", "-k", "test_books"),
    "spoilt files, options, records": (*TEST, "--fuzz", "20000", "tests/fuzz", "-k", "not test_books"),
    "branch coverage of what computes": ("sh", "-c", COVERED),
    "mistakes put in": (sys.executable, f"{BENCH}/mutants.py", "PLACE"),
    "lowest versions": ("sh", "tests/support/lowest.sh", "PLACE"),
    "Pythons and PuLP": (sys.executable, f"{BENCH}/versions.py", "PLACE"),
    "start-up": (sys.executable, f"{BENCH}/start_up.py"),
    "growth with the book": (sys.executable, f"{BENCH}/start_up.py", "--growth"),
    "how often there is no ration": (sys.executable, f"{BENCH}/no_ration.py"),
    "chance of all at once": (sys.executable, f"{BENCH}/joint_chance.py"),
    "price sweep": (sys.executable, f"{BENCH}/price_sweep.py"),
    "feed year": (sys.executable, f"{BENCH}/feed_year.py"),
    "slips in a sample": (sys.executable, f"{BENCH}/contradictions.py", "100"),
}
"""What is run; PLACE is a new folder."""


@dataclass(frozen=True)
class Ended:
    """How a job ended; `cpu` and `wall` in seconds."""

    job: str
    code: int
    cpu: float
    wall: float
    said: str


def run(job: str) -> Ended:
    """Run a job to its end."""
    with tempfile.TemporaryDirectory() as place:
        words = [str(Path(place) / "here") if word == "PLACE" else word for word in JOBS[job]]
        before, began = resource.getrusage(resource.RUSAGE_CHILDREN), time.monotonic()
        done = subprocess.run(words, cwd=ROOT, capture_output=True, text=True, check=False)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime - before.ru_utime + after.ru_stime - before.ru_stime
    lines = [line for line in (done.stdout + done.stderr).splitlines() if line.strip()]
    return Ended(job, done.returncode, cpu, time.monotonic() - began, lines[-1].strip() if lines else "")


def machine() -> str:
    """Where it ran, and on what."""
    known = ", ".join(f"{name} {version(name)}" for name in ("pulp", "highspy", "numpy", "openpyxl"))
    where = f"{platform.system()} {platform.machine()}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.0f}"
    return f"{date.today()}, {where}, Python {platform.python_version()}, {known}"


def table(ended: list[Ended]) -> str:
    """The jobs that ended so far."""
    rows = [
        f"| {one.job} | {'well' if one.code == 0 else f'exit code {one.code}'} | {one.cpu:.0f} | {one.wall:.0f} | "
        f"{one.said.replace('|', '/')[:100]} |"
        for one in ended
    ]
    head = ["| job | ended | cpu, s | wall, s | last it said |", "| --- | --- | --- | --- | --- |"]
    return "\n".join([machine(), "", *head, *rows, ""])


def main(target: str, *wanted: str) -> int:
    """The table at `target`, written anew after every job."""
    ended: list[Ended] = []
    for job in wanted or JOBS:
        ended.append(run(job))
        Path(target).write_text(table(ended), encoding="utf-8")
        print(table(ended[-1:]).splitlines()[-1], flush=True)
    return int(any(one.code for one in ended))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
