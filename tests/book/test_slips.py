"""Numbers in another unit, prices for another mass, dates and cells that nobody meant: asked with the likely reading.

The cases are those of a farmer's first season with the tool; what bags, bins and animals are like is common practice.
"""

from __future__ import annotations

import os

import pytest
from openpyxl import load_workbook
from openpyxl.styles import Font
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from rationlp.book import check_book, open_book
from rationlp.book.checks.prices import range_of
from rationlp.book.reading.rows import read_setting
from rationlp.book.reading.unseen import last_filled_row
from rationlp.every_problem import every_problem
from rationlp.library.records import Price

OFFER = {"offer": 2, "corn": 8, "limestone": 12, "monocal": 15, "salt": 17, "methionine": 20, "premix_pigs": 25}
"""Rows of the demo's sheet supplements."""


def problems(demo, path, library, *cells):
    """The problems at these cells, `supplements!D12`, as `severity found: do`."""
    found = [p for p in check_book(path, library) if f"{p.sheet}!{p.cell}" in cells]
    return [f"{p.severity} {p.found}: {p.do}" for p in found]


@pytest.mark.parametrize(
    ("offer", "price", "package", "words"),
    [
        ("limestone", "6.25", "25 kg", "the price of one package"),
        ("salt", "7.50", "25 kg", "the price of one package"),
        ("monocal", "29", "25 kg", "the price of one package"),
        ("premix_pigs", "62", "25 kg", "the price of one package"),
        ("methionine", "3.9", "", "a price per kg"),
        ("methionine", "84", "", "a price per 100 kg or the price of a 25 kg bag"),
        ("corn", "19.8", "", "a price per 100 kg"),
    ],
)
def test_a_price_of_a_bag_or_a_pound_is_asked(demo, tmp_path, library, offer, price, package, words):
    row = OFFER[offer]
    demo.set("supplements", row, "price", price).set("supplements", row, "per_mass", "")
    demo.set("supplements", row, "package_mass", package)
    for column in ("price_low", "price_high"):
        demo.set("supplements", row, column, "")
    (line,) = problems(demo, demo.write_csv(tmp_path / "book"), library, f"supplements!D{row}")
    assert line.startswith("error")
    assert f"Perhaps it is {words}" in line and "per_mass" in line


@pytest.mark.parametrize(("price", "per_mass", "severity"), [("2.40", "1 t", "warning"), ("389", "1 g", "error")])
def test_a_price_with_its_mass_is_questioned_and_refused_only_beyond_all_sense(
    demo, tmp_path, library, price, per_mass, severity
):
    demo.set("supplements", 12, "price", price).set("supplements", 12, "per_mass", per_mass)
    (line,) = problems(demo, demo.write_csv(tmp_path / "book"), library, "supplements!D12")
    assert line.startswith(severity)


def test_prices_of_the_demo_and_zero_are_no_question(demo, tmp_path, library):
    demo.set("supplements", 12, "price", "0")
    assert check_book(demo.write_csv(tmp_path / "book"), library) == []


def test_a_price_in_a_currency_far_from_a_dollar_is_not_judged(demo, tmp_path, library):
    demo.setting("currency", "JPY")
    assert check_book(demo.write_csv(tmp_path / "book"), library) == []


def test_a_price_of_a_bushel_for_the_grain_of_a_bin(demo, tmp_path, library):
    (line,) = problems(demo, demo.set("bins", 2, "sale_price", "4.60").write_csv(tmp_path / "b"), library, "bins!H2")
    assert line.startswith("error") and "the price of a bushel" in line


def test_published_prices_lie_in_the_ranges(library):
    """market tables of 2016 and 2020 and organic lists of 2011 and 2012, as cited in feed_library/prices.csv."""
    for row in library.table("prices", Price):
        usual = range_of(row.feed, row.currency, library)
        assert usual is not None and usual.low <= row.price_per_tonne <= usual.high


def test_every_feed_has_a_range(library):
    assert [feed for feed in library.feeds if range_of(feed, "USD", library) is None] == []


# Shares, feed per day, bins -------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["0.15", ".15"])
def test_a_share_for_a_percentage(demo, tmp_path, library, typed):
    path = demo.set("supplements", 8, "max_pct", typed).write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, "supplements!I8")
    assert line.startswith("error max_pct 0.15") and "Write 15; or 0.15 % with its sign" in line


def test_a_share_with_its_sign_is_meant(demo, written, library):
    demo.set("supplements", 8, "max_pct", "0.15 %").set("supplements", 20, "max_pct", "0.3")
    assert check_book(written(demo), library) == []


def test_a_cap_of_the_farm_as_a_share(demo, tmp_path, library):
    path = demo.set("own_limits", 2, "max_pct", "0.45").write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, "own_limits!D2")
    assert "Write 45" in line


@pytest.mark.parametrize(
    ("row", "typed", "severity", "words"),
    [
        (12, "90", "error", "Perhaps 90 g is meant"),
        (12, "0.25", "warning", "Perhaps 0.25 lb is meant"),
        (12, "90 kg", "warning", "Perhaps 90 g"),
        (12, "0.3 kg", "warning", "Leave it blank"),
    ],
)
def test_feed_per_day_in_another_unit(demo, tmp_path, library, row, typed, severity, words):
    """A brown hen eats 110 g a day (NRC 1994, Nutrient Requirements of Poultry, Table 2-3)."""
    path = demo.set("groups", row, "feed_per_head_per_day", typed).write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, f"groups!F{row}")
    assert line.startswith(severity) and words in line


def test_feed_per_day_of_the_table_is_no_question(demo, tmp_path, library):
    demo.set("groups", 12, "feed_per_head_per_day", "0.12").set("groups", 8, "feed_per_head_per_day", "2.5")
    assert check_book(demo.write_csv(tmp_path / "book"), library) == []


def test_inches_for_feet_and_tons_for_pounds(demo, tmp_path, library):
    demo.setting("units", "us")
    for column, value in (("diameter", "24"), ("wall_depth", "144"), ("peak_height", "3"), ("test_weight", "52")):
        demo.set("bins", 3, column, value)
    demo.set("bins", 2, "mass", "38")
    depth, mass = problems(demo, demo.write_csv(tmp_path / "book"), library, "bins!E3", "bins!C2")[::-1]
    assert depth.startswith("error grain 144 ft deep") and "Perhaps 144 in is meant" in depth
    assert mass.startswith("error 38 lb of grain in a bin") and "Perhaps 38 ton is meant" in mass


@pytest.mark.parametrize(
    ("units", "typed", "words"),
    [("metric", "46", "error a bin 46 m across"), ("us", "150", "error a bin 150 ft across"), ("metric", "46 m", "")],
)
def test_a_bin_wider_than_any(demo, tmp_path, library, units, typed, words):
    path = demo.setting("units", units).set("bins", 3, "diameter", typed).write_csv(tmp_path / "book")
    told = problems(demo, path, library, "bins!D3")
    assert [line[: len(words)] for line in told] == ([words] if words else [])


@pytest.mark.parametrize(
    ("units", "typed", "words"),
    [
        ("us", "72", "error grain of 72 lb/bu: Perhaps 72 kg/hl is meant"),
        ("us", "72 kg/hl", ""),
        ("us", "64", ""),
        ("us", "70 lb/bu", ""),
        ("metric", "72 kg/hl", ""),
    ],
)
def test_kilograms_a_hectolitre_for_pounds_a_bushel(demo, tmp_path, library, units, typed, words):
    path = demo.setting("units", units).set("bins", 3, "test_weight", typed).write_csv(tmp_path / "book")
    told = problems(demo, path, library, "bins!G3")
    assert [line[: len(words)] for line in told] == ([words] if words else [])


@pytest.mark.parametrize(("typed", "words"), [("8", "Perhaps 8 t is meant"), ("8 kg", ""), ("0", ""), ("800", "")])
def test_a_stock_of_meal_in_tonnes(demo, tmp_path, library, typed, words):
    path = demo.set("supplements", 8, "stock_mass", typed).write_csv(tmp_path / "book")
    told = problems(demo, path, library, "supplements!G8")
    assert [words in line for line in told] == ([True] if words else [])


def test_a_stock_speaks_the_units_of_the_book(demo, tmp_path, library):
    path = demo.setting("units", "us").set("supplements", 8, "stock_mass", "6").write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, "supplements!G8")
    assert "6 lb of corn" in line and "Perhaps 6 ton is meant" in line


def test_what_stands_with_its_unit_is_meant(demo, tmp_path, library):
    demo.set("bins", 2, "mass", "200 kg").set("bins", 3, "wall_depth", "7'")
    assert problems(demo, demo.write_csv(tmp_path / "book"), library, "bins!C2", "bins!E3") == []


@pytest.mark.parametrize(
    ("sheet", "row", "cell", "column"), [("assays", 3, "G3", "lab_sd"), ("own_feeds", 3, "F3", "sd")]
)
def test_a_figure_too_certain_to_be_true(demo, tmp_path, library, sheet, row, cell, column):
    path = demo.set(sheet, row, column, "1e-12").write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, f"{sheet}!{cell}")
    assert "next to nothing" in line and "e-" not in line


@pytest.mark.parametrize(("typed", "asked"), [("1 g", True), ("0", False), ("25 kg", False)])
def test_a_stock_of_next_to_nothing(demo, tmp_path, library, typed, asked):
    demo.set("supplements", 3, "package_mass", "")
    path = demo.set("supplements", 3, "stock_mass", typed).write_csv(tmp_path / "book")
    lines = problems(demo, path, library, "supplements!G3")
    assert [line.startswith("warning a stock_mass of 0.001 kg") for line in lines] == [True] * asked


@pytest.mark.parametrize(("typed", "asked"), [("1e5 t", True), ("640 kg", False), ("90 t", False)])
def test_more_seed_than_anybody_sows(demo, tmp_path, library, typed, asked):
    demo.set("sown", 2, "bin", "south").set("sown", 2, "crop", "triticale").set("sown", 2, "mass", typed)
    path = demo.write_csv(tmp_path / "book")
    lines = [p for p in check_book(path, library) if p.sheet == "sown" and p.found.startswith("100,000 t of seed")]
    assert [p.severity for p in lines] == ["warning"] * asked


def test_too_much_seed_is_told_in_the_units_of_the_book(demo, tmp_path, library):
    demo.set("sown", 2, "bin", "south").set("sown", 2, "crop", "triticale").set("sown", 2, "mass", "1000 ton")
    path = demo.set("farm", 4, "value", "us").write_csv(tmp_path / "book")
    (told,) = [p for p in check_book(path, library) if p.sheet == "sown" and "of seed of" in p.found]
    assert told.found == "1,000 ton of seed of triticale" and told.expected == "at most about 551 ton"


@pytest.mark.parametrize(
    ("sheet", "row", "column", "typed"),
    [("groups", 2, "feed_per_head_per_day", "1e-320 kg"), ("bins", 3, "diameter", "1e-12")],
)
def test_what_no_animal_eats_and_no_bin_is_across(demo, tmp_path, library, sheet, row, column, typed):
    path = demo.set(sheet, row, column, typed).write_csv(tmp_path / "book")
    found = [p for p in check_book(path, library) if p.sheet == sheet and p.severity == "error"]
    assert len(found) == 1 and "at least" in found[0].expected


def test_less_in_stock_than_a_package(demo, tmp_path, library):
    path = demo.set("supplements", 25, "stock_mass", "6").write_csv(tmp_path / "book")
    (line,) = problems(demo, path, library, "supplements!G25")
    assert line.startswith("warning") and "such as 6 t" in line


@pytest.mark.parametrize(
    ("sheet", "row", "column", "typed"),
    [("samples", 2, "taken_on", "2025-08-01"), ("bins", 2, "opened_on", "2025-08-01")],
)
def test_dates_before_the_bin_was_filled(demo, tmp_path, library, sheet, row, column, typed):
    found = [p for p in check_book(demo.set(sheet, row, column, typed).write_csv(tmp_path / "b"), library)]
    assert [(p.severity, p.sheet) for p in found] == [("warning", sheet)]
    assert "before the bin 'north' was filled on 2025-08-14 (bins!K2)" in found[0].found


@pytest.mark.parametrize("name", ["nan", "=A1", "#REF!", "%", "none"])
def test_no_new_nutrient_has_the_name_of_an_error(demo, tmp_path, library, name):
    demo.add("own_feeds", feed="corn", nutrient=name, value=1, unit="%", basis="as_fed")
    path = demo.write_csv(tmp_path / "book")
    assert any(p.severity == "error" and (p.sheet, p.cell) == ("own_feeds", "B4") for p in check_book(path, library))


# What a workbook hides ------------------------------------------------------------------------------------------


@pytest.fixture
def workbook(demo, tmp_path):
    return demo.write_xlsx(tmp_path / "book.xlsx")


def edited(path, change):
    book = load_workbook(path)
    change(book)
    book.save(path)
    return path


def test_hidden_sheets_rows_and_columns_are_named(workbook, library):
    def change(book):
        book["groups"].sheet_state = "hidden"
        for row in (4, 5, 9):
            book["supplements"].row_dimensions[row].hidden = True
        book["supplements"].column_dimensions["M"].hidden = True

    found = {
        (p.severity, p.sheet, p.found.split(",")[0].split(" (")[0])
        for p in check_book(edited(workbook, change), library)
    }
    assert found == {
        ("warning", "groups", "a hidden sheet"),
        ("warning", "supplements", "hidden rows"),
        ("warning", "supplements", "hidden columns"),
    }
    assert any("(4 to 5, 9)" in p.found for p in check_book(workbook, library))


@pytest.mark.slow
def test_cells_merged_over_rows_lose_nothing_unseen(workbook, library):
    found = check_book(edited(workbook, lambda book: book["groups"].merge_cells("D2:D4")), library)
    assert [(p.severity, p.sheet, p.cell) for p in found] == [("error", "groups", "D2")]


@pytest.mark.parametrize("letter", ["\u200b", "\u202e", "\ufeff", "\u00ad"])
def test_invisible_characters_are_refused(demo, tmp_path, library, letter):
    demo.set("bins", 2, "label", f"Nor{letter}th")
    (problem,) = check_book(demo.write_csv(tmp_path / "book"), library)
    assert (problem.sheet, problem.cell) == ("bins", "B2")
    assert "an invisible character" in problem.found


def test_a_label_of_a_book_s_length_is_refused(demo, tmp_path, library):
    (problem,) = check_book(demo.set("bins", 2, "label", "a" * 1000).write_csv(tmp_path / "book"), library)
    assert problem.found == "1,000 characters"


# Sheets under other names ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["hand sort", "sort 2025", "Tabelle1", "crops found"])
def test_a_renamed_sheet_is_known_by_its_headings_and_read_on(demo, written, library, name):
    demo.rename("sorted", name).set("groups", 2, "stage", "tractor")
    problems = check_book(written(demo), library)
    assert [(p.sheet, p.cell) for p in problems] == [(name, ""), ("groups", "B2")]
    assert problems[0].do == "It looks like sorted (the same headings): rename it to sorted."


def test_a_trade_word_for_a_sheet_and_a_heading(demo, tmp_path, library):
    demo.rename("assays", "lab results").rename_column("bins", "moisture_pct", "moisture")
    found = check_book(demo.write_csv(tmp_path / "book"), library)
    assert {(p.sheet, p.do) for p in found} == {
        ("lab results", "It looks like assays (the same headings): rename it to assays."),
        ("bins", "Did you mean moisture_pct?"),
    }


def test_names_of_the_trade_are_read_in_every_sheet(demo, written, library):
    demo.set("supplements", 8, "feed", "Maize").set("groups", 3, "stage", "Early grower")
    demo.set("sorted", 6, "crop", "camelina").set("sorted", 7, "crop", "dockage")
    demo.set("assays", 3, "nutrient", "Protein").set("own_limits", 2, "stage", "Layer, brown-egg")
    demo.set("samples", 2, "bin", "North bin (mill yard)")
    book, warnings = open_book(written(demo), library)
    assert warnings == []
    assert (book.supplements[6].feed, book.groups[1].stage) == ("corn", "sw_gro_25_50")
    assert [row.crop for row in book.sorted][4:6] == ["camelina_seed", "foreign_matter"]
    assert (book.assays[1].nutrient, book.own_limits[0].stage) == ("crude_protein", "hen_brown_110")
    assert book.samples[0].bin == "north"


@pytest.mark.parametrize(
    ("sheet", "row", "column", "typed", "words"),
    [
        ("supplements", 3, "feed", "soybean meal", "soybean_meal_48_dehulled_solvent"),
        ("groups", 7, "stage", "gestating sow", "sw_gest_p2_early"),
        ("assays", 3, "nutrient", "ME", "amen_poultry"),
        ("sorted", 3, "crop", "oats", "oats_naked"),
    ],
)
def test_what_fits_several_is_asked(demo, tmp_path, library, sheet, row, column, typed, words):
    path = demo.set(sheet, row, column, typed).write_csv(tmp_path / "book")
    (problem,) = [p for p in check_book(path, library) if p.sheet == sheet and p.severity == "error"]
    assert "which may be" in problem.found and words in problem.found


def test_moisture_on_a_laboratory_sheet_is_dry_matter(demo, written, library):
    demo.set("assays", 2, "nutrient", "Moisture").set("assays", 2, "value", "12.5")
    book, warnings = open_book(written(demo), library)
    assert warnings == []
    assert (book.assays[0].nutrient, book.assays[0].value, book.assays[0].lab_sd) == ("dry_matter", 87.5, 0.2)


def test_offers_that_the_certificate_keeps_out_are_named(demo, tmp_path):
    """7 CFR 205.237(a) and 205.603(d), as cited in feed_library/feeds.csv."""
    demo.setting("certification", "us_organic")
    found = {problem.cell: problem for problem in every_problem(demo.write_csv(tmp_path / "book"), None)}
    barred = next(problem for problem in found.values() if "solvent (hexane)" in problem.found)
    # it said, of what is certified already: fill in organic if it is certified
    assert barred.cell == "B3" and barred.severity == "warning" and "certified or not: offer another" in barred.do
    assert "not on the list" in found["B19"].found
    assert not {"B12", "K12"} & set(found)  # limestone
    assert any(problem.cell.startswith("K") and "fill in organic" in problem.do for problem in found.values())


@pytest.mark.parametrize(
    ("sheet", "column", "typed"), [("bins", "mass", "42.000 kg"), ("supplements", "stock_mass", "6.000 kg")]
)
def test_thousands_behind_a_point_are_asked_about_where_they_are_hardly_anything(
    demo, written, library, sheet, column, typed
):
    """A unit beside a number is taken as meant, `42 kg`: 42.000 kg of a continental hand were 42 kg in silence."""
    number = typed.split(".")[0]
    path = written(demo.set(sheet, 2, column, typed))
    (problem,) = (p for p in check_book(path, library) if p.severity == "error")
    assert problem.sheet == sheet and f"Perhaps {number} t is meant" in problem.do


@pytest.mark.parametrize(
    ("unit", "words"), [("g/ton", "1.1023 times"), ("g per t", "1.1023 times"), ("lb/ton", "by 20")]
)
def test_a_figure_for_a_ton_is_asked_which_ton_it_is(demo, written, library, unit, words):
    """1,000 kg over the 907.18474 kg of 2,000 lb (NIST Handbook 44, appendix C)."""
    (problem,) = check_book(written(demo.set("own_feeds", 2, "unit", unit)), library)
    assert words in problem.do and "mean" not in problem.do


# Files -----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rows", "last"),
    [
        ('<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2" s="3"/></row>', 1),
        (
            '<row r="1"><c t="inlineStr"><is><t>a</t></is></c></row><row spans="1:3" r="7"><c><f>1+1</f><v/></c></row>',
            7,
        ),
        ('<row r="1"><c s="1"/></row><row r="2"><c s="1"/></row>', 1),
        ("<row><c><v>1</v></c></row>", None),
        ('<x:row r="1"><x:c><x:v>1</x:v></x:c></x:row>', None),
        ("", None),
    ],
)
def test_rows_behind_the_last_value_are_not_walked_through(rows, last):
    assert last_filled_row(f"<sheetData>{rows}</sheetData>".encode()) == last


@pytest.mark.slow
def test_a_format_dragged_down_a_column_costs_no_time(workbook, library, monkeypatch):
    def change(book):
        for row in range(100, 3000):
            book["supplements"].cell(row, 3).font = Font(bold=True)

    asked = []
    plain = ReadOnlyWorksheet.iter_rows
    monkeypatch.setattr(ReadOnlyWorksheet, "iter_rows", lambda self, **to: asked.append(to) or plain(self, **to))
    assert check_book(edited(workbook, change), library) == []
    assert max(to["max_row"] for to in asked) < 100


def test_a_pipe_is_no_workbook(tmp_path, library):
    os.mkfifo(tmp_path / "book.xlsx")
    (problem,) = check_book(tmp_path / "book.xlsx", library)
    assert problem.found == "no regular file"


@pytest.mark.parametrize(("name", "typed"), [("batch_mass", "12 bags"), ("mixer_capacity", "40 bu")])
def test_a_setting_has_nothing_to_weigh_bags_and_bushels_by(demo, tmp_path, library, name, typed):
    (problem,) = check_book(demo.setting(name, typed).write_csv(tmp_path / "book"), library)
    assert problem.sheet == "farm" and problem.do == "Write the mass itself."


@pytest.mark.parametrize("setting", ["batch_mass", "scale_step", "confidence_pct", "units", "jurisdiction"])
def test_a_dash_for_a_setting_is_its_usual_value(demo, tmp_path, library, setting):
    """Found by fuzzing (seed 63061): a dash was nothing, and nothing was compared with a mass."""
    blank, _ = open_book(demo.setting(setting, "").write_csv(tmp_path / "blank"), library)
    dashed, _ = open_book(demo.setting(setting, "--").write_csv(tmp_path / "dashed"), library)
    assert dashed.farm == blank.farm
    if setting != "units":
        assert read_setting(setting, "--", dashed.farm) == dashed.farm


@pytest.mark.parametrize(("margin", "asked"), [("0.05", True), ("5", False), ("0", False)])
def test_a_margin_of_a_twentieth_of_a_percent_is_asked(demo, written, library, margin, asked):
    demo.setting("requirement_margin_pct", margin)
    found = [problem for problem in check_book(written(demo), library) if "requirement_margin_pct" in problem.found]
    assert [(problem.severity, "Write 5 " in problem.do) for problem in found] == [("warning", True)] * asked
