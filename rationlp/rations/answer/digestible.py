"""Total against digestible amino acids: what raw legumes take away from a poultry mix that meets the totals.

The poultry tables are on total amino acids and stand for diets of corn and soybean meal; raw beans, peas and chickpeas
are digested less well (composition.csv, coefficients of digestibility).
"""

from __future__ import annotations

from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.library.records import Requirement, Stage
from rationlp.rations.answer.mix import Mix
from rationlp.rations.answer.model import DigestibleLine
from rationlp.stages.daily import per_day_to_concentration

RAW_LEGUMES = "raw_legumes"
RICH = 0.10  # share of raw legumes from which on the digestible amounts are shown (a judgement)
MEETS = 1e-6
PREFIX, ANIMAL = "sid_", "_poultry"


def raw_legumes(mix: Mix, library: Library) -> float:
    """Share of raw legumes in the mix, those inside a bin's blend included, 0 to 1."""
    members = library.families.get(RAW_LEGUMES, frozenset())
    return sum(share for feed, share in mix.feeds.items() if feed in members)


def digestible_lines(mix: Mix, library: Library) -> tuple[DigestibleLine, ...]:
    """The digestible amount of every amino acid the stage asks for in total, beside each published digestible figure.

    Only for poultry mixes rich in raw legumes; otherwise nothing.
    """
    stage = mix.formula.stage
    if stage.known is None or stage.known.species == "swine" or raw_legumes(mix, library) < RICH:
        return ()
    lines = []
    for need in stage.needs:
        name = f"{PREFIX}{need.nutrient}{ANIMAL}"
        known = library.nutrients.get(need.nutrient)
        if need.minimum and known and known.kind == "amino_acid" and name in mix.analysis:
            lines += _lines(name, mix, stage.known, library)
    return tuple(lines)


def _lines(nutrient: str, mix: Mix, stage: Stage, library: Library) -> list[DigestibleLine]:
    """One line for each published figure, or one without a figure."""
    label, unit, gives = nutrient_label(nutrient, library), library.units[nutrient], mix.analysis[nutrient]
    published = [row for row in library.requirements.get(stage.stage, ()) if row.nutrient == nutrient and row.minimum]
    lines = []
    for row in published:
        figure = _concentration(row, mix, unit)
        if figure is not None:
            meets = gives >= figure * (1 - MEETS)
            lines.append(DigestibleLine(nutrient, label, unit, gives, figure, meets, row.source, row.how, row.note))
    return lines or [DigestibleLine(nutrient, label, unit, gives, None, None, "", "")]


def _concentration(row: Requirement, mix: Mix, unit: str) -> float | None:
    """A published figure in `unit` of this mix: per kg with the table's energy, per day at what is eaten of it."""
    stage = mix.formula.stage
    factor = mix.energy / stage.reference_energy if mix.energy and stage.reference_energy else 1.0
    if row.per == "kg":
        return row.minimum * factor
    eaten = stage.group_feed_kg or (stage.daily_feed_kg and stage.daily_feed_kg / factor)
    return per_day_to_concentration(row.minimum, row.unit, unit, eaten) if eaten else None


def digestible_warnings(lines: tuple[DigestibleLine, ...], share: float) -> list[str]:
    """What to look at in a mix rich in raw legumes."""
    if not lines:
        return []
    short = [
        f"{line.label} is {line.gives:.3g} {line.unit}, below the published {line.figure:.3g} ({line.source})"
        for line in lines
        if line.meets is False
    ]
    if short:
        return [f"The mix holds {100 * share:.0f} % raw legumes and meets the totals, but {'; '.join(short)}."]
    return []
