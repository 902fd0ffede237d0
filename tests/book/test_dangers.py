"""What check says of holds and of poisonous seeds by name."""

from __future__ import annotations

import pytest

from rationlp.book import check_book, open_book

FARM = [{"setting": "name", "value": "dangers"}]
OFFER = [{"offer": "corn", "feed": "corn", "price": 200}]


def problems(write_book, library, **sheets):
    return check_book(write_book({"farm": FARM, "supplements": OFFER, **sheets}), library)


def bins(**given):
    return {
        "bins": [{"bin": "north", "mass": 40000, "moisture_pct": 12, "sale_price": 180, **given}],
        "samples": [{"sample": "n1", "bin": "north"}],
        "sorted": [{"sample": "n1", "crop": "triticale", "mass_g": 490}],
    }


@pytest.mark.parametrize(
    ("given", "severity", "words"),
    [
        ({"hold": "treated_seed"}, "warning", "on hold: treated_seed"),
        ({"hold": "mould", "hold_until": "2020-01-01"}, "warning", "nobody in released_by"),
        ({"hold": "mould", "hold_until": "2099-01-01", "released_by": "vet"}, "warning", "before 2099-01-01"),
        ({"hold": "fumigated", "hold_until": "2099-01-01"}, "warning", "on hold: fumigated"),
        ({"hold": "mould", "released_by": "no"}, "warning", "'no' in released_by names nobody"),
        ({"hold_until": "2099-01-01"}, "error", "without a hold"),
        ({"released_by": "vet"}, "warning", "on no hold"),
    ],
)
def test_a_hold_is_told_at_its_cell(write_book, library, given, severity, words):
    (problem,) = problems(write_book, library, **bins(**given))
    assert (problem.severity, problem.sheet) == (severity, "bins")
    assert words in problem.found and problem.cell.endswith("2") and problem.do


@pytest.mark.parametrize(
    "given",
    [{"hold": "fumigated", "hold_until": "2020-01-01"}, {"hold": "mould", "released_by": "the vet"}, {"hold": ""}],
)
def test_a_released_bin_is_no_problem(write_book, library, given):
    assert problems(write_book, library, **bins(**given)) == []


def test_an_unknown_hold_is_refused(write_book, library):
    (problem,) = problems(write_book, library, **bins(hold="treated seeds"))
    assert problem.severity == "error" and "treated_seed" in problem.do


@pytest.mark.parametrize(
    ("crop", "words", "do"),
    [
        ("castor", "ricin", "hold"),
        ("kidney_beans", "lectin", "raw"),
        ("jimson_weed", "atropine", "Clean"),
        ("crotalaria", "liver", "clean"),
        ("lathyrus", "ODAP", "nutritionist"),
        ("ergot", "alkaloids", "ergot_sclerotia"),
    ],
)
def test_a_poisonous_seed_is_told_for_what_it_is(write_book, library, crop, words, do):
    heaps = [{"sample": "n1", "crop": "triticale", "mass_g": 490}, {"sample": "n1", "crop": crop, "mass_g": 10}]
    (problem,) = problems(write_book, library, **{**bins(), "sorted": heaps})
    assert (problem.severity, problem.sheet, problem.cell) == ("warning", "sorted", "B3")
    assert words in problem.found and do in problem.do and "Did you mean" not in problem.do


@pytest.mark.parametrize("sheet", ["supplements", "own_feeds"])
def test_it_is_never_a_feed(write_book, library, sheet):
    rows = {
        "supplements": {"supplements": [*OFFER, {"offer": "beans", "feed": "castor beans", "price": 1}]},
        "own_feeds": {
            "own_feeds": [{"feed": "castor", "nutrient": "crude_protein", "value": 20, "unit": "%", "basis": "as_fed"}]
        },
    }[sheet]
    found = [p for p in problems(write_book, library, **rows) if p.severity == "error" and p.sheet == sheet]
    assert len(found) == 1 and "ricin" in found[0].found and "Did you mean" not in found[0].do


@pytest.mark.parametrize(
    ("crop", "speaks_of"),
    [
        ("treated corn", "treated or coloured seed"),
        ("moldy corn", "mould"),
        ("rat droppings", "rodents"),
        ("musty oats", "mould"),
        ("sprouted wheat", "sprouted grain"),
    ],
)
def test_a_heap_that_is_no_feed_is_no_near_crop(write_book, library, crop, speaks_of):
    heaps = [{"sample": "n1", "crop": "triticale", "mass_g": 490}, {"sample": "n1", "crop": crop, "mass_g": 10}]
    (problem,) = problems(write_book, library, **{**bins(), "sorted": heaps})
    assert (problem.severity, problem.cell) == ("error", "B3")
    assert speaks_of in problem.do and "foreign_matter" in problem.do and "Did you mean" not in problem.do


def test_an_offer_that_is_no_feed_is_no_near_feed(write_book, library):
    rows = [*OFFER, {"offer": "bargain", "feed": "treated corn", "price": 90}]
    (problem,) = problems(write_book, library, supplements=rows)
    assert "send it back" in problem.do and "Did you mean" not in problem.do


@pytest.mark.parametrize("written", ["yes", "Salmonella", "spoilt", "on hold"])
def test_a_hold_in_other_words_holds(write_book, library, written):
    (problem,) = problems(write_book, library, **bins(hold=written))
    assert (problem.severity, "on hold: do_not_feed" in problem.found) == ("warning", True)


def test_no_in_a_hold_is_asked_and_nothing_suggested(write_book, library):
    (problem,) = problems(write_book, library, **bins(hold="no"))
    assert problem.severity == "error" and "Leave it blank" in problem.do and "Did you mean" not in problem.do


@pytest.mark.parametrize(
    ("written", "meant"), [("Germany", "eu"), ("Ontario", "canada"), ("British Columbia", "canada")]
)
def test_a_country_or_province_goes_by_its_law(write_book, library, written, meant):
    farm = [row for row in FARM if row["setting"] != "jurisdiction"]
    path = write_book({"farm": [*farm, {"setting": "jurisdiction", "value": written}], "supplements": OFFER})
    book, _ = open_book(path, library)
    assert book.farm.jurisdiction == meant
