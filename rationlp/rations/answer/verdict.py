"""Whether a mix may be fed: every reason, from wherever it was found, put together once.

Reasons that only the finished mix can tell are made here and in the files beside; those of a stage, a formula, a bin or
an offer were made where they were found and count when they are in the mix.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from math import isclose

from rationlp.bins.findings.contaminants import TOXIN
from rationlp.bins.model import Gravity
from rationlp.farm import Farm
from rationlp.numbers import figure
from rationlp.rations.answer.mix import Mix
from rationlp.rations.answer.model import DigestibleLine, Shortfall
from rationlp.rations.answer.ratios import digestible_short, raw_legumes
from rationlp.rations.answer.short import digestible_reasons, short_reasons
from rationlp.rations.answer.words import added_passed
from rationlp.rations.program.formula import Formula
from rationlp.rations.solve.model import Confidence
from rationlp.reasons import Kind, Reason, Severity, Verdict, in_order
from rationlp.stages.contaminants import contaminant_reasons

FAR_BEYOND = 1.5
"""Times what the trade uses at most from which a mix is a stop: nobody has seen animals on it (a judgement)."""


@dataclass(frozen=True, slots=True)
class Leeway:
    """How far a mix that people weighed may be from its bounds, in parts of the bound; none for a mix calculated.

    A requirement missed by no more than `told` is only told, by no more than `stop` it is for a nutritionist to decide.
    A maximum passed by no more than `maximum` is only told, one of the law is for a nutritionist to decide.
    A premix off its dose by no more than `dose_told` is only told, by no more than `dose_stop` for a nutritionist; a
    vitamin or trace mineral of it short by no more than `told` is only told.
    A maximum of the law passed by no more than `law_told` is only told, by no more than `law_asked` for a nutritionist.
    What the trade uses at most, passed by no more than `usual_told`, is only told, and up to half again for a
    nutritionist.
    """

    told: float = 0.0
    stop: float = 0.0
    maximum: float = 0.0
    dose_told: float = 0.0
    dose_stop: float = 0.0
    law_told: float = 0.0
    law_asked: float = 0.0
    usual_told: float = 0.0


EXACT = Leeway()


def verdict_of(
    mix: Mix,
    short: Sequence[Shortfall],
    digestible: Sequence[DigestibleLine],
    confidence: Confidence | None,
    found: Sequence[Reason],
    probability_all: float | None,
    leeway: Leeway,
    farm: Farm,
) -> Verdict:
    """The verdict on a mix. `found` are the reasons of its rows, caps, premix and contaminants."""
    formula = mix.formula
    shares = {candidate.name: share for share, candidate in mix.used}
    used = [candidate for _, candidate in mix.used]
    toxins = contaminant_reasons(shares, used, formula.stage, farm.settings.jurisdiction, farm.library)
    own = (*found, *_unsaid((*short_reasons(short, farm.library), *added_passed(mix, farm)), (*found, *toxins)))
    reasons = (
        *(eased(reason, leeway) for reason in own),
        *toxins,
        *_unsure(confidence),
        *formula.stage.reasons,
        *formula.reasons,
        *(_told(reason) for reason in formula.left_out),
        *(reason for _, candidate in mix.used for reason in candidate.reasons),
        *_dangers(mix),
        *digestible_reasons(digestible_short(digestible), 100 * raw_legumes(mix, farm.library)),
    )
    return Verdict(in_order(reasons), probability_all, mix.without_grain)


def _unsaid(more: Iterable[Reason], said: Sequence[Reason]) -> Iterator[Reason]:
    """Those of `more` that pass another bound than the laws and safe limits in `said`: each is told once."""
    bounds = [(r.nutrient, r.limit) for r in said if r.kind in (Kind.SAFETY, Kind.LAW) and r.limit is not None]
    for reason in more:
        limit = reason.limit
        if limit is None or not any(
            nutrient == reason.nutrient and isclose(limit, bound) for nutrient, bound in bounds
        ):
            yield reason


def no_mix(formula: Formula, why: str) -> Verdict:
    """The verdict where there is no mix, and why."""
    left_out = (_told(reason) for reason in formula.left_out)
    none = Reason(Kind.REQUIREMENT, Severity.STOP, why)
    return Verdict(in_order((none, *formula.stage.reasons, *formula.reasons, *left_out)))


def _told(reason: Reason) -> Reason:
    """A reason for leaving something out: not in the mix, yet a danger on the farm is for a nutritionist to know."""
    danger = reason.severity is Severity.STOP and reason.kind in (Kind.SAFETY, Kind.LAW)
    return replace(reason, severity=Severity.ASK if danger else Severity.FEED)


def eased(reason: Reason, leeway: Leeway) -> Reason:
    """A reason as it weighs for a mix with some leeway."""
    if reason.value is None or not reason.limit or leeway == EXACT:
        return reason
    off = abs(reason.value - reason.limit) / abs(reason.limit)
    if reason.kind is Kind.REQUIREMENT:
        return _within(reason, off, leeway.told, leeway.stop)
    if reason.kind is Kind.PREMIX and reason.nutrient is None:
        return _within(reason, off, leeway.dose_told, leeway.dose_stop)
    if reason.kind is Kind.PREMIX:
        return _within(reason, off, leeway.told, leeway.told)
    if reason.kind is Kind.LAW and leeway.law_told:
        return _within(reason, off, leeway.law_told, leeway.law_asked)
    if reason.kind is Kind.USUAL and leeway.usual_told:
        return _within(reason, off, leeway.usual_told, FAR_BEYOND - 1)
    if off > leeway.maximum or reason.kind not in (Kind.SAFETY, Kind.LAW, Kind.USUAL):
        return reason
    return replace(reason, severity=Severity.ASK if reason.kind is Kind.LAW else Severity.FEED)


def _within(reason: Reason, off: float, told: float, stop: float) -> Reason:
    """A reason `off` its limit: only told up to `told`, for a nutritionist up to `stop`, as grave as it is beyond."""
    if off <= told:
        return replace(reason, severity=Severity.FEED)
    return replace(reason, severity=Severity.ASK) if off <= stop and reason.severity is Severity.STOP else reason


def _unsure(confidence: Confidence | None) -> Iterator[Reason]:
    """A reason where the confidence asked for is out of reach."""
    if confidence is not None and confidence.attained_pct != confidence.asked_pct:
        yield Reason(
            Kind.REQUIREMENT,
            Severity.ASK,
            f"No mix reaches {figure(confidence.asked_pct)} % confidence on "
            f"{'all requirements at once' if confidence.of_all else 'every requirement'}; this one reaches "
            f"{confidence.attained_pct:.1f} %.",
            unit="%",
            value=confidence.attained_pct,
            limit=confidence.asked_pct,
            source="confidence_pct of the book",
        )


def _dangers(mix: Mix) -> Iterator[Reason]:
    """Dangers found in the bins of the mix, for a nutritionist to decide.

    What a bin's contaminants mean is said for the animals of the mix by `contaminant_reasons`; the bin's own findings
    speak of every animal on the farm.
    """
    for _, candidate in mix.used:
        said = {reason.text for reason in candidate.reasons}
        contradicted = any(reason.kind is Kind.EVIDENCE for reason in candidate.reasons)
        for notice in candidate.estimate.notices if candidate.estimate is not None else ():
            told = notice.text in said or notice.kind == TOXIN or (notice.kind == "agreement" and contradicted)
            if notice.severity is Gravity.DANGER and not told:
                kind = Kind.EVIDENCE if notice.kind in ("agreement", "drift", "evidence") else Kind.SAFETY
                text = f"Bin {candidate.name}: {notice.text}"
                yield Reason(kind, Severity.ASK, text, feed=candidate.name, source=notice.source)
