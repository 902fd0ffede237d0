"""Contaminants of every feed of a mix: feeds that may not be fed to a stage, and the most of each in the mix.

A bin or a lot above the limit of the feed itself is left out, never thinned to pass. Where only the complete feed has a
limit, a feed above that is left out as well if the law of the jurisdiction forbids thinning (Canada s. 34(2), EU
Directive 2002/32/EC Article 5, aflatoxin in the US); elsewhere the mix as a whole holds the limit on the safe side of
the ±. The rows of `contaminants.csv` decide which of the two it is.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from rationlp.bins.toxins import Content
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.errors import given
from rationlp.feeds.candidates import Candidate
from rationlp.library.contaminant_law import LegalLimit, animals_of, limits_on_feed
from rationlp.library.read import Library
from rationlp.numbers import plain
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.model import ContaminantNeed
from rationlp.stages.own_contaminants import unlimited_reasons
from rationlp.stages.stage import StageNeeds

ROOM = 1e-6
"""Part of a limit by which a mix may pass it: the last bits of a float."""
PROHIBITED = " Thinning it with other feed is prohibited."


@dataclass(frozen=True, slots=True)
class ContaminantLimit:
    """What a contaminant of a feed does to the rations of a stage.

    `refusal` says why the feed may not be fed to the stage at all, None if it may. Otherwise `maximum` (of the complete
    feed as fed, in `unit`) is a hard row of the ration, in which the feed counts with the safe side of `content`.
    `rule` is the sentence to print. `thinned` says what is to be asked where the feed itself is above what a complete
    feed may hold, and no limit says how much of it a feed may hold: only other feed brings it below.
    """

    nutrient: str
    label: str
    unit: str
    maximum: float | None
    content: Content
    rule: str
    source: str
    how: str
    kind: Kind
    refusal: Reason | None = None
    thinned: Reason | None = None


@dataclass(frozen=True, slots=True)
class Contaminants:
    """What the contaminants of the candidates mean for a stage.

    `kept` are the candidates that may be fed, `left_out` the reasons of each that may not, `needs` the rows of the mix,
    `reasons` what counts for every mix: a feed that the book puts into each of them although it may not be fed.
    """

    kept: tuple[Candidate, ...]
    left_out: tuple[Reason, ...]
    needs: tuple[ContaminantNeed, ...]
    reasons: tuple[Reason, ...] = ()


def contaminants_of(
    stage: StageNeeds, candidates: Sequence[Candidate], jurisdiction: str, library: Library
) -> Contaminants:
    """The limits of every candidate; one above the limit of the feed itself is not thinned but left out.

    One that the book puts into every mix cannot be left out: its reasons count for each mix.
    """
    kept: list[Candidate] = []
    left_out: list[Reason] = []
    reasons: list[Reason] = []
    limits: dict[str, list[tuple[Candidate, ContaminantLimit]]] = {}
    for candidate in candidates:
        here = candidate_limits(candidate, stage, jurisdiction, library)
        refused = [limit.refusal for limit in here if limit.refusal is not None]
        if refused and not candidate.min_share:
            left_out += [replace(reason, text=f"Left out: {reason.text}") for reason in refused]
            continue
        reasons += refused
        kept.append(candidate)
        for limit in here:
            if limit.maximum is not None:
                limits.setdefault(limit.nutrient, []).append((candidate, limit))
    needs = tuple(_need(found) for found in limits.values())
    return Contaminants(tuple(kept), tuple(dict.fromkeys(left_out)), needs, tuple(dict.fromkeys(reasons)))


def candidate_limits(
    candidate: Candidate, stage: StageNeeds, jurisdiction: str, library: Library
) -> list[ContaminantLimit]:
    """Every limit that a contaminant of a feed meets in this stage, refusals first.

    Of several limits on the complete feed, the farm's own among them, the lowest is the row. A stage of the farm's own
    is held to the strictest class of the species that its energy speaks of.
    """
    animals = animals_of(stage.known, stage.energy, library)
    feeds = [feed for feed, share in candidate.feeds.items() if share > 0 and feed != FOREIGN_MATTER]
    dry = _dry_matter(candidate)
    found: list[ContaminantLimit] = []
    for nutrient, content in candidate.contaminants.items():
        limits = limits_on_feed(nutrient, feeds, animals, jurisdiction, dry, library)
        prohibited = limits.no_diluting is not None
        for limit in limits.material:
            most = limit.material(dry, library)
            if content.value > most:
                found.append(_refused(candidate, content, limit, most, _itself(candidate), prohibited, library))
        own = _own_row(content, stage, library)
        if limits.diet is None:
            found += own
            continue
        most = limits.diet.diet(dry, library)
        nothing = most == 0 and content.upper > 0
        if nothing or (prohibited and not limits.material and content.value > most):
            found.append(
                _refused(candidate, content, limits.diet, most, "the complete feed", prohibited and most > 0, library)
            )
        row = _row(content, limits.diet, most, library)
        thinned = _thinned(candidate, row) if not limits.material and content.value > most else None
        found.append(replace(min([*own, row], key=_maximum), thinned=thinned))
    return sorted(found, key=lambda limit: limit.refusal is None)


def contaminant_reasons(
    shares: Mapping[str, float],
    candidates: Iterable[Candidate],
    stage: StageNeeds,
    jurisdiction: str,
    library: Library,
) -> tuple[Reason, ...]:
    """What the contaminants of a finished mix say of feeding it: any mix, also one that the crew weighed.

    `shares` are 0 to 1 by name of the candidate. A feed above its own limit is a stop at any share, and so is a
    contaminant of the whole mix above the limit of the complete feed; one that may pass it by its ± is an ask. What
    the candidates themselves have to say (results that disagree) comes with it.
    """
    used = [(shares[c.name], c) for c in candidates if shares.get(c.name, 0.0) > 0]
    reasons: list[Reason] = []
    held: dict[str, list[tuple[float, ContaminantLimit]]] = {}
    for share, candidate in used:
        for limit in candidate_limits(candidate, stage, jurisdiction, library):
            if limit.refusal is not None:
                reasons.append(limit.refusal)
            elif limit.maximum is not None:
                held.setdefault(limit.nutrient, []).append((share, limit))
        reasons += (reason for reason in candidate.reasons if reason.nutrient in candidate.contaminants)
        reasons += unlimited_reasons(candidate, stage, library)
    for found in held.values():
        reason = _of_mix(found)
        if reason is not None:
            reasons.append(reason)
        reasons += (limit.thinned for _, limit in found if limit.thinned is not None)
    return tuple(dict.fromkeys(reasons))


def _of_mix(found: Sequence[tuple[float, ContaminantLimit]]) -> Reason | None:
    """A contaminant of a mix against the lowest limit on the complete feed that its feeds meet."""
    limit = min((limit for _, limit in found), key=_maximum)
    most = _maximum(limit)
    value = sum(share * row.content.value for share, row in found)
    upper = sum(share * row.content.upper for share, row in found)
    held = f"{limit.label} of the mix: {plain(value)} {limit.unit}"
    if value > most * (1 + ROOM):
        severity, text = Severity.STOP, f"{held}, above {limit.rule}"
    elif upper > most * (1 + ROOM):
        severity = Severity.ASK
        text = f"{held}, and by the ± of the tests it may be {plain(upper)}, above {limit.rule}"
    else:
        return None
    return Reason(
        limit.kind,
        severity,
        f"{text}.",
        nutrient=limit.nutrient,
        unit=limit.unit,
        value=value,
        limit=most,
        source=limit.source,
    )


def _maximum(limit: ContaminantLimit) -> float:
    return 0.0 if limit.maximum is None else limit.maximum


def _itself(candidate: Candidate) -> str:
    return "the grain itself" if candidate.estimate else "the feed itself"


def _dry_matter(candidate: Candidate) -> float | None:
    """Dry matter in percent as fed, None where it is not known."""
    return candidate.estimate.dry_matter_pct if candidate.estimate else candidate.values.get("dry_matter")


def _row(content: Content, limit: LegalLimit, most: float, library: Library) -> ContaminantLimit:
    nutrient = library.nutrients[content.nutrient]
    rule = f"{nutrient.label}: at most {plain(most)} {nutrient.unit} of the complete feed ({limit.words})"
    return ContaminantLimit(
        content.nutrient,
        nutrient.label,
        nutrient.unit,
        most,
        content,
        rule,
        limit.row.source,
        limit.row.how,
        _kind(limit),
    )


def _own_row(content: Content, stage: StageNeeds, library: Library) -> list[ContaminantLimit]:
    """The lowest of the farm's own maxima of a contaminant, if it has one."""
    needs = [need for need in stage.own_contaminants if need.nutrient == content.nutrient and need.maximum is not None]
    if not needs:
        return []
    need = min(needs, key=lambda row: given(row.maximum, f"the farm's own maximum of {row.nutrient}"))
    label = library.nutrients[content.nutrient].label
    why = f"the farm's own maximum: {need.source or 'no source given'}"
    rule = f"{label}: at most {plain(need.maximum)} {need.unit} of the complete feed ({why})"
    return [
        ContaminantLimit(
            content.nutrient, label, need.unit, need.maximum, content, rule, need.source, need.how, Kind.SAFETY
        )
    ]


def _thinned(candidate: Candidate, row: ContaminantLimit) -> Reason:
    """What is to be asked of a feed that is fed only because others in the mix hold less."""
    content, most = row.content, row.maximum
    return Reason(
        row.kind,
        Severity.ASK,
        f"{_named(candidate)} holds {plain(content.value)} {row.unit} of {row.label} ({content.origin}): more than a "
        f"complete feed may hold. Only thinned with other feed is it in this mix. {row.rule}.",
        nutrient=content.nutrient,
        feed=candidate.name,
        unit=row.unit,
        value=content.value,
        limit=most,
        source=row.source,
    )


def _named(candidate: Candidate) -> str:
    return f"bin {candidate.name}" if candidate.estimate else candidate.name


def _refused(
    candidate: Candidate,
    content: Content,
    limit: LegalLimit,
    most: float,
    of_what: str,
    prohibited: bool,
    library: Library,
) -> ContaminantLimit:
    nutrient = library.nutrients[content.nutrient]
    rule = f"{nutrient.label}: at most {plain(most)} {nutrient.unit} of {of_what} ({limit.words})"
    text = (
        f"{_named(candidate)} holds {plain(content.value)} {nutrient.unit} of {nutrient.label} ({content.origin}), "
        f"above the limit of {of_what}, {plain(most)} ({limit.words}). It must not be fed to these animals."
        f"{PROHIBITED if prohibited else ''}"
    )
    reason = Reason(
        _kind(limit),
        Severity.STOP,
        text,
        nutrient=content.nutrient,
        feed=candidate.name,
        unit=nutrient.unit,
        value=content.value,
        limit=most,
        source=limit.row.source,
    )
    return ContaminantLimit(
        content.nutrient,
        nutrient.label,
        nutrient.unit,
        None,
        content,
        rule,
        limit.row.source,
        limit.row.how,
        reason.kind,
        reason,
    )


def _kind(limit: LegalLimit) -> Kind:
    """Law where the farm's own jurisdiction enforces the limit; else guidance, a trial or another country's: safety."""
    return Kind.LAW if limit.is_law else Kind.SAFETY


def _need(found: Sequence[tuple[Candidate, ContaminantLimit]]) -> ContaminantNeed:
    """One row for all feeds; where they are held to different limits the lowest counts."""
    limit = min((limit for _, limit in found), key=_maximum)
    return ContaminantNeed(
        nutrient=limit.nutrient,
        label=limit.label,
        unit=limit.unit,
        maximum=_maximum(limit),
        contents={candidate.name: own.content.value for candidate, own in found},
        sds={candidate.name: own.content.sd for candidate, own in found},
        safe_contents={candidate.name: own.content.upper for candidate, own in found},
        rule=limit.rule,
        source=limit.source,
        how=limit.how,
    )
