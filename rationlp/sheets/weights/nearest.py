"""Where no weights meet everything: the whole weights that come nearest, by the ranks of the nearest ration."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.errors import SolverError
from rationlp.rations.program.program import SolverStatus
from rationlp.rations.program.rows import PRICED_RANKS
from rationlp.rations.solve.general.whole import WholeAnswer, solve_whole
from rationlp.rations.solve.nearest import PRICED, WEIGHT, WORTH, step_of, steps_of
from rationlp.sheets.weights.whole_program import PackedRow, WholeProgram

NONE_MORE = 1e-6  # of a need, and of itself: so much may a shortfall once found grow in a later step, by rounding


def nearest_counts(
    program: WholeProgram, ratio: float, price: float, all_kept: bool, gap: float, nodes: int
) -> tuple[Sequence[float], float] | None:
    """The counts with the least shortfall, rank by rank as for the nearest ration, and then the least cost; and how far
    below that cost, in fractions of the batch's, the solver's bound lies.

    Costs are `WholeProgram.costs(ratio, price)`, and what misses of practice are worth; with `all_kept`, of a ration
    that misses nothing whatever it costs, they are the least. `gap` and `nodes` end the search of each step. None
    where the caps and laws of the mix cannot be kept, or `nodes` branches did not come to any weights. Raises
    SolverError.
    """
    rows, ranks = program.elastic_rows()
    costs = program.costs(ratio, price)
    for column, rank in ranks.items():
        if rank in PRICED_RANKS:
            costs[column] = WORTH * WEIGHT[rank]

    def cheapest(kept: Sequence[int] = ()) -> WholeAnswer | None:
        """The least cost with nothing more missed than was found, and nothing at all in the steps that are `kept`."""
        columns = list(program.columns)
        for column, rank in ranks.items():
            if step_of(rank) in kept:
                columns[column] = (0.0, 0.0, False)
        return finished(solve_whole(costs, columns, rows, gap, nodes))

    best: WholeAnswer | None = None
    steps = [*steps_of(ranks.values()), *([PRICED] if all_kept else [])]
    for place, step in enumerate(steps, 1):
        weights = {column: WEIGHT[rank] for column, rank in ranks.items() if step_of(rank) == step}
        missed = [weights.get(column, 0.0) for column in range(len(program.columns))]
        found = finished(solve_whole(missed, program.columns, rows, gap, nodes))
        if found is None:
            break
        best = found
        rows.append(_held(weights, found.solution.amounts))
        if steps[place:] and (found := cheapest(steps[place:])):  # all the rest can be kept: no need to ask one by one
            return found.solution.amounts, found.unproven
    if best is None:
        return None
    last = cheapest()
    return (last.solution.amounts, last.unproven) if last else (best.solution.amounts, 0.0)


def _held(weights: dict[int, float], amounts: Sequence[float]) -> PackedRow:
    """The row that keeps the shortfall of a step where it was found."""
    least = sum(weight * amounts[column] for column, weight in weights.items())
    return weights, None, least * (1 + NONE_MORE) + NONE_MORE


def finished(found: WholeAnswer, sought: str = "nearest whole weights") -> WholeAnswer | None:
    """What was found, or None where there are no such weights. Raises SolverError where the solver did not finish."""
    status = found.solution.status
    if found.found:
        return found
    if status in (SolverStatus.INFEASIBLE, SolverStatus.LIMIT_REACHED):
        return None
    raise SolverError(f"The solver could not finish the {sought} (it says: {status}).")
