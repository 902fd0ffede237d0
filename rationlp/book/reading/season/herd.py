"""The sheets of the feed year as records, and whether the lines of the herd lead anywhere."""

from __future__ import annotations

from collections.abc import Mapping

from rationlp.book import records
from rationlp.book.reading.rows import BookReading, SheetRow
from rationlp.book.year_columns import AGAIN
from rationlp.finder import names_of, plain
from rationlp.numbers import as_typed
from rationlp.units import BOOK_AREA_HA, BOOK_PRICE_MASS_KG, KG_PER_TONNE


def check_herd(reading: BookReading) -> None:
    """Report lines, steps, arrivals, crops and dates of the plan that cannot be as written."""
    lines = _lines(reading)
    for row in reading["herd"]:
        _names(reading, row, lines)
    begun = {plain(row["brings"]) for row in reading["herd"] if row.sound("brings")}
    begun |= {plain(row["then"]) for row in reading["herd"] if row.sound("then")}
    for row in reading["arrivals"]:
        _arrival(reading, row, lines)
        begun.add(plain(row["line"] or ""))
    for name, steps in lines.items():
        if name not in begun:
            row = next(iter(steps.values()))
            found, expected = f"the line {row['line']!r}, which no animals begin", "a row of arrivals for it"
            reading.warning(row, "line", found, expected, "Add its animals to arrivals, or delete the line.")
    _crops(reading)
    _season(reading)


def _lines(reading: BookReading) -> dict[str, dict[str, SheetRow]]:
    """The steps of each line by the form in which names are compared; one spelling for every name of a line."""
    lines: dict[str, dict[str, SheetRow]] = {}
    for row in reading["herd"]:
        if not row.sound("line", "step"):
            continue
        if plain(row["line"]) == AGAIN:
            reading.error(row, "line", f"a line named {AGAIN}", "another name", "Rename it; again starts a line over.")
        steps = lines.setdefault(plain(row["line"]), {})
        row.values["line"] = next(iter(steps.values()))["line"] if steps else row["line"]
        steps.setdefault(plain(row["step"]), row)
    return lines


def _names(reading: BookReading, row: SheetRow, lines: Mapping[str, dict[str, SheetRow]]) -> None:
    """`then` and `brings` name lines of the herd."""
    for column, more in (("then", (AGAIN,)), ("brings", ())):
        if not row.sound(column):
            continue
        name = plain(row[column])
        if name in more:
            row.values[column] = name
        elif name in lines:
            row.values[column] = next(iter(lines[name].values()))["line"]
        else:
            expected = f"a line of the sheet herd: {', '.join(lines)}{' or again' if more else ''}"
            do = names_of([*lines, *more]).suggestion(name, "Add the line, or correct the name.")
            reading.error(row, column, f"the line {row[column]!r}", expected, do)
    if row.sound("brings") and row["per_head"] is None and "per_head" not in row.bad:
        place = "per_head" if "per_head" in row.place.columns else "brings"
        do = "Fill in how many of that line one head brings."
        reading.error(row, place, "brings without per_head", "how many", do)
    if row.sound("per_head") and row["brings"] is None and "brings" not in row.bad:
        do = "Name the line they begin, or delete per_head."
        reading.error(row, "per_head", "per_head without brings", "the line that begins", do)


def _arrival(reading: BookReading, row: SheetRow, lines: Mapping[str, dict[str, SheetRow]]) -> None:
    """The line and step of an arrival stand on `herd`; a repetition says after how many days."""
    if row.sound("line"):
        steps = lines.get(plain(row["line"]))
        if steps is None:
            do = names_of(lines).suggestion(row["line"], "Add it to herd, or correct the name.")
            expected = f"a line of the sheet herd: {', '.join(lines) or 'it has none'}"
            reading.error(row, "line", f"the line {row['line']!r}", expected, do)
        else:
            row.values["line"] = next(iter(steps.values()))["line"]
            if row.sound("step") and plain(row["step"]) not in steps:
                do = names_of(steps).suggestion(row["step"], "Correct the name.")
                expected = f"a step of {row['line']}: {', '.join(steps)}"
                reading.error(row, "step", f"the step {row['step']!r}", expected, do)
            elif row.sound("step"):
                row.values["step"] = steps[plain(row["step"])]["step"]
    if row.sound("times") and row["times"] > 1 and row["every_days"] is None and "every_days" not in row.bad:
        do = "Fill in after how many days they come again."
        reading.error(row, "times", f"{row['times']} times, without every_days", "the days between", do)


def _crops(reading: BookReading) -> None:
    for row in reading["crops"]:
        for low, high in (("yield_low", "yield"), ("yield", "yield_high"), ("min_share_pct", "max_share_pct")):
            if row.sound(low, high) and row[low] > row[high]:
                found = f"{low} {as_typed(row[low])} above {high} {as_typed(row[high])} ({row.place.cell(high)})"
                reading.error(row, low, found, f"{low} not above {high}", "Correct one of the two.")
    sound = [row for row in reading["crops"] if not {"min_share_pct", "max_share_pct"} & row.bad]
    if sum(row["min_share_pct"] or 0.0 for row in sound) > 100:
        last = [row for row in sound if row["min_share_pct"]][-1]
        reading.error(last, "min_share_pct", "least shares of more than 100 % together", "at most 100 %", "Lower some.")
    most = sum(100.0 if row["max_share_pct"] is None else row["max_share_pct"] for row in sound)
    if sound and len(sound) == len(reading["crops"]) and most < 100:
        found = f"largest shares of {as_typed(most)} % together"
        reading.error(sound[-1], "max_share_pct", found, "at least 100 %", "Raise some, or add a crop.")


def _season(reading: BookReading) -> None:
    """The dates of the plan and of the offers."""
    day = reading.farm.day
    for row in reading["supplements"]:
        if row.sound("from", "until") and row["from"] > row["until"]:
            found = f"until {day(row['until'])} before from {day(row['from'])} ({row.place.cell('from')})"
            reading.error(row, "until", found, "a last day on or after the first", "Correct one of the two dates.")
    start, end = reading.farm.plan_from, reading.farm.next_harvest_on
    if start is not None and end is not None and end <= start:
        found = f"next_harvest_on {day(end)}, not after plan_from {day(start)}"
        do = "Correct one of the two dates."
        reading.sheet_problem("error", "farm", found, "a harvest after the plan begins", do)


def herd_step(row: SheetRow) -> records.HerdStep:
    """A row of `herd`."""
    return records.HerdStep(
        place=row.place,
        line=row["line"],
        step=row["step"],
        stage=row["stage"],
        days=row["days"],
        losses=(row["losses_pct"] or 0.0) / 100,
        feed_kg_per_head_per_day=row["feed_per_head_per_day"],
        then=row["then"] or "",
        brings=row["brings"] or "",
        per_head=row["per_head"] or 0.0,
        housing=row["housing"] or "",
    )


def arrival(row: SheetRow, reading: BookReading) -> records.Arrival:
    """A row of `arrivals`; without a step they begin the first of their line."""
    first = next(step["step"] for step in reading["herd"] if step["line"] == row["line"])
    once = row["every_days"] is None
    return records.Arrival(
        place=row.place,
        line=row["line"],
        step=row["step"] or first,
        on=row["on"],
        head=row["head"],
        every_days=row["every_days"],
        times=1 if once else row["times"],
    )


def crop(row: SheetRow, units: str) -> records.Crop:
    """A row of `crops`: masses of an acre or a hectare as those of a hectare, money per tonne."""
    area, price_kg = BOOK_AREA_HA[units], BOOK_PRICE_MASS_KG[units]

    def per_ha(column: str) -> float | None:
        return None if row[column] is None else row[column] / area

    return records.Crop(
        place=row.place,
        crop=row["crop"],
        yield_kg_per_ha=row["yield"] / area,
        yield_low_kg_per_ha=per_ha("yield_low"),
        yield_high_kg_per_ha=per_ha("yield_high"),
        seed_price_per_tonne=(row["seed_price"] or 0.0) * KG_PER_TONNE / (row["per_mass"] or price_kg),
        seed_kg_per_ha=per_ha("seed_rate") or 0.0,
        beside_others=row["beside_others"] or 1.0,
        min_share=(row["min_share_pct"] or 0.0) / 100,
        max_share=1.0 if row["max_share_pct"] is None else row["max_share_pct"] / 100,
        cleaning_cost_per_tonne=(row["cleaning_cost"] or 0.0) * KG_PER_TONNE / price_kg,
    )
