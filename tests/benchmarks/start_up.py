"""How long the commands take against a bare Python that only imports what they need, side by side in one run.

    python tests/benchmarks/start_up.py [RUNS]

Prints wall time (median) and peak memory of each process. Nothing here passes or fails.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]


def run(arguments: list[str]) -> tuple[float, int]:
    """Wall seconds and peak resident kilobytes of one process."""
    timed = [
        "/usr/bin/env",
        "python3",
        "-c",
        (
            "import os, resource, subprocess, sys, time;"
            "t = time.perf_counter(); subprocess.run(sys.argv[1:], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL);"
            "print(time.perf_counter() - t, resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)"
        ),
        *arguments,
    ]
    seconds, kilobytes = subprocess.run(timed, capture_output=True, text=True, check=True, cwd=ROOT).stdout.split()
    return float(seconds), int(kilobytes)


def main() -> None:
    """Measure in turns, so that a slow minute of the machine hits all of them alike."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 11
    python, demo = sys.executable, str(ROOT / "demo" / "stillwater_bend.xlsx")
    folder = str(ROOT / "rationlp" / "book" / "demo_book")
    tool = [python, "-m", "rationlp"]
    cases = {
        "python -c pass": [python, "-c", "pass"],
        "bare import of pulp, highspy, openpyxl": [python, "-c", "import pulp, highspy, openpyxl"],
        "rationlp --help": [*tool, "--help"],
        "rationlp check (xlsx)": [*tool, "check", demo],
        "rationlp ration, all stages (xlsx, text)": [*tool, "ration", demo],
        "rationlp ration, all stages (xlsx, json)": [*tool, "ration", demo, "--format", "json"],
        "rationlp ration, all stages (csv folder, json)": [*tool, "ration", folder, "--format", "json"],
    }
    taken: dict[str, list[tuple[float, int]]] = {name: [] for name in cases}
    for _ in range(runs):
        for name, arguments in cases.items():
            taken[name].append(run(arguments))
    seconds = {name: statistics.median(s for s, _ in values) for name, values in taken.items()}
    bare, imports = seconds["python -c pass"], seconds["bare import of pulp, highspy, openpyxl"]
    print(f"{runs} runs each, {time.strftime('%Y-%m-%d')}, Python {sys.version.split()[0]}")
    for name in cases:
        peak = max(kilobytes for _, kilobytes in taken[name]) / 1024
        print(
            f"{name:<48} {1000 * seconds[name]:7.0f} ms  {peak:6.0f} MB  {seconds[name] / bare:5.1f} x pass  "
            f"{seconds[name] / imports:4.1f} x import"
        )


if __name__ == "__main__":
    main()
