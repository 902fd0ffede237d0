"""What is left in the bins and of the offers, after what was mixed, sold and thrown away, and by what was counted."""

from __future__ import annotations

from collections.abc import Iterable

from rationlp.book.records import Settings
from rationlp.book_units import units_of
from rationlp.farm import Farm
from rationlp.feeds.stock import Count, Stock
from rationlp.ledger.flows import flows_of, moves
from rationlp.ledger.made_mix import MadeMix


def stocks(made: Iterable[MadeMix], farm: Farm) -> list[Stock]:
    """Every bin, and every offer that was used, moved, or has an end. Raises InputError.

    Batches from before a bin was filled do not count for it.
    """
    flows = flows_of(made, moves(farm.book))
    used = {each.name for each in flows}
    names = [row.bin for row in farm.book.bins]
    names += [o.offer for o in farm.book.supplements if o.stock_kg is not None or o.offer in used]
    return [farm.stock(name, flows) for name in names]


def stock_words(stock: Stock, farm: Settings) -> str:
    """What to mind: a count that differs from the record, more taken out than there was; empty where nothing is."""
    if stock.left_kg is not None and stock.left_kg < 0:
        return "more was taken out than the book says there was: measure it again, and write it under counted"
    if stock.counts:
        return _counted(stock.counts[-1], farm)
    if stock.start_kg is None and stock.taken_kg and stock.is_bin:
        return "the book does not say how much there was"
    return ""


def _counted(count: Count, farm: Settings) -> str:
    """The count against what the record had, and what to look for."""
    units = units_of(farm)
    told = f"counted {units.weight(count.kg, 5)} on {farm.day(count.on)}"
    off, expected = count.off_kg, count.expected_kg
    if off is None or expected is None:
        return f"{told}; the record had no figure to compare"
    if not off:
        return f"{told}, as the record has it"
    share = f" ({100 * abs(off) / expected:.0f} %)" if expected else ""
    look = (
        "look for batches that were not entered, or spilt or stolen feed"
        if off < 0
        else "look for batches entered that were not made, or a delivery that was not written down"
    )
    more = "less" if off < 0 else "more"
    return f"{told}: {units.weight(abs(off), 5)}{share} {more} than the record's {units.weight(expected, 5)}; {look}"
