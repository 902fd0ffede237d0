"""Random farms made of the demo book: other samples, assays, prices, offers, certificates, limits and holds.

The same seed makes the same farm. Every figure is drawn, none is of a real farm.
"""

from __future__ import annotations

import csv
from collections.abc import Iterable, Mapping
from pathlib import Path
from random import Random

DEMO = Path(__file__).parents[2] / "rationlp" / "book" / "demo_book"

STAGES = (
    "sw_nur_11_25",
    "sw_gro_25_50",
    "sw_gro_50_75",
    "sw_fin_100_135",
    "sw_gest_p2_early",
    "sw_lact_p2_230",
    "sw_boar",
    "hen_peak",
    "hen_brown_110",
    "layer_grower_6_12_brown",
    "broiler_0_3",
    "broiler_3_6",
    "turkey_8_12",
    "duck_2_7",
)
OTHER_CROPS = (
    "barley_hulled",
    "rye",
    "wheat_soft",
    "flaxseed",
    "peas_field",
    "soybeans_raw",
    "lupin_white",
    "vetch_common",
    "oats_hulled",
    "corn",
    "mustard_seed",
)
LEVELS_MG_KG = {
    "deoxynivalenol": 1.2,
    "aflatoxin": 0.02,
    "zearalenone": 0.2,
    "fumonisin": 4.0,
    "ochratoxin_a": 0.08,
    "t2_toxin": 0.2,
    "ht2_toxin": 0.1,
    "ergot_alkaloids": 1.0,
}
"""About the limits that are published; drawn figures lie on both sides."""
HOLDS = ("treated_seed", "mould", "do_not_feed", "rodents")
LIMITED = ("triticale", "chickpea_desi", "canola_meal_expeller", "wheat_bran", "corn", "camelina_seed", "peas_field")
APPROVAL = {"reason": "Fed so for two seasons (invented)", "approved_by": "A. Vet", "approved_on": "2025-10-01"}

Row = dict[str, str]
Sheets = dict[str, list[Row]]


def read_sheets(folder: Path = DEMO) -> Sheets:
    """A book of CSV files as rows of text, by the name of the sheet."""
    found: Sheets = {}
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as file:
            found[path.stem] = list(csv.DictReader(file))
    return found


def write_sheets(sheets: Mapping[str, Iterable[Mapping[str, object]]], folder: Path) -> Path:
    """The sheets as a folder of CSV files."""
    folder.mkdir(parents=True, exist_ok=True)
    for name, lines in sheets.items():
        rows = list(lines)
        columns = list(dict.fromkeys(column for row in rows for column in row))
        with (folder / f"{name}.csv").open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, columns)
            writer.writeheader()
            writer.writerows(rows)
    return folder


def random_farm(seed: int) -> Sheets:
    """The sheets of a farm."""
    draw, sheets = Random(seed), read_sheets()
    _bins(draw, sheets)
    _samples(draw, sheets)
    _assays(draw, sheets)
    _offers(draw, sheets)
    _lots(draw, sheets)
    _limits(draw, sheets)
    _groups(draw, sheets)
    _settings(draw, sheets)
    return sheets


def _bins(draw: Random, sheets: Sheets) -> None:
    for row in sheets["bins"]:
        row["moisture_pct"] = f"{draw.uniform(10.5, 16.5):.1f}"
        row["sale_price"] = f"{draw.uniform(90, 320):.0f}"
        if draw.random() < 0.15:
            row["hold"] = draw.choice(HOLDS)
            if draw.random() < 0.3:
                row["released_by"] = "A. Vet"
    if draw.random() < 0.5:
        gone = sheets["bins"].pop()["bin"]
        samples = {row["sample"] for row in sheets["samples"] if row["bin"] == gone}
        for name in ("samples", "sorted", "assays"):
            sheets[name] = [row for row in sheets[name] if row["sample"] not in samples]


def _samples(draw: Random, sheets: Sheets) -> None:
    """Other shares, other crops, and a later sample of the first bin."""
    for sample in [row["sample"] for row in sheets["samples"]]:
        rows = [row for row in sheets["sorted"] if row["sample"] == sample]
        for row in rows:
            row["mass_g"] = f"{float(row['mass_g']) * draw.lognormvariate(0, 0.35):.1f}"
        if draw.random() < 0.35:
            crop = draw.choice(OTHER_CROPS)
            sheets["sorted"].append({"sample": sample, "crop": crop, "mass_g": f"{draw.uniform(3, 90):.1f}"})
    _whole_mass(sheets)
    later = [row for row in sheets["sorted"] if row["sample"] == "n1"]
    sheets["samples"].append({"sample": "n2", "bin": "north", "taken_on": "2025-11-20", "probes": "8"})
    for row in later:
        mass = f"{float(row['mass_g']) * draw.lognormvariate(0, 0.12):.1f}"
        sheets["sorted"].append({"sample": "n2", "crop": row["crop"], "mass_g": mass})


def _whole_mass(sheets: Sheets) -> None:
    for row in sheets["samples"]:
        total = sum(float(part["mass_g"]) for part in sheets["sorted"] if part["sample"] == row["sample"])
        row["sorted_mass_g"] = f"{total:.1f}"


def _assays(draw: Random, sheets: Sheets) -> None:
    for row in sheets["assays"]:
        spread = 0.02 if row["nutrient"] == "dry_matter" else draw.choice((0.04, 0.04, 0.2))
        value = float(row["value"]) * draw.lognormvariate(0, spread)
        row["value"] = f"{min(value, 95):.2f}"
    for sample in [row["sample"] for row in sheets["samples"]]:
        for nutrient, level in LEVELS_MG_KG.items():
            if draw.random() < 0.12:
                sheets["assays"].append(_result(draw, nutrient, level, sample=sample))


def _result(draw: Random, nutrient: str, level: float, **of: str) -> Row:
    value = level * draw.lognormvariate(-0.7, 1.0)
    return {**of, "nutrient": nutrient, "value": f"{value:.4g}", "unit": "mg/kg", "basis": "as_fed"}


def _offers(draw: Random, sheets: Sheets) -> None:
    share = draw.choice((0.0, 0.05, 0.15))
    kept = [row for row in sheets["supplements"] if draw.random() >= share]
    for row in kept:
        factor = draw.lognormvariate(0, 0.3)
        for column in ("price", "price_low", "price_high"):
            if row[column]:
                row[column] = f"{float(row[column]) * factor:.2f}"
        if row["offer"] in ("corn_bought", "bran", "canola_meal", "peas_neighbour") and draw.random() < 0.15:
            row["max_pct"] = f"{draw.uniform(3, 25):.1f}"
        if row["offer"] in ("bran", "alfalfa") and draw.random() < 0.08:
            row["min_pct"] = f"{draw.uniform(1, 6):.1f}"
        if row["offer"] in ("soy48_bulk", "canola_meal", "peas_neighbour") and draw.random() < 0.2:
            usual = {"soy48_bulk": 47.0, "canola_meal": 35.0, "peas_neighbour": 21.5}[row["offer"]]
            row["protein_pct"] = f"{usual * draw.uniform(0.94, 1.06):.1f}"
    sheets["supplements"] = kept


def _lots(draw: Random, sheets: Sheets) -> None:
    """Deliveries with a certificate of mycotoxins."""
    offers = [row["offer"] for row in sheets["supplements"]]
    sheets["lots"] = [row for row in sheets["lots"] if row["offer"] in offers]
    for offer in ("corn_bought", "bran", "canola_meal", "soy48_bulk", "peas_neighbour"):
        if offer not in offers or draw.random() > 0.3:
            continue
        lot = f"lot_{offer}"
        sheets["lots"].append({"lot": lot, "offer": offer, "delivered_on": "2025-10-02", "mass": "9 t"})
        for nutrient in draw.sample(sorted(LEVELS_MG_KG), draw.choice((1, 1, 2))):
            if nutrient != "ergot_alkaloids":
                sheets["assays"].append(_result(draw, nutrient, LEVELS_MG_KG[nutrient], lot=lot))


def _limits(draw: Random, sheets: Sheets) -> None:
    sheets["own_limits"] = []
    for feed in LIMITED:
        if draw.random() < 0.12:
            row = {"stage": "all", "feed": feed, "max_pct": f"{draw.uniform(2, 60):.0f}", **APPROVAL}
            if draw.random() < 0.2:
                row["min_pct"] = "1"
            sheets["own_limits"].append(row)


def _groups(draw: Random, sheets: Sheets) -> None:
    """Two stages, now and then with what the animals really eat."""
    sheets["groups"] = []
    for stage in draw.sample(STAGES, 2):
        row = {
            "group": f"group_{stage}",
            "stage": stage,
            "head": str(draw.randint(1, 200)),
            "from": "2025-10-01",
            "to": "2025-12-20",
        }
        if stage.startswith("sw_") and draw.random() < 0.2:
            row["feed_per_head_per_day"] = {"n": "1.0", "g": "2.2", "f": "3.0", "l": "6.0", "b": "2.4"}[stage[3]]
        sheets["groups"].append(row)


def _settings(draw: Random, sheets: Sheets) -> None:
    values = {
        "jurisdiction": draw.choice(("us", "us", "eu", "canada")),
        "requirement_margin_pct": draw.choice(("0", "0", "0", "3")),
        "confidence_pct": draw.choice(("50", "50", "50", "50", "80")),
        "objective": draw.choice(("", "", "per_tonne", "per_energy")),
    }
    for row in sheets["farm"]:
        row["value"] = values.get(row["setting"], row["value"])
