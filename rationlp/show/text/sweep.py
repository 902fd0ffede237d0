"""Sweeps and draws of prices for the terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.errors import given
from rationlp.numbers import figure, largest_first, money, percent
from rationlp.offers.model import FarmRisk, PriceRisk, Sweep, SweepPoint
from rationlp.offers.price_pieces import decides_anew
from rationlp.offers.study import Study
from rationlp.show.terminal import Terminal, table

MOST_ROWS = 60
"""A sweep with more steps shows its breakpoints only; --format csv has every step."""
LARGEST = 6
"""So many ingredients of a mix are named."""


def print_sweeps(out: Terminal, sweeps: Sequence[Sweep], book: Book) -> None:
    """Each ration against the price, its steps and the exact breakpoints between them; a grid as one table of costs."""
    grids = [sweep for sweep in sweeps if sweep.other is not None]
    for stage, bin_name in dict.fromkeys((sweep.stage, sweep.bin) for sweep in grids):
        _print_grid(out, [s for s in grids if (s.stage, s.bin) == (stage, bin_name)], book)
    for sweep in sweeps:
        if sweep.other is None:
            _print_sweep(out, sweep, book)


def undecided_words(sweeps: Sequence[Sweep], book: Book) -> Iterator[str]:
    """A sentence where a sweep keeps what today's ration decided; none at plain averages, where it decides anew."""
    if sweeps and not decides_anew(book.farm):
        yield (
            f"At a confidence of {figure(book.farm.confidence_pct)} % every step of a sweep leaves out what today's "
            "ration leaves out because it could not be weighed. `rationlp ration --price` decides that anew at one "
            "price, and may be a little cheaper."
        )


def _print_sweep(out: Terminal, sweep: Sweep, book: Book) -> None:
    units = units_of(book.farm)
    made = table(
        f"{sweep.stage}{f' from {sweep.bin}' if sweep.bin else ''} against the price of {sweep.offer}",
        [
            (f"{sweep.offer} {units.per_mass}", "right"),
            (f"Ration {units.per_mass}", "right"),
            (f"{units.currency}/Gcal", "right"),
            (f"% {sweep.offer}", "right"),
            ("Mix", "left"),
        ],
    )
    points = sweep.points if len(sweep.points) <= MOST_ROWS else ()
    rows: list[tuple[float, int, SweepPoint | None]] = [(p.price, 0, p) for p in points]
    rows += [(price, 1, None) for price in sweep.breakpoints]
    for price, _, point in sorted(rows, key=lambda row: row[:2]):
        if point is None:
            made.add_row(units.price(price), "", "", "", "the mix changes here")
        else:
            cost = units.price(point.cost_per_tonne)
            made.add_row(units.price(price), cost, money(point.cost_per_gcal), percent(point.share), "")
    out.print(made)
    for piece in sweep.pieces:
        out.print(f"- {units.price(piece.price_from)} to {units.price(piece.price_to)}: {_mix(piece.mix)}")
    out.print()


def _mix(mix: dict[str, float]) -> str:
    largest = sorted(mix.items(), key=lambda item: largest_first(item[1]))
    words = ", ".join(f"{name} {percent(share, 1)} %" for name, share in largest[:LARGEST])
    return words + (f" and {len(largest) - LARGEST} more" if len(largest) > LARGEST else "")


def _print_grid(out: Terminal, rows: Sequence[Sweep], book: Book) -> None:
    first, units = rows[0], units_of(book.farm)
    by_energy = first.objective == "per_energy"
    cost = f"{units.currency}/Gcal" if by_energy else units.per_mass
    step = max(len(first.points) // 10, 1)
    shown = [*first.points[::step]]
    made = table(
        f"{first.stage}{f' from {first.bin}' if first.bin else ''}: {cost}, {first.other} down, {first.offer} across",
        [
            (f"{first.other} {units.per_mass}", "right"),
            *((figure(units.price_value(p.price)), "right") for p in shown),
            (f"Mix changes at {first.offer}", "left"),
        ],
    )
    for row in rows:
        costs = [money(p.cost_per_gcal) if by_energy else units.price(p.cost_per_tonne) for p in row.points[::step]]
        breaks = ", ".join(units.price(price) for price in row.breakpoints)
        made.add_row(figure(units.price_value(given(row.other_price, "the price of the second offer"))), *costs, breaks)
    out.print(made)
    if step > 1:
        out.print(f"One price in {step} is shown; --format csv has all.")
    out.print()


def print_risks(out: Terminal, study: Study, book: Book) -> None:
    """The cost over the draws of prices, how often each offer is in, and the mixes that are good in most of them."""
    if not study.risks:
        return
    units = units_of(book.farm)
    made = table(
        f"Prices between low and high, {study.risks[0].draws:,} draws: cost of the ration, {units.per_mass}",
        [
            ("Stage", "left"),
            ("Bin", "left"),
            ("Mean", "right"),
            ("±", "right"),
            ("5 of 100 below", "right"),
            ("95 of 100 below", "right"),
            ("Today's mix good in %", "right"),
            ("Steady mix good in %", "right"),
        ],
    )
    for r in study.risks:
        made.add_row(
            r.stage,
            r.bin,
            units.price(r.mean),
            units.price(r.sd),
            units.price(r.percentiles["p5"]),
            units.price(r.percentiles["p95"]),
            figure(r.today_good_pct, 3),
            figure(r.good_pct, 3),
        )
    out.print(made)
    out.print(f"Good: at most {study.risks[0].within_pct:g} % dearer than the best mix of that draw.")
    for risk in study.risks:
        out.print(f"- {_often(risk)}")
    for farm in study.farm_risks:
        out.print(purchase_words(farm, study.whole, book), strong=True)
    out.print()


def _often(risk: PriceRisk) -> str:
    open_ = [o for o in risk.offers if o.price_low < o.price_high or o.in_mix_pct < 100]
    words = ", ".join(f"{o.offer} {o.in_mix_pct:.0f} %" for o in open_[:NAMED])
    words = words or "no draw: no offer with an open price"
    return f"{risk.stage} {risk.bin}: in the mix in {words}; {risk.mixes} mixes seen."


NAMED = 8
"""So many offers are named in a sentence."""


def purchase_words(farm: FarmRisk, whole: bool, book: Book) -> str:
    """What the groups' feed costs over the draws, and a purchase that is good in most of them."""
    units = units_of(book.farm)
    bought = ", ".join(f"{units.bulk(tonnes)} {name}" for name, tonnes in list(farm.purchase.items())[:NAMED])
    who = "All groups" if whole else "The groups of these stages"
    low, high = (money(farm.percentiles[name]) for name in ("p5", "p95"))
    return (
        f"{who}{f' from {farm.bin}' if farm.bin else ''}: {money(farm.mean, book.farm.currency)} (5 to 95 of 100: "
        f"{low} to {high}). A purchase that is good in {farm.good_pct:.0f} % of the draws: {bought}."
    )
