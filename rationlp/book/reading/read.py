"""Reads a farm book into records in SI units, or says everything that is wrong with it."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

from rationlp.book import records
from rationlp.book.columns import SHEETS
from rationlp.book.reading.consistency import check_consistency
from rationlp.book.reading.contaminant_names import settle_contaminants
from rationlp.book.reading.crew.moved import check_moved, moved, movement_of
from rationlp.book.reading.crew.weighed import settle_weights
from rationlp.book.reading.figures import settle_figures
from rationlp.book.reading.names import settle_names
from rationlp.book.reading.rows import BookReading, SheetRow, read_rows
from rationlp.book.reading.season.herd import arrival, check_herd, crop, herd_step
from rationlp.book.records import Book
from rationlp.errors import BookError, Problem, given
from rationlp.units import BOOK_PRICE_MASS_KG, KG_PER_TONNE

if TYPE_CHECKING:
    from rationlp.library.read import Library

Record = TypeVar("Record")


def read_book(path: Path | str, nutrients: Mapping[str, str] | None = None) -> Book:
    """The book at `path`, an .xlsx workbook or a folder of CSV files.

    `nutrients` gives the library's unit for each nutrient it knows; figures of these are turned into that unit.
    Raises BookError with every problem if any of them is an error. Warnings alone do not stop a book; `check_book`
    lists them.
    """
    reading = read(path, nutrients or {})
    if any(problem.severity == "error" for problem in reading.problems):
        raise BookError(in_order(reading.problems))
    return build_book(reading)


def read(path: Path | str, nutrients: Mapping[str, str], library: Library | None = None) -> BookReading:
    """The book as far as it can be read, checked within itself. Raises BookError if there is nothing to read.

    With a `library` its feeds, crops, stages and nutrients may go by their labels and by words of the trade.
    """
    reading = read_rows(Path(path))
    if library is not None:
        settle_names(reading, library)
        settle_contaminants(reading, library)
    settle_figures(reading, nutrients)
    settle_weights(reading)
    check_moved(reading)
    check_consistency(reading, nutrients)
    check_herd(reading)
    return reading


def in_order(problems: list[Problem]) -> list[Problem]:
    """Errors before warnings, then by sheet, row and column; nothing twice."""
    sheets = list(SHEETS)

    def key(problem: Problem) -> tuple[Any, ...]:
        match = re.fullmatch(r"([A-Z]+)(\d+)", problem.cell)
        letters, row = (match[1], int(match[2])) if match else ("", 0)
        rank = sheets.index(problem.sheet) if problem.sheet in sheets else -1
        return (problem.severity, rank, problem.sheet, row, len(letters), letters)

    return sorted(dict.fromkeys(problems), key=key)


def build_book(reading: BookReading) -> Book:
    """The records of a reading without errors."""
    farm = reading.farm
    price_kg = BOOK_PRICE_MASS_KG[farm.units]

    def many(sheet: str, build: Callable[[SheetRow], Record]) -> tuple[Record, ...]:
        return tuple(build(row) for row in reading[sheet])

    return Book(
        path=reading.path,
        farm=farm,
        bins=many("bins", lambda row: _bin(row, price_kg)),
        samples=many("samples", _sample),
        sorted=many("sorted", lambda row: records.SortedCrop(row.place, row["sample"], row["crop"], row["mass_g"])),
        sown=many("sown", lambda row: records.SownCrop(row.place, row["bin"], row["crop"], row["mass"])),
        assays=many("assays", _assay),
        lots=many("lots", _lot),
        supplements=many("supplements", lambda row: _offer(row, price_kg)),
        own_feeds=many("own_feeds", _own_figure),
        own_stages=many("own_stages", _own_requirement),
        own_limits=many("own_limits", _own_limit),
        groups=many("groups", _group),
        herd=many("herd", herd_step),
        arrivals=many("arrivals", lambda row: arrival(row, reading)),
        crops=many("crops", lambda row: crop(row, farm.units)),
        actual=tuple(_weighed(row, reading) for row in reading["actual"] if movement_of(row) is None),
        signed=many("signed", _signed),
        moved=moved(reading),
    )


def _weighed(row: SheetRow, reading: BookReading) -> records.Weighed:
    return records.Weighed(
        place=row.place,
        sheet=row["sheet"],
        made_on=row["made_on"],
        feed=row["feed"],
        mass_kg=row["mass"],
        batch=row["batch"] or "",
        lot=row["lot"] or "",
        sure=row["scale_reads"] is not None or (row.place.sheet, row.place.cell("mass")) in reading.unit_written,
    )


def _signed(row: SheetRow) -> records.Signed:
    return records.Signed(
        place=row.place,
        ration=row["ration"],
        signed_by=row["signed_by"],
        licence=row["licence"] or "",
        signed_on=row["signed_on"],
        valid_until=row["valid_until"],
        note=row["note"] or "",
    )


def _per_tonne(price: float, per_mass_kg: float | None, default_kg: float) -> float:
    """A price for a mass as a price per tonne."""
    return price * KG_PER_TONNE / (per_mass_kg or default_kg)


def _share(percent: float | None) -> float | None:
    return None if percent is None else percent / 100


def _bin(row: SheetRow, price_kg: float) -> records.Bin:
    sold = row["sale_price"]
    return records.Bin(
        place=row.place,
        bin=row["bin"],
        label=row["label"] or "",
        mass_kg=row["mass"],
        diameter_m=row["diameter"],
        length_m=row["length"],
        width_m=row["width"],
        wall_depth_m=row["wall_depth"],
        peak_height_m=row["peak_height"],
        test_weight_kg_m3=row["test_weight"],
        sale_price_per_tonne=None if sold is None else _per_tonne(sold, row["per_mass"], price_kg),
        moisture_pct=row["moisture_pct"],
        filled_on=row["filled_on"],
        note=row["note"] or "",
        hold=row["hold"] or "",
        hold_until=row["hold_until"],
        released_by=row["released_by"] or "",
        opened_on=row["opened_on"],
    )


def _sample(row: SheetRow) -> records.Sample:
    return records.Sample(
        place=row.place,
        sample=row["sample"],
        bin=row["bin"],
        taken_on=row["taken_on"],
        probes=row["probes"],
        sorted_mass_g=row["sorted_mass_g"],
        note=row["note"] or "",
        lab_portion_g=row["lab_portion_g"],
    )


def _assay(row: SheetRow) -> records.Assay:
    return records.Assay(
        place=row.place,
        sample=row["sample"] or "",
        nutrient=row["nutrient"],
        value=row["value"],
        unit=row["unit"],
        basis=row["basis"],
        method=row["method"] or "",
        lab_sd=row["lab_sd"],
        lot=row["lot"] or "",
    )


def _lot(row: SheetRow) -> records.Lot:
    return records.Lot(
        place=row.place,
        lot=row["lot"],
        offer=row["offer"],
        delivered_on=row["delivered_on"],
        mass_kg=row["mass"],
        supplier_lot=row["supplier_lot"] or "",
        use_by=row["use_by"],
        note=row["note"] or "",
    )


def _offer(row: SheetRow, price_kg: float) -> records.Offer:
    freight = row["freight"] or 0.0

    def delivered(column: str) -> float | None:
        return None if row[column] is None else _per_tonne(row[column] + freight, row["per_mass"], price_kg)

    return records.Offer(
        place=row.place,
        offer=row["offer"],
        feed=row["feed"],
        label=row["label"] or "",
        price_per_tonne=given(delivered("price"), "the price of an offer"),
        package_kg=row["package_mass"],
        stock_kg=row["stock_mass"],
        min_share=_share(row["min_pct"]),
        max_share=_share(row["max_pct"]),
        home_grown=bool(row["home_grown"]),
        organic=row["organic"],
        quoted_on=row["quoted_on"],
        supplier=row["supplier"] or "",
        price_low_per_tonne=delivered("price_low"),
        price_high_per_tonne=delivered("price_high"),
        freight_per_tonne=_per_tonne(freight, row["per_mass"], price_kg),
        protein_pct=row["protein_pct"],
        from_date=row["from"],
        until_date=row["until"],
        lead_days=row["lead_days"] or 0,
    )


def _own_figure(row: SheetRow) -> records.OwnFigure:
    return records.OwnFigure(
        place=row.place,
        feed=row["feed"],
        nutrient=row["nutrient"],
        value=row["value"],
        unit=row["unit"],
        basis=row["basis"],
        sd=row["sd"],
        source=row["source"] or "",
    )


def _own_requirement(row: SheetRow) -> records.OwnRequirement:
    return records.OwnRequirement(
        place=row.place,
        stage=row["stage"],
        nutrient=row["nutrient"],
        minimum=row["minimum"],
        maximum=row["maximum"],
        unit=row["unit"],
        per=row["per"],
        source=row["source"] or "",
        approved_by=row["approved_by"] or "",
        approved_on=row["approved_on"],
    )


def _own_limit(row: SheetRow) -> records.OwnLimit:
    return records.OwnLimit(
        place=row.place,
        stage=row["stage"],
        feed=row["feed"],
        min_share=_share(row["min_pct"]),
        max_share=_share(row["max_pct"]),
        reason=row["reason"] or "",
        approved_by=row["approved_by"] or "",
        approved_on=row["approved_on"],
    )


def _group(row: SheetRow) -> records.Group:
    return records.Group(
        place=row.place,
        group=row["group"],
        stage=row["stage"],
        head=row["head"],
        from_date=row["from"],
        to_date=row["to"],
        feed_kg_per_head_per_day=row["feed_per_head_per_day"],
        housing=row["housing"] or "",
    )
