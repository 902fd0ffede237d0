"""How much of a layer's limestone is in coarse pieces: a row where something coarse is on offer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from rationlp.feeds.candidates import Candidate
from rationlp.reasons import Kind, Reason, Severity
from rationlp.stages.stage import StageNeeds

COARSE = "coarse_calcium"
"""The nutrient that coarse limestone and shell bring: calcium in pieces of 1 to 4.5 mm."""


def with_coarse_calcium(stage: StageNeeds, candidates: Sequence[Candidate]) -> StageNeeds:
    """`stage` without its row of coarse calcium where nothing on offer brings any, and a word to the nutritionist."""
    asked = next((ratio for ratio in stage.ratios if ratio.numerator == COARSE), None)
    if asked is None or any(candidate.values.get(COARSE) for candidate in candidates):
        return stage
    share = 100 * (asked.minimum or 0.0)
    reason = Reason(
        Kind.REQUIREMENT,
        Severity.ASK,
        f"No coarse limestone or shell is on offer; {share:g} % of the limestone of hens should be pieces of 2 to 4 "
        "mm, which make stronger shells. Put it on the sheet supplements, or offer it to the hens beside the feed.",
        nutrient=COARSE,
        source=asked.source,
    )
    ratios = tuple(ratio for ratio in stage.ratios if ratio is not asked)
    return replace(stage, ratios=ratios, reasons=(*stage.reasons, reason))
