"""Offers for the terminal."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.book.columns import ENERGIES
from rationlp.book.records import Book
from rationlp.book_units import BookUnits, units_of
from rationlp.cautions import REVIEW
from rationlp.errors import given
from rationlp.library import Library
from rationlp.numbers import figure, largest_first, money, percent
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.model import Comparison, EqualMixes, OfferWorth, Purchase, WhatIf
from rationlp.offers.purchases import over_stock
from rationlp.offers.study import Study
from rationlp.rations.answer.model import Ration
from rationlp.rations.answer.words import told_conflict
from rationlp.reasons import Severity
from rationlp.show.terminal import Terminal, console, table
from rationlp.show.text.sweep import print_risks, print_sweeps, undecided_words
from rationlp.show.text.verdict import print_grouped, print_reasons

ANY = "any"
NEAR = 8
"""So many offers that are out are named, the nearest to coming in first."""


def print_study(study: Study, book: Book, library: Library) -> None:
    """What was asked for, the farm first, then ration by ration."""
    out = console()
    for case in study.unmet:
        print_unmet(out, case, library)
    asked = [case.ration for case in study.rations if case.ration.verdict.severity is Severity.ASK]
    _print_asked(out, asked)
    if study.worths:
        _print_farm(out, study, book)
    for comparison in study.comparisons:
        print_comparison(out, comparison, book)
    _print_what_ifs(out, study.what_ifs, book)
    _print_grain(out, study, book)
    print_risks(out, study, book)
    print_sweeps(out, study.sweeps, book)
    for sentence in undecided_words(study.sweeps, book):
        out.print(sentence)
    if study.worths and not study.sweeps:
        for case, lines in zip(study.rations, study.worths, strict=True):
            _print_case(out, case, lines, study.equals, book)
    print_grouped(out, [(ration.name, ration.verdict) for ration in asked], library, least=Severity.ASK)
    out.print(REVIEW, strong=True)


def nothing_said(case: LiveRation) -> str:
    """Behind the verdict of a ration: that nothing can be said of its offers, and why."""
    if case.priced is not None:
        return ""
    unmet = "" if case.ration.verdict.severity is Severity.STOP else "no mix of what is on offer meets everything"
    why = case.failure.rstrip(".") or unmet
    return f"; nothing can be said of its offers{f': {why}' if why else ''}"


def print_unmet(out: Terminal, case: LiveRation, library: Library) -> None:
    """Why a ration must not be fed, or nothing can be said of its offers."""
    ration = case.ration
    named = f"{ration.stage_label} ({ration.stage}) {ration.bin}"
    out.print(f"! {named}: {ration.verdict.headline}{nothing_said(case)}.", strong=True)
    print_reasons(out, ration.verdict, library)
    if ration.conflict:
        out.print(f"- {told_conflict(ration.conflict)}")


def _print_asked(out: Terminal, asked: Sequence[Ration]) -> None:
    """The rations about which a nutritionist must be asked first, before any money is spoken of."""
    names: dict[str, list[str]] = {}
    for ration in asked:
        names.setdefault(ration.verdict.headline, []).append(ration.name)
    for headline, said_of in names.items():
        out.print(f"{headline}: {', '.join(said_of)}.", strong=True)


# The farm -------------------------------------------------------------------------------------------------------


def _print_farm(out: Terminal, study: Study, book: Book) -> None:
    for name in dict.fromkeys(purchase.bin for purchase in study.purchases):
        rows = [purchase for purchase in study.purchases if purchase.bin == name]
        units = units_of(book.farm)
        made = table(
            f"{_groups(study)}{f' from {name}' if name else ''}: what to buy, and what each offer is worth",
            [
                ("Offer", "left"),
                (units.per_mass, "right"),
                ("To buy", "right"),
                ("Packages", "right"),
                (f"{units.currency} a year without it", "right"),
                ("Mixes stay from", "right"),
                ("to", "right"),
                ("Second best", "left"),
            ],
        )
        for purchase in rows:
            if purchase.tonnes:
                made.add_row(
                    purchase.offer,
                    units.price(purchase.price),
                    units.amount(purchase.tonnes),
                    str(purchase.packages or ""),
                    "no ration" if purchase.needed_by else f"+{money(purchase.at_stake)}",
                    _floor(purchase.stays_from, units),
                    _ceiling(purchase.stays_to, units),
                    _second(purchase, units),
                )
        out.print(made)
        for purchase in rows:
            if over_stock(purchase):
                stock = units.amount(given(purchase.stock_tonnes, f"the stock of {purchase.offer}"))
                out.print(
                    f"! {purchase.offer}: {units.amount(purchase.tonnes)} wanted, {stock} to be had.", strong=True
                )
        idle = sorted((s for s in rows if not s.tonnes and _may_enter(s)), key=_to_fall)
        if idle:
            words = [
                f"{s.offer} below {units.price(s.enters_below)} instead of {units.price(s.price)} ({s.enters_in})"
                for s in idle
            ]
            out.print(f"In no mix; comes in: {'; '.join(words)}.")
        out.print()


def _groups(study: Study) -> str:
    return "All groups" if study.whole else "The groups of these stages"


def _may_enter(purchase: Purchase) -> bool:
    return purchase.enters_below is not None and purchase.enters_below > 0


def _to_fall(line: Purchase | OfferWorth) -> float:
    """By how much its price must fall for it to come in."""
    return line.price - given(line.enters_below, f"the price at which {line.offer} comes in")


def _second(purchase: Purchase, units: BookUnits) -> str:
    if purchase.needed_by:
        return f"none for {', '.join(purchase.needed_by[:2])}" + (" ..." if len(purchase.needed_by) > 2 else "")
    return ", ".join(f"{name} +{units.bulk(tonnes, 2)}" for name, tonnes in purchase.second_best)


def _floor(price: float | None, units: BookUnits) -> str:
    """The lower end of a range: no price is below nothing."""
    return ANY if price is None or price <= 0 else units.price(price)


def _ceiling(price: float | None, units: BookUnits) -> str:
    return ANY if price is None else units.price(price)


# Quotes, feeds not on offer, grain ------------------------------------------------------------------------------


def print_comparison(out: Terminal, comparison: Comparison, book: Book) -> None:
    """Quotes for one feed side by side."""
    units = units_of(book.farm)
    brought = list(dict.fromkeys(unit for quote in comparison.quotes for unit in quote.per_unit))
    made = table(
        f"Quotes for {comparison.feed}: {units.currency} per {units.word}, and per unit of what they bring",
        [
            ("Offer", "left"),
            (units.per_mass, "right"),
            ("Freight", "right"),
            (f"Bag {units.mass}", "right"),
            ("Organic", "left"),
            ("Protein %", "right"),
            *((_per(unit, units), "right") for unit in brought),
            ("Used below", "right"),
            ("In", "right"),
        ],
    )
    for q in comparison.quotes:
        low, high = q.worth_low, q.worth_high
        below = "" if low is None or high is None else f"{units.price_value(low):,.0f} - {units.price_value(high):,.0f}"
        made.add_row(
            q.offer,
            units.price(q.price),
            units.price(q.freight) if q.freight else "",
            f"{q.package_kg / units.mass_kg:g}" if q.package_kg else "bulk",
            {None: "", True: "yes", False: "no"}[q.organic],
            figure(q.crude_protein_pct, 3),
            *(figure(_brought(q.per_unit.get(unit), unit, units), 3) for unit in brought),
            below,
            f"{q.used_in} of {q.rations}",
        )
    out.print(made)
    out.print(comparison.verdict)
    out.print()


def _brought(price: float | None, unit: str, units: BookUnits) -> float | None:
    """Money per kilogram as money for the book's mass; per Mcal as it is."""
    return price if price is None or unit in ENERGIES else price * units.mass_kg


def _per(unit: str, units: BookUnits) -> str:
    known = {
        "crude_protein": f"{units.mass} protein",
        "sid_lysine_pig": f"{units.mass} lysine, pig",
        "sid_lysine_poultry": f"{units.mass} lysine, bird",
        "ne_pig": "Mcal NE",
        "me_pig": "Mcal ME",
        "de_pig": "Mcal DE",
        "amen_poultry": "Mcal AMEn",
    }
    return known.get(unit, unit.replace("_", " "))


def _print_what_ifs(out: Terminal, lines: Sequence[WhatIf], book: Book) -> None:
    if not lines:
        return
    units = units_of(book.farm)
    made = table(
        "Feeds that nobody quotes: what they would be worth",
        [
            ("Feed", "left"),
            ("Stage", "left"),
            ("Bin", "left"),
            (f"Bought below, {units.per_mass}", "right"),
            ("Then %", "right"),
            ("In place of", "left"),
        ],
    )
    for line in lines:
        below = units.price(line.enters_below)
        made.add_row(
            line.label, line.stage, line.bin, below, percent(line.share, 1), line.note or ", ".join(line.displaces)
        )
    out.print(made)


def _print_grain(out: Terminal, study: Study, book: Book) -> None:
    if not study.grain:
        return
    units = units_of(book.farm)
    made = table(
        f"Bin grain as feed against its sale value, {units.per_mass}",
        [
            ("Bin", "left"),
            ("Stage", "left"),
            ("% of the mix", "right"),
            ("Sold", "right"),
            ("As feed", "right"),
            ("Mix holds less above", "right"),
            ("Feed or sell", "left"),
        ],
    )
    for line in study.grain:
        made.add_row(
            line.bin,
            line.stage,
            percent(line.share, 1),
            units.price(line.sale_price),
            units.price(line.worth),
            _ceiling(line.leaves_at, units) if line.share else "",
            line.verdict,
        )
    out.print(made)
    for plan in study.plans:
        has = "" if plan.tonnes is None else f" ({units.amount(plan.tonnes)})"
        out.print(f"Bin {plan.bin}{has}: {plan.verdict}", strong=True)
    out.print()


# Ration by ration -----------------------------------------------------------------------------------------------


def _print_case(
    out: Terminal, case: LiveRation, lines: Sequence[OfferWorth], equals: Sequence[EqualMixes], book: Book
) -> None:
    if not lines:
        return
    ration, units = case.ration, units_of(book.farm)
    out.rule(
        f"{ration.stage_label} ({ration.stage}){' from ' + ration.bin if ration.bin else ''}: "
        f"{units.price(ration.cost_per_tonne, units.currency)} per {units.word}"
    )
    out.print(f"{ration.verdict.headline}.", strong=True)
    made = table(
        "Offers in the mix",
        [
            ("Offer", "left"),
            ("%", "right"),
            (units.per_mass, "right"),
            ("Mix stays from", "right"),
            ("to", "right"),
            ("then more of", "left"),
            ("Leaves at", "right"),
            ("Cost without", "right"),
            ("Saves", "right"),
            (f"Worth a {units.short}", "right"),
        ],
    )
    for line in sorted((line for line in lines if line.in_mix), key=lambda line: largest_first(line.share)):
        made.add_row(
            line.offer,
            percent(line.share, 3),
            units.price(line.price),
            _floor(line.mix_stays_from, units),
            _ceiling(line.mix_stays_to, units),
            ", ".join(line.gives_way_to),
            _ceiling(line.enters_below, units),
            "no ration" if line.indispensable else units.price(line.cost_without),
            units.price(line.saves_per_tonne),
            units.price(line.worth_used),
        )
    out.print(made)
    if case.regret:
        out.print(
            "With a confidence the best mix moves a little with every price: it stays where it costs the same "
            "within 0.01 %."
        )
    idle = sorted((w for w in lines if not w.in_mix and (w.enters_below or 0) > 0), key=_to_fall)
    if idle:
        words = [f"{w.offer} below {units.price(w.enters_below)} (now {units.price(w.price)})" for w in idle[:NEAR]]
        more = f"; {len(idle) - NEAR} more" if len(idle) > NEAR else ""
        out.print(f"Not in the mix, comes in: {'; '.join(words)}{more}.")
    for equal in equals:
        if (equal.stage, equal.bin) == (ration.stage, ration.bin):
            out.print(_equal(equal))


def _equal(equal: EqualMixes) -> str:
    spans = [f"{name} {percent(low, 1)} to {percent(high, 1)} %" for name, low, _, high in equal.spans[:5]]
    text = f"Several mixes cost the same within {100 * equal.tolerance:g} %: {', '.join(spans)}."
    if equal.nearest:
        mix = ", ".join(f"{name} {percent(share, 2)}" for name, share in equal.nearest)
        text += f" Nearest the last mix ({equal.last_mix}), and to be preferred: {mix}."
    return text
