"""What the trade uses at most (plausible.csv) as bounds of a stage: the first to give way, and never without a word."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from rationlp.library.read import Library
from rationlp.library.records import PlausibleBound
from rationlp.reasons import Severity
from rationlp.stages.model import Cap, Need, NeedKind

USUAL = "usual"
ANY_STAGE = "all"
WORDS = "the trade uses no more"


def usual_bounds(scopes: Sequence[str], library: Library) -> list[PlausibleBound]:
    """Per measure the bound of the nearest of `scopes`, the nearest first."""
    wanted = (*scopes, ANY_STAGE)
    nearest: dict[str, PlausibleBound] = {}
    for bound in sorted((b for b in library.plausible if b.scope in wanted), key=lambda b: wanted.index(b.scope)):
        nearest.setdefault(bound.measure, bound)
    return list(nearest.values())


def usual_caps(scopes: Sequence[str], present: Iterable[str], library: Library) -> list[Cap]:
    """The bounds on feeds and families that speak of a feed in `present`."""
    here, found = set(present), []
    for bound in usual_bounds(scopes, library):
        members = library.families.get(bound.measure, frozenset()) & here
        if members:
            found.append(
                Cap(
                    feed=bound.measure,
                    members=members,
                    max_share=bound.at_most_pct / 100,
                    min_share=None,
                    reason=f"{WORDS}; {bound.note}" if bound.note else WORDS,
                    source=bound.source,
                    how=bound.how,
                    evidence=USUAL,
                    usual=Severity(bound.beyond),
                )
            )
    return found


def usual_needs(scopes: Sequence[str], needs: Iterable[Need], library: Library) -> list[Need]:
    """The bounds on nutrients, but for those that a ceiling which is never given up holds below."""
    held = [need for need in needs if need.safety and need.reference_energy is None and not need.of_groups]
    found = []
    for bound in usual_bounds(scopes, library):
        known = library.nutrients.get(bound.measure)
        if known is None or any(
            need.nutrient == bound.measure and need.maximum is not None and need.maximum <= bound.at_most_pct
            for need in held
        ):
            continue
        found.append(
            Need(
                bound.measure,
                known.unit,
                maximum=bound.at_most_pct,
                kind=NeedKind.USUAL,
                source=bound.source,
                how=bound.how,
                note=f"{WORDS}; {bound.note}" if bound.note else WORDS,
                usual=Severity(bound.beyond),
            )
        )
    return found
