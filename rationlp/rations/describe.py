"""A mix judged: every requirement recomputed from the shares, prices from the duals, cautions that belong to it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import TYPE_CHECKING

from rationlp.book.records import Book
from rationlp.cautions import ration_cautions
from rationlp.errors import SolverError
from rationlp.figures import feed_label, nutrient_label, nutrient_units
from rationlp.library.read import Library
from rationlp.rations.candidates import Candidate
from rationlp.rations.limits import content
from rationlp.rations.model import (
    Cap,
    Confidence,
    LimitLine,
    MixLine,
    Need,
    Ration,
    RatioNeed,
    Remedy,
    RequirementLine,
    Shortfall,
)
from rationlp.rations.plausible import implausible
from rationlp.rations.chance import CUT_MARK, NormalDist
from rationlp.rations.program import Program, Solution
from rationlp.rations.rows import need_scale, need_weights
from rationlp.rations.spread import row_variance

if TYPE_CHECKING:
    from rationlp.rations.formulate import Formula

MEETS = 1e-6  # a bound counts as met, or as binding, within this fraction of itself
IN_MIX = 1e-7  # smaller shares are the solver's dust


@dataclass(frozen=True, slots=True)
class Answer:
    """Amounts of the candidates of a formula and how they were found.

    `amounts` is None where no mix keeps even the limits and doses. `solution` is the verified optimum of `program`
    (the formula's own, with the cuts of a confidence), or None for a nearest or a fixed mix; `conflict` are keys of rows.
    """

    amounts: tuple[float, ...] | None
    solution: Solution | None = None
    program: Program | None = None
    confidence: Confidence | None = None
    conflict: tuple[str, ...] = ()
    remedies: tuple[Remedy, ...] = ()


def describe(formula: Formula, answer: Answer, book: Book, library: Library) -> Ration:
    """The ration that the answer's amounts make, every figure recomputed from the shares.

    Raises SolverError if a mix called optimal misses a requirement when it is recomputed.
    """
    stage, solution = formula.stage, answer.solution
    if answer.amounts is None:
        return _without_mix(formula, answer, library)
    amounts = answer.amounts
    shares = [amount / sum(amounts) for amount in amounts]
    analysis = mix_analysis(formula.candidates, shares, library)
    feeds = mix_feeds(formula.candidates, shares)
    requirements = _requirements(formula, shares, analysis, answer, book, library)
    limits = _limits(formula, shares, answer, library)
    missed = [line for line in requirements if line.meets is False and line.met_by == "ration"]
    if solution is not None and missed:
        raise SolverError(
            f"The mix for {stage.stage} was called optimal, but recomputed it misses "
            + ", ".join(line.label for line in missed)
        )
    broken = [] if solution else _broken_limits(limits)
    odd = implausible(feeds, analysis, stage.known, library)
    is_analysis = all(candidate.is_fixed for candidate in formula.candidates)
    failed = bool(odd) and not is_analysis
    unsure = _unsure(answer.confidence)
    cost = sum(share * c.price_per_tonne for share, c in zip(shares, formula.candidates, strict=True))
    energy = analysis.get(stage.energy) if stage.energy else None
    return Ration(
        stage=stage.stage,
        stage_label=stage.label,
        bin=formula.bin,
        status="failed" if failed else "nearest" if missed or broken or answer.conflict or unsure else "optimal",
        objective=formula.objective,
        energy=stage.energy,
        energy_unit_kcal_kg=energy,
        cost_per_tonne=cost,
        cost_per_gcal=1000 * cost / energy if energy else None,
        home_grown_share=sum(s for s, c in zip(shares, formula.candidates, strict=True) if c.home_grown),
        feed_kg_per_head_per_day=_feed_per_day(formula, energy),
        mix=() if failed else _mix(formula, shares, solution),
        requirements=requirements,
        limits=limits,
        shortfalls=_shortfalls(missed),
        conflict=_words(answer.conflict, formula, library),
        findings=(*unsure, *odd, *broken),
        cautions=ration_cautions(stage.known, feeds, library),
        notes=(*formula.notes, *_how_reckoned(formula, library)),
        analysis=analysis,
        confidence=answer.confidence,
        remedies=answer.remedies,
    )


def _unsure(confidence: Confidence | None) -> list[str]:
    if confidence is None or confidence.attained_pct == confidence.asked_pct:
        return []
    return [
        f"No mix meets every requirement with the {confidence.asked_pct:g} % confidence that the book asks for; "
        f"the best that all of them can have together is {confidence.attained_pct:.1f} %, in this mix."
    ]


def mix_analysis(candidates: Sequence[Candidate], shares: Sequence[float], library: Library) -> dict[str, float]:
    """Nutrients of the mix as fed, recomputed from the shares; only those known of every feed in it."""
    used = [(share, candidate) for share, candidate in zip(shares, candidates, strict=True) if share > IN_MIX]
    known = set.intersection(*(set(candidate.values) for _, candidate in used))
    order = [n for n in library.nutrients if n in known] + sorted(known - set(library.nutrients))
    return {
        nutrient: sum(share * candidate.values[nutrient] for share, candidate in used)
        for nutrient in order
        if nutrient not in library.nutrients or library.nutrients[nutrient].kind != "coefficient"
    }


def mix_feeds(candidates: Sequence[Candidate], shares: Sequence[float]) -> dict[str, float]:
    """Share of the mix by library feed, the crops inside a bin's blend counted by their share of it."""
    feeds: dict[str, float] = {}
    for share, candidate in zip(shares, candidates, strict=True):
        for feed, part in candidate.feeds.items():
            if share > IN_MIX:
                feeds[feed] = feeds.get(feed, 0.0) + share * part
    return feeds


def _without_mix(formula: Formula, answer: Answer, library: Library) -> Ration:
    stage = formula.stage
    return Ration(
        stage.stage, stage.label, formula.bin, "nearest", formula.objective, stage.energy,
        None, None, None, None, None, conflict=_words(answer.conflict, formula, library), remedies=answer.remedies,
        findings=("No mix keeps the limits and doses, whatever the requirements.",),
        cautions=ration_cautions(stage.known, {}, library), notes=formula.notes,
    )  # fmt: skip


def _mix(formula: Formula, shares: Sequence[float], solution: Solution | None) -> tuple[MixLine, ...]:
    reduced = solution.reduced_costs if solution else (0.0,) * len(shares)
    lines = [
        MixLine(c.name, c.feed, c.label, share if share > IN_MIX else 0.0, c.price_per_tonne, max(price, 0.0))
        for c, share, price in zip(formula.candidates, shares, reduced, strict=True)
    ]
    return tuple(sorted(lines, key=lambda line: -line.share))


def _requirements(
    formula: Formula,
    shares: Sequence[float],
    analysis: Mapping[str, float],
    answer: Answer,
    book: Book,
    library: Library,
) -> tuple[RequirementLine, ...]:
    """A line per nutrient, its minimum and maximum at the energy of this mix, the premix's nutrients after them."""
    stage = formula.stage
    order = [nutrient for nutrient in library.nutrients if any(n.nutrient == nutrient for n in stage.needs)]
    order += [n.nutrient for n in stage.needs if n.nutrient not in library.nutrients]
    lines = []
    for nutrient in dict.fromkeys(order):
        needs = [need for need in stage.needs if need.nutrient == nutrient]
        prices = {id(need): _shadow_prices(need, formula, shares, answer) for need in needs}
        lines.append(_line(needs, formula, shares, analysis.get(nutrient), prices, library))
    units = nutrient_units(book, library)
    lines += [_premix_line(need, formula, shares, units, library) for need in stage.premix_needs]
    return tuple(lines)


def effective(need: Need, formula: Formula, shares: Sequence[float]) -> tuple[float | None, float | None]:
    """The bounds of `need` at the energy of this mix."""
    weights = need_weights(need, formula.candidates, formula.stage.energy)
    factor = sum(share * weight for share, weight in zip(shares, weights, strict=True))
    return tuple(None if bound is None else bound * factor for bound in (need.minimum, need.maximum))


def _shadow_prices(need: Need, formula: Formula, shares: Sequence[float], answer: Answer) -> dict[str, float]:
    """Money per tonne for one more unit of each bound of `need` (at the table's energy if it follows energy).

    The cuts of a confidence are of the same bound as the row they belong to, and their prices add to its price.
    """
    prices = {"minimum": 0.0, "maximum": 0.0}
    if answer.solution is None:
        return prices
    weights = need_weights(need, formula.candidates, formula.stage.energy)
    factor = sum(share * weight for share, weight in zip(shares, weights, strict=True))
    keys = {row.key: row.sense for row, source in zip(formula.program.rows, formula.sources, strict=True) if source is need}
    for row, dual in zip(answer.program.rows, answer.solution.row_duals, strict=True):
        sense = keys.get(row.key.split(CUT_MARK)[0]) if dual else None
        if sense:
            side = "minimum" if sense == ">=" else "maximum"
            bound = need.minimum if side == "minimum" else need.maximum
            prices[side] += dual * factor / need_scale(bound)
    return prices


def _line(
    needs: list[Need],
    formula: Formula,
    shares: Sequence[float],
    gives: float | None,
    prices: Mapping[int, Mapping[str, float]],
    library: Library,
) -> RequirementLine:
    lows = [(low, need) for need in needs if (low := effective(need, formula, shares)[0]) is not None]
    highs = [(high, need) for need in needs if (high := effective(need, formula, shares)[1]) is not None]
    low, low_need = max(lows, key=lambda pair: pair[0], default=(None, None))
    high, high_need = min(highs, key=lambda pair: pair[0], default=(None, None))
    meets, binding, price = True, "", 0.0
    if low is not None:
        meets = gives >= low - MEETS * max(abs(low), 1e-9)
        if abs(gives - low) <= MEETS * max(abs(low), 1e-9):
            binding, price = "minimum", prices[id(low_need)]["minimum"]
    if high is not None:
        meets = meets and gives <= high + MEETS * max(abs(high), 1e-9)
        if abs(gives - high) <= MEETS * max(abs(high), 1e-9) and not price:
            binding, price = "maximum", prices[id(high_need)]["maximum"]
    used = [need for need in (low_need, high_need) if need is not None]
    sd, probability = _chance(gives, (low, low_need), (high, high_need), formula, shares)
    return RequirementLine(
        nutrient=needs[0].nutrient,
        label=nutrient_label(needs[0].nutrient, library),
        unit=needs[0].unit,
        minimum=low,
        maximum=high,
        gives=gives,
        meets=meets,
        binding=binding,
        shadow_price=price,
        kind=used[0].kind,
        basis="; ".join(dict.fromkeys(need.basis for need in used)),
        source="; ".join(dict.fromkeys(need.source for need in used if need.source)),
        how="; ".join(dict.fromkeys(need.how for need in used if need.how)),
        note="; ".join(dict.fromkeys(need.note for need in used if need.note)),
        sd=sd,
        probability=probability,
    )


def _chance(
    gives: float,
    low: tuple[float | None, Need | None],
    high: tuple[float | None, Need | None],
    formula: Formula,
    shares: Sequence[float],
) -> tuple[float, float]:
    """Sd of what the mix gives against its bounds, and the probability (0 to 1) that it keeps them all."""
    worst_sd, miss = 0.0, 0.0
    for (effective_bound, need), side in ((low, "minimum"), (high, "maximum")):
        if need is None:
            continue
        bound = need.minimum if side == "minimum" else need.maximum
        variance = sum(
            share**2 * row_variance(need, bound, candidate.spread, formula.stage.energy)
            for share, candidate in zip(shares, formula.candidates, strict=True)
            if share > IN_MIX
        )
        slack = gives - effective_bound if side == "minimum" else effective_bound - gives
        sd = sqrt(variance)
        kept = NormalDist().cdf(slack / sd) if sd else float(slack >= -MEETS * max(effective_bound, 1e-9))
        miss += 1 - kept
        worst_sd = max(worst_sd, sd)
    return worst_sd, max(1 - miss, 0.0)


def _premix_line(
    need: Need, formula: Formula, shares: Sequence[float], units: Mapping[str, str], library: Library
) -> RequirementLine:
    """What the premix (and the feeds whose figure is known) gives; a feed without a figure is not counted."""
    low, high = effective(need, formula, shares)
    known = [
        share * candidate.values[need.nutrient]
        for share, candidate in zip(shares, formula.candidates, strict=True)
        if share > IN_MIX and need.nutrient in candidate.values
    ]
    gives = sum(known) if any(known) else None
    return RequirementLine(
        need.nutrient, nutrient_label(need.nutrient, library), units[need.nutrient], low, high, gives,
        None if gives is None or low is None else gives >= low * (1 - MEETS), "", 0.0, "requirement", need.basis,
        need.source, need.how, "premix", need.note,
    )  # fmt: skip


def _limits(
    formula: Formula, shares: Sequence[float], answer: Answer, library: Library
) -> tuple[LimitLine, ...]:
    lines = []
    all_duals = answer.solution.row_duals[: len(formula.sources)] if answer.solution else ()
    for cap in formula.caps:
        held = sum(share * content(cap, c) for share, c in zip(shares, formula.candidates, strict=True))
        duals = {
            row.sense: dual
            for row, source, dual in zip(formula.program.rows, formula.sources, all_duals, strict=False)
            if source is cap
        }
        bounds = [bound for bound in (cap.max_share, cap.min_share) if bound is not None]
        binding = any(abs(held - bound) <= MEETS for bound in bounds) and any(duals.values())
        lines.append(
            LimitLine(
                feed=cap.feed,
                label=feed_label(cap.feed, library),
                max_pct=None if cap.max_share is None else 100 * cap.max_share,
                min_pct=None if cap.min_share is None else 100 * cap.min_share,
                gives_pct=100 * held,
                binding=binding,
                shadow_price=sum(duals.values()) / 100,
                reason=cap.reason,
                source=cap.source,
                evidence=cap.evidence,
            )
        )
    return tuple(lines)


def _broken_limits(limits: Sequence[LimitLine]) -> list[str]:
    found = []
    for line in limits:
        if line.max_pct is not None and line.gives_pct > line.max_pct + 1e-4:
            found.append(f"{line.label} is {line.gives_pct:.3g} %, over its cap of {line.max_pct:g} % ({line.reason}).")
        if line.min_pct is not None and line.gives_pct < line.min_pct - 1e-4:
            found.append(f"{line.label} is {line.gives_pct:.3g} %, under the {line.min_pct:g} % the book asks for.")
    return found


def _shortfalls(missed: Sequence[RequirementLine]) -> tuple[Shortfall, ...]:
    found = []
    for line in missed:
        short = line.minimum is not None and line.gives < line.minimum
        bound = line.minimum if short else line.maximum
        found.append(
            Shortfall(
                nutrient=line.nutrient,
                label=line.label,
                unit=line.unit,
                needs=bound,
                gives=line.gives,
                short_pct=100 * abs(bound - line.gives) / bound if bound else 100.0,
                side="minimum" if short else "maximum",
            )
        )
    return tuple(sorted(found, key=lambda shortfall: shortfall.short_pct))


def _feed_per_day(formula: Formula, energy: float | None) -> float | None:
    """kg per head and day: what the book says the group eats, else the table's energy in this mix."""
    stage = formula.stage
    if stage.group_feed_kg:
        return stage.group_feed_kg
    if stage.daily_feed_kg and stage.reference_energy and energy:
        return stage.daily_feed_kg * stage.reference_energy / energy
    return None


def _how_reckoned(formula: Formula, library: Library) -> list[str]:
    stage, notes = formula.stage, []
    if any(need.reference_energy for need in stage.needs) and stage.known:
        notes.append(
            f"Requirements marked 'with energy' stand for {stage.reference_energy:g} kcal/kg of "
            f"{nutrient_label(stage.energy, library)} in the table and follow the energy of this mix."
        )
    if stage.known and not any(candidate.premix_covers for candidate in formula.candidates):
        notes.append("NO PREMIX ON OFFER: vitamins and trace minerals of this ration are not covered.")
    elif stage.premix_needs:
        notes.append("Vitamins and trace minerals are met by the premix at its stated inclusion, not by rows.")
    if stage.unchecked:
        names = ", ".join(nutrient_label(nutrient, library) for nutrient in stage.unchecked)
        notes.append(f"Not checked, because no feed has a figure: {names}.")
    if stage.incomplete:
        notes.append(
            f"This stage has no row for {', '.join(stage.incomplete)}: the mix meets what was asked, "
            "it is NOT a complete ration to feed."
        )
    for candidate in formula.candidates:
        if candidate.group == "bin" and not candidate.price_per_tonne:
            notes.append(f"Bin {candidate.name} is reckoned at no cost: the book gives no sale price.")
    return notes


def _words(keys: Sequence[str], formula: Formula, library: Library) -> tuple[str, ...]:
    """Row keys as a person would name them."""
    by_key = {row.key: source for row, source in zip(formula.program.rows, formula.sources, strict=True)}
    return tuple(_row_words(key, by_key[key], formula, library) for key in keys)


def _row_words(key: str, source: Need | RatioNeed | Cap | None, formula: Formula, library: Library) -> str:
    side = "at least" if ":minimum" in key or ":at least" in key else "at most"
    if isinstance(source, Need):
        bound = source.minimum if side == "at least" else source.maximum
        return f"{nutrient_label(source.nutrient, library)} {side} {bound:.4g} {source.unit} ({source.basis})"
    if isinstance(source, RatioNeed):
        bound = source.minimum if side == "at least" else source.maximum
        names = (nutrient_label(part, library) for part in (source.numerator, source.denominator))
        return f"{' to '.join(names)} {side} {bound:g}"
    if isinstance(source, Cap):
        bound = source.min_share if side == "at least" else source.max_share
        return f"{feed_label(source.feed, library)} {side} {100 * bound:g} % ({source.reason})"
    if key.startswith("offer:"):
        candidate = next(c for c in formula.candidates if key.startswith(f"offer:{c.name}:"))
        if candidate.is_fixed:
            return f"{candidate.label} exactly {100 * candidate.min_share:g} % (set in the book)"
        bound = candidate.min_share if side == "at least" else candidate.max_share
        return f"{candidate.label} {side} {100 * bound:g} % (set in the book)"
    if key.startswith("home-grown:"):
        return f"home-grown feed {key.removeprefix('home-grown:')}"
    return f"one full dose of {key.removeprefix('premix:').replace('_', ' ')} from the premixes on offer"
