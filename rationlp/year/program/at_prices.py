"""A formula asked for its cheapest mix at one price list after another, kept in the solver between them.

What it finds is what `settle` finds from cold: whether anything can be met, and by how much the bounds of the trade are
eased, do not hang on prices, so that both are asked once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import ProgramRow, Solution, SolverStatus
from rationlp.rations.solve.checked import run_settled, stands
from rationlp.rations.solve.nearest import NearestAtPrices
from rationlp.rations.solve.nearest_fed import nearest_fed
from rationlp.rations.solve.proved import solve_proved
from rationlp.rations.solve.settle import Settled, decided_from, eased_formula, open_choice, settle
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.model import ALL, AVERAGES_PCT


class AtPrices:
    """The cheapest mix of a formula that a farm feeds, at any costs of its columns."""

    def __init__(self, formula: Formula, farm: Farm):
        self._formula, self._pct, self._of = formula, farm.settings.confidence_pct, farm.settings.confidence_of
        self._sure = self._pct > AVERAGES_PCT or self._of == ALL
        self._live: LiveProgram | None = None
        self._eased = self._none = False
        self._nearest: NearestAtPrices | None = None
        self._last: tuple[ProgramRow, ...] | None = None  # what was decided in the last mix

    @property
    def row_duals(self) -> tuple[float, ...]:
        """Prices of the rows in the last answer, empty without one: a bound may be put together of them."""
        return self._live.solution.row_duals if self._live is not None else ()

    def settled(self, costs: Sequence[float]) -> Settled | None:
        """The cheapest mix, everything settled; None where no mix meets everything.

        Raises SolverError where no way of solving gives an answer that stands up to the check.
        """
        if self._none:
            return None
        if self._sure:
            found = settle(self._costing(costs), self._pct, self._of)
            self._none = found.solution.status == SolverStatus.INFEASIBLE
            return None if self._none else found
        solution = self._solved(costs)
        if solution.status == SolverStatus.INFEASIBLE and not self._eased:
            eased = eased_formula(self._costing(costs), self._pct)
            if eased is not None:
                self._formula, self._eased, self._live = eased, True, None
                solution = self._solved(costs)
        if solution.status == SolverStatus.INFEASIBLE:
            self._none = True
            return None
        formula, live = self._costing(costs), given(self._live, "the formula in the solver")
        found = Settled(formula, formula.program, solution, None)
        if open_choice(formula, formula.program, solution):
            found = decided_from(found, live)
        self._last = found.formula.program.rows[len(formula.program.rows) :]
        return found

    def as_before(self, costs: Sequence[float]) -> Settled | None:
        """The cheapest mix with all decided as in the last one: nearly the cheapest, for one program in place of many.

        None where there was none, where it leaves something open, or does not stand up to the check.
        """
        live, rows = self._live, self._last
        if live is None or rows is None or self._none:
            return None
        formula = self._costing(costs)
        live.drop_rows(range(len(formula.program.rows), len(live.program.rows)))
        live.set_costs(formula.program.costs)
        live.add_rows(rows)
        try:
            solution = run_settled(live)
        except SolverError:
            return None
        if solution.status != SolverStatus.OPTIMAL or open_choice(formula, live.program, solution):
            return None
        if not stands(live.program, solution):
            return None
        sources = (*formula.sources, *(None,) * len(rows))
        return Settled(replace(formula, program=live.program, sources=sources), live.program, solution, None)

    def nearest(self, costs: Sequence[float]) -> tuple[float, ...] | None:
        """Where no mix meets everything the amounts of the nearest one that a farm feeds, the cheapest of these; None
        without any."""
        if self._nearest is None:
            self._nearest = NearestAtPrices(self._formula.program)
        found = nearest_fed(self._formula, self._nearest, costs)
        return found[0] if found else None

    def _costing(self, costs: Sequence[float]) -> Formula:
        return replace(self._formula, program=replace(self._formula.program, costs=tuple(costs)))

    def _solved(self, costs: Sequence[float]) -> Solution:
        """The verified optimum of the formula's own rows at these costs, or `infeasible`. Raises SolverError."""
        program = self._costing(costs).program
        if self._live is None:
            self._live = LiveProgram(program)
        else:
            self._live.drop_rows(range(len(program.rows), len(self._live.program.rows)))
            self._live.set_costs(program.costs)
            self._live.run()
        solution = self._live.solution
        optimal = solution.status == SolverStatus.OPTIMAL and stands(program, solution)
        return solution if optimal else solve_proved(program, self._live)
