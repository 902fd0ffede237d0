"""Short names of rations and books."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import date

import pytest

from rationlp.book import new_book
from rationlp.book.reading.read import read_book
from rationlp.book.records import Place, Weighed
from rationlp.farm import Farm
from rationlp.rations.answer.ids import ALPHABET, book_version, ration_id
from rationlp.rations.formulate import formulate, solve_rations
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

FORM = re.compile(rf"[{ALPHABET}]{{4}}-[{ALPHABET}]{{4}}")


@pytest.mark.slow
def test_every_ration_of_the_demo_has_its_own(demo_book, library):
    ids = [ration_id(ration, demo_book) for ration in formulate(Farm(demo_book, library))]
    assert len(set(ids)) == len(ids) > 20
    assert all(FORM.fullmatch(name) for name in ids)


@pytest.mark.slow
def test_the_sheet_and_the_ration_command_say_the_same(demo_book, library):
    ids = [ration_id(ration, demo_book) for ration in formulate(Farm(demo_book, library))]
    assert ids == [recipe.id for recipe in solve_rations(Farm(demo_book, library))]


def test_a_price_that_changes_nothing_changes_no_name(demo_book, library):
    (before,) = formulate(Farm(demo_book, library), ["sw_boar"], ["north"])
    dearer = tuple(replace(offer, price_per_tonne=offer.price_per_tonne * 1.0001) for offer in demo_book.supplements)
    book = replace(demo_book, supplements=dearer)
    (after,) = formulate(Farm(book, library), ["sw_boar"], ["north"])
    assert ration_id(before, demo_book) == ration_id(after, book)
    assert book_version(book) != book_version(demo_book)


def test_another_sample_makes_another_name(demo_book, library):
    (ration,) = formulate(Farm(demo_book, library), ["sw_boar"], ["north"])
    samples = tuple(replace(row, sample="other" if row.bin == "north" else row.sample) for row in demo_book.samples)
    assert ration_id(ration, demo_book) != ration_id(ration, replace(demo_book, samples=samples))


@pytest.mark.slow
def test_version_of_workbook_and_folder_agree(tmp_path, library):
    paths = [tmp_path / "demo.xlsx", tmp_path / "demo"]
    for path in paths:
        new_book(path, demo=True)
    versions = {book_version(read_book(path, library.units)) for path in paths}
    assert len(versions) == 1


def test_writing_down_what_was_weighed_makes_no_other_book(demo_book):
    more = replace(demo_book, actual=(Weighed(Place(), "sheet", date(2025, 11, 3), "north", 100.0),))
    assert book_version(more) == book_version(demo_book)


@pytest.mark.slow
def test_a_sheet_is_named_by_its_weights(demo_book, library):
    """Printed twice it has one name; in another batch, or from other weights, another; its ration is named beside."""

    def sheet(book, batch):
        (made,) = make_pack(Farm(book, library), SheetRequest(batch_kg=batch), ["sw_boar"], ["north"]).sheets
        return made

    finer = replace(demo_book, farm=replace(demo_book.farm, scale_step_kg=0.1))
    sheets = [sheet(demo_book, 500), sheet(demo_book, 500), sheet(demo_book, 340), sheet(finer, 500)]
    assert sheets[0].id == sheets[1].id and len({made.id for made in sheets}) == 3
    assert len({made.ration_id for made in sheets}) == 1
    assert FORM.fullmatch(sheets[0].id)
