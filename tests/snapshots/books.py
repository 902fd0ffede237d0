"""The farm books of the snapshots: the demo book, and books made of it that take the roads the demo does not.

    python tests/snapshots/books.py DIR

writes each as a folder of CSV files. The same books every time: nothing here is drawn or depends on the day.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path

DEMO = Path(__file__).parents[2] / "demo" / "stillwater_bend"
LB_PER_KG = 2.2046226218
TONNE_IN_SHORT_TONS = 1.1023113109
BAG_LB = 50
FT_PER_M = 3.280839895
LB_PER_BU_OF_KG_M3 = 0.0776889

Rows = list[dict[str, str]]
Sheets = dict[str, Rows]
Change = Callable[[Sheets], None]

DRAWN_DOWN = {
    "triticale": 300.0,
    "oats_naked": 113.8,
    "faba_low_tannin": 25.0,
    "chickpea_desi": 40.0,
    "camelina_seed": 15.0,
    "foreign_matter": 7.6,
}
"""Grams in a later hand sort of the north bin: fewer beans and chickpeas than in the first."""

GROWER_BATCH = {
    "north": 454.0,
    "soy48_bulk": 31.0,
    "limestone": 5.8,
    "monocal": 2.91,
    "premix_pigs": 2.0,
    "lysine": 1.79,
    "salt": 1.07,
    "threonine": 0.76,
    "methionine": 0.56,
    "tryptophan": 0.06,
    "valine": 0.05,
}
"""Kilograms in a batch for the early growers that is mixed as the sheet asks."""

HEN_BATCH = {
    "north": 372.0,
    "soy48_bulk": 39.0,
    "corn_bought": 38.0,
    "limestone": 36.0,
    "canola_oil": 6.81,
    "premix_layers": 5.0,
    "dical": 2.88,
    "methionine": 0.31,
}
"""Kilograms in a batch for the hens."""

ORGANIC = ("alfalfa", "bran", "corn_bought", "peas_neighbour", "soy_pressed", "canola_oil")
FEW_OFFERS = ("soy48_bulk", "corn_bought", "limestone", "salt")

FIXED_MIX = {
    "corn_bought": 62.0,
    "soy48_bulk": 25.0,
    "bran": 8.0,
    "limestone": 1.3,
    "monocal": 1.2,
    "salt": 0.4,
    "lysine": 0.2,
    "premix_pigs": 0.4,
    "alfalfa": 1.5,
}
"""Percent of each offer of a mix in which nothing is left to choose."""


# Small changes ---------------------------------------------------------------------------------


def rows(columns: str, *lines: tuple[object, ...]) -> Rows:
    """Rows of a sheet from the names of the columns and what stands below them."""
    return [dict(zip(columns.split(), map(str, line), strict=True)) for line in lines]


def setting(sheets: Sheets, **values: object) -> None:
    """Other values for settings of the farm."""
    for row in sheets["farm"]:
        if row["setting"] in values:
            row["value"] = str(values.pop(row["setting"]))
    sheets["farm"] += [{"setting": name, "value": str(value)} for name, value in values.items()]


def offer(sheets: Sheets, name: str, **cells: object) -> None:
    """Other cells for an offer."""
    (row,) = (row for row in sheets["supplements"] if row["offer"] == name)
    row |= {column: str(value) for column, value in cells.items()}


def keep_offers(sheets: Sheets, names: Iterable[str]) -> None:
    """Only these offers."""
    sheets["supplements"] = [row for row in sheets["supplements"] if row["offer"] in set(names)]


def keep_stages(sheets: Sheets, *stages: str) -> None:
    """Only the groups of these stages."""
    sheets["groups"] = [row for row in sheets["groups"] if row["stage"] in stages]


def assay(sheets: Sheets, sample: str, nutrient: str, value: float, unit: str, basis: str = "as_fed") -> None:
    """One more result of the laboratory."""
    sheets["assays"] += rows("sample nutrient value unit basis", (sample, nutrient, value, unit, basis))


def second_sample(sheets: Sheets, protein: float = 12.9) -> None:
    """A later sample of the north bin, n2, in which the grain has parted."""
    sheets["samples"] += rows("sample bin taken_on probes", ("n2", "north", "2025-11-20", 8))
    sheets["sorted"] += rows("sample crop mass_g", *(("n2", crop, mass) for crop, mass in DRAWN_DOWN.items()))
    assay(sheets, "n2", "crude_protein", protein, "%")


def weighed(sheets: Sheets, sheet: str, day: str, masses: Mapping[str, float]) -> None:
    """A batch as the crew weighed it."""
    sheets["actual"] += rows("sheet made_on feed mass", *((sheet, day, feed, kg) for feed, kg in masses.items()))


def without_bins(sheets: Sheets) -> None:
    """No bin, and nothing that speaks of one."""
    for sheet in ("bins", "samples", "sorted", "assays", "sown", "actual"):
        sheets[sheet] = []


# The books -------------------------------------------------------------------------------------


def us_units(sheets: Sheets) -> None:
    """Pounds, short tons, feet and bushels; American dates; figures of a feed per pound; batches that were weighed."""
    second_sample(sheets)
    weighed(sheets, "sw_gro_25_50 north", "2025-11-20", GROWER_BATCH)
    for batch in sheets["actual"]:
        batch["mass"] = f"{float(batch['mass']) * LB_PER_KG:.2f}"
    for grain in sheets["bins"]:
        grain["sale_price"] = _us_price(grain["sale_price"])
        for column, factor in (
            ("diameter", FT_PER_M),
            ("wall_depth", FT_PER_M),
            ("peak_height", FT_PER_M),
            ("test_weight", LB_PER_BU_OF_KG_M3),
        ):
            if grain[column]:
                grain[column] = f"{float(grain[column]) * factor:.2f}"
    sheets["bins"][0]["mass"] = "92600"
    for row in sheets["supplements"]:
        row["stock_mass"] = row["stock_mass"].replace(" t", " ton")
        kilograms = row["per_mass"].removesuffix(" kg")
        for column in ("price", "price_low", "price_high"):
            if kilograms and row[column]:
                row[column] = f"{float(row[column]) / (float(kilograms) * LB_PER_KG) * BAG_LB:.2f}"
            else:
                row[column] = _us_price(row[column])
        if kilograms:
            row["per_mass"] = row["package_mass"] = f"{BAG_LB} lb"
    for feed in ("corn", "wheat_bran"):
        sheets["own_feeds"] += rows(
            "feed nutrient value unit basis source",
            (feed, "dry_matter", 88.5, "%", "as_fed", "invented"),
            (feed, "gross_energy", 1790, "kcal/lb", "as_fed", "invented"),
        )
    sheets["groups"] = [row for row in sheets["groups"] if row["group"] != "pullets_old"]
    for row in sheets["groups"]:
        if row["group"] in ("sows_early", "hens"):
            row["feed_per_head_per_day"] = {"sows_early": "5.2", "hens": "0.26 lb"}[row["group"]]
    for sheet, columns in _DATES.items():
        for row in sheets[sheet]:
            row |= {column: _us_date(row.get(column, "")) for column in columns}
    setting(
        sheets,
        units="us",
        batch_mass=1000,
        mixer_capacity="0.6 ton",
        scale_step=1,
        hand_scale_step=0.02,
        hand_weigh_below=20,
        date_format="MM/DD/YYYY",
    )


_DATES = {
    "bins": ("filled_on",),
    "samples": ("taken_on",),
    "supplements": ("quoted_on",),
    "groups": ("from", "to"),
    "actual": ("made_on",),
}


def _us_price(metric: str) -> str:
    return f"{float(metric) / TONNE_IN_SHORT_TONS:.2f}" if metric else ""


def _us_date(iso: str) -> str:
    if not iso:
        return ""
    year, month, day = iso.split("-")
    return f"{month}/{day}/{year}"


def sure(sheets: Sheets) -> None:
    """Requirements met nine times in ten, at the least cost of a tonne; a second sample."""
    second_sample(sheets)
    setting(sheets, confidence_pct=90, objective="per_tonne")


def margin(sheets: Sheets) -> None:
    """A margin on every requirement, the least cost of energy, Canadian limits and money, freight and stated protein;
    toxins that the limits of Canada know."""
    assay(sheets, "n1", "deoxynivalenol", 700, "ug/kg")
    assay(sheets, "s1", "ochratoxin_a", 0.4, "mg/kg", "dry_matter")
    offer(sheets, "soy48_bulk", freight=14, protein_pct=46.2)
    offer(sheets, "canola_meal", freight=9.5, protein_pct=36.4)
    setting(sheets, requirement_margin_pct=5, objective="per_energy", jurisdiction="canada", currency="CAD")


def organic_eu(sheets: Sheets) -> None:
    """An organic farm in the EU: no amino acids from a bag, little that is not organic, other limits on toxins."""
    for row in sheets["supplements"]:
        row["organic"] = "yes" if row["offer"] in ORGANIC else "no" if row["organic"] else ""
    offer(sheets, "peas_neighbour", home_grown="yes")
    assay(sheets, "n1", "zearalenone", 0.12, "mg/kg")
    setting(sheets, certification="eu_organic", jurisdiction="eu", currency="EUR", date_format="DD.MM.YYYY")


def organic_us(sheets: Sheets) -> None:
    """An organic farm in the US whose south bin is over the limit of moisture."""
    for row in sheets["supplements"]:
        row["organic"] = "yes" if row["offer"] in (*ORGANIC, "fish_meal") else row["organic"]
    sheets["bins"][1]["moisture_pct"] = "16.4"
    keep_stages(sheets, "sw_gro_25_50", "sw_fin_100_135", "hen_brown_110", "hen_peak", "broiler_0_3", "turkey_8_12")
    setting(sheets, certification="us_organic")


def no_bins(sheets: Sheets) -> None:
    """Rations of the offers alone, one of them grown on the farm."""
    without_bins(sheets)
    offer(sheets, "peas_neighbour", home_grown="yes", max_pct=30)
    weighed(
        sheets,
        "sw_gro_25_50",
        "2025-11-20",
        {"corn_bought": 380.0, "soy48_bulk": 104.0, "limestone": 7.0, "premix_pigs": 2.0, "salt": 2.0, "monocal": 5.0},
    )


def fixed_mix(sheets: Sheets) -> None:
    """Every offer fixed: nothing to choose, the answer is what that mix gives."""
    without_bins(sheets)
    keep_offers(sheets, FIXED_MIX)
    for name, percent in FIXED_MIX.items():
        offer(sheets, name, min_pct=percent, max_pct=percent)
    keep_stages(sheets, "sw_gro_25_50", "sw_gro_50_75", "sw_fin_75_100", "hen_brown_110")


def own_figures(sheets: Sheets) -> None:
    """Two stages (one asks for what most feeds do not state), a feed and a nutrient of the farm's own; own figures in
    place of the library's, on both bases."""
    sheets["own_stages"] += rows(
        "stage nutrient minimum maximum unit per source",
        ("goose_grower", "amen_poultry", 2500, 3100, "kcal/kg", "kg", "invented"),
        ("goose_grower", "crude_protein", 14.5, "", "%", "kg", "invented"),
        ("goose_grower", "lysine", 0.24, "", "%", "mcal", "invented"),
        ("goose_grower", "methionine_cystine", 1.0, "", "g", "day", "invented"),
        ("goose_grower", "calcium", 0.7, 0.95, "%", "kg", "invented"),
        ("goose_grower", "phosphorus", 5.0, "", "g/kg", "kg", "invented"),
        ("goose_grower", "sodium", 0.14, 0.22, "%", "kg", "invented"),
        ("goose_grower", "crude_fibre", "", 9, "%", "kg", "invented"),
        ("goose_finisher", "amen_poultry", 2600, "", "kcal/kg", "kg", "invented"),
        ("goose_finisher", "bitterness", "", 40, "per_kg", "kg", "invented"),
        ("goose_finisher", "crude_protein", 13.0, "", "%", "kg", "invented"),
        ("sw_gro_25_50", "sid_lysine_pig", 0.9, "", "%", "kg", "invented"),
        ("sw_gro_25_50", "crude_fibre", "", 5.5, "%", "kg", "invented"),
        ("hen_brown_110", "calcium", 3.6, 4.2, "%", "kg", "Measured on this flock (invented)"),
    )
    sheets["own_feeds"] += rows(
        "feed nutrient value unit basis sd source",
        ("acorns", "dry_matter", 86, "%", "as_fed", "", "invented"),
        ("acorns", "crude_protein", 70, "g/kg", "dry_matter", 6, "invented"),
        ("acorns", "crude_fibre", 13.5, "%", "dry_matter", 1.2, "invented"),
        ("acorns", "amen_poultry", 11.1, "MJ/kg", "as_fed", 0.4, "invented"),
        ("acorns", "lysine", 0.28, "%", "as_fed", "", "invented"),
        ("acorns", "methionine_cystine", 0.21, "%", "as_fed", "", "invented"),
        ("acorns", "calcium", 0.09, "%", "as_fed", "", "invented"),
        ("acorns", "phosphorus", 0.11, "%", "as_fed", "", "invented"),
        ("acorns", "sodium", 100, "mg/kg", "as_fed", "", "invented"),
        ("acorns", "bitterness", 300, "per_kg", "as_fed", 30, "invented"),
        ("corn", "bitterness", 1, "per_kg", "as_fed", "", "invented"),
        ("triticale", "bitterness", 8, "per_kg", "as_fed", 2, "invented"),
        ("triticale", "crude_protein", 12.4, "%", "dry_matter", 0.5, "Laboratory of the co-operative (invented)"),
        ("camelina_seed", "ether_extract", 39, "%", "as_fed", 1.5, "invented"),
    )
    sheets["supplements"] += rows("offer feed price home_grown", ("acorns_wood", "acorns", 90, "yes"))
    sheets["groups"] += rows(
        "group stage head feed_per_head_per_day",
        ("geese", "goose_grower", 40, "0.22"),
        ("geese_late", "goose_finisher", 38, "0.3"),
    )


def toxins(sheets: Sheets) -> None:
    """Vomitoxin over the limit for pigs in the north bin and at a level between two limits in the south bin; other
    toxins, ergot in the hand sort by its assay, wet grain; a later sample with less of it."""
    second_sample(sheets)
    for sample, nutrient, value, unit, basis in (
        ("n1", "deoxynivalenol", 6.4, "mg/kg", "as_fed"),
        ("n1", "ergot_sclerotia", 0.03, "%", "as_fed"),
        ("n2", "deoxynivalenol", 4.1, "mg/kg", "as_fed"),
        ("s1", "deoxynivalenol", 1.6, "mg/kg", "dry_matter"),
        ("s1", "aflatoxin", 12, "ug/kg", "as_fed"),
        ("s1", "fumonisin", 2.2, "mg/kg", "as_fed"),
        ("s1", "zearalenone", 0.3, "mg/kg", "as_fed"),
    ):
        assay(sheets, sample, nutrient, value, unit, basis)
    sheets["bins"][1]["moisture_pct"] = "15.6"
    weighed(sheets, "sw_gro_25_50 south", "2025-11-21", {"south": 460.0, **_without(GROWER_BATCH, "north")})


def two_samples(sheets: Sheets) -> None:
    """A later sample that moved, and batches that were weighed: as asked, with twice the salt, for the hens, of both
    bins together, without a day."""
    second_sample(sheets)
    assay(sheets, "n2", "ether_extract", 3.7, "%")
    weighed(sheets, "sw_gro_25_50 north", "2025-11-20", GROWER_BATCH)
    weighed(sheets, "sw_gro_25_50 north #2", "2025-11-24", GROWER_BATCH | {"salt": 6.4, "premix_pigs": 1.0})
    weighed(sheets, "hen_brown_110 north", "2025-11-21", HEN_BATCH)
    weighed(
        sheets,
        "sw_gest_p2_early north+south",
        "2025-11-22",
        {
            "north": 240.0,
            "south": 220.0,
            "alfalfa": 25.0,
            "limestone": 6.0,
            "monocal": 4.0,
            "premix_pigs": 2.0,
            "salt": 2.2,
        },
    )
    weighed(
        sheets,
        "broiler_3_6 south",
        "",
        {"south": 120.0, "corn_bought": 220.0, "soy48_bulk": 150.0, "dical": 7.0, "limestone": 4.0, "salt": 1.5},
    )


def own_limits(sheets: Sheets) -> None:
    """Caps, floors and bands of the farm's own, for a stage and for all; offers that are fixed or must be in."""
    sheets["own_limits"] += rows(
        "stage feed min_pct max_pct reason",
        ("all", "chickpea_desi", "", 9, "The feeder bridges (invented)"),
        ("all", "alfalfa_meal_17", 1, 4, "For the gut (invented)"),
        ("sw_gro_25_50", "wheat_bran", 3, "", "It is there (invented)"),
        ("sw_gro_50_75", "triticale", 20, 45, "As it was fed before (invented)"),
        ("hen_brown_110", "camelina_seed", "", 3, "Taste of the eggs (invented)"),
        ("hen_peak", "soybean_meal", "", 12, "Costs (invented)"),
        ("sw_gest_p2_early", "wheat_bran", 8, 8, "Before farrowing (invented)"),
    )
    offer(sheets, "canola_oil", min_pct=0.5, max_pct=0.5)
    offer(sheets, "salt", min_pct=0.2, max_pct=0.35)
    offer(sheets, "canola_meal", min_pct=2)
    weighed(sheets, "sw_gro_25_50 north", "2025-11-20", GROWER_BATCH | {"bran": 15.0, "alfalfa": 10.0})


def scarce(sheets: Sheets) -> None:
    """Few offers and little of them: no ration meets everything; the nearest one, and what would mend it."""
    keep_offers(sheets, FEW_OFFERS)
    offer(sheets, "soy48_bulk", max_pct=6, stock_mass="0.8 t")
    keep_stages(sheets, "sw_nur_11_25", "sw_gro_25_50", "sw_lact_p2_230", "hen_brown_110", "broiler_0_3")


def at_odds(sheets: Sheets) -> None:
    """An assay that contradicts the hand sort of the north bin, and a south bin of which only the seed is known."""
    for row in sheets["assays"]:
        if row["sample"] == "n1" and row["nutrient"] == "crude_protein":
            row["value"] = "21.8"
    for sheet in ("samples", "sorted", "assays"):
        sheets[sheet] = [row for row in sheets[sheet] if row["sample"] != "s1"]
    sheets["sown"] += rows(
        "bin crop mass",
        ("south", "triticale", 310),
        ("south", "oats_naked", 120),
        ("south", "faba_low_tannin", 60),
        ("south", "chickpea_desi", 45),
        ("south", "camelina_seed", "9 lb"),
    )
    second_sample(sheets, 21.0)


def _without(masses: Mapping[str, float], name: str) -> dict[str, float]:
    return {feed: kg for feed, kg in masses.items() if feed != name}


CHANGES: dict[str, Change] = {
    change.__name__: change
    for change in (
        us_units,
        sure,
        margin,
        organic_eu,
        organic_us,
        no_bins,
        fixed_mix,
        own_figures,
        toxins,
        two_samples,
        own_limits,
        scarce,
        at_odds,
    )
}
"""What makes each book out of the demo, by the name of the book."""

NAMES = ("demo", *CHANGES)


# Reading and writing ---------------------------------------------------------------------------


def read_sheets(folder: Path) -> Sheets:
    """The sheets of a book in CSV files, every cell as text."""
    sheets: Sheets = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            sheets[path.stem] = list(csv.DictReader(file))
    return sheets


def write_sheets(sheets: Sheets, folder: Path) -> None:
    """A book as a folder of CSV files; a sheet without rows is left out."""
    folder.mkdir(parents=True)
    for name, found in sheets.items():
        if not found:
            continue
        columns = list(dict.fromkeys(column for row in found for column in row))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns, restval="", lineterminator="\n")
            writer.writeheader()
            writer.writerows(found)


def write_book(name: str, folder: Path) -> None:
    """The book of that name as the new folder `folder`. Raises KeyError."""
    sheets = read_sheets(DEMO)
    if name != "demo":
        CHANGES[name](sheets)
    write_sheets(sheets, folder)


if __name__ == "__main__":
    for book in NAMES:
        write_book(book, Path(sys.argv[1]) / book)
