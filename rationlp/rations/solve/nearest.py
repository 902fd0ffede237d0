"""When nothing meets everything: the mix that comes nearest, and which rows cannot hold together.

An elastic program: every row that may give way gets a slack, in parts of its own need. First the least shortfall of
requirements and energy is sought, a part of energy counting for ten of anything else, so that it gives way last and yet
never at the price of all minerals; then, with that held, the least of wishes (a home-grown share asked for), then of
what passes the bounds of the trade, and then the least cost, of what the program itself counts: a unit of energy, or
of mass. A bound of practice (fibre, fat, coarse calcium, milk sugar: no need of the animal, no law, no safety) is
missed where that saves more than it is worth: each percent of the bound half a percent of the cost. So are vitamins and
trace minerals that are rows: a need that follows energy is less missed in a mix of less energy, and dear phosphate was
the filler. Laws of the mix and safety caps have no slack, unless `with_laws_giving_way` gives them one, for the mix
that comes nearest where not even they can be kept, or `met_beyond` does, where it is the premix that passes them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import compress
from math import inf
from typing import TypeVar

from rationlp.rations.program.program import Program, ProgramRow, SolverStatus
from rationlp.rations.program.rows import (
    ENERGY_RANK,
    LAW_RANK,
    NEED_RANK,
    PRACTICE_RANK,
    PRICED_RANKS,
    USUAL_RANK,
    VITAMIN_RANK,
    WISH_RANK,
)
from rationlp.rations.solve.checked import solve_checked
from rationlp.rations.solve.solver import LiveProgram, solve

ROUNDING = 1e-9  # a shortfall once found may grow by this part of itself, and by as much of a need, in later steps
# of the least passing of laws: so much more, where it lets the mix be a feed at all (a judgement: it is not fed either
# way, and with a twentieth there was no grain of the farm in it)
LAW_ROOM = 0.25
NONE = 2e-6  # of a need: a smaller shortfall is one only of rounding, and the mix is sought that has none there
NEED_RANKS = (NEED_RANK, ENERGY_RANK)
FIRST_RANKS = (*PRICED_RANKS, USUAL_RANK, WISH_RANK)
"""What gives way before requirements do."""
NEEDS, PRICED = 1, min(PRICED_RANKS)  # steps: of requirements and energy together, and of all that has a price
WEIGHT = {  # a judgement
    PRACTICE_RANK: 1.0,
    VITAMIN_RANK: 1.0,
    USUAL_RANK: 1.0,
    WISH_RANK: 1.0,
    NEED_RANK: 1.0,
    ENERGY_RANK: 10.0,
    LAW_RANK: 1.0,
}
WORTH = 0.5  # of the cost of a mix: what missing all of a bound that has a price must save (a judgement)
ALIKE = 7  # decimals of a need to which two mixes that miss it are alike
Kept = TypeVar("Kept")
SIGNS = {">=": (1.0,), "<=": (-1.0,), "=": (1.0, -1.0)}


@dataclass(frozen=True, slots=True)
class Elastic:
    """`program` with its slacks behind its own columns, for one unit of mass; `ranks` of the slacks in their order, and
    `places` of rows. `counts` is what a unit of each column counts in the program that was made elastic (energy)."""

    program: Program
    columns: int
    ranks: tuple[int, ...]
    places: tuple[int, ...]
    counts: tuple[float, ...]

    def costs_of(self, rank: int | None) -> tuple[float, ...]:
        """The weight of each slack of a rank (of every rank: None, each counting one)."""
        return (0.0,) * self.columns + tuple(
            float(rank is None) or (WEIGHT[own] if step_of(own) == rank else 0.0) for own in self.ranks
        )


def step_of(rank: int) -> int:
    """The step in which the shortfall of a rank is sought: requirements and energy in one, and so what has a price."""
    if rank in PRICED_RANKS:
        return PRICED
    return NEEDS if rank in NEED_RANKS else rank


def steps_of(ranks: Iterable[int]) -> list[int]:
    """The steps in which the least shortfall is sought, the last to give way first; without that which has a price."""
    return sorted({step_of(rank) for rank in ranks} - {PRICED}, reverse=True)


def with_laws_giving_way(
    program: Program, idle: Collection[str], foods: Collection[str]
) -> tuple[Program, tuple[str, ...]]:
    """`program` with laws relaxable, the last to give way, of those that cannot hold together; and the first that
    cannot (their keys). Columns that are `idle` (crystals) are no help, as nobody feeds them as a filler, but where the
    book asks for them.

    Without any one of these laws the others can hold: the one gives way that is passed by the least part of itself.
    Where more cannot hold together, so on, until there is a mix. A dose of premix gives way only to other doses: what
    mends a maximum that it passes is another premix, and not less of this one. A law that none of the `foods` (columns)
    can pass by itself is one of them only where the others can hold: that salt may not fill a mix is no news.
    """
    asked = [row for row in program.rows if not row.relaxable and row.sense != "<="]
    kept = [name not in idle or any(row.coefficients[j] > 0 for row in asked) for j, name in enumerate(program.columns)]
    solid, giving = _with_columns(program, kept), set[str]()
    told: tuple[str, ...] = ()
    while len(giving) < len(program.rows) and least_shortfall(solid) is None:
        beside = _of_fillers(solid, foods)
        together = conflict(solid, laws_only=True, unnamed=beside)
        if not together:
            beside, together = set(), conflict(solid, laws_only=True)
        rows = tuple(row for row in solid.rows if row.key in together)
        if not rows:  # the solver itself is not sure of it
            return _relaxed(program, [row.key for row in program.rows]), told
        conflicting = replace(solid, rows=tuple(row for row in solid.rows if row.key in {*together, *beside}))
        least = min(rows, key=lambda row: (row.sense == "=", _part_passed(conflicting, row)))
        told, giving = told or together, giving | {least.key}
        solid = _relaxed(solid, giving)
    return _relaxed(program, giving), told


def _of_fillers(program: Program, foods: Collection[str]) -> set[str]:
    """The maxima among the laws that none of these columns passes by itself (their keys)."""
    foods_at = [j for j, name in enumerate(program.columns) if name in foods]
    laws = (row for row in program.rows if not row.relaxable and row.sense == "<=")
    return {row.key for row in laws if all(row.coefficients[j] <= 0 for j in foods_at)}


def _with_columns(program: Program, kept: Sequence[bool]) -> Program:
    """`program` with some of its columns."""

    def some(of: Sequence[Kept]) -> tuple[Kept, ...]:
        return tuple(compress(of, kept))

    rows = tuple(replace(row, coefficients=some(row.coefficients), sizes=some(row.sizes)) for row in program.rows)
    return Program(some(program.columns), some(program.costs), rows, some(program.normalizer))


def _part_passed(program: Program, row: ProgramRow) -> float:
    """By what part of its bound a row is passed at the least where it alone gives way."""
    elastic = elastic_of(_relaxed(program, [row.key]))
    found = solve_checked(elastic.program)
    size = sum(part * amount for part, amount in zip(row.magnitudes, found.amounts, strict=False))
    return found.objective / size if found.status == SolverStatus.OPTIMAL and size else inf


def _relaxed(program: Program, keys: Collection[str]) -> Program:
    """`program` with the laws of these keys giving way, last of all."""
    law = [not row.relaxable and row.key in keys for row in program.rows]
    rows = [
        replace(row, relaxable=True, rank=LAW_RANK) if it else row for row, it in zip(program.rows, law, strict=True)
    ]
    return replace(program, rows=tuple(rows))


def misses_a_need(program: Program, amounts: tuple[float, ...]) -> bool:
    """Whether amounts, one in all, miss a requirement or an energy by more than rounding."""
    needs = [row for row in program.rows if row.relaxable and row.rank in NEED_RANKS]
    return any(max(-sign * program.value(row, amounts) for sign in SIGNS[row.sense]) > NONE for row in needs)


def met_beyond(program: Program, keys: Collection[str], foods: Collection[str]) -> Program | None:
    """`program` with every requirement kept beyond the laws at `keys`; None where that needs none of them, or more.

    For maxima that a premix all but fills: no grain and no meal mends them, so a mix that misses protein, has no grain
    of the farm, or is full of phosphate to stay near one of them helps nobody. What `foods` (columns) hold counts no
    more to any of them, and what else brings it gives way last.
    """
    firm = tuple(replace(row, relaxable=row.relaxable and row.rank not in NEED_RANKS) for row in program.rows)
    elastic = elastic_of(_relaxed(replace(program, rows=firm), keys))
    found = solve_checked(replace(elastic.program, costs=elastic.costs_of(LAW_RANK)))
    if not found.amounts or found.objective <= NONE:
        return None
    rows = tuple(_without(row, program.columns, foods) if row.key in keys else row for row in firm)
    return _relaxed(replace(program, rows=rows), keys)


def _without(row: ProgramRow, columns: Sequence[str], foods: Collection[str]) -> ProgramRow:
    """A row of a maximum to which what `foods` hold does not count."""
    columns_of = zip(columns, row.coefficients, row.magnitudes, strict=True)
    return replace(row, coefficients=tuple(-size if name in foods else part for name, part, size in columns_of))


def nearest_mix(program: Program) -> tuple[float, ...] | None:
    """The amounts with the least shortfall, rank by rank, each row relative to its own need, and then the least cost.

    Rows that are not relaxable hold as they are; if they cannot, there is no such mix and the answer is None. The
    amounts add up to one whatever the normalization of `program`. A row missed by no more than rounding is kept as if
    it could not give way, where that can be. Raises SolverError if the solver fails.
    """
    return NearestAtPrices(program).mix(program.costs)


def missed(program: Program, amounts: Sequence[float], costs: Sequence[float], worth: float) -> tuple[float, ...]:
    """How far a mix is from `program`: what it misses in each step, the last to give way first, and then its cost, at
    these costs of the columns, and what it misses of practice at this worth of a bound."""
    total = sum(amounts)
    shares = tuple(amount / total for amount in amounts)
    steps = dict.fromkeys((*steps_of(row.rank for row in program.rows if row.relaxable), PRICED), 0.0)
    for row in (row for row in program.rows if row.relaxable):
        off = program.value(row, shares)
        steps[step_of(row.rank)] += WEIGHT[row.rank] * max(max(-sign * off for sign in SIGNS[row.sense]), 0.0)
    cost = worth * steps.pop(PRICED) + sum(price * share for price, share in zip(costs, shares, strict=True))
    counted = sum(part * share for part, share in zip(program.normalizer, shares, strict=True))
    return (*(round(step, ALIKE) for step in steps.values()), cost / (counted or 1.0))


class NearestAtPrices:
    """The nearest mixes of a program at any costs of its columns: what they miss is sought once, of practice at the
    costs of the program itself. `worth` is what all of a bound of practice is worth, per unit of mass."""

    def __init__(self, program: Program, worth: float = 0.0):
        self._program, self.worth = program, worth
        self._known: dict[frozenset[int], Elastic | None] = {}

    def mix(self, costs: Sequence[float]) -> tuple[float, ...] | None:
        """The cheapest of the nearest mixes, as `nearest_mix` has it. Raises SolverError if the solver fails."""
        elastic = self._held_at_least(frozenset())
        amounts = _cheapest(elastic, costs) if elastic else None
        if elastic is None or amounts is None:
            return None
        slacks = zip(elastic.places, amounts[elastic.columns :], strict=True)
        slight = frozenset(place for place, x in slacks if 0.0 < x <= NONE)
        kept = self._held_at_least(slight) if slight else None
        better = _cheapest(kept, costs) if kept else None
        return (better or amounts)[: elastic.columns]

    def _held_at_least(self, kept: frozenset[int]) -> Elastic | None:
        """The elastic program that holds every rank to its least shortfall, with the rows at `kept` not giving way."""
        if kept not in self._known:
            rows = self._program.rows
            firm = tuple(replace(row, relaxable=row.relaxable and i not in kept) for i, row in enumerate(rows))
            self._known[kept] = self._with_practice(_least_missing(replace(self._program, rows=firm)))
        return self._known[kept]

    def _with_practice(self, elastic: Elastic | None) -> Elastic | None:
        """`elastic` with practice kept as far as it is worth it; the worth is that of the first program asked."""
        if elastic is None or not set(PRICED_RANKS) & set(elastic.ranks):
            return elastic
        self.worth = self.worth or _worth(elastic, self._program.costs)
        return _with_practice(elastic, self._program.costs, self.worth)


def _least_missing(program: Program) -> Elastic | None:
    """The elastic program with each rank but practice held to its least shortfall by a row; None where laws cannot
    hold."""
    elastic = elastic_of(program)
    standing = elastic.program
    for rank in steps_of(elastic.ranks):
        solution = solve_checked(replace(standing, costs=elastic.costs_of(rank)))
        if solution.status == SolverStatus.INFEASIBLE:
            return None
        standing = replace(standing, rows=(*standing.rows, _held(elastic, rank, solution.objective)))
    return replace(elastic, program=standing)


def _with_practice(elastic: Elastic, costs: Sequence[float], worth: float) -> Elastic:
    """`elastic` with what is missed of practice held to what is not worth keeping at these costs; as it is where
    rounding leaves it no mix."""
    amounts, missing = _worth_their_cost(elastic, costs, worth), elastic.costs_of(PRICED)
    if not amounts:
        return elastic
    given_up = sum(part * amount for part, amount in zip(missing, amounts, strict=True))
    rows = (*elastic.program.rows, _held(elastic, PRICED, given_up))
    return replace(elastic, program=replace(elastic.program, rows=rows))


def _worth(elastic: Elastic, costs: Sequence[float]) -> float:
    """What all of a bound of practice is worth, in money per unit of mass: WORTH times the cost of the mix
    in which nothing is paid for practice."""
    careless = _cheapest(elastic, costs)
    cost = sum(price * share for price, share in zip(costs, careless or (), strict=False))
    return WORTH * (cost if cost > 0 else 1.0)


def _worth_their_cost(elastic: Elastic, costs: Sequence[float], worth: float) -> tuple[float, ...]:
    """The amounts that keep what of the bounds of practice is worth its cost, slacks among them; none without a mix."""
    return _cheapest(elastic, costs, tuple(worth * part for part in elastic.costs_of(PRICED)[elastic.columns :])) or ()


def without_dear_practice(program: Program) -> tuple[float, ...]:
    """The cheapest amounts of a program that has a mix, with what practice advises kept only where it is worth its
    cost, and everything else kept. Raises SolverError if the solver fails."""
    rows = tuple(replace(row, relaxable=row.rank == PRACTICE_RANK) for row in program.rows)
    elastic = elastic_of(replace(program, rows=rows))
    return _worth_their_cost(elastic, program.costs, _worth(elastic, program.costs))[: elastic.columns]


def _cheapest(elastic: Elastic, costs: Sequence[float], missing: Sequence[float] = ()) -> tuple[float, ...] | None:
    """The cheapest amounts of an elastic program by what its program counts, put to one unit of mass, slacks among
    them; None where it has none. `missing` are the costs of the slacks. A mix in which nothing counts (minerals have no
    energy) is the cheapest by its mass."""
    slacks = (0.0,) * len(elastic.ranks)
    priced = replace(elastic.program, costs=(*costs, *(missing or slacks)))
    for counted in (replace(priced, normalizer=(*elastic.counts, *slacks)), priced):
        solution = solve_checked(counted)
        if solution.status == SolverStatus.OPTIMAL:
            mass = sum(solution.amounts[: elastic.columns])
            return tuple(amount / mass for amount in solution.amounts)
    return None


def least_shortfall(program: Program) -> float | None:
    """The least total shortfall, each relative to its need, or None where the rows that never give way cannot hold."""
    elastic = elastic_of(program)
    first = solve_checked(elastic.program)
    return first.objective if first.status == SolverStatus.OPTIMAL else None


def elastic_of(program: Program) -> Elastic:
    """`program` with a slack for each relaxable row and side, minimizing the sum of all slacks at one unit of mix."""
    columns = len(program.columns)
    slacks = [(i, sign) for i, row in enumerate(program.rows) if row.relaxable for sign in SIGNS[row.sense]]
    none = (0.0,) * len(slacks)
    given_way = [list(none) for _ in program.rows]
    for place, (of, sign) in enumerate(slacks):
        given_way[of][place] = sign
    rows = tuple(
        replace(row, coefficients=(*row.coefficients, *own), sizes=(*row.magnitudes, *none))
        for row, own in zip(program.rows, given_way, strict=True)
    )
    made = Program(
        columns=(*program.columns, *(f"shortfall of {program.rows[of].key}" for of, _ in slacks)),
        costs=(0.0,) * columns + (1.0,) * len(slacks),
        rows=rows,
        normalizer=(1.0,) * columns + (0.0,) * len(slacks),
    )
    places = tuple(of for of, _ in slacks)
    return Elastic(made, columns, tuple(program.rows[of].rank for of in places), places, program.normalizer)


def _held(elastic: Elastic, rank: int, shortfall: float) -> ProgramRow:
    """The row that keeps the shortfall of a rank where it was found."""
    ceiling = shortfall * (1 + (LAW_ROOM if rank == LAW_RANK else ROUNDING)) + ROUNDING
    costs, normalizer = elastic.costs_of(rank), elastic.program.normalizer
    kept = tuple(c - ceiling * n for c, n in zip(costs, normalizer, strict=True))
    return ProgramRow(f"least shortfall {rank}", kept, "<=", sizes=tuple(max(ceiling, 1.0) * n for n in normalizer))


def conflict(program: Program, laws_only: bool = False, unnamed: Collection[str] = ()) -> tuple[str, ...]:
    """Keys of an irreducible set of rows that cannot hold together; leave out any one of them and the rest can.

    Rows with a price in the elastic program are such a set, though perhaps too large (Farkas); of these one row after
    the other is left out (deletion filter: J. W. Chinneck, Feasibility and Infeasibility in Optimization, 2008, chapter
    6): laws of the mix first, then what the trade uses at most and wishes, so that the set names requirements where it
    can. Rows that give way before requirements do, to cost first, are in it only where all others can hold together:
    milk sugar that nobody offers is no reason for protein that is short. With `laws_only` it is looked for among the
    rows that never give way. Rows that are `unnamed` (keys) hold and are not told.
    """
    for ranks in (FIRST_RANKS, PRICED_RANKS):
        others = tuple(row for row in program.rows if not (row.relaxable and row.rank in ranks))
        if len(others) < len(program.rows) and _infeasible(program, others):
            program = replace(program, rows=others)
            break
    rows = [replace(row, relaxable=True) for row in program.rows if not row.relaxable] if laws_only else program.rows
    suspects = [] if unnamed else _priced(replace(program, rows=tuple(rows)))
    if not _infeasible(program, suspects):
        suspects = list(rows)
    kept = sorted(suspects, key=lambda row: (row.relaxable, row.rank, not row.key.startswith("ceiling:")))
    live = LiveProgram(replace(program, rows=tuple(kept)))
    left_out: list[int] = []
    for index in (index for index, row in enumerate(kept) if row.key not in unnamed):
        live.leave_out(rows=[*left_out, index])
        if live.run().status == SolverStatus.INFEASIBLE:
            left_out.append(index)
    return tuple(row.key for index, row in enumerate(kept) if index not in left_out and row.key not in unnamed)


def gives_way_first(program: Program, keys: Collection[str]) -> bool:
    """Whether one of the rows at these keys gives way before requirements do."""
    return any(row.key in keys and row.relaxable and row.rank in FIRST_RANKS for row in program.rows)


def _priced(program: Program) -> list[ProgramRow]:
    """Rows with a price in the least shortfall of `program`."""
    elastic = elastic_of(program)
    solution = solve(elastic.program)
    if solution.status != SolverStatus.OPTIMAL:
        return []
    return [row for row, dual in zip(program.rows, solution.row_duals, strict=True) if abs(dual) > 1e-9]


def _infeasible(program: Program, rows: Sequence[ProgramRow]) -> bool:
    return bool(rows) and solve(replace(program, rows=tuple(rows))).status == SolverStatus.INFEASIBLE
