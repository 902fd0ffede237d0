"""Who is to be fed when: head-days of each group and step, as tonnes or energy, by window."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.errors import BookError, Problem
from rationlp.farm import Farm
from rationlp.herd.moves import Fed
from rationlp.herd.season import Season
from rationlp.stages.stage import StageNeeds
from rationlp.year.program.kitchen import KCAL_PER_GCAL, KG_PER_TONNE
from rationlp.year.program.master import Demand
from rationlp.year.program.supplies import Supply, had_in

FIRST_KINDS = ("lactation", "nursery")
NOTHING = 1e-9
"""Fewer tonnes or Gcal are no demand."""


def demands_of(
    farm: Farm, animals: Sequence[Fed], supplies: Sequence[Supply], windows: Sequence[range]
) -> list[Demand]:
    """The demands of all animals over all windows. Raises BookError with every stage whose intake is not known."""
    unknown = [fed for fed in animals if per_head_day(fed, farm.stage(fed.stage), farm) is None]
    if unknown:
        raise BookError([_unknown_intake(fed) for fed in unknown])
    had = [had_in(window, supplies) for window in windows]
    found = []
    for fed in animals:
        needs = farm.stage(fed.stage)
        each, weight = per_head_day(fed, needs, farm) or 0.0, by_weight(fed, needs, farm)
        for window, names in zip(windows, had, strict=True):
            units = each * float(fed.head[window[0] : window[-1] + 1].sum())
            if units > NOTHING:
                found.append(Demand(fed, window, units, weight, names, must_not_lack(needs)))
    return found


def with_reserve(farm: Farm, season: Season, animals: Sequence[Fed]) -> list[Fed]:
    """The animals, on the days of the reserve none but those that must not lack."""
    if not season.reserve:
        return list(animals)
    found = []
    for fed in animals:
        if must_not_lack(farm.stage(fed.stage)):
            found.append(fed)
            continue
        head = fed.head.copy()
        head[season.days - season.reserve :] = 0.0
        found.append(replace(fed, head=head))
    return [fed for fed in found if fed.head_days > 0]


def must_not_lack(stage: StageNeeds) -> bool:
    """Whether animals of a stage are fed before others: sows in milk and the newly weaned (common practice)."""
    return stage.known is not None and stage.known.kind in FIRST_KINDS


def by_weight(fed: Fed, stage: StageNeeds, farm: Farm) -> bool:
    """Whether the animals get a fixed weight a day; else they get their energy, of a leaner mix more."""
    stated = fed.feed_kg_per_head_per_day is not None or farm.settings.objective == "per_tonne"
    return stated or stage.energy is None or not stage.reference_energy


def per_head_day(fed: Fed, stage: StageNeeds, farm: Farm) -> float | None:
    """Tonnes a head and day by weight, else Gcal: the table's feed at the energy it stands for. None where unknown."""
    if by_weight(fed, stage, farm):
        feed = fed.feed_kg_per_head_per_day or stage.daily_feed_kg
        return None if feed is None else feed / KG_PER_TONNE
    if stage.daily_feed_kg is None:
        return None
    return stage.daily_feed_kg * (stage.reference_energy or 0.0) / KCAL_PER_GCAL


def _unknown_intake(fed: Fed) -> Problem:
    sheet = "herd" if ": " in fed.group else "groups"
    found, do = f"no feed per day known of {fed.group} ({fed.stage})", "Fill in feed_per_head_per_day."
    return Problem("error", sheet, "", found, "the feed per head and day", do)
