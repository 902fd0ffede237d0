"""One farm: its book, the feed library, and everything that follows from the two, each worked out once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date
from typing import Self

from rationlp.bins import BinEstimate, estimate_bin
from rationlp.book.lookup import bins_named, offers_named, samples_named
from rationlp.book.reading.rows import read_setting
from rationlp.book.records import Book, Flow, Offer, Place, Sample, Settings
from rationlp.errors import BookError, Problem, RequestError
from rationlp.feeds.candidates import Candidate, bin_candidate, offer_candidates
from rationlp.feeds.stock import Stock, stock_of
from rationlp.figures import FeedFigures, feed_figures
from rationlp.library.read import Library
from rationlp.stages.limits import override_problems
from rationlp.stages.needs import stage_needs, stages_of_book
from rationlp.stages.stage import StageNeeds
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE


class Farm:
    """A farm as it stands. Nothing in it changes once it is made; `with_price` and its like make another farm.

    `book` is what the farm wrote down (SI units), `library` the figures of the tables, `warnings` what `check` would
    say of the book besides errors.
    """

    def __init__(self, book: Book, library: Library, warnings: Sequence[Problem] = ()) -> None:
        self.book, self.library, self.warnings = book, library, tuple(warnings)
        self._figures: dict[str, FeedFigures] = {}
        self._bins: dict[str, BinEstimate] = {}
        self._stages: dict[str, StageNeeds] = {}
        self._grain: dict[str, Candidate] = {}
        self._offers: tuple[Candidate, ...] | None = None
        self._unoffered: dict[str, Candidate] = {}

    @property
    def settings(self) -> Settings:
        """The rows of the sheet `farm`."""
        return self.book.farm

    def figures(self, feed: str) -> FeedFigures:
        """The figures of a feed as fed: the farm's own before the library's. Raises BookError."""
        if feed not in self._figures:
            self._figures[feed] = feed_figures(feed, self.book, self.library)
        return self._figures[feed]

    def bin(self, name: str) -> BinEstimate:
        """What is in the bin `name`, by its hand sorts, assays and the library.

        Raises RequestError for a bin the book does not know, BookError for a bin that cannot be estimated.
        """
        if name not in self._bins:
            (name,) = self._known_bins([name])
        if name not in self._bins:
            self._bins[name] = estimate_bin(name, self.book, self.library)
        return self._bins[name]

    def bins(self, names: Iterable[str] = ()) -> list[BinEstimate]:
        """The bins named, by default all of the book. Raises one error with the problems of all of them."""
        found, problems = [], []
        for name in self._known_bins(names):
            try:
                found.append(self.bin(name))
            except BookError as error:
                problems += error.problems
        if problems:
            raise BookError(problems)
        return found

    def bin_groups(self, names: Iterable[str] = (), together: bool = False) -> list[tuple[str, ...]]:
        """Which bins feed one ration: each by itself, all `together`, or none where the book has none."""
        wanted = self._known_bins(names)
        if not wanted:
            return [()]
        return [tuple(wanted)] if together else [(name,) for name in wanted]

    def _known_bins(self, names: Iterable[str]) -> list[str]:
        """The names, each once, by default every bin of the book. Raises RequestError for one it does not have."""
        return bins_named(names, self.book) or [row.bin for row in self.book.bins]

    def bin_candidate(self, name: str) -> Candidate:
        """The bin `name` as something that may go into a ration, at what its grain would bring if sold."""
        if name not in self._grain:
            self._grain[name] = bin_candidate(self.bin(name), self.book)
        return self._grain[name]

    @property
    def candidates(self) -> tuple[Candidate, ...]:
        """Every offer of the book, in its order, as something that may go into a ration."""
        if self._offers is None:
            self._offers = tuple(offer_candidates(self.book, self.library))
        return self._offers

    def as_if_offered(self, feed: str) -> Candidate:
        """A feed of the library that nobody offers, as something that may go into a ration; it has no price."""
        if feed not in self._unoffered:
            offer = Offer(Place(), f"library:{feed}", feed, organic=True)
            (self._unoffered[feed],) = offer_candidates(replace(self.book, supplements=(offer,)), self.library)
        return self._unoffered[feed]

    def stock(self, name: str, flows: Iterable[Flow] | None = None) -> Stock:
        """What is left of a bin or an offer after `flows`, by default those of the farm's record. Raises BookError."""
        came_and_went = self.book.flows if flows is None else flows
        for row in (row for row in self.book.bins if row.bin == name):
            tonnes = self.bin(name).tonnes
            start = None if tonnes is None else KG_PER_TONNE * tonnes
            return stock_of(name, row.label or name, start, came_and_went, is_bin=True, since=row.filled_on)
        for offer in (offer for offer in self.book.supplements if offer.offer == name):
            label, quoted = offer.label or offer.feed, offer.quoted_on
            return stock_of(name, label, offer.stock_kg, came_and_went, quoted_on=quoted)
        return stock_of(name, name, None, came_and_went)

    def stage(self, stage: str) -> StageNeeds:
        """What the animals of a stage need: the library's rows with the farm's own in their place.

        Raises BookError for rows of the farm that cannot be used, LibraryError for a stage without its main rows.
        """
        if stage not in self._stages:
            self._stages[stage] = stage_needs(stage, self.book, self.library)
        return self._stages[stage]

    def stages(self, wanted: Iterable[str] = ()) -> list[StageNeeds]:
        """The stages named, by default those of the groups and the farm's own; `all` for every one of the library.

        Raises RequestError for a stage nobody knows, and one BookError with the problems of all of them, among these
        safety caps that the farm loosens without giving a reason.
        """
        found, problems = [], []
        present = {row.feed for row in self.book.supplements} | {row.crop for row in self.book.sorted}
        for name in stages_of_book(self.book, self.library, wanted):
            try:
                stage = self.stage(name)
            except BookError as error:
                problems += error.problems
                continue
            problems += override_problems(stage.known, name, present, self.book, self.library)
            found.append(stage)
        if problems:
            raise BookError(list(dict.fromkeys(problems)))
        return found

    # Other farms ----------------------------------------------------------------------------------

    def with_offers(self, offers: Iterable[Offer]) -> Self:
        """The farm with these offers in place of its own. Bins and stages stay as they are."""
        other = type(self)(replace(self.book, supplements=tuple(offers)), self.library, self.warnings)
        other._figures, other._bins, other._stages = self._figures, self._bins, self._stages
        other._grain, other._unoffered = self._grain, self._unoffered
        return other

    def with_price(self, offer: str, price: float) -> Self:
        """The farm with another price for an offer, or sale price for a bin's grain, in the book's unit of prices.

        The price is delivered: freight is in it. Raises RequestError.
        """
        if not isinstance(price, int | float) or not 0 <= price < float("inf"):
            raise RequestError(
                [Problem("error", "price", "", f"{price!r} for {offer}", "a price of 0 or more", "Correct it.")]
            )
        (offer,) = offers_named([offer], self.book, "price", bins=True, library=self.library)
        per_tonne = price * KG_PER_TONNE / BOOK_PRICE_MASS_KG[self.settings.units]
        if offer in (row.offer for row in self.book.supplements):
            return self.with_offers(
                replace(row, price_per_tonne=per_tonne) if row.offer == offer else row for row in self.book.supplements
            )
        bins = tuple(
            replace(row, sale_price_per_tonne=per_tonne) if row.bin == offer else row for row in self.book.bins
        )
        other = type(self)(replace(self.book, bins=bins), self.library, self.warnings)
        other._figures, other._bins, other._stages = self._figures, self._bins, self._stages
        other._offers, other._unoffered = self._offers, self._unoffered
        return other

    def with_setting(self, name: str, value: str | float) -> Self:
        """The farm with another value of a setting of the sheet `farm`, as it would be typed there.

        Raises RequestError.
        """
        settings = read_setting(name, value, self.settings)
        return type(self)(replace(self.book, farm=settings), self.library, self.warnings)

    def without_lots(self, lots: Iterable[tuple[str, date]]) -> Self:
        """The farm without these lots of animals (line, day on which they begin). All else stays as it is."""
        other = type(self)(replace(self.book, left_out=self.book.left_out | set(lots)), self.library, self.warnings)
        other._figures, other._bins, other._stages = self._figures, self._bins, self._stages
        other._grain, other._offers, other._unoffered = self._grain, self._offers, self._unoffered
        return other

    def on(self, day: date | None) -> Self:
        """The farm as it was known on a day; without a day the farm of today."""
        book = self.book if day is None else known_on(self.book, day)
        return self if book == self.book else type(self)(book, self.library, self.warnings)

    def with_sample(self, sample: str) -> Self:
        """The farm as it stood at a sample: without the samples of that bin that were taken later.

        Raises RequestError.
        """
        rows = {row.sample: row for row in self.book.samples}
        (sample,) = samples_named([sample], self.book)
        book = as_of(self.book, rows[sample])
        return self if book == self.book else type(self)(book, self.library, self.warnings)


def known_on(book: Book, day: date) -> Book:
    """The book as it was known on a day: without samples, deliveries and weights of later days.

    A bin whose first sample was taken later keeps that one, and what came with it.
    """
    firsts = {
        name: min((row.taken_on or date.min for row in book.samples if row.bin == name), default=day)
        for name in {row.bin for row in book.bins}
    }

    def by_then(sample: Sample) -> bool:
        taken = sample.taken_on or date.min
        return taken <= max(day, firsts.get(sample.bin, day))

    return replace(
        book,
        samples=tuple(row for row in book.samples if by_then(row)),
        lots=tuple(row for row in book.lots if row.delivered_on is None or row.delivered_on <= day),
        actual=tuple(row for row in book.actual if row.made_on is None or row.made_on <= day),
    )


def as_of(book: Book, sample: Sample) -> Book:
    """The book without the samples of this bin that are newer than `sample`: the bin as it was judged then."""
    rows = book.samples_of(sample.bin)
    newer = {row.sample for row in rows[rows.index(sample) + 1 :]}
    return replace(book, samples=tuple(row for row in book.samples if row.sample not in newer))
