"""Nutrients of a mix over one another, and total against digestible amino acids where raw legumes make them differ."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import sqrt
from statistics import NormalDist

from rationlp.errors import given
from rationlp.figures import nutrient_label
from rationlp.library.read import Library
from rationlp.library.records import Requirement, Stage
from rationlp.rations.answer.mix import MEETS, Mix, price_of
from rationlp.rations.answer.model import DigestibleLine, RatioLine, Side
from rationlp.rations.program.variance import ratio_variances
from rationlp.rations.solve.chance import CUT_MARK
from rationlp.rations.solve.model import Answer
from rationlp.stages.model import RatioNeed
from rationlp.stages.stage import per_day_to_concentration

TOTAL_LYSINE = "lysine"
LYSINES = ("sid_lysine_pig", "sid_lysine_poultry", "lysine")
PHOSPHORUS = ("phosphorus", "sttd_phosphorus_pig", "nonphytate_phosphorus")
ACIDS = ("amino_acid", "digestible_amino_acid")
ELECTROLYTES = "electrolyte_balance"
TIMES = {"% of lysine": 100.0, "g/Mcal": 10_000.0, "to 1": 1.0}
"""What a ratio is multiplied by to stand in its unit; one percent of the feed over one kcal/kg is 10,000 g/Mcal."""
RAW_LEGUMES = "raw_legumes"
RICH = 0.10  # share of raw legumes from which on the digestible amounts are shown (a judgement)
PREFIX, ANIMAL = "sid_", "_poultry"


def ratio_lines(mix: Mix, answer: Answer, library: Library) -> tuple[RatioLine, ...]:
    """Every ratio that is usual for the stage, those with bounds first."""
    bounded = {(ratio.numerator, ratio.denominator): ratio for ratio in mix.formula.stage.ratios}
    lines = [_bounded(ratio, mix, answer, library) for ratio in bounded.values()]
    lines += [line for line in _usual(mix, library) if (line.numerator, line.denominator) not in bounded]
    return tuple(lines)


def _usual(mix: Mix, library: Library) -> Iterator[RatioLine]:
    table = _table(mix)
    asked = [n for n in LYSINES if n in table]
    for lysine in asked:
        for acid in _acids_of(lysine, mix, library):
            yield from _line(mix, library, acid, lysine, "% of lysine", table)
    energy = mix.formula.stage.energy
    if energy and asked:
        yield from _line(mix, library, asked[0], energy, "g/Mcal", table)
    if "calcium" in table:
        for phosphorus in (n for n in PHOSPHORUS if n in table or n == "phosphorus"):
            yield from _line(mix, library, "calcium", phosphorus, "to 1", table)


def _line(
    mix: Mix, library: Library, above: str, below: str, unit: str, table: dict[str, float]
) -> Iterator[RatioLine]:
    """A ratio without bounds, where the mix has figures for both."""
    if above not in mix.analysis or not mix.analysis.get(below):
        return
    label, times = f"{nutrient_label(above, library)} to {nutrient_label(below, library)}", TIMES[unit]
    asked = times * table[above] / table[below] if above in table and table.get(below) else None
    yield RatioLine(above, below, label, unit, times * mix.analysis[above] / mix.analysis[below], asked)


def _table(mix: Mix) -> dict[str, float]:
    """The least the stage asks for of each nutrient, margins taken off, at the energy of the table."""
    stage = mix.formula.stage
    found = {need.nutrient: need.minimum / (1 + need.margin_pct / 100) for need in stage.needs if need.minimum}
    if stage.energy and stage.reference_energy:
        found[stage.energy] = stage.reference_energy
    return found


def _acids_of(lysine: str, mix: Mix, library: Library) -> list[str]:
    """The amino acids the stage asks for on the same basis as a lysine: total, or digestible in the same animal."""
    basis = lysine.replace("lysine", "*")
    asked = {need.nutrient for need in mix.formula.stage.needs if need.minimum}
    start, end = basis.split("*")
    return [
        row.nutrient
        for row in library.nutrients.values()
        if row.kind in ACIDS
        and row.nutrient in asked
        and row.nutrient != lysine
        and row.nutrient.startswith(start)
        and row.nutrient.endswith(end)
        and (start or row.kind == "amino_acid")
    ]


def _bounded(ratio: RatioNeed, mix: Mix, answer: Answer, library: Library) -> RatioLine:
    above, below, table = mix.analysis[ratio.numerator], mix.analysis[ratio.denominator], _table(mix)
    gives = above / below if below else None
    prices = _prices(ratio, mix, answer)
    binding: tuple[Side | None, float] = (None, 0.0)
    meets, missed, widest = True, 0.0, 0.0
    for side, bound, sign in ((Side.MINIMUM, ratio.minimum, 1.0), (Side.MAXIMUM, ratio.maximum, -1.0)):
        if bound is None:
            continue
        slack = sign * (above - bound * below)
        room = MEETS * max(abs(above), 1e-9)
        meets = meets and slack >= -room
        if (prices.get(side) or abs(slack) <= room) and not binding[1]:
            binding = (side, prices.get(side, 0.0))
        variances = ratio_variances(ratio, bound, (candidate.spread for _, candidate in mix.used))
        sd = sqrt(sum(share**2 * variance for (share, _), variance in zip(mix.used, variances, strict=True)))
        missed += 1 - (NormalDist().cdf(slack / sd) if sd else float(slack >= -room))
        widest = max(widest, sd / below if below else 0.0)
    label = f"{nutrient_label(ratio.numerator, library)} to {nutrient_label(ratio.denominator, library)}"
    asked = table.get(ratio.denominator)
    return RatioLine(
        ratio.numerator,
        ratio.denominator,
        label,
        "to 1",
        gives,
        table[ratio.numerator] / asked if asked and ratio.numerator in table else None,
        ratio.minimum,
        ratio.maximum,
        meets,
        binding[0],
        binding[1],
        ratio.source,
        ratio.how,
        ratio.note,
        widest,
        max(1 - missed, 0.0),
        price_of(mix.formula),
    )


def _prices(ratio: RatioNeed, mix: Mix, answer: Answer) -> dict[str, float]:
    """Change of the objective for one more unit of the ratio, by side: so much more as the mix holds below the line."""
    if answer.solution is None:
        return {}
    formula = mix.formula
    rows = zip(formula.program.rows, formula.sources, strict=True)
    keys = {row.key: row.sense for row, source in rows if source is ratio}
    found: dict[str, float] = {}
    for row, dual in answer.duals:
        key = row.key.split(CUT_MARK)[0]
        if key in keys and dual:
            side = Side.MINIMUM if keys[key] == ">=" else Side.MAXIMUM
            found[side] = found.get(side, 0.0) + dual * mix.analysis[ratio.denominator] * answer.tonnes
    return found


def electrolytes(mix: Mix) -> float | None:
    """Na + K - Cl of the mix in mEq/kg as fed; None where a feed in it lacks one of them."""
    return mix.analysis.get(ELECTROLYTES)


def raw_legumes(mix: Mix, library: Library) -> float:
    """Share of raw legumes in the mix, those inside a bin's blend included, 0 to 1."""
    members = library.families.get(RAW_LEGUMES, frozenset())
    return sum(share for feed, share in mix.feeds.items() if feed in members)


def digestible_lines(mix: Mix, library: Library) -> tuple[DigestibleLine, ...]:
    """The digestible amount of every amino acid the stage asks for in total, beside each published digestible figure.

    Only for poultry mixes rich in raw legumes whose stage asks for lysine in total; otherwise nothing.
    """
    stage = mix.formula.stage
    in_total = any(need.nutrient == TOTAL_LYSINE and need.minimum for need in stage.needs)
    if (
        stage.known is None
        or stage.known.species == "swine"
        or not in_total
        or raw_legumes(mix, library) < RICH * (1 - MEETS)
    ):
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
    least = given(row.minimum, f"the published figure of {row.nutrient}")
    if row.per == "kg":
        return least * factor
    eaten = stage.group_feed_kg or (stage.daily_feed_kg and stage.daily_feed_kg / factor)
    return per_day_to_concentration(least, row.unit, unit, eaten) if eaten else None


def digestible_short(lines: Iterable[DigestibleLine]) -> list[DigestibleLine]:
    """The digestible amino acids that fall short of a published figure, each once, against its highest figure."""
    worst: dict[str, DigestibleLine] = {}
    for line in lines:
        if line.meets is False and line.figure is not None:
            held = worst.get(line.nutrient)
            if held is None or line.figure > (held.figure or 0.0):
                worst[line.nutrient] = line
    return list(worst.values())
