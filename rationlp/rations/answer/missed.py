"""What a nearest mix misses, most harmless first."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.library.read import Library
from rationlp.rations.answer.mix import Mix
from rationlp.rations.answer.model import RatioLine, RequirementLine, Shortfall
from rationlp.rations.answer.ratios import ELECTROLYTES

WISH, PRACTICE, SLOW, NUTRIENT, ENERGY = range(5)
"""How much harm a shortfall does (a judgement): a home-grown share that was wished for; what practice advises on fibre,
fat, electrolytes; protein and fatty acids, which amino acids and energy stand behind; amino acids, minerals and
whatever else the stage asks for; energy."""
SLOW_NUTRIENTS = (
    "crude_protein", "sid_crude_protein_pig", "sid_crude_protein_poultry", "linoleic_acid", "alpha_linolenic_acid",
    ELECTROLYTES,
)  # fmt: skip
MEETS = 1e-6  # a bound counts as met within this part of itself
HOME_GROWN_SHARE = "home_grown_share"


def shortfalls(
    lines: Sequence[RequirementLine], ratios: Sequence[RatioLine], mix: Mix, library: Library
) -> tuple[Shortfall, ...]:
    """Everything the mix misses, by the harm it does and then by how much is missing."""
    found = [
        Shortfall(
            line.nutrient, line.label, line.unit, bound, line.gives, _percent(bound, line.gives), side, _harm(line)
        )
        for line in lines
        if line.meets is False and line.met_by != "premix"
        for side, bound in _missed(line)
    ]
    found += [
        Shortfall(
            f"{line.numerator}:{line.denominator}", line.label, line.unit, bound, line.gives,
            _percent(bound, line.gives), side, NUTRIENT,
        )
        for line in ratios
        if line.meets is False and line.gives is not None
        for side, bound in _missed(line)
    ]  # fmt: skip
    found += _of_wish(mix)
    return tuple(sorted(found, key=lambda shortfall: (shortfall.harm, shortfall.short_pct)))


def _missed(line: RequirementLine | RatioLine) -> list[tuple[str, float]]:
    """The sides of a line that the mix misses, with their bounds; at least the one it is farther from."""
    sides = [("minimum", line.minimum, 1.0), ("maximum", line.maximum, -1.0)]
    known = [(name, bound, sign * (bound - line.gives)) for name, bound, sign in sides if bound is not None]
    found = [(name, bound) for name, bound, missing in known if missing > MEETS * max(abs(bound), 1e-9)]
    return found or [max(known, key=lambda side: side[2])[:2]]


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
