"""Numbers in another unit than the column's: a share for a percentage, grams for kilograms, inches for feet, tons for
pounds, and figures that are too certain to be true. What stands with its own unit is taken as meant."""

from __future__ import annotations

from math import log
from typing import TYPE_CHECKING

from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.numbers import as_typed, plain
from rationlp.units import KG_PER_LB, KG_PER_SHORT_TON, KG_PER_TONNE, LB_PER_BU_IN_KG_M3, M_PER_FT

if TYPE_CHECKING:
    from rationlp.library.read import Library

LEAST_SHARE = {"mineral": 0.01, "premix": 0.01, "amino_acid": 0.01, "additive": 0.0, "fat": 0.2}
"""Groups of feeds of which less than 1 % of a ration is usual, and the percent below which nobody caps them (common
practice)."""
TWICE = 2.0
"""Feed per day so many times more or less than the table's is questioned."""
SURELY = 8.0
"""The same as a slip, where another unit explains it."""
NEAR = 1.6
"""So near another unit must come to what is usual to explain a number."""
TALLEST = 4.0
"""Depth of grain over the diameter of the bin: farm bins are lower (common practice)."""
HEAVIEST_KG_M3 = 66 * LB_PER_BU_IN_KG_M3
"""The heaviest grain weighs some 64 pounds a bushel (common practice)."""
WIDEST_M = 32.0
"""Of the largest round bins of farms, about 105 ft (common practice)."""
LOW_AND_HIGH_BIN = (0.1, 3.0)
LEAST_BIN_KG = 250.0
"""Grain in a bin, without a unit beside the number, below which a larger unit was probably meant."""
LEAST_STOCK_KG = 0.5
"""Less of a feed is no stock of anything that is weighed into batches."""
LEAST_BULK_KG = 25.0
"""The same of grain and meals, without a unit beside the number, below which a larger unit was probably meant."""
MOST_SEED_KG = 500_000.0
"""Seed of one crop for one bin: a hundred to two hundred kilograms are sown on a hectare (common practice)."""
MOST_LOST_PCT = 50.0
"""Of the animals of one step of their life (a judgement)."""
MOST_BIN_KG = 12_000_000.0
"""Grain in one of the widest bins of farms, some 20 m high (common practice)."""
LEAST_CV = 1e-4
"""A standard deviation below this part of its value is none that any laboratory reaches."""


LEAST_SORTED_G = 5.0
"""A hand sort of less grain than a spoonful was typed in another unit (common practice)."""


def check_slips(reading: BookReading, library: Library) -> None:
    """Report numbers that another unit explains, each with its likely reading."""
    for row in reading["supplements"]:
        _share(reading, row, _group(row["feed"], library), ("min_pct", "max_pct", "protein_pct"))
        _stock(reading, row, _group(row["feed"], library))
    for row in reading["own_limits"]:
        _share(reading, row, _group(row["feed"], library), ("min_pct", "max_pct"))
    for sheet in ("groups", "herd"):
        for row in reading[sheet]:
            _eaten(reading, row, library)
    for row in reading["herd"]:
        _lost(reading, row)
    offers = {row["offer"]: row for row in reading["supplements"] if row.sound("offer", "feed")}
    for row in reading["lots"]:
        if row["offer"] in offers:
            feed = offers[row["offer"]]["feed"]
            _too_little(reading, row, "mass", feed, _group(feed, library))
    for row in reading["bins"]:
        _depth(reading, row)
        _width(reading, row)
        _test_weight(reading, row)
        _grain(reading, row)
    for row in reading["sown"]:
        _seed(reading, row)
    for row in reading["samples"]:
        _sorted(reading, row)
    for sheet, column in (("assays", "lab_sd"), ("own_feeds", "sd")):
        for row in reading[sheet]:
            _too_certain(reading, row, column)


def _is_bare(reading: BookReading, row: SheetRow, column: str) -> bool:
    """Whether a number stands without a unit of its own."""
    return (row.place.sheet, row.place.cell(column)) not in reading.unit_written


def _group(feed: str | None, library: Library) -> str:
    members = library.families.get(feed or "", frozenset())
    groups = {library.feeds[member].group for member in members if member in library.feeds}
    return next(iter(groups)) if len(groups) == 1 else ""


def _masses(reading: BookReading) -> tuple[str, float, str, float]:
    """The small and the large unit of mass of the book, each with its kilograms."""
    return ("lb", KG_PER_LB, "ton", KG_PER_SHORT_TON) if reading.farm.units == "us" else ("kg", 1.0, "t", KG_PER_TONNE)


def _share(reading: BookReading, row: SheetRow, group: str, columns: tuple[str, ...]) -> None:
    """0.15 where 15 % is meant: of grain and meals nobody asks for less than a percent, unless the share is fixed."""
    if row.sound("min_pct", "max_pct") and row["min_pct"] == row["max_pct"]:
        return
    for column in columns:
        value = row[column]
        least = LEAST_SHARE.get(group, 1.0) if column != "protein_pct" else 1.0
        if not row.sound(column) or not 0 < value < least or not _is_bare(reading, row, column):
            continue
        do = f"Write {as_typed(100 * value)}; or {as_typed(value)} % with its sign, if so little is meant."
        reading.error(
            row, column, f"{column} {as_typed(value)}, less than one percent of {row['feed']}", "a percentage", do
        )


def _stock(reading: BookReading, row: SheetRow, group: str) -> None:
    """A stock of less than one package, or of next to nothing: probably tonnes, tons or packages."""
    if not row.sound("stock_mass") or row["stock_mass"] == 0:
        return
    unit, factor, large, _ = _masses(reading)
    number = row["stock_mass"] / factor
    found = f"a stock_mass of {plain(number)} {unit}"
    if row.sound("package_mass") and row["stock_mass"] < row["package_mass"]:
        found += f", less than one package of {plain(row['package_mass'] / factor)} {unit}"
        do = f"Write its unit beside it, such as 6 {large} or 40 bags."
        reading.warning(row, "stock_mass", found, "at least a package, or 0", do)
    elif row["stock_mass"] < LEAST_STOCK_KG:
        do = f"Write its unit beside it, such as 6 {large} or 25 {unit}; 0 if there is none."
        reading.warning(row, "stock_mass", found, f"at least {plain(LEAST_STOCK_KG / factor, 2)} {unit}, or 0", do)
    else:
        _too_little(reading, row, "stock_mass", row["feed"], group)


def _too_little(reading: BookReading, row: SheetRow, column: str, feed: str | None, group: str) -> None:
    """Tonnes typed as kilograms: less of a grain or meal than any farm buys."""
    bare = row.sound(column) and _is_bare(reading, row, column)
    if bare and 0 < row[column] < LEAST_BULK_KG and group not in LEAST_SHARE:
        unit, factor, large, _ = _masses(reading)
        number = row[column] / factor
        found = f"a {column} of {plain(number)} {unit} of {feed}"
        do = f"Perhaps {as_typed(number)} {large} is meant: write the unit beside it; or {as_typed(number)} {unit}."
        reading.error(row, column, found, "what a farm buys of it", do)


def _sorted(reading: BookReading, row: SheetRow) -> None:
    """Kilograms or ounces for grams: a sample of less than a handful."""
    crops = [each for each in reading["sorted"] if each["sample"] == row["sample"] and each["sample"] is not None]
    total = sum(each["mass_g"] or 0.0 for each in crops)
    if not 0 < total < LEAST_SORTED_G or not all(_is_bare(reading, each, "mass_g") for each in crops):
        return
    found = f"{as_typed(total)} g sorted in the sample {row['sample']!r}"
    grams = f"{as_typed(1000 * total)} for {as_typed(total)} kg"
    do = f"Write grams ({grams}), or the unit beside each number, also in sorted_mass_g."
    reading.error(crops[0], "mass_g", found, f"at least {LEAST_SORTED_G:g} g", do)


def _seed(reading: BookReading, row: SheetRow) -> None:
    """Grams or kilograms typed as tonnes, or the harvest for the seed."""
    if row.sound("mass") and row["mass"] > MOST_SEED_KG:
        _, _, large, factor = _masses(reading)
        found = f"{plain(row['mass'] / factor)} {large} of seed of {row['crop']}"
        do = "Give the seed that was sown, not the harvest, and check its unit."
        reading.warning(row, "mass", found, f"at most about {plain(MOST_SEED_KG / factor, 2)} {large}", do)


def _eaten(reading: BookReading, row: SheetRow, library: Library) -> None:
    """Feed per head and day far from what the library has for the stage."""
    stage = library.stages.get(row["stage"] or "")
    if stage is None or not stage.daily_feed_g or not row.sound("feed_per_head_per_day"):
        return
    usual, here = stage.daily_feed_g / 1000, row["feed_per_head_per_day"]
    if 1 / TWICE <= here / usual <= TWICE:
        return
    unit, factor, _, _ = _masses(reading)
    number = here / factor
    others = {"g": 0.001, "kg": 1.0, "lb": KG_PER_LB, "oz": KG_PER_LB / 16}
    meant = [other for other, kg in others.items() if other != unit and _near(number * kg, usual)]
    found = f"{plain(number)} {unit} of feed per head and day in the stage {row['stage']}"
    expected = f"about {plain(usual / factor, 3)} {unit}"
    likely = f"Perhaps {as_typed(number)} {meant[0]} is meant: write the unit beside it. " if meant else ""
    times = max(here / usual, usual / here)
    surely = meant and times > SURELY and _is_bare(reading, row, "feed_per_head_per_day")
    do = f"{likely}Leave it blank for the library's."
    (reading.error if surely else reading.warning)(row, "feed_per_head_per_day", found, expected, do)


def _lost(reading: BookReading, row: SheetRow) -> None:
    """What is left typed for what is lost: most of a line dying in one step."""
    if row.sound("losses_pct") and row["losses_pct"] > MOST_LOST_PCT:
        value = row["losses_pct"]
        do = f"Write what dies or is culled, not what is left; perhaps {plain(100 - value)} is meant."
        found = f"losses_pct {as_typed(value)} in the step {row['step']}"
        reading.warning(row, "losses_pct", found, f"at most about {MOST_LOST_PCT:g} %", do)


def _near(value: float, usual: float) -> bool:
    return abs(log(value / usual)) < log(NEAR)


def _depth(reading: BookReading, row: SheetRow) -> None:
    """Inches for feet: grain deeper than four times the bin is wide."""
    if not row.sound("diameter", "wall_depth") or row["wall_depth"] <= TALLEST * row["diameter"]:
        return
    factor, unit, small, parts = (M_PER_FT, "ft", "in", 12) if reading.farm.units == "us" else (1.0, "m", "cm", 100)
    depth, across = row["wall_depth"] / factor, row["diameter"] / factor
    found = f"grain {plain(depth)} {unit} deep in a bin {plain(across)} {unit} across"
    low, high = LOW_AND_HIGH_BIN
    fits = low <= depth / parts / across <= high and _is_bare(reading, row, "wall_depth")
    likely = f"Perhaps {as_typed(depth)} {small} is meant: write the unit beside it. " if fits else ""
    report = reading.error if fits else reading.warning
    do = f"{likely}If it is right, write {as_typed(depth)} {unit}." if fits else "Check both and their units."
    report(row, "wall_depth", found, f"at most {TALLEST:g} times the diameter", do)


def _width(reading: BookReading, row: SheetRow) -> None:
    """Feet for metres, or a decimal point one place off: a bin wider than any of a farm."""
    if not row.sound("diameter") or row["diameter"] <= WIDEST_M or not _is_bare(reading, row, "diameter"):
        return
    factor, unit = (M_PER_FT, "ft") if reading.farm.units == "us" else (1.0, "m")
    across = row["diameter"] / factor
    other = "in" if reading.farm.units == "us" else "ft"
    do = f"Look at the decimal point; write {as_typed(across)} {other}, or {as_typed(across)} {unit} if it is right."
    reading.error(
        row, "diameter", f"a bin {as_typed(across)} {unit} across", f"at most {WIDEST_M / factor:.0f} {unit}", do
    )


def _test_weight(reading: BookReading, row: SheetRow) -> None:
    """Kilograms a hectolitre for pounds a bushel: grain heavier than any lies."""
    if not row.sound("test_weight") or row["test_weight"] <= HEAVIEST_KG_M3 or reading.farm.units != "us":
        return
    if _is_bare(reading, row, "test_weight"):
        typed, most = (as_typed(kg_m3 / LB_PER_BU_IN_KG_M3) for kg_m3 in (row["test_weight"], HEAVIEST_KG_M3))
        do = f"Perhaps {typed} kg/hl is meant: write the unit beside it; or {typed} lb/bu if it is right."
        reading.error(row, "test_weight", f"grain of {typed} lb/bu", f"at most about {most} lb/bu", do)


def _grain(reading: BookReading, row: SheetRow) -> None:
    """Tons for pounds, tonnes for kilograms: hardly anything in a bin, or more than any bin of a farm holds."""
    if row.sound("mass") and row["mass"] > MOST_BIN_KG:
        _, _, large, factor = _masses(reading)
        found = f"{plain(row['mass'] / factor)} {large} of grain in a bin"
        reading.warning(
            row, "mass", found, f"at most about {plain(MOST_BIN_KG / factor, 2)} {large}", "Check its unit."
        )
    if not row.sound("mass") or row["mass"] >= LEAST_BIN_KG or not _is_bare(reading, row, "mass"):
        return
    unit, small, large, factor = _masses(reading)
    if row["mass"] / small * factor > 1e8:
        return
    number = as_typed(row["mass"] / small)
    do = f"Perhaps {number} {large} is meant: write the unit beside it; or {number} {unit}, if so little is there."
    reading.error(row, "mass", f"{number} {unit} of grain in a bin", "what a bin holds", do)


def _too_certain(reading: BookReading, row: SheetRow, column: str) -> None:
    """A standard deviation next to nothing outweighs everything else that is known."""
    if row.sound("value", column) and row[column] < LEAST_CV * row["value"]:
        found = f"a standard deviation of next to nothing beside {as_typed(row['value'])}"
        do = "Correct it, or leave it blank for the library's."
        reading.error(row, column, found, f"more than {LEAST_CV * 100:g} % of the figure", do)
