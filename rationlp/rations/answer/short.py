"""Requirements that a mix misses, as reasons: amino acids, of which a poor mix misses many, in one sentence."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rationlp.library.read import Library
from rationlp.numbers import figure, plain
from rationlp.rations.answer.lines import ENERGY, HOME_GROWN_SHARE, NUTRIENT, PRACTICE, SLOW, WISH
from rationlp.rations.answer.model import DigestibleLine, Shortfall, Side
from rationlp.reasons import Kind, Reason, Severity

SEVERITIES = {
    WISH: Severity.ASK,
    PRACTICE: Severity.ASK,
    SLOW: Severity.STOP,
    NUTRIENT: Severity.STOP,
    ENERGY: Severity.STOP,
}
"""What missing a requirement does, by the harm it does."""
PROTEIN = ("crude_protein", "sid_crude_protein_pig")
OF_PREMIXES = ("vitamin", "trace_mineral")
"""Kinds of nutrients that animals need, and that give way before others."""
SEVERAL = 3
"""So many amino acids that are short are told in one sentence."""


def short_reasons(short: Sequence[Shortfall], library: Library) -> Iterator[Reason]:
    """A reason for each requirement missed; one for protein and amino acids where several of them are short."""
    acids = [each for each in short if each.side is Side.MINIMUM and _is_protein(each.nutrient, library)]
    if len(acids) >= SEVERAL:
        yield _protein_reason(acids)
        short = [each for each in short if each not in acids]
    yield from (shortfall_reason(each, library) for each in short)


def _is_protein(nutrient: str, library: Library) -> bool:
    known = library.nutrients.get(nutrient)
    return nutrient in PROTEIN or (known is not None and known.kind in ("amino_acid", "digestible_amino_acid"))


def _protein_reason(acids: Sequence[Shortfall]) -> Reason:
    """What is missed most, and how many others by how much."""
    worst = max(acids, key=lambda each: each.short_pct)
    others = sorted(each.short_pct for each in acids if each is not worst)
    text = (
        f"Protein is short: {worst.label} is {figure(worst.gives)} {worst.unit}; these animals need at least "
        f"{figure(worst.needs)} ({figure(worst.short_pct, 2)} % off), and {len(others)} other amino acids or sums of "
        f"them are {plain(others[0], 2)} to {plain(others[-1], 2)} % off."
    )
    return _reason(worst, max((SEVERITIES[each.harm] for each in acids), key=lambda severity: severity.rank), text)


def shortfall_reason(shortfall: Shortfall, library: Library) -> Reason:
    """A requirement that the mix misses, or what practice advises."""
    text = (
        f"{shortfall.label} is {figure(shortfall.gives)} {shortfall.unit}; {_asks(shortfall, library)} "
        f"{figure(shortfall.needs)} ({figure(shortfall.short_pct, 2)} % off)."
    )
    return _reason(shortfall, SEVERITIES[shortfall.harm], text)


def _asks(shortfall: Shortfall, library: Library) -> str:
    """Who asks for the bound that is missed, as a sentence goes on."""
    known, at_least = library.nutrients.get(shortfall.nutrient), shortfall.side is Side.MINIMUM
    if shortfall.nutrient == HOME_GROWN_SHARE:
        return "the farm asks for at least"
    if shortfall.harm == PRACTICE and not (known is not None and known.kind in OF_PREMIXES):
        return f"in practice they get at {'least' if at_least else 'most'}"
    return f"these animals {'need at least' if at_least else 'should get at most'}"


def _reason(of: Shortfall, severity: Severity, text: str) -> Reason:
    return Reason(Kind.REQUIREMENT, severity, text, nutrient=of.nutrient, unit=of.unit, value=of.gives, limit=of.needs)


def digestible_reasons(lines: Sequence[DigestibleLine], legumes_pct: float) -> Iterator[Reason]:
    """Digestible amino acids below a published figure in a mix rich in raw legumes: the one most below, and the rest.

    `lines` are those that are short, each with its figure.
    """
    ranked = sorted(lines, key=lambda line: line.gives / (line.figure or 1.0))
    if not ranked:
        return
    worst, others = ranked[0], [line.label for line in ranked[1:]]
    more = f"; so {'are' if len(others) > 1 else 'is'} {'; '.join(others)}" if others else ""
    yield Reason(
        Kind.REQUIREMENT,
        Severity.ASK,
        f"The mix is {figure(legumes_pct, 2)} % raw legumes, whose protein birds digest poorly: {worst.label} is "
        f"{figure(worst.gives, 3)} {worst.unit}, below the published {figure(worst.figure, 3)}{more}.",
        nutrient=worst.nutrient,
        unit=worst.unit,
        value=worst.gives,
        limit=worst.figure,
        source=worst.source,
    )
