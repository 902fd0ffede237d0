"""A mix as it is weighed: shares, and everything recomputed from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rationlp.feeds.candidates import Candidate
from rationlp.library.read import Library
from rationlp.rations.answer.model import PriceOf
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.rows import amount_of
from rationlp.stages.limits import content
from rationlp.stages.model import Cap, Need

MEETS = 1e-6  # a bound counts as met, or as binding, within this fraction of itself
IN_MIX = 1e-7  # smaller shares are the solver's dust


@dataclass(frozen=True, slots=True)
class Mix:
    """The shares of a formula's candidates, 0 to 1, and what they make.

    `used` are the candidates in the mix with their shares, `analysis` its nutrients as fed (only those known of every
    feed in it), `feeds` its library feeds with the crops inside a bin's blend counted by their share, `energy` the
    stage's energy in kcal/kg.
    """

    formula: Formula
    shares: tuple[float, ...]
    used: tuple[tuple[float, Candidate], ...]
    analysis: Mapping[str, float]
    feeds: Mapping[str, float]
    energy: float | None

    @property
    def without_grain(self) -> bool:
        """Whether a bin was to be fed and nothing home-grown is in the mix."""
        return bool(self.formula.bin) and not any(candidate.home_grown for _, candidate in self.used)

    def energy_factor(self, need: Need) -> float:
        """What a bound of `need` is multiplied with at the energy of this mix."""
        return 1.0 if need.reference_energy is None else self.energy / need.reference_energy

    def bounds(self, need: Need) -> tuple[float | None, float | None]:
        """Minimum and maximum of `need` at the energy of this mix."""
        factor = self.energy_factor(need)
        return tuple(None if bound is None else bound * factor for bound in (need.minimum, need.maximum))

    def gives(self, need: Need) -> float:
        """What the mix holds of the nutrient of `need`; in a mere ceiling a feed without a figure counts nothing."""
        if not need.of_groups and need.nutrient in self.analysis:
            return self.analysis[need.nutrient]
        return sum(share * amount_of(need, candidate) for share, candidate in self.used)

    def content(self, cap: Cap) -> float:
        """Share of the mix that a cap speaks of."""
        return sum(share * content(cap, candidate) for share, candidate in self.used)


def price_of(formula: Formula) -> PriceOf:
    """What the prices of a formula's bounds are of."""
    return PriceOf.GCAL if formula.objective == "per_energy" else PriceOf.TONNE


def make_mix(formula: Formula, amounts: Sequence[float], library: Library) -> Mix:
    """The mix that `amounts` of the formula's candidates make, in whatever scale they are."""
    total = sum(amounts)
    shares = tuple(amount / total for amount in amounts)
    used = tuple((s, c) for s, c in zip(shares, formula.candidates, strict=True) if s > IN_MIX)
    analysis = _analysis(used, library)
    energy = formula.stage.energy
    return Mix(formula, shares, used, analysis, _feeds(used), analysis.get(energy) if energy else None)


def _analysis(used: Sequence[tuple[float, Candidate]], library: Library) -> dict[str, float]:
    known = set.intersection(*(set(candidate.values) for _, candidate in used))
    order = [n for n in library.nutrients if n in known] + sorted(known - set(library.nutrients))
    return {
        nutrient: sum(share * candidate.values[nutrient] for share, candidate in used)
        for nutrient in order
        if nutrient not in library.nutrients or library.nutrients[nutrient].kind != "coefficient"
    }


def _feeds(used: Sequence[tuple[float, Candidate]]) -> dict[str, float]:
    feeds: dict[str, float] = {}
    for share, candidate in used:
        for feed, part in candidate.feeds.items():
            feeds[feed] = feeds.get(feed, 0.0) + share * part
    return feeds
