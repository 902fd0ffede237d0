"""The first page: bins, money, home-grown share, every reason to stop or to ask, what to do now."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

from rationlp.bins import BinEstimate
from rationlp.bins.model import Accord, EvidenceKind
from rationlp.book_units import BookUnits, units_of
from rationlp.errors import InputError, SolverError
from rationlp.farm import Farm
from rationlp.numbers import money, percent
from rationlp.offers.grain import grain_choices, grain_plans, grain_worths
from rationlp.offers.live_ration import LiveRation
from rationlp.rations.answer.farm_totals import FarmTotal, farm_totals
from rationlp.rations.answer.model import Ration
from rationlp.show.first.asked import Asked, AskedLine
from rationlp.show.first.screen import counted
from rationlp.show.year.decisions import decisions
from rationlp.show.year.lines import money_line, unfed_lines, way_lines
from rationlp.year.model import Year
from rationlp.year.plan import YearRequest, plan_year
from rationlp.year.studies.ways_out import with_ways_out

SURE = {
    EvidenceKind.BOTH: "hand sort and laboratory",
    EvidenceKind.SORT: "hand sort, no laboratory",
    EvidenceKind.ASSAY: "laboratory, nothing sorted",
    EvidenceKind.NONE: "a guess: nothing sorted, nothing analysed",
}
NO_YEAR = "There is no plan of the year, so no day on which a bin is empty and no purchase by month:"


@dataclass(frozen=True, slots=True)
class BinLine:
    """A bin in one line. `days` are those the plan feeds it from `since` on; None where it lasts or nobody knows."""

    estimate: BinEstimate
    known_by: str
    planned: bool
    empty_on: date | None
    earliest: date | None
    latest: date | None
    days: int | None


@dataclass(frozen=True, slots=True)
class Front:
    """The first page. `money` are sentences; `asked` the reasons of the rations by letter, `asked_of_year` those of the
    plan's mixes, in words where no letter tells them; `past` says that the days of the plan are over, `unfed` who
    cannot be fed, `ways_out` what would feed them."""

    counted: str
    bins: tuple[BinLine, ...]
    since: date | None
    money: tuple[str, ...]
    asked: tuple[AskedLine, ...]
    asked_of_year: tuple[AskedLine, ...]
    past: str
    unfed: tuple[str, ...]
    ways_out: tuple[str, ...]
    decisions: tuple[str, ...]
    no_year: str


def year_of(farm: Farm, bins: Sequence[str]) -> tuple[Year | None, str]:
    """The plan of the feed year, or why there is none. Raises nothing: the page stands without it too."""
    try:
        request = YearRequest(tuple(bins))
        return with_ways_out(farm, plan_year(farm, request), request), ""
    except InputError as error:
        first = error.problems[0]
        return None, f"{NO_YEAR} {first.found}. {first.do}"
    except SolverError as error:
        return None, f"{NO_YEAR} {error}"


def front_of(farm: Farm, cases: Sequence[LiveRation], asked: Asked, year: Year | None, no_year: str, on: date) -> Front:
    """The first page of these rations and of the plan, on a day."""
    units = units_of(farm.settings)
    rations = [case.ration for case in cases]
    of_year = Asked((f"{mix.mix} ({', '.join(mix.stages)})", mix.verdict) for mix in year.mixes) if year else None
    since = max(on, year.season.first) if year and on <= year.season.last else year.season.first if year else None
    names = list(dict.fromkeys(name for case in cases for name in case.bins))
    return Front(
        counted=counted([ration.verdict for ration in rations], "ration"),
        bins=tuple(_bin_line(farm.bin(name), year, since) for name in names),
        since=since,
        money=tuple(_of_the_plan(year, units)) if year else tuple(_totals(farm_totals(farm.book, rations), units)),
        asked=tuple(asked.lines),
        asked_of_year=tuple(_beside(asked, of_year.lines)) if of_year else (),
        past=_past(farm, year, on) if year else "",
        unfed=tuple(unfed_lines(year, farm.book)) if year else (),
        ways_out=tuple(way_lines(year, units)) if year else (),
        decisions=tuple(decisions(year, farm.book) if year else _without_year(farm, cases)),
        no_year=no_year,
    )


def asked_of(rations: Sequence[Ration]) -> Asked:
    """The reasons of the rations by the letters that `rationlp ration` gives them where its screen has room for all."""
    return Asked((ration.name, ration.verdict) for ration in rations)


def _beside(asked: Asked, lines: Iterable[AskedLine]) -> Iterator[AskedLine]:
    """The reasons of other mixes: those that the rations have under a letter by this letter alone."""
    for line in lines:
        letter = asked.letter_of(line)
        yield replace(line, letter=letter, text="" if letter else line.text)


def _past(farm: Farm, year: Year, on: date) -> str:
    if on <= year.season.last:
        return ""
    return (
        f"The plan ends on {farm.settings.day(year.season.last)}, before the day of this page. Write plan_from and "
        "next_harvest_on on the sheet farm anew, and what lies in the bins, before you go by its days."
    )


def _bin_line(estimate: BinEstimate, year: Year | None, since: date | None) -> BinLine:
    found = next((row for row in year.runs_out if row.bin == estimate.bin), None) if year and year.mixes else None
    accord = estimate.agreement.verdict
    words = {Accord.AGREE: ", which agree", Accord.DISAGREE: ", which DO NOT AGREE"}.get(accord, "")
    return BinLine(
        estimate,
        SURE[estimate.evidence] + words,
        found is not None,
        found.on if found else None,
        found.earliest if found else None,
        found.latest if found else None,
        (found.on - since).days if found and found.on and since and found.on >= since else None,
    )


def _of_the_plan(year: Year, units: BookUnits) -> list[str]:
    """What the year costs; nothing where nobody is fed."""
    return [money_line(year, units)] if year.mixes else []


def _totals(totals: Sequence[FarmTotal], units: BookUnits) -> list[str]:
    return [
        f"All groups{' from ' + total.bin if total.bin else ''}: {money(total.cost, units.currency)} for "
        f"{units.bulk(total.tonnes)} of feed, {percent(total.home_grown_share, 1)} % home-grown"
        + (f" (without {', '.join(total.left_out)}: no ration here)." if total.left_out else ".")
        for total in totals
    ]


def _without_year(farm: Farm, cases: Sequence[LiveRation]) -> list[str]:
    """What to do first where nothing is planned: what must not be fed, the grain of the bins, whom to ask."""
    stopped = [case.ration.name for case in cases if case.ration.verdict.severity == "stop"]
    found = [f"Do not feed {', '.join(stopped[:3])}: see why below."] if stopped else []
    whole = all(case.priced is not None for case in cases)
    choices = [choice for case in cases for choice in grain_choices(case, farm.book)] if whole else []
    plans = grain_plans(cases, choices, grain_worths(cases, farm.book), farm.book) if whole else []
    found += [f"Bin {plan.bin}: {plan.verdict}" for plan in plans]
    found.append("Have the rations reviewed and signed; the pages to sign are at the end.")
    return found[:3]
