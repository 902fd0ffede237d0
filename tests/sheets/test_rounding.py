"""Weights the scale can show: against trying everything, against the rows one by one, over random books and scales."""

from __future__ import annotations

import itertools
import random
from dataclasses import replace
from fractions import Fraction
from math import inf

import pytest

from rationlp.book.records import Settings
from rationlp.farm import Farm
from rationlp.rations.formulate import solve_rations
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.solve.general import whole
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.rations.solve.verify import row_holds
from rationlp.reasons import Kind, Reason, Severity
from rationlp.sheets.weights import nearest
from rationlp.sheets.weights.rounding import ENOUGH, GAP, OWN, WORTH, whole_mix
from rationlp.sheets.weights.scale import Scale, exact, farm_scale
from rationlp.sheets.weights.whole_program import PACKAGE_BONUS, SPLIT_TROUBLE, band, package_mass, ways
from rationlp.units import KG_PER_LB

from .conftest import Small


def small_mix(small: Small, library):
    """The recipe of a small book and its whole weights."""
    book = small.book()
    (recipe,) = solve_rations(Farm(book, library))
    scale = farm_scale(book.farm)
    if recipe.ration.status != "optimal":
        return recipe, None, scale, book
    return recipe, whole_mix(recipe, exact(book.farm.batch_kg, scale.unit), scale), scale, book


def every_weight(recipe, batch, scale, book, own_only, worth_weighing):
    """All ways to weigh each candidate, (mass, what its weighing counts as a fraction of the batch's cost), nothing
    included: the ration's own ingredients or all; in one part, or in two."""
    packages = {offer.offer: exact(offer.package_kg, scale.unit) for offer in book.supplements if offer.package_kg}
    trouble = trouble_of_a_part(recipe, batch, scale)
    for candidate, share in zip(recipe.formula.candidates, recipe.column_shares, strict=True):
        worth = share >= recipe.formula.least_share if share > 1e-7 else worth_weighing != "anything"
        worth = worth and (worth_weighing == "all" or share <= 1e-7)
        least = min(20 * scale.hand_step, batch) if worth else 0
        found = {(Fraction(0), 0.0)}
        for way in ways(batch, scale, packages.get(candidate.name)) if share > 1e-7 or not own_only else ():
            counts = range(way.least, way.most + 1)
            single = {
                (n * way.step, -PACKAGE_BONUS * (way.tool == "packages")) for n in counts if n * way.step >= least
            }
            found |= {(a + b, c + d + trouble) for a, c in found if a for b, d in single} | single
        yield sorted(cheapest_by_mass(found))


def cheapest_by_mass(found):
    best = {}
    for mass, counted in found:
        best[mass] = min(counted, best.get(mass, inf))
    return best.items()


def trouble_of_a_part(recipe, batch, scale):
    """Half a step of the mixer scale of the dearest ingredient on it, at most SPLIT_TROUBLE of the batch's cost."""
    return min(SPLIT_TROUBLE, one_step(recipe, batch, scale) / 2)


def one_step(recipe, batch, scale):
    priced = list(zip(recipe.formula.program.costs, recipe.column_shares, strict=True))
    cost = sum(c * share for c, share in priced)
    dearest = max(c for c, share in priced if share * batch >= scale.hand_below)
    return float(scale.step / batch) * dearest / cost


def best_by_trying_everything(recipe, batch, scale, book):
    """What `whole_mix` promises: the best of the ration's own ingredients if it is at most OWN, or a step, dearer
    than the ration, else with amounts not worth weighing, else the best of all."""
    program = recipe.formula.program
    mass = sum(c * s for c, s in zip(program.costs, recipe.column_shares, strict=True))
    energy = sum(n * s for n, s in zip(program.normalizer, recipe.column_shares, strict=True))
    best = inf
    for own_only, worth_weighing in ((True, "all"), (True, "others"), (False, "others"), (False, "anything")):
        best = min(best, _best(recipe, batch, scale, book, own_only, worth_weighing))
        if best <= (1 + max(OWN, one_step(recipe, batch, scale))) * mass / energy:
            break
    return best


def _best(recipe, batch, scale, book, own_only, worth_weighing):
    """Least cost (per unit of what the program is normalized by, packages at their bonus and parts at their trouble),
    inf if nothing fits."""
    program = recipe.formula.program
    price = sum(c * s for c, s in zip(program.costs, recipe.column_shares, strict=True)) * float(batch)
    best = inf
    *firsts, last = every_weight(recipe, batch, scale, book, own_only, worth_weighing)
    rest = dict(last)
    for masses in itertools.product(*firsts):
        left = batch - sum(mass for mass, _ in masses)
        if left not in rest:
            continue
        masses = (*masses, (left, rest[left]))
        amounts = tuple(float(mass) for mass, _ in masses)
        if all(_holds(recipe, row, amounts, batch, scale) for row in program.rows):
            cost = sum(c * x for c, x in zip(program.costs, amounts, strict=True))
            cost += price * sum(counted for _, counted in masses)
            best = min(best, cost / sum(n * x for n, x in zip(program.normalizer, amounts, strict=True)))
    return best


def _holds(recipe, row, amounts, batch, scale):
    if row.sense != "=":
        return row_holds(recipe.formula.program, row, amounts)
    allowed = band(recipe.formula.program, row, recipe.column_shares, batch, scale)
    return allowed.low - 1e-9 <= recipe.formula.program.value(row, amounts) <= allowed.high + 1e-9


@pytest.mark.parametrize(
    ("key", "share", "low", "high", "size"),
    [
        ("grain", 0.3, -0.25, 0.25, 300.0),  # 300 kg: a division of the mixer scale, half of it to each side
        ("grain", 0.0015, -0.005, 0.005, 1.5),  # 1.5 kg: the hand scale
        ("grain", 0.0001, -0.001, 0.001, 0.1),  # 100 g: 2 % of it are less than a division
        ("premix:vitamins", 0.0025, 0.0, 0.05, 2.5),  # never below its dose, 2 % above
        ("premix:vitamins", 0.0015, 0.0, 0.01, 1.5),  # never below its dose, a division above
    ],
)
def test_a_dose_is_as_near_as_the_scale_shows(key, share, low, high, size):
    """A tonne, scales of 0.5 kg and 10 g, the hand scale below 2 kg; by hand."""
    row = ProgramRow(key, (1 - share, -share), "=")
    program = Program(("it", "rest"), (1.0, 1.0), (row,), (1.0, 1.0))
    scale = Scale("kg", Fraction(1, 2), Fraction(1, 100), Fraction(2))
    found = band(program, row, (share, 1 - share), Fraction(1000), scale)
    assert (found.low, found.high, found.size) == pytest.approx((low, high, size))


@pytest.mark.slow
def test_a_sheet_is_not_told_to_be_better_than_its_ration(demo_book, library):
    """Iodine 0.380 of 0.382 in the ration and 0.383 in whole weights: the ration is asked about and so is its sheet."""
    (recipe,) = solve_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    asked = Reason(Kind.PREMIX, Severity.ASK, "Iodine is 0.38 of 0.382 mg/kg", "iodine")
    ration = replace(recipe.ration, verdict=recipe.verdict.plus((asked,)))
    scale = farm_scale(demo_book.farm)
    for one, severity in ((recipe, Severity.FEED), (replace(recipe, ration=ration), Severity.ASK)):
        mix = whole_mix(one, exact(demo_book.farm.batch_kg, scale.unit), scale)
        assert mix.ration.verdict.severity is severity


@pytest.mark.slow
def test_a_sheet_tells_the_stock_its_ration_tells(demo_book, library):
    """The groups want more of the north bin than it holds: the sheet's verdict says so in the ration's words."""
    recipe = solve_rations(Farm(demo_book, library), (), ["north"])[0]
    told = [reason for reason in recipe.verdict.reasons if reason.kind is Kind.STOCK]
    mix = whole_mix(recipe, exact(demo_book.farm.batch_kg, "kg"), farm_scale(demo_book.farm))
    assert told and [reason for reason in mix.ration.verdict.reasons if reason.kind is Kind.STOCK] == told


@pytest.mark.slow
def test_nearest_weights_give_way_in_the_order_of_the_nearest_ration(demo_book, library):
    """Sows that want more fibre than any offer brings: what the trade does not feed is passed first, in the ration and
    in its weights, and both miss the fibre by the same."""
    bulky = {"bran", "alfalfa", "canola_meal"}
    book = replace(demo_book, supplements=tuple(offer for offer in demo_book.supplements if offer.offer not in bulky))
    (recipe,) = solve_rations(Farm(book, library), ["sw_gest_p2_early"], ["south"])
    mix = whole_mix(recipe, exact(book.farm.batch_kg, "kg"), farm_scale(book.farm))
    assert recipe.ration.status == "nearest"
    short = {row.nutrient: row.gives for row in recipe.ration.shortfalls}
    gives = {row.nutrient: row.gives for row in mix.ration.requirements}
    assert "crude_fibre" in short
    for nutrient, value in short.items():
        assert gives[nutrient] == pytest.approx(value, rel=0.01)


def test_where_only_a_set_share_cannot_be_shown_the_rest_is_kept_at_once(library, monkeypatch):
    """One integer program for each rank of what is missed took 38 s of a batch without a hand scale; two are enough."""
    asked = []

    def counted(*program):
        asked.append(program)
        return solve_whole(*program)

    monkeypatch.setattr(nearest, "solve_whole", counted)
    set_share = replace(BY_MASS, bounds={"bran": (0.142, 0.142)}, needs=[("test_protein", 16.3, 20.0)])
    recipe, mix, _, _ = small_mix(set_share, library)
    assert len(asked) == 2 and mix is not None
    bran = next(mass for j, mass in mix.masses().items() if recipe.formula.candidates[j].name == "bran")
    assert bran == 3  # of 2.84 kg, the nearest of 2.5 and 3


def value_of(recipe, mix):
    """Cost of a whole mix over what the program is normalized by, packages and parts counted."""
    program = recipe.formula.program
    price = sum(c * s for c, s in zip(program.costs, recipe.column_shares, strict=True)) * float(mix.batch)
    amounts = [0.0] * len(program.columns)
    for portion in mix.portions:
        amounts[portion.candidate] += float(portion.mass)
    cost = sum(c * x for c, x in zip(program.costs, amounts, strict=True))
    cost -= PACKAGE_BONUS * price * sum(portion.way.tool == "packages" for portion in mix.portions)
    parts = len(mix.portions) - len(mix.masses())
    cost += trouble_of_a_part(recipe, mix.batch, farm_scale(recipe.farm.settings)) * price * parts
    return cost / sum(n * x for n, x in zip(program.normalizer, amounts, strict=True))


BY_MASS = Small(
    {
        "grain": (180, {"test_protein": 10, "test_fat": 3}),
        "meal": (400, {"test_protein": 44, "test_fat": 1}),
        "bran": (150, {"test_protein": 15, "test_fat": 4}),
    },
    [("test_protein", 16.3, 20.0), ("test_fat", None, 2.9)],
)
WITH_BAGS = replace(BY_MASS, packages={"meal": 2.5, "bran": 1.25})
BY_ENERGY = Small(
    {
        "grain": (180, {"test_protein": 10, "amen_poultry": 0.33}),
        "meal": (400, {"test_protein": 44, "amen_poultry": 0.24}),
        "oil": (900, {"test_protein": 0, "amen_poultry": 0.88}),
    },
    [("test_protein", 18.2, None), ("amen_poultry", 0.3, None)],
    farm=Settings(batch_kg=20, scale_step_kg=1, hand_scale_step_kg=0.5, hand_weigh_below_kg=3, objective="per_energy"),
)


@pytest.mark.parametrize("small", [BY_MASS, WITH_BAGS, BY_ENERGY], ids=["by mass", "with bags", "by energy"])
def test_nothing_cheaper_by_trying_everything(small, library):
    recipe, mix, scale, book = small_mix(small, library)
    assert mix is not None and not mix.misses
    best = best_by_trying_everything(recipe, mix.batch, scale, book)
    assert as_good_as_it_says(recipe, mix, best)


def as_good_as_it_says(recipe, mix, best):
    """Not dearer than the best of all weights by more than the mix itself says is unproven, nor cheaper."""
    value, share = value_of(recipe, mix), mix.unproven / (recipe.ration.cost_per_tonne * float(mix.batch) / 1000)
    assert share <= 2 * ENOUGH
    return best * (1 - 2 * (GAP + WORTH)) <= value <= best * (1 + share + 2 * (GAP + WORTH))


@pytest.mark.slow
def test_random_small_books_by_trying_everything(library, few):
    """Two dozen of them, three feeds each; where nothing fits, the weights say so too."""
    rng = random.Random(20251103)
    compared = unmet = 0
    turns = few(range(60), 20)
    for turn in turns:
        below = 2 * (turn % 2)  # every other farm has a mixer scale alone
        small = random_small(
            rng, feeds=3, farm=Settings(batch_kg=12, scale_step_kg=1, hand_scale_step_kg=0.5, hand_weigh_below_kg=below)
        )
        recipe, mix, scale, book = small_mix(small, library)
        if recipe.ration.status != "optimal":
            continue
        best = best_by_trying_everything(recipe, exact(12, "kg"), scale, book)
        assert mix is not None
        if best == inf:
            assert mix.misses, small
            unmet += 1
        else:
            assert not mix.misses, small
            assert as_good_as_it_says(recipe, mix, best), small
            compared += 1
    assert compared > len(turns) / 3 and unmet > len(turns) / 30, "the random books must meet both cases"


def random_small(rng, feeds, farm, nutrients=2):
    """A book of random feeds whose requirement lies between the poorest and the richest feed."""
    names = [f"feed{i}" for i in range(feeds)]
    figures = {name: {f"test_{k}": round(rng.uniform(1, 40), 1) for k in range(nutrients)} for name in names}
    prices = {name: round(rng.uniform(100, 600)) for name in names}
    needs = []
    for k in range(nutrients):
        values = sorted(f[f"test_{k}"] for f in figures.values())
        low = round(values[0] + rng.uniform(0.1, 0.6) * (values[-1] - values[0]), 2)
        needs.append((f"test_{k}", low, round(low * rng.uniform(1.02, 1.6), 2) if rng.random() < 0.5 else None))
    packages = {name: rng.choice([1.5, 2.5, 25, 22.68]) for name in names if rng.random() < 0.3}
    return Small({name: (prices[name], figures[name]) for name in names}, needs, packages, farm)


@pytest.mark.slow
def test_five_hundred_random_books(library, few):
    """Every weight a whole step of its scale, the sum the batch, every row kept or named, and no dearer than stated."""
    rng = random.Random(7)
    made, missed, wanted = 0, 0, len(few(range(500), 50))
    while made < wanted:
        farm = Settings(
            batch_kg=rng.choice([100, 250, 500, 1000]),
            scale_step_kg=rng.choice([0.5, 1, 2, 5]),
            hand_scale_step_kg=rng.choice([0.01, 0.05, 0.1]),
            hand_weigh_below_kg=rng.choice([0, 5, 10, 20]),
        )
        small = random_small(rng, feeds=rng.randint(3, 6), farm=farm, nutrients=rng.randint(1, 3))
        recipe, mix, scale, book = small_mix(small, library)
        if recipe.ration.status != "optimal":
            continue
        made += 1
        assert mix is not None
        check_whole(recipe, mix, scale, book)
        missed += bool(mix.misses)
    assert missed < wanted / 5, "most random books must be weighable"


def check_whole(recipe, mix, scale, book):
    """Row by row, from the masses alone."""
    packages = {offer.offer: exact(offer.package_kg, scale.unit) for offer in book.supplements if offer.package_kg}
    assert sum(portion.mass for portion in mix.portions) == mix.batch
    amounts = [0.0] * len(recipe.formula.candidates)
    for portion in mix.portions:
        assert portion.mass > 0 and portion.mass % portion.way.step == 0
        name = recipe.formula.candidates[portion.candidate].name
        assert portion.way.step in (scale.step, scale.hand_step, package_mass(packages.get(name, Fraction(1)), scale))
        if portion.way.tool == "hand scale":
            assert portion.mass < scale.hand_below
        if portion.way.tool == "mixer scale":
            assert portion.mass >= scale.hand_below
        amounts[portion.candidate] += float(portion.mass)
    broken = [
        row.key for row in recipe.formula.program.rows if not _holds(recipe, row, tuple(amounts), mix.batch, scale)
    ]
    assert bool(broken) == bool(mix.misses), broken
    assert (mix.ration.status == "optimal") or mix.misses
    least = sum(c * s for c, s in zip(recipe.formula.program.costs, recipe.column_shares, strict=True))
    if not mix.misses:
        assert mix.extra_cost >= -1e-6 * least, "no whole weights are cheaper than the ration itself"


@pytest.mark.slow
def test_every_demo_sheet_keeps_every_row(demo_book, library):
    """At the demo's own scales: whole steps, the whole batch, every requirement of every stage still met."""
    scale = farm_scale(demo_book.farm)
    for recipe in solve_rations(Farm(demo_book, library)):
        if recipe.ration.status == "optimal":
            mix = whole_mix(recipe, exact(demo_book.farm.batch_kg, "kg"), scale)
            assert mix is not None and not mix.misses
            check_whole(recipe, mix, scale, demo_book)
            assert mix.extra_cost < 0.02 * recipe.ration.cost_per_tonne * 0.5, "rounding costs less than 2 %"


@pytest.mark.slow
def test_at_a_confidence_the_whole_weights_keep_it(demo_book, library):
    book = replace(demo_book, farm=replace(demo_book.farm, confidence_pct=80))
    (recipe,) = solve_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    assert recipe.ration.status == "optimal" and recipe.chances
    mix = whole_mix(recipe, exact(500, "kg"), farm_scale(book.farm))
    assert not mix.misses
    surest = {
        line.nutrient: line.probability
        for line in mix.ration.requirements
        if line.probability is not None and line.minimum
    }
    assert min(surest.values()) > 0.8 - 1e-4


def test_a_scale_too_coarse_says_what_is_missed(library):
    small = replace(BY_MASS, farm=Settings(batch_kg=10, scale_step_kg=5, hand_scale_step_kg=5, hand_weigh_below_kg=0))
    _, mix, _, _ = small_mix(small, library)
    assert mix.misses and any("test" in words for words in mix.misses)


def test_fixed_shares_stay_within_a_step(library):
    """Every offer fixed: the answer is that mix, each share to the nearest step."""
    small = replace(
        BY_MASS,
        needs=[("test_protein", 1.0, None)],
        bounds={"grain": (0.333, 0.333), "meal": (0.333, 0.333), "bran": (0.334, 0.334)},
        farm=Settings(batch_kg=100, scale_step_kg=1, hand_scale_step_kg=1, hand_weigh_below_kg=0),
    )
    _, mix, _, _ = small_mix(small, library)
    assert sorted(portion.mass for portion in mix.portions) == [33, 33, 34]


@pytest.mark.parametrize("unit_kg", [1.0, KG_PER_LB])
def test_what_whole_weights_cost_by_hand(library, unit_kg):
    """17 % of protein of 10 and 40 %: 23.3 of 100, 24.667 a hundred kg; in whole divisions 24, which cost 24.80."""
    units = "metric" if unit_kg == 1 else "us"
    farm = Settings(
        units=units, batch_kg=100 * unit_kg, scale_step_kg=unit_kg, hand_scale_step_kg=unit_kg, hand_weigh_below_kg=0
    )
    feeds = {"grain": (200, {"test_protein": 10}), "meal": (400, {"test_protein": 40})}
    recipe, mix, _, _ = small_mix(Small(feeds, [("test_protein", 17.0, None)], farm=farm), library)
    assert {recipe.formula.candidates[j].name: mass for j, mass in mix.masses().items()} == {"grain": 76, "meal": 24}
    assert mix.extra_cost == pytest.approx((24.80 - 74 / 3) * unit_kg, rel=1e-5) and not mix.misses


def test_whole_packages_are_taken_where_they_cost_next_to_nothing(library):
    """20 kg of meal in 10 kg bags: the bags beat the scale because they need no weighing."""
    small = Small(
        {"grain": (200, {"test_protein": 10}), "meal": (400, {"test_protein": 40})},
        [("test_protein", 16.0, None)],
        {"meal": 10},
        Settings(batch_kg=100, scale_step_kg=1, hand_scale_step_kg=0.1, hand_weigh_below_kg=5),
    )
    recipe, mix, _, _ = small_mix(small, library)
    (meal,) = (p for p in mix.portions if recipe.formula.candidates[p.candidate].name == "meal")
    assert (meal.mass, meal.way.tool) == (20, "packages")


def test_a_bag_of_fifty_pounds_counts_as_what_the_scale_shows():
    scale = farm_scale(Settings(hand_scale_step_kg=0.01))
    assert package_mass(exact(22.6796185, "kg"), scale) == Fraction("22.68")
    coarse = farm_scale(Settings(hand_scale_step_kg=0.5))
    assert package_mass(exact(22.6796185, "kg"), coarse) == Fraction("22.6796185"), (
        "forty bags would be off by ten kilograms"
    )


def test_published_integer_blend():
    """Steel of 5 % carbon and 5 % molybdenum from whole ingots, alloys and scrap (solver documentation example,
    worked_examples.json milp_steel: objective 8495; data published, optimum re-computed)."""
    tonnes, carbon, moly, cost = [5, 3, 4, 6], [5, 4, 5, 3], [3, 3, 4, 4], [350, 330, 310, 280]
    loose = [(8, 6, 500), (7, 7, 450), (6, 8, 400), (3, 9, 100)]
    columns = [(0.0, 1.0, True)] * 4 + [(0.0, 25.0, False)] * 4
    costs = [t * c for t, c in zip(tonnes, cost, strict=True)] + [c for _, _, c in loose]
    total = {i: float(t) for i, t in enumerate(tonnes)} | {4 + i: 1.0 for i in range(4)}
    held = {i: t * c / 100 for i, (t, c) in enumerate(zip(tonnes, carbon, strict=True))} | {
        4 + i: c / 100 for i, (c, _, _) in enumerate(loose)
    }
    molybdenum = {i: t * m / 100 for i, (t, m) in enumerate(zip(tonnes, moly, strict=True))} | {
        4 + i: m / 100 for i, (_, m, _) in enumerate(loose)
    }
    answer = solve_whole(costs, columns, [(total, 25.0, 25.0), (held, 1.25, 1.25), (molybdenum, 1.25, 1.25)], 1e-6)
    assert answer.solution.status == "optimal" and answer.unproven <= 1e-6
    answer = answer.solution
    assert answer.objective == pytest.approx(8495, abs=0.01)
    assert answer.amounts == pytest.approx((1, 1, 0, 1, 7.25, 0, 0.25, 3.5), abs=1e-4)


def test_a_batch_of_a_set_mass_is_one_row(monkeypatch):
    """Its mass as `at least` and `at most` kept HiGHS 1.16 at a sheet for ever, before any branch."""
    made = []

    class Watched(whole.Problem):
        def __init__(self, *told):
            super().__init__(*told)
            made.append(self)

    monkeypatch.setattr(whole, "Problem", Watched)
    answer = solve_whole([1.0, 2.0], [(0.0, 9.0, True)] * 2, [({0: 1.0, 1: 1.0}, 3.0, 3.0), ({1: 1.0}, 1.0, 2.0)], 0)
    assert answer.solution.amounts == (2.0, 1.0)
    assert made[0].solverModel.getNumRow() == 3


def test_no_whole_answer_is_infeasible():
    answer = solve_whole([1.0], [(0.0, 10.0, True)], [({0: 2.0}, 3.0, 3.0)], 1e-6).solution
    assert answer.status == "infeasible"
