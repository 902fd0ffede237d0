"""What is said of a ration in sentences: notes, findings, conflicts."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import sqrt
from statistics import NormalDist

from rationlp.errors import given
from rationlp.farm import Farm
from rationlp.figures import feed_label, nutrient_label
from rationlp.finder import listed
from rationlp.library.cited import cited
from rationlp.library.read import Library
from rationlp.library.records import Ceiling
from rationlp.numbers import figure, plain
from rationlp.rations.answer.balance import balance_notices
from rationlp.rations.answer.mix import Mix
from rationlp.rations.answer.model import LimitLine, RequirementLine
from rationlp.rations.program.formula import Formula, RowSource
from rationlp.rations.program.only_here import CRYSTAL, LEAST
from rationlp.rations.program.rows import HOME_GROWN, MOST_PREMIX, PREMIX
from rationlp.rations.solve.model import Answer, Confidence
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.certification import protein_exception, share_of_own_feed
from rationlp.stages.limits import is_law, trial_notes
from rationlp.stages.model import ADDED, Cap, ContaminantNeed, Need, RatioNeed
from rationlp.stages.needs import ceilings_to_watch

MOST_MENDING = 2  # feeds named that would mend a ration


def told_conflict(rows: Sequence[str]) -> str:
    """What stands in the way of a mix that meets everything; one requirement by itself conflicts with no other."""
    start = "Cannot be had from what is on offer" if len(rows) == 1 else "These requirements conflict"
    return f"{start}: {'; '.join(rows)}."


def told_laws(answer: Answer, formula: Formula, library: Library) -> str:
    """Which laws no mix of what is on offer keeps together, what would mend it, and where a premix's label goes."""
    mending = " or ".join([remedy.label for remedy in answer.remedies if remedy.share is not None][:MOST_MENDING])
    laws = "; ".join(conflict_words(answer.conflict, formula, library))
    told = [f"No mix of what is on offer keeps all of these: {laws}."]
    if mending:
        told.append(f"Not on offer, and would mend it: {mending}.")
    if any(key.startswith((PREMIX, MOST_PREMIX)) for key in answer.conflict):
        told.append("If the label of your premix says otherwise, write its figures on own_feeds.")
    return " ".join(told)


def confidence_findings(confidence: Confidence | None) -> list[str]:
    """A sentence where the confidence asked for is out of reach."""
    if confidence is None or confidence.attained_pct == confidence.asked_pct:
        return []
    if confidence.of_all:
        return [
            f"No mix meets all requirements at once with the chance of {confidence.asked_pct:g} % that the book asks "
            f"for; the best that was found is {confidence.attained_pct:.1f} %, in this mix."
        ]
    return [
        f"No mix meets every requirement with the {confidence.asked_pct:g} % confidence that the book asks for; "
        f"the best that each of them can have by itself is {confidence.attained_pct:.1f} %, in this mix."
    ]


def broken_limits(limits: Sequence[LimitLine]) -> list[str]:
    """Caps and floors that a mix does not keep, those of the trade aside."""
    found = []
    for line in limits:
        if line.evidence == "usual":
            continue
        if line.max_pct is not None and line.gives_pct > line.max_pct + 1e-4:
            found.append(f"{line.label} is {line.gives_pct:.3g} %, over its cap of {line.max_pct:g} % ({line.reason}).")
        if line.min_pct is not None and line.gives_pct < line.min_pct - 1e-4:
            found.append(f"{line.label} is {line.gives_pct:.3g} %, under the {line.min_pct:g} % the book asks for.")
    return found


def notes_of(mix: Mix, farm: Farm) -> list[str]:
    """How the ration was calculated, and what to look at."""
    return [
        *mix.formula.notes,
        *_how_calculated(mix.formula, farm.library),
        *protein_exception(mix.formula.stage.known, mix.feeds, farm.book, farm.library),
        *_watched(mix, farm),
        *trial_notes(mix.formula.caps, mix.content, farm.library),
    ]


def warnings_of(mix: Mix, requirements: Sequence[RequirementLine], home_grown_share: float, farm: Farm) -> list[str]:
    """What to look at beside the verdict: feeds left out, certificates and the share they ask for, balance."""
    return [
        *mix.formula.warnings,
        *share_of_own_feed(home_grown_share, farm.book, farm.library),
        *balance_notices(mix, requirements, farm),
    ]


def _how_calculated(formula: Formula, library: Library) -> list[str]:
    stage, notes = formula.stage, []
    if any(need.reference_energy for need in stage.needs) and stage.known and stage.energy:
        notes.append(
            f"Requirements that go with energy, marked so, stand for {figure(stage.reference_energy)} kcal/kg of "
            f"{nutrient_label(stage.energy, library)} in the table and follow the energy of this mix."
        )
    if stage.premix_needs and any(candidate.premix_covers for candidate in formula.candidates):
        notes.append(
            "Trace minerals and vitamins A, D, E, K, B12 and riboflavin are met by the premix at its stated inclusion, "
            "not by rows; of the other vitamins the feeds count too."
        )
    if stage.unchecked:
        names = listed(nutrient_label(nutrient, library) for nutrient in stage.unchecked)
        notes.append(f"Not checked, because no feed has a figure: {names}.")
    if stage.incomplete:
        notes.append(
            f"This stage has no row for {', '.join(stage.incomplete)}: the mix meets what was asked, "
            "it is NOT a complete ration to feed."
        )
    for candidate in formula.candidates:
        if candidate.group == "bin" and not candidate.price_per_tonne:
            notes.append(f"Bin {candidate.name} is calculated at no cost: the book gives no sale price.")
    return notes


def _watched(mix: Mix, farm: Farm) -> list[str]:
    """Ceilings that are not rows, where this mix passes them."""
    stage, notes = mix.formula.stage, []
    for row in ceilings_to_watch(stage.known, farm.book.farm.jurisdiction, farm.library) if stage.known else ():
        if found := _beyond(row, mix):
            notes.append(
                f"{nutrient_label(row.nutrient, farm.library)} is {found} ({row.kind}; "
                f"{cited(row.source, farm.library.sources)}): look at it with your nutritionist."
            )
    return notes


def added_passed(mix: Mix, farm: Farm) -> Iterator[Reason]:
    """Where premixes and minerals add more of something than may be added, whatever the grain holds of it."""
    known = mix.formula.stage.known
    if known is None:
        return
    for row in farm.library.ceilings:
        lawful = not row.jurisdiction or farm.settings.jurisdiction in row.jurisdiction
        if row.use != "added" or row.scope not in known.scopes or not lawful:
            continue
        added = sum(s * c.values.get(row.nutrient, 0.0) for s, c in mix.used if c.group in ("premix", "mineral"))
        if added > row.maximum * (1 + 1e-6):
            legal = row.kind == "legal"
            label = nutrient_label(row.nutrient, farm.library)
            yield Reason(
                Kind.LAW if legal else Kind.SAFETY,
                Severity.STOP,
                f"{label} added by premix and minerals is {figure(added, 3)} {row.unit}; at most "
                f"{figure(row.maximum)} {'is lawful' if legal else 'is safe'}.",
                nutrient=row.nutrient,
                unit=row.unit,
                value=added,
                limit=row.maximum,
                source=row.source,
            )


def _beyond(row: Ceiling, mix: Mix) -> str:
    """What the mix holds of a nutrient outside a range that is no row of the program; empty if it is inside."""
    if row.minimum is not None and row.nutrient not in mix.analysis:
        return ""  # a balance is only known where every part of it is
    held = sum(share * candidate.values.get(row.nutrient, 0.0) for share, candidate in mix.used)
    if row.minimum is not None and held < row.minimum:
        return f"{held:.4g} {row.unit}, under {row.minimum:g}"
    over = _chance_over(row, held, mix)
    chance = f" (chance of more: {100 * over:.0f} %)" if row.probability_pct else ""
    if held > row.maximum:
        return f"{held:.4g} {row.unit}, over {row.maximum:g}{chance}"
    return f"{held:.4g} {row.unit}, near {row.maximum:g}{chance}" if over > 1 - (row.probability_pct or 0) / 100 else ""


def _chance_over(row: Ceiling, held: float, mix: Mix) -> float:
    """The chance that the mix holds more than a ceiling allows, 0 to 1; feeds without a figure count with nothing."""
    if row.probability_pct is None:
        return 0.0
    variance = sum(share**2 * c.spread.covariance_of(row.nutrient, row.nutrient) for share, c in mix.used)
    return 1 - NormalDist(held, sqrt(variance)).cdf(row.maximum) if variance else float(held > row.maximum)


def conflict_words(keys: Sequence[str], formula: Formula, library: Library) -> tuple[str, ...]:
    """Rows that cannot hold together, as a person would name them, each once."""
    return tuple(dict.fromkeys(row_words(key, formula, library) for key in keys))


def row_words(key: str, formula: Formula, library: Library) -> str:
    """A row of the formula, or one that keeps its mix a feed, as a person would name it."""
    if key.startswith((CRYSTAL, LEAST)):
        return f"{key.split(':')[1]} only as far as it is needed and can be weighed"
    rows = zip(formula.program.rows, formula.sources, strict=True)
    source: RowSource = next(source for row, source in rows if row.key == key)
    side = "at least" if ":minimum" in key or ":at least" in key else "at most"
    if isinstance(source, Need):
        bound = source.minimum if side == "at least" else source.maximum
        basis = source.note.split(";")[0] if source.usual else source.basis
        told = "" if basis == "per kg" else f" ({basis})"
        added = ADDED if source.of_groups else ""
        return f"{nutrient_label(source.nutrient, library)}{added} {side} {plain(bound)} {source.unit}{told}"
    if isinstance(source, RatioNeed):
        bound = source.minimum if side == "at least" else source.maximum
        names = (nutrient_label(part, library) for part in (source.numerator, source.denominator))
        return f"{' to '.join(names)} {side} {bound:g}"
    if isinstance(source, Cap):
        share = source.min_share if side == "at least" else source.max_share
        percent = 100 * given(share, f"the bound of {key}")
        kind = "safety cap, " if source.safety else "legal maximum, " if is_law(source) else ""
        if source.usual:
            return f"{feed_label(source.feed, library)} {side} {percent:g} % ({source.reason})"
        return f"{feed_label(source.feed, library)} {side} {percent:g} % ({kind}{source.reason})"
    if isinstance(source, ContaminantNeed):
        return source.rule
    if key.startswith("offer:"):
        candidate = next(c for c in formula.candidates if key.startswith(f"offer:{c.name}:"))
        share = candidate.min_share if side == "at least" or candidate.is_fixed else candidate.max_share
        words = "exactly" if candidate.is_fixed else side
        return f"{candidate.label} {words} {100 * given(share, f'the bound of {key}'):g} % (set in the book)"
    if key.startswith(HOME_GROWN):
        return f"home-grown feed {key.removeprefix(HOME_GROWN)}"
    if key.startswith(MOST_PREMIX):
        return f"no more {key.removeprefix(MOST_PREMIX).replace('_', ' ')} than the premixes' largest dose (max_pct)"
    return f"one full dose of {key.removeprefix(PREMIX).replace('_', ' ')} from the premixes on offer"
