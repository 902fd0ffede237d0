"""The workbook: formulas against Python in a spreadsheet program, pages on paper, protection, labels that stay text."""

from __future__ import annotations

import re
import subprocess
import zipfile
from dataclasses import replace
from datetime import date
from fractions import Fraction
from math import ceil

import pytest
from openpyxl import Workbook, load_workbook

from rationlp.farm import Farm
from rationlp.pages import live
from rationlp.pages.live import Live
from rationlp.pages.mix_page import HEAD_ROW
from rationlp.pages.other_pages import GLANCE
from rationlp.pages.workbook import build_workbook, write_workbook
from rationlp.sheets.model import MixSheet
from rationlp.sheets.pack import make_pack
from rationlp.sheets.record import CAUTIONS, MIXER_TEST, PURCHASES, RECORD
from rationlp.sheets.request import SheetRequest

DAY = date(2025, 3, 7)

PAPER_A4, PAPER_LETTER = 9, 1


@pytest.fixture(scope="module")
def few(few_pack, library, tmp_path_factory):
    """A workbook of three mix sheets, as written."""
    path = tmp_path_factory.mktemp("few") / "few.xlsx"
    write_workbook(few_pack, library, path)
    return path


@pytest.mark.slow
def test_the_grain_of_two_bins_is_not_cut(few_pack, library, tmp_path):
    """It took a line more than the height of its row."""
    first, second, *others = few_pack.sheets
    words = {name: " + ".join([getattr(first, name)] * 2) for name in ("bin_words", "sample_words")}
    write_workbook(replace(few_pack, sheets=(replace(first, **words), second, *others)), library, tmp_path / "two.xlsx")
    book = load_workbook(tmp_path / "two.xlsx")
    two, one = (tab_of(book, sheet.name).row_dimensions[3].height for sheet in (first, second))
    assert two > 1.4 * one


def tab_of(book, name):
    return next(sheet for sheet in book.worksheets if sheet.title == name)


def without_values(path, changes, to):
    """The workbook with some cells changed and no value beside any formula, so that the program has to calculate."""
    book = load_workbook(path)
    for (tab, cell), value in changes.items():
        book[tab][cell] = value
    book.save(to)
    assert load_workbook(to, data_only=True)[GLANCE]["F6"].value is None
    return to


# What Python says -------------------------------------------------------------------------------


def expected_rows(sheet: MixSheet, factor: Fraction):
    """Line, weight and reading of every weighing row of the table, top to bottom, from the model alone."""
    for line in sheet.bucket:
        yield line, float(line.mass * factor), float(line.holds * factor)
    for line in sheet.mixer:
        yield line, float(line.mass * factor), float(sheet.reads(line, factor))


def assert_page(tab, sheet: MixSheet, factor: Fraction):
    """Every weighing row and the head of a calculated mix page."""
    rows = [row for row in range(HEAD_ROW + 1, tab.max_row) if isinstance(tab[f"C{row}"].value, int | float)]
    lines = list(expected_rows(sheet, factor))
    assert tab[f"A{rows[-1]}"].value == "Total"
    assert len(rows) == len(lines) + 1
    off = 0
    for row, (line, weight, reads) in zip(rows, lines, strict=False):
        assert tab[f"B{row}"].value == line.name
        assert tab[f"C{row}"].value == pytest.approx(weight, abs=2e-6)
        assert tab[f"D{row}"].value == pytest.approx(reads, abs=2e-6)
        assert tab[f"E{row}"].value == pytest.approx(float(line.mass / sheet.batch), rel=1e-6)
        check = live.check(sheet, line, row, factor)
        assert (tab[f"G{row}"].value or "") == (check.value if check else "")
        how = live.how(line, row, factor)
        if line.step or not line.offer:
            assert tab[f"F{row}"].value == (how.value if isinstance(how, Live) else how)
        off += bool(check and check.value)
    assert tab[f"C{rows[-1]}"].value == pytest.approx(float(sheet.batch * factor), abs=1e-4)
    assert tab[f"D{rows[-1]}"].value == "the whole batch"
    status = tab["A6"].value
    assert ("Every weight is a whole step" in status) == (off == 0)
    assert ("MORE THAN THE MIXER HOLDS" in status) == (sheet.batch * factor > sheet.capacity)
    if off:
        assert status.startswith(f"{off} weights")


def assert_no_error(book):
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                assert not (isinstance(cell.value, str) and re.match(r"#[A-Z/0]+[!?]?$|Err:", cell.value)), (
                    sheet.title,
                    cell.coordinate,
                )


# In a spreadsheet program -----------------------------------------------------------------------


@pytest.mark.slow
def test_the_values_written_are_those_a_spreadsheet_program_calculates(few, few_pack, library, office, tmp_path):
    """Every formula of the workbook, cell by cell."""
    bare = without_values(few, {}, tmp_path / "bare.xlsx")
    calculated = load_workbook(office("xlsx", bare)[0], data_only=True)
    _, values = build_workbook(few_pack, library)
    formulas = {
        (sheet.title, cell.coordinate)
        for sheet in load_workbook(few)
        for row in sheet.iter_rows()
        for cell in row
        if isinstance(cell.value, str) and cell.value.startswith("=")
    }
    assert formulas and set(values.found) == formulas
    for (tab, cell), value in values.found.items():
        found = calculated[tab][cell].value
        if isinstance(value, str):
            assert (found or "") == value, (tab, cell)
        else:
            assert found == pytest.approx(value, rel=1e-9, abs=1e-9), (tab, cell)
    assert_no_error(calculated)


@pytest.mark.slow
def test_the_values_stand_in_the_file_as_written(few, few_pack, library):
    """A viewer that does not calculate shows them too."""
    shown = load_workbook(few, data_only=True)
    _, values = build_workbook(few_pack, library)
    for (tab, cell), value in values.found.items():
        found = shown[tab][cell].value
        assert found == (pytest.approx(value) if not isinstance(value, str) else value or None), (tab, cell)


BATCHES = (400, 250, 333, 1200, 500.5)


@pytest.fixture(scope="module")
def other_batches(few, few_pack, office, tmp_path_factory):
    """By batch mass: the workbook calculated anew once that mass was typed on every sheet."""
    folder = tmp_path_factory.mktemp("batches")
    changed = [
        without_values(few, {(sheet.name, live.BATCH): batch for sheet in few_pack.sheets}, folder / f"{batch}.xlsx")
        for batch in BATCHES
    ]
    return dict(zip(BATCHES, office("xlsx", *changed), strict=True))


@pytest.mark.slow
@pytest.mark.parametrize("batch", BATCHES)
def test_changing_the_batch_on_the_sheet(batch, few_pack, other_batches):
    """Weights, readings, shares, packages and warnings follow; a weight between two steps is said."""
    tabs = {sheet.name: sheet for sheet in few_pack.sheets}
    calculated = load_workbook(other_batches[batch], data_only=True)
    assert_no_error(calculated)
    for name, sheet in tabs.items():
        assert_page(tab_of(calculated, name), sheet, Fraction(str(batch)) / sheet.batch)


@pytest.mark.slow
def test_number_of_batches_drives_the_lists(few, few_pack, office, tmp_path):
    """What to buy follows the batches set on the mix sheets; one set to 0 needs nothing."""
    first, *others = (sheet.name for sheet in few_pack.sheets)
    changes = {(first, live.COUNT): 0, **{(name, live.COUNT): 7 for name in others}}
    calculated = load_workbook(
        office("xlsx", without_values(few, changes, tmp_path / "counts.xlsx"))[0], data_only=True
    )
    counts = {first: 0, **dict.fromkeys(others, 7)}
    buy = calculated[PURCHASES]
    for row, line in enumerate(few_pack.purchases, 5):
        needed = line.needed(counts)
        assert buy[f"B{row}"].value == line.offer
        assert buy[f"G{row}"].value == pytest.approx(float(needed), abs=1e-5)
        if line.package:
            assert buy[f"H{row}"].value == ceil(needed / line.package)
            assert buy[f"I{row}"].value == pytest.approx(float(ceil(needed / line.package) * line.package))
    assert calculated[GLANCE]["H6"].value == 0


@pytest.mark.slow
def test_a_date_on_the_sheet_goes_to_the_labels(few, few_pack, office, tmp_path):
    sheet = few_pack.sheets[0]
    changed = without_values(few, {(sheet.name, live.DATE): DAY}, tmp_path / "dated.xlsx")
    tab = tab_of(load_workbook(office("xlsx", changed)[0], data_only=True), sheet.name)
    labels = [tab[f"A{row}"].value for row in range(HEAD_ROW, tab.max_row) if "| batch " in str(tab[f"A{row}"].value)]
    assert labels == [sheet.label_line(number, "2025-03-07") for number in range(1, sheet.count + 1)]


@pytest.mark.slow
def test_a_day_stands_on_a_label_as_the_book_writes_days(office, tmp_path):
    """Put together by a spreadsheet program in any language, whose own codes for a date differ."""
    forms = ("%Y-%m-%d", "%m/%d/%Y", "%d.%m.%Y", "%d %B %Y", "%b %d, %y")
    book = Workbook()
    book.active.append([DAY, *(f"={live.day_in_words('A1', form)}" for form in forms)])
    book.save(tmp_path / "days.xlsx")
    (row,) = load_workbook(office("xlsx", tmp_path / "days.xlsx")[0], data_only=True).active.values
    assert list(row[1:]) == [DAY.strftime(form) for form in forms]


@pytest.mark.slow
def test_mixer_test_page_calculates(few, office, tmp_path):
    """The salt samples printed in Feed Management, November 1992 (feedmgmt_1992): CV 10.4 %."""
    salt = [0.81, 0.75, 0.61, 0.76, 0.68, 0.8]
    changed = without_values(
        few, {(MIXER_TEST, f"B{8 + i}"): value for i, value in enumerate(salt)}, tmp_path / "test.xlsx"
    )
    page = load_workbook(office("xlsx", changed)[0], data_only=True)[MIXER_TEST]
    assert page["B19"].value == 6
    assert page["B21"].value == pytest.approx(10.42, abs=0.01)
    assert "longer" in page["A22"].value


# On paper ---------------------------------------------------------------------------------------


def pages_of(pdf):
    """Size of the paper and words with their boxes, page by page, as rendered."""
    text = subprocess.run(["pdftotext", "-bbox", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    for page in text.split("<page ")[1:]:
        width, height = re.search(r'width="([\d.]+)" height="([\d.]+)"', page).groups()
        words = [
            (float(x0), float(y0), float(x1), float(y1), word)
            for x0, y0, x1, y1, word in re.findall(
                r'<word xMin="([-\d.]+)" yMin="([-\d.]+)" xMax="([-\d.]+)" '
                r'yMax="([-\d.]+)">([^<]*)</word>',
                page,
            )
        ]
        yield float(width), float(height), words


@pytest.mark.slow
@pytest.mark.parametrize("paper", [PAPER_A4, PAPER_LETTER])
def test_every_sheet_prints_on_one_page(paper, demo_pack, library, office, tmp_path):
    """All sheets of the whole demo book: one page each, the last column and the last line on it."""
    book, _ = build_workbook(demo_pack, library)
    for sheet in book.worksheets:
        sheet.page_setup.paperSize = paper
    path = tmp_path / "paper.xlsx"
    book.save(path)
    pages = list(pages_of(office("pdf", path)[0]))
    visible = [sheet for sheet in book.worksheets if sheet.sheet_state == "visible"]
    assert len(pages) == len(visible)
    for sheet, (width, height, words) in zip(visible, pages, strict=True):
        assert {round(width), round(height)} == ({595, 842} if paper == PAPER_A4 else {612, 792})
        assert all(x0 > 0 and x1 < width and y0 > 0 and y1 < height for x0, y0, x1, y1, _ in words), sheet.title
        seen = " ".join(word for *_, word in words)
        assert sheet.title.split()[-1] in seen, "the name of the sheet stands in the footer"
    tabs = {sheet.title: page for sheet, page in zip(visible, pages, strict=True)}
    for made in demo_pack.sheets:
        title = next(title for title in tabs if title == made.name or made.name.startswith(title))
        assert_whole_page(made, tabs[title][2])


def assert_whole_page(sheet, words):
    """Every head, every weight and every box of the page is there, and large enough to read."""
    text = [word for *_, word in words]
    joined = " ".join(text)
    for number in range(sheet.first_batch, sheet.first_batch + sheet.boxes):
        assert f"Batch {number}" in joined
    for line in (*sheet.bucket, *sheet.mixer):
        assert f"{float(line.mass):,.2f}" in text or f"{float(line.mass):,.0f}" in text, (sheet.name, line.label)
    assert joined.count(sheet.id) >= 2 and sheet.book_version in joined
    assert sheet.cautions[-1].split()[-1].rstrip(".") in joined, "the last caution is not cut off"
    big = max(y1 - y0 for _, y0, _, y1, word in words if word == f"{float(sheet.batch):,.0f}")
    assert big > 14, "weights can be read at arm's length"


@pytest.mark.slow
def test_pages_that_say_why_and_pages_with_misses_print_whole(demo_book, library, office, tmp_path):
    """A ration that cannot be met, and weights a coarse scale cannot show, six batches a page."""
    lime = ("calcium", "lime", "shell")
    kept = tuple(offer for offer in demo_book.supplements if not any(word in offer.feed for word in lime))
    poor = replace(demo_book, supplements=kept)
    farm = replace(demo_book.farm, batch_kg=60, scale_step_kg=2, hand_scale_step_kg=0.5, hand_weigh_below_kg=10)
    coarse = make_pack(
        Farm(replace(demo_book, farm=farm), library), SheetRequest(count=6), ["sw_gro_25_50", "broiler_0_3"]
    )
    unmet = make_pack(Farm(poor, library), SheetRequest(), ["sw_gro_25_50", "hen_peak"])
    assert unmet.unmade and not unmet.sheets and all(sheet.misses for sheet in coarse.sheets)
    for name, pack in (("coarse", coarse), ("unmet", unmet)):
        path = tmp_path / f"{name}.xlsx"
        write_workbook(pack, library, path)
        pages = list(pages_of(office("pdf", path)[0]))
        assert len(pages) == len([s for s in load_workbook(path).worksheets if s.sheet_state == "visible"])
        texts = [" ".join(word for *_, word in words) for _, _, words in pages]
        for width, height, words in pages:
            assert all(x0 > 0 and x1 < width and y0 > 0 and y1 < height for x0, y0, x1, y1, _ in words)
        for sheet, text in zip(pack.sheets, texts[1:], strict=False):
            assert sheet.misses[0].split()[0] in text and sheet.misses[-1].split()[-1] in text
        for absent, text in zip(pack.unmade, texts[1:], strict=False):
            assert "NOTHING TO WEIGH" in text and absent.stage_label.split()[0] in text
            for reason in absent.reasons:
                assert reason.split()[0] in text and reason.split()[-1] in text


# In the file ------------------------------------------------------------------------------------


@pytest.mark.slow
def test_sheets_are_protected_without_a_password_and_inputs_are_open(few, few_pack):
    book = load_workbook(few)
    for sheet in book.worksheets:
        assert sheet.protection.sheet and not sheet.protection.password, sheet.title
    tab = tab_of(book, few_pack.sheets[0].name)
    open_ = {cell.coordinate for row in tab.iter_rows() for cell in row if not cell.protection.locked}
    assert {live.BATCH, live.COUNT, live.DATE} <= open_
    record = [
        dict(zip([c.value for c in book[RECORD][1]], [c.value for c in row], strict=True))
        for row in book[RECORD].iter_rows(min_row=2)
    ]
    boxes = {f"{letter}{line['row']}" for line in record if line["tab"] == tab.title for letter in "HIJKL"}
    assert boxes <= open_
    assert not any(cell.startswith(("B", "D", "E", "F", "G")) and cell != live.COUNT for cell in open_)
    assert not any(isinstance(tab[cell].value, str) and tab[cell].value.startswith("=") for cell in open_), (
        "a formula left open"
    )


@pytest.mark.slow
def test_frozen_heads_and_order_of_sheets(few, few_pack):
    book = load_workbook(few)
    assert book.sheetnames == [
        GLANCE,
        *(sheet.name for sheet in few_pack.sheets),
        "Analysis 1",
        PURCHASES,
        MIXER_TEST,
        CAUTIONS,
        RECORD,
    ]
    assert book[RECORD].sheet_state == "hidden"
    for name in (GLANCE, PURCHASES, *(sheet.name for sheet in few_pack.sheets)):
        assert book[name].freeze_panes


@pytest.mark.slow
def test_metric_books_print_on_a4_and_us_books_on_letter(demo_book, library):
    us = replace(demo_book, farm=replace(demo_book.farm, units="us"))
    for book, paper in ((demo_book, PAPER_A4), (us, PAPER_LETTER)):
        made, _ = build_workbook(make_pack(Farm(book, library), SheetRequest(), ["sw_boar"], ["north"]), library)
        assert {int(sheet.page_setup.paperSize) for sheet in made.worksheets if sheet.sheet_state == "visible"} == {
            paper
        }


def test_a_us_book_weighs_in_pounds(demo_book, library):
    pound = 0.45359237
    farm = replace(
        demo_book.farm,
        units="us",
        batch_kg=1000 * pound,
        mixer_capacity_kg=None,
        scale_step_kg=pound,
        hand_scale_step_kg=pound / 100,
        hand_weigh_below_kg=20 * pound,
    )
    pack = make_pack(Farm(replace(demo_book, farm=farm), library), SheetRequest(), ["sw_gro_25_50"], ["north"])
    (sheet,) = pack.sheets
    assert (sheet.unit, sheet.batch) == ("lb", 1000)
    assert sum(line.mass for line in sheet.mixer) == 1000
    assert all((line.mass * 100).denominator == 1 for line in (*sheet.bucket, *sheet.mixer))


@pytest.mark.slow
def test_labels_never_become_formulas(awkward_book, library, office, tmp_path):
    """Labels that start with = + - @, quotes and control characters: text in the file, and text after calculation."""
    pack = make_pack(
        Farm(awkward_book, library), SheetRequest(on=date(2025, 11, 3)), ["sw_gro_25_50", "broiler_0_3"], ["north"]
    )
    path = tmp_path / "awkward.xlsx"
    write_workbook(pack, library, path)
    _, values = build_workbook(pack, library)
    formulas = set(values.found)
    for sheet in load_workbook(path).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert (sheet.title, cell.coordinate) in formulas, "a formula that nobody wrote on purpose"
                elif isinstance(cell.value, str) and cell.value.startswith(("=", "+", "-", "@")):
                    assert cell.quotePrefix, "typed over by hand it would turn into a formula"
    calculated = load_workbook(office("xlsx", without_values(path, {}, tmp_path / "bare.xlsx"))[0], data_only=True)
    assert_no_error(calculated)
    shown = {
        str(cell.value)
        for sheet in calculated.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if cell.value is not None
    }
    used = {line.label for sheet in pack.sheets for line in sheet.mixer if line.offer}
    for label in used:
        assert any(text.startswith(re.sub("[\x00-\x1f]", " ", label)) for text in shown), label
    labels = [text for text in shown if "| batch " in text]
    assert labels and all("\"x\" & 'y'" in text for text in labels)


@pytest.mark.slow
def test_long_labels_do_not_break_a_formula(demo_book, library, office, tmp_path):
    """A spreadsheet program takes constants of 255 characters in a formula, no longer ones."""
    bins = tuple(replace(row, label="long " * 120) for row in demo_book.bins)
    pack = make_pack(Farm(replace(demo_book, bins=bins), library), SheetRequest(), ["sw_boar"], ["north"])
    path = tmp_path / "long.xlsx"
    write_workbook(pack, library, path)
    for sheet in load_workbook(path).worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    assert len(cell.value) < 8192
                    assert all(len(text) <= 255 for text in re.findall(r'"((?:[^"]|"")*)"', cell.value))
    assert_no_error(load_workbook(office("xlsx", path)[0], data_only=True))


@pytest.mark.slow
def test_more_mix_sheets_than_one_sum_can_name(demo_pack, library):
    """A feed that six hundred mix sheets need: its sum is spread over hidden cells, and is still the sum."""
    needs = tuple((sheet.name, Fraction(12345, 100)) for sheet in demo_pack.sheets for _ in range(17))
    assert len(needs) > 600
    all_of_them = tuple(replace(sheet, counts=True) for sheet in demo_pack.sheets)
    many = replace(
        demo_pack,
        sheets=all_of_them,
        purchases=(replace(demo_pack.purchases[0], needs=needs), *demo_pack.purchases[1:]),
    )
    book, values = build_workbook(many, library)
    longest = max(len(str(cell.value)) for row in book[PURCHASES].iter_rows() for cell in row if cell.data_type == "f")
    assert longest < 8192
    assert values.found[PURCHASES, "G5"] == pytest.approx(123.45 * len(needs))
    assert book[PURCHASES].column_dimensions["O"].hidden


@pytest.mark.slow
def test_the_whole_demo_in_one_valid_file(demo_pack, library, tmp_path):
    path = tmp_path / "demo.xlsx"
    write_workbook(demo_pack, library, path)
    with zipfile.ZipFile(path) as file:
        assert file.testzip() is None
        names = [name for name in file.namelist() if name.startswith("xl/worksheets/sheet")]
        for name in names:
            xml = file.read(name).decode()
            assert xml.count("<f>") == len(re.findall(r"</f><v>", xml)), f"a formula without its value in {name}"
    assert len(names) == len(load_workbook(path).sheetnames)
