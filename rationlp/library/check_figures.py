"""Can a feed be like that? Checks of composition within one feed, on dry matter."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from rationlp.library.equations import EquationError, OutsideRange
from rationlp.library.expressions import evaluate
from rationlp.library.records import Figure, Nutrient, PremixFigure

ROOM_PCT = 0.5
"""By how much rounded parts may pass their whole, in percent of dry matter."""
NE_TO_ME = (0.50, 0.90)
"""From mostly fibre (kelp 0.55) to pure fat (0.88 to 0.90)."""
RECOMPUTED_WITHIN = 0.01
"""A computed figure must come out again this near: inputs are kept with three or four digits."""
NOT_OVERLAPPING = ("crude_protein", "ether_extract", "ndf", "starch", "sugars", "ash")
BY_DIFFERENCE = ("crude_protein", "ether_extract", "crude_fibre", "ash")
MOST_OF_PROTEIN_PCT = {
    "lysine": 15.0,
    "methionine": 5.0,
    "cystine": 8.0,
    "threonine": 10.0,
    "tryptophan": 3.0,
    "valine": 12.0,
    "isoleucine": 10.0,
    "leucine": 25.0,
    "arginine": 20.0,
    "histidine": 10.0,
    "phenylalanine": 12.0,
    "tyrosine": 10.0,
    "glycine": 35.0,
    "serine": 15.0,
}
"""The most of an amino acid in 100 of crude protein: the highest of the shipped feeds with about half as much again,
and more where proteins not among them are known to hold more (cystine and serine of feathers, glycine of gelatine,
histidine of blood: memory)."""
FEW_AMINO_ACIDS, CRYSTAL_PCT = 3, 40.0
"""A feed nobody has put in a group is taken for a pure amino acid if it has so few of them, and so much."""
AMINO_ACIDS_OVER_PROTEIN = "at most the crude protein"
CHAIN = (("de_pig", "gross_energy"), ("me_pig", "de_pig"), ("ne_pig", "me_pig"), ("amen_poultry", "gross_energy"))


@dataclass(frozen=True, slots=True)
class Fault:
    """What is wrong with a figure: its nutrient, what was found, what was expected, what to do."""

    nutrient: str
    found: str
    expected: str
    do: str
    severity: str = "error"


def faults_of(feed: str, group: str, rows: Mapping[str, Figure], nutrients: Mapping[str, Nutrient]) -> Iterator[Fault]:
    """What cannot be, or is hard to believe, in the figures of one feed. Each row by its nutrient."""
    yield from faults_together({nutrient: row.value for nutrient, row in rows.items()}, group, nutrients)


def faults_together(
    has: Mapping[str, float], group: str, nutrients: Mapping[str, Nutrient], room_pct: float = ROOM_PCT
) -> Iterator[Fault]:
    """The same of bare values, on dry matter. `group` is empty for a feed the library does not know.

    `room_pct` is by how much parts may pass their whole: more than for rounding where they are not of one lot.
    """
    yield from _parts_within_whole(has, group, room_pct)
    yield from _amino_acids_within_protein(has, group, nutrients, room_pct)
    yield from _energies(has)
    yield from _phosphorus(has)
    for nutrient, value in has.items():
        known = nutrients.get(nutrient)
        whole = known and (known.unit == "%" or known.kind == "coefficient")
        limit = 100 + ROOM_PCT if whole and (group or nutrient != "crude_protein") else None
        if limit and value > limit:
            yield Fault(nutrient, f"{nutrient} {value:.5g} %", "at most 100 %", "Correct the figure or its unit.")


def recompute(feed: str, row: Figure | PremixFigure, figures: Mapping[str, Mapping[str, float]]) -> Fault | None:
    """Whether a computed figure still comes out of its equation. A fault that says the new value, or none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", OutsideRange)
            value = evaluate(row.equation, feed, figures)
    except EquationError as error:
        return Fault(
            row.nutrient,
            f"equation {row.equation!r}: {error}",
            "an equation that can be calculated",
            "Name a function of rationlp.library.equations and figures that are known.",
        )
    places = len(f"{row.value!r}".partition(".")[2])
    if abs(value - row.value) <= max(RECOMPUTED_WITHIN * abs(row.value), 0.51 * 10**-places):
        return None
    return Fault(
        row.nutrient,
        f"{row.nutrient} {row.value:.5g}",
        f"{value:.5g} by {row.equation}",
        "Enter the new figure, or take the equation out if the figure now has another source.",
        "warning",
    )


def _parts_within_whole(has: Mapping[str, float], group: str, room_pct: float) -> Iterator[Fault]:
    if group in ("mineral", "premix", "additive", "amino_acid") or (not group and has.get("crude_protein", 0.0) > 100):
        return  # nitrogen times 6.25 passes 100 % in pure amino acids and urea
    for parts in (NOT_OVERLAPPING, BY_DIFFERENCE):
        total = sum(has.get(part, 0.0) for part in parts)
        if total > 100 + room_pct:
            yield Fault(
                max(parts, key=lambda part: has.get(part, 0.0)),
                f"{' + '.join(parts)} = {total:.5g} %",
                "at most 100 % of dry matter",
                "One of them is too high, or is as fed instead of on dry matter.",
            )
    for part, whole in (
        ("adf", "ndf"),
        ("crude_fibre", "ndf"),
        ("linoleic_acid", "ether_extract"),
        ("alpha_linolenic_acid", "ether_extract"),
    ):
        if whole in has and has.get(part, 0.0) > has[whole] + ROOM_PCT / 10:
            severity = "warning" if whole == "ndf" else "error"
            yield Fault(
                part,
                f"{part} {has[part]:.4g} %",
                f"at most {whole}, {has[whole]:.4g} %",
                "Correct one of the two.",
                severity,
            )


def _amino_acids_within_protein(
    has: Mapping[str, float], group: str, nutrients: Mapping[str, Nutrient], room_pct: float
) -> Iterator[Fault]:
    single = [n for n in has if n in nutrients and nutrients[n].kind == "amino_acid" and not nutrients[n].sum_of]
    total = sum(has[n] for n in single)
    few = not group and len(single) <= FEW_AMINO_ACIDS and total > CRYSTAL_PCT
    crystal = group == "amino_acid" or few
    whole = 100.0 if crystal else has.get("crude_protein")  # a crystal weighs more than its N x 6.25
    if single and whole is not None and total > whole * (100 - ROOM_PCT + room_pct) / 100 + ROOM_PCT:
        yield Fault(
            max(single, key=lambda n: has[n]),
            f"amino acids add up to {total:.4g} %",
            f"{AMINO_ACIDS_OVER_PROTEIN}, {whole:.4g} %",
            "One of them is too high, or crude protein too low.",
        )
    elif not crystal and whole:
        yield from _shares_of_protein(has, single, whole)


def _shares_of_protein(has: Mapping[str, float], single: list[str], protein: float) -> Iterator[Fault]:
    for name in single:
        most = MOST_OF_PROTEIN_PCT.get(name)
        if most is not None and has[name] > most * protein / 100 + ROOM_PCT / 10:
            yield Fault(
                name,
                f"{name} {has[name]:.4g} %, which is {100 * has[name] / protein:.3g} % of the crude protein",
                f"at most {most:g} % of the crude protein, {protein:.4g} %",
                "Correct one of the two, its unit or its basis.",
            )


def _energies(has: Mapping[str, float]) -> Iterator[Fault]:
    for lower, upper in CHAIN:
        if lower in has and upper in has and has[lower] > has[upper] + 0.5:
            yield Fault(
                lower,
                f"{lower} {has[lower]:.5g} kcal/kg",
                f"at most {upper}, {has[upper]:.5g} kcal/kg",
                "Correct one of the two; both are on dry matter.",
            )
    if has.get("me_pig") and "ne_pig" in has:
        ratio = has["ne_pig"] / has["me_pig"]
        if not NE_TO_ME[0] <= ratio <= NE_TO_ME[1]:
            yield Fault(
                "ne_pig",
                f"net to metabolizable energy {ratio:.3f}",
                f"{NE_TO_ME[0]} to {NE_TO_ME[1]}",
                "Net energy is 0.6 of protein and fibre, 0.82 of starch, 0.9 of fat: correct one of the two.",
            )


def _phosphorus(has: Mapping[str, float]) -> Iterator[Fault]:
    total = has.get("phosphorus")
    if total is None:
        return
    for part in ("phytate_phosphorus", "nonphytate_phosphorus"):
        if has.get(part, 0.0) > total + 0.005:
            yield Fault(
                part, f"{part} {has[part]:.4g} %", f"at most the phosphorus, {total:.4g} %", "Correct one of the two."
            )
    if "phytate_phosphorus" in has and "nonphytate_phosphorus" in has:
        both = has["phytate_phosphorus"] + has["nonphytate_phosphorus"]
        if abs(both - total) > 0.02:
            yield Fault(
                "phytate_phosphorus",
                f"phytate + nonphytate = {both:.4g} %",
                f"the phosphorus, {total:.4g} %",
                "Correct one of the three.",
            )
