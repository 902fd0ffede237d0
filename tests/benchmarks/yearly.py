"""Everything that takes long, once a year or before a release: one run, one table.

    python tests/benchmarks/yearly.py TABLE.md [NAME ...]            all of JOBS, or those named
    python tests/benchmarks/yearly.py --small TABLE.md [NAME ...]    the same on little: whether every job runs

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
RUN = f"{' '.join(TEST)} --cov=rationlp --cov-branch --cov-report="
REPORT = f"{sys.executable} -m coverage report --include="
COVERED = f"{RUN} && {REPORT}'{SOURCES}' --fail-under=95"
COVERED_OF_LITTLE = f"{RUN} tests/test_numbers.py && {REPORT}rationlp/numbers.py"
UNPROVED = f"{sys.executable} {BENCH}/no_ration.py write PLACE && {sys.executable} {BENCH}/no_ration.py prove PLACE"


@dataclass(frozen=True)
class Job:
    """What is run, and the same on little, to see that it runs to its end. PLACE is a new folder."""

    words: tuple[str, ...]
    small: tuple[str, ...]


def bench(file: str, small: str = "", words: str = "") -> Job:
    """A benchmark with some words, and with others."""
    start = (sys.executable, f"{BENCH}/{file}.py")
    return Job((*start, *words.split()), (*start, *small.split()))


JOBS: dict[str, Job] = {
    "every test on all its cases": Job(
        (sys.executable, "-m", "pytest", "-q", "--long"), (*TEST, "tests/test_numbers.py")
    ),
    "100,000 spoilt books": Job(
        (*TEST, "--fuzz", "100000", "tests/fuzz", "-k", "test_books"),
        (*TEST, "--fuzz", "5", "tests/fuzz", "-k", "test_books"),
    ),
    "spoilt files, options, records": Job(
        (*TEST, "--fuzz", "20000", "tests/fuzz", "-k", "not test_books"),
        (*TEST, "--fuzz", "2", "tests/fuzz", "-k", "not test_books"),
    ),
    "branch coverage of what computes": Job(("sh", "-c", COVERED), ("sh", "-c", COVERED_OF_LITTLE)),
    "mistakes put in": bench("mutants", "PLACE 1 1 units", "PLACE"),
    "lowest versions": Job(*(("sh", "tests/support/lowest.sh", "PLACE"),) * 2),
    "Pythons and PuLP": bench("versions", "PLACE python3.11", "PLACE"),
    "start-up": bench("start_up", "1", "7"),
    "growth with the book": bench("start_up", "--growth 1", "--growth 3"),
    "every command in one run": bench("one_run", "1", "3"),
    "how often there is no ration": Job(("sh", "-c", UNPROVED), ("sh", "-c", f"{UNPROVED} 1")),
    "chance of all at once": bench("joint_chance"),
    "price sweep": bench("price_sweep", "100 5"),
    "feed year": bench("feed_year", "3 2 2 10"),
    "slips in a sample": bench("contradictions", "2", "100"),
}


@dataclass(frozen=True)
class Ended:
    """How a job ended; `cpu` and `wall` in seconds."""

    job: str
    code: int
    cpu: float
    wall: float
    said: str


def run(job: str, small: bool) -> Ended:
    """Run a job to its end."""
    with tempfile.TemporaryDirectory() as place:
        wanted = JOBS[job].small if small else JOBS[job].words
        words = [word.replace("PLACE", str(Path(place) / "here")) for word in wanted]
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


def main(*words: str) -> int:
    """The table, written anew after every job."""
    target, *wanted = (word for word in words if word != "--small")
    ended: list[Ended] = []
    for job in wanted or JOBS:
        ended.append(run(job, "--small" in words))
        Path(target).write_text(table(ended), encoding="utf-8")
        print(table(ended[-1:]).splitlines()[-1], flush=True)
    return int(any(one.code for one in ended))


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))
