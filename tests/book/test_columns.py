"""The names of sheets and columns are a promise to books written today: a second copy, typed from the specification."""

from __future__ import annotations

import dataclasses

import pytest

from rationlp.book.columns import SHEETS
from rationlp.book.reading.rows import FARM_FIELDS
from rationlp.book.records import Settings
from rationlp.book.settings import SETTINGS

PROMISED = {
    "farm": "setting value note",
    "bins": "bin label mass diameter wall_depth peak_height test_weight sale_price per_mass moisture_pct filled_on "
    "note length width hold hold_until released_by opened_on",
    "samples": "sample bin taken_on probes sorted_mass_g note lab_portion_g",
    "sorted": "sample crop mass_g",
    "assays": "sample nutrient value unit basis method lab_sd lot",
    "lots": "lot offer delivered_on mass supplier_lot use_by note",
    "supplements": "offer feed label price per_mass package_mass stock_mass min_pct max_pct home_grown organic "
    "quoted_on supplier price_low price_high freight protein_pct from until lead_days",
    "own_feeds": "feed nutrient value unit basis sd source",
    "own_stages": "stage nutrient minimum maximum unit per source approved_by approved_on",
    "own_limits": "stage feed min_pct max_pct reason approved_by approved_on",
    "groups": "group stage head from to feed_per_head_per_day housing",
    "sown": "bin crop mass",
    "herd": "line step stage days losses_pct feed_per_head_per_day then brings per_head housing",
    "arrivals": "line step on every_days times head",
    "crops": "crop seed_price per_mass seed_rate yield yield_low yield_high beside_others min_share_pct max_share_pct "
    "cleaning_cost",
    "actual": "sheet made_on batch feed lot mass scale_reads",
    "signed": "ration signed_by licence signed_on valid_until note",
}
PROMISED_SETTINGS = (
    "name season units currency certification jurisdiction confidence_pct confidence_of requirement_margin_pct "
    "objective batch_mass mixer_capacity scale_step hand_scale_step hand_weigh_below hand_least date_format "
    "enzyme varieties plan_from next_harvest_on most_mixes mix_change_cost mixing_cost selling_cost "
    "reserve_days bins_in_turn whole_packages"
)


def test_sheets_and_columns_are_the_promised_ones():
    assert {name: [column.name for column in sheet.columns] for name, sheet in SHEETS.items()} == {
        name: columns.split() for name, columns in PROMISED.items()
    }
    assert [setting.name for setting in SETTINGS] == PROMISED_SETTINGS.split()


def test_choices_are_the_promised_ones():
    choices = {setting.name: setting.choices for setting in SETTINGS if setting.choices}
    assert choices == {
        "units": ("metric", "us"),
        "certification": ("none", "us_organic", "eu_organic"),
        "jurisdiction": ("us", "eu", "canada"),
        "confidence_of": ("each", "all"),
        "objective": ("per_tonne", "per_energy"),
        "enzyme": ("no", "yes"),
        "bins_in_turn": ("no", "yes"),
        "whole_packages": ("no", "yes"),
    }
    assert (
        SHEETS["assays"].column("basis").choices
        == SHEETS["own_feeds"].column("basis").choices
        == ("as_fed", "dry_matter")
    )
    assert SHEETS["own_stages"].column("per").choices == ("kg", "mcal", "day")


def test_every_setting_has_its_field():
    fields = {field.name for field in dataclasses.fields(Settings)}
    assert {FARM_FIELDS.get(setting.name, setting.name) for setting in SETTINGS} == fields


@pytest.mark.parametrize("sheet", SHEETS.values(), ids=SHEETS)
def test_every_column_is_explained_and_what_may_not_repeat_must_be_filled_in(sheet):
    for column in sheet.columns:
        assert len(column.note) > 10
        assert column.note.endswith((".", "..."))
    for name in sheet.unique:
        assert sheet.column(name).required
