"""What the commands take beside a bare import of the libraries they stand on, and how that grows with the book.

    python tests/benchmarks/start_up.py [RUNS]            fails where a command takes more than its part (MOST)
    python tests/benchmarks/start_up.py --growth [RUNS]   books of twice, four and eight times the bins or offers: fails
                                                          where more of them cost more each (LINEAR)

A job of its own, not a test. Modules are compiled first, as an installation does. Every run of a command is followed by
one of the bare import, so that a slow minute of the machine hits both, and the median of these ratios is judged:
of the processor's time, which other people's work on the machine disturbs least. The wall clock stands beside it.
"""

from __future__ import annotations

import compileall
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).parents[2]
sys.path.insert(0, str(ROOT / "tests" / "support"))

from random_farms import Row, Sheets, read_sheets, write_sheets  # noqa: E402

IMPORT = [sys.executable, "-c", "import pulp, highspy, openpyxl"]
DEMO = "demo.xlsx"
"""A copy, in the folder the commands run in."""
ONE = ("--stage", "sw_gro_25_50", "--bin", "north")
MOST: dict[str, tuple[float, tuple[str, ...]]] = {
    "check": (1.8, ("check", DEMO)),
    "bin": (1.9, ("bin", DEMO)),
    "ration, one": (2.1, ("ration", DEMO, *ONE)),
    "ration, 36": (5.8, ("ration", DEMO)),
    "ration, 36, json": (9.5, ("ration", DEMO, "--format", "json")),
    "offers, 36": (12.0, ("offers", DEMO)),
    "sheets, 36": (14.0, ("sheets", DEMO, "-o", "mix.xlsx", "--overwrite")),
    "actual, nothing weighed": (3.1, ("actual", DEMO, "mix.xlsx")),
}
"""By name: the most a command may take, in imports, and the command. `actual` reads what `sheets` wrote."""
ENVIRONMENT = {
    name: value for name, value in os.environ.items() if name not in ("PYTHONDONTWRITEBYTECODE", "PYTHONUNBUFFERED")
}
TIMED = (
    "import resource, subprocess, sys, time;"
    "t = time.perf_counter();"
    "subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL);"
    "wall = time.perf_counter() - t; used = resource.getrusage(resource.RUSAGE_CHILDREN);"
    "print(wall, used.ru_utime + used.ru_stime, used.ru_maxrss)"
)


@dataclass(frozen=True, slots=True)
class Run:
    """One process: seconds by the wall clock and of the processor, peak memory in MB."""

    wall: float
    processor: float
    peak: float


def run(arguments: Sequence[str], folder: Path) -> Run:
    """Run one process in a process of its own, so that its peak memory is told apart."""
    timed = [sys.executable, "-c", TIMED, *arguments]
    done = subprocess.run(timed, capture_output=True, text=True, check=True, cwd=folder, env=ENVIRONMENT)
    wall, processor, kilobytes = map(float, done.stdout.split())
    return Run(wall, processor, kilobytes / 1024)


def command(*arguments: str) -> list[str]:
    """A command of rationlp as a process."""
    return [sys.executable, "-m", "rationlp", *arguments]


def paired(arguments: Sequence[str], runs: int, folder: Path) -> list[tuple[Run, Run]]:
    """Runs of a command, each with the bare import right after it."""
    return [(run(arguments, folder), run(IMPORT, folder)) for _ in range(runs)]


def judge(runs: int, folder: Path) -> list[str]:
    """Print a line a command; the commands that take more than their part."""
    print(f"{'command':<26}{'wall ms':>9}{'cpu ms':>9}{'peak MB':>9}{'x import':>10}{'by wall':>9}{'at most':>9}")
    over = []
    for name, (most, arguments) in MOST.items():
        pairs = paired(command(*arguments), runs, folder)
        ratio = statistics.median(one.processor / bare.processor for one, bare in pairs)
        by_wall = statistics.median(one.wall / bare.wall for one, bare in pairs)
        wall, processor = (
            1000 * statistics.median(getattr(one, clock) for one, _ in pairs) for clock in ("wall", "processor")
        )
        peak = max(one.peak for one, _ in pairs)
        print(f"{name:<26}{wall:>9.0f}{processor:>9.0f}{peak:>9.0f}{ratio:>10.2f}{by_wall:>9.2f}{most:>9.1f}")
        if ratio > most:
            over.append(f"{name}: {ratio:.2f} times the bare import, more than {most:g}")
    return over


# Growth -------------------------------------------------------------------------------------------------------------


def with_bins(times: int) -> Sheets:
    """The demo book with each of its bins `times` times."""
    sheets = read_sheets()
    for name, columns in (("bins", ("bin",)), ("samples", ("sample", "bin"))):
        sheets[name] = list(_again(sheets[name], columns, times))
    for name in ("sorted", "assays"):
        of_samples = [row for row in sheets[name] if row.get("sample")]
        rest = [row for row in sheets[name] if not row.get("sample")]
        sheets[name] = [*_again(of_samples, ("sample",), times), *rest]
    return sheets


def with_offers(times: int) -> Sheets:
    """The demo book with each of its offers `times` times, at prices some percent apart."""
    sheets = read_sheets()
    sheets["supplements"] = [
        row | {"price": f"{float(row['price'] or 0) * (1 + 0.013 * (k % times)):.2f}"}
        for k, row in enumerate(_again(sheets["supplements"], ("offer",), times))
    ]
    return sheets


def _again(rows: Iterable[Row], columns: Sequence[str], times: int) -> Iterable[Row]:
    """Each row `times` times under names of its own."""
    for row in rows:
        for copy in range(times):
            yield row | {column: f"{row[column]}_{copy}" if copy else row[column] for column in columns}


LINEAR = 1.5
"""Times what each further copy of the bins or offers costs from 1 to 2, that it may cost from 4 to 8."""


def growth(runs: int, folder: Path) -> list[str]:
    """Print what commands take as the bins or the offers of the demo book grow by 2, 4 and 8; what grows faster."""
    print(f"{'command':<10}{'book':<14}{'wall ms':>9}{'cpu ms':>9}{'peak MB':>9}{'cpu ms a further copy':>23}")
    over = []
    for name, of, make in (
        ("ration", "bins", with_bins),
        ("sheets", "bins", with_bins),
        ("offers", "offers", with_offers),
    ):
        before, further = 0.0, []
        for times in (1, 2, 4, 8):
            book = str(write_sheets(make(times), folder / f"{name}_{times}"))
            more = {"sheets": ("-o", f"grown_{times}.xlsx", "--overwrite"), "offers": ONE}.get(name, ())
            done = [run(command(name, book, *more), folder) for _ in range(runs)]
            processor = 1000 * statistics.median(one.processor for one in done)
            wall, peak = 1000 * statistics.median(one.wall for one in done), max(one.peak for one in done)
            further += [(processor - before) / (times / 2)] if before else []
            told = f"{further[-1]:.0f}" if further else ""
            print(f"{name:<10}{f'{times} x {of}':<14}{wall:>9.0f}{processor:>9.0f}{peak:>9.0f}{told:>23}", flush=True)
            before = processor
        if further[-1] > LINEAR * further[0]:
            over.append(f"{name}: a further copy of the {of} costs {further[-1] / further[0]:.1f} times the second one")
    return over


def on_this_machine() -> str:
    """The day, the Python, the processors and how busy they are."""
    machine = f"Python {sys.version.split()[0]}, {os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}"
    return f"{time.strftime('%Y-%m-%d')}, {machine}"


def main() -> None:
    """Measure; exit code 1 where a command takes more than its part."""
    told = [word for word in sys.argv[1:] if not word.startswith("--")]
    compileall.compile_dir(ROOT / "rationlp", quiet=1)
    print(on_this_machine())
    with tempfile.TemporaryDirectory() as folder:
        shutil.copy(ROOT / "demo" / "stillwater_bend.xlsx", Path(folder) / DEMO)
        if "--growth" in sys.argv:
            over = growth(int(told[0]) if told else 1, Path(folder))
        else:
            over = judge(int(told[0]) if told else 7, Path(folder))
    print("\n".join(over))
    sys.exit(bool(over))


if __name__ == "__main__":
    main()
