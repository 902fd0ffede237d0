"""The whole page: what stands on it, and its HTML."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date

from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.ledger.signatures import VOIDS
from rationlp.library.cited import short_words
from rationlp.offers.live_ration import LiveRation, live_rations
from rationlp.pages.review.words import counted_by_how, how_words, told_source
from rationlp.rations.answer.ids import book_version
from rationlp.rations.studies.review import ReviewCopy, review_of
from rationlp.reasons import HEADLINES, Severity
from rationlp.report.cards import StageCard, cards_of, first_cases
from rationlp.report.front import Front, asked_of, front_of, year_of
from rationlp.report.grain import BinPart, bin_parts
from rationlp.report.levels import Levels, all_levels
from rationlp.report.memory import BOXES, MOST_FIGURES, recalled_of, rows_to_sign
from rationlp.report.offers import OfferPart, offer_part
from rationlp.report.questions import RationQuestions, as_data, questions_of
from rationlp.report.record import MOST_BATCHES, RecordPart, record_part
from rationlp.report.render import FARM_LOOK, FARM_SCRIPT, rendered
from rationlp.report.season import YearPart, herd_eaters, month_words, year_part
from rationlp.units import Z90
from rationlp.version import __version__

MOST_CARDS, CARDS_OF_A_BIN = 24, 2
"""On a page of more, a bin counted as two cards, the cards, the bins and the mixes of the plan are printed in the
appendix, a table before it."""
MOST_REMEDIES = 6
"""So many feeds that would help are named on a card; `ration --full` has all."""


@dataclass(frozen=True, slots=True)
class Report:
    """What stands on the page, before a word of HTML. `str` of it is the page."""

    farm: Farm
    on: date
    cases: tuple[LiveRation, ...]
    front: Front
    cards: tuple[StageCard, ...]
    bins: tuple[BinPart, ...]
    offers: OfferPart
    year: YearPart | None
    record: RecordPart
    questions: tuple[RationQuestions, ...]
    review: ReviewCopy
    levels: Mapping[str, tuple[Levels, ...]]

    def __str__(self) -> str:
        """The page."""
        return page_of(self)

    @property
    def severity(self) -> Severity:
        """The gravest verdict of its rations and of the year; what could not be calculated is told by `failed`."""
        found = [case.ration.verdict.severity for case in self.cases if not case.ration.failure]
        if self.year and (self.year.year.stopped or not self.year.year.failed):
            found.append(self.year.year.verdict.severity)
        return max(found, key=lambda severity: severity.rank, default=Severity.FEED)

    @property
    def failed(self) -> bool:
        """Whether the answer of some ration, or every mix of somebody in the year, did not stand up to verification."""
        plan = self.year.year if self.year else None
        return any(case.failure or case.ration.failure for case in self.cases) or (plan is not None and plan.failed)

    @property
    def cautions(self) -> tuple[str, ...]:
        """Every caution of the rations that are fed first, each once."""
        firsts = [card.first.ration for card in self.cards]
        return tuple(dict.fromkeys(text for ration in firsts for text in ration.cautions if text != REVIEW))


def report_of(
    farm: Farm,
    stages: Iterable[str] = (),
    bins: Iterable[str] = (),
    on: date | None = None,
    frontiers: bool = False,
) -> Report:
    """What is to be said of the farm on a day (today): by default of all stages of its groups, from every bin.

    With `frontiers` also what more confidence and more home-grown feed cost in each ration, which takes much longer.

    Raises RequestError for names nobody knows, BookError, SolverError.
    """
    on, bins = on or date.today(), tuple(bins)
    cases = tuple(live_rations(farm, stages, bins))
    asked = asked_of([case.ration for case in cases])
    year, no_year = year_of(farm, bins)
    record = record_part(farm)
    cards = cards_of(farm, cases, asked, record.signed, on, herd_eaters(farm, year) if year else {})
    return Report(
        farm=farm,
        on=on,
        cases=cases,
        front=front_of(farm, cases, asked, year, no_year, on),
        cards=cards,
        bins=bin_parts(farm, list(dict.fromkeys(name for case in cases for name in case.bins))),
        offers=offer_part(farm.book, cards),
        year=year_part(farm, year) if year else None,
        record=record,
        questions=questions_of(farm, cards),
        review=review_of([case.solved for case in first_cases(cases)], farm),
        levels=all_levels(farm, cards) if frontiers else {},
    )


def page_of(report: Report) -> str:
    """The HTML of a report."""
    farm = report.farm
    return rendered(
        "page.html",
        farm.settings,
        look=FARM_LOOK,
        script=FARM_SCRIPT,
        report=report,
        farm=farm,
        name=farm.settings.name or farm.book.path.name,
        batch=farm.settings.batch_kg,
        data=as_data(farm, report.questions, report.levels),
        recalled=recalled_of(report.review, farm),
        to_sign=rows_to_sign,
        review=REVIEW,
        program=f"rationlp {__version__}",
        version=book_version(farm.book),
        voids=VOIDS,
        boxes=BOXES,
        most_batches=MOST_BATCHES,
        most_figures=MOST_FIGURES,
        many=len(report.cards) + CARDS_OF_A_BIN * len(report.bins) > MOST_CARDS,
        most_cards=MOST_CARDS,
        most_remedies=MOST_REMEDIES,
        severity=Severity,
        headline=HEADLINES,
        z90=Z90,
        month=month_words,
        by_how=counted_by_how,
        how_words=how_words,
        told_source=told_source,
        short_words=short_words,
    )


def farm_page(farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = (), on: date | None = None) -> str:
    """The page of a farm, self-contained: no other file, no request to anywhere, of use without its script.

    `stages` and `bins` as for `rations`; `on` is the day of the page, by default today. Raises
    RequestError, BookError, SolverError.
    """
    return page_of(report_of(farm, stages, bins, on))
