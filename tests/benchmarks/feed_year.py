"""How long a year takes, against the bare solver given the same program as one matrix.

    python tests/benchmarks/feed_year.py [months groups bins offers]

The matrix has a block of rows for every demand (a group over a stretch of days in which nothing changes) and a row for
every limited bin and offer; it leaves out what no linear program says (crystals held to their needs, nothing too light
to weigh), so that its least cost is at most that of the plan. The farms are made of the demo book, invented as it is.
"""

from __future__ import annotations

import resource
import sys
import time
from dataclasses import replace
from datetime import timedelta

import highspy
import numpy as np

from rationlp.api import open_farm
from rationlp.book.records import Group, Place
from rationlp.farm import Farm
from rationlp.herd.moves import fed_animals
from rationlp.herd.season import season_of
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.program.search import key_of, search_of
from rationlp.year.program.supplies import supplies_of

STAGES = (
    "sw_nur_11_25",
    "sw_gro_25_50",
    "sw_gro_50_75",
    "sw_fin_75_100",
    "sw_fin_100_135",
    "sw_gest_p2_early",
    "sw_gest_p2_late",
    "sw_lact_p2_230",
    "sw_boar",
    "hen_brown_110",
    "hen_peak",
    "layer_grower_6_12_brown",
    "layer_developer_12_18_brown",
    "broiler_0_3",
    "broiler_3_6",
    "turkey_8_12",
)


def farm_of(days: int, groups: int, bins: int, offers: int, dated: int) -> Farm:
    """The demo farm with so many of each; `dated` offers begin or end within the year."""
    demo = open_farm("demo/stillwater_bend")
    book = demo.book
    start = book.farm.plan_from
    made_bins, samples, sorts, assays = [], [], [], []
    for i in range(bins):
        row = book.bins[i % len(book.bins)]
        name = f"bin{i}"
        made_bins.append(
            replace(row, bin=name, label=name, mass_kg=15_000.0 + 2_000 * i, sale_price_per_tonne=165.0 + 3 * i)
        )
        for sample in (s for s in book.samples if s.bin == row.bin):
            samples.append(replace(sample, sample=f"{sample.sample}_{i}", bin=name))
            sorts += [replace(r, sample=f"{r.sample}_{i}") for r in book.sorted if r.sample == sample.sample]
            assays += [replace(r, sample=f"{r.sample}_{i}") for r in book.assays if r.sample == sample.sample]
    made_offers = []
    for i in range(offers):
        row = book.supplements[i % len(book.supplements)]
        times = 1 + 0.03 * (i // len(book.supplements))
        until = start + timedelta(days=days * (i % 7 + 1) // 8) if i >= offers - dated else None
        made_offers.append(
            replace(
                row,
                offer=f"offer{i}",
                price_per_tonne=row.price_per_tonne * times,
                until_date=until,
                stock_kg=None,
                lead_days=0,
                price_low_per_tonne=None,
                price_high_per_tonne=None,
            )
        )
    made_groups = tuple(
        Group(Place(), f"group{i}", STAGES[i % len(STAGES)], 20 + 3 * i, start, start + timedelta(days=days - 1))
        for i in range(groups)
    )
    settings = replace(book.farm, next_harvest_on=start + timedelta(days=days))
    return Farm(
        replace(
            book,
            farm=settings,
            bins=tuple(made_bins),
            samples=tuple(samples),
            sorted=tuple(sorts),
            assays=tuple(assays),
            supplements=tuple(made_offers),
            groups=made_groups,
            herd=(),
            arrivals=(),
            lots=(),
            actual=(),
        ),
        demo.library,
    )


def one_matrix(search) -> highspy.HighsLp:
    """The year as one linear program: tonnes of each feed in each demand."""
    costs, rows, low, high = [], [], [], []
    limited = {name: [] for name in search.master.limited}
    for demand in search.demands:
        kitchen = search.kitchen(key_of(demand))
        program, first = kitchen.formula.program, len(costs)
        costs += [search.master.prices_per_tonne[name] + search.master.mixing for name in program.columns]
        for row in program.rows:
            rows.append([(first + j, a) for j, a in enumerate(row.coefficients) if a])
            low.append(-np.inf if row.sense == "<=" else 0.0)
            high.append(np.inf if row.sense == ">=" else 0.0)
        rows.append([(first + j, a) for j, a in enumerate(program.normalizer)])
        low.append(demand.units)
        high.append(demand.units)
        for j, name in enumerate(program.columns):
            if name in limited:
                limited[name].append((first + j, 1.0))
    for name, terms in limited.items():
        rows.append(terms)
        low.append(-np.inf)
        high.append(search.master.supplies[name].tonnes)
    lp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = len(costs), len(rows)
    lp.col_cost_, lp.col_lower_, lp.col_upper_ = np.array(costs), np.zeros(len(costs)), np.full(len(costs), np.inf)
    lp.row_lower_, lp.row_upper_ = np.array(low), np.array(high)
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = np.cumsum([0, *map(len, rows)])
    lp.a_matrix_.index_ = np.array([j for row in rows for j, _ in row])
    lp.a_matrix_.value_ = np.array([a for row in rows for _, a in row])
    return lp


def main(days: int, groups: int, bins: int, offers: int) -> None:
    farm = farm_of(days, groups, bins, offers, dated=max(offers // 8, 1))
    farm.bins()
    _ = farm.candidates
    began, wall = time.process_time(), time.perf_counter()
    plan = plan_year(farm)
    took = time.process_time() - began
    print(f"{days} days, {groups} groups, {bins} bins, {offers} offers: {len(plan.search.demands)} demands")
    print(
        f"plan      {took:8.2f} s CPU {time.perf_counter() - wall:8.2f} s, cost {plan.cost:,.2f}, "
        f"bound {plan.bound:,.2f}, "
        f"{len(plan.mixes)} mixes of {len(plan.search.master.mixes)}, {len(plan.unfed)} unfed"
    )
    season = season_of(farm.book)
    began = time.process_time()
    search = search_of(farm, season, fed_animals(farm.book, season), supplies_of(farm, season))
    lp = one_matrix(search)
    built = time.process_time() - began
    solver = highspy.Highs()
    solver.setOptionValue("output_flag", False)
    began = time.process_time()
    solver.passModel(lp)
    solver.run()
    solved = time.process_time() - began
    print(
        f"bare      {solved:8.2f} s CPU (its matrix {built:.2f} s), {lp.num_col_} columns, {lp.num_row_} rows, "
        f"{solver.getModelStatus().name}, cost {solver.getInfo().objective_function_value:,.2f}"
    )
    began = time.process_time()
    plan.search.master.reprice(
        {**plan.search.master.prices_per_tonne, "offer0": 1.2 * farm.candidates[0].price_per_tonne}
    )
    plan.search.converge()
    print(f"replan    {time.process_time() - began:8.2f} s CPU after one changed price, in place")
    began = time.process_time()
    few = plan_year(farm, YearRequest(most_mixes=max(groups // 3, 3)))
    print(
        f"few mixes {time.process_time() - began:8.2f} s CPU, {few.few.used} mixes, proved {few.few.proved}, "
        f"cost {few.cost:,.2f}"
    )
    print(f"memory    {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:8.0f} MB at most")


if __name__ == "__main__":
    asked = [int(word) for word in sys.argv[1:]] or [12, 12, 4, 40]
    main(asked[0] * 365 // 12, *asked[1:])
