"""What the batches of all sheets take, each group of animals fed once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from fractions import Fraction

from rationlp.farm import Farm
from rationlp.sheets.model import MixSheet, PurchaseLine
from rationlp.sheets.weights.scale import Scale, exact


def counted_once(sheets: Sequence[MixSheet]) -> list[MixSheet]:
    """The sheets, of which those of one bin for each stage count in what to buy: the bin of the best verdict, and then
    of the cheapest ration."""
    best: dict[str, tuple[int, float, str]] = {}
    for sheet in sheets:
        ration = sheet.ration
        cost = ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne
        mine = (sheet.verdict.severity.rank, cost or 0.0, sheet.bin)
        best[sheet.stage] = min(best.get(sheet.stage, mine), mine)
    return [replace(sheet, counts=best[sheet.stage][-1] == sheet.bin) for sheet in sheets]


def purchase_list(sheets: Sequence[MixSheet], farm: Farm, scale: Scale) -> tuple[PurchaseLine, ...]:
    """What the batches of all sheets take of each bin and offer, bins first, in the order of the book."""
    needs: dict[str, list[tuple[str, Fraction]]] = {}
    for sheet in sheets:
        for line in (*sheet.bucket, *(line for line in sheet.mixer if line.offer)):
            needs.setdefault(line.offer, []).append((sheet.name, line.mass))
    lines = [
        PurchaseLine(
            b.bin,
            b.label or b.bin,
            "own grain",
            b.sale_price_per_tonne or 0.0,
            None,
            left_of(b.bin, farm, scale),
            b.filled_on,
            _merged(needs[b.bin]),
            True,
        )
        for b in farm.book.bins
        if b.bin in needs
    ]
    return (
        *lines,
        *(
            PurchaseLine(
                o.offer,
                o.label or o.feed,
                o.supplier,
                o.price_per_tonne,
                exact(o.package_kg, scale.unit) if o.package_kg else None,
                left_of(o.offer, farm, scale),
                o.quoted_on,
                _merged(needs[o.offer]),
                False,
            )
            for o in farm.book.supplements
            if o.offer in needs
        ),
    )


def left_of(name: str, farm: Farm, scale: Scale) -> Fraction | None:
    """What is left of a bin or an offer by the book and the farm's record; None where no end is known."""
    left = farm.stock(name).left_kg
    return None if left is None else exact(max(left, 0.0), scale.unit)


def _merged(needs: Iterable[tuple[str, Fraction]]) -> tuple[tuple[str, Fraction], ...]:
    total: dict[str, Fraction] = {}
    for sheet, mass in needs:
        total[sheet] = total.get(sheet, Fraction(0)) + mass
    return tuple(total.items())
