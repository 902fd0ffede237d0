"""The first screen of `offers`: what to buy and what it is worth, what would come in, what was asked besides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.errors import given
from rationlp.numbers import figure, largest_first, money, percent
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.model import OfferWorth, Purchase, Sweep, WhatIf
from rationlp.offers.purchases import over_stock
from rationlp.offers.study import Study
from rationlp.rations.answer.farm_totals import farm_totals
from rationlp.rations.answer.model import Ration
from rationlp.show.first.asked import Asked
from rationlp.show.first.screen import counted, laid_out, print_asked, print_end, print_things, screen
from rationlp.show.terminal import Terminal
from rationlp.show.text.offers import nothing_said, print_comparison
from rationlp.show.text.sweep import print_risks, print_sweeps, purchase_words, undecided_words

MOST_OFFERS = 14
NEAREST = 6
"""Offers that are in no mix and are named, the nearest to coming in first."""
NAMED = 3
NOBODY_ASKS = 10  # times today's price: what lies beyond is of no use to a buyer (`--full` has it)
MOST_STEPS = 12
"""A sweep of one ration with up to this many prices is shown price by price."""
NO_CENTS = 1000
"""Prices from here on are told without cents."""


def print_first(
    study: Study, book: Book, compared: bool = False, asked_for: Sequence[str] = (), today: Sequence[Ration] = ()
) -> None:
    """The farm first, or the one ration that was asked about; `compared` shows quotes side by side in a table."""
    out = screen()
    units = units_of(book.farm)
    rations = [case.ration for case in study.rations]
    asked = Asked((ration.name, ration.verdict) for ration in rations)
    print_asked(out, asked_for)
    _print_today(out, today, rations, book)
    for line in _unmet(study):
        out.print(line, strong=True)
    if len(study.rations) == 1 and study.worths and study.worths[0]:
        _print_one(out, study.rations[0], study.worths[0], units)
    elif study.purchases:
        out.print(f"{book.farm.name or book.path}. {counted([ration.verdict for ration in rations], 'ration')}")
        _print_purchases(out, study, units)
    for comparison in study.comparisons if compared else ():
        print_comparison(out, comparison, book)
    if len(study.rations) == 1 and all(len(sweep.points) <= MOST_STEPS for sweep in study.sweeps):
        print_sweeps(out, study.sweeps, book)
    else:
        _print_sweeps(out, study.sweeps, units)
    if len(study.rations) == 1:
        print_risks(out, study, book)
    asked.fitting(out, 1, named=True).print(out, named=True)
    print_things(out, _things(study, book, units, compared), most=NEAREST)
    print_end(out, "--full prints every ration and its offers. One ration: --stage and --bin.")


def _unmet(study: Study) -> Iterator[str]:
    """The rations of whose offers nothing can be said, those that stand alike in one sentence."""
    named: dict[str, list[str]] = {}
    for case in study.unmet:
        named.setdefault(f"{case.ration.verdict.headline}{nothing_said(case)}", []).append(case.ration.name)
    for words, names in named.items():
        all_of_them = 1 < len(names) == len(study.rations)
        told = f"All {len(names)} rations" if all_of_them else ", ".join(names)
        yield f"{told}: {words.replace('of its offers', 'of their offers') if len(names) > 1 else words}."


def _print_today(out: Terminal, today: Sequence[Ration], now: Sequence[Ration], book: Book) -> None:
    """What the question costs or saves: a ration by itself, or the feed of all groups from each bin."""
    units = units_of(book.farm)
    if len(today) == 1 and len(now) == 1:
        words = (units.price(ration.cost_per_tonne) or "no mix" for ration in (*now, *today))
        out.print(f"The ration costs {' instead of '.join(words)} {units.per_mass}.", strong=True)
        return
    for was, total in zip(farm_totals(book, today), farm_totals(book, now), strict=False):
        costs = f"{money(total.cost)} instead of {money(was.cost, units.currency)}"
        out.print(f"Feed of the groups{' from ' + total.bin if total.bin else ''}: {costs}.", strong=True)


def _print_purchases(out: Terminal, study: Study, units: BookUnits) -> None:
    """A line an offer with its place in the purchase from each bin, the largest purchase first."""
    bins = list(dict.fromkeys(purchase.bin for purchase in study.purchases))
    by_offer: dict[str, dict[str, Purchase]] = {}
    for purchase in study.purchases:
        by_offer.setdefault(purchase.offer, {})[purchase.bin] = purchase
    bought = {name: rows for name, rows in by_offer.items() if any(purchase.tonnes for purchase in rows.values())}
    order = sorted(bought, key=lambda name: -max(purchase.cost for purchase in bought[name].values()))
    who = "All groups" if study.whole else "The groups of these stages"
    told, lines = _purchase_lines(out.width, bought, order[:MOST_OFFERS], bins, units)
    without = f", {units.currency} more a year without it" if told > 1 else ""
    prices = f", and the prices between which the mixes stay ({units.per_mass})" if told > 2 else ""
    more = "" if told > 2 else f"; today in {units.per_mass}, --full has the prices between which the mixes stay"
    out.print(f"{who}: to buy{without}{prices}{more}.", strong=True)
    for line in lines:
        out.print(line)
    if len(order) > MOST_OFFERS:
        out.print(f"{len(order) - MOST_OFFERS} smaller purchases: {', '.join(order[MOST_OFFERS:])}.")


def _purchase_lines(
    width: int, bought: dict[str, dict[str, Purchase]], order: Sequence[str], bins: Sequence[str], units: BookUnits
) -> tuple[int, list[str]]:
    """The table of purchases, and how many columns of each bin there is room for side by side."""
    lines: list[str] = []
    for told in (3, 2, 1):  # of each bin: to buy, without, the mixes stay
        heads = (cell for name in bins for cell in (name or "to buy", "without", "the mixes stay")[:told])
        rows = [["", "today", *heads]]
        for name in order:
            today = _price(next(iter(bought[name].values())).price, units)
            cells = (cell for bin_name in bins for cell in _purchase_cells(bought[name].get(bin_name), units)[:told])
            rows.append([name, today, *cells])
        lines = [line.rstrip() for line in laid_out(rows, "lr" + "r" * told * len(bins))]
        if max(map(len, lines)) <= width:
            return told, lines
    return 1, lines


def _purchase_cells(purchase: Purchase | None, units: BookUnits) -> list[str]:
    if purchase is None or not purchase.tonnes:
        return ["", "", ""]
    without = (
        "no ration" if purchase.needed_by else figure(given(purchase.at_stake, f"the worth of {purchase.offer}"), 3)
    )
    return [
        units.amount(purchase.tonnes),
        without,
        _span(purchase.stays_from, purchase.stays_to, purchase.price, units),
    ]


def _price(per_tonne: float | None, units: BookUnits) -> str:
    """A price in a column: without cents where it is large; blank for none."""
    if per_tonne is None:
        return ""
    value = units.price_value(per_tonne)
    return f"{value:,.0f}" if value >= NO_CENTS else f"{value:,.2f}"


def _span(low: float | None, high: float | None, today: float | None, units: BookUnits) -> str:
    """The prices between which a mix stays; no price is below nothing."""
    high = _end(high, today)
    if high is None:
        return "any price" if low is None or low <= 0 else f"{_price(low, units)} and up"
    return f"up to {_price(high, units)}" if low is None or low <= 0 else f"{_price(low, units)}-{_price(high, units)}"


def _end(high: float | None, today: float | None) -> float | None:
    """The price up to which a mix stays; None where nobody asks so much."""
    return None if high is None or (today and high > NOBODY_ASKS * today) else high


def _print_one(out: Terminal, case: LiveRation, lines: Sequence[OfferWorth], units: BookUnits) -> None:
    """The offers in one ration: share, price, over which prices its mix stays, what as much feed costs more
    without each."""
    ration = case.ration
    cost = f"{units.price(ration.cost_per_tonne, units.currency)} per {units.word}"
    named = " ".join(part for part in (f"{ration.stage_label} ({ration.stage})", ration.bin) if part)
    out.print(f"{named}: {ration.verdict.headline}. {cost}.", strong=True)
    inside = sorted((line for line in lines if line.in_mix), key=lambda line: largest_first(line.share))
    heads = ["", "%", "today", "the mix stays", "without it", "above that more of"]
    rows = [
        [
            line.offer,
            percent(line.share, 2),
            _price(line.price, units),
            _span(line.mix_stays_from, line.mix_stays_to, line.price, units),
            _dearer(line, units),
            "" if _end(line.mix_stays_to, line.price) is None else ", ".join(line.gives_way_to[:NAMED]),
        ]
        for line in inside
    ]
    for text in laid_out([heads, *rows], "lrrrrl"):
        out.print(text.rstrip())
    idle = sorted((line for line in lines if not line.in_mix and (line.enters_below or 0) > 0), key=_distance)
    if idle:
        out.print(f"Not in the mix, comes in: {_entering(idle, units)}.")


def _dearer(line: OfferWorth, units: BookUnits) -> str:
    """What as much feed costs more without an offer; a mix without it may be cheaper by the tonne and poorer."""
    if line.indispensable or line.saves_per_tonne is None:
        return "no ration"
    return f"+{units.price(line.saves_per_tonne)}"


def _entering(lines: Sequence[OfferWorth | Purchase], units: BookUnits) -> str:
    """The prices at which offers come in that are out."""
    words = [
        f"{line.offer} below {_price(line.enters_below, units)}, now {_price(line.price, units)}"
        for line in lines[:NEAREST]
    ]
    return "; ".join([*words, *([f"{len(lines) - NEAREST} more"] if len(lines) > NEAREST else [])])


def _distance(line: OfferWorth | Purchase) -> float:
    """How many times its entering price an offer costs."""
    return line.price / (line.enters_below or 1.0)


def _things(study: Study, book: Book, units: BookUnits, compared: bool) -> Iterator[str]:
    for purchase in study.purchases:
        if over_stock(purchase):
            stock = units.amount(given(purchase.stock_tonnes, f"the stock of {purchase.offer}"))
            yield f"{purchase.offer}: {units.amount(purchase.tonnes)} wanted, {stock} to be had."
    yield from undecided_words(study.sweeps, book)
    yield from _what_ifs(study.what_ifs, units)
    for farm in study.farm_risks if len(study.rations) > 1 else ():
        yield purchase_words(farm, study.whole, book)
    for plan in study.plans:
        has = "" if plan.tonnes is None else f" ({units.amount(plan.tonnes)})"
        yield f"Bin {plan.bin}{has}: {plan.verdict}"
    if len(study.rations) > 1:
        yield from _idle(study, units)
    for comparison in () if compared else study.comparisons:
        yield comparison.verdict


def _what_ifs(lines: Sequence[WhatIf], units: BookUnits) -> Iterator[str]:
    """Each feed that nobody quotes, with the ration that would pay most for it."""
    by_feed: dict[str, list[WhatIf]] = {}
    for line in lines:
        by_feed.setdefault(line.label, []).append(line)
    for label, rows in by_feed.items():
        wanted = [row for row in rows if row.enters_below]
        if not wanted:
            yield f"{label}: no ration would buy it{f' ({rows[0].note})' if rows[0].note else ''}."
            continue
        best = max(wanted, key=lambda row: row.enters_below or 0.0)
        least = min(row.enters_below or 0.0 for row in wanted)
        span = f"{units.price(least)} to {units.price(best.enters_below)}" if len(wanted) > 1 else ""
        yield (
            f"{label}: bought below {span or units.price(best.enters_below)} {units.per_mass} by {len(wanted)} of "
            f"{len(rows)} rations; most by {best.stage} {best.bin}, then {percent(best.share, 1)} % in place of "
            f"{', '.join(best.displaces[:NAMED]) or 'little'}."
        )


def _idle(study: Study, units: BookUnits) -> Iterator[str]:
    """Offers that are in no mix, at the price at which they come in, the nearest to it first."""
    best: dict[str, Purchase] = {}
    for purchase in study.purchases:
        held = best.get(purchase.offer)
        if (
            held is None
            or purchase.tonnes
            or (not held.tonnes and (purchase.enters_below or 0) > (held.enters_below or 0))
        ):
            best[purchase.offer] = purchase
    idle = [purchase for purchase in best.values() if not purchase.tonnes and (purchase.enters_below or 0) > 0]
    nearest = sorted(idle, key=_distance)
    if nearest:
        yield f"In no mix, comes in: {_entering(nearest, units)}."


def _print_sweeps(out: Terminal, sweeps: Sequence[Sweep], units: BookUnits) -> None:
    """A line a ration: its cost at both ends, how much of the offer is in it, and where the mix changes."""
    for offer in dict.fromkeys(sweep.offer for sweep in sweeps):
        rows = [sweep for sweep in sweeps if sweep.offer == offer and sweep.points]
        ends = sorted({point.price for row in rows for point in row.points})
        if not ends:
            continue
        out.print(
            f"{offer} from {units.price(ends[0])} to {units.price(ends[-1])} {units.per_mass}: cost of the ration, % "
            f"{offer} in it, where the mix changes.",
            strong=True,
        )
        cells = [_sweep_cells(row, units) for row in rows]
        for head, row in zip(laid_out([cell[:-1] for cell in cells], "llrlrl"), cells, strict=True):
            out.print(head + row[-1], hang=len(head))


def _sweep_cells(sweep: Sweep, units: BookUnits) -> list[str]:
    first, last = sweep.points[0], sweep.points[-1]
    other = f"{sweep.other} {units.price(sweep.other_price)}" if sweep.other else ""
    return [
        " ".join(part for part in (sweep.stage, sweep.bin) if part),
        other,
        units.price(first.cost_per_tonne),
        f"to {units.price(last.cost_per_tonne)}",
        percent(first.share, 1),
        f"to {percent(last.share, 1)} %",
        ", ".join(units.price(price) for price in sweep.breakpoints) or "nowhere",
    ]
