"""Every plan is checked before anyone sees it: balances to the kilogram, costs, primal against dual."""

from __future__ import annotations

from collections.abc import Sequence
from math import fsum, isfinite

from rationlp.errors import SolverError
from rationlp.year.program.master import Master, Portion

KILOGRAM = 0.001  # tonnes
TOLERANCE = 1e-6  # of the cost


def verify_plan(master: Master, portions: Sequence[Portion]) -> None:
    """Check the answer of `master` from the portions alone. Raises SolverError with everything that does not hold."""
    found = [*_fed(master, portions), *_stocks(master, portions), *_packages(master), *_cost(master, portions)]
    if found:
        raise SolverError("The plan of the year did not stand up to the check, so it is not shown: " + "; ".join(found))


def _fed(master: Master, portions: Sequence[Portion]) -> list[str]:
    missing = {id(demand): part for demand, part in master.unfed()}
    found = []
    for demand in master.demands:
        parts = fsum(p.part for p in portions if p.demand is demand) + missing.get(id(demand), 0.0)
        if abs(parts - 1) * demand.units > KILOGRAM:
            found.append(f"{demand.fed.group} gets {parts:g} of its feed instead of 1")
    return found


def _stocks(master: Master, portions: Sequence[Portion]) -> list[str]:
    found = []
    for name in master.limited:
        used = fsum(p.tonnes * dict(p.mix.shares).get(name, 0.0) for p in portions)
        there = master.supplies[name].tonnes or 0.0
        if used > there + KILOGRAM:
            found.append(f"{name} gives {used:g} t and has {there:g}")
    for portion in portions:
        late = [n for n in portion.mix.names if n not in portion.demand.names]
        if late:
            found.append(f"{', '.join(late)} cannot be had when {portion.demand.fed.group} eats it")
    return found


def _packages(master: Master) -> list[str]:
    """Whether what is used of each offer of which whole packages are paid is in these, or lies on the farm."""
    if master.packages in (None, master.needed()):
        return []
    return [f"of packages {master.needed()} are used and {master.packages} paid"]


def _cost(master: Master, portions: Sequence[Portion]) -> list[str]:
    """Cost recomputed, and the cost the prices of what is scarce and of the animals add up to (strong duality)."""
    answer = master.answer
    cost = fsum(p.tonnes * master.cost_per_tonne(p.mix) for p in portions)
    cost += fsum(master.left_over().values()) if master.packages is not None else 0.0
    cost += fsum(part * master.unfed_cost(demand) for demand, part in master.unfed())
    cost += master.grown_missing * master.penalty
    paid = master.paid_beyond_worth()
    paid += fsum(right * dual for right, dual in zip(master.right_sides(), answer.row_duals, strict=True))
    scale = max(abs(cost), 1.0)
    found = [] if isfinite(cost) and isfinite(paid) else ["a figure in it is not a number"]
    if abs(cost - answer.cost) > TOLERANCE * scale:
        found.append(f"its mixes cost {cost:g} and the solver says {answer.cost:g}")
    if abs(paid - answer.cost) > TOLERANCE * scale:
        found.append(f"cost {answer.cost:g} and its dual {paid:g} differ")
    return found
