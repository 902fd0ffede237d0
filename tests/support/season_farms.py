"""Two invented farms for a whole season, made of the demo book: every head, tonne, price and date is made up."""

from __future__ import annotations

from random_farms import Row, Sheets, read_sheets


def us_farm() -> Sheets:
    """40 sows farrow to finish, ten every five weeks, with the pigs of earlier litters, and 300 hens; lb, dollars."""
    sheets = read_sheets()
    _with(
        sheets,
        {
            "name": "Invented sows and hens (US)",
            "units": "us",
            "date_format": "MM/DD/YYYY",
            "plan_from": "10/01/2025",
            "next_harvest_on": "08/20/2026",
            "batch_mass": "2000",
            "mixer_capacity": "2200",
            "scale_step": "1",
            "hand_scale_step": "0.02",
            "hand_weigh_below": "20",
            "mixing_cost": "12",
            "selling_cost": "8",
            "most_mixes": "7",
        },
    )
    for row in sheets["bins"]:
        row["mass"] = {"north": "123 t", "south": "38 t"}[row["bin"]]
        for measure in ("diameter", "wall_depth", "peak_height", "test_weight"):
            row[measure] = ""
    dates(sheets)
    sheets["supplements"] = [
        row for row in sheets["supplements"] if row["offer"] not in ("soy_pressed", "peas_neighbour")
    ]
    for row in sheets["supplements"]:
        row["stock_mass"] = ""
    sheets["supplements"].append(
        {
            "offer": "whey",
            "feed": "dried_whey",
            "label": "Dried whey",
            "price": "32",
            "per_mass": "50 lb",
            "package_mass": "50 lb",
            "quoted_on": "09/12/2025",
            "supplier": "Millrace Feed (invented)",
        }
    )
    sheets["groups"] = [{"group": "hens", "stage": "hen_brown_110", "head": "300"}]
    pigs = [
        ("weaner", "sw_nur_7_11", 18, 3),
        ("nursery", "sw_nur_11_25", 30, 1),
        ("grower", "sw_gro_25_50", 35, 1),
        ("late grower", "sw_gro_50_75", 31, 0),
        ("finisher", "sw_fin_75_100", 30, 0),
        ("hog", "sw_fin_100_135", 32, 0),
    ]
    sows = [("early", "sw_gest_p2_early", 85, 0), ("late", "sw_gest_p2_late", 29, 0), ("milk", "sw_lact_p2_230", 28, 1)]
    herd = [_step("sows", *step) for step in sows] + [_step("pigs", *step) for step in pigs]
    herd[2] |= {"then": "again", "brings": "pigs", "per_head": "9.6"}
    sheets["herd"] = herd
    served = ("06/01/2025", "07/06/2025", "08/10/2025", "09/14/2025")  # a litter of each was weaned that day
    sheets["arrivals"] = [
        {"line": line, "step": step, "on": day, "head": head}
        for day in served
        for line, step, head in (("sows", "early", "10"), ("pigs", "weaner", "95"))
    ]
    return sheets


def metric_organic_farm() -> Sheets:
    """Laying hens, pullets and fattening pigs, EU organic; kilograms and euro."""
    sheets = read_sheets()
    _with(
        sheets,
        {
            "name": "Invented organic hens and pigs",
            "currency": "EUR",
            "certification": "eu_organic",
            "jurisdiction": "eu",
            "next_harvest_on": "2026-08-10",
            "mixing_cost": "16",
        },
    )
    kept = ("alfalfa", "bran", "corn_bought", "peas_neighbour", "limestone", "limestone_grit", "oyster", "monocal")
    more = ("salt", "bicarb", "premix_layers", "premix_young_birds", "premix_pigs", "soy_pressed", "canola_meal")
    sheets["supplements"] = [row for row in sheets["supplements"] if row["offer"] in (*kept, *more)]
    for offer, feed, price in (("finisher", "premix_swine_finisher", "71"), ("turkeys", "premix_turkey", "112")):
        premix = {"offer": f"premix_{offer}", "feed": feed, "price": price}  # within the maxima of EU law
        sheets["supplements"].append(premix | {"per_mass": "25 kg", "package_mass": "25 kg"})
    for row in sheets["supplements"]:
        row["organic"], row["stock_mass"] = "yes", ""
    sheets["groups"] = [{"group": "hens", "stage": "hen_brown_110", "head": "1200"}]
    sheets["herd"] = [
        _step("pullets", "grower", "layer_grower_6_12_brown", 42, 1),
        _step("pullets", "developer", "layer_developer_12_18_brown", 42, 1) | {"then": "young_hens"},
        _step("young_hens", "laying", "hen_brown_110", 300, 4),
        _step("pigs", "grower", "sw_gro_25_50", 40, 2),
        _step("pigs", "late grower", "sw_gro_50_75", 34, 1),
        _step("pigs", "finisher", "sw_fin_75_100", 32, 0),
    ]
    sheets["arrivals"] = [
        {"line": "pullets", "step": "grower", "on": "2026-02-01", "head": "300"},
        {"line": "pigs", "step": "grower", "on": "2025-10-06", "every_days": "70", "times": "4", "head": "60"},
    ]
    return sheets


def second_sample(sheets: Sheets, bin_: str, day: str, grams: tuple[tuple[str, float], ...]) -> None:
    """A later sample of a bin: the heaps of its first one, each with so many grams more or less of a crop."""
    first = next(row for row in sheets["samples"] if row["bin"] == bin_)
    name, more = f"{first['sample']}_later", dict(grams)
    heaps = [row for row in sheets["sorted"] if row["sample"] == first["sample"]]
    made = [
        {**row, "sample": name, "mass_g": f"{float(row['mass_g']) + more.get(row['crop'], 0.0):.1f}"} for row in heaps
    ]
    note = "Probed as grain was drawn (invented)"
    sheets["samples"].append({**first, "sample": name, "taken_on": day, "note": note, "sorted_mass_g": ""})
    sheets["samples"][-1]["sorted_mass_g"] = f"{sum(float(row['mass_g']) for row in made) + 1.5:.1f}"
    sheets["sorted"] += made


def dates(sheets: Sheets) -> None:
    """Every date of the book as a US book writes it."""
    for name, rows in sheets.items():
        for row in rows if name != "farm" else ():
            for column, value in row.items():
                if len(value or "") == 10 and value[4] == value[7] == "-":
                    row[column] = f"{value[5:7]}/{value[8:]}/{value[:4]}"


def _with(sheets: Sheets, settings: dict[str, str]) -> None:
    known = {row["setting"]: row for row in sheets["farm"]}
    for name, value in settings.items():
        if name in known:
            known[name]["value"] = value
        else:
            sheets["farm"].append({"setting": name, "value": value})


def _step(line: str, name: str, stage: str, days: int, losses: float) -> Row:
    return {"line": line, "step": name, "stage": stage, "days": str(days), "losses_pct": f"{losses:g}"}
