"""Where each figure of a candidate comes from, and how it was obtained."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rationlp.bins import FOREIGN_MATTER
from rationlp.errors import given
from rationlp.farm import Farm
from rationlp.feeds.candidates import Candidate
from rationlp.figures import nutrient_label
from rationlp.finder import listed
from rationlp.library.derive import depends_on
from rationlp.library.read import Library

FIRMEST_FIRST = ("own", "assay", "page", "dataset", "computed", "common practice", "memory", "analogy", "")


@dataclass(frozen=True, slots=True)
class FigureSource:
    """`how` is the weakest of everything the figure rests on; `note` says what it was made of."""

    source: str
    how: str
    note: str = ""


def figure_source(candidate: Candidate, nutrient: str, farm: Farm) -> FigureSource:
    """The source of one figure of a bin or an offer."""
    if candidate.estimate is not None:
        return _of_bin(candidate, nutrient, farm)
    return feed_figure_source(candidate.feed, nutrient, farm)


def feed_figure_source(feed: str, nutrient: str, farm: Farm) -> FigureSource:
    """The source of one figure of a feed: the farm's own, the library's, or what it is derived from."""
    found = _stored(feed, nutrient, farm)
    if found is not None:
        return found
    parts = sorted(depends_on(nutrient, farm.library.nutrients) - {nutrient})
    rests_on = [part for name in parts if (part := _stored(feed, name, farm)) is not None]
    known = farm.library.nutrients.get(nutrient)
    if known is None or not rests_on:
        return FigureSource("", "")
    made_of = " + ".join(known.sum_of) or f"{known.part_of} x {known.coefficient} / 100"
    return FigureSource(_together(rests_on), weakest(part.how for part in rests_on), made_of)


def weakest(hows: Iterable[str]) -> str:
    """The least firm of several words for how a figure was obtained."""
    return max(hows, key=_rank, default="")


def _rank(how: str) -> int:
    return FIRMEST_FIRST.index(how) if how in FIRMEST_FIRST else FIRMEST_FIRST.index("memory")


def _stored(feed: str, nutrient: str, farm: Farm) -> FigureSource | None:
    for row in farm.book.own_feeds:
        if row.feed == feed and row.nutrient == nutrient:
            return FigureSource(row.source or "own_feeds of the book", "own")
    if any(row.feed == feed for row in farm.book.own_feeds):
        for change in farm.figures(feed).estimated:
            if change.nutrient == nutrient:
                table = farm.library.figures[feed][nutrient]
                moved = f"{change.old:.4g} of the table moved to {change.new:.4g} on dry matter"
                note = f"{change.equation}: {moved} by the farm's {nutrient_labels(change.because, farm.library)}"
                return FigureSource(table.source, weakest(("computed", table.how)), note)
    premix = farm.library.premix_figures.get(feed, {}).get(nutrient)
    if premix is not None:
        return FigureSource(premix.source, premix.how, premix.note)
    figure = farm.library.figures.get(feed, {}).get(nutrient)
    if figure is not None:
        return FigureSource(figure.source, figure.how, "; ".join(filter(None, (figure.equation, figure.note))))
    known = farm.library.feeds.get(feed)
    if nutrient == "dry_matter" and known is not None:
        return FigureSource(known.source, known.how)
    return None


def nutrient_labels(nutrients: Iterable[str], library: Library) -> str:
    """Nutrients by their labels, in a row."""
    return listed(nutrient_label(nutrient, library) for nutrient in nutrients)


def _of_bin(candidate: Candidate, nutrient: str, farm: Farm) -> FigureSource:
    """A bin: its samples and, where they leave room, the figures of its crops."""
    estimate = given(candidate.estimate, f"what is in {candidate.name}")
    origin = next((row.origin for row in estimate.nutrients if row.nutrient == nutrient), "library")
    samples = f"sample {', '.join(estimate.samples)}" if estimate.samples else "no sample"
    if origin == "assay":
        return FigureSource(samples, "assay", "laboratory")
    crops = [crop.crop for crop in estimate.crops if crop.crop != FOREIGN_MATTER and crop.share]
    rests_on = [feed_figure_source(crop, nutrient, farm) for crop in crops]
    words = "laboratory and the crops' figures" if origin == "both" else "the crops' figures by the shares of the bin"
    return FigureSource(f"{samples}; {_together(rests_on)}", weakest(part.how for part in rests_on), words)


def _together(found: list[FigureSource]) -> str:
    return "; ".join(dict.fromkeys(word for part in found for word in part.source.split("; ") if word))
