"""The frontier of cost and home-grown share, in every form."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.cautions import REVIEW
from rationlp.files import csv_table
from rationlp.numbers import money, percent
from rationlp.rations.studies.frontier import FrontierPoint
from rationlp.show.data.as_json import write_json
from rationlp.show.terminal import console, table

if TYPE_CHECKING:
    from rationlp.show.schema.shapes import FrontierDocument


def frontier_document(points: Sequence[FrontierPoint], book: Book) -> FrontierDocument:
    """`ration --frontier --format json`."""
    return {"book": str(book.path), "currency": book.farm.currency, "review": REVIEW, "frontier": points}


def show_frontier(points: Sequence[FrontierPoint], book: Book, form: str) -> None:
    """Print the points as text, JSON or CSV."""
    if form == "json":
        write_json(frontier_document(points, book))
        return
    rows = [asdict(point) for point in points]
    if form == "csv":
        sys.stdout.write(csv_table(list(FrontierPoint.__dataclass_fields__), rows))
        return
    out = console()
    units = units_of(book.farm)
    made = table(
        "Cost against home-grown share",
        [
            ("Stage", "left"),
            ("Bin", "left"),
            ("Home-grown %", "right"),
            (units.per_mass, "right"),
            (f"{units.currency}/Gcal", "right"),
            (f"{units.per_mass} for the next percent", "right"),
        ],
    )
    for point in points:
        made.add_row(
            point.stage,
            point.bin,
            f"{percent(point.home_grown_share, 1)}{' *' if point.past_usual else ''}",
            units.price(point.cost_per_tonne),
            money(point.cost_per_gcal),
            units.price(point.price_of_next_percent),
        )
    out.print(made)
    if any(point.past_usual for point in points):
        out.print("* Only past what the trade uses at most: ask a nutritionist first.")
    out.print(REVIEW, strong=True)
