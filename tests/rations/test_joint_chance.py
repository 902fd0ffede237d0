"""The chance of all requirements at once against draws, and its slope against differences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.rows import need_scale
from rationlp.rations.solve.joint_chance import JointChance, chance_of_all
from rationlp.rations.solve.normal import chance_below
from rationlp.stages.model import Need, RatioNeed

DRAWS = 200_000


def counted(formula, amounts):
    """The chance of all rows, counted: the figures of every feed are drawn, and each row is calculated from them."""
    rng = np.random.default_rng(20)
    shares = np.array(amounts) / sum(amounts)
    pairs = zip(formula.program.rows, formula.sources, strict=True)
    chosen = [
        (row, source)
        for row, source in pairs
        if (isinstance(source, RatioNeed) and source.safety)
        or (isinstance(source, Need) and not source.usual and not source.of_groups)  # what animals need or bear
    ]
    energy = formula.stage.energy
    names = sorted(
        {n for _, s in chosen for n in ((s.numerator, s.denominator) if isinstance(s, RatioNeed) else (s.nutrient,))}
        | ({energy} if energy else set())
    )
    place = {name: i for i, name in enumerate(names)}
    mix = np.zeros((DRAWS, len(names)))
    for share, candidate in zip(shares, formula.candidates, strict=True):
        if not share:
            continue
        covariance = np.array([[candidate.spread.covariance_of(a, b) for b in names] for a in names])
        values, vectors = np.linalg.eigh(covariance)
        root = vectors * np.sqrt(np.clip(values, 0.0, None))
        mean = np.array([candidate.values.get(name, 0.0) for name in names])
        mix += share * (mean + rng.standard_normal((DRAWS, len(names))) @ root.T)
    holds = np.ones(DRAWS, dtype=bool)
    for row, source in chosen:
        bound = source.minimum if row.sense == ">=" else source.maximum
        if isinstance(source, RatioNeed):
            value = mix[:, place[source.numerator]] - bound * mix[:, place[source.denominator]]
        else:
            factor = 1.0 if source.reference_energy is None else mix[:, place[energy]] / source.reference_energy
            value = (mix[:, place[source.nutrient]] - bound * factor) / need_scale(bound)
        holds &= (value if row.sense == ">=" else -value) >= -1e-7
    return float(holds.mean())


@pytest.mark.slow
@pytest.mark.parametrize(
    "confidence", [pytest.param(50.0, marks=pytest.mark.long), 80.0, pytest.param(95.0, marks=pytest.mark.long)]
)
def test_rations_of_the_demo_against_draws(demo_book, library, confidence, few):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=confidence))
    for made in solve_rations(Farm(book, library), few(["hen_peak", "sw_gro_25_50", "sw_lact_p2_230"], 1)):
        found = chance_of_all(made.formula, made.answer.amounts)
        assert found == pytest.approx(counted(made.formula, made.answer.amounts), abs=0.005)
        assert found == chance_of_all(made.formula, made.answer.amounts)
        assert found == pytest.approx(chance_of_all(made.formula, [7 * x for x in made.answer.amounts]), abs=1e-9)


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_random_books_against_draws(random_book, library, seed):
    (made,) = solve_rations(Farm(random_book(seed, confidence_pct=85.0).book, library))
    found = chance_of_all(made.formula, made.answer.amounts)
    assert found == pytest.approx(counted(made.formula, made.answer.amounts), abs=0.005)


def test_known_chances():
    """Of two amounts: 1/4 + asin(r) / 2 pi (W. F. Sheppard 1899); of n independent ones the product; tied ones one."""
    for r in (-0.9, -0.3, 0.0, 0.5, 0.99, 1.0):
        both = chance_below(np.zeros(2), np.array([[1.0, r], [r, 1.0]]))
        assert both == pytest.approx(0.25 + np.arcsin(r) / (2 * np.pi), abs=0.002)
    assert chance_below(np.full(9, 1.2815515655446), np.eye(9)) == pytest.approx(0.9**9, abs=1e-4)
    n = 7  # equal correlation of a half: 1 / (n + 1)
    assert chance_below(np.zeros(n), 0.5 * np.eye(n) + 0.5) == pytest.approx(1 / (n + 1), abs=0.002)


def test_the_slope_against_differences(random_book, library, few):
    compared, seeds = 0, few(range(8), 4)
    for seed in seeds:
        (made,) = solve_rations(Farm(random_book(seed, confidence_pct=75.0).book, library))
        joint, shares = JointChance(made.formula), np.array(made.answer.amounts) / sum(made.answer.amounts)
        slope = joint.gradient(shares, 4096)
        assert abs(slope @ shares) < 1e-5 * max(1.0, np.abs(slope).max())
        rng = np.random.default_rng(seed)
        for _ in range(3):
            way = rng.standard_normal(len(shares)) * shares
            step = 1e-3
            ahead, behind = (joint.probability(shares + sign * step * way, 16384) for sign in (1, -1))
            if min(ahead, behind) == 0.0:  # a row that is sure is missed there: no slope to compare
                continue
            change = (ahead - behind) / (2 * step)
            assert slope @ way == pytest.approx(change, abs=0.03 * np.abs(slope * way).max() + 0.01)
            compared += 1
    assert compared >= 1.5 * len(seeds)
