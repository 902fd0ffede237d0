"""Several mixes of one cost: how far the shares may move, and the mix nearest the last one."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from rationlp.numbers import Floats
from rationlp.offers.live_ration import SAME_COST, LiveRation, in_mix, shares_of
from rationlp.offers.model import EqualMixes
from rationlp.offers.priced_program import WITHIN, PricedProgram
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve.chance import ChanceRow

NO_FARTHER = 1e-7
"""Changes whose sums differ by less than this part are as large."""
VISIBLE = 0.005
"""A share that can move by at least half a point of the mix is worth telling."""


def equal_mixes(
    case: LiveRation, last: Mapping[str, float] | None = None, last_name: str = "", tolerance: float = SAME_COST
) -> EqualMixes | None:
    """What else costs the same within `tolerance` (a fraction of the cost); None where today's mix is the only one.

    `last` are shares of the last mix made, by offer, called `last_name`.
    """
    if case.priced is None:
        return None
    program, able = as_cheap(case, tolerance), able_to_move(case, tolerance)
    if not len(able):
        return None
    priced = PricedProgram(program, case.priced.chances)
    spans = []
    for index in able:
        candidate = case.candidate(index)
        least, most = (end(priced, index, sign) for sign in (1.0, -1.0))
        if most - least >= VISIBLE:
            spans.append((candidate.name, least, float(case.shares[index]), most))
    if not spans:
        return None
    spans.sort(key=lambda span: span[1] - span[3])
    nearest: tuple[tuple[str, float], ...] = ()
    if last:
        found = steadiest(case, last, tolerance)
        nearest = tuple((c.name, float(x)) for c, x in zip(case.formula.candidates, found, strict=True) if in_mix(x))
    return EqualMixes(
        case.formula.stage.stage, case.formula.bin, tolerance, tuple(spans), last_name if nearest else "", nearest
    )


def steadiest(case: LiveRation, last: Mapping[str, float], tolerance: float = SAME_COST) -> Floats:
    """Of the mixes that cost the same as today's within `tolerance` the shares nearest those of `last` (by offer).

    Nearest by the least sum of changes of shares; nothing comes in that is in neither of the two. Raises SolverError.
    """
    wanted = [last.get(candidate.name, 0.0) for candidate in case.formula.candidates]
    idle = [i for i, share in enumerate(wanted) if not in_mix(share) and not in_mix(case.shares[i])]
    found = nearest_mix_to(as_cheap(case, tolerance), case.live.chances, wanted, idle)
    return case.shares if found is None else found


def as_cheap(case: LiveRation, tolerance: float) -> Program:
    """The program of all mixes that cost the same as today's, as shares of one tonne."""
    program, most = case.formula.program, _most(case, tolerance)
    row = ProgramRow(
        "as cheap", tuple(c - most * n for c, n in zip(program.costs, program.normalizer, strict=True)), "<="
    )
    size = max(map(abs, row.coefficients)) or 1.0
    sizes = tuple(abs(most * n) / size for n in program.normalizer) if most else ()
    row = replace(row, coefficients=tuple(a / size for a in row.coefficients), sizes=sizes)
    return replace(program, rows=(*program.rows, row), normalizer=(1.0,) * len(program.columns))


def _most(case: LiveRation, tolerance: float) -> float:
    """What a mix may cost, by the objective, and still cost the same as today's."""
    return case.value + tolerance * abs(case.value) + 1e-9


def able_to_move(case: LiveRation, tolerance: float) -> list[int]:
    """The columns whose share can be VISIBLE in a mix that costs the same; half of it, for rounding."""
    live = case.live
    today = live.best(live.costs)
    value = today.value(live.costs)
    dearer = max(_most(case, tolerance) - value, 0.0) + (live.within or WITHIN) * abs(value)
    shares = today.at_most(live.costs, dearer) * live.normalizer.max()  # no tonne holds more units of the objective
    return [int(index) for index in np.flatnonzero(shares >= VISIBLE / 2)]


def end(priced: PricedProgram, index: int, sign: float) -> float:
    """The least (sign 1) or the largest (-1) share of a column."""
    aim = np.zeros(len(priced.costs))
    aim[index] = sign
    return float(priced.best(aim).amounts[index])


def nearest_mix_to(
    program: Program, chances: Sequence[ChanceRow], wanted: Sequence[float], out: Sequence[int] = ()
) -> Floats | None:
    """The shares that keep every row of `program` with the least sum of changes from `wanted`; None if none do.

    A linear program: each change is the difference of a rise and a fall, neither below zero, and their sum is least. Of
    several that change as little the cheapest per tonne is taken. `out` are columns that may not be used.
    """
    wide = _with_changes(program, wanted)
    count = len(program.columns)
    wider = [replace(chance, variances=(*chance.variances, *(0.0,) * (2 * count))) for chance in chances]
    first = PricedProgram(wide, wider, exact=True).solve(np.array(wide.costs), out)
    if first is None:
        return None
    least = first.value(np.array(wide.costs))
    if least <= NO_FARTHER:  # the wanted mix keeps every row: there is nothing to choose, only rounding to trip over
        return shares_of(first.amounts[:count])
    most = least * (1 + NO_FARTHER) + NO_FARTHER
    kept = ProgramRow(
        "no farther", tuple(cost - most * n for cost, n in zip(wide.costs, wide.normalizer, strict=True)), "<="
    )
    costs = (*program.costs, *(0.0,) * (2 * count))
    second = PricedProgram(replace(wide, costs=costs, rows=(*wide.rows, kept)), wider, exact=True).solve(
        np.array(costs), out
    )
    amounts = (second or first).amounts[:count]
    return shares_of(amounts)


def _with_changes(program: Program, wanted: Sequence[float]) -> Program:
    """`program` per tonne with a rise and a fall of every share from `wanted`, minimizing their sum."""
    count = len(program.columns)
    nothing = (0.0,) * (2 * count)
    rows = [
        replace(row, coefficients=(*row.coefficients, *nothing), sizes=(*row.magnitudes, *nothing))
        for row in program.rows
    ]
    for j, share in enumerate(wanted):
        at = [-share + (i == j) for i in range(count)]
        moves = [-1.0 if i == j else 0.0 for i in range(count)] + [1.0 if i == j else 0.0 for i in range(count)]
        key, sizes = f"change of {program.columns[j]}", (*(1.0,) * count, *nothing)
        rows.append(ProgramRow(key, (*at, *moves), "=", sizes=sizes))
    return Program(
        columns=(*program.columns, *(f"{way} of {name}" for way in ("rise", "fall") for name in program.columns)),
        costs=(*(0.0,) * count, *(1.0,) * (2 * count)),
        rows=tuple(rows),
        normalizer=(*(1.0,) * count, *nothing),
    )
