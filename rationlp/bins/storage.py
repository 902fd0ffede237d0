"""Will the grain keep? Moisture against the most sensitive crop in it, and the days it is known to keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from rationlp.bins.model import FOREIGN_MATTER, BinEstimate, Finding
from rationlp.bins.moisture import crop_dry_matters
from rationlp.bins.words import crops_spoken_of
from rationlp.book.records import Book
from rationlp.library.read import Library
from rationlp.library.records import StorageFact

LEAST_SHARE = 0.005
"""A crop of less than half a percent of the mix does not decide about its drying (a judgement)."""
LONG_DAYS = 183
"""Beyond half a year the limits for long storage count."""
SHORT_WORDS = ("short", "6 months")
DAY_TEMPERATURES = {"50 F (10 C)": "10 C", "70 F (21 C)": "21 C"}


@dataclass(frozen=True, slots=True)
class MoistureLimit:
    """The wettest a crop may be stored, in percent of its mass as it lies, and who says so."""

    crop: str
    label: str
    pct: float
    horizon: str
    source: str
    how: str


def storage_findings(estimate: BinEstimate, book: Book, library: Library) -> list[Finding]:
    """Moisture against safe storage until the last group of the book is fed."""
    shares = {row.crop: row.share for row in estimate.crops if row.crop != FOREIGN_MATTER and row.share >= LEAST_SHARE}
    moisture = 100 - estimate.dry_matter_pct
    days = days_until_fed(estimate, book)
    long = days is None or days > LONG_DAYS
    limits = [limit for crop in shares if (limit := moisture_limit(crop, long, library)) is not None]
    if not limits:
        return [
            Finding("moisture", "note", f"No moisture limit for storage is known for the crops of bin {estimate.bin}.")
        ]
    strictest = min(limits, key=lambda limit: limit.pct)
    until = (
        "for how long is not known, so the long limit counts"
        if days is None
        else f"{days} days until the last group is fed"
    )
    rest = f"the most sensitive crop of the mix is {strictest.label}: {strictest.pct:g} % {strictest.horizon} ({until})"
    if moisture <= strictest.pct:
        return [
            Finding("moisture", "note", f"{moisture:.1f} % moisture is dry enough to store; {rest}.", strictest.source)
        ]
    return [_too_wet(estimate, shares, moisture, limits, rest, strictest), *_keeping(moisture, days, shares, library)]


def _too_wet(
    estimate: BinEstimate, shares: Mapping[str, float], moisture: float, limits: list[MoistureLimit], rest: str,
    strictest: MoistureLimit,
) -> Finding:  # fmt: skip
    """The warning, with what each crop by itself is likely to hold: oily seed in a mix is drier than the mix."""
    guess = " Guessed from tables" if estimate.moisture_from == "library" else ""
    table = {row.crop: row.dry_matter_pct for row in estimate.crops if row.dry_matter_pct is not None}
    known = {crop: share for crop, share in shares.items() if crop in table}
    own = crop_dry_matters(known, table, estimate.dry_matter_pct) if known else {}
    wetter = [limit.label for limit in limits if 100 - own.get(limit.crop, 100.0) > limit.pct]
    each = (
        f" In one bin each seed takes its own moisture; likely above their own limit are: {', '.join(wetter)}."
        if wetter
        else " In one bin each seed takes its own moisture, oily seed the least; by itself no crop is likely above its own limit."
    )
    text = f"{moisture:.1f} % moisture: {rest}.{guess}{each} Dry or cool it, and look for warm spots every two weeks."
    return Finding(
        "moisture", "warning" if wetter or estimate.moisture_from != "library" else "note", text, strictest.source
    )


def moisture_limit(crop: str, long: bool, library: Library) -> MoistureLimit | None:
    """The recommended limit of a crop for the horizon, the strictest where several are printed; else its legal dry
    limit."""
    rows = [
        row
        for row in library.storage
        if _number(row.max_moisture_pct) is not None and crops_spoken_of("storage", row.crop, [crop], library)
    ]
    advice = [row for row in rows if row.topic == "recommended"]
    fitting = [row for row in advice if _is_short(row) != long] or advice
    chosen = fitting or [row for row in rows if row.topic == "legal dry limit"]
    if not chosen:
        return None
    row = min(chosen, key=lambda r: _number(r.max_moisture_pct) or 0.0)
    feed = library.feeds.get(crop)
    horizon = (
        "for long storage"
        if row in advice and not _is_short(row)
        else (row.horizon if row in advice else "as the legal dry limit")
    )
    return MoistureLimit(
        crop, feed.label if feed else crop, _number(row.max_moisture_pct) or 0.0, horizon, row.source, row.how
    )


def keeping_days(moisture: float, temperature: str, crop: str, library: Library) -> str | None:
    """Days that grain of this moisture is known to keep at a temperature, from the next wetter row; None beyond the
    table."""
    rows = [
        row
        for row in library.storage
        if row.topic == "allowable time" and row.temperature == temperature and _number(row.max_moisture_pct) is not None
        and crops_spoken_of("storage", row.crop, [crop], library) and _number(row.max_moisture_pct) >= moisture
    ]  # fmt: skip
    return min(rows, key=lambda row: _number(row.max_moisture_pct) or 0.0).value if rows else None


def _keeping(moisture: float, days: int | None, shares: Mapping[str, float], library: Library) -> list[Finding]:
    main = max(shares, key=lambda crop: shares[crop])
    known = {words: keeping_days(moisture, key, main, library) for key, words in DAY_TEMPERATURES.items()}
    said = [f"{value} days at {words}" for words, value in known.items() if value is not None]
    if not said:
        return []
    need = "" if days is None else f" It is needed for {days}."
    return [
        Finding(
            "moisture",
            "note",
            f"Cereal grain of this moisture keeps about {' and '.join(said)} in all.{need}",
            "ndsu_store2019",
        )
    ]


def days_until_fed(estimate: BinEstimate, book: Book) -> int | None:
    """From the day the bin was filled (or sampled) until the last group of the book is fed; None if a date is
    missing."""
    bin_ = next((row for row in book.bins if row.bin == estimate.bin), None)
    start = (bin_.filled_on if bin_ else None) or estimate.taken_on
    ends = [group.to_date for group in book.groups if group.to_date is not None]
    return max((_last(ends) - start).days, 0) if start and ends else None


def _last(days: list[date]) -> date:
    return max(days)


def _is_short(row: StorageFact) -> bool:
    return any(word in row.horizon for word in SHORT_WORDS)


def _number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None
