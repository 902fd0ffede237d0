"""What a nearest mix misses, most harmless first."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.library.read import Library
from rationlp.rations.mix import Mix
from rationlp.rations.model import RatioLine, RequirementLine, Shortfall
from rationlp.rations.ratios import ELECTROLYTES

WISH, PRACTICE, SLOW, NUTRIENT, ENERGY = range(5)
"""How much harm a shortfall does (a judgement): a home-grown share that was wished for; what practice advises on fibre,
fat, electrolytes; protein and fatty acids, which amino acids and energy stand behind; amino acids, minerals and whatever
else the stage asks for; energy."""
SLOW_NUTRIENTS = ("crude_protein", "linoleic_acid", "alpha_linolenic_acid", ELECTROLYTES)
HOME_GROWN_SHARE = "home_grown_share"


def shortfalls(
    lines: Sequence[RequirementLine], ratios: Sequence[RatioLine], mix: Mix, library: Library
) -> tuple[Shortfall, ...]:
    """Everything the mix misses, by the harm it does and then by how much is missing."""
    found = [_of_line(line) for line in lines if line.meets is False and line.met_by != "premix"]
    found += [_of_ratio(line) for line in ratios if line.meets is False]
    found += _of_wish(mix)
    return tuple(sorted(found, key=lambda shortfall: (shortfall.harm, shortfall.short_pct)))


def _of_line(line: RequirementLine) -> Shortfall:
    short = line.minimum is not None and line.gives < line.minimum
    bound = line.minimum if short else line.maximum
    return Shortfall(
        line.nutrient, line.label, line.unit, bound, line.gives, _percent(bound, line.gives),
        "minimum" if short else "maximum", _harm(line),
    )  # fmt: skip


def _of_ratio(line: RatioLine) -> Shortfall:
    short = line.minimum is not None and line.gives < line.minimum
    bound = line.minimum if short else line.maximum
    return Shortfall(
        f"{line.numerator}:{line.denominator}", line.label, line.unit, bound, line.gives, _percent(bound, line.gives),
        "minimum" if short else "maximum", NUTRIENT,
    )  # fmt: skip


def _of_wish(mix: Mix) -> list[Shortfall]:
    """The home-grown share that was asked for, where the mix has less."""
    wanted = mix.formula.home_grown
    held = sum(share for share, candidate in mix.used if candidate.home_grown)
    if held >= wanted - 1e-6:
        return []
    return [Shortfall(
        HOME_GROWN_SHARE, "Home-grown share", "%", 100 * wanted, 100 * held, _percent(wanted, held), "minimum", WISH,
    )]  # fmt: skip


def _harm(line: RequirementLine) -> int:
    if line.kind == "energy_floor":
        return ENERGY
    if line.kind == "ceiling":
        return PRACTICE
    return SLOW if line.nutrient in SLOW_NUTRIENTS else NUTRIENT


def _percent(bound: float, gives: float) -> float:
    return 100 * abs(bound - gives) / bound if bound else 100.0
