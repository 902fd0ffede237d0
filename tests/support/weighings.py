"""Rations with the kilograms of their sheets, weighings of them, and what is harmful in one by plain sums."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from rationlp.actual.judge import Judgement, judge
from rationlp.actual.slips import Crossed
from rationlp.farm import Farm
from rationlp.ledger.weighed import SheetName, weighed_mix
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

STAGES = ["sw_nur_11_25", "sw_gro_25_50", "sw_fin_100_135", "broiler_0_3"]
DAY = date(2025, 11, 20)


@dataclass(frozen=True)
class Case:
    """A ration with the kilograms of its sheet."""

    farm: Farm
    recipe: SolvedRation
    target: Mapping[str, float]

    def judged(self, weights: Mapping[str, float], crossed: Sequence[Crossed] = ()) -> Judgement:
        ration = self.recipe.ration
        made = weighed_mix(SheetName(ration.stage, ration.bins), ration.stage_label, DAY, weights, self.farm.book)
        return judge(made, self.recipe, self.target, self.farm, crossed)

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


def cases_of(farm: Farm) -> list[Case]:
    """The cases of STAGES from the north bin."""
    found = []
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
