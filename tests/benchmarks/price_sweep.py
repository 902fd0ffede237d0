"""A sweep of prices against a script that rebuilds with PuLP and a hand-written highspy loop, side by side in one run.

    python tests/benchmarks/price_sweep.py [PRICES] [REBUILT]

PRICES (10,000) are swept by the tool and by the loop; the rebuilding script, a thousand times slower, does REBUILT
(300) of them, spread over the whole range, and its time is given per price. All start from the same rows of numbers;
each price is answered with its cost and its mix, the tool's proved besides. Costs are compared where both were solved.
Nothing here passes or fails but that comparison.
"""

from __future__ import annotations

import os
import sys
import time
import warnings
from collections.abc import Callable
from pathlib import Path

import numpy as np

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)
    import highspy
    import pulp

from rationlp.book.reading.read import read_book
from rationlp.farm import Farm
from rationlp.library import load_library
from rationlp.offers.priced_program import PricedProgram
from rationlp.offers.sweep import path
from rationlp.rations.formulate import formula_of, ration_tasks
from rationlp.rations.program.program import Program

BOOK = Path(__file__).parents[2] / "rationlp" / "book" / "demo_book"
OFFER, LOW, HIGH = "soy48_bulk", 200.0, 700.0
_linear = getattr(pulp.LpAffineExpression, "from_list", pulp.LpAffineExpression)


def tool(program: Program, prices: np.ndarray) -> np.ndarray:
    """The sweep of `rationlp offers --sweep`, its solver object included."""
    bench = PricedProgram(program)
    return path(bench, program.columns.index(OFFER), prices).costs


def rebuilt(program: Program, prices: np.ndarray, solver: Callable[[], object]) -> np.ndarray:
    """(a) A fresh PuLP problem for every price."""
    column, found = program.columns.index(OFFER), []
    for price in prices.tolist():
        problem = pulp.LpProblem("ration", pulp.LpMinimize)
        made = [problem.add_variable(f"x{j:05d}", 0, None) for j in range(len(program.columns))]
        costs = [price if j == column else cost for j, cost in enumerate(program.costs)]
        problem += _linear(list(zip(made, costs, strict=True)))
        for row in program.rows:
            left = _linear([(x, a) for x, a in zip(made, row.coefficients, strict=True) if a])
            problem += left >= 0 if row.sense == ">=" else left <= 0 if row.sense == "<=" else left == 0
        problem += _linear(list(zip(made, program.normalizer, strict=True))) == 1
        problem.solve(solver())
        shares = [x.value() for x in made]
        found.append(sum(c * x for c, x in zip(costs, shares, strict=True)))
    return np.array(found)


def loop(program: Program, prices: np.ndarray) -> np.ndarray:
    """(b) One highspy object, one cost changed in place for every price, cost and mix read."""
    highs, infinity = highspy.Highs(), highspy.kHighsInf
    highs.setOptionValue("output_flag", False)
    for cost in program.costs:
        highs.addCol(cost, 0.0, infinity, 0, [], [])
    bounds = {">=": (0.0, infinity), "<=": (-infinity, 0.0), "=": (0.0, 0.0)}
    for row in program.rows:
        terms = [(j, a) for j, a in enumerate(row.coefficients) if a]
        highs.addRow(*bounds[row.sense], len(terms), [j for j, _ in terms], [a for _, a in terms])
    count = len(program.columns)
    highs.addRow(1.0, 1.0, count, list(range(count)), list(program.normalizer))
    column, found = program.columns.index(OFFER), []
    for price in prices.tolist():
        highs.changeColCost(column, price)
        highs.run()
        shares = list(highs.getSolution().col_value)
        found.append((highs.getInfo().objective_function_value, shares))
    return np.array([cost for cost, _ in found])


def timed(work: Callable[[], np.ndarray]) -> tuple[float, np.ndarray]:
    """Wall seconds and what came of it."""
    start = time.perf_counter()
    found = work()
    return time.perf_counter() - start, found


def compare(name: str, programs: list[Program], prices: np.ndarray, few: np.ndarray) -> None:
    """One table line for each way, over the same programs; microseconds for each price of each ration."""
    places = np.searchsorted(prices, few)
    ways: dict[str, tuple[Callable[[Program], np.ndarray], int]] = {
        "rationlp sweep": (lambda program: tool(program, prices), len(prices)),
        "(b) highspy loop": (lambda program: loop(program, prices), len(prices)),
        "(a) PuLP rebuilt, HiGHS in process": (lambda p: rebuilt(p, few, lambda: pulp.HiGHS(msg=False)), len(few)),
    }
    if "PULP_CBC_CMD" in pulp.listSolvers(onlyAvailable=True):
        ways["(a) PuLP rebuilt, its default CBC"] = (
            lambda p: rebuilt(p, few, lambda: pulp.PULP_CBC_CMD(msg=False)),
            len(few),
        )
    spent = dict.fromkeys(ways, 0.0)
    worst = 0.0
    for program in programs:
        answers = {}
        for way, (work, _) in ways.items():  # in turns, so that a slow minute of the machine hits all of them alike
            seconds, answers[way] = timed(lambda work=work, program=program: work(program))
            spent[way] += seconds
        ours = answers["rationlp sweep"]
        for way, found in answers.items():
            if "CBC" not in way:  # CBC's numbers come back through a text file, with fewer digits
                same = ours if len(found) == len(ours) else ours[places]
                worst = max(worst, float(np.max(np.abs(found - same) / np.abs(same))))
    print(f"{name}: {len(programs)} ration(s), {len(prices):,} prices each (rebuilt: {len(few)})")
    mine = spent["rationlp sweep"] / len(programs) / len(prices)
    for way, (_, count) in ways.items():
        each = spent[way] / len(programs) / count
        print(f"  {way:<36} {1e6 * each:9.1f} us a price  {each / mine:8.1f} x the sweep")
    print(f"  largest difference in cost: {worst:.1e} of it")
    if worst > 1e-7:
        sys.exit("costs differ by more than 1e-7")


def main() -> None:
    """One ration, then all rations of the demo farm."""
    many = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
    few = int(sys.argv[2]) if len(sys.argv) > 2 else 300
    library = load_library()
    book = read_book(BOOK, library.units)
    farm = Farm(book, library)
    formulas = [formula_of(farm, *task) for task in ration_tasks(farm)]
    programs = [formula.program for formula in formulas if OFFER in formula.program.columns]
    prices = np.linspace(LOW, HIGH, many)
    chosen = prices[np.linspace(0, many - 1, few).astype(int)]
    stdout = os.dup(1)
    os.dup2(os.open(os.devnull, os.O_WRONLY), 1)  # HiGHS writes two lines on its first use in a process
    highspy.Highs()
    os.dup2(stdout, 1)
    print(f"Python {sys.version.split()[0]}, PuLP {pulp.__version__}, {time.strftime('%Y-%m-%d')}")
    first = next(f.program for f in formulas if f.stage.stage == "sw_gro_25_50")
    tool(first, prices[:10])
    compare("One ration", [first], prices, chosen)
    compare("All rations", programs, prices, chosen[:: max(len(chosen) // 30, 1)])


if __name__ == "__main__":
    main()
