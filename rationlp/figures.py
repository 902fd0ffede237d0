"""A feed's figures as this farm knows them: its own before the library's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rationlp.book.records import Book, OwnFigure
from rationlp.errors import BookError, Problem
from rationlp.library.derive import with_derived
from rationlp.library.read import Library
from rationlp.units import as_fed, dry_matter_basis

if TYPE_CHECKING:
    from rationlp.library.reestimate import FigureChange


@dataclass(frozen=True, slots=True)
class FeedFigures:
    """Composition of one feed, as fed, in the units of the library; coefficients in percent of the nutrient.

    `own` are the nutrients whose figures the farm gave itself, `estimated` what followed from them by the published
    equations (on dry matter). A nutrient that is not in `values` is not known.
    """

    feed: str
    label: str
    dry_matter_pct: float | None
    values: Mapping[str, float]
    own: frozenset[str]
    estimated: tuple[FigureChange, ...] = ()


def nutrient_units(book: Book, library: Library) -> dict[str, str]:
    """The unit of every nutrient the book or the library knows."""
    units = {row.nutrient: row.unit for row in book.own_stages if row.per != "day"}
    units |= {row.nutrient: row.unit for row in book.own_feeds}
    return units | library.units


def nutrient_label(nutrient: str, library: Library) -> str:
    """The library's label, or the farm's own id in words."""
    known = library.nutrients.get(nutrient)
    return known.label if known else nutrient.replace("_", " ")


def feed_label(feed: str, library: Library) -> str:
    """The library's label, or the farm's own id in words."""
    known = library.feeds.get(feed)
    return known.label if known else feed.replace("_", " ")


def feed_figures(feed: str, book: Book, library: Library) -> FeedFigures:
    """The figures of `feed` as fed: the farm's own, what follows from them, else the library's.

    A feed nobody knows has none. Raises BookError where the farm's figures of a feed cannot be together.
    """
    own = {row.nutrient: row for row in book.own_feeds if row.feed == feed}
    dry_matter = _dry_matter(feed, book, library)
    stored: dict[str, float] = {}
    for nutrient, figure in library.figures.get(feed, {}).items():
        is_share = library.nutrients[nutrient].kind == "coefficient"
        stored[nutrient] = figure.value if is_share else as_fed(figure.value, dry_matter)
    for nutrient, figure in library.premix_figures.get(feed, {}).items():
        stored[nutrient] = figure.value
    if dry_matter is not None:
        stored["dry_matter"] = dry_matter
    estimated = _estimated(feed, own, dry_matter, library)
    for change in estimated:
        stored[change.nutrient] = as_fed(change.new, dry_matter)
    for nutrient, row in own.items():
        on_dry_matter = row.basis == "dry_matter" and nutrient != "dry_matter"
        stored[nutrient] = as_fed(row.value, dry_matter) if on_dry_matter else row.value
    values = with_derived(stored, library.nutrients)
    return FeedFigures(feed, feed_label(feed, library), dry_matter, values, frozenset(own), estimated)


def estimate_notes(figures: FeedFigures, library: Library) -> tuple[str, ...]:
    """A sentence where figures of the feed were re-estimated from the farm's own."""
    if not figures.estimated:
        return ()
    from rationlp.library.reestimate import sentence

    return (sentence(figures.label, figures.estimated, library),)


def _estimated(
    feed: str, own: Mapping[str, OwnFigure], dry_matter: float | None, library: Library
) -> tuple[FigureChange, ...]:
    """What the farm's own figures change in those it has not. Raises BookError where they cannot be together."""
    if not own or dry_matter is None:
        return ()
    from rationlp.library.equations import EquationError
    from rationlp.library.reestimate import reestimate

    on_dry_matter = {}
    for nutrient, row in own.items():
        known = library.nutrients.get(nutrient)
        if known is not None and nutrient != "dry_matter":
            as_it_is = known.kind == "coefficient" or row.basis == "dry_matter"
            on_dry_matter[nutrient] = row.value if as_it_is else dry_matter_basis(row.value, dry_matter)
    try:
        return reestimate(feed, on_dry_matter, library)
    except EquationError as error:
        place = next(iter(own.values())).place
        raise BookError(
            [
                Problem(
                    "error",
                    place.sheet or "own_feeds",
                    place.cell("value"),
                    f"{feed}: {error}",
                    "figures of one feed that can be together",
                    "Check the values, their units and their basis.",
                )
            ]
        ) from None


def _dry_matter(feed: str, book: Book, library: Library) -> float | None:
    """Dry matter of `feed` in percent as fed: the farm's figure, else the library's."""
    for row in book.own_feeds:
        if row.feed == feed and row.nutrient == "dry_matter":
            return row.value
    known = library.feeds.get(feed)
    return known.dry_matter_pct if known else None
