"""Requirements and caps against what a mix gives, with the prices of the optimum; what a nearest mix misses."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from math import sqrt
from statistics import NormalDist

from rationlp.errors import given
from rationlp.farm import Farm
from rationlp.figures import feed_label, nutrient_label, nutrient_units
from rationlp.library.read import Library
from rationlp.rations.answer.mix import MEETS, Mix, price_of
from rationlp.rations.answer.model import LimitLine, PriceOf, RatioLine, RequirementLine, Shortfall, Side
from rationlp.rations.answer.ratios import ELECTROLYTES
from rationlp.rations.program.rows import counted, need_scale
from rationlp.rations.program.variance import row_variances
from rationlp.rations.program.vitamins import FOODS, premix_alone
from rationlp.rations.solve.chance import CUT_MARK
from rationlp.rations.solve.model import Answer
from rationlp.stages.model import ADDED, PRACTISED, Cap, ContaminantNeed, Need, NeedKind

Bound = tuple[float, Need] | None  # a bound at the energy of the mix, and the need it comes from
WISH, PRACTICE, SLOW, NUTRIENT, ENERGY = range(5)
"""How much harm a shortfall does (a judgement): a home-grown share that was wished for; what practice advises on fibre,
fat, electrolytes, coarse calcium and milk sugar, and what a better premix brings; protein and fatty acids, which amino
acids and energy stand behind; amino acids, minerals and whatever else the stage asks for; energy."""
SLOW_NUTRIENTS = (
    "crude_protein",
    "sid_crude_protein_pig",
    "sid_crude_protein_poultry",
    "linoleic_acid",
    "alpha_linolenic_acid",
    ELECTROLYTES,
)
HOME_GROWN_SHARE = "home_grown_share"
_NORMAL = NormalDist()


def requirement_lines(mix: Mix, answer: Answer, farm: Farm) -> tuple[RequirementLine, ...]:
    """A line per nutrient, its minimum and maximum at the energy of this mix, the premix's nutrients after them."""
    together: dict[tuple[str, bool, tuple[str, ...]], list[Need]] = {}
    for need in mix.formula.stage.needs:
        if need.needs_figure or any(need.nutrient in candidate.values for _, candidate in mix.used):
            together.setdefault((need.nutrient, need.usual is not None, need.of_groups), []).append(need)
    places = {nutrient: place for place, nutrient in enumerate(farm.library.nutrients)}
    order = sorted(together, key=lambda key: (key[1], places.get(key[0], len(places)), bool(key[2])))
    prices = _shadow_prices(mix, answer)
    units = nutrient_units(farm.book, farm.library)
    return (
        *(_line(together[key], mix, prices, farm.library) for key in order),
        *(_contaminant_line(need, mix, answer) for need in mix.formula.contaminants),
        *(_premix_line(need, mix, units[need.nutrient], farm.library) for need in mix.formula.stage.premix_needs),
    )


def _shadow_prices(mix: Mix, answer: Answer) -> dict[tuple[int, str], float]:
    """Change of the objective for one more unit of a bound as it stands for this mix, by need and side.

    A unit more of the bound asks one unit more of the row for every tonne in a unit of the objective, and the dual is
    the cost of one unit of the row. The cuts of a confidence are of the same bound as the row they belong to, and their
    prices add to its price.
    """
    if answer.solution is None:
        return {}
    needs = {
        row.key: source
        for row, source in zip(mix.formula.program.rows, mix.formula.sources, strict=True)
        if isinstance(source, Need)
    }
    prices: dict[tuple[int, str], float] = {}
    for row, dual in answer.duals:
        need = needs.get(row.key.split(CUT_MARK)[0]) if dual else None
        if need is not None:
            side = Side.MINIMUM if row.sense == ">=" else Side.MAXIMUM
            bound = given(need.minimum if side is Side.MINIMUM else need.maximum, f"the bound of {row.key}")
            price = dual / need_scale(bound) * answer.tonnes
            prices[id(need), side] = prices.get((id(need), side), 0.0) + price
    return prices


def _line(needs: list[Need], mix: Mix, prices: dict[tuple[int, str], float], library: Library) -> RequirementLine:
    """The strictest minimum and the strictest maximum of one nutrient against what the mix gives."""
    bounds = [(mix.bounds(need), need) for need in needs]
    low: Bound = max(((b[0], need) for b, need in bounds if b[0] is not None), key=lambda s: s[0], default=None)
    high: Bound = min(((b[1], need) for b, need in bounds if b[1] is not None), key=lambda s: s[0], default=None)
    nutrient, gives = needs[0].nutrient, mix.gives(needs[0])
    used = [side[1] for side in (low, high) if side]
    binding, price = _binding(gives, low, high, prices)
    sd, probability = _chance(gives, low, high, mix)
    return RequirementLine(
        nutrient=nutrient,
        label=nutrient_label(nutrient, library) + (ADDED if needs[0].of_groups else ""),
        unit=needs[0].unit,
        minimum=low[0] if low else None,
        maximum=high[0] if high else None,
        gives=gives,
        meets=not (low and gives < low[0] - _room(low)) and not (high and gives > high[0] + _room(high)),
        binding=binding,
        shadow_price=price,
        kind=used[0].kind,
        basis=_together(need.basis for need in used),
        source=_together(need.source for need in used),
        how=_together(need.how for need in used),
        note=_together(need.note for need in used),
        sd=sd,
        probability=probability,
        shadow_price_of=price_of(mix.formula),
    )


def _together(words: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(filter(None, words)))


def _room(side: tuple[float, Need]) -> float:
    return MEETS * max(abs(side[0]), 1e-9)


def _binding(gives: float, low: Bound, high: Bound, prices: dict[tuple[int, str], float]) -> tuple[Side | None, float]:
    """Which bound holds the mix, and what it costs; of two that coincide, the one with a price."""
    found: tuple[Side | None, float] = (None, 0.0)
    for name, side in ((Side.MINIMUM, low), (Side.MAXIMUM, high)):
        if side is None:
            continue
        price = prices.get((id(side[1]), name), 0.0)
        if (price or abs(gives - side[0]) <= _room(side)) and not found[1]:
            found = (name, price)
    return found


def _chance(gives: float, low: Bound, high: Bound, mix: Mix) -> tuple[float, float]:
    """Sd of what the mix gives against its bounds, and the probability (0 to 1) that it keeps them all."""
    worst_sd, missed = 0.0, 0.0
    for sign, side in ((1.0, low), (-1.0, high)):
        if side is None:
            continue
        bound, need = side
        at_table = given(need.minimum if sign > 0 else need.maximum, f"the bound of {need.nutrient}")
        energy = mix.formula.stage.energy
        counting = [(share, c.spread) for share, c in mix.used if counted(need, c)]
        variances = row_variances(need, at_table, (spread for _, spread in counting), energy)
        sd = sqrt(sum(share**2 * variance for (share, _), variance in zip(counting, variances, strict=True)))
        slack = sign * (gives - bound)
        missed += 1 - (_NORMAL.cdf(slack / sd) if sd else float(slack >= -_room(side)))
        worst_sd = max(worst_sd, sd)
    return worst_sd, max(1 - missed, 0.0)


def _contaminant_line(need: ContaminantNeed, mix: Mix, answer: Answer) -> RequirementLine:
    """What assayed bins bring of a contaminant; kept by the safe side of their content, shown at the mean."""
    gives, safe, variance = 0.0, 0.0, 0.0
    for share, candidate in mix.used:
        gives += share * need.contents.get(candidate.name, 0.0)
        safe += share * need.safe_contents.get(candidate.name, 0.0)
        variance += (share * need.sds.get(candidate.name, 0.0)) ** 2
    dual = 0.0
    if answer.solution is not None:
        rows = zip(mix.formula.sources, answer.solution.row_duals, strict=False)  # cuts stand after these
        dual = sum(price for source, price in rows if source is need) * answer.tonnes
    slack = need.maximum - gives
    probability = _NORMAL.cdf(slack / sqrt(variance)) if variance else float(slack >= 0)
    binds = bool(dual) or abs(safe - need.maximum) <= MEETS * max(need.maximum, 1e-9)
    return RequirementLine(
        need.nutrient,
        need.label,
        need.unit,
        None,
        need.maximum,
        gives,
        safe <= need.maximum * (1 + MEETS) + 1e-12,
        Side.MAXIMUM if binds else None,
        dual / need_scale(need.maximum),
        "contaminant",
        "per kg, safe side of the assay",
        need.source,
        need.how,
        note=need.rule,
        sd=sqrt(variance),
        probability=probability,
        shadow_price_of=price_of(mix.formula),
    )


def _premix_line(need: Need, mix: Mix, unit: str, library: Library) -> RequirementLine:
    """What the premix (and the feeds whose figure is known) gives; a feed without a figure is not counted.

    Of vitamins A, D, E, K, B12 and riboflavin the premix alone counts: what feeds hold of them is lost in store or too
    little to build on.
    """
    low, high = mix.bounds(need)
    alone = premix_alone(need, library)
    counting = [(share, c) for share, c in mix.used if not (alone and c.group in FOODS)]
    known = [share * c.values[need.nutrient] for share, c in counting if need.nutrient in c.values]
    gives = sum(known) if any(known) else None
    meets = None if gives is None or low is None else gives >= low * (1 - MEETS)
    return RequirementLine(
        need.nutrient,
        nutrient_label(need.nutrient, library),
        unit,
        low,
        high,
        gives,
        meets,
        None,
        0.0,
        "requirement",
        need.basis,
        need.source,
        need.how,
        "premix",
        need.note,
    )


def limit_lines(mix: Mix, answer: Answer, library: Library) -> tuple[LimitLine, ...]:
    """Every cap and floor on feeds against what the mix holds."""
    formula = mix.formula
    duals: dict[int, float] = {}
    if answer.solution is not None:
        for source, dual in zip(formula.sources, answer.solution.row_duals, strict=False):  # cuts stand after these
            if isinstance(source, Cap):
                duals[id(source)] = duals.get(id(source), 0.0) + dual * answer.tonnes
    of = price_of(formula)
    return tuple(_limit_line(cap, mix.content(cap), duals.get(id(cap), 0.0), of, library) for cap in formula.caps)


def _limit_line(cap: Cap, held: float, dual: float, of: PriceOf, library: Library) -> LimitLine:
    return LimitLine(
        feed=cap.feed,
        label=feed_label(cap.feed, library),
        max_pct=None if cap.max_share is None else 100 * cap.max_share,
        min_pct=None if cap.min_share is None else 100 * cap.min_share,
        gives_pct=100 * held,
        binding=bool(dual),
        shadow_price=dual / 100,
        reason=cap.reason,
        source=cap.source,
        evidence=cap.evidence,
        safety=cap.safety,
        how=cap.how,
        shadow_price_of=of,
    )


def shortfalls(
    lines: Sequence[RequirementLine], ratios: Sequence[RatioLine], mix: Mix, library: Library
) -> tuple[Shortfall, ...]:
    """Everything the mix misses, by the harm it does and then by how much is missing."""
    stage = mix.formula.stage
    yielding = {need.nutrient for need in stage.needs if need.gives_way}
    practised = {(ratio.numerator, ratio.denominator) for ratio in stage.ratios if not ratio.safety}
    found = [
        Shortfall(
            line.nutrient,
            line.label,
            line.unit,
            bound,
            line.gives,
            _percent(bound, line.gives),
            side,
            _harm(line, yielding, library),
        )
        for line in lines
        if line.meets is False and line.gives is not None and line.met_by != "premix" and line.kind != "usual"
        for side, bound in _missed(line, line.gives)
    ]
    found += [
        Shortfall(
            f"{line.numerator}:{line.denominator}",
            line.label,
            line.unit,
            bound,
            line.gives,
            _percent(bound, line.gives),
            side,
            PRACTICE if (line.numerator, line.denominator) in practised else NUTRIENT,
        )
        for line in ratios
        if line.meets is False and line.gives is not None
        for side, bound in _missed(line, line.gives)
    ]
    found += _of_wish(mix)
    return tuple(sorted(found, key=lambda shortfall: (shortfall.harm, shortfall.short_pct)))


def _missed(line: RequirementLine | RatioLine, gives: float) -> list[tuple[Side, float]]:
    """The sides of a line that the mix misses, with their bounds; at least the one it is farther from."""
    sides = [(Side.MINIMUM, line.minimum, 1.0), (Side.MAXIMUM, line.maximum, -1.0)]
    known = [(name, bound, sign * (bound - gives)) for name, bound, sign in sides if bound is not None]
    found = [(name, bound) for name, bound, missing in known if missing > MEETS * max(abs(bound), 1e-9)]
    return found or [max(known, key=lambda side: side[2])[:2]]


def _of_wish(mix: Mix) -> list[Shortfall]:
    """The home-grown share that was asked for, where the mix has less."""
    wanted = mix.formula.home_grown
    held = sum(share for share, candidate in mix.used if candidate.home_grown)
    if held >= wanted - 1e-6:
        return []
    return [
        Shortfall(
            HOME_GROWN_SHARE,
            "Home-grown share",
            "%",
            100 * wanted,
            100 * held,
            _percent(wanted, held),
            Side.MINIMUM,
            WISH,
        )
    ]


def _harm(line: RequirementLine, yielding: Collection[str], library: Library) -> int:
    if line.kind == NeedKind.ENERGY_FLOOR:
        return ENERGY
    known = library.nutrients.get(line.nutrient)
    advised = line.kind == NeedKind.CEILING or line.nutrient in PRACTISED or line.nutrient in yielding
    if advised or (known is not None and known.kind == "vitamin"):
        return PRACTICE
    return SLOW if line.nutrient in SLOW_NUTRIENTS else NUTRIENT


def _percent(bound: float, gives: float) -> float:
    return 100 * abs(bound - gives) / bound if bound else 100.0
