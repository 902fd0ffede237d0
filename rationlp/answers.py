"""Rations as the Python interface hands them out: by stage and bin, with tidy tables of all of them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from rationlp.farm import Farm

if TYPE_CHECKING:
    import pandas as pd

    from rationlp.rations.formulate import SolvedRation
    from rationlp.rations.studies.missing_offer import MissingOffer


@dataclass(frozen=True)
class Rations:
    """Rations by stage and bin, and tidy tables of all of them. Shares are 0 to 1, money is per tonne.

    `rations["sw_gro_25_50", "north"]` is one of them; of several bins together the key is ("...", "north+south").
    """

    farm: Farm
    solved: tuple[SolvedRation, ...]

    def __repr__(self) -> str:
        return "\n".join([f"<Rations: {len(self)}>", *map(repr, self.solved)])

    def __iter__(self) -> Iterator[SolvedRation]:
        return iter(self.solved)

    def __len__(self) -> int:
        return len(self.solved)

    def __getitem__(self, key: str | tuple[str, str]) -> SolvedRation:
        """Raises KeyError."""
        stage, bin_ = (key, None) if isinstance(key, str) else key
        found = [made for made in self.solved if made.ration.stage == stage and bin_ in (None, made.ration.bin)]
        if len(found) != 1:
            known = ", ".join(f"({made.ration.stage!r}, {made.ration.bin!r})" for made in self.solved)
            raise KeyError(f"{key!r}; there is {known}")
        return found[0]

    @cached_property
    def confidence_prices(self) -> tuple[tuple[tuple[float, float | None], ...], ...]:
        """For each ration what 80, 90 and 95 percent confidence cost: (percent, cost by the objective), None where it
        cannot be had."""
        from rationlp.rations.solve.optimum import confidence_prices

        of = self.farm.settings.confidence_of
        return tuple(
            confidence_prices(made.formula, of) if made.answer.solution is not None else () for made in self.solved
        )

    @cached_property
    def missing_offers(self) -> tuple[MissingOffer | None, ...]:
        """For each ration the feed that nobody offers and that would save most, at list prices."""
        from rationlp.rations.studies.missing_offer import missing_offer

        return tuple(missing_offer(made.formula, made.answer, self.farm) for made in self.solved)

    @cached_property
    def frames(self) -> Mapping[str, pd.DataFrame]:
        """Every table by its name."""
        from rationlp.show.data.frames import ration_frames

        return ration_frames([made.ration for made in self.solved])

    @property
    def summary(self) -> pd.DataFrame:
        """A row a ration: status, cost, home-grown share, feed per head and day."""
        return self.frames["summary"]

    @property
    def mix(self) -> pd.DataFrame:
        """A row an ingredient: share, kilograms in a tonne, price and cost per tonne."""
        return self.frames["mix"]

    @property
    def requirements(self) -> pd.DataFrame:
        """A row a requirement: minimum, maximum, what the mix supplies, sd, probability, shadow price."""
        return self.frames["requirements"]

    @property
    def limits(self) -> pd.DataFrame:
        """A row a cap or floor on a feed or crop."""
        return self.frames["limits"]

    @property
    def ratios(self) -> pd.DataFrame:
        """A row a ratio of two nutrients."""
        return self.frames["ratios"]

    @property
    def reasons(self) -> pd.DataFrame:
        """A row a reason of the verdict, and everything else that is said of a ration."""
        return self.frames["reasons"]
