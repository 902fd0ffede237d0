"""The public Python interface: open a farm and ask it, in the words of the commands.

Each verb loads what it needs when it is called, so that one command does not pay for the others.

>>> import rationlp
>>> farm = rationlp.open_farm("demo/stillwater_bend")
>>> farm.bin("north").tonnes
42.0
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from rationlp.answers import Rations
from rationlp.book import open_book
from rationlp.errors import InputError, Problem, RequestError
from rationlp.farm import Farm
from rationlp.ledger.flows import with_flows
from rationlp.library import load_library
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.actual.report import ActualReport
    from rationlp.actual.uniformity import Uniformity
    from rationlp.documents import Answer
    from rationlp.offers.study import Study
    from rationlp.report.page import Report
    from rationlp.resample.change import Resample
    from rationlp.sheets.model import Pack
    from rationlp.trace.follow import Trace
    from rationlp.year.model import Year
    from rationlp.year.studies.frontier import GrownShare
    from rationlp.year.studies.seed_mix import SeedMix
    from rationlp.year.studies.separate import Separated

Names = str | Iterable[str] | None
"""A name, several names, or None (or no name at all) for all of them."""


def open_farm(path: str | Path, library: str | Path | None = None) -> OpenFarm:
    """The farm of a book (a workbook or a folder of CSV files), checked against the feed library.

    `library` is the folder of another feed library than the shipped one. Raises BookError or LibraryError with every
    problem in `.problems`.

    >>> farm = open_farm("demo/stillwater_bend")
    >>> farm.settings.name
    'Stillwater Bend (an invented farm; every figure in this book is invented)'
    """
    found = load_library(None if library is None else Path(library))
    book, warnings = open_book(Path(path), found)
    try:
        book = with_flows(book)
    except InputError as error:  # the commands that need the record say so themselves; the others go on without it
        warnings = [*warnings, *(replace(problem, severity="warning") for problem in error.problems)]
    return OpenFarm(book, found, warnings)


class OpenFarm(Farm):
    """A farm that answers what the commands answer. Names and numbers are checked here; only `actual` can write."""

    def __repr__(self) -> str:
        book = self.book
        return f"<{book.path}: {len(book.bins)} bins, {len(book.supplements)} offers, {len(book.groups)} groups>"

    def rations(
        self, stages: Names = None, bins: Names = None, together: bool = False, home_grown: float | None = None
    ) -> Rations:
        """The least-cost rations of the stages from each bin (or from all the bins `together`), verified.

        `home_grown` is the least share of home-grown feed, 0 to 1. Raises RequestError, BookError, SolverError.

        >>> farm = open_farm("demo/stillwater_bend")
        >>> rations = farm.rations("sw_gro_25_50", "north")
        >>> sorted(rations.mix.columns)[:3]
        ['bin', 'bins', 'cost_per_tonne']
        >>> dearer = farm.with_price("soy48_bulk", 700).rations("sw_gro_25_50", "north")
        >>> bool(dearer.summary.cost_per_tonne[0] > rations.summary.cost_per_tonne[0])
        True
        """
        from rationlp.rations.formulate import solve_rations

        return Rations(self, tuple(solve_rations(self, names(stages), names(bins), together, home_grown or 0.0)))

    def asked(self, prices: Names = None, settings: Names = None) -> Self:
        """The farm with other prices and settings, written as at the command line: `soy48=365`, `confidence_pct=90`.

        A price is in the book's units, for a tonne or short ton, or with its mass (`soy_bags=8.50:25kg`). Raises
        RequestError.

        >>> farm = open_farm("demo/stillwater_bend")
        >>> farm.asked("lysine=40:25kg", "confidence_pct=90").settings.confidence_pct
        90.0
        """
        from rationlp.book.asked import read_asked_price
        from rationlp.book.lookup import offers_named

        farm = self
        for name, value in _once(_pairs(settings, "setting", "confidence_pct=90"), "setting"):
            farm = farm.with_setting(name, value)
        today = {row.offer: row.price_per_tonne for row in self.book.supplements}
        today |= {row.bin: row.sale_price_per_tonne for row in self.book.bins if row.sale_price_per_tonne is not None}
        quoted = [
            (name, value)
            for asked, value in _pairs(prices, "price", "soy48=365")
            for name in offers_named([asked], self.book, "price", bins=True, library=self.library)
        ]
        for name, value in _once(quoted, "price"):
            per_tonne = read_asked_price(value, self.settings, today.get(name))
            farm = farm.with_price(name, per_tonne * BOOK_PRICE_MASS_KG[self.settings.units] / KG_PER_TONNE)
        return farm

    def offers(
        self,
        stages: Names = None,
        bins: Names = None,
        together: bool = False,
        *,
        sweep: Names = None,
        what_if: Names = None,
        compare: Names = None,
        draws: int = 0,
        correlation: float = 0.0,
        seed: int = 1,
        only_sweep: bool = False,
        equals: bool = True,
        begin: Callable[[int], Callable[[], None]] = lambda steps: lambda: None,
    ) -> Study:
        """What each offer is worth in each ration and over the farm.

        `sweep` is OFFER:LOW:HIGH:STEPS, once or twice; `what_if` feeds that nobody quotes; `compare` offers to put side
        by side; `draws` how many draws of uncertain prices, `correlation` (0 to 1) how they move together; `equals`
        whether mixes that cost the same are sought. `begin` is told how many steps the work has and gives back what is
        called after each. Raises RequestError, BookError, SolverError.

        >>> open_farm("demo/stillwater_bend").offers("sw_gro_25_50", "north").complete
        True
        """
        from rationlp.offers.study import OfferRequest, study
        from rationlp.offers.sweep import asks

        asked = OfferRequest(
            asked=tuple(asks(names(sweep), self.book)),
            feeds=names(what_if),
            compared=names(compare),
            draws=draws,
            together=correlation,
            seed=seed,
            only_sweep=only_sweep,
            equals=equals,
        )
        return study(self, asked, names(stages), names(bins), together, begin)

    def resample(self, before: str, after: str, stages: Names = None) -> Resample:
        """What sample `after` changes against `before` for the mixes in use from their bin. Raises RequestError."""
        from rationlp.resample.change import resample

        return resample(self, before, after, stages=names(stages))

    def sheets(
        self,
        stages: Names = None,
        bins: Names = None,
        together: bool = False,
        *,
        batch: str | None = None,
        mixer_volume: str | None = None,
        batches: int = 1,
        groups: Names = None,
        days: int | None = None,
        on: str | None = None,
    ) -> Pack:
        """Mix sheets in weights the scale can show; masses and the day as they would be typed. Raises RequestError.

        >>> pack = open_farm("demo/stillwater_bend").sheets("sw_boar", "north")
        >>> [sheet.name for sheet in pack.sheets]
        ['sw_boar north']
        """
        from rationlp.sheets.pack import make_pack
        from rationlp.sheets.request import read_request

        request = read_request(self.book, batch, mixer_volume, batches, names(groups), days, on)
        return make_pack(self, request, names(stages), names(bins), together)

    def week_sheets(
        self,
        week: str,
        bins: Names = None,
        *,
        days: int | None = None,
        batch: str | None = None,
        mixer_volume: str | None = None,
    ) -> Pack:
        """Mix sheets of the plan of the year for the days from `week` on (by default seven): its mixes, from its bins,
        as much as is eaten then. Raises RequestError, BookError, SolverError."""
        from rationlp.sheets.request import read_request
        from rationlp.year.week import WEEK, week_sheets

        request = read_request(self.book, batch, mixer_volume, on=week)
        return week_sheets(self, self.year(bins), request, days or WEEK)

    def year(
        self,
        bins: Names = None,
        *,
        most_mixes: int | None = None,
        home_grown: float | None = None,
        draws: int = 0,
        seed: int = 1,
    ) -> Year:
        """The cheapest feed of all animals to the next harvest from the bins and offers, verified.

        `most_mixes` is how many mixes may be made (default: the book's), `home_grown` the least home-grown share of
        the year, 0 to 1; `draws` how many draws of prices, harvest, bins and losses the plan is put to.
        Raises RequestError, BookError, SolverError.

        >>> year = open_farm("demo/stillwater_bend").year()
        >>> [row.bin for row in year.runs_out]
        ['north', 'south']
        """
        from rationlp.year.plan import YearRequest, plan_year
        from rationlp.year.studies.surer import with_surer
        from rationlp.year.studies.ways_out import with_ways_out

        request = YearRequest(names(bins), home_grown or 0.0, most_mixes, draws, seed)
        return with_ways_out(self, with_surer(plan_year(self, request), request), request)

    def with_fewer(self, lots: Names) -> Self:
        """The farm without a lot of each of these lines of its herd: `pigs` the one that eats most in the year,
        `pigs=2026-02-16` that which begins on the day. Raises RequestError, BookError."""
        from rationlp.year.studies.fewer import fewer_lots

        return fewer_lots(self, names(lots))

    def from_day(self, day: str | None) -> Self:
        """The farm whose year is planned from a day on, written as in the book; as it is without one. What the record
        says was mixed before that day is out of the bins. Raises RequestError."""
        return self if day is None else self.with_setting("plan_from", day)

    def resampled_year(self, before: str, after: str) -> tuple[Year, Year]:
        """The rest of the year as it was planned by sample `before`, and as it is by `after`: from the day that one was
        taken, without what was mixed until then. Raises RequestError, BookError, SolverError."""
        from rationlp.resample.moved import two_samples
        from rationlp.year.plan import plan_year
        from rationlp.year.studies.resampled import rest_of_year

        then, now = rest_of_year(self, *two_samples(self.book, before, after))
        return plan_year(then), plan_year(now)

    def separated(self, bins: Names = None, *, home_grown: float | None = None) -> list[Separated]:
        """What taking crops out of the bins is worth over the year, all and one at a time. Raises SolverError."""
        from rationlp.year.studies.separate import worth_of_separating

        return worth_of_separating(self, names(bins), home_grown or 0.0)

    def seed_mix(self, seed: int = 1) -> SeedMix:
        """Shares of the land for next season's seed that suit the herd. Raises RequestError, SolverError."""
        from rationlp.year.studies.seed_mix import seed_mix

        return seed_mix(self, seed)

    def home_grown_frontier(
        self, plan: Year, bins: Names = None, *, most_mixes: int | None = None
    ) -> tuple[GrownShare, ...]:
        """What each further part of home-grown feed would cost over the year `plan`. Raises SolverError."""
        from rationlp.year.plan import YearRequest
        from rationlp.year.studies.frontier import home_grown_frontier

        return home_grown_frontier(self, plan, YearRequest(names(bins), most_mixes=most_mixes))

    def actual(
        self,
        workbook: str | Path | None = None,
        *,
        mixer_tests: Sequence[Uniformity] = (),
        enter: bool = False,
    ) -> ActualReport:
        """What was really weighed, judged by what was known on its day: the filled-in `workbook`, or else the rows of
        the book's sheet `actual`.

        With `enter` the batches go into the farm's record. Raises InputError with every fault of what was written down.
        """
        from rationlp.actual.report import enter as enter_in_record
        from rationlp.actual.report import report_of, with_record_missing
        from rationlp.ledger.flows import keep_moves

        found = report_of(self, None if workbook is None else Path(workbook), mixer_tests)
        if enter:
            found = with_record_missing(found, self.book) if workbook is not None else found
            enter_in_record(found, self.book)
            keep_moves(self.book)
        return found

    def trace(
        self,
        group: str = "",
        bin: str = "",
        lot: str = "",
        batch: str = "",
        start: date | None = None,
        end: date | None = None,
    ) -> Trace:
        """From animals back to bins, samples and lots, and from a bin or lot on to batches and animals.

        What is named must all hold: `group` ate it, `bin` or `lot` is in it, it is `batch` (its number or label), it
        can have been eaten from `start` to `end`. Raises RequestError for a name nobody knows, InputError.
        """
        from rationlp.trace.follow import Question, follow
        from rationlp.trace.gather import batches_made

        question = Question(group, bin, lot, batch, start, end)
        return follow(question, batches_made(self, question), self.book)

    def document(self, answer: Answer) -> dict[str, Any]:
        """Any answer of this farm (rations, a bin, offers, sheets, a year and so on) as its command prints it with
        `--format json`, in plain dicts and lists.

        >>> farm = open_farm("demo/stillwater_bend")
        >>> farm.document(farm.bin("north"))["bins"][0]["sample"]
        'n1'
        """
        from rationlp.documents import document_of

        return document_of(answer, self)

    def tables(self, answer: Answer) -> dict[str, pd.DataFrame]:
        """Any answer of this farm as pandas frames, one for each kind of row: those its command writes with
        `--format csv -o FOLDER`, by the names of the files.

        >>> farm = open_farm("demo/stillwater_bend")
        >>> farm.tables(farm.bin("north"))["bins_crops"].crop[0]
        'triticale'
        """
        from rationlp.documents import frames_of

        return frames_of(answer, self)

    def report(self, stages: Names = None, bins: Names = None, frontiers: bool = False) -> Report:
        """What stands on the page of the farm; `str` of it is the HTML. Raises RequestError, BookError, SolverError.

        With `frontiers` also what more confidence and more home-grown feed cost in each ration.

        >>> page = str(open_farm("demo/stillwater_bend").report("sw_gro_25_50", "north"))
        >>> page.startswith("<!DOCTYPE html>")
        True
        """
        from rationlp.report.page import report_of

        return report_of(self, names(stages), names(bins), frontiers=frontiers)


def _pairs(given: Names, what: str, example: str) -> Iterator[tuple[str, str]]:
    """Names and values of `NAME=VALUE`. Raises RequestError."""
    for text in names(given):
        name, equals, value = text.partition("=")
        if not (name.strip() and equals and value.strip()):
            raise RequestError(
                [Problem("error", what, "", repr(text), f"NAME=VALUE, for instance {example}", "Write both.")]
            )
        yield name.strip(), value.strip()


def _once(pairs: Iterable[tuple[str, str]], what: str) -> Iterable[tuple[str, str]]:
    """Each name with its one value. Raises RequestError for a name with two."""
    found: dict[str, str] = {}
    for name, value in pairs:
        if found.setdefault(name, value) != value:
            two = f"{found[name]} and {value} for {name}"
            raise RequestError([Problem("error", what, "", two, f"one {what}", "Ask for one of them at a time.")])
    return found.items()


def names(given: Names) -> tuple[str, ...]:
    """Names as a tuple: one name, several, or none for all of them. Raises RequestError for anything else."""
    if given is None:
        return ()
    found = (given,) if isinstance(given, str) else tuple(given) if isinstance(given, Iterable) else (given,)
    for name in found:
        if not isinstance(name, str):
            raise RequestError([Problem("error", "name", "", repr(name), "a name, or several", "Write it as text.")])
    return found
