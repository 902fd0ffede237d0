"""What is left in the bins and of the offers, after what was mixed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rationlp.farm import Farm
from rationlp.ledger.made_mix import MadeMix


@dataclass(frozen=True, slots=True)
class Stock:
    """A bin or an offer: kilograms at the start (None: not known), taken out, left; and what to mind."""

    name: str
    label: str
    is_bin: bool
    start_kg: float | None
    taken_kg: float
    batches: int
    note: str

    @property
    def left_kg(self) -> float | None:
        return None if self.start_kg is None else self.start_kg - self.taken_kg


def stocks(made: Iterable[MadeMix], farm: Farm) -> list[Stock]:
    """Every bin, and every offer that was used or has an end.

    Batches from before a bin was filled do not count for it.
    """
    batches = list(made)
    found = []
    for row in farm.book.bins:
        mine = [b for b in batches if not (row.filled_on and b.made_on and b.made_on < row.filled_on)]
        tonnes = farm.bin(row.bin).tonnes
        start = None if tonnes is None else 1000 * tonnes
        found.append(_stock(row.bin, row.label or row.bin, True, start, mine))
    for offer in farm.book.supplements:
        stock = _stock(offer.offer, offer.label or offer.feed, False, offer.stock_kg, batches)
        if stock.taken_kg or offer.stock_kg is not None:
            found.append(stock)
    return found


def _stock(name: str, label: str, is_bin: bool, start: float | None, batches: list[MadeMix]) -> Stock:
    taken = [b.weighed_kg[name] for b in batches if b.weighed_kg.get(name)]
    note = ""
    if start is not None and sum(taken) > start:
        note = "more was taken out than the book says there was: measure it again"
    elif start is None and taken and is_bin:
        note = "the book does not say how much there was"
    return Stock(name, label, is_bin, start, sum(taken), len(taken), note)
