"""What a book says, in SI units, whatever it is written in."""

from __future__ import annotations

from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest

from rationlp.book import check_book, read_book
from rationlp.book.records import Book

UNITS = {
    "crude_protein": "%",
    "dry_matter": "%",
    "lysine": "%",
    "calcium": "%",
    "zinc": "mg/kg",
    "vitamin_a": "IU/kg",
    "ne_pig": "kcal/kg",
    "deoxynivalenol": "mg/kg",
}
A_BIN = {"bins": [{"bin": "b", "mass": "10 t", "sale_price": 150, "moisture_pct": 13}]}
A_FARM = {"farm": [{"setting": "name", "value": "Test"}]}


def same(one: Book, other: Book) -> bool:
    """Whether two books say the same, wherever they lie."""
    return replace(one, path=Path()) == replace(other, path=Path())


def test_csv_and_workbook_read_to_the_same(demo, tmp_path, library):
    one = read_book(demo.write_csv(tmp_path / "book"), library.units)
    other = read_book(demo.write_xlsx(tmp_path / "book.xlsx"), library.units)
    for field in fields(Book):
        if field.name != "path":
            assert getattr(one, field.name) == getattr(other, field.name)


def test_the_demo_in_si(demo_book):
    north, south = demo_book.bins
    assert (north.mass_kg, north.moisture_pct, north.sale_price_per_tonne) == (42_000, 12.4, 182)
    assert (south.mass_kg, south.diameter_m, south.wall_depth_m, south.peak_height_m) == (None, 4.6, 2.25, 0.55)
    assert south.test_weight_kg_m3 == 740
    offers = {offer.offer: offer for offer in demo_book.supplements}
    assert offers["soy_pressed"].price_per_tonne == 468
    assert offers["soy48_bags"].price_per_tonne == pytest.approx(436)  # 10.90 for 25 kg
    assert offers["soy48_bags"].package_kg == 25
    assert offers["soy_pressed"].stock_kg == 6000
    assert (offers["soy_pressed"].organic, offers["salt"].organic) == (False, None)
    assert demo_book.own_limits[0].max_share == 0.45
    assert demo_book.groups[0].from_date == date(2025, 10, 6)
    assert demo_book.farm.batch_kg == 500
    assert demo_book.farm.objective is None


def test_the_demo_assays_are_near_what_its_sort_says(demo_book, library):
    """The invented laboratory figures stay within 0.6 points of what the library says of the sorted crops."""
    for sample in demo_book.samples[:2]:  # n0 has no laboratory sheet
        heaps = {row.crop: row.mass_g for row in demo_book.sorted if row.sample == sample.sample}
        protein_dm = sum(
            mass * library.figures[crop]["crude_protein"].value
            for crop, mass in heaps.items()
            if crop in library.figures
        ) / sum(heaps.values())
        figures = {row.nutrient: row.value for row in demo_book.assays if row.sample == sample.sample}
        assert figures["crude_protein"] == pytest.approx(protein_dm * figures["dry_matter"] / 100, abs=0.6)


SCALES = [("hand_scale_step", "10 g"), ("hand_weigh_below", "20 kg")]  # left blank they are round in the book's unit
METRIC = {
    "farm": [
        ("units", "metric"),
        ("batch_mass", "453.59237"),
        ("scale_step", "0.45359237"),
        ("mixer_capacity", "1 t"),
        *SCALES,
    ],
    "bins": {"bin": "b", "mass": "9071.8474", "sale_price": "220.46226218", "moisture_pct": "13"},
    "more": {
        "bin": "c",
        "diameter": "4.572",
        "wall_depth": "3.048",
        "peak_height": "0.3048",
        "test_weight": "720.82415",
        "sale_price": "100",
        "per_mass": "453.59237",
        "moisture_pct": "13",
    },
    "offer": {
        "offer": "o",
        "feed": "corn",
        "price": "110.231131",
        "package_mass": "22.6796185",
        "stock_mass": "907.18474",
    },
    "group": {"group": "g", "stage": "sw_boar", "head": "2", "feed_per_head_per_day": "2.26796185"},
}
US = {
    "farm": [("units", "us"), ("batch_mass", "1000"), ("scale_step", "1"), ("mixer_capacity", "1 t"), *SCALES],
    "bins": {"bin": "b", "mass": "10 ton", "sale_price": "200", "moisture_pct": "13"},
    "more": {
        "bin": "c",
        "diameter": "15",
        "wall_depth": "10",
        "peak_height": "12 in",
        "test_weight": "56",
        "sale_price": "100",
        "per_mass": "1000",
        "moisture_pct": "13",
    },
    "offer": {
        "offer": "o",
        "feed": "corn",
        "price": "5",
        "per_mass": "cwt",
        "package_mass": "50",
        "stock_mass": "2000 lb",
    },
    "group": {"group": "g", "stage": "sw_boar", "head": "2", "feed_per_head_per_day": "5"},
}


def _sheets(said):
    return {
        "farm": [{"setting": name, "value": value} for name, value in said["farm"]],
        "bins": [said["bins"], said["more"]],
        "supplements": [said["offer"]],
        "groups": [said["group"]],
    }


def test_metric_and_us_books_say_the_same(write_book):
    """453.59237 kg is 1,000 lb, 56 lb/bu 720.83 kg/m3, 200 a short ton 220.46 a tonne (exact definitions)."""
    one, other = (read_book(write_book(_sheets(said), name)) for name, said in (("metric", METRIC), ("us", US)))
    pairs = [
        (one.farm, other.farm),
        *zip(one.bins, other.bins, strict=True),
        (one.supplements[0], other.supplements[0]),
        (one.groups[0], other.groups[0]),
    ]
    compared = 0
    for metric, us in pairs:
        for field in fields(metric):
            value = getattr(metric, field.name)
            if isinstance(value, float):
                assert getattr(us, field.name) == pytest.approx(value, rel=1e-6), field.name
                compared += 1
    assert compared == 21
    assert one.bins[0].sale_price_per_tonne == pytest.approx(200 / 0.90718474)
    assert one.supplements[0].price_per_tonne == pytest.approx(5 / 0.045359237)


@pytest.mark.parametrize(
    ("nutrient", "typed", "unit", "value", "kept"),
    [
        ("crude_protein", 149, "g/kg", 14.9, "%"),
        ("crude_protein", 14.9, "% ", 14.9, "%"),
        ("zinc", 0.01, "%", 100, "mg/kg"),
        ("zinc", 100, "PPM", 100, "mg/kg"),
        ("deoxynivalenol", 750, "ppb", 0.75, "mg/kg"),
        ("ne_pig", 2.5, "mcal/kg", 2500, "kcal/kg"),
        ("ne_pig", 10.46, "MJ/kg", 2500, "kcal/kg"),
        ("ne_pig", 1133.98, "kcal/lb", 2500, "kcal/kg"),
        ("ne_pig", 1.13398, "Mcal per lb", 2500, "kcal/kg"),
        ("zinc", 45.359237, "mg/lb", 100, "mg/kg"),
        ("zinc", 136.077711, "mcg/lb", 0.3, "mg/kg"),
        ("vitamin_a", 4535.9237, "IU/lb", 10000, "IU/kg"),
        ("crude_protein", 45.359237, "g per pound", 10, "%"),
        ("tannin", 12, "g/kg", 12, "g/kg"),
        ("bushels", 3, "per_kg", 3, "per_kg"),
    ],
)
def test_figures_come_in_the_unit_of_the_library(write_book, nutrient, typed, unit, value, kept):
    figure = {"feed": "corn", "nutrient": nutrient, "value": typed, "unit": unit, "basis": "as_fed", "sd": typed / 10}
    book = read_book(write_book({**A_FARM, **A_BIN, "own_feeds": [figure]}), UNITS)
    (row,) = book.own_feeds
    assert row.value == pytest.approx(value, rel=1e-4)
    assert row.sd == pytest.approx(value / 10, rel=1e-4)
    assert row.unit == kept


@pytest.mark.parametrize(
    ("nutrient", "minimum", "unit", "per", "value", "kept"),
    [
        ("lysine", 9.5, "g/kg", "kg", 0.95, "%"),
        ("crude_protein", 6.0, "%", "mcal", 6.0, "%"),
        ("lysine", 3.4, "g/kg", "mcal", 0.34, "%"),
        ("lysine", 20, "g", "day", 20, "g"),
        ("lysine", 20_000, "mg", "day", 20, "g"),
        ("zinc", 0.05, "g", "day", 50, "mg"),
        ("vitamin_a", 4000, "iu", "day", 4000, "IU"),
        ("ne_pig", 6.2, "Mcal", "day", 6200, "kcal"),
        ("tannin", 2, "kg", "day", 2000, "g"),
    ],
)
def test_requirements_come_in_the_unit_of_the_library(write_book, nutrient, minimum, unit, per, value, kept):
    row = {"stage": "s", "nutrient": nutrient, "minimum": minimum, "maximum": minimum * 2, "unit": unit, "per": per}
    book = read_book(write_book({**A_FARM, **A_BIN, "own_stages": [row]}), UNITS)
    (got,) = book.own_stages
    assert got.minimum == pytest.approx(value)
    assert got.maximum == pytest.approx(2 * value)
    assert (got.unit, got.per) == (kept, per)


@pytest.mark.parametrize(
    ("date_format", "typed"),
    [
        ("YYYY-MM-DD", "2025-08-09"),
        ("DD.MM.YYYY", "09.08.2025"),
        ("DD.MM.YYYY", "2025-08-09"),
        ("MM/DD/YYYY", "8/9/2025"),
        ("%d/%m/%y", "09/08/25"),
        ("dd/mm/yy", "9/8/25"),
        ("%d %b %Y", "9 Aug 2025"),
    ],
)
def test_dates_as_the_book_writes_them(demo, written, date_format, typed):
    demo.setting("date_format", date_format).set("bins", 2, "filled_on", typed)
    assert read_book(written(demo)).bins[0].filled_on == date(2025, 8, 9)


def test_names_agree_whatever_their_case(demo, written, library):
    demo.set("samples", 2, "bin", "NORTH ").set("sorted", 2, "sample", "N1").set("sorted", 2, "crop", "Triticale")
    demo.set("supplements", 2, "feed", "Soybean meal expeller").set("groups", 2, "stage", "SW_nur_11_25")
    path = written(demo)
    assert check_book(path, library) == []
    book = read_book(path, library.units)
    assert (book.samples[0].bin, book.sorted[0].sample, book.sorted[0].crop) == ("north", "n1", "triticale")
    assert (book.supplements[0].feed, book.groups[0].stage) == ("soybean_meal_expeller", "sw_nur_11_25")


def test_numbers_as_names(demo, written, library):
    """A bin called 1 is a number in a workbook and text in CSV."""
    demo.set("bins", 2, "bin", "1").set("samples", 2, "bin", "1").set("samples", 4, "bin", "1")
    path = written(demo)
    assert check_book(path, library) == []
    assert read_book(path, library.units).bins[0].bin == "1"


def test_order_of_columns_and_looks_of_the_header_do_not_matter(demo, written, library):
    rows = demo.tables["supplements"]
    rows[:] = [list(reversed(row)) for row in rows]
    rows[0] = [f"  {name.replace('_', ' ').title()} " for name in rows[0]]
    book = read_book(written(demo), library.units)
    assert (book.supplements[2].offer, book.supplements[2].price_per_tonne) == ("soy48_bags", pytest.approx(436))
    assert book.supplements[2].place.cell("price") == "Q4"


def test_blank_rows_are_skipped_and_counted(demo, written, library, brief):
    rows = demo.tables["supplements"]
    blank = [""] * len(rows[0])
    rows.insert(0, blank)
    rows.insert(3, blank)
    rows.extend([blank] * 3)
    demo.set("bins", 2, "note", "")
    path = written(demo)
    assert check_book(path, library) == []
    book = read_book(path, library.units)
    assert [offer.place.row for offer in book.supplements[:3]] == [3, 5, 6]
    assert len(book.supplements) == 28


def test_blank_settings_keep_their_usual_value(demo, written):
    demo.clear("farm").add("farm", setting="units").add("farm", setting="Batch Mass", value="")
    farm = read_book(written(demo)).farm
    assert (farm.units, farm.batch_kg, farm.scale_step_kg, farm.confidence_pct) == ("metric", 1000, 1, 50)


def test_a_price_of_nothing_is_a_price(demo, written, library):
    demo.set("supplements", 2, "price", "0").set("bins", 2, "sale_price", "0")
    path = written(demo)
    assert check_book(path, library) == []
    book = read_book(path, library.units)
    assert (book.supplements[0].price_per_tonne, book.bins[0].sale_price_per_tonne) == (0, 0)


def test_a_book_without_bins(demo, written, library):
    demo.drop("bins", "samples", "sorted", "assays", "own_feeds", "own_stages", "own_limits", "actual")
    path = written(demo)
    assert check_book(path, library) == []
    assert read_book(path, library.units).bins == ()


def test_new_feeds_stages_and_nutrients_are_welcome(demo, written, library):
    demo.add("own_feeds", feed="Pea screenings", nutrient="dry_matter", value="88", unit="%", basis="as_fed")
    demo.add("own_feeds", feed="pea_screenings", nutrient="tannin", value="9", unit="g/kg", basis="dry_matter")
    demo.set("supplements", 2, "feed", "pea_screenings").set("sorted", 2, "crop", "pea_screenings")
    demo.add("own_stages", stage="guinea_fowl", nutrient="amen_poultry", minimum="2900", unit="kcal/kg", per="kg")
    demo.add("own_stages", stage="guinea_fowl", nutrient="tannin", maximum="3", unit="g/kg", per="mcal")
    demo.add("own_stages", stage="guinea_fowl", nutrient="calcium", minimum="1", unit="g", per="day")
    demo.add("groups", group="guineas", stage="guinea_fowl", head="20", feed_per_head_per_day="80 g")
    demo.add("own_limits", stage="all", feed="pea_screenings", max_pct="10", reason="bitter")
    demo.add("actual", sheet="north guineas", made_on="2025-10-02", feed="North", mass="200")
    demo.add("actual", sheet="north guineas", made_on="2025-10-02", feed="bin:south", mass="100 lb")
    path = written(demo)
    assert check_book(path, library) == []
    book = read_book(path, library.units)
    assert book.groups[-1].feed_kg_per_head_per_day == pytest.approx(0.08)
    assert [row.unit for row in book.own_stages] == ["kcal/kg", "g/kg", "g"]
    assert book.actual[1].mass_kg == pytest.approx(45.359237)
