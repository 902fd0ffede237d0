"""The bought part of a ration as one mix, for farms that mix once a month and feed daily; one mix for several stages.

A ration of stage s is one part of concentrate c and g parts of home-grown grain. Every requirement is homogeneous, so
that with the concentrate's shares normalized, sum(c) = 1, and the grain per part of concentrate free, all stages stand
in one linear program (shared_program.py); the inclusion rate is 1 / (1 + sum(g)). Only the costs are ratios; how the
least sum of them is found and proven stands in shared_search.py. Where stages take different amounts of the concentrate
the dose of the premix may be passed, up to the premix's own cap. Chances are kept by cuts, as in a ration of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rationlp.book.records import Book
from rationlp.errors import SolverError, given
from rationlp.farm import Farm
from rationlp.feeds.candidates import PREMIX_HALVES
from rationlp.finder import listed
from rationlp.rations.answer.describe import describe
from rationlp.rations.answer.farm_totals import group_feed
from rationlp.rations.answer.mix import IN_MIX
from rationlp.rations.answer.model import MixLine, Ration
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.model import Answer
from rationlp.rations.studies.shared_program import SharedProgram
from rationlp.rations.studies.shared_search import Found, any_mix, least_mix


@dataclass(frozen=True, slots=True)
class Part:
    """A feed with its share of the concentrate, or of the ration, 0 to 1."""

    offer: str
    feed: str
    label: str
    share: float


@dataclass(frozen=True, slots=True)
class Use:
    """How one stage is fed with a concentrate; shares of the whole ration.

    Both costs are per tonne or per Gcal, as `objective` says; `premix_doses` how many doses of the premix the stage
    gets (one in a ration of its own), `ration` the mix judged by every requirement of the stage.
    """

    stage: str
    stage_label: str
    bin: str
    inclusion: float
    grain: tuple[Part, ...]
    objective: str
    cost: float
    cost_of_own_ration: float
    premix_doses: float
    ration: Ration


@dataclass(frozen=True, slots=True)
class Concentrate:
    """One mix of bought feeds, what it costs per tonne, and the stages it serves.

    `unproven_pct` is what a longer search might still save at most, in percent of the cost of all the rations together.
    """

    parts: tuple[Part, ...]
    cost_per_tonne: float
    uses: tuple[Use, ...]
    unproven_pct: float = 0.0


def concentrate_of(made: SolvedRation) -> Concentrate | None:
    """The bought part of a finished ration as a mix of its own; None where nothing is bought."""
    ration, grown = made.ration, {c.name for c in made.formula.candidates if c.home_grown}
    bought = [line for line in ration.mix if line.share and line.offer not in grown]
    inclusion = sum(line.share for line in bought)
    if not inclusion:
        return None
    grain = tuple(_part(line, 1.0) for line in ration.mix if line.share and line.offer in grown)
    price = sum(line.share * line.price_per_tonne for line in bought) / inclusion
    own = cost_of(ration)
    doses = _doses(made.formula, {line.offer: line.share for line in ration.mix})
    use = Use(ration.stage, ration.stage_label, ration.bin, inclusion, grain, ration.objective, own, own, doses, ration)
    return Concentrate(tuple(_part(line, inclusion) for line in bought), price, (use,))


def cost_of(ration: Ration) -> float:
    """The cost of a ration as its objective counts it."""
    cost = ration.cost_per_gcal if ration.objective == "per_energy" else ration.cost_per_tonne
    return given(cost, f"the cost of the mix for {ration.stage}")


def _part(line: MixLine, of: float) -> Part:
    return Part(line.offer, line.feed, line.label, line.share / of)


def _doses(formula: Formula, shares: dict[str, float]) -> float:
    """Doses of the premix in a mix, counted by the vitamins where it has any."""
    for part in PREMIX_HALVES.values():
        found = [
            shares.get(c.name, 0.0) / c.premix_inclusion
            for c in formula.candidates
            if part in c.premix_covers and c.premix_inclusion
        ]
        if found:
            return sum(found)
    return 0.0


def shared_concentrates(makes: Sequence[SolvedRation], farm: Farm) -> list[Concentrate]:
    """As few concentrates as serve all the rations, which must be whole: stages join the first that still serves them.

    Only rations from the same bins share one, and weigh by what the groups of the book eat. Raises SolverError.
    """
    groups: list[list[SolvedRation]] = []
    for made in makes:
        if concentrate_of(made) is None:
            continue
        for together in groups:
            if together[0].ration.bin == made.ration.bin and _serves([*together, made], farm.book):
                together.append(made)
                break
        else:
            groups.append([made])
    found = [
        shared_concentrate(together, weights_of(together, farm.book), farm)
        if len(together) > 1
        else concentrate_of(together[0])
        for together in groups
    ]
    return [concentrate for concentrate in found if concentrate is not None]


def _serves(makes: Sequence[SolvedRation], book: Book) -> bool:
    """Whether one concentrate can serve all these rations."""
    shared = SharedProgram([made.formula for made in makes], book.farm.confidence_pct)
    return bool(shared.bought) and any_mix(shared, [cost_of(made.ration) for made in makes]) is not None


def weights_of(makes: Sequence[SolvedRation], book: Book) -> list[float]:
    """Tonnes, or Gcal, of each ration that the groups of the book eat; one where the book has no group of a stage."""
    weights = []
    for made in makes:
        fed = [group_feed(group, made.ration) for group in book.groups if group.stage == made.ration.stage]
        tonnes = sum(feed.tonnes for feed in fed if feed.tonnes) or 1.0
        if made.ration.objective == "per_energy":
            tonnes *= given(made.ration.energy_kcal_kg, f"the energy of the mix for {made.ration.stage}") / 1000
        weights.append(tonnes)
    return weights


def shared_concentrate(makes: Sequence[SolvedRation], weights: Sequence[float], farm: Farm) -> Concentrate | None:
    """One concentrate for all the stages, at the least weighted sum of their costs; None if none serves them all.

    `weights` are tonnes or Gcal of each ration. Every stage's mix is judged again by its own requirements. Raises
    SolverError if one does not hold.
    """
    shared = SharedProgram([made.formula for made in makes], farm.book.farm.confidence_pct)
    if not shared.bought:
        return None
    own = [cost_of(made.ration) for made in makes]
    found = least_mix(shared, own, weights)
    return None if found is None else _concentrate(shared, found, makes, own, farm)


def _concentrate(
    shared: SharedProgram, found: Found, makes: Sequence[SolvedRation], own: Sequence[float], farm: Farm
) -> Concentrate:
    amounts = found.amounts
    parts = tuple(Part(c.name, c.feed, c.label, x) for c, x in zip(shared.bought, amounts, strict=False) if x > IN_MIX)
    uses = []
    for i, (made, cost) in enumerate(zip(makes, shared.rates(amounts), strict=True)):
        whole = shared.amounts_of(i, amounts)
        total = sum(whole)
        ration = describe(made.formula, Answer(tuple(x / total for x in whole)), farm)
        if ration.shortfalls or ration.status != "optimal":
            short = listed(s.label for s in ration.shortfalls) or "; ".join(ration.findings)
            raise SolverError(f"The shared concentrate does not meet {made.ration.stage} when judged again: {short}.")
        grain = tuple(
            Part(c.name, c.feed, c.label, x / total) for c, x in shared.grain_of(i, amounts) if x / total > IN_MIX
        )
        shares = {c.name: x / total for c, x in zip(made.formula.candidates, whole, strict=True)}
        uses.append(
            Use(
                ration.stage,
                ration.stage_label,
                ration.bin,
                1 / total,
                grain,
                ration.objective,
                cost,
                own[i],
                _doses(made.formula, shares),
                ration,
            )
        )
    price = sum(x * c.price_per_tonne for c, x in zip(shared.bought, amounts, strict=False))
    return Concentrate(parts, price, tuple(uses), 100 * (1 - found.bound / found.total))
