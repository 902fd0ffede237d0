"""Mixes made together where they share what is scarce: how much of it each may hold is part of the question.

With what each mix is for known, the tonnes of every feed in every mix are one linear program: the rows of each mix, the
feed its animals need, and no more of a bin or offer than there is. A mix that is eaten in tonnes which hang on its
own energy is taken to be eaten as the mix before it was; made again from its answer it settles. Each mix is then made
by itself as `ration` makes it, of no more of what is scarce than its part. (With the amounts free as well this is the
pooling problem: C. A. Haverly, Studies of the behavior of recursion for the pooling problem, SIGMAP Bulletin 25, 1978.)
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

import numpy as np

from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Program, RowArrays
from rationlp.rations.solve.general.whole import WholeRow, matrix_of, solve_linear
from rationlp.rations.solve.highs import Matrix
from rationlp.year.program.kitchen import FoundMix, Kitchen, joint_formula, joint_mix
from rationlp.year.program.master import Demand
from rationlp.year.program.search import EatersKey, Search, key_of

USED_UP = 1e-6
"""Of what there is: so near to all of it is all."""
ROUNDING = 1e-9
FITS = 7
"""So often mixes are made of a little less or more of what is scarce, until it is enough for all and little is left."""
NEXT_TO_NOTHING = 1e-4
"""Of what there is: so little may be left over of what is scarce."""
LEAST_USED = 0.5
"""Of what there is: where less of it is used, twice as much is tried next."""
CLOSELY = 2
"""Of more mixes made together it is enough that there is enough: made again and again they take too long."""
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
    """Fares with what each mix is made of, in tonnes by bin and offer, at the least cost of all together.

    `worth` is what one more tonne of each limited bin or offer would save beyond its price, all mixes made anew.
    """

    fares: tuple[Fare, ...]
    tonnes: tuple[Mapping[str, float], ...]
    cost: float
    coefficients: int
    worth: Mapping[str, float]


def pooled_mixes(search: Search, fares: Sequence[Fare]) -> Iterator[FoundMix]:
    """The mixes anew, sharing what is scarce at the least cost of all together; none that cannot be made.

    A mix as `ration` makes it may hold less energy than it has here, or more, so that more of it is eaten, or less, and
    of what is scarce: then all are made again of so much less of it, or more.
    """
    found = pooled(search, fares)
    if found is None:
        return
    held = [(fare, tonnes) for fare, tonnes in zip(found.fares, found.tonnes, strict=True) if sum(tonnes.values())]
    parts = dict.fromkeys(_used_up(search, found.tonnes), 1 - ROUNDING)
    fits, too_much, used = dict[str, float](), dict[str, float](), dict[str, float]()
    for _ in range(FITS):
        made = []
        for fare, tonnes in held:
            whole = sum(tonnes.values())
            at_most = {name: part * tonnes[name] / whole for name, part in parts.items() if name in tonnes}
            mix = _made(search, fare, at_most)
            if mix is not None:
                made.append((fare, mix))
                yield mix
        times = {name: _times_what_there_is(search, name, made) for name in parts}
        for name, part in parts.items():
            (too_much if times[name] > 1 else fits)[name] = part
        settled = {n for n, t in times.items() if 1 - NEXT_TO_NOTHING < t <= 1 or (t <= 1 and t == used.get(n))}
        if settled == set(parts) or (len(held) > CLOSELY and max(times.values(), default=0.0) <= 1):
            return
        used = times
        parts = {
            name: part if name in settled else _next_part(part, times[name], fits.get(name), too_much.get(name))
            for name, part in parts.items()
        }


def _made(search: Search, fare: Fare, at_most: Mapping[str, float]) -> FoundMix | None:
    """The mix for all that eat of one, of no more of what is scarce than these shares; each is asked once."""
    key = (*_eaters_key(search, fare), tuple(at_most.items()))
    if key not in search.joint_mixes:
        search.joint_mixes[key] = joint_mix(kitchens_of(search, fare), _plain(search), at_most)
    return search.joint_mixes[key]


def _next_part(part: float, times: float, fits: float | None, too_much: float | None) -> float:
    """The part of what there is to try next: as much less, or more, as was too much, or left; later between what fits
    and what does not."""
    if fits is None or too_much is None:
        return part / max(times, LEAST_USED) * (1 - ROUNDING)
    return (fits + too_much) / 2


def _times_what_there_is(search: Search, name: str, made: Iterable[tuple[Fare, FoundMix]]) -> float:
    """How often what there is of a bin or offer goes into mixes, eaten as these mixes are."""
    used = sum(
        dict(mix.shares).get(name, 0.0) * demand.tonnes(mix)
        for fare, mix in made
        for demand, _ in fare.eaters
        if demand.stage in mix.answers
    )
    return used / max(search.master.supplies[name].tonnes or 0.0, ROUNDING)


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


def _joined(fare: Fare, mix: FoundMix, more: Sequence[tuple[Demand, float]]) -> Fare:
    """A fare with more that eat of it, who ate of `mix` so far: as it is so far it is what all of them eat together, so
    that it holds the energy of all."""
    shares: dict[str, float] = {}
    for held, tonnes in ((fare.mix, fare.tonnes), (mix, sum(tonnes for _, tonnes in more))):
        for name, share in held.shares:
            shares[name] = shares.get(name, 0.0) + share * tonnes
    whole = sum(shares.values())
    together = FoundMix(tuple((name, tonnes / whole) for name, tonnes in shares.items()), fare.mix.answers)
    return Fare(together, (*fare.eaters, *more))


def merged(fares: Sequence[Fare]) -> Iterator[Sequence[Fare]]:
    """Every way to give those that eat of two mixes one, which stands first, the pairs in their order."""
    for one, other in combinations(range(len(fares)), 2):
        both = _joined(fares[one], fares[other].mix, fares[other].eaters)
        yield [both, *(fare for place, fare in enumerate(fares) if place not in (one, other))]


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
                    made = {place: Fare(fare.mix, staying), to: _joined(other, fare.mix, going)}
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
    blocks: list[tuple[Matrix, int]] = []
    used: dict[str, dict[int, float]] = {name: {} for name in master.limited}
    grown: dict[int, float] = {}
    for fare, formula in zip(fares, formulas, strict=True):
        if formula is None:
            return None
        program, first = formula.program, len(costs)
        costs += [prices[name] for name in program.columns]
        need = units_of(fare, program)
        blocks.append((_needing(_rows(search, fare, formula), need), first))
        for j, name in enumerate(program.columns):
            if name in used:
                used[name][first + j] = 1.0
            grown[first + j] = float(master.supplies[name].candidate.home_grown) - master.home_grown
    feeds, rows = len(costs), list[WholeRow]()
    for name, terms in used.items():
        rows.append(({**terms, len(costs): -1.0}, None, master.supplies[name].tonnes or 0.0))
        costs.append(master.penalty)
    if master.home_grown:
        rows.append(({**grown, len(costs): 1.0}, 0.0, None))
        costs.append(master.penalty)
    matrix = Matrix.under_each_other([*blocks, (matrix_of(rows), 0)])
    solution = solve_linear(costs, matrix)
    if not solution.amounts:
        return None
    amounts = iter(solution.amounts[:feeds])
    tonnes = tuple({name: max(next(amounts), 0.0) for name in f.program.columns} for f in formulas if f is not None)
    ends = len(matrix.lower) - len(rows)
    worth = {name: max(-solution.row_duals[ends + i], 0.0) for i, name in enumerate(used)}
    return Pooled(tuple(fares), tonnes, solution.objective, len(matrix.coefficients), worth)


def _needing(rows: Matrix, units: float) -> Matrix:
    """The rows of a program whose last, the normalization, asks for so many units in place of one."""
    return replace(rows, lower=np.append(rows.lower[:-1], units), upper=np.append(rows.upper[:-1], units))


def _formula(search: Search, fare: Fare, prices: Mapping[str, float]) -> Formula | None:
    """The formula of a fare's mix, kept for the next time it is asked."""
    key = _eaters_key(search, fare)
    if key not in search.joints:
        formulas = [kitchen.formula for kitchen in kitchens_of(search, fare)]
        search.joints[key] = joint_formula(formulas, prices) if formulas else None
    return search.joints[key]


def _rows(search: Search, fare: Fare, formula: Formula) -> Matrix:
    """The rows of that formula, kept too."""
    key = _eaters_key(search, fare)
    if key not in search.joint_rows:
        program = formula.program
        arrays = RowArrays.of(program.rows, len(program.columns))
        search.joint_rows[key] = Matrix.of(arrays, program.normalizer)
    return search.joint_rows[key]


def _eaters_key(search: Search, fare: Fare) -> EatersKey:
    """What tells apart the formulas of mixes: what all that eat can have, and their stages, who eats most first."""
    names = frozenset.intersection(*(demand.names for demand, _ in fare.eaters))
    return names, tuple((kitchen.stage.stage, kitchen.by_weight) for kitchen in kitchens_of(search, fare))


def units_of(fare: Fare, program: Program) -> float:
    """What all that eat of a mix eat of it, in what the normalization of a program counts, though it may not have all
    that is in the mix."""
    size = dict(zip(program.columns, program.normalizer, strict=True))
    held = [(share, size[name]) for name, share in fare.mix.shares if name in size]
    whole = sum(share for share, _ in held)
    if not whole:
        return fare.tonnes * sum(program.normalizer) / len(program.normalizer)
    return fare.tonnes * sum(share * n for share, n in held) / whole


def _used_up(search: Search, tonnes: Sequence[Mapping[str, float]]) -> list[str]:
    """The bins and offers of which nothing is left."""
    there = {name: search.master.supplies[name].tonnes or 0.0 for name in search.master.limited}
    return [name for name, most in there.items() if sum(h.get(name, 0.0) for h in tonnes) >= most * (1 - USED_UP)]
