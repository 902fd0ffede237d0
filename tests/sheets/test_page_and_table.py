"""The same content as HTML and CSV."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from html.parser import HTMLParser

import pytest

from rationlp.farm import Farm
from rationlp.files import FORMULA_STARTS
from rationlp.pages.analysis_pages import row_of
from rationlp.pages.csv_table import COLUMNS, pack_table
from rationlp.report.papers.mix_sheets import sheets_page
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest
from rationlp.sheets.weights.scale import shown

VOID = {"meta", "br"}


class Checker(HTMLParser):
    """Collects text, and sees to it that every tag is closed in turn."""

    def __init__(self):
        super().__init__()
        self.open, self.text, self.tags = [], [], Counter()

    def handle_starttag(self, tag, attrs):
        self.tags[tag] += 1
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag

    def handle_data(self, data):
        self.text.append(data)


def parsed(html):
    checker = Checker()
    checker.feed(html)
    assert not checker.open
    return checker


@pytest.mark.slow
def test_every_line_of_every_sheet_is_on_the_page(few_pack, demo_book, library):
    checker = parsed(sheets_page(few_pack, Farm(demo_book, library)))
    text = " ".join(checker.text)
    sections = 1 + 2 * len(few_pack.sheets) + 2
    assert checker.tags["section"] == sections, "glance, mix, analysis, purchases, cautions: one page each"
    for sheet in few_pack.sheets:
        for words in (
            sheet.id,
            sheet.book_version,
            sheet.bin_words,
            sheet.sample_words,
            sheet.rounding_words,
            *sheet.misses,
        ):
            assert words in text
        for line in (*sheet.bucket, *sheet.mixer):
            assert (line.name in text and shown(line.mass, sheet.scale.hand_step) in text) or shown(
                line.mass, sheet.scale.step
            ) in text
        for number in range(1, sheet.count + 1):
            assert sheet.label_line(number) in text
    for words in few_pack.cautions:
        assert words in text


@pytest.mark.slow
def test_it_needs_nothing_from_outside(few_pack, demo_book, library):
    html = sheets_page(few_pack, Farm(demo_book, library))
    assert not re.search(r"https?://|<script|<link|<img|url\(", html)


@pytest.mark.slow
def test_labels_stay_labels_on_the_page(awkward_book, library):
    farm = Farm(awkward_book, library)
    html = sheets_page(make_pack(farm, SheetRequest(), ["sw_gro_25_50", "broiler_0_3"], ["north"]), farm)
    checker = parsed(html)
    assert checker.tags["b"] < 60 and "<b>&amp;</b>" in " ".join(checker.text)
    assert "\x07" not in html


def rows_of(text):
    return list(csv.DictReader(io.StringIO(text)))


def test_the_table_says_the_same(few_pack, library):
    rows = rows_of(pack_table(few_pack, library))
    assert set(rows[0]) == set(COLUMNS)
    for sheet in few_pack.sheets:
        weights = [row for row in rows if row["part"] == "weigh" and row["sheet"] == sheet.name]
        lines = (*sheet.bucket, *sheet.mixer)
        assert [float(row["value"]) for row in weights] == [float(line.mass) for line in lines]
        assert [float(row["then_reads"]) for row in weights[len(sheet.bucket) :]] == [
            float(sheet.reads(line)) for line in sheet.mixer
        ]
        assert sum(row["part"] == "label" and row["sheet"] == sheet.name for row in rows) == sheet.count
        analysis = [row for row in rows if row["part"] == "analysis" and row["sheet"] == sheet.name]
        gives = {(row["name"], row["label"]): row["value"] for row in analysis}
        for line in sheet.ration.requirements:
            if line.gives is not None:
                assert float(gives[line.nutrient, row_of(line).words]) == line.gives
        assert len(analysis) == len(gives), "no two rows of one name"
        assert {"Selenium", "Selenium that is added"} <= {row["label"] for row in analysis}
    assert {row["label"] for row in rows if row["part"] == "caution"} == set(few_pack.cautions)


@pytest.mark.slow
def test_no_cell_of_the_table_is_a_formula(awkward_book, library):
    rows = rows_of(
        pack_table(
            make_pack(Farm(awkward_book, library), SheetRequest(), ["sw_gro_25_50", "broiler_0_3"], ["north"]), library
        )
    )
    assert any(cell.startswith("'=") for row in rows for cell in row.values()), "the awkward labels are there, as text"
    for row in rows:
        for cell in row.values():
            assert not cell.startswith(FORMULA_STARTS), cell


def test_the_table_says_whether_the_mix_may_be_fed(few_pack, library):
    """A sheet that a nutritionist is to be asked about said so on paper and not in the table."""
    rows = rows_of(pack_table(few_pack, library))
    for sheet in few_pack.sheets:
        (verdict,) = [r for r in rows if r["part"] == "verdict" and r["sheet"] == sheet.name]
        assert verdict["section"] == sheet.verdict.severity and verdict["label"].startswith(sheet.verdict.headline)
        told = [(r["section"], r["label"]) for r in rows if r["part"] == "reason" and r["sheet"] == sheet.name]
        assert told == [(reason.severity, reason.text) for reason in sheet.verdict.reasons]
