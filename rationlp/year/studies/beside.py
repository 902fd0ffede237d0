"""What was asked of a year beside the plan."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.year.model import Year
from rationlp.year.studies.frontier import GrownShare
from rationlp.year.studies.seed_mix import SeedMix
from rationlp.year.studies.separate import Separated


@dataclass(frozen=True, slots=True)
class YearStudies:
    """The year before the question that was asked, the home-grown frontier, separated bins, next season's seed.

    `in_vain` says that some of these were asked where somebody cannot be fed: what the plan costs says nothing then.
    """

    before: Year | None = None
    frontier: Sequence[GrownShare] = ()
    separated: Sequence[Separated] = ()
    seed_mix: SeedMix | None = None
    in_vain: bool = False
