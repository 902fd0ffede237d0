"""The whole page: what stands on it, and its HTML."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rationlp.cautions import REVIEW
from rationlp.farm import Farm
from rationlp.rations.answer.ids import book_version
from rationlp.rations.formulate import SolvedRation, solve_rations
from rationlp.reasons import Severity
from rationlp.report.render import rendered


@dataclass(frozen=True, slots=True)
class Report:
    """What stands on the page, before a word of HTML."""

    farm: Farm
    rations: tuple[SolvedRation, ...]

    def __str__(self) -> str:
        """The page."""
        return page_of(self)

    @property
    def severity(self) -> Severity:
        """The gravest verdict of its rations; those whose calculation failed are told by `failed`."""
        found = [made.verdict.severity for made in self.rations if not made.ration.failure]
        return max(found, key=lambda severity: severity.rank, default=Severity.FEED)

    @property
    def failed(self) -> bool:
        """Whether the answer of some ration did not stand up to verification."""
        return any(made.ration.failure for made in self.rations)


def report_of(farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = ()) -> Report:
    """What is to be said of the farm: by default all stages of its groups, from every bin.

    Raises RequestError for names nobody knows, BookError, SolverError.
    """
    return Report(farm, tuple(solve_rations(farm, stages, bins)))


def page_of(report: Report, top: str = "") -> str:
    """The HTML of a report. `top` is HTML that whoever serves the page puts above it; it then sends a policy itself."""
    return rendered(
        "page.html",
        report.farm.settings,
        report=report,
        farm=report.farm,
        review=REVIEW,
        version=book_version(report.farm.book),
        top=top,
    )


def farm_page(farm: Farm, stages: Iterable[str] = (), bins: Iterable[str] = (), top: str = "") -> str:
    """The page of a farm, self-contained: no other file, no request to anywhere, of use without its script.

    `stages` and `bins` as for `rations`; `top` as for `page_of`. Raises RequestError, BookError, SolverError.
    """
    return page_of(report_of(farm, stages, bins), top)
