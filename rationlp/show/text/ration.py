"""Rations for the terminal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.finder import listed
from rationlp.library import Library
from rationlp.library.cited import cited
from rationlp.numbers import figure, money, percent
from rationlp.rations.answer.model import LimitLine, MixLine, PriceOf, RatioLine, Ration, RequirementLine, Side
from rationlp.rations.solve.model import PER_TONNE, Confidence, MarginCost, Remedy
from rationlp.show.terminal import Terminal, console, table
from rationlp.show.text.overview import print_glance, print_missing
from rationlp.show.text.verdict import print_reasons

if TYPE_CHECKING:
    from rationlp.rations.studies.missing_offer import MissingOffer

GROUP_WORDS = {
    "cereal": "grain",
    "pulse": "beans or peas",
    "oilseed": "oil seed",
    "protein_meal": "protein meal",
    "grain_byproduct": "milling product",
    "forage_meal": "forage meal",
    "animal_protein": "animal protein",
    "fat": "fat",
    "mineral": "mineral",
    "amino_acid": "amino acid",
    "additive": "additive",
}
MOST_REMEDIES = 8
BINDS = {Side.MINIMUM: "minimum", Side.MAXIMUM: "maximum"}


def print_rations(
    rations: Sequence[Ration],
    farm: Farm,
    prices: Sequence[Sequence[tuple[float, float | None]]] = (),
    missing: Sequence[MissingOffer | None] = (),
) -> None:
    """All rations at a glance, then each one, then the cautions.

    `prices` and `missing` go with the rations one by one: what each confidence costs by the objective (percent, cost
    or None where it cannot be had), and the feed that nobody offers and that would save most.
    """
    out, book, library = console(), farm.book, farm.library
    print_glance(out, rations, book, prices)
    print_missing(out, rations, missing, book)
    for ration in rations:
        _print_ration(out, ration, book, library)
    out.print()
    out.print("Cautions", strong=True)
    for caution in dict.fromkeys(caution for ration in rations for caution in ration.cautions):
        out.print(f"- {caution}")


def _print_ration(out: Terminal, ration: Ration, book: Book, library: Library) -> None:
    out.print()
    out.rule(f"{ration.stage_label} ({ration.stage}){' from ' + ration.bin if ration.bin else ''}")
    out.print(f"{ration.verdict.headline}. {_cost_line(ration, book)}")
    out.print(REVIEW, strong=True)
    print_reasons(out, ration.verdict, library)
    for sentence in ration.warnings:
        out.print(f"! {sentence}", strong=True)
    _print_nearest(out, ration)
    if ration.confidence:
        out.print(_confidence(ration.confidence, book))
    if ration.margin:
        out.print(_margin(ration.margin, book))
    _print_mix(out, ration, book)
    _print_requirements(out, ration, book, library)
    print_ratios(out, ration, book, library)
    _print_limits(out, ration, book)
    for note in ration.notes:
        out.print(f"- {note}")


def _print_nearest(out: Terminal, ration: Ration) -> None:
    """What the nearest mix misses, what stands in the way, and what would mend it."""
    if ration.conflict:
        together = "These requirements conflict; without any one of them the rest could be met"
        alone = "This alone cannot be had from what is on offer"
        out.print(f"{alone if len(ration.conflict) == 1 else together}: {'; '.join(ration.conflict)}.")
    if ration.remedies:
        out.print(_kinds(ration.remedies))
        for remedy in ration.remedies[:MOST_REMEDIES]:
            out.print(f"- {_remedy(remedy)}")


def _kinds(remedies: Sequence[Remedy]) -> str:
    """What kind of feed would mend a ration, best first."""
    whole = list(dict.fromkeys(GROUP_WORDS.get(r.group, r.group) for r in remedies if r.share is not None))
    if whole:
        return f"What would fix it, not on offer today: {', '.join(whole[:4])}. Best first:"
    return "No single feed fixes it. Most helpful, best first:"


def _remedy(remedy: Remedy) -> str:
    worth = ""
    if remedy.worth and remedy.shortfall_before:
        tenth = 100 * remedy.worth / remedy.shortfall_before / 10
        worth = f"; the first 0.1 % of it closes {figure(tenth, 2)} % of the shortfall"
    if remedy.share is not None:
        return f"{remedy.label}: meets every requirement at {percent(remedy.share, 1)} % of the mix or more{worth}."
    if not remedy.shortfall_before:
        return f"{remedy.label}: in part."
    mended = 100 * (1 - remedy.shortfall_after / remedy.shortfall_before)
    return f"{remedy.label}: closes at most {mended:.0f} % of the shortfall{worth}."


def _margin(margin: MarginCost, book: Book) -> str:
    units = units_of(book.farm)
    cost_of = _money_by(margin.unit, units)
    start = f"The margin of {margin.margin_pct:g} % on amino acid minima"
    if margin.cost_without is None:
        return f"{start}: what it costs is not known."
    return (
        f"{start} costs {cost_of(margin.cost - margin.cost_without)} {_per(margin.unit, units)} "
        f"({cost_of(margin.cost)} against {cost_of(margin.cost_without)} without it)."
    )


def _confidence(confidence: Confidence, book: Book) -> str:
    units = units_of(book.farm)
    cost_of, per = _money_by(confidence.unit, units), _per(confidence.unit, units)
    if confidence.of_all:
        return (
            f"All requirements at once with a chance of {confidence.attained_pct:.4g} %: "
            f"{cost_of(confidence.cost)} {per}, "
            f"{cost_of(confidence.cost - confidence.cost_of_averages)} more than plain averages."
        )
    text = (
        f"Confidence {confidence.attained_pct:.4g} % for every requirement: {cost_of(confidence.cost)} "
        f"{per}, {cost_of(confidence.cost - confidence.cost_of_averages)} more than plain averages "
        "(50 %). "
    )
    if confidence.cost_of_fixed_margins is None:
        return text + "A conventional safety margin on every feed could not be met at all."
    extra = cost_of(confidence.cost_of_fixed_margins - confidence.cost_of_averages)
    return text + (
        f"A conventional safety margin on every feed, at the same confidence, would cost {extra} more than averages."
    )


def _money_by(unit: str, units: BookUnits) -> Callable[[float], str]:
    """How money by the objective is written: per Gcal as it is, per tonne for the mass the book's prices are for."""
    if unit == PER_TONNE:
        return lambda cost: units.price(cost, units.currency)
    return lambda cost: money(cost, units.currency)


def _per(unit: str, units: BookUnits) -> str:
    return f"per {units.word}" if unit == PER_TONNE else unit


def _cost_line(ration: Ration, book: Book) -> str:
    if ration.cost_per_tonne is None:
        return ""
    units = units_of(book.farm)
    words = {"per_tonne": f"least cost per {units.word}", "per_energy": "least cost per unit of energy"}
    parts = [f"{units.price(ration.cost_per_tonne, book.farm.currency)} per {units.word}"]
    if ration.cost_per_gcal is not None:
        parts.append(
            f"{money(ration.cost_per_gcal, book.farm.currency)} per Gcal at {figure(ration.energy_kcal_kg)} kcal/kg"
        )
    return f"{', '.join(parts)} ({words[ration.objective]})."


def _print_mix(out: Terminal, ration: Ration, book: Book) -> None:
    if not ration.mix:
        return
    units = units_of(book.farm)
    made = table(
        "Mix, as fed",
        [
            ("Feed", "left"),
            ("Offer", "left"),
            ("%", "right"),
            (units.per_mass, "right"),
            (f"{units.currency} in a {units.word}", "right"),
        ],
    )
    for line in ration.mix:
        if line.share:
            made.add_row(
                line.label,
                line.offer,
                percent(line.share, 3),
                units.price(line.price_per_tonne),
                units.price(line.share * line.price_per_tonne),
            )
    out.print(made)
    idle = [line for line in ration.mix if not line.share and line.reduced_cost > 0]
    if idle:
        words = listed(f"{line.label} ({_enters(line, units)})" for line in idle)
        out.print(f"Not in the mix at today's price: {words}.")


def _enters(line: MixLine, units: BookUnits) -> str:
    """At what price a feed would come into the mix."""
    return "not at any price" if line.enters_at is None else f"must fall by {units.price(line.reduced_cost)}"


def _price_head(ration: Ration, units: BookUnits) -> str:
    """What the price of a bound is of: the tonne, or the Gcal where the cheapest energy was sought."""
    return f"{units.currency}/Gcal" if ration.objective == "per_energy" else units.per_mass


def _bound_price(line: RequirementLine | RatioLine | LimitLine, units: BookUnits) -> float | None:
    """The price of a bound as the book speaks of money."""
    return line.shadow_price if line.shadow_price_of == PriceOf.GCAL else units.price_value(line.shadow_price)


def _print_requirements(out: Terminal, ration: Ration, book: Book, library: Library) -> None:
    units = units_of(book.farm)
    made = table(
        "Requirements against what the mix gives, as fed",
        [
            ("Nutrient", "left"),
            ("Unit", "left"),
            ("Minimum", "right"),
            ("Maximum", "right"),
            ("Supplies", "right"),
            ("±", "right"),
            ("Chance %", "right"),
            ("Binds", "left"),
            (f"{_price_head(ration, units)} a unit", "right"),
            ("Calculated", "left"),
        ],
    )
    for line in ration.requirements:
        made.add_row(
            line.label,
            line.unit,
            figure(line.minimum),
            figure(line.maximum),
            _gives(line),
            figure(line.sd, 2) if line.sd else "",
            "" if line.probability is None else f"{100 * line.probability:.0f}",
            _binds(line),
            figure(_bound_price(line, units), 3) if line.binding else "",
            "premix" if line.met_by == "premix" else _calculated(line.basis),
        )
    out.print(made)
    out.print(
        "Calculated: 'energy' follows the energy of this mix, 'fixed' is a share of the feed whatever its energy. ± "
        "and chance are of what the mix supplies, from how variable the bin and the feeds are."
    )
    for line in ration.requirements:
        if line.binding == "maximum":
            why = f" ({line.note})" if line.note else ""
            out.print(
                f"- {line.label} is at its maximum, {figure(line.maximum)} {line.unit}{why}. "
                f"Source: {cited(line.source, library.sources)}."
            )


def _calculated(basis: str) -> str:
    return basis.replace("with energy", "energy").replace("per kg", "fixed")


def _gives(line: RequirementLine) -> str:
    if line.gives is None:
        return "not known"
    text = figure(line.gives)
    if line.meets is not False:
        return text
    return f"{text} {'OVER' if line.maximum is not None and line.gives > line.maximum else 'SHORT'}"


def _binds(line: RequirementLine | RatioLine) -> str:
    return BINDS[line.binding] if line.binding else ""


def _print_limits(out: Terminal, ration: Ration, book: Book) -> None:
    used = [line for line in ration.limits if line.gives_pct > 1e-6 or line.binding]
    if not used:
        return
    units = units_of(book.farm)
    made = table(
        "Caps on feeds and crops in this mix (the crop inside the bin counts)",
        [
            ("Feed or crop", "left"),
            ("Supplies %", "right"),
            ("Maximum %", "right"),
            ("Minimum %", "right"),
            ("Binds", "left"),
            (f"Costs {_price_head(ration, units)} a %", "right"),
            ("Reason", "left"),
            ("Source", "left"),
        ],
    )
    for line in used:
        made.add_row(
            line.label,
            figure(line.gives_pct, 3),
            figure(line.max_pct, 3),
            figure(line.min_pct, 3),
            "binds" if line.binding else "",
            figure(abs(_bound_price(line, units) or 0.0), 3) if line.binding else "",
            f"{'SAFETY: ' if line.safety else ''}{line.reason}",
            line.source,
        )
    out.print(made)


def print_ratios(out: Terminal, ration: Ration, book: Book, library: Library) -> None:
    """Amino acids to lysine, lysine to energy, calcium to phosphorus, electrolytes; digestible amounts, if any."""
    units = units_of(book.farm)
    if ration.ratios:
        made = table(
            "Ratios",
            [
                ("Ratio", "left"),
                ("In", "left"),
                ("Minimum", "right"),
                ("Maximum", "right"),
                ("Supplies", "right"),
                ("Table's needs", "right"),
                ("Chance %", "right"),
                ("Binds", "left"),
                (f"{_price_head(ration, units)} a unit", "right"),
            ],
        )
        for line in ration.ratios:
            made.add_row(
                line.label,
                line.unit,
                figure(line.minimum, 3),
                figure(line.maximum, 3),
                figure(line.gives, 3),
                figure(line.table, 3),
                "" if line.probability is None else f"{100 * line.probability:.0f}",
                _binds(line),
                figure(_bound_price(line, units), 3) if line.binding else "",
            )
        out.print(made)
        for line in ration.ratios:
            if line.binding:
                out.print(
                    f"- {line.label}: {line.note or 'a bound of the library'}. "
                    f"Source: {cited(line.source, library.sources)}."
                )
    if ration.electrolyte_balance is not None:
        out.print(f"Electrolyte balance (Na + K - Cl): {ration.electrolyte_balance:.0f} mEq/kg.")
    elif ration.mix and ration.energy:
        out.print("Electrolyte balance: not known, a feed in the mix has no figure for sodium, potassium or chloride.")
    if ration.digestible:
        made = table(
            "Digestible amino acids: the mix is rich in raw legumes, the table's needs are in total",
            [
                ("Nutrient", "left"),
                ("Unit", "left"),
                ("Supplies", "right"),
                ("Published", "right"),
                ("Short", "left"),
                ("Source", "left"),
            ],
        )
        for acid in ration.digestible:
            made.add_row(
                acid.label,
                acid.unit,
                figure(acid.gives, 3),
                figure(acid.figure, 3) or "none known",
                "BELOW" if acid.meets is False else "",
                acid.source,
            )
        out.print(made)
