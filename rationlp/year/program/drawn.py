"""What was mixed, sold, thrown away and counted before the plan begins, by the farm's record and the book."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rationlp.actual.known import Known
from rationlp.farm import Farm
from rationlp.feeds.stock import Stock
from rationlp.ledger.flows import flows_of, moves
from rationlp.ledger.kept import printed_by_id, record_for
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.shape import batches_of
from rationlp.ledger.weighed import made_in_book


@dataclass(frozen=True, slots=True)
class Drawn:
    """Each bin and offer as it stood before the plan's first day, after so many batches; `later` were made since."""

    stocks: Mapping[str, Stock]
    batches: int
    later: int


def drawn_before(farm: Farm, first: date) -> Drawn:
    """What the record says was mixed, sold, thrown away and counted before a day; a batch without a day counts.

    Raises InputError.
    """
    made = _made(farm)
    before = [each for each in made if each.made_on is None or each.made_on < first]
    moved = [each for each in moves(farm.book) if each.on is None or each.on < first]
    flows = flows_of(before, moved)
    found = {name: farm.stock(name, flows) for name in {each.name for each in flows}}
    return Drawn(found, len(before), len(made) - len(before))


def _made(farm: Farm) -> list[MadeMix]:
    """Every batch, each once: those of the record, and those that stand in the book alone."""
    found = {batch.made.key: batch.made for batch in batches_of(record_for(farm.book))}
    if farm.book.actual:
        ids = Known(farm, printed_by_id(farm.book)).ids(row.sheet for row in farm.book.actual)
        found = {made.key: made for made in made_in_book(farm, ids)} | found
    return list(found.values())
