"""Batches with the errors people make: the wrong ones are stopped, the right ones are not.

What is harmful is settled here by plain sums over what went in, apart from the program's own judgement: a need missed
by more than a fifth, a maximum passed by more than a twentieth, a premix below half or above one and a half of its
dose.
"""

from __future__ import annotations

import random
from collections import Counter

import pytest
from weighings import Case, ordinary

from rationlp.reasons import Severity
from rationlp.units import KG_PER_LB

pytestmark = pytest.mark.slow

ERRORS = ("missed", "doubled", "swapped", "wrong_unit", "wrong_scale")


def wrong(case: Case, error: str, chance: random.Random) -> dict[str, float]:
    weights = ordinary(case, chance)
    name = chance.choice([each for each in weights if each != "north"])
    if error == "missed":
        weights[name] = 0.0
    elif error == "doubled":
        weights[name] *= 2
    elif error == "wrong_unit":
        weights[name] *= KG_PER_LB if chance.random() < 0.5 else 1 / KG_PER_LB
    elif error == "wrong_scale":
        weights[name] = float(chance.choice((0, 1, 2)) if weights[name] < 3 else 5 * round(weights[name] / 5))
    else:
        other = chance.choice([each for each in weights if each not in (name, "north")])
        weights[name], weights[other] = weights[other], weights[name]
    return weights


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(200))
def test_no_harmful_batch_passes_and_no_right_one_is_stopped(cases, seed):
    """With --long 800 right batches and 4,000 wrong ones."""
    chance, seen = random.Random(seed), Counter[str]()
    for case in cases:
        weights = ordinary(case, chance)
        found = case.judged(weights)
        assert found.verdict.severity is Severity.FEED, (weights, found.verdict.reasons)
        for error in ERRORS:
            weights = wrong(case, error, chance)
            found = case.judged(weights)
            harm = case.harm(weights)
            seen[f"{error} harmful={bool(harm)} {found.verdict.severity}"] += 1
            assert not harm or found.verdict.severity is not Severity.FEED, (error, harm, weights, case.target)
    assert seen.total() == len(cases) * len(ERRORS)
