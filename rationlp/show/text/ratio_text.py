"""Ratios and digestible amounts of a ration for the terminal."""

from __future__ import annotations

from rationlp.book.records import Book
from rationlp.numbers import figure
from rationlp.rations.answer.model import Ration
from rationlp.show.book_units import units_of
from rationlp.show.terminal import Terminal, table


def print_ratios(out: Terminal, ration: Ration, book: Book) -> None:
    """Amino acids to lysine, lysine to energy, calcium to phosphorus, electrolytes; digestible amounts, if any."""
    units = units_of(book.farm)
    if ration.ratios:
        made = table(
            "Ratios",
            [("Ratio", "left"), ("In", "left"), ("Least", "right"), ("Most", "right"), ("Gives", "right"),
             ("Table's needs", "right"), ("Chance %", "right"), ("Binds", "left"),
             (f"{units.per_mass} a unit", "right")],
        )  # fmt: skip
        for line in ration.ratios:
            made.add_row(
                line.label, line.unit, figure(line.minimum, 3), figure(line.maximum, 3), figure(line.gives, 3),
                figure(line.table, 3), "" if line.probability is None else f"{100 * line.probability:.0f}",
                {"minimum": "least", "maximum": "most"}.get(line.binding, ""),
                figure(units.price_value(line.shadow_price), 3) if line.binding else "",
            )  # fmt: skip
        out.print(made)
        for line in ration.ratios:
            if line.binding:
                out.print(f"- {line.label}: {line.note or 'a bound of the library'}. Source: {line.source}.")
    if ration.electrolyte_balance is not None:
        out.print(f"Electrolyte balance (Na + K - Cl): {ration.electrolyte_balance:.0f} mEq/kg.")
    elif ration.mix and ration.energy:
        out.print("Electrolyte balance: not known, a feed in the mix has no figure for sodium, potassium or chloride.")
    if ration.digestible:
        made = table(
            "Digestible amino acids: the mix is rich in raw legumes, the table's needs are in total",
            [("Nutrient", "left"), ("Unit", "left"), ("Gives", "right"), ("Published", "right"), ("", "left"),
             ("Source", "left")],
        )  # fmt: skip
        for line in ration.digestible:
            made.add_row(
                line.label, line.unit, figure(line.gives, 3), figure(line.figure, 3) or "none known",
                "BELOW" if line.meets is False else "", line.source,
            )  # fmt: skip
        out.print(made)
