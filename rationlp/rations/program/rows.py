"""Needs, ratios, caps and offers as homogeneous rows of the program, each family by its own function."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from rationlp.errors import given
from rationlp.feeds.candidates import PREMIX_HALVES, Candidate
from rationlp.numbers import Floats
from rationlp.rations.program.program import ProgramRow, Sense
from rationlp.stages.limits import content
from rationlp.stages.model import Cap, ContaminantNeed, Need, NeedKind, RatioNeed

HOME_GROWN = "home-grown:"
PREMIX, MOST_PREMIX = "premix:", "most_premix:"
"""Before the half of a premix in the keys of the rows that keep its least and its largest dose."""
Side = tuple[str, float | None, Sense]
"""A side of a bound in words, the bound itself, and what its row asks."""
PRACTICE_RANK, VITAMIN_RANK, USUAL_RANK, WISH_RANK, NEED_RANK, ENERGY_RANK, LAW_RANK = -3, -2, -1, 0, 1, 2, 3
"""Where nothing meets everything: what practice advises on fibre, fat, coarse calcium and milk sugar gives way first,
and vitamins and trace minerals that no grain is bought for, both to cost as well; then what the trade uses at most, the
home-grown share asked for, requirements, energy, and last of all, where even that is not enough, laws of the mix."""
PRICED_RANKS = (PRACTICE_RANK, VITAMIN_RANK)


def sizes_of(bounds: Sequence[float], amounts: Sequence[float]) -> tuple[float, ...]:
    """What each column counts against in a row of amounts less bounds; the amounts where every bound is nothing."""
    return tuple(map(abs, bounds if any(bounds) else amounts))


def counted(need: Need, candidate: Candidate) -> bool:
    """Whether what `candidate` brings of the nutrient counts in the rows of `need`."""
    return not need.of_groups or candidate.group in need.of_groups


def amount_of(need: Need, candidate: Candidate) -> float:
    """What one share of `candidate` counts in the rows of `need`; no figure is nothing in a ceiling or of a vitamin."""
    return amounts_of(need, (candidate,))[0]


def amounts_of(need: Need, candidates: Sequence[Candidate]) -> list[float]:
    """`amount_of` each of the candidates; a figure that is needed is there (`without_gaps`)."""
    nutrient = need.nutrient
    if need.of_groups:
        return [c.values.get(nutrient, 0.0) if counted(need, c) else 0.0 for c in candidates]
    if need.needs_figure and not need.gives_way:
        return [candidate.values[nutrient] for candidate in candidates]
    return [candidate.values.get(nutrient, 0.0) for candidate in candidates]


def has_chance(source: Need | RatioNeed) -> bool:
    """Whether a row is kept with a chance: no practice of the trade, nor what premixes add to a figure."""
    if isinstance(source, RatioNeed):
        return source.safety
    return not (source.usual or source.of_groups)


def need_scale(bound: float) -> float:
    """Rows are divided by their bound, so that a shortfall reads as a fraction of the need."""
    return bound if bound > 0 else 1.0


def _sides(minimum: float | None, maximum: float | None) -> tuple[Side, Side]:
    return ("minimum", minimum, ">="), ("maximum", maximum, "<=")


def need_rows(
    needs: Iterable[Need], candidates: Sequence[Candidate], energy: str | None
) -> list[tuple[ProgramRow, Need]]:
    """sum((a_i - r w_i) x_i) >= 0 for a minimum r, <= 0 for a maximum (methods of the feeding tables, homogeneous).

    Each row with its need; all of them are calculated as one array. One share of a candidate counts w against the
    bound: 1, or, where the need follows the energy, its energy over the reference energy.
    """
    sided: list[tuple[Need, str, float, Sense]] = [
        (need, side, bound, sense)
        for need in needs
        for side, bound, sense in _sides(need.minimum, need.maximum)
        if bound is not None
    ]
    if not sided:
        return []
    bounds = np.array([[bound] for _, _, bound, _ in sided])
    scales = np.array([[need_scale(bound)] for _, _, bound, _ in sided])
    held = {id(need): amounts_of(need, candidates) for need, *_ in sided}  # by both sides of a need
    amounts = np.array([held[id(need)] for need, *_ in sided])
    counted_against = bounds * _weights([need for need, *_ in sided], candidates, energy)
    coefficients = (amounts - counted_against) / scales
    against = counted_against / scales
    sizes = np.abs(np.where(against.any(axis=1, keepdims=True), against, amounts / scales))
    return [
        (
            ProgramRow(
                f"{need.kind}:{need.nutrient}:{side}:{need.basis}",
                tuple(row),
                sense,
                relaxable=not need.safety,
                rank=_rank(need),
                sizes=_held(size),
            ),
            need,
        )
        for (need, side, _, sense), row, size in zip(sided, coefficients.tolist(), sizes.tolist(), strict=True)
    ]


def _held(figures: Sequence[float]) -> tuple[float, ...]:
    """The figures of a row, where all are the same one number many times over: rows stay for as long as a ration."""
    return (figures[0],) * len(figures) if len(set(figures)) == 1 else tuple(figures)


def _weights(needs: Sequence[Need], candidates: Sequence[Candidate], energy: str | None) -> Floats:
    """By need and candidate how much one share counts against the bound."""
    found = np.ones((len(needs), len(candidates)))
    following = [place for place, need in enumerate(needs) if need.reference_energy is not None]
    if following:
        followed = given(energy, f"the energy that {needs[following[0]].nutrient} follows")
        references = np.array([[needs[place].reference_energy] for place in following])
        found[following] = np.array([candidate.values[followed] for candidate in candidates]) / references
    return found


def _rank(need: Need) -> int:
    if need.kind is NeedKind.ENERGY_FLOOR:
        return ENERGY_RANK
    if need.usual:
        return USUAL_RANK
    if need.is_practice:
        return PRACTICE_RANK
    return VITAMIN_RANK if need.gives_way else NEED_RANK


def contaminant_rows(need: ContaminantNeed, candidates: Sequence[Candidate]) -> list[ProgramRow]:
    """Every feed with a result at the safe side of its content, all else at nothing; never given up."""
    scale = need_scale(need.maximum)
    contents = [need.safe_contents.get(c.name, 0.0) / scale for c in candidates]
    bounds = [need.maximum / scale] * len(contents)
    coefficients = tuple((need.safe_contents.get(c.name, 0.0) - need.maximum) / scale for c in candidates)
    return [ProgramRow(f"contaminant:{need.nutrient}", coefficients, "<=", sizes=sizes_of(bounds, contents))]


def ratio_rows(ratio: RatioNeed, candidates: Sequence[Candidate]) -> list[ProgramRow]:
    """sum((a_i - r b_i) x_i) against zero, for a over b."""
    rows = []
    for side, bound, sense in _sides(ratio.minimum, ratio.maximum):
        if bound is not None:
            amounts = [c.values[ratio.numerator] for c in candidates]
            bounds = [bound * c.values[ratio.denominator] for c in candidates]
            coefficients = tuple(a - b for a, b in zip(amounts, bounds, strict=True))
            key = f"ratio:{ratio.numerator}:{ratio.denominator}:{side}"
            gives_way = side == "minimum" or not ratio.safety
            rank = NEED_RANK if ratio.safety else PRACTICE_RANK
            rows.append(ProgramRow(key, coefficients, sense, gives_way, rank, sizes_of(bounds, amounts)))
    return rows


def cap_rows(caps: Iterable[Cap], candidates: Sequence[Candidate]) -> Iterator[tuple[ProgramRow, Cap]]:
    """The crop or feed counted wherever it comes from, a bin's blend by its share included; each row with its cap."""
    count = len(candidates)
    holders: dict[str, list[int]] = {}
    for place, candidate in enumerate(candidates):
        for feed in candidate.feeds:
            holders.setdefault(feed, []).append(place)
    for cap in caps:
        carried = [0.0] * count
        for place in {place for feed in cap.members for place in holders.get(feed, ())}:
            carried[place] = content(cap, candidates[place])
        rank, relaxable = USUAL_RANK if cap.usual else NEED_RANK, cap.usual is not None
        sides: tuple[Side, ...] = (("at most", cap.max_share, "<="), ("at least", cap.min_share, ">="))
        for side, bound, sense in sides:
            if bound is not None:
                key = f"limit:{cap.feed}:{side}:{cap.evidence}"
                without = 0.0 - bound  # one number for the many that carry nothing
                coefficients = tuple([share - bound if share else without for share in carried])
                sizes = (abs(bound),) * count if bound else tuple(carried)
                yield ProgramRow(key, coefficients, sense, relaxable, rank, sizes), cap


def offer_rows(candidate: Candidate, index: int, count: int) -> list[ProgramRow]:
    """The smallest and largest share of one offer that the book allows."""
    bounds: tuple[Side, ...] = (("at least", candidate.min_share, ">="), ("at most", candidate.max_share, "<="))
    if candidate.is_fixed:
        bounds = (("exactly", candidate.min_share, "="),)
    return [
        ProgramRow(
            f"offer:{candidate.name}:{side}",
            tuple((j == index) - bound for j in range(count)),
            sense,
            sizes=sizes_of([bound] * count, [float(j == index) for j in range(count)]),
        )
        for side, bound, sense in bounds
        if bound is not None
    ]


def home_grown_rows(candidates: Sequence[Candidate], least_share: float) -> list[ProgramRow]:
    """The share of home-grown feed in the mix, at least; the first to give way where it cannot be had."""
    if not least_share:
        return []
    coefficients = tuple(float(candidate.home_grown) - least_share for candidate in candidates)
    key, sizes = f"{HOME_GROWN}at least {100 * least_share:g} %", (least_share,) * len(coefficients)
    return [ProgramRow(key, coefficients, ">=", relaxable=True, rank=WISH_RANK, sizes=sizes)]


def premix_rows(candidates: Sequence[Candidate]) -> list[ProgramRow]:
    """Vitamins and trace minerals: the premixes on offer add up to one dose each, or to what their makers allow."""
    rows = []
    for part in PREMIX_HALVES.values():
        made = [part in candidate.premix_covers and candidate.premix_inclusion for candidate in candidates]
        least, most = (
            [1 / dose if dose and of else 0.0 for dose, of in zip(doses, made, strict=True)]
            for doses in ([c.premix_inclusion for c in candidates], [c.most_premix for c in candidates])
        )
        if not any(least):
            continue
        if least == most:
            rows.append(_dose_row(f"{PREMIX}{part}", least, "="))
        else:
            rows.append(_dose_row(f"{PREMIX}{part}", least, ">="))
            rows.append(_dose_row(f"{MOST_PREMIX}{part}", most, "<="))
    return rows


def _dose_row(key: str, doses: Sequence[float], sense: Sense) -> ProgramRow:
    return ProgramRow(key, tuple(dose - 1 for dose in doses), sense, sizes=(1.0,) * len(doses))
