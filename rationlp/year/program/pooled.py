"""Mixes made together where they share what is scarce: how much of it each may hold is part of the question.

With what each mix is for known, the tonnes of every feed in every mix are one linear program: the rows of each mix, the
feed its animals need, and no more of a bin or offer than there is. A mix that is eaten in tonnes which hang on its
own energy is taken to be eaten as the mix before it was; made again from its answer it settles. Each mix is then made
by itself as `ration` makes it, of no more of what is scarce than its part. (With the amounts free as well this is the
pooling problem: C. A. Haverly, Studies of the behavior of recursion for the pooling problem, SIGMAP Bulletin 25, 1978.)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program
from rationlp.rations.solve.general.whole import solve_whole
from rationlp.year.program.kitchen import FoundMix, Kitchen, joint_formula, joint_mix
from rationlp.year.program.master import Demand
from rationlp.year.program.search import Search, key_of

USED_UP = 1e-6
"""Of what there is: so near to all of it is all."""
ROUNDING = 1e-9
CHEAPER = 1e-6
"""Of the cost: what a move must save to be made."""
BY_ITSELF = 12
"""So many demands at most are moved from mix to mix one by one too; more of them by stage alone."""
PROGRAMS, COEFFICIENTS = 60, 150_000
"""So many programs, and coefficients in them together, are solved at most to find better moves."""


@dataclass(frozen=True, slots=True)
class Fare:
    """Who eats of one mix, each demand with its tonnes, and the mix as it is so far."""

    mix: FoundMix
    eaters: tuple[tuple[Demand, float], ...]

    @property
    def tonnes(self) -> float:
        """Tonnes eaten of it, as it is so far."""
        return sum(tonnes for _, tonnes in self.eaters)


@dataclass(frozen=True, slots=True)
class Pooled:
    """Fares with what each mix is made of, in tonnes by bin and offer, at the least cost of all together."""

    fares: tuple[Fare, ...]
    tonnes: tuple[Mapping[str, float], ...]
    cost: float
    coefficients: int


def pooled_mixes(search: Search, fares: Sequence[Fare]) -> Iterator[FoundMix]:
    """The mixes anew, sharing what is scarce at the least cost of all together; none that cannot be made."""
    found = pooled(search, fares)
    if found is None:
        return
    scarce = _used_up(search, found.tonnes)
    for fare, held in zip(found.fares, found.tonnes, strict=True):
        whole = sum(held.values())
        if not whole:
            continue
        at_most = {name: held[name] / whole * (1 - ROUNDING) for name in scarce if name in held}
        mix = joint_mix(kitchens_of(search, fare), _plain(search), at_most)
        if mix is not None:
            yield mix


def better_fares(search: Search, fares: Sequence[Fare]) -> Sequence[Fare]:
    """The fares after every move of a demand, or of all of a stage, to another mix that makes the year cheaper."""
    best = pooled(search, fares)
    if best is None or len(fares) < 2:
        return fares
    room, better = _Room(), True
    while better:
        better = False
        for moved in _moves(best.fares):
            if not room.for_more:
                return best.fares
            found = room.asked(pooled(search, moved))
            if found is not None and found.cost < best.cost - CHEAPER * abs(best.cost):
                best, better = found, True
                break
    return best.fares


def cheapest_fares(search: Search, ways: Iterable[Sequence[Fare]]) -> Sequence[Fare]:
    """The cheapest of these ways to share out the year, the first ones where they are too many; empty without any."""
    room, best = _Room(), None
    for fares in ways:
        found = room.asked(pooled(search, fares)) if fares and room.for_more else None
        if found is not None and (best is None or found.cost < best.cost):
            best = found
    return best.fares if best is not None else ()


def split_in_time(fares: Sequence[Fare]) -> Iterator[Sequence[Fare]]:
    """Every way to give those that eat of one mix, or of all mixes, another one from some day on."""
    for place, fare in enumerate(fares):
        for day in sorted({demand.window[0] for demand, _ in fare.eaters})[1:]:
            early = tuple(each for each in fare.eaters if each[0].window[0] < day)
            late = tuple(each for each in fare.eaters if each[0].window[0] >= day)
            yield [*fares[:place], Fare(fare.mix, early), Fare(fare.mix, late), *fares[place + 1 :]]


class _Room:
    """How many more programs may be asked: a limit by work, the same on every machine."""

    def __init__(self) -> None:
        self._programs, self._coefficients = 0, 0

    @property
    def for_more(self) -> bool:
        """Whether one more may be asked."""
        return self._programs < PROGRAMS and self._coefficients < COEFFICIENTS

    def asked(self, found: Pooled | None) -> Pooled | None:
        """Count a program, and hand on its answer."""
        self._programs += 1
        self._coefficients += found.coefficients if found is not None else 0
        return found


def _moves(fares: Sequence[Fare]) -> Iterator[tuple[Fare, ...]]:
    """Every way to let all of a stage that eats of a mix, or one demand alone where they are few, eat of another."""
    single = sum(len(fare.eaters) for fare in fares) <= BY_ITSELF
    for place, fare in enumerate(fares):
        for going in _blocks(fare, single):
            staying = tuple(each for each in fare.eaters if each not in going)
            for to, other in enumerate(fares):
                if to != place:
                    made = {place: Fare(fare.mix, staying), to: Fare(other.mix, (*other.eaters, *going))}
                    yield tuple(f for i, held in enumerate(fares) if (f := made.get(i, held)).eaters)


def _blocks(fare: Fare, single: bool) -> Iterator[tuple[tuple[Demand, float], ...]]:
    for stage in dict.fromkeys(demand.stage for demand, _ in fare.eaters):
        of_stage = tuple(each for each in fare.eaters if each[0].stage == stage)
        yield of_stage
        if single and len(of_stage) > 1:
            yield from ((each,) for each in of_stage)


def kitchens_of(search: Search, fare: Fare) -> list[Kitchen]:
    """The kitchens of those that eat of a mix, of what all of them can have, who eats most first."""
    names = frozenset.intersection(*(demand.names for demand, _ in fare.eaters))
    eaten: dict[tuple[str, bool, frozenset[str]], float] = {}
    for demand, tonnes in fare.eaters:
        key = (*key_of(demand)[:2], names)
        eaten[key] = eaten.get(key, 0.0) + tonnes
    order = sorted(eaten, key=lambda key: -eaten[key])
    return [kitchen for key in order if (kitchen := search.kitchen(key)) is not None]


def _plain(search: Search) -> dict[str, float]:
    return {name: price + search.master.mixing for name, price in search.master.prices_per_tonne.items()}


def pooled(search: Search, fares: Sequence[Fare]) -> Pooled | None:
    """The tonnes of each bin and offer in each mix, at the least cost; more than there is at a penalty. None where some
    mix has no ration, or the solver no answer."""
    master, prices = search.master, _plain(search)
    formulas = [_formula(search, fare, prices) for fare in fares]
    costs: list[float] = []
    rows: list[tuple[Mapping[int, float], float | None, float | None]] = []
    used: dict[str, dict[int, float]] = {name: {} for name in master.limited}
    grown: dict[int, float] = {}
    for fare, formula in zip(fares, formulas, strict=True):
        if formula is None:
            return None
        program, first = formula.program, len(costs)
        costs += [prices[name] for name in program.columns]
        for row in program.rows:
            terms = {first + j: a for j, a in enumerate(row.coefficients) if a}
            rows.append((terms, 0.0 if row.sense != "<=" else None, 0.0 if row.sense != ">=" else None))
        need = _units_per_tonne(fare.mix, program) * fare.tonnes
        rows.append(({first + j: n for j, n in enumerate(program.normalizer)}, need, need))
        for j, name in enumerate(program.columns):
            if name in used:
                used[name][first + j] = 1.0
            grown[first + j] = float(master.supplies[name].candidate.home_grown) - master.home_grown
    feeds = len(costs)
    for name, terms in used.items():
        rows.append(({**terms, len(costs): -1.0}, None, master.supplies[name].tonnes or 0.0))
        costs.append(master.penalty)
    if master.home_grown:
        rows.append(({**grown, len(costs): 1.0}, 0.0, None))
        costs.append(master.penalty)
    found = solve_whole(costs, [(0.0, None, False)] * len(costs), rows, gap=0.0)
    if not found.found:
        return None
    amounts = iter(found.solution.amounts[:feeds])
    tonnes = tuple({name: max(next(amounts), 0.0) for name in f.program.columns} for f in formulas if f is not None)
    return Pooled(tuple(fares), tonnes, found.solution.objective, sum(len(terms) for terms, _, _ in rows))


def _formula(search: Search, fare: Fare, prices: Mapping[str, float]) -> Formula | None:
    """The formula of a fare's mix, kept for the next time it is asked."""
    names = frozenset.intersection(*(demand.names for demand, _ in fare.eaters))
    kitchens = kitchens_of(search, fare)
    key = (names, tuple((kitchen.stage.stage, kitchen.by_weight) for kitchen in kitchens))
    if key not in search.joints:
        search.joints[key] = joint_formula([kitchen.formula for kitchen in kitchens], prices) if kitchens else None
    return search.joints[key]


def _units_per_tonne(mix: FoundMix, program: Program) -> float:
    """What a tonne of a mix counts in the normalization of a program that may not have all of it."""
    size = dict(zip(program.columns, program.normalizer, strict=True))
    held = [(share, size[name]) for name, share in mix.shares if name in size]
    whole = sum(share for share, _ in held)
    if not whole:
        return sum(program.normalizer) / len(program.normalizer)
    return sum(share * n for share, n in held) / whole


def _used_up(search: Search, tonnes: Sequence[Mapping[str, float]]) -> list[str]:
    """The bins and offers of which nothing is left."""
    there = {name: search.master.supplies[name].tonnes or 0.0 for name in search.master.limited}
    return [name for name, most in there.items() if sum(h.get(name, 0.0) for h in tonnes) >= most * (1 - USED_UP)]
