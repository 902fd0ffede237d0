"""What of one mix must not reach the animals of the next: what stays in the mixer, how to flush it, which to mix last.

Figures: 9 to 14 kg (20 to 30 lb) often stay in a farm mixer, and no feed for market hogs is mixed straight after a
medicated one (osu_b869, page). A flush is 5 to 10 % of what the mixer holds and at least 200 lb of ground grain,
labelled and used in the same feed later (memory: extension practice). Layer feed left in the mixer is a hazard to
pullets and chicks (memory: extension practice; ca_urolith1985 for what its calcium does).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rationlp.farm import Farm
from rationlp.feeds.labels import label_meanings
from rationlp.library.read import Library
from rationlp.sheets.eaters import DRUG_WORDS, HIGH_CALCIUM_PCT, HIGH_ZINC_MG_KG, harms, lays, whom
from rationlp.sheets.model import MixSheet
from rationlp.sheets.practice import FLUSH_LEAST, FLUSH_SHARE
from rationlp.sheets.scale import exact, shown, up_to

MOST_NAMED = 3


@dataclass(frozen=True, slots=True)
class Residue:
    """What a mix leaves in the mixer that matters: offers with a drug, calcium of layers, zinc of weaners."""

    sheet: MixSheet
    drugs: frozenset[str]
    calcium: bool
    zinc: bool

    @property
    def rank(self) -> int:
        """How late it is best mixed."""
        return 3 if self.drugs else 2 if self.calcium else 1 if self.zinc else 0

    def harms(self, following: MixSheet, library: Library) -> bool:
        """Whether what stays in the mixer harms the animals of `following`, or is a drug they must not get."""
        if self.drugs - following.offers or (self.calcium and not lays(following.ration, library)):
            return True
        return self.zinc and whom(self.sheet.ration, library) != whom(following.ration, library)


def with_carry_over(sheets: Sequence[MixSheet], farm: Farm) -> list[MixSheet]:
    """The sheets, each with whom it is for alone, what to do in the mixer before and after it, and its place in an
    order of mixing in which what harms the others comes last."""
    meanings = {offer.offer: label_meanings(offer, farm.book, farm.library) for offer in farm.book.supplements}
    left = [_residue(sheet, meanings) for sheet in sheets]
    risky = [residue for residue in left if residue.rank]
    turns = {id(residue): turn for turn, residue in enumerate(sorted(left, key=lambda r: r.rank), 1)}
    return [_told(residue, risky, meanings, turns[id(residue)], farm) for residue in left]


def _residue(sheet: MixSheet, meanings: dict[str, frozenset[str]]) -> Residue:
    gives = sheet.ration.analysis
    return Residue(
        sheet,
        frozenset(offer for offer in sheet.offers if meanings.get(offer, frozenset()) & DRUG_WORDS),
        gives.get("calcium", 0.0) > HIGH_CALCIUM_PCT,
        gives.get("zinc", 0.0) > HIGH_ZINC_MG_KG,
    )


def _told(
    left: Residue, risky: Sequence[Residue], meanings: dict[str, frozenset[str]], turn: int, farm: Farm
) -> MixSheet:
    sheet, flush = left.sheet, _flush(left.sheet, farm)
    warned = frozenset[str]().union(*(meanings.get(offer, frozenset()) for offer in sheet.offers))
    why = harms(sheet.ration, warned)
    before = list(dict.fromkeys(r.sheet.stage_label for r in risky if r.harms(sheet, farm.library)))
    words = []
    if before:
        named = ", ".join(before[:MOST_NAMED]) + (
            f" and {len(before) - MOST_NAMED} more" if before[MOST_NAMED:] else ""
        )
        words.append(f"NOT STRAIGHT AFTER {named}: first run {flush} of ground grain through the mixer.")
    if left.rank:
        words.append(
            f"AFTER THIS MIX run {flush} of ground grain through the mixer before feed for other animals; label it, "
            "and use it in this feed later. Best mixed last."
        )
    only = f"FOR {whom(sheet.ration, farm.library)} ONLY: {'; '.join(why)}." if why else ""
    return replace(sheet, only_for=only, carry_over=tuple(words), turn=turn)


def _flush(sheet: MixSheet, farm: Farm) -> str:
    """A tenth of what the mixer holds, at least 200 lb, in whole steps of the mixer scale."""
    holds = sheet.capacity or sheet.batch
    mass = up_to(max(FLUSH_SHARE * holds, exact(FLUSH_LEAST, sheet.unit)), sheet.scale.step)
    return shown(min(mass, holds), sheet.scale.step, sheet.unit)
