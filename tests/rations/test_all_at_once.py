"""The least-cost mix that meets all requirements at once, against draws and against a general solver."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import minimize

from rationlp.farm import Farm
from rationlp.rations.formulate import formula_of, ration_tasks, solve_rations
from rationlp.rations.solve.all_at_once import AllAtOnce
from rationlp.rations.solve.chance import chance_rows
from rationlp.rations.solve.joint_chance import JointChance
from rationlp.rations.solve.optimum import confidence_prices, optimum
from rationlp.rations.solve.verify import verify

from .test_joint_chance import counted


def formula(made, library):
    farm = Farm(made.at(confidence_of="all", confidence_pct=90.0), library)
    ((stage, group),) = ration_tasks(farm)
    return formula_of(farm, stage, group)


def general(one, pct, starts):
    """The least cost that scipy's SLSQP finds from these mixes, by amounts, with the joint chance as one constraint."""
    joint, program = JointChance(one), one.program
    costs, normalizer = np.array(program.costs), np.array(program.normalizer)
    scale = normalizer.mean()
    found = []
    for start in starts:
        start = np.asarray(start) / (normalizer @ start) * 1.0
        rest = [row for row in program.rows if row.sense != "="]
        lines = [(1.0 if row.sense == ">=" else -1.0) * np.array(row.coefficients) for row in rest]
        limits = [{"type": "ineq", "fun": lambda x, line=line: scale * (line @ x)} for line in lines]
        limits.append({"type": "eq", "fun": lambda x: normalizer @ x - 1})
        limits.append(
            {
                "type": "ineq",
                "fun": lambda x: joint.probability(np.maximum(x, 0), 4096) - pct / 100,
                "jac": lambda x: joint.gradient(np.maximum(x, 0), 4096) / max(x.sum(), 1e-9),
            }
        )
        answer = minimize(
            lambda x: costs @ x / costs.mean(),
            start,
            jac=lambda x: costs / costs.mean(),
            method="SLSQP",
            bounds=[(0, None)] * len(start),
            constraints=limits,
            options={"maxiter": 120, "ftol": 1e-9},
        )
        x = np.maximum(answer.x, 0)
        x = x / (normalizer @ x)
        if joint.probability(x, 4096) >= pct / 100 - 2e-4:
            found.append(float(costs @ x))
    return min(found, default=np.inf)


def check(seed, random_book, library, pct=90.0):
    one = formula(random_book(seed), library)
    asked = AllAtOnce(one)
    likely = asked.at(pct)
    if likely is None or not likely.reached:
        return False
    verify(likely.program, likely.solution)
    assert likely.probability >= pct / 100 - 1e-4
    cost = likely.solution.objective
    assert likely.bound <= cost * (1 + 1e-6) and cost <= likely.bound * (1 + 2e-3)
    assert counted(one, likely.solution.amounts) == pytest.approx(likely.probability, abs=0.005)
    inside = asked._inside(asked.averages(), pct / 100)
    assert general(one, pct, [likely.solution.amounts, inside]) >= cost * (1 - 1e-3)
    return True


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(8))
def test_random_books(seed, random_book, library):
    check(seed, random_book, library)


@pytest.mark.long
@pytest.mark.parametrize("seed", range(8, 50))
def test_more_random_books(seed, random_book, library):
    check(seed, random_book, library, 90.0 if seed % 2 else 80.0)


@pytest.mark.slow
def test_cheaper_than_the_same_risk_for_every_row(demo_book, library):
    """Split evenly (C. E. Bonferroni), the chance of each row is what makes them add up: always dearer."""
    farm = Farm(replace(demo_book, farm=replace(demo_book.farm, confidence_pct=90.0, confidence_of="all")), library)
    ((stage, group),) = ration_tasks(farm, ["sw_gest_p2_early"], ["north"])
    one = formula_of(farm, stage, group)
    likely = AllAtOnce(one).at(90.0)
    rows = [
        r for r in chance_rows(one.program, one.sources, one.candidates, one.stage.energy, 90.0) if any(r.variances)
    ]
    even = optimum(one, 100 * (1 - 0.1 / len(rows)))[1]
    assert likely.solution.objective < even.objective
    # the bound is of tangents to a chance that is itself calculated to a few digits
    assert likely.bound * (1 - 2e-5) <= likely.solution.objective <= likely.bound * (1 + 2e-4)


@pytest.mark.slow
def test_the_book_setting(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=85.0, confidence_of="all"))
    (solved,) = solve_rations(Farm(book, library), ["sw_gest_p2_early"], ["north"])
    ration = solved.ration
    assert ration.status == "optimal" and ration.confidence.of_all
    assert counted(solved.formula, solved.answer.amounts) == pytest.approx(0.85, abs=0.005)
    assert ration.confidence.cost > ration.confidence.cost_of_averages
    chances = sorted(line.probability for line in ration.requirements if line.probability is not None)
    assert all(chance >= 0.85 - 1e-3 for chance in chances)


def test_out_of_reach(remake, library):
    """One feed only: its chance is what it is."""
    means, sds = np.array([[5.0, 3000.0]]), np.array([[0.5, 1e-6]])
    made = remake(means, sds, [100.0], [(0, 4.9, None, "kg"), (1, 2900.0, None, "kg")])
    (solved,) = solve_rations(Farm(made.at(confidence_of="all", confidence_pct=90.0), library))
    assert solved.ration.status == "nearest"
    assert solved.ration.confidence.attained_pct == pytest.approx(57.93, abs=0.05)
    assert "all requirements at once" in " ".join(solved.ration.findings)


@pytest.mark.slow
def test_the_search_ends_where_rounding_lets_no_plane_move_it(demo_book, library, monkeypatch):
    """The 250 rounds were gone through for a mix that the last 200 of them left as it was."""
    farm = Farm(demo_book, library)
    ((stage, group),) = ration_tasks(farm, ["sw_gro_25_50"], ["south"])
    planes = []
    plain = AllAtOnce._plane
    monkeypatch.setattr(AllAtOnce, "_plane", lambda self, *at: planes.append(1) or plain(self, *at))
    likely = AllAtOnce(formula_of(farm, stage, group)).at(95.0)
    assert likely.reached and likely.solution.objective <= likely.bound * (1 + 5e-4)
    assert len(planes) < 100


@pytest.mark.slow
def test_prices_of_confidence(random_book, library):
    for seed in range(6):
        one = formula(random_book(seed), library)
        each, both = confidence_prices(one), confidence_prices(one, "all")
        assert [pct for pct, _ in each] == [80.0, 90.0, 95.0] == [pct for pct, _ in both]
        for prices in (each, both):
            known = [cost for _, cost in prices if cost is not None]
            assert known == sorted(known) and [c for _, c in prices[: len(known)]] == known
        for (pct, alone), (_, together) in zip(each, both, strict=True):
            if alone is not None:
                _program, solution, _confidence = optimum(one, pct)
                assert alone == pytest.approx(solution.objective, rel=1e-6)
            if together is not None:
                assert alone is not None and together >= alone * (1 - 1e-6)
