"""Random farms with what `random_farms.py` never draws: every stage of the library and stages of the farm's own,
premixes far off their table, metals, parts of toxins, notes that speak of danger, poisonous seeds in the sort.

The same seed makes the same farm. Every figure is drawn, none is of a real farm.
"""

from __future__ import annotations

from random import Random

from plain_check import table
from random_farms import HOLDS, Row, Sheets, random_farm

OTHERS = 10_000
"""Seeds begin there, so that no farm is one of the others."""
NOTES = (
    ("urea in the boot pit", True),
    ("DON 3.2 by strip test", True),
    ("sprouted in the swath", True),
    ("smells musty at the door", True),
    ("diesel spilled at the auger", True),
    ("some pink kernels", True),
    ("pigs refused it", True),
    ("not sure if it was treated", True),
    ("dry and bright, no mould, DON nd", False),
    ("grown from treated seed, fertilizer 80 kg N/ha", False),
    ("frosted in August", False),
    ("no glass, no rats, never treated", False),
)
"""What people write, and whether a nutritionist must be asked."""
DANGEROUS = frozenset(note for note, asks in NOTES if asks)
POISONOUS = ("datura", "castor", "crotalaria", "ergot", "corn_cockle", "kidney_beans")
METALS_MG_KG = {"arsenic": 2.0, "lead": 8.0, "cadmium": 1.0, "mercury": 0.1, "fluorine": 150.0}
PARTS_MG_KG = {"fumonisin_b1": 3.0, "fumonisin_b2": 2.0, "aflatoxin_b1": 0.012, "aflatoxin_g1": 0.01}
OF_PREMIXES = {"selenium": 0.3, "copper": 20.0, "zinc": 120.0, "iodine": 1.0, "vitamin_d": 2200.0, "vitamin_a": 9000.0}
"""About what a dose of a premix brings to a kilogram of feed, in the library's unit."""
OWN_STAGES = {
    "my_pigs": {"ne_pig": 2350, "sid_lysine_pig": 0.85, "calcium": 0.6, "sodium": 0.1, "sttd_phosphorus_pig": 0.28},
    "my_birds": {"amen_poultry": 2800, "lysine": 0.85, "calcium": 0.9, "sodium": 0.15, "nonphytate_phosphorus": 0.35},
}
UNITS = {"ne_pig": "kcal/kg", "amen_poultry": "kcal/kg"}


def awkward_farm(seed: int) -> Sheets:
    """The sheets of a farm."""
    draw, sheets = Random(seed + OTHERS), random_farm(seed + OTHERS)
    _groups(draw, sheets)
    _notes(draw, sheets)
    _seeds(draw, sheets)
    _results(draw, sheets)
    _premixes(draw, sheets)
    for row in sheets["farm"]:
        if row["setting"] == "certification" and draw.random() < 0.15:
            row["value"] = draw.choice(("us_organic", "eu_organic"))
    return sheets


def is_dangerous(name: str, sheets: Sheets) -> bool:
    """Whether somebody wrote of a danger beside the bin or the offer."""
    rows = [row for row in sheets["bins"] if row["bin"] == name]
    rows += [row for row in sheets["samples"] if row["bin"] == name]
    rows += [row for row in sheets["lots"] if row["offer"] == name]
    return any(row.get("note") in DANGEROUS for row in rows)


def _groups(draw: Random, sheets: Sheets) -> None:
    stages = [row["stage"] for row in table("stages")]
    sheets["groups"] = [
        {"group": f"group_{stage}", "stage": stage, "head": "40", "from": "2025-10-01", "to": "2025-12-20"}
        for stage in draw.sample(stages, 2)
    ]
    if draw.random() < 0.3:
        name = draw.choice(sorted(OWN_STAGES))
        sheets["own_stages"] = [
            {
                "stage": name,
                "nutrient": nutrient,
                "minimum": f"{least}",
                "unit": UNITS.get(nutrient, "%"),
                "per": "kg",
                "source": "the vet (invented)",
            }
            for nutrient, least in OWN_STAGES[name].items()
        ]
        sheets["groups"].append({"group": "own", "stage": name, "head": "40", "from": "2025-10-01", "to": "2025-12-20"})


def _notes(draw: Random, sheets: Sheets) -> None:
    for name in ("bins", "samples", "lots"):
        for row in sheets[name]:
            if draw.random() < 0.15:
                row["note"] = draw.choice(NOTES)[0]
    for row in sheets["bins"]:
        if not row["hold"] and draw.random() < 0.05:
            row["hold"] = draw.choice(HOLDS)


def _seeds(draw: Random, sheets: Sheets) -> None:
    for row in sheets["samples"]:
        if draw.random() < 0.1:
            grams = draw.uniform(0.02, 1.5)
            part = {"sample": row["sample"], "crop": draw.choice(POISONOUS), "mass_g": f"{grams:.2f}"}
            sheets["sorted"].append(part)
            if row.get("sorted_mass_g"):
                row["sorted_mass_g"] = f"{float(row['sorted_mass_g']) + grams:.2f}"


def _results(draw: Random, sheets: Sheets) -> None:
    """Metals of minerals and grain, and parts of sums."""
    levels = {**METALS_MG_KG, **PARTS_MG_KG}
    for sample in [row["sample"] for row in sheets["samples"]]:
        for nutrient, level in levels.items():
            if draw.random() < 0.06:
                sheets["assays"].append(_result(draw, nutrient, level, sample=sample))
    offers = {row["offer"] for row in sheets["supplements"]}
    for offer in sorted(offers & {"monocal", "dical", "limestone", "alfalfa", "fish_meal", "bran"}):
        if draw.random() < 0.2:
            lot = f"metals_{offer}"
            sheets["lots"].append({"lot": lot, "offer": offer, "delivered_on": "2025-10-02", "mass": "2 t"})
            nutrient = draw.choice(sorted(METALS_MG_KG))
            sheets["assays"].append(_result(draw, nutrient, METALS_MG_KG[nutrient], lot=lot))


def _result(draw: Random, nutrient: str, level: float, **of: str) -> Row:
    value = level * draw.lognormvariate(-0.5, 1.0)
    return {**of, "nutrient": nutrient, "value": f"{value:.4g}", "unit": "mg/kg", "basis": "as_fed"}


def _premixes(draw: Random, sheets: Sheets) -> None:
    """Labels of premixes that say something else than the table: a little, or far more."""
    inclusion = {row["feed"]: float(row["premix_inclusion_pct"] or 0) for row in table("feeds")}
    for row in sheets["supplements"]:
        if row["offer"].startswith("premix") and draw.random() < 0.3:
            nutrient = draw.choice(sorted(OF_PREMIXES))
            brings = OF_PREMIXES[nutrient] * draw.lognormvariate(0.3, 0.9)
            unit = "IU/kg" if nutrient.startswith("vitamin") else "mg/kg"
            value = brings * 100 / inclusion[row["feed"]]
            sheets["own_feeds"].append(
                {"feed": row["feed"], "nutrient": nutrient, "value": f"{value:.5g}", "unit": unit, "basis": "as_fed"}
            )
