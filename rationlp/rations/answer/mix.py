"""A mix as it is weighed: shares, everything recomputed from them, and whether the trade would call it a feed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from rationlp.feeds.candidates import Candidate
from rationlp.figures import feed_label, nutrient_label
from rationlp.library.read import Library
from rationlp.library.records import PlausibleBound, Stage
from rationlp.rations.answer.model import PriceOf
from rationlp.rations.program.formula import Formula
from rationlp.stages.limits import content
from rationlp.stages.model import Cap, Need

MEETS = 1e-6  # a bound counts as met, or as binding, within this fraction of itself
IN_MIX = 1e-7  # smaller shares are the solver's dust
ANY_STAGE = "all"


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

    def energy_factor(self, need: Need) -> float:
        """What a bound of `need` is multiplied with at the energy of this mix."""
        return 1.0 if need.reference_energy is None else self.energy / need.reference_energy

    def bounds(self, need: Need) -> tuple[float | None, float | None]:
        """Minimum and maximum of `need` at the energy of this mix."""
        factor = self.energy_factor(need)
        return tuple(None if bound is None else bound * factor for bound in (need.minimum, need.maximum))

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


def implausible(
    feeds: Mapping[str, float], analysis: Mapping[str, float], stage: Stage | None, library: Library
) -> list[str]:
    """Sentences on what no ration of `stage` would hold; empty if nothing is odd.

    Parameters
    ----------
    feeds : share of the mix by library feed, 0 to 1, the crops inside a bin included
    analysis : nutrients of the mix as fed, in the library's units
    stage : a stage of the library, or None for one of the farm's own, which is held to the widest bounds
    """
    found = []
    for bound in _bounds(stage, library):
        members = library.families.get(bound.measure)
        if members is not None:
            held = 100 * sum(share for feed, share in feeds.items() if feed in members)
            name = feed_label(bound.measure, library)
        elif bound.measure in analysis:
            held, name = analysis[bound.measure], nutrient_label(bound.measure, library)
        else:
            continue
        if held > bound.at_most_pct + 1e-6:
            found.append(f"{name} is {held:.3g} % of the mix; the trade uses at most {bound.at_most_pct:g} % here.")
    return found


def _bounds(stage: Stage | None, library: Library) -> list[PlausibleBound]:
    """Per measure the bound of the nearest scope of the stage."""
    scopes = (*stage.scopes, ANY_STAGE) if stage else (ANY_STAGE,)
    nearest: dict[str, PlausibleBound] = {}
    for bound in sorted((b for b in library.plausible if b.scope in scopes), key=lambda b: scopes.index(b.scope)):
        nearest.setdefault(bound.measure, bound)
    return list(nearest.values())
