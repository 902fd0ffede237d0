"""A ration put together from an answer, every figure recomputed from the shares of the mix."""

from __future__ import annotations

from collections.abc import Sequence

from rationlp.cautions import ration_cautions
from rationlp.errors import SolverError
from rationlp.farm import Farm
from rationlp.finder import listed
from rationlp.library.read import Library
from rationlp.numbers import largest_first
from rationlp.rations.answer.lines import limit_lines, requirement_lines, shortfalls
from rationlp.rations.answer.mix import IN_MIX, Mix, make_mix
from rationlp.rations.answer.model import MixLine, Ration, Shortfall, Status
from rationlp.rations.answer.ratios import digestible_lines, electrolytes, ratio_lines
from rationlp.rations.answer.reasons import mix_reasons
from rationlp.rations.answer.verdict import EXACT, Leeway, eased, no_mix, verdict_of
from rationlp.rations.answer.words import (
    broken_limits,
    confidence_findings,
    conflict_words,
    notes_of,
    warnings_of,
)
from rationlp.rations.program.formula import Formula
from rationlp.rations.program.program import Solution
from rationlp.rations.solve.joint_chance import chance_of_all
from rationlp.rations.solve.model import Answer
from rationlp.reasons import Kind, Severity
from rationlp.stages.stage import StageNeeds


def describe(formula: Formula, answer: Answer, farm: Farm, leeway: Leeway = EXACT) -> Ration:
    """The ration that the answer's amounts make.

    A mix that passes what the trade uses at most, because nothing else can be met or because the book fixes every
    share, says so in its `verdict`. Raises SolverError if a mix called optimal misses a requirement when recomputed.
    """
    if answer.amounts is None:
        return _without_mix(formula, answer, farm.library)
    stage, mix = formula.stage, make_mix(formula, answer.amounts, farm.library)
    requirements = requirement_lines(mix, answer, farm)
    limits = limit_lines(mix, answer, farm.library)
    ratios = ratio_lines(mix, answer, farm.library)
    short = shortfalls(requirements, ratios, mix, farm.library)
    _trust(answer.solution, short, stage.stage)
    broken = [] if answer.solution else broken_limits(limits)
    unsure = confidence_findings(answer.confidence)
    reasons = mix_reasons(mix, answer, requirements, limits, leeway, farm)
    odd = [reason.text for reason in reasons if reason.kind is Kind.USUAL and reason.severity is not Severity.FEED]
    unlawful = any(
        r.severity is Severity.STOP and r.kind is not Kind.USUAL for r in (eased(r, leeway) for r in reasons)
    )
    missed = bool(short or broken or unsure or answer.conflict or unlawful)
    cost = sum(share * candidate.price_per_tonne for share, candidate in mix.used)
    grown = sum(share for share, candidate in mix.used if candidate.home_grown)
    digestible = digestible_lines(mix, farm.library)
    chance = chance_of_all(formula, mix.shares)
    return Ration(
        stage=stage.stage,
        stage_label=stage.label,
        bins=formula.bins,
        status=Status.NEAREST if missed else Status.OPTIMAL,
        objective=formula.objective,
        energy=stage.energy,
        energy_kcal_kg=mix.energy,
        cost_per_tonne=cost,
        cost_per_gcal=1000 * cost / mix.energy if mix.energy else None,
        home_grown_share=grown,
        feed_kg_per_head_per_day=feed_per_day(stage, mix.energy),
        mix=_mix_lines(mix, answer.solution),
        requirements=requirements,
        limits=limits,
        shortfalls=short,
        conflict=conflict_words(answer.conflict, formula, farm.library),
        findings=(*unsure, *odd, *broken),
        cautions=ration_cautions(stage.known, mix.feeds, farm.library),
        notes=tuple(notes_of(mix, farm)),
        analysis=dict(mix.analysis),
        confidence=answer.confidence,
        remedies=answer.remedies,
        ratios=ratios,
        digestible=digestible,
        margin=answer.margin,
        warnings=tuple(warnings_of(mix, requirements, grown, farm)),
        electrolyte_balance=electrolytes(mix),
        verdict=verdict_of(mix, short, digestible, answer.confidence, reasons, chance, leeway, farm),
    )


def _trust(solution: Solution | None, short: Sequence[Shortfall], stage: str) -> None:
    if solution is not None and short:
        missed = listed(shortfall.label for shortfall in short)
        raise SolverError(f"The mix for {stage} was called the cheapest, but calculated again it misses {missed}.")


def _without_mix(formula: Formula, answer: Answer, library: Library) -> Ration:
    stage = formula.stage
    finding = answer.failure or "No mix keeps the limits and doses, whatever the requirements."
    return Ration(
        stage.stage,
        stage.label,
        formula.bins,
        Status.FAILED,
        formula.objective,
        stage.energy,
        None,
        None,
        None,
        None,
        None,
        conflict=conflict_words(answer.conflict, formula, library),
        remedies=answer.remedies,
        findings=(finding,),
        cautions=ration_cautions(stage.known, {}, library),
        notes=formula.notes,
        warnings=formula.warnings,
        failure=answer.failure,
        verdict=no_mix(formula, finding),
    )


def _mix_lines(mix: Mix, solution: Solution | None) -> tuple[MixLine, ...]:
    candidates = mix.formula.candidates
    reduced = solution.reduced_costs if solution else (0.0,) * len(candidates)
    lines = [
        MixLine(c.name, c.feed, c.label, share if share > IN_MIX else 0.0, c.price_per_tonne, max(price, 0.0))
        for c, share, price in zip(candidates, mix.shares, reduced, strict=True)
    ]
    return tuple(sorted(lines, key=lambda line: largest_first(line.share)))


def feed_per_day(stage: StageNeeds, energy_kcal_kg: float | None) -> float | None:
    """kg per head and day: what the book says the group eats, else the table's energy in a mix of so much energy."""
    if stage.group_feed_kg:
        return stage.group_feed_kg
    if stage.daily_feed_kg and stage.reference_energy and energy_kcal_kg:
        return stage.daily_feed_kg * stage.reference_energy / energy_kcal_kg
    return None
