"""The feed that nobody offers and that would make a ration cheaper, found without being named.

Where a cap, the energy floor or added fat drives the cost of a ration, every feed of the library that is not on offer
is held against the prices of today's answer: one with a reduced cost at its own price cannot help (duality, G. B.
Dantzig, Linear Programming and Extensions, 1963). Each that can is put on offer by itself, and the best is told with
both costs, each of a ration as the farm would feed it. Prices are those of the library (prices.csv), where it has one
in the currency of the book; a grain that is traded everywhere counts as much as the farm's own dearest grain would
bring.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import inf

from rationlp.errors import BookError, SolverError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.library.records import Price
from rationlp.rations.formulate import answer_to
from rationlp.rations.program.formula import Formula, build
from rationlp.rations.program.only_here import bare
from rationlp.rations.program.program import Solution, SolverStatus
from rationlp.rations.solve.checked import run_settled
from rationlp.rations.solve.model import Answer
from rationlp.rations.solve.remedies import names_not_on_offer
from rationlp.rations.solve.solver import LiveProgram
from rationlp.stages.limits import content
from rationlp.stages.model import Cap, Need, NeedKind
from rationlp.stages.stage import KCAL_PER_MCAL

WORTH_TELLING = 0.005
"""A feed that saves less than this part of the cost is not named."""
GRAINS = ("corn", "barley_hulled", "wheat_hard", "wheat_soft", "sorghum_low_tannin", "oats_hulled")
"""Cereals that a farm can buy nearly anywhere, at about one price (common practice); pulses bring more."""
NO_DRIVERS = ("mineral", "premix", "amino_acid", "additive")
"""Groups of feeds whose caps keep fillers and overdoses out: no other feed mends them."""
FAT = "fat"
DRIVES = 1e-6
"""Of the cost, that a row must be worth to drive it."""
BEYOND_ROUNDING = 1 + 1e-6
"""Times what a feed may save at most: nothing is passed over for rounding."""


@dataclass(frozen=True, slots=True)
class MissingOffer:
    """A feed not on offer with what it would save.

    Costs are per tonne of the ration as it is today, and of the same energy with the energy objective; `driver` is what
    drives the cost today, `share` the feed's part of the new mix, `price` per tonne from `priced_by`.
    """

    feed: str
    label: str
    price: float
    priced_by: str
    share: float
    cost: float
    cost_with: float
    driver: str
    source: str


def missing_offer(formula: Formula, answer: Answer, farm: Farm) -> MissingOffer | None:
    """The feed of the library that would save most in the ration `answer` to `formula`, or nothing worth telling.

    Deterministic: of two that save the same the first of the library is told.
    """
    driver = _driver(formula, answer, farm.library)
    if driver is None or answer.solution is None:
        return None
    extras = _priced(formula, farm)
    if not extras:
        return None
    try:
        for name, cost in _cheapest_first(formula, extras, farm):
            if cost >= answer.solution.objective * (1 - WORTH_TELLING):
                return None
            candidate, price = next((c, p) for c, p in extras if c.name == name)
            found = _told(formula, answer, candidate, price, driver, farm)
            if found is not None:
                return found
    except SolverError:  # nothing is proposed that was not worked out
        return None
    return None


def _driver(formula: Formula, answer: Answer, library: Library) -> str | None:
    """What drives the cost, in words: the cap with the highest price, the energy floor, or fat that is added."""
    if answer.solution is None or answer.amounts is None:
        return None
    found: list[tuple[float, str]] = []
    for row, source, dual in zip(formula.program.rows, formula.sources, answer.solution.row_duals, strict=False):
        if isinstance(source, Cap) and row.sense == "<=" and dual < 0 and _is_driver(source, library):
            found.append((-dual * (source.max_share or 0.0), f"The cap on {feed_label(source.feed, library)}"))
        elif isinstance(source, Need) and source.kind == "energy_floor" and dual > 0:
            found.append((dual, "The energy floor"))
    if found and max(found)[0] > DRIVES * answer.solution.objective:
        return max(found)[1]
    total = sum(answer.amounts)
    fat = sum(x for x, c in zip(answer.amounts, formula.candidates, strict=True) if c.group == FAT) / total
    return "Added fat" if fat > formula.least_share else None


def _is_driver(cap: Cap, library: Library) -> bool:
    groups = {library.feeds[feed].group for feed in cap.members if feed in library.feeds}
    return not groups <= set(NO_DRIVERS)


def _priced(formula: Formula, farm: Farm) -> list[tuple[Candidate, tuple[float, str, str]]]:
    """Every feed that is not on offer and has a price, with the price per tonne, where it is from, and its source."""
    found = []
    for feed in names_not_on_offer(formula, formula.candidates, farm):
        price = list_price(feed, farm)
        if price is not None:
            found.append((replace(farm.as_if_offered(feed), price_per_tonne=price[0]), price))
    return found


def list_price(feed: str, farm: Farm) -> tuple[float, str, str] | None:
    """The price per tonne of a feed that nobody offers, where it is from, and its source; None where there is none."""
    wanted = "conventional" if farm.settings.certification == "none" else "organic"
    quoted = [
        row
        for row in farm.library.table("prices", Price)
        if row.feed == feed and row.currency == farm.settings.currency and row.certification == wanted
    ]
    if quoted:
        row = max(quoted, key=lambda row: row.quoted_on)
        return row.price_per_tonne, f"the list price of {row.quoted_on}", row.source
    own = max((row.sale_price_per_tonne or 0.0 for row in farm.book.bins), default=0.0)
    if feed in GRAINS and own:
        return own, "what your own grain would bring", "sale_price of the book"
    return None


def _cheapest_first(
    formula: Formula, extras: Sequence[tuple[Candidate, tuple[float, str, str]]], farm: Farm
) -> Iterator[tuple[str, float]]:
    """The feeds that can help, each by itself on offer, with the objective of the ration: the cheapest ration first.

    One program in the solver. A feed is put on offer there when none before it can make the ration as cheap as this one
    may (`_least_cost`). Raises SolverError.
    """
    candidates = [*formula.candidates, *(candidate for candidate, _ in extras)]
    wide = build(formula.stage, formula.bins, candidates, farm, formula.home_grown)
    wanted = {candidate.name for candidate, _ in extras}
    columns = [j for j, candidate in enumerate(wide.candidates) if candidate.name in wanted]
    live = LiveProgram(bare(wide).program)
    live.leave_out(columns=columns)
    today = run_settled(live)
    if today.status != SolverStatus.OPTIMAL:
        return
    able = [j for j in columns if today.reduced_costs[j] < 0]
    open_ = [(_least_cost(wide, today, column), False, column) for column in able]  # cost, whether it is known, column
    heapq.heapify(open_)
    while open_:
        cost, is_known, column = heapq.heappop(open_)
        if is_known:
            yield wide.candidates[column].name, cost
            continue
        live.leave_out(columns=[j for j in columns if j != column])
        solution = run_settled(live)
        if solution.status == SolverStatus.OPTIMAL:
            heapq.heappush(open_, (solution.objective, True, column))


def _least_cost(wide: Formula, today: Solution, column: int) -> float:
    """What no ration with the feed in `column` on offer falls below: today's cost, less what a unit of it saves at
    today's prices (the duals, which stand for all else) times the most of it that its caps and the energy floor let in.
    """
    candidate = wide.candidates[column]
    caps = [c.max_share for c in wide.caps if c.max_share is not None and content(c, candidate) == 1.0]
    share = min(caps, default=1.0)
    saves = today.reduced_costs[column] * share * _most_feed(wide) if share else 0.0
    return today.objective + saves * BEYOND_ROUNDING


def _most_feed(formula: Formula) -> float:
    """The most that a mix can weigh in the scale of the program: as much as has a unit of energy at its floor."""
    if formula.objective == "per_tonne":
        return 1.0
    floors = [
        need.minimum
        for need in formula.stage.needs
        if need.kind is NeedKind.ENERGY_FLOOR and need.nutrient == formula.stage.energy and need.minimum
    ]
    return KCAL_PER_MCAL / max(floors) if floors else inf


def _told(
    formula: Formula, answer: Answer, candidate: Candidate, price: tuple[float, str, str], driver: str, farm: Farm
) -> MissingOffer | None:
    """The ration with the feed on offer as the farm would feed it, against today's."""
    try:
        candidates = [*formula.candidates, candidate]
        with_it = build(formula.stage, formula.bins, candidates, farm, formula.home_grown)
    except BookError:  # a cap on the feed that the book loosens without a reason: nothing to propose
        return None
    try:
        found = answer_to(with_it, farm)
    except SolverError:
        return None
    if found.solution is None or found.amounts is None or answer.solution is None:
        return None
    before, after = answer.solution.objective, found.solution.objective
    place = next((j for j, c in enumerate(with_it.candidates) if c.name == candidate.name), None)
    share = found.amounts[place] / sum(found.amounts) if place is not None else 0.0
    if not share or after >= before * (1 - WORTH_TELLING):
        return None
    times = _energy(formula, answer) if formula.objective != "per_tonne" else 1.0
    return MissingOffer(
        candidate.feed, candidate.label, *price[:2], share, before * times, after * times, driver, price[2]
    )


def _energy(formula: Formula, answer: Answer) -> float:
    """Gcal in a tonne of today's mix: costs per Gcal times this are of a tonne of the same energy."""
    amounts = answer.amounts or ()
    held = sum(x * c.values[formula.stage.energy or ""] for x, c in zip(amounts, formula.candidates, strict=True))
    return held / sum(amounts) / KCAL_PER_MCAL
