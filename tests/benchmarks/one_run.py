"""What every command takes in one run: wall and processor time, peak memory, beside the libraries doing the same alone.

    python tests/benchmarks/one_run.py [RUNS]        a table for DEVELOPERS.md; the median of RUNS (3 if not said)

Each run of a command is followed by one of the bare import of PuLP, highspy and openpyxl (`start_up.py`), and, where a
library by itself can do the heavy part of it, by that: openpyxl reading or writing the same file, HiGHS given the same
programs as arrays, Clarabel (a general convex solver) given the same chances as cones. How commands grow with the book:
`start_up.py --growth`; a feed year against HiGHS: `feed_year.py`; a sweep against a loop: `price_sweep.py`.
"""

from __future__ import annotations

import compileall
import pickle
import shutil
import statistics
import sys
import tempfile
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from start_up import DEMO, IMPORT, MOST, ONE, ROOT, Run, command, on_this_machine, run

sys.path.insert(0, str(ROOT / "tests" / "support"))

from random_farms import write_sheets
from season_farms import us_farm

BOOKS = 12
"""Of `many`, each the demo book with two bins and three stages."""
GROUPS = 3
ME = str(Path(__file__))
SURE = ("--set", "confidence_pct=95")
FEW = ("--stage", "sw_gro_25_50", "--stage", "hen_brown_110", "--stage", "sw_gest_p2_early")
"""Stages of what takes a second a ration."""


@dataclass(frozen=True)
class Asked:
    """A command, and what a library does of it alone."""

    name: str
    arguments: Sequence[str]
    bare: Sequence[str] = ()


def bare(what: str) -> list[str]:
    """What a library does alone, as a process."""
    return [sys.executable, ME, "--bare", what]


def asked() -> list[Asked]:
    """Everything that is measured, in the order in which one makes what another reads."""
    alone = {"check": "reading", "bin": "reading", "ration, one": "reading", "ration, 36": "programs"}
    alone |= {"sheets, 36": "writing", "actual, nothing weighed": "reading sheets"}
    found = [
        Asked(name, command(*arguments), bare(alone[name]) if name in alone else ())
        for name, (_, arguments) in MOST.items()
    ]
    many = ("many", *(f"many/{number}" for number in range(BOOKS)), "-o", "m.jsonl", "--overwrite", "--jobs")
    return [
        *found,
        Asked("ration, 36, 95 % each", command("ration", DEMO, *SURE), bare("cones")),
        Asked("ration, 6, 95 % of all", command("ration", DEMO, *FEW, *SURE, "--set", "confidence_of=all")),
        Asked("offers, 10,000 prices", command("offers", DEMO, *ONE, "--sweep", "soy48_bulk:300:500:10000")),
        Asked("year, 40 sows and 300 hens", command("year", "season")),
        Asked("report", command("report", DEMO, "-o", "farm.html", "--overwrite")),
        Asked(f"many, {BOOKS} books, 1 process", command(*many, "1")),
        Asked(f"many, {BOOKS} books, 2 processes", command(*many, "2")),
        Asked(f"many, {BOOKS} books, Dask with 2", bare("dask")),
    ]


def lay_out(folder: Path) -> None:
    """The books, and the demo's programs with their chances for the solvers alone."""
    from rationlp.api import open_farm
    from rationlp.rations.solve.chance import chance_rows, margin_multiplier
    from rationlp.rations.solve.solver import RowArrays

    demo = folder / DEMO
    shutil.copy(ROOT / "demo" / "stillwater_bend.xlsx", demo)
    write_sheets(us_farm(), folder / "season")
    for number in range(BOOKS):
        place = shutil.copytree(ROOT / "demo" / "stillwater_bend", folder / "many" / str(number))
        lines = (place / "groups.csv").read_text(encoding="utf-8").splitlines(keepends=True)
        (place / "groups.csv").write_text("".join(lines[: GROUPS + 1]), encoding="utf-8")
    found = []
    for made in open_farm(demo).rations():
        formula = made.formula
        program = formula.program
        arrays = RowArrays.of(program.rows, len(program.columns))
        chances = chance_rows(program, formula.sources, formula.candidates, formula.stage.energy, 95.0)
        sds = [(c.index, [margin_multiplier(c.probability) * v**0.5 for v in c.variances]) for c in chances]
        found.append((program.costs, arrays.coefficients, arrays.signs, program.normalizer, sds))
    (folder / "programs").write_bytes(pickle.dumps(found))


# The libraries alone ------------------------------------------------------------------------------------------------


def reading(name: str = DEMO) -> None:
    """openpyxl reads every value of a workbook."""
    from openpyxl import load_workbook

    book = load_workbook(name, read_only=True, data_only=True)
    for sheet in book.worksheets:
        sheet.reset_dimensions()
        for row in sheet.iter_rows():
            [cell.value for cell in row]


def writing() -> None:
    """openpyxl reads the mix sheets and writes them again."""
    from openpyxl import load_workbook

    load_workbook("mix.xlsx").save("again.xlsx")


def programs() -> None:
    """HiGHS solves the demo's programs, given as arrays."""
    import highspy
    import numpy as np

    for costs, coefficients, signs, normalizer, _ in pickle.loads(Path("programs").read_bytes()):
        highs = highspy.Highs()
        highs.setOptionValue("output_flag", False)
        columns, rows = len(costs), len(signs) + 1
        matrix = np.vstack((coefficients, normalizer))
        highs.addVars(columns, np.zeros(columns), np.full(columns, np.inf))
        highs.changeColsCost(columns, np.arange(columns, dtype=np.int32), np.array(costs))
        lower, upper = np.where(signs > 0, -np.inf, 0.0), np.where(signs < 0, np.inf, 0.0)
        begins = np.arange(0, rows * columns, columns, dtype=np.int32)
        places = np.tile(np.arange(columns, dtype=np.int32), rows)
        bounds = np.append(lower, 1.0), np.append(upper, 1.0)
        highs.addRows(rows, *bounds, rows * columns, begins, places, matrix.ravel())
        highs.run()


def cones() -> None:
    """Clarabel solves them with every chance as a second-order cone."""
    import clarabel
    import numpy as np
    from scipy import sparse

    for costs, coefficients, signs, normalizer, sds in pickle.loads(Path("programs").read_bytes()):
        columns, sided = len(costs), np.where(signs == 0.0, 1.0, signs)[:, None] * coefficients
        blocks, kinds = [np.array([normalizer]), -np.eye(columns)], [clarabel.ZeroConeT(1)]
        equal, less = sided[signs == 0.0], sided[signs != 0.0]
        kinds += [
            clarabel.NonnegativeConeT(columns),
            clarabel.ZeroConeT(len(equal)),
            clarabel.NonnegativeConeT(len(less)),
        ]
        blocks += [equal, less]
        for row, sd in sds:
            used = np.flatnonzero(sd)
            blocks.append(np.vstack([sided[row], -np.diag(sd)[used]]))
            kinds.append(clarabel.SecondOrderConeT(len(used) + 1))
        matrix = np.vstack(blocks)
        right = np.zeros(len(matrix))
        right[0] = 1.0
        settings = clarabel.DefaultSettings()
        settings.verbose = False
        none = sparse.csc_matrix((columns, columns))
        clarabel.DefaultSolver(none, np.array(costs), sparse.csc_matrix(matrix), right, kinds, settings).solve()


def dask() -> None:
    """The books of `many` on a local cluster of two workers."""
    import distributed

    import rationlp

    with (
        distributed.LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        distributed.Client(cluster) as client,
    ):
        results = list(rationlp.many(sorted(map(str, Path("many").iterdir())), client.get_executor()))
    assert len(results) == BOOKS and all(result.ok for result in results)


ALONE = {
    "reading": reading,
    "reading sheets": lambda: reading("mix.xlsx"),
    "writing": writing,
    "programs": programs,
    "cones": cones,
    "dask": dask,
}


# The table ----------------------------------------------------------------------------------------------------------


def median(runs: Sequence[Run], what: str) -> float:
    """The middle one of `wall`, `processor` or `peak`."""
    return statistics.median(getattr(one, what) for one in runs)


def line(one: Asked, runs: int, folder: Path) -> str:
    """A command's row of the table."""
    done, imports, alone = [], [], []
    for _ in range(runs):
        done.append(run(one.arguments, folder))
        imports.append(run(IMPORT, folder))
        alone += [run(one.bare, folder)] if one.bare else []
    ratio = statistics.median(d.processor / i.processor for d, i in zip(done, imports, strict=True))
    library, times = "", ""
    if alone:
        library = f"{median(alone, 'processor'):.2f} s, {max(a.peak for a in alone):.0f} MB"
        times = f"{statistics.median(d.processor / a.processor for d, a in zip(done, alone, strict=True)):.1f}"
    wall, processor, peak = median(done, "wall"), median(done, "processor"), max(d.peak for d in done)
    return f"| {one.name} | {wall:.2f} s | {processor:.2f} s | {peak:.0f} MB | {ratio:.1f} | {library} | {times} |"


def main(runs: int) -> None:
    """Measure everything, a line as each ends."""
    compileall.compile_dir(ROOT / "rationlp", quiet=1)
    print(f"{on_this_machine()}\n")
    print("| command | wall | processor | peak | x import | the library alone | x alone |")
    print("| --- | --- | --- | --- | --- | --- | --- |")
    with tempfile.TemporaryDirectory() as folder:
        lay_out(Path(folder))
        for one in asked():
            print(line(one, runs, Path(folder)), flush=True)


if __name__ == "__main__":
    if sys.argv[1:2] == ["--bare"]:
        ALONE[sys.argv[2]]()
    else:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 3)
