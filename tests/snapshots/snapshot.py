"""Every answer of the program on the books of `books.py`, kept in files; and two such collections held together.

    python tests/snapshots/snapshot.py write BEFORE --command .venv/bin/rationlp
    ... change the program ...
    python tests/snapshots/snapshot.py write AFTER --command .venv/bin/rationlp
    python tests/snapshots/snapshot.py compare BEFORE AFTER

An answer is a file BOOK/COMMAND.json with the arguments, the exit code, stdout (parsed, if it is JSON), stderr and
whatever files the command wrote. Every command runs on a fresh copy of its book, in a folder of its own, so that no
command sees what another one kept. `compare` lists every figure and word that differs and exits with 1 if one does;
what stands only in AFTER is listed as added and does no harm. Write both on the same day: `check` warns of dates that
are still to come.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shlex
import shutil
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from books import NAMES, write_book
from openpyxl import load_workbook

BOOK = "book"
"""The folder of the book as every command sees it, in the folder it runs in."""

PLACE = "SOMEWHERE"
"""What stands for the folder a command runs in."""

LIBRARY = "library"
"""Stands in place of a book for the commands that need none."""

SURROUNDINGS = {
    "NO_COLOR": "1",
    "COLUMNS": "130",
    "LC_ALL": "C.UTF-8",
    "TZ": "UTC",
    "OPENBLAS_NUM_THREADS": "1",  # the matrices are small, and commands run side by side
}

BREAKDOWN = "Traceback (most recent call last):"
LONGEST_SECONDS = 300
SHOWN = 100
"""Characters shown of a value that differs."""

STAGES = ("sw_gro_25_50", "hen_brown_110")
"""Stages of the commands that take longer than to ask for all: weights for both are found quickly in every book."""

STAGES_OF = {"own_figures": ("goose_grower", "sw_gro_25_50"), "fixed_mix": ("sw_gro_25_50", "sw_gro_50_75")}

ONLY_IN = {
    "resample": ("demo", "us_units", "sure", "toxins", "two_samples", "at_odds"),
    "actual": ("demo", "us_units", "no_bins", "toxins", "two_samples", "own_limits"),
}
"""Books that have a second sample, or batches that were weighed; and the demo, which has to say that it has none."""

COMMANDS: dict[str, str] = {
    "check": "check book --format json",
    "bin": "bin book --format json",
    "bin_precision": "bin book --precision 5 --format json",
    "bin_text": "bin book",
    "ration": "ration book --format json",
    "ration_together": "ration book --together --format json",
    "ration_frontier": "ration book --frontier --format json",
    "ration_home_grown": "ration book --home-grown 0.9 --format json",
    "ration_concentrate": "ration book --stage {one} --concentrate --format json",
    "ration_shared": "ration book --stage {one} --concentrate --shared --format json",
    "ration_review": "ration book --stage {one} --review review.json --format json",
    "ration_review_xlsx": "ration book --stage {two} --review review.xlsx --format csv",
    "ration_text": "ration book --stage {one} --stage {two}",
    "offers": "offers book --stage {one} --stage {two} --format json",
    "offers_together": "offers book --stage {one} --together --compare soy48_bulk --compare corn_bought --format json",
    "offers_sweep": "offers book --stage {one} --sweep soy48_bulk:300:500:11 --format json",
    "offers_grid": "offers book --stage {two} --sweep soy48_bulk:300:500:4 --sweep corn_bought:150:250:3 --format json",
    "offers_what_if": "offers book --stage {one} --what-if sunflower_meal_dehulled_solvent --format json",
    "offers_draws": "offers book --stage {one} --draws 500 --seed 3 --correlation 0.3 --format json",
    "offers_text": "offers book --stage {one}",
    "resample": "resample book --before n1 --after n2 --format json",
    "resample_text": "resample book --before n1 --after n2 --stage {one} -o resample.xlsx",
    "sheets_csv": "sheets book --stage {one} --stage {two} --on 2025-11-20 -o sheets.csv --format json",
    "sheets_xlsx": "sheets book --stage {one} --batch 400 --batches 3 -o sheets.xlsx --on 2025-11-20 --format csv",
    "actual": "actual book --format json",
    "actual_rows": "actual book --rows",
    "actual_trace": "actual book --trace growers_early 2025-11-21 --format json",
    "actual_text": "actual book --uniformity 'salt: 0.31 0.29 0.33 0.30 0.28 0.32 0.31 0.30 0.29 0.33'",
}
"""The commands of every book by name; {one} and {two} are the stages of the book."""

COMMANDS_OF: dict[str, dict[str, str]] = {
    "demo": {
        "ration_all": "ration book --stage all --format json",
        "ration_brief": "ration book --brief",
        "ration_csv": "ration book --format csv",
        "offers_csv": "offers book --stage {one} --stage {two} --format csv",
        "sheets_html": "sheets book --stage {one} --group growers_early --days 7 -o sheets.html --on 2025-11-20",
        "sheets_together": "sheets book --stage {two} --together --on 2025-11-20 -o sheets.csv --format json",
        "unknown_stage": "ration book --stage sw_gro_25_5 --format json",
        "unknown_bin": "ration book --bin nort --format json",
        "csv_bin": "bin book --bin north --format csv",
    },
    "two_samples": {"resample_csv": "resample book --before n1 --after n2 --format csv"},
    LIBRARY: {
        "overview": "library --format json",
        "feed": "library feeds triticale --format json",
        "feeds_sorted": "library feeds --sort sid_lysine_pig --format json",
        "stage": "library stages sw_gro_25_50 --format json",
        "stages_by_weight": "library stages --weight 62kg --format json",
        "limit": "library limits flaxseed --format json",
        "limits": "library limits --format json",
        "source": "library sources ndsu_store2019 --format json",
        "nutrient": "library nutrients lysine --format json",
        "equations": "library equations --format json",
        "feed_text": "library feeds camelina_seed",
        "stage_text": "library stages hen_brown_110",
        "unknown": "library feeds tritical --format json",
    },
}


# Writing ---------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Run:
    """A command on a book."""

    book: str
    name: str
    arguments: tuple[str, ...]

    @property
    def place(self) -> str:
        return f"{self.book}/{self.name}"


def runs(books: Sequence[str]) -> list[Run]:
    """Every command of every book."""
    found = []
    for book in books:
        one, two = STAGES_OF.get(book, STAGES)
        commands = (COMMANDS if book != LIBRARY else {}) | COMMANDS_OF.get(book, {})
        for name, line in commands.items():
            if name.startswith(tuple(first for first, books in ONLY_IN.items() if book not in books)):
                continue
            found.append(Run(book, name, tuple(shlex.split(line.format(one=one, two=two)))))
    return found


def write(folder: Path, command: Sequence[str], books: Sequence[str], jobs: int) -> bool:
    """Run everything and keep it in `folder`; whether no command broke down."""
    folder.mkdir(parents=True)
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as temporary, ThreadPoolExecutor(jobs) as pool:
        sources = Path(temporary).resolve()
        for book in books:
            if book != LIBRARY:
                write_book(book, sources / book)

        def one(run: Run) -> tuple[Run, dict[str, Any], float]:
            begun = time.perf_counter()
            answer = answer_of(run, command, sources)
            path = folder / run.book / f"{run.name}.json"
            path.parent.mkdir(exist_ok=True)
            path.write_text(json.dumps(answer, ensure_ascii=False), encoding="utf-8")
            return run, answer, time.perf_counter() - begun

        done = list(pool.map(one, runs(books)))
    broken = [run.place for run, answer, _ in done if _broke_down(answer)]
    codes = Counter(str(answer["exit_code"]) for _, answer, _ in done)
    slowest = sorted(((seconds, run.place) for run, _, seconds in done), reverse=True)[:5]
    used = os.times().children_user + os.times().children_system
    elapsed = time.perf_counter() - start
    print(f"{len(done)} answers on {len(books)} books in {elapsed:.0f} s, {used:.0f} s of processor time")
    print("Exit codes: " + ", ".join(f"{code}: {count}" for code, count in sorted(codes.items())))
    print("Slowest: " + ", ".join(f"{place} {seconds:.1f} s" for seconds, place in slowest))
    for place in broken:
        print(f"BROKE DOWN: {place}")
    return not broken


def answer_of(run: Run, command: Sequence[str], sources: Path) -> dict[str, Any]:
    """What the command says and writes on a fresh copy of its book."""
    with tempfile.TemporaryDirectory() as temporary:
        place = Path(temporary).resolve()
        if run.book != LIBRARY:
            shutil.copytree(sources / run.book, place / BOOK)
        before = set(_files(place))
        try:
            ended = subprocess.run(
                [*command, *run.arguments],
                cwd=place,
                env=os.environ | SURROUNDINGS,
                stdin=subprocess.DEVNULL,
                capture_output=True,
                encoding="utf-8",
                timeout=LONGEST_SECONDS,
                check=False,
            )
        except subprocess.TimeoutExpired:
            return {"arguments": list(run.arguments), "exit_code": None, "stderr": ["took too long"]}
        return {
            "arguments": list(run.arguments),
            "exit_code": ended.returncode,
            "stdout": _content(ended.stdout.replace(str(place), PLACE)),
            "stderr": _without_lines_of_code(ended.stderr.replace(str(place), PLACE).splitlines()),
            "files": {str(path.relative_to(place)): _read(path, place) for path in sorted(_files(place) - before)},
        }


def _files(place: Path) -> set[Path]:
    return {path for path in place.rglob("*") if path.is_file()}


def _content(text: str) -> Any:
    """JSON, or else the lines of the text."""
    try:
        return json.loads(text)
    except json.JSONDecodeError:
        return text.splitlines()


def _without_lines_of_code(lines: list[str]) -> list[str]:
    """Of a program that broke down only the error: where in the code it stood is no answer."""
    if BREAKDOWN not in lines:
        return lines
    return [*lines[: lines.index(BREAKDOWN) + 1], lines[-1]]


def _read(path: Path, place: Path) -> Any:
    """What a file says: of a workbook its cells by sheet, of JSON the document, else the lines."""
    if path.suffix == ".xlsx":
        return {
            sheet.title: {
                cell.coordinate: _plain(cell.value) for row in sheet for cell in row if cell.value is not None
            }
            for sheet in load_workbook(path)
        }
    return _content(path.read_text(encoding="utf-8", errors="replace").replace(str(place), PLACE))


def _plain(value: Any) -> Any:
    return value if isinstance(value, (bool, int, float, str)) else str(value)


def _broke_down(answer: dict[str, Any]) -> bool:
    return answer["exit_code"] not in range(5) or BREAKDOWN in answer["stderr"]


# Comparing -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Difference:
    """A place in an answer where two snapshots say different things; `added` where only the second says something."""

    path: str
    before: Any
    after: Any
    added: bool = False


class Nothing:
    """What stands at a path that one of the snapshots does not have."""

    def __repr__(self) -> str:
        return "(nothing)"


NOTHING = Nothing()


def differences(before: Any, after: Any, tolerance: float, path: str = "$") -> Iterator[Difference]:
    """Where two documents differ; numbers within `tolerance` of the greater one are the same."""
    if isinstance(before, dict) and isinstance(after, dict):
        for key in before | after:
            inner = f"{path}.{key}"
            if key not in before:
                yield Difference(inner, NOTHING, after[key], added=True)
            elif key not in after:
                yield Difference(inner, before[key], NOTHING)
            else:
                yield from differences(before[key], after[key], tolerance, inner)
    elif isinstance(before, list) and isinstance(after, list):
        if len(before) != len(after):
            yield Difference(f"{path}.length", len(before), len(after))
        for index, (one, other) in enumerate(zip(before, after, strict=False)):
            yield from differences(one, other, tolerance, f"{path}[{index}]")
    elif not _same(before, after, tolerance):
        yield Difference(path, before, after)


def _same(before: Any, after: Any, tolerance: float) -> bool:
    if _is_number(before) and _is_number(after):
        return math.isclose(before, after, rel_tol=tolerance, abs_tol=0.0)
    return type(before) is type(after) and before == after


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool)


def compare(before: Path, after: Path, tolerance: float) -> bool:
    """List what differs between two snapshots; whether nothing but additions does."""
    places = [
        {path.relative_to(folder).with_suffix("") for path in folder.glob("*/*.json")} for folder in (before, after)
    ]
    wrong: Counter[Path] = Counter()
    added: list[tuple[Path, Difference]] = []
    for place in sorted(places[0] | places[1]):
        for found in differences(_answer(before, place), _answer(after, place), tolerance):
            if found.added:
                added.append((place, found))
            else:
                wrong[place] += 1
                print(f"{place}  {found.path}  {_short(found.before)}  ->  {_short(found.after)}")
    for place, found in added:
        print(f"added: {place}  {found.path}  {_short(found.after)}")
    if not places[0]:
        print(f"No answers in {before}")
        return False
    print(
        f"{len(places[0])} answers compared: {wrong.total()} differences in {len(wrong)} of them, {len(added)} added."
    )
    return not wrong


def _answer(folder: Path, place: Path) -> dict[str, Any]:
    """An answer of a snapshot, as the one key of a document; an answer it does not have is an empty one."""
    path = folder / f"{place}.json"
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def _short(value: Any) -> str:
    text = repr(value) if value is NOTHING else json.dumps(value, ensure_ascii=False)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}..."


# The command line ------------------------------------------------------------------------------


def main() -> None:
    """Read the arguments and do what they ask."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    todo = parser.add_subparsers(dest="todo", required=True)
    writing = todo.add_parser("write", help="run every command and keep what it says")
    writing.add_argument("folder", type=Path, help="a new folder")
    writing.add_argument("--command", default="rationlp", help="how to start the program (default: rationlp)")
    writing.add_argument("--book", action="append", choices=[*NAMES, LIBRARY], help="only this book (may be repeated)")
    writing.add_argument("--jobs", type=int, default=2, help="commands that run at a time (default: 2)")
    comparing = todo.add_parser("compare", help="list what differs between two snapshots")
    comparing.add_argument("before", type=Path)
    comparing.add_argument("after", type=Path)
    comparing.add_argument("--tolerance", type=float, default=1e-12, help="relative, for numbers (default: 1e-12)")
    asked = parser.parse_args()
    if asked.todo == "compare":
        good = compare(asked.before, asked.after, asked.tolerance)
    else:
        if asked.folder.exists():
            parser.error(f"{asked.folder} is there already")
        words = shlex.split(asked.command)
        program = shutil.which(words[0])
        if program is None:
            parser.error(f"there is no program {words[0]}")
        command = [os.path.abspath(program), *words[1:]]
        good = write(asked.folder, command, asked.book or [*NAMES, LIBRARY], asked.jobs)
    sys.exit(0 if good else 1)


if __name__ == "__main__":
    main()
