"""Every stage from eight bins of unlike crops against the ranges of textbooks.

The bins and prices are invented. `data/textbook_ranges.csv` has the ranges of each kind of stage, energy in kcal/kg and
the rest in percent as fed (lysine digestible, phosphorus total): those of the tables it names, widened to the leaner
feeds that the trials behind the library's energy floors allow, for a nutrient follows the energy of the mix. A value
outside needs a reason in `REASONS`, and the long test says when a reason is no longer needed.
"""

from __future__ import annotations

import csv
from dataclasses import replace
from pathlib import Path

import pytest

from rationlp.book.reading.read import read_book
from rationlp.book.records import Book
from rationlp.farm import Farm
from rationlp.library import Library, load_library
from rationlp.library.records import Stage
from rationlp.rations.answer.model import Ration
from rationlp.rations.formulate import formulate

BINS = {
    "corn_peas": {"corn": 70, "peas_field": 30},
    "barley_peas": {"barley_hulled": 65, "peas_field": 35},
    "wheat_lentils": {"wheat_hard": 75, "lentils": 25},
    "triticale_faba": {
        "triticale": 55,
        "oats_naked": 22,
        "faba_low_tannin": 13,
        "chickpea_kabuli": 8,
        "camelina_seed": 2,
    },
    "rye_vetch": {"rye": 60, "oats_hulled": 30, "vetch_common": 10},
    "sorghum_chickpea": {"sorghum_low_tannin": 80, "chickpea_desi": 20},
    "oats_flax": {"oats_hulled": 70, "barley_hulled": 20, "flaxseed": 10},
    "corn_raw_soy": {"corn": 82, "soybeans_raw": 18},
}
LITTLE_GRAIN = {
    "rye_vetch": "vetch is barred for sows, piglets and hens that lay, and capped for others",
    "corn_raw_soy": "raw soybeans are barred for most animals",
    "oats_flax": "at these prices the energy of oats costs more than that of bought corn",
    "sw_nur_5_7": "raw legumes are capped at 10 % of the feed of newly weaned pigs, chickpeas lower",
    "broiler_fast_24_42d": "barley is too poor in energy for 2976 kcal/kg",
}
"""By bin and stage: why little or nothing home-grown may be in the mix."""


def textbook_ranges() -> dict[str, dict[str, tuple[float, float]]]:
    """Low and high of each measure by kind of stage."""
    found: dict[str, dict[str, tuple[float, float]]] = {}
    with (Path(__file__).parent / "data" / "textbook_ranges.csv").open(encoding="utf-8", newline="") as lines:
        for row in csv.DictReader(lines):
            assert row["source"]
            found.setdefault(row["kind"], {})[row["measure"]] = (float(row["low"]), float(row["high"]))
    return found


RANGES = textbook_ranges()
REASONS: dict[tuple[str, str], str] = {}
"""By stage and measure: why a ration of it lies outside."""
SAMPLE = (
    ("sw_nur_11_25", "wheat_lentils"),
    ("sw_gro_lean_25_50", "barley_peas"),
    ("sw_gest_p2_early", "triticale_faba"),
    ("hen_brown_late_66_80", "corn_peas"),
    ("broiler_fast_10_24d", "sorghum_chickpea"),
    ("turkey_tom_8_12", "oats_flax"),
)


@pytest.fixture(scope="module")
def eight_bins(tmp_path_factory: pytest.TempPathFactory, demo_book: Book, library: Library) -> Farm:
    """The offers of the demo, whey, and the eight bins."""
    folder = tmp_path_factory.mktemp("eight_bins")
    sheets = {
        "farm": [("setting", "value"), ("name", "Eight bins (invented)")],
        "bins": [("bin", "mass", "sale_price", "moisture_pct"), *((b, "50 t", 182, 12.5) for b in BINS)],
        "samples": [("sample", "bin", "taken_on", "sorted_mass_g"), *((b, b, "2025-09-01", 500) for b in BINS)],
        "sorted": [("sample", "crop", "mass_g"), *((b, c, 5 * p) for b, mix in BINS.items() for c, p in mix.items())],
        "supplements": [("offer", "feed", "price"), ("whey", "dried_whey", 1150)],
    }
    for name, rows in sheets.items():
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as lines:
            csv.writer(lines).writerows(rows)
    book = read_book(folder, library.units)
    return Farm(replace(book, supplements=(*demo_book.supplements, *book.supplements)), library)


def outside(ration: Ration, stage: Stage) -> dict[str, float | None]:
    """What of the ration lies outside the range of its class, and by stage has no reason."""
    swine = stage.species == "swine"
    held = ration.analysis
    measures = {
        "energy": ration.energy_kcal_kg,
        "protein": held["crude_protein"],
        "lysine": held["sid_lysine_pig" if swine else "sid_lysine_poultry"],
        "calcium": held["calcium"],
        "phosphorus": held["phosphorus"],
        "sodium": held["sodium"],
        "fibre": held["crude_fibre"],
        "fat": held["ether_extract"],
    }
    ranges = RANGES[stage.kind]
    return {
        name: value for name, value in measures.items() if not ranges[name][0] - 1e-6 <= value <= ranges[name][1] + 1e-6
    }


def check(farm: Farm, stage: str, bin_name: str) -> set[tuple[str, str]]:
    """The reasons that were needed. Fails for a value outside without one."""
    (ration,) = formulate(farm, [stage], [bin_name])
    assert ration.mix, ration.verdict.headline
    found = {(stage, name) for name in outside(ration, farm.library.stages[stage])}
    assert found <= set(REASONS), (stage, bin_name, outside(ration, farm.library.stages[stage]))
    if not {stage, bin_name} & set(LITTLE_GRAIN):
        assert ration.home_grown_share > 0.05, (stage, bin_name)
    return found


@pytest.mark.parametrize(("stage", "bin_name"), SAMPLE)
def test_a_ration_lies_within_the_textbook_ranges(eight_bins: Farm, stage: str, bin_name: str) -> None:
    check(eight_bins, stage, bin_name)


@pytest.mark.long
@pytest.mark.parametrize("stage", load_library().stages)
def test_every_stage_from_eight_bins_lies_within_the_textbook_ranges(eight_bins: Farm, stage: str) -> None:
    used = set().union(*(check(eight_bins, stage, bin_name) for bin_name in BINS))
    assert used == {key for key in REASONS if key[0] == stage}, "a reason that no ration needs any more"
