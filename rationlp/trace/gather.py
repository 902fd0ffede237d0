"""The batches that were made: those of the farm's record, and those that so far stand in the book alone."""

from __future__ import annotations

from rationlp.actual.judge import judge
from rationlp.actual.known import Known
from rationlp.actual.report import as_batch
from rationlp.farm import Farm
from rationlp.ledger.kept import find, record_for
from rationlp.ledger.shape import Batch, batches_of, in_order
from rationlp.ledger.weighed import made_in_book


def batches_made(farm: Farm) -> list[Batch]:
    """Every batch in the order of mixing, judged by what was known on its day. Raises InputError."""
    found = {batch.made.key: batch for batch in batches_of(record_for(farm.book))}
    known = Known(farm, find(farm.book))
    for made in made_in_book(farm, known.ids(row.sheet for row in farm.book.actual)) if farm.book.actual else ():
        if made.key not in found:
            recipe = known.ration(made)
            target = made.target_kg or known.target_kg(made, recipe)
            found[made.key] = as_batch(judge(made, recipe, target, known.on(made.made_on)), farm.book)
    return in_order(found.values())
