"""Offers over the groups, quotes side by side, prices that are not settled, grain against its sale value."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from rationlp.book.records import Group, Place
from rationlp.errors import BookError, InputError
from rationlp.farm import Farm
from rationlp.feeds.candidates import offer_candidates
from rationlp.offers.grain import grain_choices, grain_plans, grain_worths
from rationlp.offers.live_ration import live_rations
from rationlp.offers.price_risk import farm_risks, price_draws, price_risk, triangular
from rationlp.offers.purchases import purchases, tonnes_fed
from rationlp.offers.quotes import comparisons
from rationlp.offers.worth import offer_worths
from rationlp.rations.answer.farm_totals import farm_totals, group_feed
from rationlp.rations.formulate import formulate
from rationlp.rations.solve.solver import solve

FARM = [{"setting": "name", "value": "prices"}]
SOME = ["sw_gro_25_50", "sw_fin_75_100", "hen_brown_110"]


def drawn_out(made, book, drawn):
    """What is told of every ration, and of the groups by bin."""
    found = [price_risk(case, book, drawn) for case in made]
    return [each.risk for each in found], farm_risks(found, book)


def plans_of(made, book):
    return grain_plans(
        made, [line for case in made for line in grain_choices(case, book)], grain_worths(made, book), book
    )


def with_offer(book, name, **changes):
    """The book with one offer changed."""
    return replace(book, supplements=tuple(replace(o, **changes) if o.offer == name else o for o in book.supplements))


def without_offer(book, name):
    return replace(book, supplements=tuple(o for o in book.supplements if o.offer != name))


# Stakes ---------------------------------------------------------------------------------------------------------


@pytest.mark.slow
def test_money_at_stake_is_the_feed_bill_without_the_offer_less_todays(demo_per_tonne, library):
    demo_per_tonne = without_offer(demo_per_tonne, "premix_sows")  # so that nothing can take the pigs' premix's place
    made = live_rations(Farm(demo_per_tonne, library), SOME, ["north"])
    worths = [offer_worths(case) for case in made]
    rows = {purchase.offer: purchase for purchase in purchases(made, worths, demo_per_tonne)}
    tonnes = dict(zip(SOME, tonnes_fed(made, demo_per_tonne), strict=True))
    today = formulate(Farm(demo_per_tonne, library), SOME, ["north"])
    bill = sum(tonnes[r.stage] * r.cost_per_tonne for r in today)
    assert rows["soy48_bulk"].tonnes == pytest.approx(
        sum(tonnes[r.stage] * line.share for r in today for line in r.mix if line.offer == "soy48_bulk"), rel=1e-6
    )
    for name in ("soy48_bulk", "corn_bought", "lysine", "monocal"):
        rest = formulate(Farm(without_offer(demo_per_tonne, name), library), SOME, ["north"])
        more = sum(tonnes[r.stage] * r.cost_per_tonne for r in rest) - bill
        assert rows[name].at_stake == pytest.approx(more, rel=1e-5, abs=1e-4), name
    assert rows["premix_pigs"].at_stake is None
    assert set(rows["premix_pigs"].needed_by) == {"sw_gro_25_50", "sw_fin_75_100"}
    assert rows["soy48_bulk"].second_best[0][0] == "soy48_bags"
    assert rows["limestone"].packages == -(-rows["limestone"].tonnes * 1000 // 25)


@pytest.mark.slow
def test_tonnes_are_those_of_the_farm_totals(demo_book, library):
    made = live_rations(Farm(demo_book, library))
    totals = {total.bin: total.tonnes for total in farm_totals(demo_book, [case.ration for case in made])}
    fed = tonnes_fed(made, demo_book)
    for name in ("north", "south"):
        mine = sum(t for t, case in zip(fed, made, strict=True) if case.formula.bin == name)
        assert mine == pytest.approx(totals[name])


@pytest.mark.slow
def test_a_book_without_groups_has_no_farm(demo_book, library):
    book = replace(demo_book, groups=())
    made = live_rations(Farm(book, library), ["sw_boar"], ["north"])
    assert purchases(made, [offer_worths(case) for case in made], book) == []


# Quotes ---------------------------------------------------------------------------------------------------------


def test_two_bags_are_compared_by_what_they_bring_and_not_by_the_bag(demo_book, library):
    """A dearer tonne with more protein is the better buy."""
    book = with_offer(demo_book, "soy48_bags", price_per_tonne=400.0, protein_pct=52.0)
    made = live_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    (found,) = comparisons(made, [offer_worths(case) for case in made], Farm(book, library))
    bags, bulk = found.quotes
    assert (bags.offer, bulk.offer) == ("soy48_bags", "soy48_bulk")
    assert bags.price > bulk.price
    assert bags.per_unit["crude_protein"] == pytest.approx(400 / 520)
    assert bulk.per_unit["crude_protein"] == pytest.approx(389 / (10 * bulk.crude_protein_pct))
    assert bags.package_kg == 25
    assert bulk.worth_high < bulk.price
    assert bags.worth_low > bags.price
    assert "soy48_bags is the best buy" in found.verdict
    assert f"{bulk.worth_high:,.2f}" in found.verdict


def test_protein_carries_its_amino_acids(demo_book, library):
    usual = next(c for c in offer_candidates(demo_book, library) if c.name == "soy48_bags").values
    book = with_offer(demo_book, "soy48_bags", protein_pct=52.0)
    better = next(c for c in offer_candidates(book, library) if c.name == "soy48_bags").values
    times = 52.0 / usual["crude_protein"]
    for acid in ("lysine", "sid_lysine_pig", "methionine_cystine", "sid_threonine_poultry"):
        assert better[acid] == pytest.approx(times * usual[acid])
    assert better["ne_pig"] == usual["ne_pig"]
    assert better["calcium"] == usual["calcium"]


def test_freight_is_part_of_the_price(make_book):
    book = make_book(
        {
            "farm": FARM,
            "supplements": [
                {
                    "offer": "near",
                    "feed": "corn",
                    "price": 5,
                    "per_mass": "25 kg",
                    "freight": 0.5,
                    "price_low": 4,
                    "price_high": 7,
                }
            ],
        }
    )
    (offer,) = book.supplements
    assert offer.price_per_tonne == pytest.approx(220)
    assert offer.freight_per_tonne == pytest.approx(20)
    assert (offer.price_low_per_tonne, offer.price_high_per_tonne) == pytest.approx((180, 300))


@pytest.mark.parametrize("prices", [{"price_low": 210}, {"price_high": 190}])
def test_a_low_price_above_the_likely_one_is_an_error(make_book, prices):
    with pytest.raises(BookError) as refused:
        make_book({"farm": FARM, "supplements": [{"offer": "a", "feed": "corn", "price": 200, **prices}]})
    (problem,) = (found for found in refused.value.problems if found.severity == "error")
    assert problem.sheet == "supplements"
    assert "above" in problem.found


def test_offers_named_for_comparison(demo_book, library):
    made = live_rations(Farm(demo_book, library), ["sw_gro_25_50"], ["north"])
    worths = [offer_worths(case) for case in made]
    found = comparisons(made, worths, Farm(demo_book, library), ["soy_pressed", "canola_meal"])
    assert {quote.offer for quote in found[0].quotes} == {"soy_pressed", "canola_meal"}
    assert "None of them is in a mix" in found[0].verdict
    for named in (["soy_pressed"], ["soy_pressed", "soja"]):
        with pytest.raises(InputError):
            comparisons(made, worths, Farm(demo_book, library), named)


# Draws ----------------------------------------------------------------------------------------------------------


def risky(book):
    """Prices of six offers open by a fifth down and a third up."""
    names = ("soy48_bulk", "corn_bought", "peas_neighbour", "canola_meal", "bran", "lysine")
    for offer in book.supplements:
        if offer.offer in names:
            price = offer.price_per_tonne
            book = with_offer(book, offer.offer, price_low_per_tonne=0.8 * price, price_high_per_tonne=1.3 * price)
    return book


def test_draws_have_the_triangular_distribution(demo_book):
    drawn = price_draws(risky(demo_book), 40_000)["soy48_bulk"]
    low, likely, high = 0.8 * 389, 389, 1.3 * 389
    assert low <= drawn.min() < drawn.max() <= high
    assert drawn.mean() == pytest.approx((low + likely + high) / 3, rel=3e-3)
    variance = (low**2 + likely**2 + high**2 - low * likely - low * high - likely * high) / 18
    assert drawn.var() == pytest.approx(variance, rel=0.03)
    assert triangular(np.array([0.0, 0.4, 1.0]), 10, 14, 20) == pytest.approx([10, 14, 20])


@pytest.mark.slow
def test_draws_are_the_same_for_the_same_seed_and_move_together_where_asked(demo_book):
    book = risky(demo_book)
    first, again, other = price_draws(book, 100), price_draws(book, 100), price_draws(book, 100, seed=2)
    assert (first["bran"] == again["bran"]).all()
    assert (first["bran"] != other["bran"]).any()
    apart, tied = price_draws(book, 20_000), price_draws(book, 20_000, together=0.8)
    assert abs(np.corrcoef(apart["bran"], apart["lysine"])[0, 1]) < 0.03
    assert np.corrcoef(tied["bran"], tied["lysine"])[0, 1] > 0.7
    assert (apart["salt"] == 208).all()


def test_without_open_prices_there_is_nothing_to_draw(demo_book):
    settled = tuple(replace(o, price_low_per_tonne=None, price_high_per_tonne=None) for o in demo_book.supplements)
    with pytest.raises(InputError, match="price_low"):
        price_draws(replace(demo_book, supplements=settled), 10)


@pytest.mark.slow
def test_the_cost_of_a_draw_is_that_of_a_cold_solve(demo_book, library):
    book = risky(demo_book)
    (case,) = made = live_rations(Farm(book, library), ["sw_gro_25_50"], ["north"])
    drawn = price_draws(book, 40)
    risks, farms = drawn_out(made, book, drawn)
    costs, used = [], []
    for k in range(40):
        names = case.formula.program.columns
        prices = tuple(
            float(drawn[n][k]) if n in drawn else c for n, c in zip(names, case.formula.program.costs, strict=True)
        )
        cold = solve(replace(case.formula.program, costs=prices))
        costs.append(cold.objective * case.per_tonne)
        used.append(cold.amounts[case.index("soy48_bulk")] > 1e-9)
    (risk,) = risks
    assert risk.mean == pytest.approx(np.mean(costs), rel=1e-9)
    assert risk.sd == pytest.approx(np.std(costs), rel=1e-7)
    assert risk.percentiles["p95"] == pytest.approx(np.percentile(costs, 95), rel=1e-9)
    soy = next(offer for offer in risk.offers if offer.offer == "soy48_bulk")
    assert soy.in_mix_pct == pytest.approx(100 * np.mean(used))
    (farm,) = farms
    assert farm.mean == pytest.approx(farm.tonnes * risk.mean)


@pytest.mark.slow
def test_the_steady_mix_is_good_in_most_draws(demo_book, library):
    book = risky(demo_book)
    made = live_rations(Farm(book, library), ["sw_gro_25_50", "turkey_8_12"], ["north"])
    risks, farms = drawn_out(made, book, price_draws(book, 3000))
    for risk in risks:
        assert sum(risk.steady_mix.values()) == pytest.approx(1)
        assert risk.good_pct >= risk.today_good_pct
        assert risk.good_pct > 50
        assert risk.steady_cost >= risk.mean
    assert farms[0].purchase.keys() >= {"limestone"}
    assert 0 < farms[0].good_pct <= 100


# Grain ----------------------------------------------------------------------------------------------------------


def test_grain_is_worth_what_the_ration_without_it_costs_more(demo_per_tonne, library):
    made = live_rations(Farm(demo_per_tonne, library), ["sw_gro_25_50"], ["north"])
    (line,) = grain_worths(made, demo_per_tonne)
    (with_it,) = formulate(Farm(demo_per_tonne, library), ["sw_gro_25_50"], ["north"])
    bare = replace(demo_per_tonne, bins=(), samples=(), sorted=(), assays=())
    (without,) = formulate(Farm(bare, library), ["sw_gro_25_50"])
    saved = (without.cost_per_tonne - with_it.cost_per_tonne) / line.share
    assert line.worth == pytest.approx(182 + saved, rel=1e-6)
    assert line.verdict.startswith("feed")


@pytest.mark.slow
def test_grain_that_brings_more_sold_is_sold(demo_book, library):
    book = replace(demo_book, bins=tuple(replace(row, sale_price_per_tonne=400.0) for row in demo_book.bins))
    made = live_rations(Farm(book, library), ["sw_gro_25_50", "sw_fin_75_100"])
    lines = grain_worths(made, book)
    assert all(line.share == 0 and line.verdict.startswith("sell") for line in lines)
    for line in lines:
        cheaper = replace(book, bins=tuple(replace(r, sale_price_per_tonne=line.enters_below - 0.5) for r in book.bins))
        (ration,) = formulate(Farm(cheaper, library), [line.stage], [line.bin])
        assert next(part.share for part in ration.mix if part.offer == line.bin) > 0


def two_groups(book, tonnes):
    """Growers now and finishers half a year later; the north bin alone, with so much grain."""
    groups = (
        Group(Place(), "now", "sw_gro_25_50", 100, date(2025, 10, 1), date(2025, 11, 30)),
        Group(Place(), "later", "sw_fin_75_100", 100, date(2026, 4, 1), date(2026, 5, 31)),
    )
    bins = tuple(replace(row, mass_kg=1000 * tonnes) for row in book.bins if row.bin == "north")
    return replace(book, groups=groups, bins=bins, herd=(), arrivals=())


@pytest.mark.parametrize("tonnes", [100.0, 12.0])
def test_the_farm_feeds_holds_and_sells(tonnes, demo_book, library):
    book = two_groups(demo_book, tonnes)
    made = live_rations(Farm(book, library))
    (plan,) = plans_of(made, book)
    wants = {}
    for case in made:
        group = next(g for g in book.groups if g.stage == case.ration.stage)
        share = next(line.share for line in case.ration.mix if line.offer == "north")
        wants[group.group] = group_feed(group, case.ration).tonnes * share
    assert plan.feed + plan.hold + plan.sell == pytest.approx(tonnes)
    if tonnes > sum(wants.values()):
        assert (plan.feed, plan.hold) == (pytest.approx(wants["now"]), pytest.approx(wants["later"]))
        assert plan.last_tonne_worth == pytest.approx(182)
        assert "sell" in plan.verdict
    else:
        assert plan.sell == pytest.approx(0, abs=1e-9)
        assert plan.last_tonne_worth > 182
        assert "does not reach" in plan.verdict


def test_the_grain_of_a_drum_is_told_in_kilograms(demo_book, library):
    """`feed 0.3 t, hold 0.1 t, 0.0 t are left over`."""
    book = two_groups(demo_book, 0.45)
    (plan,) = plans_of(live_rations(Farm(book, library)), book)
    assert "450 kg" in plan.verdict and "0.0 t" not in plan.verdict


@pytest.mark.slow
def test_one_tonne_more_in_a_short_bin_saves_its_price(demo_book, library):
    bills = []
    for tonnes in (12.0, 12.5):
        book = two_groups(demo_book, tonnes)
        made = live_rations(Farm(book, library))
        (plan,) = plans_of(made, book)
        bills.append((plan.last_tonne_worth, plan.feed, plan.hold))
    (worth, *_), (again, *_) = bills
    assert worth == pytest.approx(again)
    growers, finishers = grain_worths(made, book)
    assert worth == pytest.approx(min(growers.worth, finishers.worth), rel=0.02)


def test_grain_without_a_sale_price_counts_as_free(write_book, make_book, library):
    book = make_book(
        {
            "farm": FARM,
            "bins": [{"bin": "a", "mass": 20, "sale_price": "", "moisture_pct": 12}],
            "samples": [{"sample": "s", "bin": "a"}],
            "sorted": [{"sample": "s", "crop": "triticale", "mass_g": 500}],
            "supplements": [{"offer": "corn", "feed": "corn", "price": 200}],
            "own_stages": [{"stage": "mine", "nutrient": "lysine", "minimum": 0.1, "unit": "%", "per": "kg"}],
        }
    )
    assert book.bins[0].sale_price_per_tonne is None
    (line,) = grain_worths(live_rations(Farm(book, library)), book)
    assert line.share == pytest.approx(1)
    assert "no sale price" in line.verdict
