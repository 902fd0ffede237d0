"""All rations at a glance, with what more certainty costs and what nobody offers."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.numbers import money, percent
from rationlp.rations.answer.farm_totals import farm_totals
from rationlp.rations.answer.model import Ration
from rationlp.show.terminal import Terminal, table

if TYPE_CHECKING:
    from rationlp.rations.studies.missing_offer import MissingOffer


def print_glance(
    out: Terminal, rations: Sequence[Ration], book: Book, prices: Sequence[Sequence[tuple[float, float | None]]]
) -> None:
    """A line for each ration, then the farm as a whole."""
    units, currency = units_of(book.farm), book.farm.currency
    levels = [pct for pct, _ in next((levels for levels in prices if levels), ())]
    glance = table(
        f"Rations of {book.farm.name or str(book.path)} {book.farm.season}",
        [
            ("Stage", "left"),
            ("Bin", "left"),
            ("Verdict", "left"),
            (units.per_mass, "right"),
            (f"{currency}/Gcal", "right"),
            ("Home-grown %", "right"),
            (f"{units.mass}/head/day", "right"),
            *((f"{pct:g} % sure", "right") for pct in levels),
        ],
    )
    asked = [*prices, *[()] * (len(rations) - len(prices))]
    for r, costs in zip(rations, asked, strict=True):
        glance.add_row(
            f"{r.stage_label} ({r.stage})",
            r.bin,
            r.verdict.headline,
            units.price(r.cost_per_tonne),
            money(r.cost_per_gcal),
            percent(r.home_grown_share, 1),
            units.small(r.feed_kg_per_head_per_day),
            *(_dearer(cost, r) for _, cost in costs or [(pct, None) for pct in levels]),
        )
    out.print(glance)
    if levels:
        of = "all needs at once" if book.farm.confidence_of == "all" else "each need by itself"
        out.print(f"{', '.join(f'{pct:g}' for pct in levels)} % sure: how much dearer the ration gets, {of} being met.")
    for total in farm_totals(book, rations):
        named = ", ".join(total.left_out) if len(total.left_out) <= 3 else f"{len(total.left_out)} groups"
        left = f" (without {named}: no ration here)" if total.left_out else ""
        out.print(
            f"All groups{' from ' + total.bin if total.bin else ''}: {units.bulk(total.tonnes)} of feed, "
            f"{money(total.cost, currency)}, {percent(total.home_grown_share, 1)} % home-grown{left}."
        )


def _dearer(cost: float | None, ration: Ration) -> str:
    """How much more than the ration shown a cost by its objective is."""
    own = ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne
    if own is None:
        return ""
    return "no mix" if cost is None else f"{100 * (cost / own - 1):+.1f} %"


def print_missing(out: Terminal, rations: Sequence[Ration], missing: Sequence[MissingOffer | None], book: Book) -> None:
    """What nobody offers and would save most: each feed once, with the rations it would make cheaper."""
    units = units_of(book.farm)
    by_feed: dict[str, list[tuple[Ration, MissingOffer]]] = {}
    for ration, offer in zip(rations, missing, strict=False):
        if offer:
            by_feed.setdefault(offer.label, []).append((ration, offer))
    if by_feed:
        out.print("What is not on offer and would save most, at list prices", strong=True)
    for label, told in by_feed.items():
        first = told[0][1]
        out.print(f"- {label} at {units.price(first.price)} {units.currency} per {units.word} ({first.priced_by}):")
        for ration, offer in told:
            of = f"{ration.stage}{' from ' + ration.bin if ration.bin else ''}"
            out.print(
                f"  {of}: {units.price(offer.cost_with)} instead of {units.price(offer.cost)} "
                f"({100 * (offer.cost_with / offer.cost - 1):+.1f} %), with {percent(offer.share, 1)} % of it. "
                f"What drives the cost today: {offer.driver[0].lower()}{offer.driver[1:]}."
            )
