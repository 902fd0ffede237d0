"""Toxins by the names on laboratory sheets, and results of bought lots."""

from __future__ import annotations

import pytest

from rationlp.book.checks.check import check_book, open_book
from rationlp.library.names.known import nutrient_finder


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("Vomitoxin", "deoxynivalenol"),
        ("DON", "deoxynivalenol"),
        ("Deoxynivalenol (DON)", "deoxynivalenol"),
        ("Vomitoxin (DON)", "deoxynivalenol"),
        ("Aflatoxin, total", "aflatoxin"),
        ("Total Aflatoxins", "aflatoxin"),
        ("Aflatoxin B1", "aflatoxin_b1"),
        ("Afla", "aflatoxin"),
        ("T-2", "t2_toxin"),
        ("T-2 Toxin", "t2_toxin"),
        ("HT-2", "ht2_toxin"),
        ("T-2 + HT-2", "t2_ht2_toxin"),
        ("T2/HT2", "t2_ht2_toxin"),
        ("OTA", "ochratoxin_a"),
        ("Ochratoxin", "ochratoxin_a"),
        ("ZEA", "zearalenone"),
        ("Zearalenone (ZEN)", "zearalenone"),
        ("Fumonisins B1+B2+B3", "fumonisin"),
        ("FB1", "fumonisin_b1"),
        ("Ergot alkaloids, total", "ergot_alkaloids"),
        ("protein", ""),
        ("donkey", ""),
        ("my_own_index", ""),
    ],
)
def test_names_of_the_trade(library, written, meant):
    found = [name for name in nutrient_finder(library).meant(written) if library.nutrients[name].kind == "toxin"]
    assert found == ([meant] if meant else [])


def test_every_name_of_a_contaminant_is_of_that_one_alone(library):
    finder = nutrient_finder(library)
    for row in library.nutrients.values():
        if row.kind == "toxin":
            assert len(finder.names[row.nutrient].words) > 1
            assert {finder.meant(word) for word in finder.names[row.nutrient].words} == {(row.nutrient,)}


@pytest.mark.parametrize("sheet", ["assays", "own_feeds"])
@pytest.mark.parametrize(
    ("name", "value", "unit", "stored"), [("Vomitoxin", 750, "ppb", 0.75), ("DON", 7.5, "mg/kg", 7.5)]
)
def test_a_trade_name_is_read_as_the_contaminant(demo, written, library, sheet, name, value, unit, stored):
    row = {"nutrient": name, "value": value, "unit": unit, "basis": "as_fed"}
    demo.add(sheet, **row, **({"sample": "n1"} if sheet == "assays" else {"feed": "corn"}))
    last = getattr(open_book(written(demo), library)[0], sheet)[-1]
    assert (last.nutrient, last.unit) == ("deoxynivalenol", "mg/kg")
    assert last.value == pytest.approx(stored)


@pytest.mark.parametrize(("unit", "meant"), [("%", "ergot_sclerotia"), ("g/kg", "ergot_sclerotia"), ("mg/kg", "")])
def test_ergot_is_asked_where_it_can_mean_two_things(demo, written, library, brief, unit, meant):
    demo.add("assays", sample="n1", nutrient="ergot", value=0.02, unit=unit, basis="as_fed")
    path = written(demo)
    if meant:
        assert open_book(path, library)[0].assays[-1].nutrient == meant
    else:
        (problem,) = check_book(path, library)
        assert problem.cell == "B8" and "ergot_alkaloids" in problem.expected


@pytest.mark.parametrize(
    "name", ["my_toxin", "nivalenol", "T-2 tetraol", "mycotoxins", "DON screen", "dioxins", "PCB", "nitrite"]
)
def test_a_toxin_without_a_limit_is_never_carried_along_unseen(demo, written, library, name):
    demo.add("own_feeds", feed="corn", nutrient=name, value=9, unit="mg/kg", basis="as_fed")
    (problem,) = check_book(written(demo), library)
    assert (problem.severity, problem.sheet, problem.cell) == ("error", "own_feeds", "B4")
    assert "no limit is known" in problem.found and "deoxynivalenol" in problem.expected


def test_a_toxin_that_the_farm_limits_itself_may_be_used(demo, written, library):
    demo.add("own_feeds", feed="corn", nutrient="nivalenol", value=9, unit="mg/kg", basis="as_fed")
    demo.add("own_stages", stage="sw_gro_25_50", nutrient="nivalenol", maximum=1, unit="mg/kg", per="kg")
    assert [p for p in check_book(written(demo), library) if p.severity == "error"] == []


@pytest.mark.parametrize("limited", [False, True])
def test_a_figure_of_which_nothing_speaks_is_asked_about(demo, written, library, limited):
    """It would be carried along and change nothing."""
    demo.add("own_feeds", feed="corn", nutrient="my_index", value=9, unit="mg/kg", basis="as_fed")
    if limited:
        demo.add("own_stages", stage="sw_gro_25_50", nutrient="my_index", maximum=1, unit="mg/kg", per="kg")
    told = [(problem.severity, problem.cell) for problem in check_book(written(demo), library)]
    assert told == ([] if limited else [("warning", "B4")])


# Lots -----------------------------------------------------------------------------------------------------------

DON = {"nutrient": "deoxynivalenol", "value": 1.2, "unit": "mg/kg", "basis": "as_fed"}


@pytest.mark.slow
def test_a_result_of_a_lot_is_read(demo, written, library):
    demo.set("lots", 3, "use_by", "2026-06-30")
    book = open_book(written(demo.add("assays", lot="Maize_1", **DON)), library)[0]
    assert (book.assays[-1].sample, book.assays[-1].lot) == ("", "maize_1")
    first = book.lots[0]
    assert (first.lot, first.offer, first.mass_kg, first.delivered_on.isoformat()) == (
        "maize_1",
        "corn_bought",
        12_000.0,
        "2025-09-16",
    )
    assert book.lots[1].use_by.isoformat() == "2026-06-30"


@pytest.mark.parametrize(
    ("cells", "place", "found"),
    [
        ({"sample": "n1", "lot": "maize_1"}, "assays!H8", "the sample 'n1' beside the lot 'maize_1'"),
        ({}, "assays!A8", "neither a sample nor a lot"),
        ({"lot": "maize_9"}, "assays!H8", "the lot 'maize_9'"),
        ({"sample": "n9"}, "assays!A8", "the sample 'n9'"),
    ],
)
def test_a_result_is_of_a_sample_or_of_a_lot(demo, written, library, cells, place, found):
    (problem,) = check_book(written(demo.add("assays", **cells, **DON)), library)
    assert (problem.severity, f"{problem.sheet}!{problem.cell}") == ("error", place)
    assert problem.found == found


def test_a_result_of_a_lot_without_its_offer_is_not_lost(demo, written, library, brief):
    demo.set("lots", 2, "offer", "no_longer_quoted").add("assays", lot="maize_1", **DON)
    assert brief(check_book(written(demo), library)) == ["error lots!B2"]


@pytest.mark.parametrize(
    ("column", "value", "problem"),
    [
        ("offer", "corn_bougth", "error lots!B2"),
        ("offer", "no_longer_quoted", "warning lots!B2"),
        ("offer", "premix_pigs_of_last_year", "warning lots!B2"),
        ("offer", "", "error lots!B2"),
        ("lot", "premix_1", "error lots!A3"),
        ("mass", "-1", "error lots!D2"),
        ("delivered_on", "2099-01-01", "warning lots!C2"),
        ("use_by", "2025-09-01", "warning lots!F2"),
    ],
)
def test_a_slip_in_a_lot_has_its_cell(demo, written, library, brief, column, value, problem):
    assert brief(check_book(written(demo.set("lots", 2, column, value)), library)) == [problem]
