"""Along a price the mix is that of the ration itself at every price, what is too light to weigh decided anew."""

from __future__ import annotations

import random

import pytest

from rationlp.farm import Farm
from rationlp.offers import price_pieces
from rationlp.offers.live_ration import live_rations
from rationlp.offers.price_pieces import PricedRation
from rationlp.rations.formulate import solve_rations
from rationlp.rations.solve.settle import open_choice

CASES = (
    # today's mix holds methionine to what can be weighed; above 4,400 it is better left out, and another mix follows
    ("sw_lact_p2_230", "north", "methionine"),
    ("sw_fin_100_135", "north", "methionine"),
    ("sw_gro_25_50", "north", "corn_bought"),
    ("turkey_4_8", "north", "soy48_bulk"),
    ("layer_developer_12_18_brown", "south", "methionine"),
)


@pytest.mark.slow
@pytest.mark.parametrize(("stage", "bin_", "offer"), CASES)
def test_every_price_has_the_mix_of_its_own_ration(stage, bin_, offer, demo_book, library):
    farm = Farm(demo_book, library)
    (case,) = live_rations(farm, [stage], [bin_])
    today = next(row.price_per_tonne for row in demo_book.supplements if row.offer == offer)
    pieces = PricedRation(case).pieces(offer, 0.5 * today, 1.5 * today)
    assert [piece.price_from for piece in pieces[1:]] == [piece.price_to for piece in pieces[:-1]]
    draw = random.Random(stage)
    for price in [0.5 * today, today, *(draw.uniform(0.5, 1.5) * today for _ in range(5))]:
        piece = next(piece for piece in pieces if piece.price_from <= price <= piece.price_to)
        (made,) = solve_rations(farm.with_price(offer, price), [stage], [bin_])
        prices = {line.offer: line.price_per_tonne for line in made.ration.mix}
        cost = sum(share * prices[name] for name, share in piece.mix.items())
        assert cost == pytest.approx(made.ration.cost_per_tonne, abs=0.002)
        assert piece.mix == pytest.approx({name: x for name, x in made.shares.items() if x > 1e-7}, abs=1e-6)


def test_with_a_confidence_there_are_no_pieces(demo_book, library):
    farm = Farm(demo_book, library).with_setting("confidence_pct", 90)
    (case,) = live_rations(farm, ["sw_gro_25_50"], ["north"])
    assert not PricedRation.can_ask(case)


def test_what_a_mix_leaves_undecided_is_worked_out_once(demo_book, library, monkeypatch):
    """However often, and at however many prices of whichever offer, the mix comes up again."""
    looked: list[tuple[object, ...]] = []

    def look(formula, program, solution):
        looked.append((tuple(row.key for row in program.rows), solution.amounts))
        return open_choice(formula, program, solution)

    monkeypatch.setattr(price_pieces, "open_choice", look)
    (case,) = live_rations(Farm(demo_book, library), ["sw_lact_p2_230"], ["north"])
    priced = PricedRation(case)
    for offer in ("methionine", "soy48_bulk"):
        today = next(row.price_per_tonne for row in demo_book.supplements if row.offer == offer)
        assert len(priced.pieces(offer, 0.5 * today, 1.5 * today)) > 1
    assert looked
    assert len(looked) == len(set(looked))
