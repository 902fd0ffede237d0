"""A planned year as JSON and as tables; tonnes are metric, shares 0 to 1, money in the book's currency."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import REVIEW
from rationlp.year.model import Mix, Year
from rationlp.year.studies.beside import YearStudies
from rationlp.year.studies.change import year_change
from rationlp.year.studies.seed_mix import CAUTION

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.show.schema import later


def year_document(year: Year, book: Book, more: YearStudies | None = None) -> later.YearDocument:
    """`year --format json`, with what was asked beside the plan."""
    return {
        "book": str(book.path),
        "currency": book.farm.currency,
        "from": year.season.first,
        "to": year.season.last,
        "cost": year.cost,
        "bound": year.bound,
        "home_grown_share": year.home_grown_share,
        "bought_tonnes": year.bought_tonnes,
        "bought_cost": year.bought_cost,
        "mixes": [_mix(mix) for mix in year.mixes],
        "uses": list(year.uses),
        "purchases": list(year.purchases),
        "on_farm": list(year.on_farm),
        "stocks": list(year.stocks),
        "runs_out": list(year.runs_out),
        "worth_of_last_tonne": list(year.worth),
        "sales": list(year.sales),
        "few_mixes": year.few,
        "animals": animal_rows(year),
        "draws": year.draws,
        **_studies(year, more or YearStudies()),
        "unfed": list(year.unfed),
        "ways_out": list(year.ways_out),
        "next_sample": [{"bin": bin_, "on": day} for bin_, day in year.next_sample],
        "verdict": year.verdict,
        "notes": list(year.notes),
        "cautions": [REVIEW],
    }


def _studies(year: Year, more: YearStudies) -> later.YearAsked:
    """What was asked beside the plan, and what is left over where the farm asks for whole packages."""
    found: later.YearAsked = {}
    if year.in_whole_packages:
        found["left_over"] = list(year.left_over)
    if more.before is not None:
        found["change"] = year_change(more.before, year)
    if more.frontier:
        found["home_grown_frontier"] = list(more.frontier)
    if more.separated:
        found["separate"] = list(more.separated)
    if more.seed_mix is not None:
        found["seed_mix"] = list(more.seed_mix.crops)
        found["seed_mix_gain"] = {
            "per_hectare": more.seed_mix.gain_per_hectare,
            "in_draws": list(more.seed_mix.gains),
            "sure": more.seed_mix.sure,
            "hectares": more.seed_mix.hectares,
            "land_equivalent_ratio": more.seed_mix.land_equivalent_ratio,
            "comes_in": [{"crop": crop, "times_its_yield": times} for crop, times in more.seed_mix.comes_in],
            "harvest_tonnes": more.seed_mix.harvest_tonnes,
            "left_tonnes": more.seed_mix.left_tonnes,
            "price_per_tonne": more.seed_mix.price_per_tonne,
            "unfed": list(more.seed_mix.unfed),
            "caution": CAUTION,
        }
    return found


def _mix(mix: Mix) -> later.YearMix:
    return {
        "mix": mix.mix,
        "stage": "+".join(mix.stages),
        "stages": list(mix.stages),
        "groups": list(mix.groups),
        "bins": list(mix.bins),
        "parts": [{"offer": name, "share": share} for name, share in mix.found.shares],
        "tonnes": mix.tonnes,
        "cost_per_tonne": mix.cost_per_tonne,
        "first_fed": mix.first_fed,
        "verdict": mix.verdict,
    }


def animal_rows(year: Year) -> list[later.AnimalsOfMonth]:
    """Head on average and feed of each group in each month it is there."""
    eaten: dict[tuple[str, str], dict[str, float]] = {}
    for use in year.uses:
        eaten.setdefault((use.month, use.group), {})[use.mix] = use.mix_tonnes
    rows: list[later.AnimalsOfMonth] = []
    for month in year.season.months:
        first = year.season.place(month.first)
        for fed in year.animals:
            head = float(fed.head[first : first + month.days].mean())
            if head > 0:
                tonnes = sum(eaten.get((month.label, fed.group), {}).values())
                rows.append(
                    {"month": month.label, "group": fed.group, "stage": fed.stage, "head": head, "tonnes": tonnes}
                )
    return rows


def year_frames(year: Year) -> dict[str, pd.DataFrame]:
    """A planned year as tidy tables: mixes (a row a part), uses, purchases, stocks, runs_out, worth, animals."""
    import pandas as pd

    parts = [
        {"mix": mix.mix, "stage": "+".join(mix.stages), "offer": name, "share": share, "tonnes": share * mix.tonnes}
        for mix in year.mixes
        for name, share in mix.found.shares
    ]
    return {
        "mixes": pd.DataFrame(parts),
        "uses": pd.DataFrame(year.uses),
        "purchases": pd.DataFrame(year.purchases),
        "stocks": pd.DataFrame(year.stocks),
        "runs_out": pd.DataFrame(year.runs_out),
        "worth_of_last_tonne": pd.DataFrame(year.worth),
        "animals": pd.DataFrame(animal_rows(year)),
    }


def year_frame(year: Year) -> pd.DataFrame:
    """The tables of `year_frames` under each other, the first column saying which a row is of."""
    import pandas as pd

    return (
        pd.concat([frame.assign(table=name) for name, frame in year_frames(year).items()])
        .set_index("table")
        .reset_index()
    )
