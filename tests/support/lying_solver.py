"""A solver that says what is not so, in the place where its answers come in: HiGHS itself, as PuLP makes it."""

from __future__ import annotations

from collections.abc import Callable
from enum import StrEnum
from types import SimpleNamespace

import highspy
import pytest

from rationlp.rations.program.program import Program, RowArrays
from rationlp.rations.solve import solver


class Lie(StrEnum):
    """What is said in place of the truth."""

    WRONG_AMOUNTS = "wrong amounts"
    WRONG_DUAL = "wrong dual"
    NAN = "not a number"
    OPTIMAL_CALLED_INFEASIBLE = "optimal called infeasible"
    TIME_LIMIT = "time limit"
    UNKNOWN = "unknown"
    WRONG_BASIS = "wrong basis"
    ANOTHER_CORNER = "a corner that is not the cheapest"


class Told:
    """What to lie of: the programs of rations, by what stands in them, integer programs, the year."""

    lie: Lie | None = None
    of: Callable[[Program, solver.Way], bool] = staticmethod(lambda program, way: True)
    whole = False  # programs that are not one ration: weights in whole steps, the year
    runs = 10**9  # of every solver, that are lied about
    asked: tuple[Program, solver.Way] | None = None
    told = 0


class LyingHighs(highspy.Highs):
    """HiGHS, whose first runs end with a lie."""

    def __init__(self) -> None:
        super().__init__()
        self.ran = 0
        self.lies = Told.of(*Told.asked) if Told.asked else Told.whole

    @property
    def lie(self) -> Lie | None:
        """The lie of today, where this solver lies now."""
        return Told.lie if self.lies and self.ran <= Told.runs else None

    def run(self) -> object:
        """Solve, and count."""
        self.ran += 1
        if self.lie is Lie.ANOTHER_CORNER and self.getNumCol():
            costs = list(self.getLp().col_cost_)
            self.changeColsCost(len(costs), list(range(len(costs))), [-cost for cost in costs])
            done = super().run()
            self.changeColsCost(len(costs), list(range(len(costs))), costs)
            return done
        return super().run()

    def getModelStatus(self) -> object:
        """The status, or a lie about it."""
        lie = self.lie
        said = {
            Lie.OPTIMAL_CALLED_INFEASIBLE: "kInfeasible",
            Lie.TIME_LIMIT: "kTimeLimit",
            Lie.UNKNOWN: "kUnknown",
        }.get(lie, "kOptimal")
        if lie is None:
            return super().getModelStatus()
        Told.told += 1
        return SimpleNamespace(name=said)

    def getSolution(self) -> object:
        """The numbers, or others."""
        true, lie = super().getSolution(), self.lie
        amounts, duals, reduced = (list(found) for found in (true.col_value, true.row_dual, true.col_dual))
        if lie is Lie.WRONG_AMOUNTS:
            amounts = [x * 1.01 + 0.001 for x in amounts]
        if lie is Lie.NAN:
            amounts = [float("nan")] * len(amounts)
        if lie is Lie.WRONG_DUAL:
            duals = [dual * 1.01 + 0.01 for dual in duals]
        return SimpleNamespace(
            col_value=amounts, row_dual=duals, col_dual=reduced, row_value=list(true.row_value), dual_valid=True
        )

    def getBasis(self) -> object:
        """The basis, or one with another column in it."""
        true = super().getBasis()
        if self.lie not in (Lie.WRONG_BASIS, Lie.WRONG_AMOUNTS, Lie.WRONG_DUAL, Lie.NAN):
            return true
        columns = list(true.col_status)
        basic = highspy.HighsBasisStatus.kBasic
        inside = next(j for j, status in enumerate(columns) if status == basic)
        outside = next(j for j, status in enumerate(columns) if status != basic)
        columns[inside], columns[outside] = columns[outside], columns[inside]
        return SimpleNamespace(col_status=columns, row_status=list(true.row_status))


def lie_about(
    monkeypatch: pytest.MonkeyPatch,
    lie: Lie,
    of: Callable[[Program, solver.Way], bool] = lambda program, way: True,
    whole: bool = False,
    runs: int = 10**9,
) -> None:
    """From now on every solver tells `lie` in its first `runs` runs, of the programs asked for."""
    real = solver._built_and_solved

    def built(program: Program, arrays: RowArrays, way: solver.Way) -> object:
        Told.asked = program, way
        try:
            return real(program, arrays, way)
        finally:
            Told.asked = None

    monkeypatch.setattr(highspy, "Highs", LyingHighs)
    monkeypatch.setattr(solver, "_built_and_solved", built)
    for name, value in (("lie", lie), ("of", staticmethod(of)), ("whole", whole), ("runs", runs), ("told", 0)):
        monkeypatch.setattr(Told, name, value)
