"""A ration against the price of one offer, or of two: exact breakpoints, and every step proved.

The least cost is a concave, piecewise linear function of a price, with one mix on each piece. Two mixes whose lines
cross at a price where nothing is cheaper have their breakpoint there; where something is cheaper it has a piece of its
own in between, and is looked for on both sides (M. J. Eisner, D. G. Severance, Mathematical techniques for efficient
record segmentation in large shared databases, Journal of the ACM 23, 1976). So a sweep needs a few solves for each
piece, in place on one solver object, however many the steps. At plain averages each is the ration itself, crystals and
scales settled (`price_pieces`); at a confidence each step is proved by the duals of its piece's mix.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from rationlp.book.lookup import offers_named
from rationlp.book.records import Book
from rationlp.errors import Problem, RequestError, SolverError
from rationlp.numbers import Floats, Places
from rationlp.offers.live_ration import LiveRation, in_mix, shares_of
from rationlp.offers.model import Piece, Sweep, SweepPoint
from rationlp.offers.price_pieces import Mixed, PricedRation
from rationlp.offers.priced_program import EQUAL, MOVED, WITHIN, PricedProgram
from rationlp.offers.vertex import Corner
from rationlp.rations.program.only_here import without_rows_of
from rationlp.units import BOOK_MASS_UNIT, BOOK_PRICE_MASS_KG, KG_PER_TONNE, MASS_KG, parse_quantity

CHECKED = 1e-8
"""The part of a cost that the check of a step may differ by."""
MOST_STEPS = 1_000_000
EXPECTED = "OFFER:LOW:HIGH:STEPS, money per tonne (per short ton in a us book; or per a mass named behind), LOW <= HIGH"


@dataclass(frozen=True, slots=True)
class Ask:
    """A sweep asked for: so many prices of an offer from `low` to `high`, per tonne, both ends included."""

    offer: str
    low: float
    high: float
    steps: int

    @property
    def prices(self) -> Floats:
        return np.linspace(self.low, self.high, self.steps)


def asks(texts: Sequence[str], book: Book) -> list[Ask]:
    """What `--sweep` asks for, once or twice. Raises RequestError with everything that cannot be read."""
    problems: list[Problem] = []
    found = [ask for text in texts if (ask := _ask(text, book, problems)) is not None]
    if len(texts) > 2:
        problems.append(
            Problem("error", "sweep", "", f"{len(texts)} sweeps", "one, or two for a grid", "Leave some out.")
        )
    if len(found) == 2 and found[0].offer == found[1].offer:
        problems.append(Problem("error", "sweep", "", f"{found[0].offer!r} twice", "two offers", "Name another one."))
    if problems:
        raise RequestError(problems)
    return found


def _ask(text: str, book: Book, problems: list[Problem]) -> Ask | None:
    known = [*(offer.offer for offer in book.supplements), *(row.bin for row in book.bins)]
    head, *tail = text.split(":")
    while tail and head not in known and len(tail) > 3:
        head, tail = f"{head}:{tail[0]}", tail[1:]
    try:
        (head,) = offers_named([head], book, "sweep", bins=True)
    except RequestError as error:
        problems += error.problems
        return None
    try:
        low, high, steps = float(tail[0]), float(tail[1]), int(tail[2])
        usual = BOOK_PRICE_MASS_KG[book.farm.units]
        per = parse_quantity(tail[3], MASS_KG, BOOK_MASS_UNIT[book.farm.units]) if len(tail) == 4 else usual
        if len(tail) > 4 or not (0 <= low <= high < float("inf")) or not 1 <= steps <= MOST_STEPS or per <= 0:
            raise ValueError
        if steps == 1 and low != high:
            raise ValueError
    except (ValueError, IndexError):
        problems.append(
            Problem(
                "error",
                "sweep",
                "",
                repr(text),
                EXPECTED,
                "Write for instance soy48:300:500:11, or soy_bags:8:14:7:25kg.",
            )
        )
        return None
    return Ask(head, low * KG_PER_TONNE / per, high * KG_PER_TONNE / per, steps)


@dataclass(frozen=True, slots=True, eq=False)
class Path:
    """The least cost along prices: `breaks` between pieces, the `corners` of the pieces, and for every price its cost
    (in the unit of the objective) and the place of its piece."""

    prices: Floats
    costs: Floats
    places: Places
    breaks: Floats
    corners: tuple[Corner | Mixed, ...]


def path(priced: PricedProgram, column: int, prices: Floats, base: Floats | None = None) -> Path:
    """The least cost at every one of `prices` (rising) of a column; the other prices from `base`, by default today's.

    Raises SolverError if there is no mix, or a price cannot be proved.
    """
    costs = priced.costs if base is None else base
    ends = [
        (float(prices[0]), _at(priced, costs, column, prices[0])),
        (float(prices[-1]), _at(priced, costs, column, prices[-1])),
    ]
    breaks, corners = [], [ends[0][1]]
    for price, after in _breakpoints(priced, costs, column, *ends):
        breaks.append(price)
        corners.append(after)
    places = np.searchsorted(np.array(breaks), prices, side="left")
    table = np.array([found.amounts for found in corners])
    rest = costs.copy()
    rest[column] = 0.0
    reached = (table @ rest)[places] + prices * table[places, column]
    found = Path(prices, reached, places, np.array(breaks), tuple(corners))
    if not priced.chances:
        _prove(priced, costs, column, found)
    return found


def _at(priced: PricedProgram, costs: Floats, column: int, price: float) -> Corner:
    here = costs.copy()
    here[column] = price
    return priced.best(here)


def _line(found: Corner | Mixed, costs: Floats, column: int) -> tuple[float, float]:
    """Cost of a mix at price 0 of the column, and its rise."""
    slope = float(found.amounts[column])
    return float(costs @ found.amounts) - float(costs[column]) * slope, slope


def _breakpoints(
    priced: PricedProgram, costs: Floats, column: int, low: tuple[float, Corner], high: tuple[float, Corner]
) -> list[tuple[float, Corner]]:
    """Where the mix changes between two prices, with the mix above each; in rising order."""
    found: list[tuple[float, Corner]] = []
    open_ = [(low, high)]
    room = EQUAL * max(float(np.abs(costs).max()), 1.0)
    while open_:
        (from_, before), (to, after) = open_.pop()
        (start, slope), (end, flatter) = _line(before, costs, column), _line(after, costs, column)
        if slope - flatter <= MOVED * float(before.amounts.sum()):
            continue
        price = min(max((end - start) / (slope - flatter), from_), to)
        between = _at(priced, costs, column, price)
        level, rise = _line(between, costs, column)
        gap = start + slope * price - (level + rise * price)
        if gap <= (max(room, WITHIN * abs(level + rise * price)) if priced.chances else room):
            found.append((price, after))
        else:
            open_ += [((price, between), (to, after)), ((from_, before), (price, between))]
    return sorted(found, key=lambda item: item[0])


def _prove(priced: PricedProgram, costs: Floats, column: int, found: Path) -> None:
    """Check every price by the duals of its mix, or, where its basis is another one there, by solving again."""
    lists = np.tile(costs, (len(found.prices), 1))
    lists[:, column] = found.prices
    open_ = np.ones(len(found.prices), dtype=bool)
    for place in np.unique(found.places):
        here = np.flatnonzero(found.places == place)
        open_[here] = ~found.corners[place].proves(lists[here])
    if open_.any():
        again = lists[open_]
        best = np.array([priced.corners[i].value(row) for i, row in zip(priced.answers(again), again, strict=True)])
        if (np.abs(best - found.costs[open_]) > CHECKED * np.maximum(np.abs(best), 1.0)).any():
            raise SolverError("A price of the sweep did not stand up to the check, so the sweep is not shown.")


# In the words of a ration ---------------------------------------------------------------------------------------


def sweeps(cases: Sequence[LiveRation], asked: Sequence[Ask], done: Callable[[], None] = lambda: None) -> list[Sweep]:
    """One sweep for each ration that the offer may go into; with two asked, one for each price of the second.

    `done` is called after each of them.
    """
    first, second = asked[0], asked[1] if len(asked) > 1 else None
    found = []
    for case in cases:
        column = case.index(first.offer) if case.priced is not None else None
        if column is None:
            done()
            continue
        for price in second.prices.tolist() if second else [None]:
            found.append(_sweep(case, first, column, second, price))
            done()
    return found


def _sweep(case: LiveRation, ask: Ask, column: int, other: Ask | None, other_price: float | None) -> Sweep:
    base = case.live.costs.copy()
    place = case.index(other.offer) if other else None
    if place is not None and other_price is not None:
        base[place] = other_price
    along = _path_of(case, column, base, ask, other)
    return Sweep(
        stage=case.formula.stage.stage,
        bin=case.formula.bin,
        offer=ask.offer,
        objective=case.formula.objective,
        points=_points(case, along, column),
        pieces=_pieces(case, along, column, base),
        breakpoints=tuple(along.breaks.tolist()),
        other=other.offer if other else None,
        other_price=other_price,
    )


def _path_of(case: LiveRation, column: int, base: Floats, ask: Ask, other: Ask | None) -> Path:
    """The ration along the prices, what is too light to weigh decided anew at each.

    At a confidence, where a mix moves with every price, what else today's ration leaves out stays out.
    """
    prices = ask.prices
    if not PricedRation.can_ask(case):
        formula = without_rows_of({each.offer for each in (ask, other) if each}, case.formula)
        same = formula is case.formula
        return path(case.live if same else PricedProgram(formula.program, case.live.chances), column, prices, base)
    breaks, mixes = PricedRation(case).along(column, float(prices[0]), float(prices[-1]), base)
    places = np.searchsorted(np.array(breaks), prices, side="left")
    table = np.array([found.amounts for found in mixes])
    rest = base.copy()
    rest[column] = 0.0
    return Path(prices, (table @ rest)[places] + prices * table[places, column], places, np.array(breaks), tuple(mixes))


def _points(case: LiveRation, along: Path, column: int) -> tuple[SweepPoint, ...]:
    table = np.array([found.amounts for found in along.corners])
    totals = table.sum(axis=1)
    units = (table @ case.live.normalizer) / totals  # of the objective in a tonne: 1, or Gcal
    energy = case.formula.stage.energy
    per_tonne = along.costs * units[along.places]
    per_gcal = np.full(len(per_tonne), np.nan)
    if energy:
        density = table @ np.array([c.values[energy] / 1000 for c in case.formula.candidates]) / totals
        per_gcal = per_tonne / density[along.places]
    share = (table[:, column] / totals)[along.places]
    columns = zip(
        along.prices.tolist(), per_tonne.tolist(), per_gcal.tolist(), share.tolist(), along.places.tolist(), strict=True
    )
    return tuple(SweepPoint(p, cost, gcal if energy else None, part, place) for p, cost, gcal, part, place in columns)


def _pieces(case: LiveRation, along: Path, column: int, base: Floats) -> tuple[Piece, ...]:
    edges = [float(along.prices[0]), *along.breaks.tolist(), float(along.prices[-1])]
    found = []
    for place, corner in enumerate(along.corners):
        shares = shares_of(corner.amounts).tolist()
        mix = {c.name: s for c, s in zip(case.formula.candidates, shares, strict=True) if in_mix(s)}
        level, rise = _line(corner, base, column)
        low, high = edges[place], edges[place + 1]
        found.append(Piece(low, high, level + rise * low, level + rise * high, shares[column], mix))
    return tuple(found)
