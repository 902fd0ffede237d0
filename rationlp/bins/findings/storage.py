"""Will the grain keep? Moisture against the most sensitive crop in it, and the days it is known to keep."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from rationlp.bins.measure import crop_dry_matters
from rationlp.bins.model import BinEstimate, BinFinding, Gravity
from rationlp.book.columns import FOREIGN_MATTER
from rationlp.book.records import Book
from rationlp.book_units import units_of
from rationlp.library.grain_words import names_of, speaks_of
from rationlp.library.read import Library
from rationlp.library.records import StorageFact

LEAST_SHARE = 0.005
"""A crop of less than half a percent of the mix does not decide about its drying (a judgement)."""
LONG_DAYS = 183
"""Beyond half a year the limits for long storage count."""
SHORT_WORDS = ("short", "6 months")
DAY_TEMPERATURES = {"50 F (10 C)": 10.0, "70 F (21 C)": 21.0}
"""Columns of the table of keeping days, in degrees Celsius."""


@dataclass(frozen=True, slots=True)
class MoistureLimit:
    """The wettest a crop may be stored, in percent of its mass as it lies, and who says so."""

    crop: str
    label: str
    pct: float
    horizon: str
    source: str
    how: str


def storage_findings(estimate: BinEstimate, moisture: float, book: Book, library: Library) -> list[BinFinding]:
    """Moisture [%] against safe storage until the last group of the book is fed."""
    shares = {row.crop: row.share for row in estimate.crops if row.crop != FOREIGN_MATTER and row.share >= LEAST_SHARE}
    days = days_until_fed(estimate, book)
    long = days is None or days > LONG_DAYS
    limits = [limit for crop in shares if (limit := moisture_limit(crop, long, library)) is not None]
    if not limits:
        text = f"No moisture limit for storage is known for the crops of bin {estimate.bin}."
        return [BinFinding("moisture", Gravity.NOTE, text)]
    strictest = min(limits, key=lambda limit: limit.pct)
    until = "nobody says until when" if days is None else f"{days} days until the last group is fed"
    rest = f"the most sensitive crop of the mix is {strictest.label}: {strictest.pct:g} % {strictest.horizon} ({until})"
    if estimate.moisture_from == "library":
        text = f"The moisture of bin {estimate.bin} was not measured. To store it, {rest}. Measure it, and enter it."
        return [BinFinding("moisture", Gravity.WARNING, text, strictest.source)]
    if moisture <= strictest.pct:
        text = f"{moisture:.1f} % moisture is dry enough to store; {rest}."
        return [BinFinding("moisture", Gravity.NOTE, text, strictest.source)]
    text = f"{moisture:.1f} % moisture: {rest}. {_each_seed(estimate, shares, limits)} {KEEP_COOL}"
    return [
        BinFinding("moisture", Gravity.WARNING, text, strictest.source),
        *_keeping(moisture, days, shares, book, library),
    ]


KEEP_COOL = "Dry or cool it, and look for warm spots every two weeks."


def _each_seed(estimate: BinEstimate, shares: Mapping[str, float], limits: list[MoistureLimit]) -> str:
    """What each crop by itself is likely to hold: oily seed in a mix is drier than the mix."""
    table = {row.crop: row.dry_matter_pct for row in estimate.crops if row.dry_matter_pct is not None}
    own = crop_dry_matters({crop: shares[crop] for crop in shares if crop in table}, table, estimate.dry_matter_pct)
    wetter = [limit.label for limit in limits if 100 - own.get(limit.crop, 100.0) > limit.pct]
    said = (
        f"likely too moist to keep by itself: {'; '.join(wetter)}"
        if wetter
        else "none is likely too moist to keep by itself"
    )
    return f"In one bin each seed takes its own moisture, oily seed the least; {said}."


def moisture_limit(crop: str, long: bool, library: Library) -> MoistureLimit | None:
    """The recommended limit of a crop, the strictest where several are printed; without advice its legal dry limit.

    `long`: advice for long storage, if there is any; else that for a short one.
    """
    names = names_of(crop, library)
    rows = [row for row in library.storage if speaks_of("storage", row.crop, names, library) and _number(row)]
    advice = [row for row in rows if row.topic == "recommended"]
    fitting = [row for row in advice if _is_short(row) != long] or advice
    chosen = fitting or [row for row in rows if row.topic == "legal dry limit"]
    if not chosen:
        return None
    row = min(chosen, key=_number)
    horizon = row.horizon if _is_short(row) else "for long storage"
    horizon = horizon if row in advice else "as the legal dry limit"
    feed = library.feeds.get(crop)
    return MoistureLimit(crop, feed.label if feed else crop, _number(row), horizon, row.source, row.how)


def keeping_days(moisture: float, temperature: str, crop: str, library: Library) -> str | None:
    """Days that grain of this moisture keeps at a temperature, from the next wetter row; None beyond the table."""
    names = names_of(crop, library)
    rows = [
        row
        for row in library.storage
        if row.topic == "allowable time"
        and row.temperature == temperature
        and _number(row) >= moisture
        and speaks_of("storage", row.crop, names, library)
    ]
    return min(rows, key=_number).value if rows else None


def _keeping(
    moisture: float, days: int | None, shares: Mapping[str, float], book: Book, library: Library
) -> list[BinFinding]:
    """How long the main crop is known to keep at this moisture."""
    main = max(shares, key=lambda crop: shares[crop])
    units = units_of(book.farm)
    known = {celsius: keeping_days(moisture, key, main, library) for key, celsius in DAY_TEMPERATURES.items()}
    said = [
        f"{value.replace('>', 'over ')} days at {units.temperature(celsius)}"
        for celsius, value in known.items()
        if value is not None
    ]
    if not said:
        return _beyond_all(moisture, main, library)
    text = f"Cereal grain of this moisture keeps {' and '.join(said)} in all."
    longest = max(_days(value) for value in known.values() if value is not None)
    if days is None or days <= longest:
        need = "" if days is None else f" The animals of the book eat for {days}."
        return [BinFinding("moisture", Gravity.NOTE, f"{text}{need}", "ndsu_store2019")]
    text = (
        f"{moisture:.1f} % moisture: {text[0].lower()}{text[1:]} The animals of the book eat for {days}: feed this bin "
        "first, so that it is empty before those days are over, or dry it; what moulds is not to be fed. Have a sample "
        "tested for mycotoxins."
    )
    return [BinFinding("moisture", Gravity.DANGER, text, "ndsu_store2019")]


def _beyond_all(moisture: float, crop: str, library: Library) -> list[BinFinding]:
    """Grain wetter than any of which it is known how long it keeps; nothing where nothing is known of the crop."""
    names = names_of(crop, library)
    rows = [r for r in library.storage if r.topic == "allowable time" and speaks_of("storage", r.crop, names, library)]
    if not rows:
        return []
    text = (
        f"{moisture:.1f} % moisture: of grain so wet nobody has published how long it keeps; at "
        f"{max(map(_number, rows)):g} % it is days. Dry it, or feed it at once, and have it tested for mycotoxins."
    )
    return [BinFinding("moisture", Gravity.DANGER, text, rows[0].source)]


def _days(value: str) -> float:
    """The days of a cell of the table; one that is open above is of any length."""
    return float("inf") if value.startswith(">") else float(value)


def days_until_fed(estimate: BinEstimate, book: Book) -> int | None:
    """From the day the bin was filled (or sampled) until the last group of the book is fed; None without the dates."""
    bin_ = next((row for row in book.bins if row.bin == estimate.bin), None)
    start = (bin_.filled_on if bin_ else None) or estimate.taken_on
    ends = [group.to_date for group in book.groups if group.to_date is not None]
    return max((max(ends) - start).days, 0) if start and ends else None


def _is_short(row: StorageFact) -> bool:
    return any(word in row.horizon for word in SHORT_WORDS)


def _number(row: StorageFact) -> float:
    """The moisture of a row in percent; 0 where it has none."""
    try:
        return float(row.max_moisture_pct)
    except ValueError:
        return 0.0
