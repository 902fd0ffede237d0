"""What is asked for by name on the command line and in Python: found in the book and the library, or asked back."""

from __future__ import annotations

import pytest

from rationlp.book.lookup import bins_named, feeds_named, groups_named, offers_named, samples_named, stages_named
from rationlp.errors import RequestError
from rationlp.sheets.request import read_request


@pytest.mark.parametrize(
    ("asked", "stage"),
    [
        ("62 kg pig", "sw_gro_50_75"),
        ("Early grower", "sw_gro_25_50"),
        ("sw_gro_25-50", "sw_gro_25_50"),
        ("growers_late", "sw_gro_50_75"),
        ("hens", "hen_brown_110"),
        ("Layer, brown-egg", "hen_brown_110"),
    ],
)
def test_a_stage_by_weight_label_trade_word_or_group(demo_book, library, asked, stage):
    """`hens` and `growers_late` are groups of the demo: the farm's own word comes first."""
    assert stages_named([asked], demo_book, library) == [stage]


def test_a_word_for_all_the_sows_lists_them(demo_book, library):
    with pytest.raises(RequestError) as caught:
        stages_named(["sow", "tractor"], demo_book, library)
    sows, unknown = caught.value.problems
    assert sows.sheet == "stage" and "which fits 16" in sows.found
    ids = [row.stage for row in library.stages.values() if row.kind in ("gestation", "lactation")]
    assert all(id_ in sows.do for id_ in ids) and "sw_boar" not in sows.do
    assert unknown.do == "'rationlp library stages' lists them."


def test_bins_offers_groups_and_samples_by_name_and_label(demo_book):
    assert bins_named(["North", "South bin (hill field)"], demo_book) == ["north", "south"]
    assert offers_named(["Soybean meal 48 %, bulk", "SALT"], demo_book, "compare") == ["soy48_bulk", "salt"]
    assert offers_named(["north"], demo_book, "price", bins=True) == ["north"]
    assert groups_named(["Weaners"], demo_book) == ["weaners"]
    assert samples_named(["N1"], demo_book) == ["n1"]


@pytest.mark.parametrize(
    ("ask", "do"),
    [
        (lambda book: bins_named(["nrth"], book), "Did you mean north?"),
        (lambda book: offers_named(["soy49"], book, "sweep"), "Did you mean soy48"),
        (lambda book: groups_named(["growers early pigs"], book), "Did you mean growers_early?"),
        (lambda book: samples_named(["x"], book), "Check the spelling."),
    ],
)
def test_what_comes_near_is_told(demo_book, ask, do):
    with pytest.raises(RequestError) as caught:
        ask(demo_book)
    assert caught.value.problems[0].do.startswith(do)


def test_a_feed_nobody_quotes_goes_by_a_word_of_the_trade(demo_book, library):
    assert feeds_named(["linseed"], demo_book, library, "what_if") == ["flaxseed"]
    with pytest.raises(RequestError) as caught:
        feeds_named(["sunflower meal", "castor"], demo_book, library, "what_if")
    assert "which fits 3" in caught.value.problems[0].found
    assert "poisonous" in caught.value.problems[1].do


def test_a_day_is_read_as_the_book_writes_it(demo_book):
    from dataclasses import replace

    us = replace(demo_book, farm=replace(demo_book.farm, date_format="%m/%d/%Y"))
    assert read_request(us, on="10/05/2026").on.isoformat() == "2026-10-05"
    assert read_request(us, on="2026-10-05").on.isoformat() == "2026-10-05"
    with pytest.raises(RequestError):
        read_request(demo_book, on="10/05/2026")


def test_an_offer_by_what_the_trade_calls_its_feed(demo_book, library):
    """The demo has one offer of lysine and two of soybean meal 48."""
    assert offers_named(["lysine hydrochloride"], demo_book, "price", library=library) == ["lysine"]
    with pytest.raises(RequestError, match=r"Which one\? soy48_bulk or soy48_bags"):
        offers_named(["SBM 48"], demo_book, "price", library=library)
