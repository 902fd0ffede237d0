"""What was mixed before the plan begins, by the farm's record and the book's sheet `actual`: it is out of the bins."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rationlp.actual.known import Known
from rationlp.actual.stock import stocks
from rationlp.farm import Farm
from rationlp.ledger.kept import find, record_for
from rationlp.ledger.made_mix import MadeMix
from rationlp.ledger.shape import batches_of
from rationlp.ledger.weighed import made_in_book
from rationlp.units import KG_PER_TONNE


@dataclass(frozen=True, slots=True)
class Drawn:
    """Tonnes taken out by bin and offer before the plan's first day, by how many batches; `later` were made since."""

    tonnes: Mapping[str, float]
    batches: int
    later: int


def drawn_before(farm: Farm, first: date) -> Drawn:
    """What the record says was mixed before a day; a batch without a day counts. Raises InputError."""
    made = _made(farm)
    before = [each for each in made if each.made_on is None or each.made_on < first]
    taken = {row.name: row.taken_kg / KG_PER_TONNE for row in stocks(before, farm)} if before else {}
    return Drawn(taken, len(before), len(made) - len(before))


def _made(farm: Farm) -> list[MadeMix]:
    """Every batch, each once: those of the record, and those that stand in the book alone."""
    found = {batch.made.key: batch.made for batch in batches_of(record_for(farm.book))}
    if farm.book.actual:
        ids = Known(farm, find(farm.book)).ids(row.sheet for row in farm.book.actual)
        found = {made.key: made for made in made_in_book(farm, ids)} | found
    return list(found.values())
