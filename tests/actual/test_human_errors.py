"""Batches with the errors people make: the wrong ones are stopped, the right ones are not.

What is harmful is settled here by plain sums over what went in, apart from the program's own judgement: a need missed
by more than a fifth, a maximum passed by more than a twentieth, a premix below half or above one and a half of its
dose.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import pytest

from rationlp.actual.judge import Judgement, judge
from rationlp.farm import Farm
from rationlp.ledger.weighed import weighed_mix
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.reasons import Severity
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest
from rationlp.units import KG_PER_LB

STAGES = ["sw_nur_11_25", "sw_gro_25_50", "sw_fin_100_135", "broiler_0_3"]
ERRORS = ("missed", "doubled", "swapped", "wrong_unit", "wrong_scale")
DAY = date(2025, 11, 20)


@dataclass(frozen=True)
class Case:
    """A ration with the kilograms of its sheet."""

    farm: Farm
    recipe: SolvedRation
    target: Mapping[str, float]

    def judged(self, weights: Mapping[str, float]) -> Judgement:
        ration = self.recipe.ration
        made = weighed_mix(ration.stage, ration.stage_label, ration.bins, DAY, weights, self.farm.book)
        return judge(made, self.recipe, self.target, self.farm)

    def step(self, name: str) -> float:
        farm = self.farm.settings
        small = self.target[name] < farm.hand_weigh_below_kg
        return farm.hand_scale_step_kg if small else farm.scale_step_kg

    def harm(self, weights: Mapping[str, float]) -> list[str]:
        """What is harmful in a mix, by plain sums."""
        found = []
        for line in self.recipe.ration.requirements:
            meant, is_ = self._holds(self.target, line.nutrient), self._holds(weights, line.nutrient)
            if meant is None or is_ is None or line.gives is None or abs(meant - line.gives) > 0.02 * line.gives:
                continue  # not a plain sum: energy ratios, what the premix is bought for
            if line.minimum and is_ < 0.8 * line.minimum <= meant:
                found.append(f"{line.nutrient} short")
            if line.maximum and line.kind != "usual" and is_ > 1.05 * line.maximum >= 1.05 * meant:
                found.append(f"{line.nutrient} over")
        total, size = sum(weights.values()), sum(self.target.values())
        for name in self.target:
            if name.startswith("premix"):
                dose = weights.get(name, 0.0) / total / (self.target[name] / size)
                found += ["premix"] if not 0.5 <= dose <= 1.5 else []
        return found

    def _holds(self, weights: Mapping[str, float], nutrient: str) -> float | None:
        values = {c.name: c.values for c in self.recipe.formula.candidates}
        if any(nutrient not in values[name] for name, mass in weights.items() if mass):
            return None
        return sum(mass * values[name][nutrient] for name, mass in weights.items()) / sum(weights.values())


@pytest.fixture(scope="module")
def cases(demo_book, library) -> list[Case]:
    farm, found = Farm(demo_book, library), []
    for recipe in solve_rations(farm, STAGES, ["north"]):
        (sheet,) = make_pack(farm, SheetRequest(on=DAY), [recipe.ration.stage], ["north"]).sheets
        target: dict[str, float] = {}
        for line in (*sheet.bucket, *sheet.mixer):
            if line.offer:
                target[line.offer] = target.get(line.offer, 0.0) + float(line.mass)
        found.append(Case(farm, recipe, target))
    return found


def ordinary(case: Case, chance: random.Random) -> dict[str, float]:
    """Weighed with care: every weight filled and read to a step of its scale, give or take."""
    found = {}
    for name, mass in case.target.items():
        step = case.step(name)
        found[name] = max(step, step * round(mass / step + chance.gauss(0, 0.6)))
    return found


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
