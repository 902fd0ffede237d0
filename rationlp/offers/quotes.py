"""Quotes for one feed side by side, per unit of what they bring and by what they are worth here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rationlp.book.lookup import offers_named
from rationlp.book.records import Offer, Settings
from rationlp.errors import Problem, RequestError
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate, offer_candidates
from rationlp.figures import feed_label
from rationlp.library.read import Library
from rationlp.offers.live_ration import LiveRation
from rationlp.offers.model import Comparison, OfferWorth, Quote, price_a, price_words

KG_PER_TONNE = 1000.0
PROTEIN = "crude_protein"
PIG_LYSINE, POULTRY_LYSINE = "sid_lysine_pig", "sid_lysine_poultry"


def comparisons(
    cases: Sequence[LiveRation], worths: Sequence[Sequence[OfferWorth]], farm: Farm, named: Sequence[str] = ()
) -> list[Comparison]:
    """Offers for one and the same feed, compared; with `named` also these offers with each other.

    Raises RequestError for a name that is no offer, or for one name alone.
    """
    known = {offer.offer: offer for offer in farm.book.supplements}
    named = offers_named(named, farm.book, "compare")
    if len(named) == 1:
        found, expected = f"{named[0]!r} alone", "two offers or more"
        raise RequestError([Problem("error", "compare", "", found, expected, "Name another.")])
    by_feed: dict[str, list[Offer]] = {}
    for offer in farm.book.supplements:
        by_feed.setdefault(offer.feed, []).append(offer)
    sets = [(feed_label(feed, farm.library), offers) for feed, offers in by_feed.items() if len(offers) > 1]
    if named:
        sets.insert(0, ("the offers named", [known[name] for name in named]))
    candidates = {candidate.name: candidate for candidate in offer_candidates(farm.book, farm.library)}
    return [_comparison(title, offers, candidates, cases, worths, farm) for title, offers in sets]


def _comparison(
    title: str,
    offers: Sequence[Offer],
    candidates: Mapping[str, Candidate],
    cases: Sequence[LiveRation],
    worths: Sequence[Sequence[OfferWorth]],
    farm: Farm,
) -> Comparison:
    units = _units(cases, farm.library)
    quotes = [
        _quote(
            offer,
            candidates[offer.offer],
            units,
            [w for lines in worths for w in lines if w.offer == offer.offer],
            farm.library,
        )
        for offer in offers
    ]
    quotes.sort(key=lambda quote: (-quote.used_in, _dearness(quote)))
    return Comparison(title, tuple(quotes), _verdict(quotes, farm.settings))


def _units(cases: Sequence[LiveRation], library: Library) -> list[str]:
    """What quotes are compared by: protein, and the digestible lysine and the energy of the animals at hand."""
    stages = [case.formula.stage for case in cases]
    lysine = [PIG_LYSINE if s.known.species == "swine" else POULTRY_LYSINE for s in stages if s.known]
    found = [PROTEIN, *lysine, *(stage.energy for stage in stages if stage.energy)]
    return [nutrient for nutrient in dict.fromkeys(found) if nutrient in library.nutrients]


def _quote(
    offer: Offer, candidate: Candidate, units: Sequence[str], lines: Sequence[OfferWorth], library: Library
) -> Quote:
    prices = [line.enters_below for line in lines if line.enters_below is not None]
    return Quote(
        offer=offer.offer,
        feed=offer.feed,
        label=candidate.label,
        supplier=offer.supplier,
        price=offer.price_per_tonne,
        freight=offer.freight_per_tonne,
        package_kg=offer.package_kg,
        organic=offer.organic,
        dry_matter_pct=candidate.values.get("dry_matter"),
        crude_protein_pct=candidate.values.get(PROTEIN),
        per_unit={
            unit: offer.price_per_tonne / brought for unit in units if (brought := _brought(candidate, unit, library))
        },
        worth_low=min(prices, default=None),
        worth_high=max(prices, default=None),
        used_in=sum(line.in_mix for line in lines),
        rations=len(lines),
    )


def _brought(candidate: Candidate, nutrient: str, library: Library) -> float:
    """Kilograms of a nutrient in a tonne as fed; Mcal of an energy (kcal/kg is Mcal/t)."""
    value = candidate.values.get(nutrient, 0.0)
    return value if library.nutrients[nutrient].unit == "kcal/kg" else value / 100 * KG_PER_TONNE


def _dearness(quote: Quote) -> float:
    """Price over the price at which it would be used; a quote that is never used comes last."""
    return quote.price / quote.worth_high if quote.worth_high and quote.worth_high > 0 else float("inf")


def _verdict(quotes: Sequence[Quote], farm: Settings) -> str:
    best, *others = quotes
    if not any(quote.rations for quote in quotes):
        return "None of them goes into any of these rations."
    if not best.used_in:
        near = [(quote.worth_high, quote) for quote in quotes if quote.worth_high is not None]
        if not near:
            return "None of them goes into any of these rations at any price."
        worth, first = max(near, key=lambda pair: pair[0] - pair[1].price)
        below, under = price_words(worth, farm), price_a(first.price - worth, farm)
        return f"None of them is in a mix today. {first.offer} is nearest: below {below}, {under} under its price."
    told = [f"{best.offer} is the best buy"]
    for other in others:
        if other.used_in:
            told.append(f"{other.offer} is in the mix as well in {other.used_in} of {other.rations} rations")
        elif other.worth_high is not None:
            told.append(
                f"{other.offer} would have to cost less than {price_words(other.worth_high, farm)} instead of "
                f"{price_words(other.price, farm)}"
            )
        else:
            told.append(f"{other.offer} goes into none of these rations")
    return "; ".join(told) + "."
