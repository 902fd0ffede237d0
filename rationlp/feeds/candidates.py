"""What may go into a ration: bins and offers with their composition as fed and the crops they carry."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import partial

from rationlp.bins import BinEstimate
from rationlp.bins.findings.far_figures import far_off_reasons
from rationlp.bins.toxins import Content
from rationlp.book.records import Book
from rationlp.errors import BookError, Problem
from rationlp.feeds.contaminants import offer_contents, own_book
from rationlp.feeds.labels import age_reasons, label_reasons
from rationlp.feeds.spread import BinSpread, LaterSpread, Spread, feed_spread
from rationlp.figures import estimate_notes, feed_figures, feed_label
from rationlp.finder import listed
from rationlp.library.read import Library
from rationlp.library.records import Stage
from rationlp.reasons import Reason

PROTEIN = "crude_protein"
AMINO_ACIDS = ("amino_acid", "digestible_amino_acid")
CRYSTALS = "amino_acid"
"""The group of the crystalline amino acids."""
PREMIX_HALVES = {"vitamin": "vitamins", "trace_mineral": "trace_minerals"}
"""The half of a premix that brings a kind of nutrient: `premix_covers` says which of them a premix has."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """One column of the ration program.

    `values` is composition as fed, `feeds` the share of each library feed it is made of (1 for an offer; the crop
    shares for a bin), so that a cap on flaxseed counts the flaxseed inside a blend. `organic` is what the book says of
    the offer, None where it says nothing; `estimate` the bin behind a candidate; `notes` how its figures were found.
    `contaminants` are what assays and certificates found in it, as fed, wherever it comes from; `reasons` count when it
    is in the mix.
    """

    name: str
    feed: str
    label: str
    group: str
    price_per_tonne: float
    values: Mapping[str, float]
    feeds: Mapping[str, float]
    home_grown: bool
    spread: Spread
    min_share: float | None = None
    max_share: float | None = None
    premix_covers: tuple[str, ...] = ()
    premix_inclusion: float | None = None  # one dose, as a share of the mix
    organic: bool | None = None
    estimate: BinEstimate | None = None
    notes: tuple[str, ...] = ()
    contaminants: Mapping[str, Content] = field(default_factory=dict)
    reasons: tuple[Reason, ...] = ()  # for the verdict on every mix it is in

    @property
    def most_premix(self) -> float | None:
        """The largest dose of a premix: what the book allows of it at most, where that is more than the stated dose."""
        dose = self.premix_inclusion
        return max(dose, self.max_share or 0.0) if dose else dose

    @property
    def is_fixed(self) -> bool:
        """Whether the book leaves no choice about its share."""
        return self.min_share is not None and self.min_share == self.max_share


def bin_candidate(estimate: BinEstimate, book: Book) -> Candidate:
    """The bin as an ingredient, at what its grain would bring if sold (0 where the book does not say)."""
    row = next(row for row in book.bins if row.bin == estimate.bin)
    return Candidate(
        name=estimate.bin,
        feed=f"bin:{estimate.bin}",
        label=estimate.label,
        group="bin",
        price_per_tonne=row.sale_price_per_tonne or 0.0,
        values=estimate.values,
        feeds=estimate.shares,
        home_grown=True,
        spread=LaterSpread(partial(BinSpread, estimate)),
        estimate=estimate,
        contaminants=estimate.contaminants,
        reasons=estimate.reasons,
    )


def offer_candidates(book: Book, library: Library) -> list[Candidate]:
    """Every offer of the book, in its order; a feed offered twice is two candidates."""
    found = []
    for offer in book.supplements:
        feed = library.feeds.get(offer.feed)
        stated = feed.premix_inclusion_pct / 100 if feed and feed.premix_inclusion_pct else None
        known = own_book(offer, book, library)
        figures = feed_figures(offer.feed, known, library)
        harm = offer_contents(offer, figures, book, library)
        assayed = any(row.nutrient == PROTEIN for row in known.own_feeds if row not in book.own_feeds)
        fixed = offer.min_share if offer.min_share is not None and offer.min_share == offer.max_share else None
        found.append(
            Candidate(
                name=offer.offer,
                feed=offer.feed,
                label=offer.label or feed_label(offer.feed, library),
                group=feed.group if feed else "own",
                price_per_tonne=offer.price_per_tonne,
                values=with_protein(figures.values, None if assayed else offer.protein_pct, library),
                feeds={offer.feed: 1.0},
                home_grown=offer.home_grown,
                spread=LaterSpread(partial(feed_spread, figures, known, library)),
                min_share=offer.min_share,
                max_share=offer.max_share,
                premix_covers=feed.premix_covers if feed else (),
                premix_inclusion=fixed or stated,
                organic=offer.organic,
                notes=estimate_notes(figures, library),
                contaminants=harm.by_nutrient,
                reasons=(
                    *harm.reasons,
                    *label_reasons(offer, book, library),
                    *age_reasons(offer, offer.label or feed_label(offer.feed, library), book, library),
                    *far_off_reasons(offer.feed, offer.offer, book, library),
                ),
            )
        )
    return found


def with_protein(values: Mapping[str, float], protein_pct: float | None, library: Library) -> Mapping[str, float]:
    """`values` as fed with the crude protein that a supplier states, and every amino acid in proportion to it.

    Energy and the rest stay as they are. Without a stated protein, or without one to compare it with, nothing changes.
    """
    usual = values.get(PROTEIN)
    if protein_pct is None or not usual:
        return values
    acids = {n.nutrient for n in library.nutrients.values() if n.kind in AMINO_ACIDS}
    factor = protein_pct / usual
    moved = {nutrient: value * factor for nutrient, value in values.items() if nutrient in acids}
    return {**values, **moved, PROTEIN: protein_pct}


def suited(candidates: Iterable[Candidate], stage: Stage | None, library: Library) -> list[Candidate]:
    """Without the premixes that are made for other animals.

    One that the book puts into every mix stays, and counts for nothing as a premix.
    """
    if stage is None:
        return list(candidates)
    wanted, kept = set(stage.premix.split()), []
    for candidate in candidates:
        if not candidate.premix_covers or wanted & set(library.feeds[candidate.feed].premix_species):
            kept.append(candidate)
        elif candidate.min_share:
            kept.append(replace(candidate, premix_covers=()))
    return kept


def with_none(candidate: Candidate, nutrients: Iterable[str]) -> Candidate:
    """The candidate with nothing of those `nutrients` that it has no figure for: the library says it holds none."""
    absent = [nutrient for nutrient in nutrients if nutrient not in candidate.values]
    return replace(candidate, values={**candidate.values, **dict.fromkeys(absent, 0.0)}) if absent else candidate


def without_gaps(
    candidates: Iterable[Candidate],
    nutrients: Iterable[str],
    labels: Mapping[str, str],
    none_if_unknown: Collection[str] = (),
) -> tuple[list[Candidate], list[str]]:
    """The candidates that have a figure for every one of `nutrients`, and a sentence for each one left out.

    What is not known of `none_if_unknown` (vitamins) counts as none, which is the safe side of a minimum, and is said.
    Raises BookError for one that the book puts into every mix: it cannot be left out unsaid.
    """
    kept, notes = [], []
    needed = list(nutrients)
    for candidate in candidates:
        unknown = [nutrient for nutrient in needed if nutrient in none_if_unknown and nutrient not in candidate.values]
        if unknown:
            candidate = replace(candidate, values={**candidate.values, **dict.fromkeys(unknown, 0.0)})
            named = listed(labels.get(nutrient, nutrient) for nutrient in unknown)
            notes.append(f"{candidate.label}: no figure for {named}; counted as none, on the safe side.")
        gaps = [labels.get(nutrient, nutrient) for nutrient in needed if nutrient not in candidate.values]
        if gaps and candidate.min_share:
            found = f"{candidate.name} with min_pct {100 * candidate.min_share:g} and no figure for {', '.join(gaps)}"
            raise BookError(
                [
                    Problem(
                        "error",
                        "supplements",
                        "",
                        found,
                        "a figure for everything the stage asks for",
                        "Add the figure to 'own_feeds', or take min_pct away.",
                    )
                ]
            )
        if gaps:
            notes.append(f"{candidate.label} is left out: no figure for {', '.join(gaps)}.")
        else:
            kept.append(candidate)
    return kept, notes
