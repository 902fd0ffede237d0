"""Published hand-worked and least-cost examples, each as a farm book with own feeds and an own stage.

The numbers stand in tests/published/programs.json, each with its source id, and in `expected_origin` what of it was
printed and what was re-computed.
"""

from __future__ import annotations

import pytest

from rationlp.farm import Farm
from rationlp.rations.formulate import formulate

FARM = [{"setting": "name", "value": "published example"}]


def own_feed(feed, figures, unit="per_kg"):
    return [
        {"feed": feed, "nutrient": nutrient, "value": value, "unit": unit, "basis": "as_fed", "source": "example"}
        for nutrient, value in figures.items()
    ]


def solve_book(make_book, library, offers, figures, requirements):
    """The one ration of a book made of own feeds (per_kg figures) and one own stage."""
    book = make_book(
        {
            "farm": FARM,
            "supplements": offers,
            "own_feeds": [row for feed, values in figures.items() for row in own_feed(feed, values)],
            "own_stages": [{"stage": "example", "per": "kg", "unit": "per_kg", **row} for row in requirements],
        }
    )
    (ration,) = formulate(Farm(book, library))
    return ration


def shares(ration):
    return {line.offer: line.share for line in ration.mix}


PEARSON = ["ps_corn_supp_14", "ps_corn_barley_10", "ps_barley_csm_14_ton", "ps_corn_sbm_16_pig", "ps_corn_sbm_18"]


@pytest.mark.parametrize("example_id", PEARSON)
def test_pearson_square(example_id, published, make_book, library):
    example = published[example_id]
    low, high = example["inputs"]["low"], example["inputs"]["high"]
    ids = {low["name"]: "low_feed", high["name"]: "high_feed"}
    target = example["inputs"]["target_pct"]
    ration = solve_book(
        make_book,
        library,
        [{"offer": feed, "feed": feed, "price": 0} for feed in ids.values()],
        {
            "low_feed": {"test_protein": low["crude_protein_pct"]},
            "high_feed": {"test_protein": high["crude_protein_pct"]},
        },
        [{"nutrient": "test_protein", "minimum": target, "maximum": target}],
    )
    assert ration.status == "optimal"
    for name, percent in example["expected"]["percent"].items():
        assert 100 * shares(ration)[ids[name]] == pytest.approx(percent, abs=example["tolerance"]["percent_abs"])


def test_pearson_square_refuses_a_target_outside_the_two_feeds(published, make_book, library):
    example = published["ps_infeasible"]["inputs"]
    ration = solve_book(
        make_book,
        library,
        [{"offer": name, "feed": f"{name}_feed", "price": 0} for name in ("low", "high")],
        {f"{name}_feed": {"test_protein": example[name]["crude_protein_pct"]} for name in ("low", "high")},
        [{"nutrient": "test_protein", "minimum": example["target_pct"]}],
    )
    assert ration.status == "nearest"
    (shortfall,) = ration.shortfalls
    assert (shortfall.needs, shortfall.gives) == (14, pytest.approx(12))
    assert ration.conflict == ("test protein at least 14 per_kg",)


def test_fixed_third_ingredient(published, make_book, library):
    example = published["alg_fixed_third"]
    given = example["inputs"]
    names = {name: name.replace(" ", "_") + "_x" for name in given["ingredients_cp_pct"]}
    fixed = given["fixed_kg"]
    offers = [
        {"offer": feed, "feed": feed, "price": 0, "min_pct": fixed.get(name, ""), "max_pct": fixed.get(name, "")}
        for name, feed in names.items()
    ]
    figures = {names[name]: {"test_protein": value} for name, value in given["ingredients_cp_pct"].items()}
    target = given["target_cp_pct"]
    ration = solve_book(
        make_book, library, offers, figures, [{"nutrient": "test_protein", "minimum": target, "maximum": target}]
    )
    for name, kg in example["expected"]["kg"].items():
        assert given["total_kg"] * shares(ration)[names[name]] == pytest.approx(kg, abs=0.01)


def test_shares_of_a_fixed_mix_are_its_analysis(published, make_book, library):
    """Every offer fixed: the answer is the mix's analysis, here its wheat (published: 22.22 %)."""
    example = published["alg_percent_share"]
    pounds = example["inputs"]["lb"]
    total = sum(pounds.values())
    feeds = {name: name.replace(" ", "_") + "_x" for name in pounds}
    offers = [
        {
            "offer": feeds[name],
            "feed": feeds[name],
            "price": 0,
            "min_pct": 100 * mass / total,
            "max_pct": 100 * mass / total,
        }
        for name, mass in pounds.items()
    ]
    figures = {feeds[name]: {"wheat_content": 100.0 * (name == "wheat")} for name in pounds}
    ration = solve_book(make_book, library, offers, figures, [{"nutrient": "wheat_content", "minimum": 0}])
    assert ration.status == "optimal"
    assert ration.analysis["wheat_content"] == pytest.approx(example["expected"]["percent"]["wheat"], abs=0.01)


PROGRAMS = [
    "lp_diet_six_bounds",
    "lp_alloy_blend9",
    "lp_soy_oats_sacks",
    "lp_pet_blend6",
    "lp_pig_farming",
    "lp_feedmix3b",
    "lp_horse_three_feeds",
    "lp_diet_six_foods",
    "lp_alfalfa_corn",
    "lp_turkey_feed",
    "lp_feed_bags",
    "lp_diet_nine_foods",
    "lp_pig_farming_b",
    "lp_sensitivity_ref",
]


def as_book(example):
    """A program over amounts as one over shares: a free filler makes the amounts up to a total of `total` units."""
    given = example["inputs"]
    sums = [row for row in given["rows"] if set(row["coef"]) == {1} and row["name"] in ("sum", "total")]
    total = sums[0]["rhs"] if sums else 200.0
    exact = bool(sums) and sums[0]["sense"] == "=="
    rows = [row for row in given["rows"] if row not in sums]
    if example["id"] == "lp_alloy_blend9":
        total, exact = 1.0, True
    bounds = given["bounds"] if isinstance(given["bounds"], list) else [[0, None]] * len(given["variables"])
    feeds = [f"v{i}_x" for i in range(len(given["variables"]))]
    offers = [
        {
            "offer": feed,
            "feed": feed,
            "price": cost,
            "min_pct": 100 * low / total if low else "",
            "max_pct": 100 * high / total if high is not None and high < total else "",
        }
        for feed, cost, (low, high) in zip(feeds, given["cost"], bounds, strict=True)
    ]
    figures = {feed: {f"row_{row['name'].lower()}": row["coef"][i] for row in rows} for i, feed in enumerate(feeds)}
    if not exact:
        offers.append({"offer": "filler", "feed": "filler_x", "price": 0})
        figures["filler_x"] = {f"row_{row['name'].lower()}": 0 for row in rows}
    requirements = [
        {
            "nutrient": f"row_{row['name'].lower()}",
            "minimum": row["rhs"] / total if row["sense"] in (">=", "==") else "",
            "maximum": row["rhs"] / total if row["sense"] in ("<=", "==") else "",
        }
        for row in rows
    ]
    return total, feeds, offers, figures, requirements


@pytest.mark.parametrize("example_id", PROGRAMS)
def test_least_cost_programs(example_id, published, make_book, library):
    example = published[example_id]
    total, feeds, offers, figures, requirements = as_book(example)
    ration = solve_book(make_book, library, offers, figures, requirements)
    expected = example["expected"]
    assert ration.status == "optimal"
    assert total * ration.cost_per_tonne == pytest.approx(expected["objective"], rel=1e-6)
    got = shares(ration)
    for feed, name in zip(feeds, example["inputs"]["variables"], strict=True):
        assert total * got[feed] == pytest.approx(expected["x"][name], abs=max(example["tolerance"]["x_abs"], 2e-4))


@pytest.mark.parametrize("example_id", ["lp_pig_farming", "lp_alfalfa_corn", "lp_turkey_feed", "lp_sensitivity_ref"])
def test_shadow_prices_and_reduced_costs_are_the_published_ones(example_id, published, make_book, library):
    """Not degenerate examples only. One more unit of the row costs its dual; per share of `total` units the same."""
    example = published[example_id]
    _, feeds, offers, figures, requirements = as_book(example)
    ration = solve_book(make_book, library, offers, figures, requirements)
    prices = {line.nutrient: line.shadow_price for line in ration.requirements}
    for name, dual in example["expected"]["shadow_price_d_obj_d_rhs"].items():
        assert prices[f"row_{name.lower()}"] == pytest.approx(dual, abs=1e-6)
    reduced = {line.offer: line.reduced_cost for line in ration.mix}
    bounded = {offer["offer"] for offer in offers if offer.get("min_pct") or offer.get("max_pct")}
    for feed, name in zip(feeds, example["inputs"]["variables"], strict=True):
        if feed not in bounded:
            assert reduced[feed] == pytest.approx(expected_reduced(example, name), abs=1e-6)


def expected_reduced(example, name):
    return example["expected"]["reduced_cost"][name]


@pytest.mark.slow
def test_stigler_diet(published, make_book, library):
    """77 foods per 1939 dollar: 39.66 dollars a year (G. J. Stigler 1945; optimum of the linear program)."""
    example = published["lp_stigler"]
    given = example["inputs"]
    feeds = {f"food{i}_x": food for i, food in enumerate(given["foods"])}
    offers = [{"offer": feed, "feed": feed, "price": 1} for feed in feeds]
    offers.append({"offer": "filler", "feed": "filler_x", "price": 0})
    nutrients = [name.lower() for name in given["nutrients"]]
    figures = {feed: dict(zip(nutrients, food["per_dollar"], strict=True)) for feed, food in feeds.items()}
    figures["filler_x"] = dict.fromkeys(nutrients, 0)
    requirements = [
        {"nutrient": name, "minimum": need} for name, need in zip(nutrients, given["daily_requirement"], strict=True)
    ]
    ration = solve_book(make_book, library, offers, figures, requirements)
    assert 365 * ration.cost_per_tonne == pytest.approx(39.6617, abs=0.001)


def test_nearest_mix_has_the_least_relative_shortfall(published, make_book, library):
    """Goal program computed independently: least weighted sum of relative shortfalls."""
    example = published["goal_infeasible"]
    given, expected = example["inputs"], example["expected"]
    feeds = [name.replace(" ", "_") + "_x" for name in given["ingredients"]]
    figures = {feed: {f"test_{n}": given[n][i] for n in ("cp", "lys", "ca", "me")} for i, feed in enumerate(feeds)}
    ration = solve_book(
        make_book,
        library,
        [{"offer": feed, "feed": feed, "price": 1} for feed in feeds],
        figures,
        [{"nutrient": f"test_{n}", "minimum": need} for n, need in given["min"].items()],
    )
    assert ration.status == "nearest"
    got = shares(ration)
    assert [got[feed] for feed in feeds] == pytest.approx(expected["x_sum"], abs=1e-4)
    total = sum((s.needs - s.gives) / s.needs for s in ration.shortfalls)
    assert total == pytest.approx(expected["weighted_sum_relative_shortfall"], abs=1e-4)
    assert ration.conflict
