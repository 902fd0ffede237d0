"""What of one mix must not reach the animals of the next: what stays in the mixer, how to flush it, which to mix last.

Figures: 9 to 14 kg (20 to 30 lb) often stay in a farm mixer, and no feed for market hogs is mixed straight after a
medicated one (osu_b869, page). A flush is 5 to 10 % of what the mixer holds and at least 200 lb of ground grain,
labelled and used in the same feed later (memory: extension practice). Layer feed left in the mixer is a hazard to
pullets and chicks (memory: extension practice; ca_urolith1985 for what its calcium does).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from rationlp.farm import Farm
from rationlp.feeds.labels import label_meanings
from rationlp.library.read import Library
from rationlp.sheets.eaters import DRUG_WORDS, HIGH_CALCIUM_PCT, HIGH_ZINC_MG_KG, harms, lays, whom
from rationlp.sheets.model import MixSheet
from rationlp.sheets.practice import FLUSH_LEAST, FLUSH_SHARE
from rationlp.sheets.weights.scale import exact, shown, up_to

MOST_NAMED = 3
STRAIGHT_AFTER = "NOT STRAIGHT AFTER"


@dataclass(frozen=True, slots=True)
class Residue:
    """What a mix leaves in the mixer that matters: offers with a drug, calcium of layers, zinc of weaners.

    `label` names the mix, `when` the day and batch of one that was made before, `animals` those it is for, `lays`
    whether these lay.
    """

    label: str
    animals: str
    lays: bool
    drugs: frozenset[str]
    calcium: bool
    zinc: bool
    when: str = ""

    @property
    def rank(self) -> int:
        """How late it is best mixed."""
        return 3 if self.drugs else 2 if self.calcium else 1 if self.zinc else 0

    def harms(self, following: Residue) -> bool:
        """Whether what stays in the mixer harms the animals of the next mix, or is a drug they must not get."""
        if self.drugs - following.drugs or (self.calcium and not following.lays):
            return True
        return self.zinc and self.animals != following.animals


def residue(
    label: str, stage: str, meanings: Mapping[str, frozenset[str]], gives: Mapping[str, float], library: Library
) -> Residue:
    """What a mix of a stage leaves behind; `meanings` of the words on its offers, `gives` what it holds by nutrient."""
    return Residue(
        label,
        whom(stage, label, library),
        lays(stage, library),
        frozenset(offer for offer, means in meanings.items() if means & DRUG_WORDS),
        gives.get("calcium", 0.0) > HIGH_CALCIUM_PCT,
        gives.get("zinc", 0.0) > HIGH_ZINC_MG_KG,
    )


def with_carry_over(sheets: Sequence[MixSheet], farm: Farm) -> list[MixSheet]:
    """The sheets, each with whom it is for alone, what to do in the mixer before and after it, and its place in an
    order of mixing in which what harms the others comes last."""
    meanings = _meanings(farm)
    left = [_residue(sheet, meanings, farm.library) for sheet in sheets]
    risky = [each for each in left if each.rank]
    turns = {id(each): turn for turn, each in enumerate(sorted(left, key=lambda r: r.rank), 1)}
    return [
        _told(sheet, mine, risky, meanings, turns[id(mine)], farm) for sheet, mine in zip(sheets, left, strict=True)
    ]


def after(sheet: MixSheet, last: Sequence[Residue], farm: Farm) -> MixSheet:
    """The sheet with what to do where one of `last`, which by the farm's record the mixer may have held last, harms its
    animals; unless the sheet says so of that mix already."""
    mine, said = _residue(sheet, _meanings(farm), farm.library), " ".join(sheet.carry_over)
    harmful = [each for each in last if each.harms(mine) and f"{STRAIGHT_AFTER} {each.label}" not in said]
    named = list(dict.fromkeys(f"{each.label}{each.when}" for each in harmful))
    if not named:
        return sheet
    words = f"{_first(named, sheet, farm)} By the farm's record the mixer may have held it last."
    return replace(sheet, carry_over=(words, *sheet.carry_over))


def _meanings(farm: Farm) -> dict[str, frozenset[str]]:
    return {offer.offer: label_meanings(offer, farm.book, farm.library) for offer in farm.book.supplements}


def _residue(sheet: MixSheet, meanings: Mapping[str, frozenset[str]], library: Library) -> Residue:
    of_it = {offer: meanings.get(offer, frozenset()) for offer in sheet.offers}
    return residue(sheet.stage_label, sheet.ration.stage, of_it, sheet.ration.analysis, library)


def _told(
    sheet: MixSheet,
    left: Residue,
    risky: Sequence[Residue],
    meanings: Mapping[str, frozenset[str]],
    turn: int,
    farm: Farm,
) -> MixSheet:
    warned = frozenset[str]().union(*(meanings.get(offer, frozenset()) for offer in sheet.offers))
    why = harms(sheet.ration, warned)
    before = list(dict.fromkeys(each.label for each in risky if each.harms(left)))
    words = [_first(before, sheet, farm)] if before else []
    if left.rank:
        words.append(
            f"AFTER THIS MIX run {_flush(sheet, farm)} of ground grain through the mixer before feed for other "
            "animals; label it, and use it in this feed later. Best mixed last."
        )
    only = f"FOR {left.animals} ONLY: {'; '.join(why)}." if why else ""
    return replace(sheet, only_for=only, carry_over=tuple(words), turn=turn)


def _first(before: Sequence[str], sheet: MixSheet, farm: Farm) -> str:
    """Not straight after these mixes, and what to do where it is."""
    more = f" and {len(before) - MOST_NAMED} more" if before[MOST_NAMED:] else ""
    named = ", ".join(before[:MOST_NAMED]) + more
    return f"{STRAIGHT_AFTER} {named}: first run {_flush(sheet, farm)} of ground grain through the mixer."


def _flush(sheet: MixSheet, farm: Farm) -> str:
    """A tenth of what the mixer holds, at least 200 lb, in whole steps of the mixer scale."""
    holds = sheet.capacity or sheet.batch
    mass = up_to(max(FLUSH_SHARE * holds, exact(FLUSH_LEAST, sheet.unit)), sheet.scale.step)
    return shown(min(mass, holds), sheet.scale.step, sheet.unit)
