"""The choice of a few mixes on a farm so large that only likely mixes are looked at."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from rationlp.year.plan import plan_year
from rationlp.year.program.choice import MANY, THOROUGH, Effort, _median, chosen
from rationlp.year.program.few import add_shared_mixes

LIKELY_ONLY = Effort(4_000, 0)


@pytest.mark.parametrize("seed", range(10))
def test_the_likely_mixes_are_nearly_the_best_of_every_few(seed):
    rng = np.random.default_rng(seed)
    costs = rng.uniform(1.0, 9.0, (12, 9))
    costs[rng.random((12, 9)) < 0.3] = np.inf
    unfed = [100.0] * 12
    found = _median(costs, unfed, 3, 0.0)
    best = min(_cost(costs, unfed, some) for some in combinations(range(9), 3))
    assert len(found) == 3
    assert best <= _cost(costs, unfed, found) <= 1.05 * best


def test_a_mix_that_costs_more_work_than_it_saves_is_not_likely():
    costs = np.array([[1.0, 2.0, 3.0], [2.0, 1.0, 3.0], [2.0, 2.0, 1.9]])
    assert sorted(_median(costs, [50.0] * 3, None, 0.5)) == [0, 1]
    assert len(_median(costs, [50.0] * 3, None, 5.0)) == 1
    assert _median(costs, [0.5] * 3, None, 1.0) == []


def _cost(costs, unfed, some):
    return float(np.minimum(np.asarray(unfed), costs[:, list(some)].min(axis=1)).sum())


@pytest.fixture(scope="module", params=range(4))
def search(request, small_year, library):
    """A small year with shared mixes, as it is put to the choice."""
    made = plan_year(small_year(request.param).farm(library)).search
    add_shared_mixes(made)
    made.allow()
    made.master.run()
    return made


@pytest.mark.parametrize("most", [1, 2, 3])
def test_likely_mixes_alone_are_no_cheaper_than_all_and_feed_as_many(search, most):
    best, likely = chosen(search, most, 0.0), chosen(search, most, 0.0, effort=LIKELY_ONLY)
    assert likely.cost >= best.cost * (1 - 1e-6)
    assert likely.cost <= best.cost * 1.02
    assert (likely.feeds_all, likely.used <= most) == (best.feeds_all, True)


def test_of_likely_mixes_alone_nothing_is_proved_unless_they_are_all(search, monkeypatch):
    monkeypatch.setattr("rationlp.year.program.choice.NEAREST", 1)
    few = chosen(search, 2, 0.0, effort=LIKELY_ONLY)
    assert not few.proved
    monkeypatch.setattr("rationlp.year.program.choice.NEAREST", 1_000)
    search.allow()
    search.master.run()
    whole = chosen(search, 2, 0.0, effort=LIKELY_ONLY)
    assert whole.proved
    assert whole.cost <= few.cost * (1 + 1e-9)


def test_a_choice_that_is_known_is_never_given_up_for_a_dearer_one(search):
    best = chosen(search, 2, 0.0)
    again = chosen(search, 2, 0.0, known=best, effort=Effort(1, 0))
    assert again.cost <= best.cost * (1 + 1e-9)


def test_of_a_larger_program_fewer_branches_are_looked_at():
    assert THOROUGH.branches(MANY) == THOROUGH.nodes
    assert THOROUGH.nodes > THOROUGH.branches(2 * MANY) > THOROUGH.branches(4 * MANY) >= 1
