"""Concentrates for the terminal, as JSON and as CSV."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.cautions import REVIEW
from rationlp.files import csv_table
from rationlp.finder import listed
from rationlp.numbers import figure, largest_first, money, percent
from rationlp.rations.answer.model import Ration
from rationlp.rations.studies.concentrate import Concentrate, Use
from rationlp.show.data.as_json import write_json
from rationlp.show.terminal import Terminal, console, table

if TYPE_CHECKING:
    from rationlp.show.schema.shapes import ConcentrateDocument, ConcentrateObject, UseObject

COLUMNS = ["concentrate", "bin", "stage", "part", "name", "feed", "label", "share", "cost", "cost_of_own_ration"]


def show_concentrates(concentrates: Sequence[Concentrate], unmet: Sequence[Ration], book: Book, form: str) -> None:
    """Print the concentrates as text, JSON or CSV; `unmet` are rations that meet not everything and have none."""
    if form == "json":
        write_json(concentrate_document(concentrates, unmet, book))
    elif form == "csv":
        rows = [row for number, c in enumerate(concentrates, 1) for row in _rows(number, c)]
        sys.stdout.write(csv_table(COLUMNS, (dict(zip(COLUMNS, row, strict=True)) for row in rows)))
    else:
        _print(concentrates, unmet, book)


def concentrate_document(
    concentrates: Sequence[Concentrate], unmet: Sequence[Ration], book: Book
) -> ConcentrateDocument:
    """`ration --concentrate --format json`."""
    return {
        "book": str(book.path),
        "currency": book.farm.currency,
        "review": REVIEW,
        "concentrates": [_object(number, c) for number, c in enumerate(concentrates, 1)],
        "without": [{"stage": r.stage, "bin": r.bin, "status": r.status} for r in unmet],
    }


def _use(use: Use) -> UseObject:
    return {
        "stage": use.stage,
        "stage_label": use.stage_label,
        "bin": use.bin,
        "inclusion": use.inclusion,
        "grain": use.grain,
        "objective": use.objective,
        "cost": use.cost,
        "cost_of_own_ration": use.cost_of_own_ration,
        "premix_doses": use.premix_doses,
    }


def _object(number: int, concentrate: Concentrate) -> ConcentrateObject:
    """A concentrate without the rations behind it, which `ration --format json` prints."""
    return {
        "concentrate": number,
        "cost_per_tonne": concentrate.cost_per_tonne,
        "parts": concentrate.parts,
        "uses": [_use(use) for use in concentrate.uses],
        "unproven_pct": concentrate.unproven_pct,
    }


def _rows(number: int, concentrate: Concentrate) -> list[list[object]]:
    rows: list[list[object]] = [
        [number, "", "", "concentrate", p.offer, p.feed, p.label, p.share, None, None] for p in concentrate.parts
    ]
    for use in concentrate.uses:
        head = [number, use.bin, use.stage]
        rows.append([*head, "inclusion", "", "", "", use.inclusion, use.cost, use.cost_of_own_ration])
        rows += [[*head, "grain", p.offer, p.feed, p.label, p.share, None, None] for p in use.grain]
    return rows


def _print(concentrates: Sequence[Concentrate], unmet: Sequence[Ration], book: Book) -> None:
    out = console()
    for number, concentrate in enumerate(concentrates, 1):
        _print_one(out, number, concentrate, book)
    for ration in unmet:
        out.print(
            f"! No concentrate for {ration.stage} from {ration.bin}: its ration does not meet everything.", strong=True
        )
    if not concentrates and not unmet:
        out.print("Nothing is bought for these rations, so there is no concentrate.")
    out.print(REVIEW, strong=True)
    cautions = dict.fromkeys(
        text for c in concentrates for use in c.uses for text in use.ration.cautions if text != REVIEW
    )
    if cautions:
        out.print("Cautions", strong=True)
    for caution in cautions:
        out.print(f"- {caution}")


def _print_one(out: Terminal, number: int, concentrate: Concentrate, book: Book) -> None:
    currency, units = book.farm.currency, units_of(book.farm)
    named = ", ".join(use.stage for use in concentrate.uses)
    price = units.price(concentrate.cost_per_tonne, currency)
    out.rule(f"Concentrate {number}, {price} per {units.word}, for {named}")
    mixed = table("Mixed once, as fed", [("Feed", "left"), ("Offer", "left"), ("%", "right")])
    for part in sorted(concentrate.parts, key=lambda part: largest_first(part.share)):
        mixed.add_row(part.label, part.offer, percent(part.share, 3))
    out.print(mixed)
    fed = table(
        "Fed daily",
        [
            ("Stage", "left"),
            ("From", "left"),
            ("Concentrate %", "right"),
            (f"Home-grown to 100 {units.mass} of it", "left"),
            ("Premix doses", "right"),
            (currency, "right"),
            ("Own ration", "right"),
            ("More", "right"),
            ("per", "left"),
        ],
    )
    for use in concentrate.uses:
        by_energy = use.objective == "per_energy"
        grain = listed(f"{figure(100 * p.share / use.inclusion, 4)} {units.mass} {p.label}" for p in use.grain)
        fed.add_row(
            use.stage_label,
            use.bin,
            percent(use.inclusion, 2),
            grain or "none",
            figure(use.premix_doses, 3),
            *(
                money(cost) if by_energy else units.price(cost)
                for cost in (use.cost, use.cost_of_own_ration, use.cost - use.cost_of_own_ration)
            ),
            "Gcal" if by_energy else units.short,
        )
    out.print(fed)
    if len(concentrate.uses) > 1:
        out.print(
            "Dearer than each stage's own ration by the column 'More'; fewer stages in one concentrate cost less."
        )
        proven = max(concentrate.unproven_pct, 0.0)
        out.print(f"The least extra cost, proven to within {figure(proven, 2)} % of the cost of these rations.")
    if any(use.premix_doses > 1 + 1e-6 for use in concentrate.uses):
        out.print("Where the premix comes to more than one dose, ask its maker; the library caps it.")
