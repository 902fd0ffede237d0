"""What weights miss that the exact ration keeps: needs, doses, set shares, chances."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.errors import SolverError
from rationlp.numbers import figure
from rationlp.rations.answer.words import row_words
from rationlp.rations.formulate import SolvedRation
from rationlp.rations.program.only_here import of_shares
from rationlp.rations.program.program import Program, ProgramRow
from rationlp.rations.program.rows import PREMIX
from rationlp.rations.solve.chance import achieved
from rationlp.rations.solve.verify import row_holds
from rationlp.reasons import Kind, Reason, Severity, Verdict
from rationlp.sheets.weights.even import even_words
from rationlp.sheets.weights.whole_program import DOSE_TOLERANCE, Asked, band
from rationlp.stages.model import Cap

CHANCE_TOLERANCE = 1e-6


def told_of_the_ration(exact: Verdict, weighed: Verdict) -> list[Reason]:
    """What is told of the exact ration and not of its weights: stock, and what is to be asked though whole weights
    happen to meet it. A sheet is not told to be better than its ration."""
    told = {(reason.kind, reason.nutrient, reason.feed) for reason in weighed.reasons}
    asked = [r for r in exact.weighing(Severity.ASK) if (r.kind, r.nutrient, r.feed) not in told]
    return [*asked, *exact.of(Kind.STOCK)]


def is_wrong_dose(reason: Reason) -> bool:
    """Whether a reason speaks of a dose of premix that is too far off for a sheet."""
    return reason.kind is Kind.PREMIX and reason.nutrient is None and reason.severity is not Severity.FEED


def misses(exact: Verdict, weighed: Verdict) -> tuple[str, ...]:
    """What the weights miss that the exact ration meets: needs and doses."""
    known = {(reason.kind, reason.nutrient) for reason in exact.reasons if reason.severity is not Severity.FEED}
    return tuple(
        reason.text
        for reason in weighed.of(Kind.REQUIREMENT, Kind.PREMIX)
        if reason.severity is not Severity.FEED and (reason.kind, reason.nutrient) not in known
    )


def missed_rows(recipe: SolvedRation, asked: Asked, amounts: list[float], dose_told: bool) -> list[Reason]:
    """What the weights miss beside requirements: chances, and doses where they are not told already (`dose_told`).

    A cap that is passed is no answer at all.
    """
    found: list[Reason] = []
    parts: dict[float, list[str]] = {}  # of a dose of premix, by how much of it there is, in percent
    formula: Program = recipe.formula.program
    for row, source in zip(formula.rows, recipe.formula.sources, strict=True):
        if of_shares(row):
            continue
        if row.sense != "=":
            if not row_holds(formula, row, tuple(amounts)) and (isinstance(source, Cap) or not row.relaxable):
                told = row_words(row.key, recipe.formula, recipe.farm.library)
                raise SolverError(f"The weights found do not keep this, so that none are shown: {told}.")
            continue
        percent = _off_pct(row, formula, asked, amounts)
        if percent is None:
            continue
        name = row.key.split(":")[1].replace("_", " ")
        if not row.key.startswith(PREMIX):
            found.append(_wrong_dose(f"The set share of {name}", percent))
        elif not dose_told:
            parts.setdefault(round(percent, 9), []).append(name)
    larger = even_words(recipe, asked.batch, asked.scale)
    found += [
        _wrong_dose(f"One dose of {' and '.join(names)}", percent, larger, DOSE_TOLERANCE)
        for percent, names in parts.items()
    ]
    if dose_told and larger:
        found.append(Reason(Kind.PREMIX, Severity.ASK, larger))
    return [*found, *_less_sure(recipe, amounts)]


def _less_sure(recipe: SolvedRation, amounts: Sequence[float]) -> list[Reason]:
    """What whole weights miss of the confidence that the book asks for; `amounts` by the columns of the ration."""
    formula = recipe.formula.program
    if all(achieved(formula, c, amounts) >= c.probability - CHANCE_TOLERANCE for c in recipe.chances):
        return []
    text = "In weights the scale can show, not every requirement is met as surely as the book asks for."
    return [Reason(Kind.REQUIREMENT, Severity.ASK, text, source="confidence_pct of the book")]


def _off_pct(row: ProgramRow, formula: Program, asked: Asked, amounts: list[float]) -> float | None:
    """How much of a dose or a set share the weights hold, in percent; None where it is as near as the scale allows."""
    allowed = band(formula, row, asked.shares, asked.batch, asked.scale)
    value, slack = formula.value(row, tuple(amounts)), 1e-6 * allowed.size
    return None if allowed.low - slack <= value <= allowed.high + slack else 100 * (1 + value / allowed.size)


def _wrong_dose(what: str, percent: float, larger: str = "", told: float = 0.0) -> Reason:
    """A dose or a set share that the scale cannot show; off by no more than the part `told` it is no question."""
    severity = Severity.FEED if abs(percent / 100 - 1) <= told else Severity.ASK
    text = f"{what}: {figure(percent, 3)} % of it in weights the scale can show. {larger}".rstrip()
    return Reason(Kind.PREMIX, severity, text, unit="%", value=percent, limit=100)
