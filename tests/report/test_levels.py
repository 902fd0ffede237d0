"""More certainty and more home-grown feed on the page: each level is the ration that the command makes."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from rationlp.farm import Farm
from rationlp.rations.answer.ids import ration_id
from rationlp.rations.formulate import solve_rations
from rationlp.report.levels import CONFIDENCES_PCT, Asks, levels_of
from rationlp.report.page import page_of, report_of
from rationlp.report.questions import as_data

pytestmark = pytest.mark.slow

STAGE = "sw_gro_25_50"


@pytest.fixture(scope="module")
def report(demo_book, library):
    book = demo_book
    return report_of(Farm(book, library), [STAGE], ["north"], on=date(2025, 10, 1), frontiers=True)


@pytest.mark.slow
def test_a_level_is_the_ration_of_the_command(report):
    """The last digit too: the same program, asked with another setting."""
    (card,) = report.cards
    sure, grown = report.levels[card.first.id]
    assert [level.pct for level in sure.levels] == list(CONFIDENCES_PCT) and sure.asks is Asks.CONFIDENCE
    assert [level.id for level in (*sure.levels, *grown.levels) if level.today] == [card.first.id] * 2
    costs = [level.ration.cost_per_gcal for level in sure.levels]
    assert costs == sorted(costs)
    for level, made in (
        (sure.levels[-2], solve_rations(report.farm.with_setting("confidence_pct", 90), [STAGE], ["north"])),
        (grown.levels[-1], solve_rations(report.farm, [STAGE], ["north"], home_grown=grown.levels[-1].pct / 100)),
    ):
        assert level.ration == made[0].ration and level.id == ration_id(made[0].ration, report.farm.book)
    assert grown.levels[-1].ration.home_grown_share >= grown.levels[-1].pct / 100 - 1e-6
    assert grown.none_at_pct == grown.levels[-1].pct + 1


@pytest.mark.slow
def test_the_page_has_the_levels_as_a_table_and_for_its_script(report):
    page = page_of(report)
    (card,) = report.cards
    (data,) = as_data(report.farm, report.questions, report.levels)["rations"]
    for kind, told in zip(report.levels[card.first.id], data["levels"], strict=True):
        assert [stop["id"] for stop in told["stops"]] == [level.id for level in kind.levels]
        for level, stop in zip(kind.levels, told["stops"], strict=True):
            assert f'<td class="id">{level.id}</td>' in page
            mix = data["mixes"][stop["mix"]]
            assert sum(share for _, share in mix["parts"]) == pytest.approx(1, abs=1e-6)
            assert mix["feed"] == pytest.approx(level.ration.feed_kg_per_head_per_day, rel=1e-9)


def test_what_cannot_be_fed_has_no_levels(report, demo_book, library):
    offers = tuple(row for row in demo_book.supplements if row.offer in ("corn_bought", "limestone", "salt"))
    none = dict.fromkeys(("groups", "herd", "arrivals", "bins", "samples", "sorted", "assays", "sown", "lots"), ())
    farm = Farm(replace(demo_book, supplements=offers, **none), library)
    assert levels_of(farm, report_of(farm, [STAGE]).cards[0]) == ()


@pytest.mark.slow
def test_without_frontiers_the_page_says_how_to_have_them(demo_book, library):
    none = dict.fromkeys(("groups", "herd", "arrivals"), ())
    page = page_of(report_of(Farm(replace(demo_book, **none), library), ["sw_boar"], ["north"], on=date(2025, 10, 1)))
    assert "rationlp report --frontiers" in page and 'class="levels"' not in page
