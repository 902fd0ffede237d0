"""How long a bin's grain keeps: the storage life that its moisture and the weather leave it."""

from __future__ import annotations

import re
from datetime import date, timedelta

from rationlp.bins import BinEstimate
from rationlp.bins.findings.storage import keeping_days, moisture_limit
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.library.read import Library

COOL, WARM = "50 F (10 C)", "70 F (21 C)"
WARM_MONTHS = range(5, 10)
"""Grain lies at 21 C from May to September and at 10 C else (common practice where it is aerated in autumn)."""
LONGEST_DAYS = 3 * 366
ROUNDING = 1e-9
"""Of a storage life: a hundred hundredths of it are no more than all."""


def keeps_until(estimate: BinEstimate, filled_on: date | None, library: Library) -> date | None:
    """The last day the grain is known to keep; None where it is dry enough to store for long, or nothing is known.

    The allowable storage time of the table adds up over the days at their temperature (ndsu_store2019: approximate and
    cumulative over the storage life).
    """
    shares = {row.crop: row.share for row in estimate.crops if row.crop != FOREIGN_MATTER}
    start = filled_on or estimate.taken_on
    if not shares or start is None or estimate.moisture_from == "library":
        return None
    moisture = 100 - estimate.dry_matter_pct
    limits = [limit.pct for crop in shares if (limit := moisture_limit(crop, True, library)) is not None]
    if not limits or moisture <= min(limits):
        return None
    main = max(shares, key=lambda crop: shares[crop])
    days = {words: _days(keeping_days(moisture, words, main, library)) for words in (COOL, WARM)}
    used = 0.0
    for past in range(LONGEST_DAYS):
        day = start + timedelta(days=past)
        lasts = days[WARM if day.month in WARM_MONTHS else COOL]
        used += 1 / lasts if lasts else 0.0
        if used > 1 + ROUNDING:
            return day - timedelta(days=1)
    return None


def _days(words: str | None) -> float | None:
    """The days of a table's words; None where they are many (`>300`) or none."""
    if words is None or words.startswith(">"):
        return None
    found = re.match(r"[\d.]+", words)
    return float(found[0]) if found else None
