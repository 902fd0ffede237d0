"""What each offer is worth in a ration: ranges of price, the price at which it enters, the ration without it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from rationlp.book.lookup import feeds_named
from rationlp.book.records import Offer, Place
from rationlp.farm import Farm
from rationlp.feeds.candidates import offer_candidates
from rationlp.figures import feed_label
from rationlp.numbers import Floats, Places
from rationlp.offers.live_ration import LiveRation, in_mix, kept_chances, shares_of
from rationlp.offers.model import OfferWorth, WhatIf
from rationlp.offers.priced_program import PricedProgram
from rationlp.offers.vertex import Corner
from rationlp.rations.program.formula import build
from rationlp.rations.program.only_here import LEAST
from rationlp.rations.program.program import ProgramRow

NAMED = 3
"""How many offers are named that take or give way."""
NEWTON, SETTLED = 30, 1e-9
"""Steps towards a price, and the part of the cost within which it is found."""
NOTED = 0.0005
"""A share that moves by less (0.05 points) is not worth naming."""


def offer_worths(case: LiveRation) -> list[OfferWorth]:
    """Every offer of one ration, in the book's order; empty if there is no ration that meets everything."""
    if case.priced is None:
        return []
    return [
        worth_of(case, index)
        for index, candidate in enumerate(case.formula.candidates)
        if not candidate.feed.startswith("bin:")
    ]


def worth_of(case: LiveRation, index: int) -> OfferWorth:
    """One candidate of a ration. Prices are proved by solving again at them, so that they hold at degenerate optima."""
    candidate, share = case.candidate(index), float(case.shares[index])
    used = in_mix(share)
    price = candidate.price_per_tonne
    value = case.value - case.regret
    without = _without(case, index) if used else None
    if used:
        rise, over = _rise(case, index, value, without)
        fall, under = case.live.last_price(index, case.held, value, upward=False)
        enters = _entering_price(case, index, without)
    else:
        rise, over = None, None
        fall, under = _fall(case, index, value)
        enters = _less(price, fall)
    saves = _saves(case, without, used)
    return OfferWorth(
        stage=case.formula.stage.stage,
        bin=case.formula.bin,
        offer=candidate.name,
        feed=candidate.feed,
        label=candidate.label,
        price=price,
        in_mix=used,
        share=share if used else 0.0,
        enters_below=enters,
        mix_stays_from=_less(price, None if fall is None else max(fall, 0.0)),
        mix_stays_to=None if rise is None else price + max(rise, 0.0),
        worth=(None if rise is None else price + max(rise, 0.0)) if used else enters,
        cost_without=_cost_without(case, without, used),
        cost_without_per_gcal=_per_gcal(case, without, used),
        saves_per_tonne=saves,
        worth_used=price + saves / share if used and saves is not None else None,
        indispensable=used and without is None,
        gives_way_to=_movers(case, over, index, 1.0),
        displaces=_movers(case, under, index, -1.0),
        replaced_by=_gains(case, without),
    )


def _less(price: float, fall: float | None) -> float | None:
    return None if fall is None else price - fall


def _rise(case: LiveRation, index: int, value: float, without: Corner | None) -> tuple[float | None, Corner | None]:
    """How far the price can rise. One that is in by the least that can be weighed goes out altogether or stays."""
    key = f"{LEAST}{case.candidate(index).name}:at least"
    if not any(row.key == key for row in case.formula.program.rows):
        return case.live.last_price(index, case.held, value, upward=True)
    if without is None:
        return None, None
    return (without.value(case.live.costs) - value) / float(case.held[index]), without


def _fall(case: LiveRation, index: int, value: float) -> tuple[float | None, Corner | None]:
    """How far the price of a candidate that is not in the mix must fall to bring it in.

    One that is out because it would be less than can be weighed comes in where the mix with that least costs no more:
    its cost is concave in the price, so that Newton's steps settle on it.
    """
    key = f"{LEAST}{case.candidate(index).name}:none"
    rows = case.formula.program.rows
    place = next((place for place, row in enumerate(rows) if row.key == key), None)
    if place is None:
        return case.live.last_price(index, case.held, value, upward=False)
    least = case.formula.least_share
    floor = tuple(float(j == index) - least for j in range(len(case.formula.candidates)))
    at_least = ProgramRow(f"{LEAST}{case.candidate(index).name}:at least", floor, ">=")
    priced = PricedProgram(
        replace(case.formula.program, rows=(*rows[:place], at_least, *rows[place + 1 :])), case.live.chances
    )
    costs = priced.costs.copy()
    for _ in range(NEWTON):
        found = priced.solve(costs)
        if found is None:
            return None, None
        gap = found.value(costs) - value
        if abs(gap) <= SETTLED * max(abs(value), 1.0):
            break
        costs[index] -= gap / float(found.amounts[index])
    return float(priced.costs[index] - costs[index]), found


def floors_of(case: LiveRation, index: int) -> list[int]:
    """Places of the rows that put a candidate into the mix whatever it costs."""
    name = case.candidate(index).name
    keys = (f"offer:{name}:at least", f"offer:{name}:exactly", f"{LEAST}{name}:at least")
    return [place for place, row in enumerate(case.formula.program.rows) if row.key in keys]


def _without(case: LiveRation, index: int) -> Corner | None:
    """The ration made without a candidate, its own floor lifted."""
    return case.live.solve(case.live.costs, out=[index], lifted=floors_of(case, index))


def _entering_price(case: LiveRation, index: int, without: Corner | None) -> float | None:
    """The price at which a candidate that is in the mix would be out of it altogether."""
    if without is None:
        return None
    priced, floors = case.live, floors_of(case, index)
    if floors:
        rows = tuple(row for place, row in enumerate(case.formula.program.rows) if place not in floors)
        shifted = [
            replace(chance, index=chance.index - sum(place < chance.index for place in floors))
            for chance in priced.chances
        ]
        priced = PricedProgram(replace(case.formula.program, rows=rows), shifted)
    fall, _ = priced.last_price(index, without.amounts, without.value(priced.costs) - case.regret, upward=False)
    return _less(case.candidate(index).price_per_tonne, fall)


def _saves(case: LiveRation, without: Corner | None, used: bool) -> float | None:
    if not used:
        return 0.0
    return None if without is None else (without.value(case.live.costs) - case.value) * case.per_tonne


def _cost_without(case: LiveRation, without: Corner | None, used: bool) -> float | None:
    if not used:
        return case.ration.cost_per_tonne
    return None if without is None else case.cost_per_tonne(without.amounts)


def _per_gcal(case: LiveRation, without: Corner | None, used: bool) -> float | None:
    energy = case.formula.stage.energy
    if not used or energy is None:
        return case.ration.cost_per_gcal
    if without is None:
        return None
    values = np.array([c.values[energy] for c in case.formula.candidates])
    density = float(values @ without.amounts) / float(without.amounts.sum())
    return 1000 * case.cost_per_tonne(without.amounts) / density


def _shift(case: LiveRation, other: Corner) -> Floats:
    return shares_of(other.amounts) - case.shares


def _movers(case: LiveRation, other: Corner | None, index: int, sign: float) -> tuple[str, ...]:
    """Offers and bins whose share grows (sign 1) or shrinks (-1) the most from today's mix to another."""
    if other is None:
        return ()
    moved = sign * _shift(case, other)
    moved[index] = 0.0
    order = _most_first(moved)[:NAMED]
    return tuple(case.candidate(int(i)).name for i in order if moved[i] > NOTED)


def _most_first(moved: Floats) -> Places:
    """Places by how far they moved; what differs by rounding alone stays in its order."""
    return np.argsort(-np.round(moved, 9), kind="stable")


def _gains(case: LiveRation, without: Corner | None) -> tuple[tuple[str, float], ...]:
    if without is None:
        return ()
    moved = _shift(case, without)
    return tuple((case.candidate(int(i)).name, float(moved[i])) for i in _most_first(moved) if moved[i] > NOTED)


# Feeds that nobody quotes ----------------------------------------------------------------------------------------


def what_if(feed: str, base: Sequence[LiveRation], farm: Farm) -> list[WhatIf]:
    """What a feed of the library (or of own_feeds) would be worth in each ration. Raises RequestError."""
    (feed,) = feeds_named([feed], farm.book, farm.library, "what_if")
    return [_what_if(feed, case, farm) for case in base if case.priced is not None]


def _what_if(feed: str, case: LiveRation, farm: Farm) -> WhatIf:
    name = f"library:{feed}"
    offer = Offer(Place(), name, feed, organic=True if farm.book.farm.certification != "none" else None)
    (candidate,) = offer_candidates(replace(farm.book, supplements=(offer,)), farm.library)
    head = (feed, feed_label(feed, farm.library), case.formula.stage.stage, case.formula.bin)
    formula = build(case.formula.stage, case.formula.bins, [*case.formula.candidates, candidate], farm)
    if name not in formula.program.columns:
        why = next((note for note in formula.notes if note.startswith(candidate.label)), "")
        return WhatIf(*head, None, None, (), why or "It is not made for these animals.")
    index = formula.program.columns.index(name)
    priced = PricedProgram(formula.program, kept_chances(case.solved, formula))
    without = priced.solve(priced.costs, out=[index])
    if without is None:
        return WhatIf(*head, None, None, (), "Without it there is no ration.")
    fall, taker = priced.last_price(index, without.amounts, without.value(priced.costs), upward=False)
    if fall is None or taker is None:
        return WhatIf(*head, None, None, (), "It cannot go into this ration.")
    shares = shares_of(taker.amounts)
    moved = shares_of(without.amounts) - shares
    names = [formula.candidates[int(i)].name for i in _most_first(moved)[:NAMED] if moved[i] > NOTED]
    return WhatIf(*head, -fall, float(shares[index]), tuple(names))
