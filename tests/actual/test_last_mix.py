"""The last mix of the farm's record and the first sheet of the day: what of it must not reach the next animals."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest

from rationlp.actual.numbers import keep_printed, numbered
from rationlp.farm import Farm
from rationlp.ledger.kept import last_in_mixer, record_for
from rationlp.ledger.made_mix import Origin
from rationlp.ledger.shape import Batch, batch_entry
from rationlp.reasons import Verdict
from rationlp.sheets.pack import make_pack
from rationlp.sheets.request import SheetRequest

MONDAY = date(2025, 11, 3)
TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture(scope="module")
def packs(demo_book, library):
    """A pack of one stage for each that is asked for."""
    farm, made = Farm(demo_book, library), {}

    def of(stage: str, day: date):
        if (stage, day) not in made:
            made[stage, day] = make_pack(farm, SheetRequest(on=day), [stage], ["north"])
        return made[stage, day]

    return of


@pytest.fixture
def farm(demo_book, library, tmp_path):
    return Farm(replace(demo_book, path=tmp_path / "farm.xlsx"), library)


def weigh(farm, pack, day: date, **other) -> None:
    """Enter the first batch of a sheet as the crew weighed it."""
    (sheet,) = numbered(pack, farm).sheets
    keep_printed(replace(pack, sheets=(sheet,)), farm.book)
    (printed,) = [mix for mix in last_in_mixer(farm.book, day) if mix.id == sheet.id]
    parts = tuple(replace(part, kg=500 * part.share, **other) for part in printed.parts)
    made = replace(printed, number=sheet.first_batch, origin=Origin.WEIGHED, parts=parts)
    record_for(farm.book).add([batch_entry(Batch(made, Verdict()))])


def told(farm, pack) -> str:
    (sheet,) = numbered(pack, farm).sheets
    return " ".join(sheet.carry_over)


@pytest.mark.slow
def test_layer_feed_of_yesterday_is_told_on_the_first_sheet_of_pigs(farm, packs):
    """3.25 % calcium gave pullets kidney stones, 1 % none (ca_urolith1985): told within a day, not over night."""
    assert "NOT STRAIGHT AFTER" not in told(farm, packs("sw_gro_25_50", TUESDAY))
    weigh(farm, packs("hen_brown_110", MONDAY), MONDAY)
    words = told(farm, packs("sw_gro_25_50", TUESDAY))
    assert words.startswith("NOT STRAIGHT AFTER Layer, brown-egg") and "of 2025-11-03, batch" in words
    assert "first run 91 kg of ground grain" in words and "may have held it last" in words
    assert "NOT STRAIGHT AFTER" not in told(farm, packs("hen_brown_110", TUESDAY))
    weigh(farm, packs("sw_gro_25_50", TUESDAY), TUESDAY)
    assert "NOT STRAIGHT AFTER" not in told(farm, packs("sw_fin_100_135", TUESDAY + timedelta(days=1)))


@pytest.mark.slow
def test_a_sheet_printed_again_counts_though_its_weights_were_mixed_before(farm, packs):
    """The layers' mix of Monday, printed again on Wednesday under the id of the same weights, counted as long gone."""
    wednesday = TUESDAY + timedelta(days=1)
    weigh(farm, packs("hen_brown_110", MONDAY), MONDAY)
    weigh(farm, packs("sw_gro_25_50", TUESDAY), TUESDAY)
    again = numbered(packs("hen_brown_110", MONDAY), farm)
    keep_printed(replace(again, sheets=tuple(replace(sheet, made_on=wednesday) for sheet in again.sheets)), farm.book)
    assert "NOT STRAIGHT AFTER Layer" in told(farm, packs("sw_gro_25_50", wednesday))


@pytest.mark.slow
def test_a_sheet_that_was_printed_and_not_entered_yet_counts_too(farm, packs):
    keep_printed(numbered(packs("hen_brown_110", MONDAY), farm), farm.book)
    assert "NOT STRAIGHT AFTER Layer" in told(farm, packs("sw_gro_25_50", TUESDAY))
    assert last_in_mixer(farm.book, MONDAY - timedelta(days=1)) == []


def test_a_drug_of_yesterday_is_told_by_the_label_it_had(farm, packs):
    """osu_b869: no feed for market hogs straight after a medicated one; today's premix of that name holds no drug."""
    weigh(farm, packs("sw_gro_25_50", MONDAY), MONDAY, label="Swine premix, medicated with tylosin")
    assert "NOT STRAIGHT AFTER" in told(farm, packs("sw_fin_100_135", TUESDAY))


def test_layer_feed_of_a_feed_nobody_knows_any_more_counts_as_rich_in_calcium(farm, packs):
    weigh(farm, packs("hen_brown_110", MONDAY), MONDAY, offer="gone", feed="gone")
    assert "NOT STRAIGHT AFTER Layer" in told(farm, packs("sw_gro_25_50", TUESDAY))


@pytest.mark.slow
def test_what_the_sheet_says_already_is_not_said_twice(farm, demo_book, library, packs):
    weigh(farm, packs("hen_brown_110", MONDAY), MONDAY)
    pack = make_pack(Farm(demo_book, library), SheetRequest(on=TUESDAY), ["hen_brown_110", "sw_gro_25_50"], ["north"])
    for sheet in numbered(pack, farm).sheets:
        assert " ".join(sheet.carry_over).count("NOT STRAIGHT AFTER") == (sheet.stage == "sw_gro_25_50")
